"""A plan is adopted only for the job it was made for, and its sentences carry names, each replaced once."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from browser import TOP

from stagefloor.core.problems import Problem
from stagefloor.entry.planning import adopt_for, answer, beside, in_words
from stagefloor.job import edit, store
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.results.unit_costs import unit_costs
from stagefloor.steps.boxes import choice
from stagefloor.steps.boxes.planner import solve


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    folder = tmp_path_factory.mktemp("plan")
    shutil.copy(TOP / "demo_projects" / "one_box" / "job.json", Path(folder))
    return store.read(folder).job


def test_a_plan_for_an_earlier_job_is_refused(job: Job) -> None:
    question = choice.question(job, unit_costs(job))
    plan = solve(question, 5.0)
    assert adopt_for(job, question, plan, "2026-01-01").boxes()
    point = job.all(Point)[0]
    later = edit.set_fields(job, "point", point.id, {"microphone": "5"})
    with pytest.raises(Problem, match="The job changed since this plan was made"):
        adopt_for(later, question, plan, "2026-01-01")


def test_a_point_without_a_place_is_named_and_not_counted_as_served(job: Job) -> None:
    question = choice.question(job, unit_costs(job))
    more, _ = edit.add(job, "point", [{"label": "Choir", "microphone": "2"}])
    said = answer(more, question, solve(question, 5.0))
    assert "serve every event" not in said
    assert "Left out, because their place is not entered: Choir" in said


def test_names_replace_ids_once() -> None:
    names = {"point-1": "see point-12", "point-12": "Choir"}
    assert in_words("Without 'point-1' and point-12", names) == "Without see point-12 and Choir"


def test_alternatives_stand_side_by_side_with_what_differs(job: Job) -> None:
    question = choice.question(job, unit_costs(job))
    plan = solve(question, 5.0)
    spot = next(c.id for c in question.candidates if c.id != plan.boxes[0].candidate)
    other = replace(plan, boxes=(replace(plan.boxes[0], candidate=spot),), costs=replace(plan.costs, boxes=1234567.0))
    said = beside(job, question, plan, [other])
    assert "Alternative 1" in said
    assert f"{1234567 + plan.costs.openings:,.0f}" in said
    assert beside(job, question, plan, []) == ""
