"""The order of work: what comes when, what waits for what, and where work stops until someone named has looked.

The order is common practice, no source; the local code, the engineer and the licensed electrician come first.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.workings import ARITHMETIC, PRACTICE, Basis, Value, Working
from stagefloor.job.closeout import HoldPoint
from stagefloor.job.model import Job
from stagefloor.job.workplan import WorkTask
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.hours import TaskHours
from stagefloor.steps.labour.network import Activity, Timed, times
from stagefloor.steps.labour.rows import RowProblem

NOBODY = "nobody named yet"
ELECTRICIAN = "the licensed electrician"
AGREE, SURVEY, SCAN = "Agree power, permit and dates", "Survey the site", "Scan the floor"
ORDERED, OLD = "Order boxes and panels", "Test old lines, take out old outlets"
OPENED, RUN = "Open the floor and set boxes and panels", "Raceways and pull strings"
PULL, END, TEST = "Pull cables", "Terminate and label", "Test lines"
COMMISSION, TRAIN, PAPERS = "Commission", "Train the venue's people", "Handover papers"
PERMIT, DEAD = "Permit and power agreed", "Breaker off, locked and proved dead"
STRINGS, FINISH = "Raceways in, strings proved", "Before the floor finish"
LIVE, EVENT = "Breaker on, after the electrician's test", "Before the first event"


@dataclass(frozen=True)
class Stage:
    """A stage of the work: the quantities that its tasks count, what it waits for, whether work stops there."""

    name: str
    counts: tuple[str, ...]
    after: tuple[str, ...]
    hold: bool = False


# Line tests stand before the floor finish: a fault that is found behind a closed floor costs the floor.
STAGES = (
    Stage(SURVEY, ("surveys",), ()),
    Stage(AGREE, ("mains requests",), (SURVEY,)),
    Stage(SCAN, ("scans",), (SURVEY,)),
    Stage(ORDERED, (), (SURVEY, SCAN)),
    Stage(OLD, ("old lines tested", "old outlets removed", "old outlets blanked"), (SURVEY,)),
    Stage(PERMIT, (), (AGREE,), hold=True),
    Stage(DEAD, (), (PERMIT, OLD), hold=True),
    Stage(OPENED, ("cores", "framed openings", "floor boxes", "wall panels"), (PERMIT, DEAD, SCAN, ORDERED, OLD)),
    Stage(RUN, ("raceway m:", "cable tray m", "cable supports", "pull strings"), (OPENED,)),
    Stage(STRINGS, (), (OPENED, RUN), hold=True),
    Stage(PULL, ("pulls", "first cables m", "added cables m", "cable m:"), (STRINGS,)),
    Stage(END, ("cable ends:", "openings:", "labels"), (PULL, ORDERED)),
    Stage(TEST, ("tests:", "circuits:"), (END,)),
    Stage(FINISH, (), (TEST,), hold=True),
    Stage(LIVE, (), (FINISH, END), hold=True),
    Stage(COMMISSION, ("commissioning visits",), (TEST, LIVE)),
    Stage(TRAIN, ("training sessions",), (COMMISSION,)),
    Stage(PAPERS, ("document sets",), (TEST,)),
    Stage(EVENT, (), (COMMISSION, TRAIN, PAPERS, LIVE), hold=True),
)
# what these were called once, for jobs that name them
RENAMED = {"Agree mains, permit and dates": AGREE, "Permit and mains agreed": PERMIT,
           "Breaker on, after the mains test": LIVE}
OTHER = "Travel, supervision and other"


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

    `longest` is the length of the critical path in days, `finish` the days that one crew needs.
    """

    steps: tuple[WorkStep, ...] = ()
    alongside: Decimal = Decimal(0)
    longest: Working | None = None
    finish: float = 0.0
    problems: tuple[RowProblem, ...] = field(default=())

    @property
    def critical(self) -> tuple[WorkStep, ...]:
        """The work on the critical path, hold points left out."""
        return tuple(s for s in self.steps if s.times and s.times.critical and s.days > 0)


def order_of_work(job: Job, tasks: Sequence[TaskHours], hours_of_a_day: float = 16.0) -> WorkOrder:
    """The steps of a job in order, hold points between them; without any task there is no order.

    Parameters
    ----------
    tasks : from an estimate of this job; each is in the stage that its quantity belongs to
    hours_of_a_day : hours of the whole crew on one day, above zero

    Notes
    -----
    Travel, supervision and other hours run alongside: they lengthen each stage of work by the same share.
    """
    if not tasks:
        return WorkOrder()
    typed, problems = _typed(job)
    left = list(tasks)
    placed: dict[str, list[TaskHours]] = {}
    for stage in STAGES:
        placed[stage.name] = [t for t in left if _belongs(t.quantity, stage.counts)]
        left = [t for t in left if t not in placed[stage.name]]
    alongside = sum((t.hours for t in left), Decimal(0))
    work = sum((t.hours for found in placed.values() for t in found), Decimal(0))
    more = float((work + alongside) / work) if work else 1.0
    steps: dict[str, WorkStep] = {}
    holds = _holds(job)
    for stage in STAGES:
        own = typed.get(stage.name.lower())
        if stage.hold:
            steps[stage.name] = holds[stage.name]
        elif placed[stage.name] or own is not None:
            hours = sum((t.hours for t in placed[stage.name]), Decimal(0))
            steps[stage.name] = WorkStep(stage.name, tuple(t.task for t in placed[stage.name]), hours,
                                         days=float(hours) * more / hours_of_a_day)
    after = {n: _present(n, steps) for n in steps}
    for row in typed.values():
        _put(row, steps, after, problems)
    try:
        timed = times([Activity(s.what, s.days, tuple(after[n]), not s.others) for n, s in steps.items()])
    except Problem as problem:
        where = next((r for r in typed.values() if _meant(r.label, steps) == problem.where), None)
        if where is None:
            where = next(iter(typed.values()))  # only typed rows can close a circle
        plain = order_of_work(job.without(WorkTask, [r.id for r in typed.values()]), tasks, hours_of_a_day)
        return WorkOrder(plain.steps, plain.alongside, plain.longest, plain.finish,
                         (*problems, RowProblem((where.kind, where.id), "after", problem.sentence)))
    found = tuple(WorkStep(s.what, s.tasks, s.hours, s.hold, s.by, s.released, s.others, s.days, tuple(after[n]), t)
                  for n, t in timed.items() for s in (steps[n],))
    finish = max(t.finish for t in timed.values())
    return WorkOrder(found, alongside, _longest(timed, finish), finish, tuple(problems))


