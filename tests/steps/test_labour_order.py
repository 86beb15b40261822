"""The order of work: every task once, hold points where they belong and by whom."""

from decimal import Decimal

from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps import labour


def small_job() -> tuple[Job, labour.Estimate]:
    job, _ = add(Job(), "hourunit", labour.default_hour_units())
    counted = {
        "floor boxes": 1,
        "old lines tested": 4,
        "old outlets removed": 4,
        "first cables m": 30,
        "cable ends: line": 4,
        "tests: line": 2,
        "labels": 2,
        "trips": 2,
        "raceway m: 1": 6,
    }
    return job, labour.estimate(job, counted)


def test_every_task_is_in_the_order_once_with_its_hours():
    job, found = small_job()
    steps = labour.order_of_work(job, found.tasks)
    listed = [t for s in steps if not s.hold for t in s.tasks]
    assert sorted(listed) == sorted(t.task for t in found.tasks)
    assert sum((s.hours for s in steps), Decimal(0)) == sum((t.hours for t in found.tasks), Decimal(0))


def test_hold_points_stand_before_what_they_hold():
    job, found = small_job()
    names = [s.what for s in labour.order_of_work(job, found.tasks)]
    assert names.index("Test old lines, take out old outlets") < names.index(
        "Breaker off, locked and proved dead"
    )
    assert names.index("Breaker off, locked and proved dead") < names.index(
        "Open the floor and set boxes and panels"
    )
    assert names.index("Raceways in, strings proved") < names.index("Pull cables")
    assert (
        names.index("Terminate and label")
        < names.index("Before the floor finish")
        < names.index("Test lines")
    )
    assert names[-1] == "Before the first event"


def test_who_releases_comes_from_the_job_and_is_not_made_up():
    job, found = small_job()
    by = {s.what: s.by for s in labour.order_of_work(job, found.tasks)}
    assert by["Breaker off, locked and proved dead"] == "nobody named yet"
    assert by["Breaker on, after the mains test"] == "nobody named yet, with the licensed electrician"
    job = set_fields(job, "settings", "job", {"breaker_role": "house electrician"})
    job, ids = add(job, "holdpoint", [{"label": "Finish", "when": "finish", "by": "site lead"}])
    steps = {s.what: s for s in labour.order_of_work(job, found.tasks)}
    assert steps["Breaker off, locked and proved dead"].by == "house electrician"
    assert (steps["Before the floor finish"].by, steps["Before the floor finish"].released) == (
        "site lead",
        False,
    )
    job = set_fields(job, "holdpoint", ids[0], {"date": "2026-04-02"})
    assert {s.what: s.released for s in labour.order_of_work(job, found.tasks)}["Before the floor finish"]


def test_no_tasks_no_order():
    assert labour.order_of_work(Job(), []) == []
