"""Who goes to the site, and who cuts, is told where a slab was not scanned: on the survey sheet and on the crew's cards.

Source: scanning guides (concrete_rules.csv): radar scan of every core in a post-tensioned slab; drawings alone not accepted.
"""

import shutil
from pathlib import Path

import pytest
from browser import TOP

from stagefloor.entry.session import Session
from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.edit import set_fields
from stagefloor.job.model import Job
from stagefloor.package.extract_crew import extract
from stagefloor.package.extract_site import site_sheet
from stagefloor.package.extract_survey import survey_sheet
from stagefloor.readers.crew import pages
from stagefloor.results import compute

# 130 mm deep of 95 mm that the build-up leaves; FB-B4 and FB-B7 are 90 mm deep, FB-B9 stands on a floor of unknown build-up
POCKETS = {"FB-B1", "FB-B2", "FB-B3", "FB-B5", "FB-B6", "FB-B8", "FB-B9"}
BEFORE = "Cut, core and drill nothing in the slab here before it was scanned and the engineer has answered in writing."


@pytest.fixture(scope="module")
def hall() -> Job:
    return store.read(TOP / "demo_projects" / "ondry_hall" / "job.json").job


def asked(job: Job) -> set[str]:
    """Boxes whose scan the survey sheet asks for."""
    words = [q.words for q in survey_sheet(compute(job), "k", "2026-06-01").questions]
    return {b.label for b in job.boxes() for w in words if f"Floor box {b.label}? (scan, with report number)" in w}


def carded(job: Job, words: str) -> set[str]:
    """Boxes whose card of the crew says this before anything else."""
    return {c.title.split()[-1] for c in extract(compute(job)).trim_outs if c.ask and c.ask[0].endswith(words)}


def test_the_survey_sheet_and_the_crew_s_card_say_where_the_scan_is_missing(hall: Job) -> None:
    assert asked(hall) == carded(hall, BEFORE) == POCKETS
    one = next(b for b in hall.all(Box) if b.label == "FB-B1")
    after = set_fields(hall, "box", one.id, {"scan": "R-14"})
    assert asked(after) == carded(after, BEFORE) == POCKETS - {"FB-B1"}
    card = next(c for c in extract(compute(after)).trim_outs if c.title.endswith("FB-B1"))
    assert card.ask[0] == ("Floor box FB-B1: the slab scan of this place is R-14; a scan is no leave to cut. Cut, core and "
                           "drill nothing in the slab here before the engineer has answered in writing.")


def test_the_crew_s_site_sheet_says_it_beside_the_box(hall: Job) -> None:
    sheet = site_sheet(compute(hall), "k", "2026-06-01", "Crew A")
    assert {b.title.split()[-1] for b in sheet.boxes if BEFORE in b.note} == POCKETS
    remarked = set_fields(hall, "box", hall.boxes()[0].id, {"remark": "mind the pads"})
    after = site_sheet(compute(remarked), "k", "2026-06-01", "Crew A")
    (note,) = [b.note for b in after.boxes if b.id == hall.boxes()[0].id]
    assert note.endswith(f"{BEFORE} mind the pads")


def test_it_stands_on_the_page_of_the_crew(hall: Job) -> None:
    html = pages.trim_outs(extract(compute(hall))).text
    assert html.count("no scan of the slab at this place is entered") == len(POCKETS)


def test_a_scan_does_not_travel_with_its_box(tmp_path: Path) -> None:
    """It shows one place; typed again in another unit, a place is the same."""
    shutil.copy(TOP / "demo_projects" / "ondry_hall" / "job.json", tmp_path)
    session = Session(tmp_path)
    box = next(b for b in session.job.boxes() if b.label == "FB-B1")
    session.edit("scan", lambda j: set_fields(j, "box", box.id, {"scan": "R-14"}))
    assert box.x is not None
    session.edit("same place", lambda j: set_fields(j, "box", box.id, {"x": f"{box.x.si * 1000:.3f} mm"}))
    assert session.job.get(Box, box.id).scan == "R-14"
    session.edit("moved", lambda j: set_fields(j, "box", box.id, {"x": f"{box.x.si + 0.1:.4f} m"}))
    assert session.job.get(Box, box.id).scan == ""
    session.undo()
    assert session.job.get(Box, box.id).scan == "R-14"
    session.edit("moved and scanned there", lambda j: set_fields(j, "box", box.id, {"y": "3.2 m", "scan": "R-15"}))
    assert session.job.get(Box, box.id).scan == "R-15"
