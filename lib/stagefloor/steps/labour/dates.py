"""The five dates that rule the job: when each is, when the plan is ready for it, and what is open before it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from stagefloor.core.dates import read_date
from stagefloor.core.open_items import CHECK, DATES, MEND, OpenItem
from stagefloor.core.problems import Problem
from stagefloor.core.words import counted
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.job.model import Job
from stagefloor.job.workplan import JobDate
from stagefloor.steps.labour.calendar import Calendar, calendar
from stagefloor.steps.labour.order import WorkOrder
from stagefloor.steps.labour.stages import EVENT, FINISH, ORDERED, SCAN, STRINGS, SURVEY

# The last steps before each date; the first of them that the job has counts.
READY = dict(zip(DATES, ((SCAN, SURVEY), (STRINGS,), (ORDERED, SCAN, SURVEY), (FINISH,), (EVENT,)), strict=True))
# What comes before each date; panels may be ordered before positions are frozen, never after the floor is finished.
BEFORE = {DATES[1]: DATES[:1], DATES[3]: DATES[:3], DATES[4]: DATES[:4]}


@dataclass(frozen=True)
class RulingDate:
    """One date: as entered, when the plan is ready for it, working days to spare (minus: late), what blocks it."""

    what: str
    on: date | None
    ready: date | None
    spare: int | None
    blocking: tuple[OpenItem, ...] = ()


def ruling_dates(job: Job, order: WorkOrder, items: Sequence[OpenItem] = ()) -> tuple[RulingDate, ...]:
    """The five dates in their order, with the open items that block each; `items` as they are ordered."""
    days = calendar(job)[0]
    entered = _entered(job)[0]
    return tuple(_one(what, entered.get(what), order, days, items) for what in DATES)


def _one(what: str, on: date | None, order: WorkOrder, days: Calendar, items: Sequence[OpenItem]) -> RulingDate:
    found = {s.what: s for s in order.steps}
    step = next((found[n] for n in READY[what] if n in found), None)
    ready = None
    if step is not None and step.times is not None:  # the order goes out when its step begins
        ready = days.last(step.times.start if step.what == ORDERED else step.times.finish)
    spare = days.between(ready, on) if ready is not None and on is not None else None
    return RulingDate(what, on, ready, spare, tuple(i for i in items if i.blocks == what))


def _entered(job: Job) -> tuple[dict[str, date], list[OpenItem]]:
    found: dict[str, date] = {}
    items = []
    for row in job.all(JobDate):
        try:
            if day := read_date(row.date):
                found[row.what] = day
        except Problem as problem:
            items.append(OpenItem("date-unread", "labour", f"Date: {row.what}", problem.sentence, "", "the dates of the job",
                                  "type it year first", MEND, record=(row.kind, row.id)))
    return found, items


def open_items(job: Job, order: WorkOrder) -> list[OpenItem]:
    """Waits that nobody has entered; dates that can't be read, stand in the wrong order, or are not kept by the plan."""
    entered, items = _entered(job)
    days, unread = calendar(job)
    items += order.gaps
    items += [OpenItem("date-unread", "labour", "Work plan", sentence, "", "the dates of the job", "type it year first",
                       MEND) for sentence in unread]
    for later, before in BEFORE.items():
        last = max((d for d in before if d in entered), key=lambda d: entered[d], default=None)
        if later in entered and last and entered[last] > entered[later]:
            items.append(OpenItem("dates-crossed", "labour", f"Date: {later}", f"{entered[later]} stands before "
                                  f"{last} ({entered[last]})", "", "the dates of the job", "mend one of them", MEND))
    for found in ruling_dates(job, order):
        if found.spare is not None and found.spare < 0 and found.on and found.ready and days.start:
            late = Working(
                f"Working days late for: {found.what}", "L = working days after the date up to the day when it is ready",
                (Value("F", "days that one crew needs in all", order.finish, "d", 3),),
                Value("L", "working days late", -found.spare, "d"),
                (Basis(f"work starts {days.start}, ready {found.ready}, date {found.on}", ARITHMETIC),))
            items.append(OpenItem(
                "date-missed", "labour", f"Date: {found.what}", f"the plan is ready for it on {found.ready}, the date is "
                f"{found.on}", f"{counted(-found.spare, 'working day')} late", "likely hours, one crew, the order of work",
                "start earlier, put more people on it, or agree another date", CHECK, found.what, workings=(late,)))
    return items
