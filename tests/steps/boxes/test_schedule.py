"""Openings, bays and models: the smallest box, mains behind the barrier, and ids and labels that never move."""

from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.core.open_items import CHECK, MEND, TO_DO
from stagefloor.job import store
from stagefloor.job.boxes import Box, BoxModel, Opening
from stagefloor.job.cables import Cable, Circuit
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.steps.boxes import schedule
from stagefloor.steps.boxes.line_records import next_label
from stagefloor.steps.boxes.schedule import contents, layout, open_items, points_of, reconciled

DEMOS = Path(__file__).resolve().parents[3] / "demo_projects"
MODELS = [{"label": "6 bays", "across": "12 in", "along": "20 in", "bays": "6", "mains_bays": "2"},
          {"label": "2 bays", "across": "12 in", "along": "8 in", "bays": "2", "mains_bays": "1"},
          {"label": "4 bays", "across": "12 in", "along": "14 in", "bays": "4", "mains_bays": "2"}]


def one_box(label: str = "FB-1", **counts: int) -> Job:
    """One floor box that serves one point; modules of 4 openings or 2 outlets."""
    job, _ = add(Job(), "boxmodel", MODELS)
    job, _ = add(job, "point", [{"label": "P", "x": "0", "y": "0", **{k: str(n) for k, n in counts.items()}}])
    return add(job, "box", [{"label": label, "x": "0", "y": "0", "points": "P"}])[0]


def with_counts(job: Job, **counts: int) -> Job:
    return reconciled(set_fields(job, "point", job.all(Point)[0].id, {k: str(n) for k, n in counts.items()}))


def box(job: Job) -> Box:
    return job.all(Box)[0]


def live(job: Job) -> list[Opening]:
    return [o for o in job.all(Opening) if o.state != "retired"]


@pytest.mark.parametrize(("signal", "mains", "model", "spare"), [
    (1, 0, "2 bays", 7), (8, 0, "2 bays", 0), (9, 0, "4 bays", 7),  # 2 x 4 = 8 places, 4 x 4 = 16
    (3, 1, "2 bays", 1), (4, 2, "2 bays", 0), (5, 1, "4 bays", 7),  # one bay of two holds mains; 3 x 4 - 5 = 7
    (4, 3, "4 bays", 4), (8, 4, "4 bays", 0), (9, 4, "6 bays", 7),  # two bays hold mains
    (16, 4, "6 bays", 0), (0, 2, "2 bays", 4)])
