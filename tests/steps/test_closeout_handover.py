"""As-built differences and completeness on small jobs, with the distances worked by hand."""

from datetime import date

import pytest

from stagefloor.core.open_items import CHECK, STOP, TO_DO
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps import closeout


def job_with_boxes(*labels: str) -> tuple[Job, list[str]]:
    return add(Job(), "box", [{"label": label, "x": "3 m", "y": "1 m", "z": "0 m"} for label in labels])


def test_the_shift_is_measured_in_space():
    # 3, 4 and 12 cm: sqrt(9 + 16 + 144) = 13 cm
    job, (box,) = job_with_boxes("FB1")
    job, _ = add(job, "asbuilt", [{"box": box, "x": "3.03 m", "y": "0.96 m", "z": "0.12 m"}])
    (found,) = closeout.as_built(job)
    assert found.shift == pytest.approx(0.13)
    assert (found.beyond, found.measured, found.missing) == (True, True, ())
    assert found.working.result.amount == pytest.approx(0.13)
    assert '5 1/8"' in found.sentence  # 0.13 m is 5.118 in


@pytest.mark.parametrize(("x", "beyond"), [("3.025 m", False), ("3.026 m", True), ("3 m", False)])
def test_the_tolerance_is_an_inch_near_enough(x, beyond):
    job, (box,) = job_with_boxes("FB1")
    job, _ = add(job, "asbuilt", [{"box": box, "x": x, "y": "1 m", "z": "0 m"}])
    assert closeout.as_built(job)[0].beyond is beyond
    assert [i.code for i in closeout.open_items(job, {}) if i.code == "built-elsewhere"] == (
        ["built-elsewhere"] if beyond else []
    )


def test_what_was_not_measured_is_unknown_and_not_zero():
    job, (box, other) = job_with_boxes("FB1", "FB2")
    job, _ = add(job, "asbuilt", [{"box": box, "x": "3.5 m", "y": "1 m"}])
    half, none = closeout.as_built(job)
    assert (half.shift, half.missing, half.built) == (None, ("built height",), (3.5, 1.0, None))
    assert "built height missing" in half.sentence
    assert none.sentence == "Floor box FB2: no as-built entry yet."
    job = set_fields(job, "box", other, {"x": ""})
    assert "planned across" in closeout.as_built(job)[1].missing


def test_the_last_entry_of_a_box_counts():
    job, (box,) = job_with_boxes("FB1")
    job, _ = add(
        job,
        "asbuilt",
        [{"box": box, "x": "9 m", "y": "1 m", "z": "0 m"}, {"box": box, "x": "3 m", "y": "1 m", "z": "0 m"}],
    )
    assert closeout.as_built(job)[0].shift == pytest.approx(0)


def test_a_drilled_enclosure_stays_open_until_a_paper_that_names_it_is_received():
    job, (box, _) = job_with_boxes("FB1", "FB10")
    job, _ = add(
        job,
        "asbuilt",
        [{"box": box, "x": "3 m", "y": "1 m", "z": "0 m", "modified": "yes", "note_text": "hole"}],
    )

    def drilled(job: Job) -> list[tuple[str, str]]:
        return [(i.subject, i.state) for i in closeout.open_items(job, {}) if i.code == "enclosure-drilled"]

    assert drilled(job) == [("Floor box FB1", STOP)]
    job, (paper, _) = add(
        job,
        "document",
        [
            {"label": "Answer of the maker, FB10", "received": "2026-04-01"},
            {"label": "Answer of the inspector: fb1"},
        ],
    )
    assert drilled(job) == [("Floor box FB1", STOP)]  # another box, and an answer that is still due
    assert drilled(set_fields(job, "document", paper, {"label": "Answer of the maker, WFB1"}))
    assert drilled(set_fields(job, "document", paper, {"label": "Answer of the maker, FB1"})) == []


def test_an_empty_job_is_not_complete():
    found = closeout.completeness(Job(), {})
    assert (found.done, found.of, found.share) == (0, 5, 0)
    assert {n.part for n in found.missing} == {
        "hold points", "documents", "spares and keys", "training", "warranties"}


