"""The order of work: which tasks come when, and where work stops until someone named has looked. No dates.

The order is common practice, no source; the local code, the engineer and the licensed electrician come first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.job.closeout import HoldPoint
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.hours import TaskHours

NOBODY = "nobody named yet"
ELECTRICIAN = "the licensed electrician"

# (what, the quantities that its tasks count)
STAGES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Agree mains, permit and dates", ("mains requests",)),
    (
        "Test old lines, take out old outlets",
        ("old lines tested", "old outlets removed", "old outlets blanked"),
    ),
    ("Open the floor and set boxes and panels", ("cores", "framed openings", "floor boxes", "wall panels")),
    ("Raceways and pull strings", ("raceway m:", "pull strings")),
    ("Pull cables", ("pulls", "first cables m", "added cables m", "cable m:")),
    ("Terminate and label", ("cable ends:", "openings:", "labels")),
    ("Test lines", ("tests:", "circuits:")),
)
OTHER = "Travel and other"


@dataclass(frozen=True)
class WorkStep:
    """One step: work with its tasks and hours, or a hold point: who releases it, whether that is recorded."""

    what: str
    tasks: tuple[str, ...] = ()
    hours: Decimal = Decimal(0)
    hold: bool = False
    by: str = ""
    released: bool = False


def order_of_work(job: Job, tasks: Sequence[TaskHours]) -> list[WorkStep]:
    """The steps of a job in order, hold points between them; without any task there is no order.

    Parameters
    ----------
    tasks : from an estimate of this job; each is in the stage that its quantity belongs to
    """
    if not tasks:
        return []
    switch = job.settings.breaker_role.strip() or NOBODY
    holds = {
        "Open the floor and set boxes and panels": (
            WorkStep("Permit and mains agreed", hold=True, by=ELECTRICIAN),
            WorkStep("Breaker off, locked and proved dead", hold=True, by=switch),
        ),
        "Pull cables": (_recorded(job, "Raceways in, strings proved", ("pour", "deck")),),
        "Test lines": (
            _recorded(job, "Before the floor finish", ("finish",)),
            _recorded(
                job,
                "Breaker on, after the mains test",
                ("breaker on",),
                switch if "electrician" in switch else f"{switch}, with {ELECTRICIAN}",
            ),
        ),
    }
    left = list(tasks)
    found: list[WorkStep] = []
    for what, patterns in STAGES:
        found += holds.get(what, ())
        here = [t for t in left if _belongs(t.quantity, patterns)]
        left = [t for t in left if t not in here]
        found += _work(what, here)
    found += _work(OTHER, left)
    return [*found, _recorded(job, "Before the first event", ("first event",))]


def _belongs(quantity: str, patterns: tuple[str, ...]) -> bool:
    name = names.plain(quantity)
    return any(name == p or (p.endswith(":") and name.startswith(p)) for p in patterns)


def _work(what: str, tasks: Sequence[TaskHours]) -> list[WorkStep]:
    return (
        [WorkStep(what, tuple(t.task for t in tasks), sum((t.hours for t in tasks), Decimal(0)))]
        if tasks
        else []
    )


def _recorded(job: Job, what: str, when: tuple[str, ...], by: str = NOBODY) -> WorkStep:
    """A hold point with its records: released once every one of them has a name and a date."""
    points = [p for p in job.all(HoldPoint) if p.when in when]
    people = list(dict.fromkeys(p.by.strip() for p in points if p.by.strip()))
    done = bool(points) and all(p.by.strip() and p.date.strip() for p in points)
    return WorkStep(what, tuple(p.name for p in points), hold=True, by=", ".join(people) or by, released=done)
