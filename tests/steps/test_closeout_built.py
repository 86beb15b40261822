"""What was built otherwise: places by hand, lengths, the change log, a second look at the fit; warranties; service."""

from datetime import date
from pathlib import Path

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Circuit
from stagefloor.job.closeout import AsBuilt, Punch, Reading
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps import closeout

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"


@pytest.fixture(scope="module")
def hall() -> Job:
    """The demo without its own entries of the end."""
    job = store.read(DEMOS / "ondry_hall").job
    for kind in (AsBuilt, Reading, Punch):
        job = job.without(kind, [r.id for r in job.all(kind)])
    return job


@pytest.fixture(scope="module")
def playhouse() -> Job:
    return store.read(DEMOS / "quillhaven_playhouse").job


def box_named(job: Job, label: str) -> Box:
    return next(b for b in job.all(Box) if b.label == label)


def test_the_job_as_built_stands_where_it_was_measured(playhouse) -> None:
    box = box_named(playhouse, "FB-A1")
    job, _ = add(playhouse, "asbuilt", [{"box": box.id, "x": "-2 m", "z": "0.01 m"}])
    built = box_named(closeout.built_job(job), "FB-A1")
    assert (built.x.si, built.y, built.z.si) == (-2.0, box.y, 0.01)
    assert box_named(job, "FB-A1").x == box.x  # what was planned stays


def test_a_box_moved_onto_a_joist_is_called_out_and_one_in_its_place_is_not(playhouse) -> None:
    # FB-A8 of the demo cuts into a joist where it is planned; one that is clear is moved to the same distance from a joist
    bad, good = box_named(playhouse, "FB-A8"), box_named(playhouse, "FB-A2")
    assert closeout.refit(playhouse) == []
    there, _ = add(playhouse, "asbuilt", [{"box": good.id, "x": good.x.text, "y": good.y.text, "z": "0 ft"}])
    assert closeout.refit(there) == []
    # joists repeat every spacing, so the same place across is a joist again wherever the box stands up and down stage
    moved, _ = add(playhouse, "asbuilt", [{"box": good.id, "x": bad.x.text, "y": good.y.text, "z": "0 ft"}])
    found = [i for i in closeout.refit(moved) if "joist" in i.what]
    assert found and all(i.step == "closeout" and i.code.startswith("built-") for i in found)
    assert all("as built" in i.what and good.label in i.subject for i in found)
    assert {i.code for i in found} <= {i.code for i in compute(moved).items_of("closeout")}


def test_the_change_log_tells_what_was_planned_and_what_is_there(hall) -> None:
    box = box_named(hall, "FB-B5")
    node = next(iter(hall.tables["node"].values()))
    job, _ = add(hall, "asbuilt", [{"box": box.id, "x": "3.6 m", "y": "5.66 m", "z": "0 m", "trimmed": "lid trimmed",
                                    "connector": "5-pin at B5-M2", "feed": node.id, "note_text": "clear of the tendon",
                                    "by": "crew lead", "date": "2026-06-20", "photo": "IMG-31"}])
    job, _ = add(job, "revision", [{"label": "C", "date": "2026-06-25", "words": "as built"}])
    log = closeout.changes(job, list(compute(job).lines))
    assert [c.what for c in log if c.subject == "Floor box FB-B5"] == ["place", "fed from", "connectors", "lid or enclosure"]
    place = next(c for c in log if c.what == "place")
    assert (place.date, place.by, place.photo) == ("2026-06-20", "crew lead", "IMG-31")
    assert "up 5.4 m" in place.planned and "up 5.66 m" in place.built
    assert [c.subject for c in log][-1] == "Document set"
    (d,) = [d for d in closeout.as_built(job) if d.title == "Floor box FB-B5"]
    assert d.modified and d.beyond and d.deltas[1] == pytest.approx(0.26)