def test_completeness_counts_records_and_names_who_owes_what():
    job, (box, _) = job_with_boxes("FB1", "FB2")
    job, (line, mains) = add(
        job, "circuit", [{"label": "L1", "what": "line"}, {"label": "P1", "what": "mains"}]
    )
    job, _ = add(
        job,
        "reading",
        [
            {"circuit": line, "test": "polarity", "result": "pass"},
            {"circuit": line, "test": "continuity", "result": "fail"},
        ],
    )
    job, _ = add(job, "asbuilt", [{"box": box, "x": "3 m", "y": "1 m", "z": "0 m"}])
    job, _ = add(
        job,
        "holdpoint",
        [
            {"label": "Breaker", "when": "breaker on", "by": "house electrician", "date": "2026-04-02",
             "evidence": "report 12"},
            {"label": "Before the finish", "when": "finish", "by": "site lead"},
        ],
    )
    job, _ = add(
        job,
        "document",
        [
            {"label": "As-builts", "owner": "office", "received": "2026-04-02"},
            {"label": "Keys", "owner": "crew lead"},
        ],
    )
    job, _ = add(
        job,
        "punch",
        [{"label": "Lid scratched", "owner": "shop", "closed": "2026-04-02"}, {"label": "Label missing"}],
    )
    found = closeout.completeness(job, {})
    # a line needs four tests, mains one
    assert {p.name: (p.done, p.of) for p in found.parts} == {
        "old lines tested first": (0, 0),
        "tests": (1, 5),
        "as-built positions": (1, 2),
        "drilled enclosures": (0, 0),
        "hold points": (1, 2),
        "documents": (1, 2),
        "spares and keys": (0, 1),
        "training": (0, 1),
        "warranties": (0, 1),
        "punch items": (1, 2),
    }
    assert found.share == pytest.approx(5 / 16)
    owed = {(n.part, n.name): n.who for n in found.missing}
    assert owed[("tests", "P1")] == "the licensed electrician"
    assert owed[("tests", "L1")] == "the tester"
    assert owed[("documents", "Keys")] == "crew lead"
    assert owed[("punch items", "Label missing")] == "nobody named yet"
    assert owed[("hold points", "Before the finish")] == "site lead"
    assert owed[("as-built positions", "Floor box FB2")] == "the crew"
    assert any("failed, as recorded" in n.what for n in found.missing)
    assert mains


def test_open_items_of_the_papers():
    job, _ = add(Job(), "document", closeout.default_documents())
    job, _ = add(
        job,
        "holdpoint",
        [{"label": "Pull strings proved", "when": "pour"}, {"label": "Lids", "when": "finish"}],
    )
    job, _ = add(job, "punch", [{"label": "Lid rattles", "owner": "shop", "due": "2026-05-01"}])
    items = {(i.code, i.blocks): i for i in closeout.open_items(job, {})}
    assert len(closeout.default_documents()) == 12
    strings = items["hold-point-open", "raceways in, strings proved"]
    assert strings.subject == "Hold point 'Pull strings proved', before pour"
    assert strings.what == "not released yet, and no picture of it before the pour"
    assert ("hold-point-open", "floor finish") in items
    assert items["document-open", "first event"].what.startswith(
        "12 not received, owed by nobody named yet: "
    )
    lid = items["punch-item-open", "first event"]
    assert (lid.subject, lid.what) == ("Punch item 'Lid rattles'", "is open, due 2026-05-01")
    assert {i.state for i in items.values()} == {TO_DO}


def test_boxes_that_are_elsewhere_are_one_item():
    job, boxes = job_with_boxes("FB1", "FB2", "FB3")
    job, _ = add(job, "asbuilt", [{"box": b, "x": "3.1 m", "y": "1 m", "z": "0 m"} for b in boxes[:2]])
    (item,) = [i for i in closeout.open_items(job, {}) if i.code == "built-elsewhere"]
    assert item.state == CHECK
    assert item.what.startswith(
        '2 of 3 are not where planned: Floor box FB1 is 3 15/16" from where it was planned'
    )
    assert len(item.workings) == 2
    assert "engineer" in item.cure