def _longest(timed: Mapping[str, Timed], finish: float) -> Working:
    path = [t for t in timed.values() if t.critical and t.days > 0]
    end = max((t.early_finish for t in timed.values()), default=0.0)
    return Working(
        "Critical path", "E = longest way through the steps, each after what it waits for",
        tuple(Value("", t.name, t.days, "d", 3) for t in path), Value("E", "days by the dependencies alone", end, "d", 3),
        (Basis("critical path method, project-management textbook"),
         Basis("which step waits for which: the usual order of this work", PRACTICE),
         Basis("hours of the steps over the hours of the crew on one day", ARITHMETIC)),
        notes=("Likely hours, without the named risks; near-critical steps make the true end later.",),
        also=(Value("F", "days if one crew does one thing at a time", finish, "d", 3),))


def _typed(job: Job) -> tuple[dict[str, WorkTask], list[RowProblem]]:
    found: dict[str, WorkTask] = {}
    problems = []
    for row in job.all(WorkTask):
        name = row.label.strip()
        if not name:
            problems.append(RowProblem((row.kind, row.id), "label", "A step of the work has no name; enter one."))
        elif name.lower() in found:
            problems.append(RowProblem((row.kind, row.id), "label", f"Two steps are called '{name}'; the second was left "
                                       "out, give it its own name."))
        elif row.days is not None and row.days < 0:
            problems.append(RowProblem((row.kind, row.id), "days", f"Step '{name}': {row.days:g} days can't be; it was "
                                       "left out, enter zero or more."))
        else:
            found[name.lower()] = row
    return found, problems


def _put(row: WorkTask, steps: dict[str, WorkStep], after: dict[str, list[str]], problems: list[RowProblem]) -> None:
    """A typed row changes the step of its name, or adds one."""
    name = _meant(row.label, steps) or row.label.strip()
    old = steps.get(name, WorkStep(name))
    steps[name] = WorkStep(name, old.tasks, old.hours, old.hold, row.by.strip() or old.by, old.released, row.others,
                           old.days if row.days is None else row.days)
    after.setdefault(name, [])
    for words, field_name in ((row.after, "after"), (row.before, "before")):
        for word in (w.strip() for w in re.split(r"[;\n]", words)):
            if not word:
                continue
            other = _meant(word, steps)
            if other is None:
                near = nearest(word, list(steps))
                problems.append(RowProblem((row.kind, row.id), field_name, f"Step '{name}': there is no step '{word[:40]}'; "
                                           + (f"did you mean '{near}'?" if near else "enter that step first.")))
            elif field_name == "after" and other not in after[name]:
                after[name].append(other)
            elif field_name == "before" and name not in after[other]:
                after[other].append(name)


def _meant(word: str, steps: Mapping[str, WorkStep]) -> str | None:
    word = RENAMED.get(word.strip(), word.strip())
    return next((n for n in steps if n.lower() == word.lower()), None)


def _present(name: str, steps: Mapping[str, WorkStep]) -> list[str]:
    """What a stage waits for; a stage that the job does not have passes on what it waits for itself."""
    known = {s.name: s for s in STAGES}
    found: list[str] = []
    for before in known[name].after:
        found += [before] if before in steps else _present(before, steps)
    return list(dict.fromkeys(found))


def _holds(job: Job) -> dict[str, WorkStep]:
    switch = job.settings.breaker_role.strip() or NOBODY
    both = switch if "electrician" in switch else f"{switch}, with {ELECTRICIAN}"
    return {
        PERMIT: WorkStep(PERMIT, hold=True, by=ELECTRICIAN),
        DEAD: WorkStep(DEAD, hold=True, by=switch),
        STRINGS: _recorded(job, STRINGS, ("pour", "deck")),
        FINISH: _recorded(job, FINISH, ("finish",)),
        LIVE: _recorded(job, LIVE, ("breaker on",), both),
        EVENT: _recorded(job, EVENT, ("first event",)),
    }


def _belongs(quantity: str, patterns: tuple[str, ...]) -> bool:
    name = names.plain(quantity)
    return any(name == p or (p.endswith(":") and name.startswith(p)) for p in patterns)


def _recorded(job: Job, what: str, when: tuple[str, ...], by: str = NOBODY) -> WorkStep:
    """A hold point with its records: released once every one of them has a name and a date."""
    points = [p for p in job.all(HoldPoint) if p.when in when]
    people = list(dict.fromkeys(p.by.strip() for p in points if p.by.strip()))
    done = bool(points) and all(p.by.strip() and p.date.strip() for p in points)
    return WorkStep(what, tuple(p.name for p in points), hold=True, by=", ".join(people) or by, released=done)
