"""The order of work of a job: its tasks in their stages, hold points between them, what is typed besides, and the times.

The order is common practice, no source; the local code, the engineer and the licensed electrician come first.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from stagefloor.core.open_items import OpenItem
from stagefloor.core.problems import nearest
from stagefloor.core.workings import ARITHMETIC, PRACTICE, Basis, Value, Working
from stagefloor.job.closeout import HoldPoint
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.job.workplan import WorkTask
from stagefloor.steps.labour.calendar import calendar
from stagefloor.steps.labour.hours import TaskHours
from stagefloor.steps.labour.network import SMALL, Activity, Timed, times
from stagefloor.steps.labour.rows import RowProblem
from stagefloor.steps.labour.stages import (
    CURED,
    DEAD,
    DELIVERED,
    ELECTRICIAN,
    LIVE,
    NOBODY,
    OPENED,
    ORDERED,
    OUT,
    PERMIT,
    STAGES,
    STRINGS,
    SUPPLIER,
    Stage,
    belongs,
    key_of,
    meant,
    points_of,
    present,
)
from stagefloor.steps.labour.waiting import gaps, ordered_on, working_days


@dataclass(frozen=True)
class WorkStep:
    """One step: work with its tasks and hours, or a hold point: who releases it, whether that is recorded.

    `days` are crew days, with the share of travel and supervision; `times` are days from the start.
    """

    what: str
    tasks: tuple[str, ...] = ()
    hours: Decimal = Decimal(0)
    hold: bool = False
    by: str = ""
    released: bool = False
    others: bool = False
    days: float = 0.0
    after: tuple[str, ...] = ()
    times: Timed | None = None


@dataclass(frozen=True)
class WorkOrder:
    """The steps in order; `alongside` hours have no place of their own; problems of rows that were left out.

    `gaps` are waits that nobody has entered, such as curing; `longest` is the length of the critical path in days,
    `finish` the days that one crew needs.
    """

    steps: tuple[WorkStep, ...] = ()
    alongside: Decimal = Decimal(0)
    longest: Working | None = None
    finish: float = 0.0
    problems: tuple[RowProblem, ...] = field(default=())
    gaps: tuple[OpenItem, ...] = ()

    @property
    def critical(self) -> tuple[WorkStep, ...]:
        """What may not slip without moving the end of the one crew, hold points left out."""
        return tuple(s for s in self.steps if s.times and s.times.slip <= SMALL and s.days > 0)


def order_of_work(job: Job, tasks: Sequence[TaskHours], hours_of_a_day: float = 16.0,
                  leads: Mapping[str, int] | None = None) -> WorkOrder:
    """The steps of a job in order, hold points between them; without any task there is no order.

    Parameters
    ----------
    tasks : from an estimate of this job; each is in the stage that its quantity belongs to
    hours_of_a_day : hours of the whole crew on one day, above zero
    leads : stage -> longest lead time, calendar days, of what it waits for; 0: not known; None: nothing is bought

    Notes
    -----
    Travel, supervision and other hours run alongside: they lengthen each stage of work by the same share.
    """
    if not tasks:
        return WorkOrder()
    typed, problems = _typed(job)
    comes = _deliveries(job, typed, leads or {})
    left = list(tasks)
    placed: dict[str, list[TaskHours]] = {}
    for stage in STAGES:
        placed[stage.name] = [t for t in left if belongs(t.quantity, stage)]
        left = [t for t in left if t not in placed[stage.name]]
    alongside = sum((t.hours for t in left), Decimal(0))
    work = sum((t.hours for found in placed.values() for t in found), Decimal(0))
    more = float((work + alongside) / work) if work else 1.0
    steps: dict[str, WorkStep] = {}
    for stage in STAGES:
        own = typed.get(stage.name.lower())
        if stage.holds:
            steps[stage.name] = _hold(job, stage)
        elif stage.name in comes:
            steps[stage.name] = comes[stage.name]
        elif placed[stage.name] or own is not None:
            hours = sum((t.hours for t in placed[stage.name]), Decimal(0))
            steps[stage.name] = WorkStep(stage.name, tuple(t.task for t in placed[stage.name]), hours,
                                         by=_by(job, stage), days=float(hours) * more / hours_of_a_day,
                                         others=bool(stage.by))
    after = {n: present(n, steps) for n in steps}
    if ordered_on(job) and calendar(job)[0].start:
        after |= {n: [] for n in comes}  # a delivery that is counted from a date waits for no step
    if CURED in steps and any(p.when == "pour" for p in job.all(HoldPoint)):
        after[CURED].append(STRINGS)  # the pour comes after that look
    for row in typed.values():
        _put(row, steps, after, problems)
    timed = times([Activity(s.what, s.days, tuple(after[n]), not s.others) for n, s in steps.items()])
    found = tuple(WorkStep(s.what, s.tasks, s.hours, s.hold, s.by, s.released, s.others, s.days, tuple(after[n]), t)
                  for n, t in timed.items() for s in (steps[n],))
    finish = max(t.finish for t in timed.values())
    return WorkOrder(found, alongside, _longest(timed, finish), finish, tuple(problems),
                     gaps(job, tasks, leads or {}))


def _longest(timed: Mapping[str, Timed], finish: float) -> Working:
    path = [t for t in timed.values() if t.critical and t.days > 0]
    end = max((t.early_finish for t in timed.values()), default=0.0)
    return Working(
        "Critical path", "E = longest way through the steps, each after what it waits for",
        tuple(Value("", t.name, t.days, "d", 3) for t in path), Value("E", "days by the dependencies alone", end, "d", 3),
        (Basis("critical path method, project-management textbook"),
         Basis("which step waits for which: the usual order of this work", PRACTICE),
         Basis("hours of the steps over the hours of the crew on one day; of a delivery the working days before it comes",
               ARITHMETIC)),
        notes=("Likely hours, without the named risks; near-critical steps make the true end later.",),
        also=(Value("F", "days if one crew does one thing at a time", finish, "d", 3),))


def _typed(job: Job) -> tuple[dict[str, WorkTask], list[RowProblem]]:
    found: dict[str, WorkTask] = {}
    problems = []
    for row in job.all(WorkTask):
        name = row.label.strip()
        if not name:
            problems.append(RowProblem((row.kind, row.id), "label", "A step of the work has no name; enter one."))
        elif key_of(name) in found:
            problems.append(RowProblem((row.kind, row.id), "label", f"Two steps are called '{name}'; the second was left "
                                       "out, give it its own name."))
        elif row.days is not None and row.days < 0:
            problems.append(RowProblem((row.kind, row.id), "days", f"Step '{name}': {row.days:g} days can't be; it was "
                                       "left out, enter zero or more."))
        else:
            found[key_of(name)] = row
    return found, problems


def _put(row: WorkTask, steps: dict[str, WorkStep], after: dict[str, list[str]], problems: list[RowProblem]) -> None:
    """A typed row changes the step of its name, or adds one; of its links, one that closes a circle is left out."""
    name = meant(row.label, steps) or row.label.strip()
    old = steps.get(name, WorkStep(name))
    steps[name] = WorkStep(name, old.tasks, old.hours, old.hold, row.by.strip() or old.by, old.released,
                           row.others or old.others,
                           old.days if row.days is None else row.days)
    after.setdefault(name, [])
    for words, field_name in ((row.after, "after"), (row.before, "before")):
        for word in (w.strip() for w in re.split(r"[;\n]", words)):
            if not word:
                continue
            other = meant(word, steps)
            if other is None:
                near = nearest(word, list(steps))
                problems.append(RowProblem((row.kind, row.id), field_name, f"Step '{name}': there is no step '{word[:40]}'; "
                                           + (f"did you mean '{near}'?" if near else "enter that step first.")))
                continue
            late, early = (name, other) if field_name == "after" else (other, name)
            if _waits(early, late, after):
                why = "which waits for it already" if field_name == "after" else "for which it waits already"
                what = "itself" if early == late else f"'{other}', {why}"
                problems.append(RowProblem((row.kind, row.id), field_name, f"Step '{name}': it can't come {field_name} "
                                           f"{what}; take that name out."))
            elif early not in after[late]:
                after[late].append(early)


def _waits(step: str, other: str, after: Mapping[str, Sequence[str]]) -> bool:
    """Whether a step is the other one, or waits for it, directly or by way of others."""
    left, seen = [step], {step}
    while left:
        more = [n for n in after[left.pop()] if n not in seen]
        seen.update(more)
        left += more
    return other in seen


def _hold(job: Job, stage: Stage) -> WorkStep:
    """A hold point with its records: released once every one of them has a name and a date."""
    points = points_of(job, stage)
    people = list(dict.fromkeys(p.by.strip() for p in points if p.by.strip()))
    done = bool(points) and all(p.by.strip() and p.date.strip() for p in points)
    switch = job.settings.breaker_role.strip() or NOBODY
    both = switch if "electrician" in switch else f"{switch}, with {ELECTRICIAN}"
    usual = {PERMIT: ELECTRICIAN, DEAD: switch, LIVE: both}.get(stage.name, NOBODY)
    return WorkStep(stage.name, tuple(p.name for p in points), hold=True, by=", ".join(people) or usual, released=done)


def _deliveries(job: Job, typed: Mapping[str, WorkTask], leads: Mapping[str, int]) -> dict[str, WorkStep]:
    """What is on its way, by the name of its stage; days that are typed for ordering boxes are their lead time."""
    days, order = calendar(job)[0], ordered_on(job)
    own = typed.get(key_of(ORDERED))
    found = {}
    for stage, lead in leads.items():
        if lead and not (stage == OPENED and own is not None and own.days):
            by = f"{SUPPLIER}, {lead} days from the order" + (f" on {order}" if order else "")
            found[DELIVERED[stage]] = WorkStep(DELIVERED[stage], by=by, others=True, days=working_days(lead, days, order))
    return found


def _by(job: Job, stage: Stage) -> str:
    """By whom a stage is done, where it is not the crew or not the crew alone."""
    if stage.name == OUT and any(o.what == "mains" for o in job.all(OldOutlet)):
        return f"the crew; mains outlets: {ELECTRICIAN}"
    return stage.by
