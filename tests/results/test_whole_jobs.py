"""Whole jobs computed: the planted mistakes of one demo, one count followed through to the price, the smallest job."""

from pathlib import Path

import pytest

from stagefloor.core.open_items import CHECK, MEND, STATES, STOP, TO_DO, OpenItem
from stagefloor.core.workings import STATUSES
from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Cable
from stagefloor.job.edit import set_fields
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.results import Results, compute
from stagefloor.results.compute import open_items, questions
from stagefloor.results.scenes import box_face, extent, joist_lines, replay, stage_scene
from stagefloor.steps.boxes.schedule import reconciled

FOOT = 0.3048
DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"


@pytest.fixture(scope="module")
def playhouse() -> Results:
    opened = store.read(DEMOS / "quillhaven_playhouse")
    return compute(opened.job, opened.faults)


@pytest.fixture(scope="module")
def hall() -> Results:
    opened = store.read(DEMOS / "one_box")
    return compute(opened.job, opened.faults)


# --- the planted mistakes

# code, subject, what the sentence says, amount, basis, cure, state; each amount by hand beside it
PLANTED = [
    # cover 13 x 15 in about (-9.5, -3) ft, zone x -10 .. -7, y -6 .. -2.5: 12.5 in across, 13.5 in up; the smaller counts
    ("box-in-zone", "Floor box FB-A1", "step unit in the event School show", "1' 0 1/2\"", "keep-clear", "move it", MEND),
    # joist faces at 0.5 ft -+ 0.75 in, cutout to 0.5 ft
    ("box-on-joist", "Floor box FB-A8", "cuts into a joist", '3/4"', "joists", '2" to stage right', MEND),
    # beam at 20 ft with 3 in each side, cutout 20 in about 20 ft: all 6 in; to clear it 10 + 3 in = 1.08 ft
    ("box-on-bearing", "Floor box FB-A9", "beam B", '6"', "bearing", "1' 1\"", MEND),
    # T2 to U1 at x = 0 under the trap, x -2 .. 2: 2 x (2 + 1) ft
    ("raceway-under-zone", "Raceway T2–U1", "under the trap", "6' more on each of 14 lines", "keep-clear", "round", MEND),
    # points at x = -7 and 7, y = 9; box at (0, 9); reach 6 ft
    ("out-of-reach", "Point A10", "Floor box FB-A8", "7', 1' too far", "reach", "nearer", MEND),
    ("out-of-reach", "Point A11", "Floor box FB-A8", "7', 1' too far", "reach", "nearer", MEND),
    # y = 4 and 4.5 ft at the same height
    ("beside-power", "Raceway T2–T3", "beside the lighting feeder for 14'", '6" apart', "policy", "right angles", MEND),
    ("string-unknown", "Raceway the 2 in raceway to the mix position", "pull string", "30 % filled", "string",
     "prove", STOP),
    ("label-twice", "Line A2-M2", "FB-A2, FB-A9", "2 of the same", "unique", "another label", MEND),
    # 7 coax of 0.235 in and 19 data cables of 0.25 in: 1.2363 of 2.036 square inches
    ("raceway-too-small", "Raceway W1-T1 VD", "electrician's drawing gives 1-1/2 in, 26 cables need 2 in", "60.7 % filled",
     "Ch.9 Table", "2-1/2 in", MEND),
]


@pytest.mark.parametrize("planted", PLANTED, ids=lambda p: f"{p[0]} {p[1]}")
def test_each_planted_mistake_is_found_with_subject_amount_basis_and_cure(playhouse: Results,
                                                                          planted: tuple[str, ...]) -> None:
    code, subject, what, amount, basis, cure, state = planted
    (item,) = [i for i in playhouse.items if i.code == code and i.subject.startswith(subject)]
    assert what in item.what
    assert amount in item.amount
    assert basis in item.basis
    assert cure in item.cure
    assert item.state == state
    assert item.must_mend
    assert item.record is not None
    assert item.record[1] in playhouse.job.tables[item.record[0]]