@pytest.fixture
def two_boxes() -> Job:
    """Boxes at 0 and 3 m on one line, a point at 1 m that the first serves, reach 2 m, a keep-clear path at 0.4 m below."""
    job = set_fields(Job(), "settings", "job", {"reach": "2 m", "units": "m", "floor_type": "wood on joists"})
    job, (model,) = add(job, "boxmodel", [{"label": "M", "surface": "floor", "across": "200 mm", "along": "200 mm",
                                          "depth": "90 mm", "flange": "20 mm"}])
    job, (point,) = add(job, "point", [{"label": "P1", "x": "1 m", "y": "0 m", "microphone": "1"}])
    job, _ = add(job, "box", [{"label": "A", "x": "0 m", "y": "0 m", "model": model, "points": [point]},
                              {"label": "B", "x": "3 m", "y": "0 m", "model": model}])
    return add(job, "keepclear", [{"label": "Wagon path", "x0": "-9 m", "y0": "-0.4 m", "x1": "9 m", "y1": "-0.4 m",
                                   "crossing": "yes", "width": "0.1 m"}])[0]


def refound(job: Job, label: str, **measured: str) -> list[tuple[str, str, str]]:
    moved, _ = add(job, "asbuilt", [{"box": box_named(job, label).id, **measured}])
    return [(i.code, i.subject, i.amount) for i in closeout.refit(moved)]


def test_a_point_that_the_built_box_does_not_reach_any_more(two_boxes) -> None:
    # 1 m from the point as planned; built at -1.5 m it is 2.5 m off, 0.5 m more than the loose cable allows; no height
    assert ("built-out-of-reach", "Point P1", "2.5 m, 0.5 m too far") in refound(two_boxes, "A", x="-1.5 m")
    assert not [c for c, *_ in refound(two_boxes, "A", x="-0.9 m") if "reach" in c]


def test_a_path_that_the_cable_of_the_built_box_crosses(two_boxes) -> None:
    assert ("built-cable-crosses", "Point P1", "1 crossing") in refound(two_boxes, "A", y="-1 m")
    assert not [c for c, *_ in refound(two_boxes, "A", y="1 m") if "crosses" in c]


@pytest.mark.parametrize(("label", "x"), [("A", "2.9 m"), ("B", "0.1 m")])
def test_two_boxes_overlap_whichever_of_them_moved(two_boxes, label, x) -> None:
    # covers of 240 mm, 100 mm apart in the middle: 140 mm on one another
    assert ("built-boxes-overlap", "Floor box A", "0.14 m") in refound(two_boxes, label, x=x)


def test_what_was_there_before_is_not_said_again(two_boxes) -> None:
    job, _ = add(two_boxes, "box", [{"label": "C", "x": "3.1 m", "y": "0 m", "model": box_named(two_boxes, "A").model}])
    assert refound(job, "A", x="0 m", y="0 m", z="0 m") == []
    assert not [c for c, *_ in refound(job, "A", x="0.2 m") if c == "built-boxes-overlap"]
    assert closeout.refit(job) == []


def built_of(job: Job, title: str) -> closeout.BuiltDifference:
    (found,) = [d for d in closeout.as_built(job) if d.title == title]
    return found


def test_a_later_entry_undoes_nothing_of_an_earlier_one(hall) -> None:
    box = box_named(hall, "FB-B5")
    model = next(m for m in hall.tables["boxmodel"] if m != box.model)
    first = {"box": box.id, "x": "3.6 m", "y": "5.66 m", "z": "0 m", "trimmed": "enclosure drilled", "model": model,
             "note_text": "two holes for the tails", "by": "crew lead", "date": "2026-06-20", "photo": "IMG-31"}
    job, _ = add(hall, "asbuilt", [first, {"box": box.id, "z": "0.004 m", "by": "electrician", "date": "2026-06-24"}])
    d = built_of(job, "Floor box FB-B5")
    assert d.modified and d.built == (3.6, 5.66, 0.004) and d.measured
    assert (d.by, d.date, d.note, d.photo) == ("electrician", "2026-06-24", "two holes for the tails", "IMG-31")
    assert "lid or enclosure: enclosure drilled" in d.others and any(o.startswith("model: ") for o in d.others)
    assert "drilled or trimmed" in d.sentence
    assert any(i.code == "enclosure-drilled" for i in closeout.open_items(job, {}))
    stands = box_named(closeout.built_job(job), "FB-B5")
    assert (stands.x.si, stands.y.si, stands.z.si, stands.model) == (3.6, 5.66, 0.004, model)


