"""What a smaller need retires comes back as it was, spare openings serve nothing, and what is set keeps its model."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.core.open_items import CHECK, MEND
from stagefloor.job.boxes import Box, BoxModel, Opening
from stagefloor.job.cables import Cable, Circuit
from stagefloor.job.closeout import Reading
from stagefloor.job.edit import add, delete, set_fields
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.steps.boxes.box_cost import floor_cables
from stagefloor.steps.boxes.schedule import contents_of, layout, open_items, reconciled

MODELS = [{"label": "2 bays", "across": "12 in", "along": "8 in", "bays": "2", "mains_bays": "1"},
          {"label": "4 bays", "across": "12 in", "along": "14 in", "bays": "4", "mains_bays": "2"}]


def job_with(state: str = "planned", **counts: int) -> Job:
    job, _ = add(Job(), "boxmodel", MODELS)
    job, _ = add(job, "cabletype", [{"label": "thin", "what": "microphone"}, {"label": "thick", "what": "microphone"}])
    job, _ = add(job, "event", [{"label": "Play"}])
    job, _ = add(job, "point", [{"label": "P", "x": "0", "y": "3", **{k: str(n) for k, n in counts.items()}}])
    return reconciled(add(job, "box", [{"label": "FB-1", "x": "0", "y": "0", "points": "P", "state": state}])[0])


def need(job: Job, **counts: int) -> Job:
    return reconciled(set_fields(job, "point", job.all(Point)[0].id, {k: str(n) for k, n in counts.items()}))


def line(job: Job, label: str) -> Circuit:
    (found,) = [c for c in job.circuits() if c.label == label]
    return found


def opening(job: Job, label: str) -> Opening:
    (found,) = [o for o in job.all(Opening) if o.label == label and o.state != "retired"]
    return found


def cable_of(job: Job, circuit: Circuit) -> Cable:
    (found,) = [c for c in job.all(Cable) if circuit.id in c.circuits]
    return found


def with_tests(job: Job) -> Job:
    """The line tested, its cable measured and of another type than the first."""
    circuit = line(job, "1-M4")
    job = set_fields(job, "circuit", circuit.id, {"state": "tested", "rack": "panel 1, 4"})
    job = set_fields(job, "cable", cable_of(job, circuit).id, {"typed_length": "41 ft", "type": "thick"})
    return add(job, "reading", [{"circuit": circuit.id, "test": "continuity", "result": "pass"}])[0]


# --- a dip in the need


@pytest.mark.parametrize("state", ["planned", "roughed in"])
def test_a_tested_line_comes_back_with_opening_label_place_tests_and_cable(state: str) -> None:
    before = with_tests(job_with(state, microphone=4))
    dip = need(before, microphone=3)
    assert [c.label for c in dip.circuits()] == ["1-M1", "1-M2", "1-M3"]
    assert len(dip.all(Cable)) == 3  # nothing is pulled or bought for what is not needed
    after = need(dip, microphone=4)
    assert opening(after, "1-M4") == opening(before, "1-M4")
    assert line(after, "1-M4") == line(before, "1-M4")
    assert cable_of(after, line(after, "1-M4")) == cable_of(before, line(before, "1-M4"))
    assert [r.circuit for r in after.all(Reading)] == [line(after, "1-M4").id]
    assert len(after.all(Opening)) == len(after.all(Circuit)) == 4


def test_a_line_comes_back_after_its_box_was_retired_and_after_its_opening_was_set_aside() -> None:
    before = with_tests(job_with(microphone=4))
    box = before.all(Box)[0].id
    gone = reconciled(set_fields(before, "box", box, {"state": "retired"}))
    assert (gone.circuits(), gone.all(Cable)) == ([], [])
    back = reconciled(set_fields(gone, "box", box, {"state": "planned"}))
    assert line(back, "1-M4") == line(before, "1-M4")
    assert cable_of(back, line(back, "1-M4")).typed_length == cable_of(before, line(before, "1-M4")).typed_length
    aside = reconciled(set_fields(before, "opening", opening(before, "1-M4").id, {"state": "spare"}))
    assert [c.label for c in aside.circuits()] == ["1-M1", "1-M2", "1-M3", "1-M5"]
    again = reconciled(set_fields(aside, "opening", opening(aside, "1-M4").id, {"state": "in use"}))
    assert line(again, "1-M4") == line(before, "1-M4")
    assert [c.label for c in again.circuits()] == ["1-M1", "1-M2", "1-M3", "1-M4"]


def test_a_line_in_a_cable_with_others_goes_back_into_it() -> None:
    job = job_with(microphone=4)
    first, last = line(job, "1-M1"), line(job, "1-M4")
    shared = cable_of(job, first).id
    job = set_fields(job, "cable", cable_of(job, last).id, {"circuits": ""})
    job = reconciled(set_fields(job, "cable", shared, {"circuits": [first.id, last.id], "typed_length": "30 ft"}))
    assert cable_of(job, last).id == shared
    dip = need(job, microphone=3)
    assert cable_of(dip, first).circuits == (first.id,)
    back = need(dip, microphone=4)
    assert cable_of(back, last) == cable_of(job, last)


def test_an_opening_that_shared_a_line_goes_back_to_it() -> None:
    job = job_with(loudspeaker=2)
    shared, alone = line(job, "1-S1"), line(job, "1-S2")
    job = delete(job, "circuit", [alone.id])
    job = reconciled(set_fields(job, "circuit", shared.id, {"openings": [*shared.openings, *alone.openings]}))
    assert [c.label for c in job.circuits()] == ["1-S1"]
    dip = need(job, loudspeaker=1)
    assert dip.circuits()[0].openings == shared.openings
    back = need(dip, loudspeaker=2)
    assert [(c.id, c.openings) for c in back.circuits()] == [(shared.id, (*shared.openings, *alone.openings))]
    assert len(back.all(Cable)) == 1
    gone = reconciled(delete(dip, "circuit", [shared.id]))
    assert all(not o.line for o in gone.all(Opening))


def test_mains_outlets_come_back_to_their_request() -> None:
    job = job_with(mains=3)
    (circuit,) = job.circuits()
    assert [(c.id, c.openings) for c in need(need(job, mains=1), mains=3).circuits()] == [(circuit.id, circuit.openings)]
    none = need(need(job, microphone=1, mains=0), mains=3)
    assert [(c.id, c.openings) for c in none.circuits() if c.what == "mains"] == [(circuit.id, circuit.openings)]


def test_what_was_retired_by_hand_stays_retired() -> None:
    job = job_with(microphone=2)
    first = opening(job, "1-M1").id
    job = reconciled(set_fields(job, "opening", first, {"state": "retired"}))
    assert job.get(Opening, first).state == "retired"
    assert len([o for o in job.all(Opening) if o.state == "in use"]) == 2
    job = need(job, microphone=3)
    assert job.get(Opening, first).state == "retired"
    by_hand = reconciled(set_fields(job, "circuit", job.circuits()[0].id, {"state": "retired"}))
    assert by_hand.get(Circuit, job.circuits()[0].id).state == "retired"


def test_a_label_that_rests_is_not_given_to_another_and_one_taken_by_hand_is_not_doubled() -> None:
    job = job_with(microphone=2)
    job, _ = add(job, "point", [{"label": "Q", "x": "9", "y": "9", "microphone": "1"}])
    job, _ = add(need(job, microphone=1), "box", [{"label": "WB-1", "x": "9", "y": "9", "points": "Q"}])
    job = reconciled(job)
    assert sorted(c.label for c in job.circuits()) == ["1-M1", "1-M3"]  # 1-M2 rests
    job = set_fields(job, "opening", opening(job, "1-M3").id, {"label": "1-M2"})
    job = set_fields(job, "circuit", line(job, "1-M3").id, {"label": "1-M2"})
    job = need(job, microphone=2)
    for labels in ([c.label for c in job.circuits()], [o.label for o in job.all(Opening)]):
        assert len(set(labels)) == len(labels) == 3


COUNTS = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 4), st.integers(0, 3)), min_size=1, max_size=6)


@settings(max_examples=25, deadline=None)
@given(COUNTS)
def test_whatever_the_need_was_meanwhile_the_same_need_gives_the_same_lines(counts: list[tuple[int, int, int]]) -> None:
    """A law: back at the first need, every opening, line and cable is there as it was; no id stands for two."""
    first = with_tests(job_with(microphone=4, loudspeaker=2, mains=2))
    job = first
    for microphone, loudspeaker, mains in counts:
        job = need(job, microphone=microphone, loudspeaker=loudspeaker, mains=mains)
        labels = [c.label for c in job.circuits()]
        assert len(set(labels)) == len(labels)
    job = need(job, microphone=4, loudspeaker=2, mains=2)

    def seen(of: Job) -> list[object]:
        return sorted([(o.id, o.label) for o in of.all(Opening) if o.state != "retired"]), \
            sorted((c.id, c.label, c.state, tuple(sorted(c.openings))) for c in of.circuits()), \
            sorted((c.id, c.circuits, c.typed_length, c.type) for c in of.all(Cable))  # type: ignore[return-value]

    assert seen(job) == seen(first)


def test_deleting_takes_no_reading_along_and_nothing_points_nowhere() -> None:
    job = need(with_tests(job_with(microphone=4)), microphone=3)
    resting = [c for c in job.all(Circuit) if c.state == "retired"]
    job = delete(job, "reading", [r.id for r in job.all(Reading)])
    job = delete(job, "circuit", [c.id for c in resting])
    assert not job.tables["restingcable"]
    assert len(need(job, microphone=4).all(Cable)) == 4


# --- spare openings


def test_a_spare_opening_serves_nothing() -> None:
    job = job_with(microphone=4)
    job = reconciled(set_fields(job, "opening", opening(job, "1-M2").id, {"state": "spare"}))
    held = [o for o in job.all(Opening) if o.state != "retired"]
    assert sum(o.state == "in use" for o in held) == 4
    assert len(held) == contents_of(job, job.all(Box)[0]).signal == 5
    assert len({(o.bay, o.slot) for o in held}) == 5  # each has a place
    assert len(job.circuits()) == 4
    built = set_fields(job, "box", job.all(Box)[0].id, {"state": "built"})
    short = reconciled(set_fields(built, "opening", opening(built, "1-M3").id, {"state": "spare"}))
    (item,) = [i for i in open_items(short) if i.code == "built-box-short"]
    assert (item.state, item.amount) == (MEND, "1 microphone")
    assert "put its spare openings in use" in item.cure


def test_spare_openings_set_by_hand_are_the_spare_ones_of_the_job() -> None:
    job = reconciled(set_fields(job_with(microphone=4), "settings", "job", {"spare_percent": "50"}))
    assert len(job.circuits()) == 6  # 4 * 0.5 = 2 more
    for label in ("1-M5", "1-M6"):
        job = reconciled(set_fields(job, "opening", opening(job, label).id, {"state": "spare"}))
    assert len(job.circuits()) == 4
    assert contents_of(job, job.all(Box)[0]).openings == {"microphone": 6}


# --- a point in two boxes


def test_a_point_in_two_boxes_is_said_and_has_one_cable_on_the_floor() -> None:
    job, _ = add(job_with(microphone=2), "box", [{"label": "FB-2", "x": "0", "y": "10", "points": "P"}])
    job = reconciled(job)
    (item,) = [i for i in open_items(job) if i.code == "point-twice"]
    assert (item.subject, item.what, item.state) == ("Point P", "is served by FB-1 and FB-2", CHECK)
    (laid,) = floor_cables(job)
    assert laid.cables == 2
    assert laid.length == pytest.approx(2 * 3 * (1 if job.settings.units == "ft-in" else 0.3048))  # FB-1 is the nearer
    assert [i for i in open_items(job_with(microphone=2)) if i.code == "point-twice"] == []
    assert job.all(Event)


# --- the model of what is set


@pytest.mark.parametrize("state", ["roughed in", "built"])
def test_a_box_that_is_set_keeps_its_model_whatever_the_need(state: str) -> None:
    planned = job_with(microphone=4)
    box = planned.all(Box)[0].id
    assert planned.get(Box, box).model == ""
    job = reconciled(set_fields(planned, "box", box, {"state": state}))
    small = next(m.id for m in job.all(BoxModel) if m.label == "2 bays")
    assert job.get(Box, box).model == small
    grown = need(job, microphone=12)
    assert grown.get(Box, box).model == small
    codes = {i.code for i in open_items(grown)}
    found = layout(grown, grown.get(Box, box))
    if state == "built":
        assert codes >= {"built-box-short"}
        assert found is not None
        assert (found.model.id, found.contents.openings) == (small, {"microphone": 4})  # what is built stays on paper
    else:
        assert codes >= {"box-too-small"}
    cheaper = replace(job, tables={**job.tables, "boxmodel": {**job.tables["boxmodel"], "m": BoxModel(
        id="m", label="tiny", across="1 in", along="1 in", bays=2)}})
    same = reconciled(cheaper)
    assert layout(same, same.get(Box, box)).model.id == small  # type: ignore[union-attr]