def test_everything_there_is_complete():
    job, (box,) = job_with_boxes("FB1")
    job, (line,) = add(job, "circuit", [{"label": "D1", "what": "data"}])
    job, _ = add(
        job,
        "reading",
        [{"circuit": line, "test": t.test, "result": "pass"} for t in closeout.required_tests("data")],
    )
    job, _ = add(job, "asbuilt", [{"box": box, "x": "3 m", "y": "1 m", "z": "0 m"}])
    job, (point,) = add(job, "holdpoint", [{"label": "Lids", "by": "site lead", "date": "2026-04-02", "photo": "IMG-4"}])
    job, _ = add(job, "document", [{"label": "As-builts", "received": "2026-04-02"}])
    job, _ = add(job, "spare", [{"label": "Lid key", "given_to": "house manager", "date": "2026-04-02"}])
    job, _ = add(job, "training", [{"label": "Use of lids", "who": "stage crew", "date": "2026-04-02"}])
    job, _ = add(job, "warranty", [{"label": "Workmanship", "date": "2026-04-02", "months": "12"}])
    found = closeout.completeness(job, {})
    assert (found.share, found.missing) == (1, ())
    assert closeout.open_items(job, {}) == []
    bare = set_fields(job, "holdpoint", point, {"photo": ""})
    (missing,) = closeout.completeness(bare, {}).missing
    assert "without evidence of what was seen" in missing.what


@pytest.mark.parametrize(("when", "dates", "lacking"), [
    ("pour", [], "such as a picture taken before the pour"),
    ("finish", [], "such as a picture taken before the finish covers it"),
    ("breaker on", [], "without evidence of what was seen"),
    ("pour", ["2026-04-02"], ""),
    ("pour", [""], ""),  # nobody noted its day: it counts
    ("pour", ["2026-04-03"], "dated later, the first 2026-04-03"),
    ("pour", ["2026-04-03", "2026-04-01"], ""),
])  # fmt: skip
def test_a_picture_taken_before_is_evidence_at_a_hold_point(when, dates, lacking):
    job, (point,) = add(Job(), "holdpoint", [{"label": "Set", "when": when, "by": "site lead", "date": "2026-04-02"}])
    job, _ = add(job, "picture", [{"file": "x", "on": "holdpoint", "to": point, "date": d} for d in dates] or [
        {"file": "x", "on": "job"}])
    missing = [n.what for n in closeout.completeness(job, {}).missing if n.part == "hold points"]
    assert bool(missing) == bool(lacking)
    assert all(lacking in what for what in missing)
    items = [i for i in closeout.open_items(job, {}) if i.code == "hold-point-open"]
    assert [f"{i.subject}: {i.what}." for i in items] == missing


def test_a_hold_point_that_is_not_released_asks_for_its_picture_in_time():
    job, (point,) = add(Job(), "holdpoint", [{"label": "Set", "when": "deck"}])
    (need,) = [n for n in closeout.completeness(job, {}).missing if n.part == "hold points"]
    assert need.what.endswith("not released yet, and no picture of it before the deck closes it.")
    job, _ = add(job, "picture", [{"file": "x", "on": "holdpoint", "to": point}])
    (need,) = [n for n in closeout.completeness(job, {}).missing if n.part == "hold points"]
    assert need.what.endswith("not released yet.")


def test_an_open_punch_item_is_overdue_the_day_after_it_was_due():
    rows = [{"label": "lid", "due": "2026-05-30"}, {"label": "paint", "due": "2026-05-31"}, {"label": "key", "due": "soon"},
            {"label": "trim", "due": "2026-01-02"}, {"label": "label", "due": "2026-01-01", "closed": "2026-01-05"},
            {"label": "hinge"}]
    job = add(Job(), "punch", rows)[0]
    assert [p.label for p in closeout.overdue(job, date(2026, 5, 31))] == ["trim", "lid"]