def test_the_smallest_model_that_takes_it(signal: int, mains: int, model: str, spare: int) -> None:
    job = one_box(microphone=signal, mains=mains)
    found = layout(job, box(job))
    assert found is not None
    assert (found.model.label, found.spare_places) == (model, spare)
    working = found.working("FB-1")
    assert working.result.amount == -(-signal // 4) + -(-mains // 2)
    assert working.holds


@pytest.mark.parametrize(("signal", "mains"), [(17, 4), (25, 0), (1, 5)])
def test_what_no_model_takes_is_said(signal: int, mains: int) -> None:
    job = reconciled(one_box(microphone=signal, mains=mains))
    assert layout(job, box(job)) is None
    (item,) = [i for i in open_items(job) if i.code == "box-too-small"]
    assert (item.state, item.amount) == (MEND, f"{signal} + {mains}")
    assert "split its points" in item.cure
    assert len(live(job)) == signal + mains  # all are there, so that nothing is forgotten


def test_a_chosen_model_that_is_too_small_is_said_with_one_that_fits() -> None:
    job = one_box(microphone=9)
    job = set_fields(job, "box", box(job).id, {"model": "2 bays"})
    (item,) = [i for i in open_items(job) if i.code == "box-too-small"]
    assert item.cure == "choose 4 bays"


def test_a_model_without_mains_outlets_is_fine_without_mains() -> None:
    job, _ = add(Job(), "boxmodel", [{"label": "signal only", "bays": "2", "mains_outlets": "0"}])
    job, _ = add(job, "point", [{"label": "P", "microphone": "3"}])
    job, _ = add(job, "box", [{"label": "FB-1", "points": "P"}])
    found = layout(job, box(job))
    assert found is not None
    assert found.working("FB-1").result.amount == 1
    assert layout(with_counts(job, mains=1), box(job)) is None


def test_mains_in_the_last_bays_loudspeakers_from_the_far_end() -> None:
    job = reconciled(one_box(microphone=3, loudspeaker=2, data=1, mains=3))
    places = {o.label: (o.bay, o.slot) for o in live(job)}
    # 6 signal + 3 mains: 2 + 2 bays, model of 4; mains in bays 3 and 4; loudspeakers at the end of bay 2
    assert places == {"1-M1": (1, 1), "1-M2": (1, 2), "1-M3": (1, 3), "1-S1": (2, 4), "1-S2": (2, 3), "1-D1": (1, 4),
                      "1-P1": (3, 1), "1-P2": (3, 2), "1-P3": (4, 1)}


@pytest.mark.parametrize("demo", sorted(p.parent.name for p in DEMOS.glob("*/job.json")))
def test_places_in_the_demos(demo: str) -> None:
    job = store.read(DEMOS / demo / "job.json").job
    for b in job.boxes():
        plan = layout(job, b)
        assert plan is not None
        held = job.openings(b.id)
        assert len({(o.bay, o.slot) for o in held}) == len(held)
        for o in held:
            mains = o.bay > plan.model.bays - plan.mains_bays
            assert (o.what == "mains") == mains
            assert 1 <= o.bay <= plan.model.bays
            assert 1 <= o.slot <= (plan.model.mains_outlets if mains else 4)  # four openings a module
        assert Counter(o.what for o in held) == contents(job, points_of(job, b)).openings


def test_the_demo_is_settled(tmp_path: Path) -> None:
    for path in DEMOS.glob("*/job.json"):
        job = store.read(path).job
        assert store.difference(job, reconciled(job)) == ()


def test_spare_is_rounded_up_for_each_kind() -> None:
    job = one_box(microphone=6, data=1)
    job = set_fields(job, "settings", "job", {"spare_percent": "20"})
    # 6 * 0.2 = 1.2 -> 2; 1 * 0.2 -> 1
    assert contents(job, points_of(job, box(job))).openings == {"microphone": 8, "data": 2}
    job = set_fields(job, "settings", "job", {"spare_percent": "50"})
    assert contents(job, points_of(job, box(job))).openings == {"microphone": 9, "data": 2}


# --- ids and labels stay


def named(job: Job) -> dict[str, str]:
    return {o.id: o.label for o in live(job)}


def test_a_larger_need_adds_and_never_renumbers() -> None:
    job = reconciled(one_box(microphone=2, mains=1))
    before, circuits = named(job), {c.id: (c.label, c.openings) for c in job.circuits()}
    job = with_counts(job, microphone=5, data=1)
    assert before.items() <= named(job).items()
    assert set(named(job).values()) == {"1-M1", "1-M2", "1-M3", "1-M4", "1-M5", "1-D1", "1-P1"}
    assert circuits.items() <= {c.id: (c.label, c.openings) for c in job.circuits()}.items()
    assert Counter(c.what for c in job.circuits()) == {"microphone": 5, "data": 1, "mains": 1}
    assert len(job.all(Cable)) == 6


def test_a_smaller_need_retires_the_newest_and_keeps_the_record() -> None:
    job = reconciled(one_box(microphone=4, loudspeaker=2))
    job = with_counts(job, microphone=2, loudspeaker=1)
    assert sorted(named(job).values()) == ["1-M1", "1-M2", "1-S1"]
    assert len(job.all(Opening)) == 6
    assert Counter(c.state for c in job.all(Circuit)) == {"planned": 3, "retired": 3}
    assert len(job.all(Cable)) == 3
    again = with_counts(job, microphone=3)
    assert sorted(named(again).values()) == ["1-M1", "1-M2", "1-M3", "1-S1"]
    assert len(again.all(Opening)) == 6  # the one that was retired, not another one of that label


def test_a_slip_of_the_finger_taken_back_leaves_the_first_lines() -> None:
    job = reconciled(one_box(microphone=4))
    before = named(job)
    slipped = with_counts(job, microphone=400)  # no model takes it
    back = with_counts(slipped, microphone=4)
    assert named(back) == before
    assert {(o.bay, o.slot) for o in live(back)} == {(1, 1), (1, 2), (1, 3), (1, 4)}


def test_nothing_changes_without_a_change() -> None:
    job = reconciled(one_box(microphone=5, loudspeaker=1, mains=2))
    assert reconciled(job).tables == job.tables


def test_a_built_box_is_not_touched_and_what_it_lacks_is_said() -> None:
    job = reconciled(one_box(microphone=2))
    job = set_fields(job, "box", box(job).id, {"state": "built"})
    before = named(job)
    job = with_counts(job, microphone=4, data=1)
    assert named(job) == before
    (item,) = [i for i in open_items(job) if i.code == "built-box-short"]
    assert (item.state, item.amount) == (MEND, "2 microphone, 1 data")
    assert [i for i in open_items(with_counts(job, microphone=1, data=0)) if i.code == "built-box-short"] == []


def test_a_retired_box_lets_its_lines_go() -> None:
    job = reconciled(one_box(microphone=2, mains=1))
    job = reconciled(set_fields(job, "box", box(job).id, {"state": "retired"}))
    assert job.circuits() == []
    assert not job.all(Cable)


def test_labels_are_unique_over_boxes_with_like_numbers() -> None:
    job = one_box(microphone=2, data=1)
    job, _ = add(job, "boxmodel", [{"label": "panel", "surface": "wall", "bays": "4"}])
    job, _ = add(job, "point", [{"label": "Q", "microphone": "2"}])
    job, _ = add(job, "box", [{"label": "WB-1", "surface": "wall", "points": "Q"}])
    job = reconciled(job)
    labels = [o.label for o in live(job)]
    assert sorted(labels) == ["1-D1", "1-M1", "1-M2", "1-M3", "1-M4"]
    # what stands on the face is the designator of the line
    face = {o.id: o.label for o in live(job)}
    assert all(c.label == face[c.openings[0]] for c in job.circuits())


def test_mains_outlets_of_a_box_are_one_request() -> None:
    job = reconciled(one_box(mains=2))
    (circuit,) = job.circuits()
    assert (circuit.label, len(circuit.openings)) == ("1-P", 2)
    job = with_counts(job, mains=3)
    (circuit,) = job.circuits()
    assert len(circuit.openings) == 3
    assert not job.all(Cable)  # the licensed electrician's


# --- old lines


def with_old(job: Job, **fields: str) -> Job:
    return reconciled(add(job, "oldoutlet", [{"label": "OLD", "box": "FB-1", **fields}])[0])


def reused(job: Job) -> list[str]:
    return [c.label for c in job.circuits() if c.reused]


def test_old_lines_are_reused_as_many_as_they_are() -> None:
    job = with_old(reconciled(one_box(microphone=3, data=1)), count="2")
    assert reused(job) == ["1-M1", "1-M2"]
    assert sorted(c.label for c in job.all(Cable)) == ["1-D1", "1-M3"]
    old = job.all(OldOutlet)[0].id
    one = reconciled(set_fields(job, "oldoutlet", old, {"count": "1"}))
    assert reused(one) == ["1-M1"]
    assert sorted(c.label for c in one.all(Cable)) == ["1-D1", "1-M2", "1-M3"]


@pytest.mark.parametrize("change", [{"tested": "failed"}, {"reuse": "no"}, {"what": "video"}])
def test_an_old_line_that_can_not_be_used_gets_a_new_cable(change: dict[str, str]) -> None:
    job = with_old(reconciled(one_box(microphone=2)))
    assert reused(job) == ["1-M1"]
    job = reconciled(set_fields(job, "oldoutlet", job.all(OldOutlet)[0].id, change))
    assert reused(job) == []
    assert sorted(c.label for c in job.all(Cable)) == ["1-M1", "1-M2"]


def test_an_old_line_that_goes_to_another_box_moves() -> None:
    job = one_box(microphone=1)
    job, _ = add(job, "point", [{"label": "Q", "microphone": "1"}])
    job, _ = add(job, "box", [{"label": "FB-2", "points": "Q"}])
    job = with_old(reconciled(job))
    assert reused(job) == ["1-M1"]
    assert reused(reconciled(set_fields(job, "oldoutlet", job.all(OldOutlet)[0].id, {"box": "FB-2"}))) == ["2-M1"]


# --- the rest


def test_in_a_job_with_one_box_a_point_without_a_place_plugs_into_it() -> None:
    job = one_box(microphone=1)
    job, _ = add(job, "point", [{"label": "Q", "data": "2"}])
    job = reconciled(job)
    assert [p.label for p in points_of(job, box(job))] == ["P", "Q"]
    assert Counter(o.what for o in live(job)) == {"microphone": 1, "data": 2}


def test_open_items_of_the_schedule() -> None:
    job = one_box(microphone=1)
    job, _ = add(job, "point", [{"label": "Q", "x": "9", "y": "9", "data": "2"}])
    job, _ = add(job, "box", [{"label": "FB-2"}, {"label": "WB-3", "surface": "wall", "points": "Q"},
                              {"label": "FB-4", "state": "retired"}])
    found = {(i.code, i.subject): i for i in open_items(job)}
    assert found["box-idle", "Floor box FB-2"].state == CHECK
    assert found["no-models", "Wall panel WB-3"].state == TO_DO
    assert len(found) == 2
    job = set_fields(job, "box", job.all(Box)[2].id, {"points": ""})
    assert {i.code for i in open_items(job) if i.subject == "Point Q"} == {"point-unserved"}


def test_the_smaller_one_comes_first_by_area_then_price() -> None:
    job = one_box(microphone=1)
    job, _ = add(job, "boxmodel", [{"label": "dear twin", "across": "12 in", "along": "8 in", "bays": "2", "cost": "90"},
                                   {"label": "cheap twin", "across": "12 in", "along": "8 in", "bays": "2", "cost": "40"}])
    found = layout(job, box(job))
    assert found is not None
    assert found.model.label == "cheap twin"
    assert {m.label for m in job.all(BoxModel)} >= {"dear twin", "2 bays"}


def test_next_label_takes_the_first_free_number() -> None:
    used = {"1-M1", "1-M3"}
    assert [next_label("1-M", used) for _ in range(3)] == ["1-M2", "1-M4", "1-M5"]


EDITS = st.lists(st.tuples(st.sampled_from(["microphone", "mains", "what", "points", "spare", "model", "retire", "delete"]),
                           st.integers(0, 5), st.integers(0, 9)), min_size=1, max_size=8)


def edited(job: Job, edit: tuple[str, int, int]) -> Job:
    what, which, number = edit
    points, boxes = job.all(Point), job.all(Box)
    point, one = points[which % len(points)], boxes[which % len(boxes)]
    if what == "spare":
        return set_fields(job, "settings", "job", {"spare_percent": str(10 * number)})
    if what == "model":
        return set_fields(job, "box", one.id, {"model": job.all(BoxModel)[number % 3].label})
    if what == "points":
        return set_fields(job, "box", one.id, {"points": ", ".join(p.label for p in points[number % len(points):])})
    if what == "retire":
        return job.with_records([o.model_copy(update={"state": "retired"}) for o in live(job)[which:which + number]])
    if what == "delete":
        return job.without(Cable, [c.id for c in job.all(Cable)[:number]])
    return set_fields(job, "point", point.id, {what: str(number)})


@settings(max_examples=40)
@given(EDITS)
def test_what_is_remembered_of_a_job_that_stood_changes_nothing(edits: list[tuple[str, int, int]]) -> None:
    """A law: with and without the memory of what had nothing to follow, each edit gives the same job."""
    job = one_box(microphone=3)
    job, _ = add(job, "point", [{"label": f"Q{n}", "x": "1", "y": "1", "mains": "1"} for n in range(3)])
    job, _ = add(job, "box", [{"label": "FB-2", "x": "1", "y": "1", "points": "Q0, Q1"}])
    job = reconciled(reconciled(job))
    for one in edits:
        job = edited(job, one)
        remembering = reconciled(job)
        schedule._settled.clear()
        job = reconciled(job)
        assert remembering == job
        reconciled(job)