@pytest.mark.parametrize(("one", "two", "both"), [
    ("no", "lid trimmed", "lid trimmed"), ("lid trimmed", "no", "lid trimmed"),
    ("enclosure drilled", "lid trimmed", "lid and enclosure"), ("lid and enclosure", "lid trimmed", "lid and enclosure"),
    ("enclosure drilled", "enclosure drilled", "enclosure drilled")])
def test_what_was_cut_stays_cut(hall, one, two, both) -> None:
    box = box_named(hall, "FB-B5")
    job, _ = add(hall, "asbuilt", [{"box": box.id, "trimmed": one}, {"box": box.id, "trimmed": two}])
    assert f"lid or enclosure: {both}" in built_of(job, "Floor box FB-B5").others
    flagged, _ = add(hall, "asbuilt", [{"box": box.id, "modified": "yes"}, {"box": box.id, "x": "3.6 m"}])
    assert built_of(flagged, "Floor box FB-B5").modified


def test_the_latest_day_counts_not_the_last_row(hall) -> None:
    box = box_named(hall, "FB-B5")
    rows = [{"box": box.id, "x": "3.7 m", "date": "2026-06-24"}, {"box": box.id, "x": "3.6 m", "date": "2026-06-20"}]
    assert built_of(add(hall, "asbuilt", rows)[0], "Floor box FB-B5").built[0] == 3.7
    undated = [rows[0], {**rows[1], "date": ""}]
    assert built_of(add(hall, "asbuilt", undated)[0], "Floor box FB-B5").built[0] == 3.6


def test_a_place_that_was_measured_in_two_goes_is_in_the_change_log_once(hall) -> None:
    box = box_named(hall, "FB-B5")
    job, _ = add(hall, "asbuilt", [{"box": box.id, "x": "3.6 m", "y": "5.66 m", "date": "2026-06-20"},
                                   {"box": box.id, "z": "0 m", "date": "2026-06-21"},
                                   {"box": box.id, "trimmed": "lid trimmed", "date": "2026-06-22"}])
    log = [c for c in closeout.changes(job, []) if c.subject == "Floor box FB-B5"]
    assert [(c.date, c.what) for c in log] == [("2026-06-21", "place"), ("2026-06-22", "lid or enclosure")]
    assert "up 5.66 m" in log[0].built


def test_the_tolerance_is_the_jobs_own(hall) -> None:
    box = box_named(hall, "FB-B5")
    job, _ = add(hall, "asbuilt", [{"box": box.id, "x": "3.6 m", "y": "5.44 m", "z": "0 m"}])

    def beyond(job: Job) -> list[str]:
        return [d.title for d in closeout.as_built(job) if d.beyond]

    assert beyond(job) == ["Floor box FB-B5"]  # 40 mm against 25 mm
    assert beyond(set_fields(job, "settings", "job", {"built_tolerance": "40 mm"})) == []


def test_a_measured_cable_stands_beside_the_drawn_way(hall) -> None:
    line = next(x for x in compute(hall).lines if x.circuit.name == "B8-L1")
    for share, beyond in ((1.09, False), (1.12, True)):
        job = set_fields(hall, "cable", line.cable.id, {"typed_length": f"{line.way.metres * share:.3f} m"})
        (found,) = [b for b in closeout.built_lengths(compute(job).lines) if b.line == "B8-L1"]
        assert found.beyond is beyond
        assert found.working.result.amount == pytest.approx(100 * (share - 1), abs=0.01)


