"""The questions for the site: none twice, none about a floor that is not there."""

import pytest

from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps.sheet import asked_once, open_items
from stagefloor.steps.starter import started


def asked(floor: str, zone: str = "") -> list[str]:
    job = set_fields(started(Job()), "settings", "job", {"floor_type": floor})
    if zone:
        job, _ = add(job, "zone", [{"label": "Apron", "floor_type": zone}])
    return [q for item in open_items(job) for q in item.question.splitlines()]


@pytest.mark.parametrize(("floor", "zone", "slab", "joists"), [
    ("", "", True, True), ("wood on joists", "", False, True), ("concrete slab on grade", "", True, False),
    ("wood on joists", "suspended concrete slab", True, True), ("raised access floor", "", True, True)])
def test_only_what_fits_the_floor_is_asked(floor: str, zone: str, slab: bool, joists: bool) -> None:
    found = asked(floor, zone)
    assert any(q.startswith("Slab type") for q in found) == any(q.startswith("Slab scan") for q in found) == slab
    assert any(q.startswith("Joists") for q in found) == joists


def test_a_survey_line_gives_way_to_a_sharper_question_on_the_same_thing() -> None:
    sharp = "Where is one joist, which way do they run, and how far apart?"
    assert asked_once(["Joists: run, spacing", sharp, "Level of the stage", sharp]) == [sharp, "Level of the stage"]
    scan = "Where are the tendons at Floor box FB-1? (scan, with report number)"
    both = ["Slab type and its evidence", "Slab scan at each floor box that goes into the slab, with report number"]
    assert asked_once([*both, scan]) == [both[0], scan]  # a scan does not say what the drawings show
    assert asked_once(["Joists: run, spacing", "Level of the stage"]) == ["Joists: run, spacing", "Level of the stage"]
