"""Hours of each task: the takeoff's quantity times the shop's low, likely and high hours. Knows no money."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from stagefloor.calculations import labour as rules
from stagefloor.core.workings import ARITHMETIC, MEMORY, PRACTICE, SHOP, Basis, Value, Working
from stagefloor.job.labour import HourUnit
from stagefloor.job.model import Job
from stagefloor.reference.tables import load
from stagefloor.steps.labour import conditions
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.rows import RowProblem, rounded
from stagefloor.steps.labour.simulation import LENGTHS, SITE, Part

WOOD, SLAB = "wood", "slab"  # columns of the table of hours to start from


@dataclass(frozen=True)
class TaskHours:
    """Hours of one task: low, likely (None: not said) and high, h; `hours` the mean, rounded to 0.01 h."""

    task: str
    section: str
    quantity: str
    amount: float
    low: float
    likely: float | None
    high: float
    hours: Decimal
    working: Working
    record: tuple[str, str]

    def part(self, rate: Decimal | None) -> Part:
        """The task as an uncertain part; all tasks share the site, those counted by the metre the lengths."""
        causes = (SITE, LENGTHS) if names.is_length(self.quantity) else (SITE,)
        return Part(self.task, self.low, self.likely, self.high, 1.0, causes, 1.0, float(rate or 0))


def default_hour_units(floor_type: str = "") -> list[dict[str, str]]:
    """Generic hours to start from, as texts for the fields of an hour unit; each names its source.

    None of them is a published labour unit: a shop's own history is better, and replaces them row by row. Cutting in
    a box is counted by the floor type of the job; a floor that is not known counts as wood.
    """
    floor = SLAB if "slab" in floor_type else WOOD
    return [
        {
            "task": r.text("task"),
            "quantity": r.text("quantity"),
            "per": r.text("per"),
            "low": r.text("low"),
            "likely": r.text("likely"),
            "high": r.text("high"),
            "section": r.text("section"),
            "learning": r.text("learning"),
            "source": r.basis().status if r.source == r.status else f"{r.source} ({r.status})",
        }
        for r in load("hour_units")
        if r.text("floor") in ("", floor)
    ]


def task_hours(job: Job, quantities: Mapping[str, float]) -> tuple[list[TaskHours], list[RowProblem]]:
    """The hours of each row whose quantity is above zero, and the rows that can't be used.

    A row counted by 'hours of work', such as supervision, counts the mean hours of all the other rows.
    """
    lines: dict[str, TaskHours] = {}
    problems: list[RowProblem] = []
    units = job.all(HourUnit)
    for unit in units:
        fault = row_fault(unit, quantities)
        if fault is not None:
            problems.append(fault)
        elif (amount := names.amount(quantities, unit.quantity)) > 0:
            lines[unit.id] = _line(job, unit, amount)
    work = float(sum((t.hours for t in lines.values()), Decimal(0)))
    faulty = {p.record[1] for p in problems}
    for unit in units:
        if names.plain(unit.quantity) == names.HOURS and unit.id not in faulty and work > 0:
            lines[unit.id] = _line(job, unit, work)
    return [lines[u.id] for u in units if u.id in lines], problems


def row_fault(unit: HourUnit, quantities: Mapping[str, float]) -> RowProblem | None:
    """What keeps a row from being used, or None."""

    def fault(field: str, words: str) -> RowProblem:
        end = "" if words.endswith("?") else "."
        return RowProblem((unit.kind, unit.id), field, f"Hours for '{unit.name}': {words}{end}")

    missing = names.unknown(unit.quantity, quantities)
    if missing:
        return fault("quantity", f"the row {missing}")
    if unit.per is None or unit.per <= 0:
        return fault("per", f"'per how many' is {unit.per or 0:g}; it must be more than zero")
    for field, value in (("low", unit.low), ("likely", unit.likely), ("high", unit.high)):
        if value is not None and value < 0:
            return fault(field, f"{field} is {value:g} h; hours can't be below zero")
    given = [v for v in (unit.low, unit.likely, unit.high) if v is not None]
    if not given:
        return fault("likely", "no hours are entered; enter low, likely and high, or only the likely ones")
    if (unit.low is None) != (unit.high is None):
        field = "low" if unit.low is None else "high"
        return fault(field, f"{field} is missing; enter it, or leave low and high both empty")
    if given != sorted(given):
        shown = ", ".join(f"{v:g}" for v in given)
        return fault(
            "likely", f"low, likely and high are {shown} h, which is not in rising order; put them in order"
        )
    return None


def _line(job: Job, unit: HourUnit, amount: float) -> TaskHours:
    per, likely = unit.per or 1.0, unit.likely
    low = unit.low if unit.low is not None else likely or 0.0
    high = unit.high if unit.high is not None else likely or 0.0
    count = amount / per
    slower = conditions.factors(job, unit, count)
    low, high = low * count * slower.low, high * count * slower.high
    likely = None if likely is None else likely * count * slower.likely
    mean = _mean(low, likely, high)
    status = SHOP
    if "from memory" in unit.source:
        status = MEMORY
    elif "common practice" in unit.source:
        status = PRACTICE
    working = replace(
        mean,
        name=f"Hours: {unit.name}",
        basis=(Basis(unit.source or "no source entered", status), *slower.basis, *mean.basis),
        notes=(
            f"{amount:g} counted by '{unit.quantity}', per {per:g}: the row's hours times {count:g}.",
            *slower.notes,
            "Rounded to 0.01 h, half up, before it is added or priced.",
            *mean.notes,
        ),
        also=(*mean.also, Value("q", f"counted by '{unit.quantity}'", amount,
                                "m" if names.is_length(unit.quantity) else "", 9)),
    )
    return TaskHours(
        unit.name,
        unit.section,
        unit.quantity,
        amount,
        low,
        likely,
        high,
        rounded(mean.result.amount),
        working,
        (unit.kind, unit.id),
    )


def _mean(low: float, likely: float | None, high: float) -> Working:
    if likely is not None:
        return rules.triangular(low, likely, high)
    return Working(
        "Mean of low and high",
        "T = (a + b) / 2",
        (Value("a", "low", low, "h"), Value("b", "high", high, "h")),
        Value("T", "hours", (low + high) / 2, "h"),
        (Basis("mean of a uniform spread", ARITHMETIC),),
        notes=("No likely value is entered: anything from low to high is taken as equally likely.",),
    )