def test_nothing_else_must_be_mended(playhouse: Results) -> None:
    found = [i for i in playhouse.items if i.must_mend]
    assert sorted(i.code for i in found) == sorted(p[0] for p in PLANTED)
    # nine mistakes: the box between the two practicals is out of reach of both
    assert len({(i.code, "" if i.code == "out-of-reach" else i.subject) for i in found}) == 9


def test_what_matters_most_comes_first_and_each_item_is_whole(playhouse: Results, hall: Results) -> None:
    for results in (playhouse, hall):
        ranks = [STATES.index(i.state) for i in results.items]
        assert ranks == sorted(ranks)
        for i in results.items:
            assert i.subject, i
            assert i.what, i
            assert i.basis, i
            assert i.cure, i
            assert i.state in STATES
            assert i.as_data()["must_mend"] == i.must_mend
    assert playhouse.items[0].state == STOP


def test_an_item_that_must_be_mended_shows_where_its_number_comes_from(playhouse: Results) -> None:
    for i in playhouse.items:
        if i.state == MEND and any(c.isdigit() for c in i.amount):
            # a count is plain, a length in a zone comes from the outlines entered; all else has its working
            assert i.workings or i.code in ("box-in-zone", "label-twice"), i.code
            for w in i.workings:
                assert w.basis
                assert w.result.name


def test_mending_the_mistakes_clears_them(playhouse: Results) -> None:
    job = playhouse.job

    def only(items: list[OpenItem], code: str) -> list[str]:
        return [i.subject for i in items if i.code == code]

    box = next(b for b in job.all(Box) if b.label == "FB-A8")
    moved = open_items(set_fields(job, "box", box.id, {"x": "-0.1667 ft"}))
    assert only(moved, "box-on-joist") == []
    assert only(moved, "box-near-joist") == []
    box = next(b for b in job.all(Box) if b.label == "FB-A9")
    assert only(open_items(set_fields(job, "box", box.id, {"y": "21.09 ft"})), "box-on-bearing") == []
    assert only(open_items(set_fields(job, "settings", "job", {"reach": "7 ft"})), "out-of-reach") == []
    segment = next(i.record for i in playhouse.items if i.code == "raceway-too-small")
    assert segment is not None
    wide = open_items(set_fields(job, "segment", segment[1], {"size": "2-1/2"}))
    assert only(wide, "raceway-too-small") == []
    assert only(wide, "raceway-no-growth") == []


# --- one count through to the price