@pytest.mark.parametrize(("start", "months", "last"), [
    ("2026-03-04", 12, "2027-03-03"), ("2026-01-31", 1, "2026-02-27"), ("2024-02-29", 12, "2025-02-27"),
    ("2026-12-15", 24, "2028-12-14"),
])  # fmt: skip
def test_a_warranty_runs_to_the_day_before(start, months, last) -> None:
    assert closeout.last_day(date.fromisoformat(start), months).isoformat() == last


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(1, 240))
def test_calendar_months_agree_with_an_independent_library(start, months) -> None:
    assert closeout.last_day(start, months) == start + relativedelta(months=months) - relativedelta(days=1)


def test_a_warranty_says_what_starts_it_and_what_is_missing() -> None:
    job, _ = add(Job(), "warranty", [
        {"label": "Workmanship", "starts": "written acceptance", "date": "2026-07-01", "months": "24"},
        {"label": "Lids", "starts": "first use", "months": "60"}, {"label": "Cable", "date": "1 July", "months": "2.5"}])
    one, two, three = closeout.warranty_terms(job)
    assert one.sentence == "Workmanship: from written acceptance on 2026-07-01 through 2028-06-30."
    assert "the date of first use missing" in two.sentence and two.last is None
    assert "the date of written acceptance and whole months that it runs missing" in three.sentence


def test_a_label_leads_to_line_way_tests_and_who_closed_it(hall) -> None:
    circuit = next(c for c in hall.all(Circuit) if c.label == "B9-M3")
    job, _ = add(hall, "reading", [{"circuit": circuit.id, "test": "polarity", "result": "pass", "by": "crew lead"}])
    job, _ = add(job, "punch", [{"label": "Label smudged", "about": "b9-m3", "closed": "2026-06-30",
                                 "closed_by": "crew lead", "photo": "IMG-9"}])
    box = next(b.id for b in job.boxes() if b.label == "FB-B9")
    other = next(b.id for b in job.boxes() if b.label != "FB-B9")
    job, pictures = add(job, "picture", [{"on": k, "to": i} for k, i in (
        ("circuit", circuit.id), ("box", box), ("punch", job.all(Punch)[-1].id), ("box", other))])
    results = compute(job)
    (found,) = closeout.service(job, results.lines, results.readings, " b9-M3 ")
    assert (found.label, found.box, found.kind) == ("B9-M3", "Floor box FB-B9", "microphone")
    assert found.way and found.closed_by == ("crew lead",) and found.photos == ("IMG-9",)
    assert [t.test for t in found.tests] == ["polarity"]
    assert found.pictures == tuple(pictures[:3])
    assert found.defects == ("Label smudged: closed 2026-06-30 by crew lead",)
    assert len(closeout.service(job, results.lines, results.readings, "FB-B9")) == 5  # four microphones, one data
    with pytest.raises(Problem, match="is it B9-M3"):
        closeout.service(job, results.lines, results.readings, "B9-M33")


def test_an_old_line_is_tested_before_it_is_used_again() -> None:
    job, (old,) = add(Job(), "oldoutlet", [{"label": "W3", "what": "microphone"}])
    job, (line,) = add(job, "circuit", [{"label": "M1", "what": "microphone", "reused": old}])
    job, _ = add(job, "reading", [{"circuit": line, "test": "polarity", "result": "pass"}])
    (item,) = [i for i in closeout.open_items(job, {}) if i.code == "old-line-not-first"]
    assert item.what == "1 line tested like new, on old cable that is not known to be sound: M1"
    assert any(n.part == "old lines tested first" for n in closeout.completeness(job, {}).missing)
    tested = set_fields(job, "oldoutlet", old, {"tested": "passed"})
    assert not [i for i in closeout.open_items(tested, {}) if i.code == "old-line-not-first"]
    failed = closeout.completeness(set_fields(job, "oldoutlet", old, {"tested": "failed"}), {}).missing
    assert any("failed its test" in n.what for n in failed)
