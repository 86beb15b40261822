"""What the planner can't use is named, and the rest is planned: wrong input of every kind on the smallest demo."""

import dataclasses
from pathlib import Path

import pytest

from stagefloor.core.problems import Problem
from stagefloor.entry.planning import answer
from stagefloor.job import edit, store
from stagefloor.job.model import Job
from stagefloor.results.unit_costs import unit_costs
from stagefloor.steps.boxes import choice
from stagefloor.steps.boxes.choice_input import cannot_use
from stagefloor.steps.boxes.planner import solve


@pytest.fixture
def job() -> Job:
    """Maple Lane Hall: one box, FB-1, one lectern, a reach of 6 ft, stage left edge at 18 ft."""
    return store.read(Path(__file__).parents[3] / "demo_projects" / "one_box").job


def told(job: Job) -> str:
    question = choice.question(job, unit_costs(job))
    return answer(job, question, solve(question, 5.0))


def test_a_sound_job_says_nothing(job: Job) -> None:
    assert cannot_use(job) == []


def test_a_position_off_the_stage_is_named_and_the_rest_is_planned(job: Job) -> None:
    job, _ = edit.add(job, "position", [{"label": "Spot 9", "x": "90 ft", "y": "3 ft"}, {"label": "Spot 10"}])
    said = told(job)
    assert "Spot 9 (90&#x27; stage left, 3&#x27; upstage) is not on the stage" in said
    assert "Spot 10 has no place" in said
    assert "serve every event" in said


def test_a_point_that_nobody_reaches_is_named_in_the_users_units(job: Job) -> None:
    """400 ft from a lectern at 9 ft, with positions 2 ft beyond at the most: 6 ft of reach do not do."""
    job, _ = edit.add(job, "point", [{"label": "Far", "x": "400 ft", "y": "3 ft", "microphone": "2"}])
    said = told(job)
    assert "serve what can be served" in said
    assert "beyond the reach of 6&#x27; for microphone" in said
    assert "Missing in: Weekly service, Concert." in said
    assert " m from" not in said


def test_contradictory_marks_are_named(job: Job) -> None:
    box = job.boxes()[0]
    job = edit.set_fields(job, "box", box.id, {"pinned": "yes"})
    spot = {"x": str(box.x), "y": str(box.y)}
    job, _ = edit.add(job, "position", [{"label": "Piano", "use": "forbidden", **spot}])
    job, _ = edit.add(job, "box", [{"label": "FB-9", "pinned": "yes", "model": box.model, **spot}])
    said = cannot_use(job)
    assert any("Floor box FB-1 must stay where it is, but Piano marks that place as forbidden" in s for s in said)
    assert any("Floor box FB-1 and Floor box FB-9 must both stay" in s for s in said)
    assert "Piano marks that place" in told(job)


def test_a_fixed_box_off_the_stage_is_named(job: Job) -> None:
    job = edit.set_fields(job, "box", job.boxes()[0].id, {"x": "90 ft", "pinned": "yes"})
    assert "Floor box FB-1 must stay where it is, but that is not on the stage" in told(job)


def test_without_models_there_is_one_sentence(job: Job) -> None:
    empty = dataclasses.replace(job, tables={**job.tables, "boxmodel": {}})
    with pytest.raises(Problem, match="There is no box model in the list"):
        choice.question(empty, unit_costs(empty))