def test_one_more_data_line_goes_through_to_the_price(playhouse: Results, tmp_path: Path) -> None:
    (tmp_path / store.FILE).write_bytes((DEMOS / "quillhaven_playhouse" / store.FILE).read_bytes())
    point = next(p for p in playhouse.job.all(Point) if p.label == "A02")
    job = store.transact(tmp_path, lambda j: reconciled(set_fields(j, "point", point.id, {"data": str(point.data + 1)})),
                         "Point A02: data 2")
    after = compute(job)
    before = playhouse
    # RK-W1 4.5 ft, W1-T1 14, T1-T2 14, T2 to FB-A2 0.17 + 7.5 + 1.5, slack 13: 54.67 ft
    feet = 54.67
    more = {k: after.quantities.get(k, 0.0) - before.quantities.get(k, 0.0)
            for k in after.quantities.keys() | before.quantities.keys()}
    assert {k: round(v / FOOT, 6) if k.endswith(" m") or " m:" in k else v for k, v in more.items() if abs(v) > 1e-9} == {
        "openings: data": 1, "circuits: data": 1, "tests: data": 1, "labels": 1, "cable ends: data": 2,
        "cable m: data": feet, "added cables m": feet}
    assert after.peaks["data"].count == before.peaks["data"].count + 1  # A02 is on in the musical, which drives it
    assert len(after.lines) == len(before.lines) + 1
    new = next(line for line in after.lines if line.circuit.id not in before.lengths())
    assert (new.circuit.label, new.metres / FOOT) == ("A2-D2", pytest.approx(feet))
    # hours: mean (low + likely + high) / 3 of the job's rows: fit 0.05333, two ends of 0.11667, label 0.05333,
    # test 0.07333, added cable 54.67 / 100 of 0.13333: 0.4862 h; each of five lines is rounded to 0.01 h
    hours = 0.05333 + 2 * 0.11667 + 0.05333 + 0.07333 + feet / 100 * 0.13333
    gained = after.estimate.likely_hours.result.amount - before.estimate.likely_hours.result.amount
    assert gained == pytest.approx(hours, abs=5 * 0.01)
    # price: material 6.80 + 0.60 + 54.67 / 100 of 24.00, with 8 % contingency and 25 % markup;
    # labour at 46.50 with 8 % and 40 %; no tax
    assert after.estimate.selling is not None
    assert before.estimate.selling is not None
    money = (6.80 + 0.60 + feet / 100 * 24.0) * 1.08 * 1.25 + gained * 46.50 * 1.08 * 1.40
    assert float(after.estimate.selling.price - before.estimate.selling.price) == pytest.approx(money, abs=0.10)
    assert after.estimate.selling.price == sum(p for _, p in after.estimate.selling.sections)
    # orders: one more connector, one blank plate less
    orders = [{o.item: o.quantity for o in r.order_list()} for r in (before, after)]
    assert [o["8P8C, data"] for o in orders] == ["19", "20"]
    assert [o["Blank plate, D-size"] for o in orders] == ["27", "26"]
    # and back again
    back = compute(store.undo(tmp_path, job.sequence))
    assert back.quantities == before.quantities
    assert back.estimate.selling == before.estimate.selling


def test_computing_twice_gives_the_same_and_changes_nothing(playhouse: Results) -> None:
    again = compute(playhouse.job)
    assert again.quantities == playhouse.quantities
    assert [i.as_data() for i in again.items] == [i.as_data() for i in playhouse.items]
    other = set_fields(playhouse.job, "settings", "job", {"reach": "7 ft"})
    assert len(compute(other).items) != len(again.items)  # nothing is kept from one job to the next
    assert [i.as_data() for i in compute(playhouse.job).items] == [i.as_data() for i in again.items]


# --- workings


@pytest.mark.parametrize("demo", ["quillhaven_playhouse", "one_box"])
def test_every_number_shown_has_a_working_with_a_basis(demo: str) -> None:
    results = compute(store.read(DEMOS / demo).job)
    workings = results.workings()
    names = [w.name for w in workings]
    for kind in results.peaks:
        assert f"{kind.capitalize()} needed at the whole stage" in names
    for b in results.boxes:
        assert f"Bays needed in {b.box.title}" in names
    for line in results.lines:
        assert f"Length of one line, {line.circuit.label}" in names
    assert sum(n.startswith("Raceway fill") for n in names) == sum(bool(r.diameters) for r in results.raceways)
    for w in workings:
        assert w.basis, w.name
        assert all(b.text and b.status in STATUSES for b in w.basis), w.name
        assert w.formula, w.name
        assert w.as_text().splitlines()[-1].startswith("  basis: ")
    for group in (results.estimate.build_up, results.estimate.totals):
        assert all(w.basis for w in group)


# --- the smallest job


def test_the_smallest_job_gives_a_two_bay_box_with_one_place_to_spare(hall: Results) -> None:
    (one,) = hall.boxes
    assert one.layout is not None
    # 2 microphones + 1 loudspeaker in one module of 4, 1 mains outlet of 2 behind the barrier
    assert (one.layout.model.bays, one.layout.contents.signal, one.layout.contents.mains) == (2, 3, 1)
    assert (one.layout.signal_places, one.layout.spare_places, one.layout.mains_places) == (4, 1, 2)
    working = one.layout.working("FB-1")
    assert (working.result.amount, working.holds) == (2, True)
    face = box_face(hall.job, one.box)
    assert face is not None
    assert [bay.mains for bay in face.bays] == [False, True]
    assert [[o.kind for o in bay.openings] for bay in face.bays] == [
        ["microphone", "microphone", "", "loudspeaker"], ["mains", ""]]


