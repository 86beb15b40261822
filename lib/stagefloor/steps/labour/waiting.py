"""What the work waits for that is nobody's hours here: deliveries, curing, the floor finish; and what of it is not known.

A lead time is counted in calendar days from the order. How long something cures is never assumed: it is a typed step.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from stagefloor.core.dates import day_of
from stagefloor.core.open_items import CHECK, DATES, TO_DO, OpenItem
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.closeout import HoldPoint
from stagefloor.job.lists import IN_SHOP, Reel
from stagefloor.job.model import Job
from stagefloor.job.workplan import JobDate, WorkTask
from stagefloor.steps.cables import Line
from stagefloor.steps.labour.calendar import Calendar
from stagefloor.steps.labour.hours import TaskHours
from stagefloor.steps.labour.listed import row_for
from stagefloor.steps.labour.stages import COVER, CURED, DELIVERED, OPENED, ORDERED, PULL, STAGES, belongs, key_of

WEEK = 7
_SETS = re.compile(r"\b(grout|mortar|pour|screed)", re.IGNORECASE)  # words of work that must set before it is loaded
_CURES = re.compile(r"\bcur(e|es|ing)\b", re.IGNORECASE)
BASIS = "the order of work; common practice, no source"


def leads(job: Job, quantities: Mapping[str, float], boxes: Sequence[tuple[Box, BoxModel | None]],
          lines: Sequence[Line]) -> dict[str, int]:
    """The longest lead time, in calendar days, of what each stage waits for; 0: something is bought, none is known.

    A box model or a cable type says its own, else the price row of its quantity. What is built or pulled is not bought
    again, and a cable type of which a reel is in the shop can be begun with.
    """
    found: dict[str, int] = {}

    def put(stage: str, quantity: str, own: int = 0) -> None:
        row = row_for(job, quantity)
        found[stage] = max(found.get(stage, 0), own or (row.lead if row else 0))

    for box, model in boxes:
        if box.state != "built":
            put(OPENED, "floor boxes" if box.surface == "floor" else "wall panels", model.lead if model else 0)
    there = {r.type for r in job.all(Reel) if r.what == IN_SHOP}
    for line in lines:
        if line.type is not None and line.circuit.state == "planned" and line.type.id not in there:
            put(PULL, f"{'assemblies' if line.type.assembly else 'cable m'}: {line.circuit.what}", line.type.lead)
    for stage in STAGES:
        if stage.name in DELIVERED and stage.name not in (OPENED, PULL):
            for quantity in (q for q, n in quantities.items() if n > 0 and belongs(q, stage)):
                put(stage.name, quantity)
    return found


def ordered_on(job: Job) -> date | None:
    """The date on which panels are ordered, as entered; all else that is bought is taken to be ordered with them."""
    return next((day_of(r.date) for r in job.all(JobDate) if r.what == DATES[2] and r.date.strip()), None)


def working_days(lead: int, days: Calendar, order: date | None) -> float:
    """The working days before the day on which a thing comes, `lead` calendar days after the order.

    Counted from the start of work if the date of the order is known, else as many as such a time can hold.
    """
    if days.start is None or order is None:
        weeks, rest = divmod(lead, WEEK)
        return float(weeks * days.weekdays + min(rest, days.weekdays))
    day = timedelta(days=1)
    return float(max(days.between(days.start - day, order + timedelta(days=lead) - day), 0))


def gaps(job: Job, tasks: Sequence[TaskHours], known: Mapping[str, int]) -> tuple[OpenItem, ...]:
    """What the plan can't know until it is entered: curing, the lead time of boxes, the days of the floor finish."""
    rows = {key_of(r.label): r for r in job.all(WorkTask) if r.days is not None}
    items = []
    if (why := _sets(job, tasks)) and not any(_CURES.search(r.label) for r in rows.values()):
        items.append(OpenItem(
            "curing-missing", "labour", "Curing", f"no curing time is in the plan, although {why}", "", BASIS,
            f"enter a step '{CURED}' with the days that the engineer and the maker of the material name", CHECK, DATES[3],
            question="How long must what is grouted or poured cure before it is loaded or covered?"))
    if known.get(OPENED) == 0 and not rows.keys() & {ORDERED.lower(), DELIVERED[OPENED].lower()}:
        items.append(OpenItem(
            "lead-missing", "labour", "Boxes and panels", "no lead time is entered; the plan has them on site when work "
            "starts", "", BASIS, f"enter it with the box model or its price, or days for the step '{DELIVERED[OPENED]}'",
            TO_DO, DATES[2]))
    if COVER.lower() not in rows and any(r.what == DATES[3] and r.date.strip() for r in job.all(JobDate)):
        items.append(OpenItem(
            "finish-missing", "labour", COVER, "no days are entered for it; power, commissioning and training stand right "
            "after its hold point", "", BASIS, f"enter a step '{COVER}' with its days", TO_DO, DATES[3]))
    return tuple(items)


def _sets(job: Job, tasks: Sequence[TaskHours]) -> str:
    """Why something of this job must cure, as the end of a sentence; empty if nothing says so."""
    named = [t.task for t in tasks] + [r.label for r in job.all(WorkTask)]
    if task := next((n for n in named if _SETS.search(n)), ""):
        return f"'{task.strip()}' is in it"
    if any(p.when == "pour" for p in job.all(HoldPoint)):
        return "a hold point stands before a pour"
    if "slab" in job.settings.floor_type and any(t.quantity.strip().lower() == "floor boxes" for t in tasks):
        return "floor boxes are set into a slab"
    return ""