def test_the_smallest_job_gives_an_order_list_and_uses_the_old_lines(hall: Results) -> None:
    orders = {o.item: o.quantity for o in hall.order_list()}
    assert orders == {"Floor box with 2 bays": "1", "3-pin XLR, microphone": "2",
                      "4-pole locking loudspeaker connector, loudspeaker": "1", "Mains outlet": "1",
                      "Blank plate, D-size": "1", "Old lines reused": "3"}
    assert orders == {o.item: o.quantity for o in hall.order_list(hall.boxes[0].box.id)}
    assert hall.order_list("box-none") == []
    assert not any(k.startswith("cable m") for k in hall.quantities)
    assert hall.job.all(Cable) == []
    assert (hall.quantities["old lines tested"], hall.quantities["old outlets removed"]) == (3, 3)


def test_the_smallest_job_has_nothing_to_mend_and_asks_its_questions_once(hall: Results) -> None:
    assert [i.code for i in hall.items if i.must_mend] == []
    states = {i.code: i.state for i in hall.items}
    assert states["survey-open"] == TO_DO
    assert states["old-line-untested"] == CHECK
    asked = questions(hall.items)
    assert len(asked) == len(set(asked))
    assert any("Joists" in q for q in asked)


def test_an_empty_job_computes_and_asks() -> None:
    results = compute(Job())
    assert results.quantities == {}
    assert results.estimate.selling is None
    assert not any(i.must_mend for i in results.items)
    results.workings()
    assert results.order_list() == []
    assert stage_scene(Job(), structure=True, ways=True).boxes == ()


def test_a_value_that_could_not_be_read_is_an_open_item(hall: Results) -> None:
    items = open_items(hall.job, ("Point A01, x: 'over there' is not a length.",))
    assert [i.what for i in items if i.code == "file-value"] == ["Point A01, x: 'over there' is not a length."]


# --- what is drawn


def test_the_stage_is_drawn_from_the_same_records(playhouse: Results) -> None:
    job = playhouse.job
    assert extent(job) == pytest.approx((-24 * FOOT, -6 * FOOT, 26 * FOOT, 26 * FOOT))
    scene = stage_scene(job, structure=True, ways=True)
    assert {b.label for b in scene.boxes} == {b.label for b in job.boxes()}
    assert len(scene.points) == 15
    # joists at 0.5 ft + k * 16 in between -24 and 26 ft: (24.5 / 1.3333 = 18) + (25.5 / 1.3333 = 19) + 1
    assert len([line for line in scene.joists if line.what == "joist"]) == 18 + 19 + 1
    assert all(abs((line.points[0][0] / FOOT - 0.5) / (16 / 12) - round((line.points[0][0] / FOOT - 0.5) / (16 / 12))) < 1e-9
               for line in scene.joists)
    assert len(scene.replay) == 6


def test_a_slip_in_the_spacing_does_not_stop_the_drawing(playhouse: Results) -> None:
    job = playhouse.job
    field = next(iter(job.tables["joists"]))
    assert joist_lines(set_fields(job, "joists", field, {"spacing": "0.0001 mm"}), -7, -2, 8, 8) == []
    assert joist_lines(set_fields(job, "joists", field, {"spacing": "0"}), -7, -2, 8, 8) == []


def test_the_replay_of_an_event_names_what_is_not_served(playhouse: Results) -> None:
    job = playhouse.job
    musical, film = (next(e for e in job.tables["event"].values() if e.name == n) for n in ("Musical", "Film night"))
    told = replay(job, musical)  # type: ignore[arg-type]
    assert [s.split(" (")[0] for s in told.unserved] == ["A10", "A11"]
    # musical: A02 to A11 and the two sidefills A13, A14, less the two that are not served
    assert {c.point for c in told.connections} == {*(f"A{n:02}" for n in range(2, 10)), "A13", "A14"}
    assert {c.point for c in replay(job, film).connections} == {"A01", "A15"}  # type: ignore[arg-type]
