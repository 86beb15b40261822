"""Working conditions chosen in words, and learning over repeated work: what they do to a task's hours."""

from dataclasses import dataclass

from stagefloor.calculations import labour as rules
from stagefloor.core.workings import MEMORY, SHOP, Basis
from stagefloor.job.labour import ALL_WORK, Condition, HourUnit
from stagefloor.job.model import Job
from stagefloor.reference.tables import load
from stagefloor.steps.labour import quantities as names

PERCENT = 100.0
SLOWEST, FASTEST = 500.0, -90.0  # per cent: beyond these an entry is a slip


@dataclass(frozen=True)
class Slowed:
    """What one condition adds to the hours, as shares (0.15 is 15 % more), and where that comes from."""

    what: str
    low: float
    likely: float
    high: float
    basis: Basis

    def words(self) -> str:
        return f"{self.what}: {self.low:+.0%}, {self.likely:+.0%}, {self.high:+.0%}"


@dataclass(frozen=True)
class Factors:
    """What the hours of one task are multiplied by; extras are added up, not compounded."""

    low: float = 1.0
    likely: float = 1.0
    high: float = 1.0
    notes: tuple[str, ...] = ()
    basis: tuple[Basis, ...] = ()


def defaults() -> dict[str, tuple[str, str]]:
    """Condition -> (the work it concerns, what it means)."""
    return {r.key[0]: (r.text("work"), r.text("what it means")) for r in load("conditions")}


def slowed(condition: Condition) -> Slowed:
    """What a condition of the job adds; the shop's own figures, or those that come with the workbook.

    Source: common practice, no source, unless the shop entered its own.
    """
    own = [v for v in (condition.low, condition.likely, condition.high) if v is not None]
    known = load("conditions").rows.get((condition.what,))
    if own or known is None:
        middle = condition.likely if condition.likely is not None else sum(own) / len(own) if own else 0.0
        low = condition.low if condition.low is not None else middle
        high = condition.high if condition.high is not None else middle
        return Slowed(condition.what, low / PERCENT, middle / PERCENT, high / PERCENT,
                      Basis(f"{condition.what}, as entered", SHOP))
    return Slowed(condition.what, known["low"] / PERCENT, known["likely"] / PERCENT, known["high"] / PERCENT,
                  Basis(f"{condition.what}: {known.source}", MEMORY))


def fault(condition: Condition) -> tuple[str, str]:
    """(field, sentence) if a condition can't be used, else empty texts."""
    for field in ("low", "likely", "high"):
        value = getattr(condition, field)
        if value is not None and not FASTEST <= value <= SLOWEST:
            return field, (f"Condition '{condition.what}': {value:g} % is not between {FASTEST:g} and {SLOWEST:g}; "
                           "it was left out, check it.")
    s = slowed(condition)
    if not s.low <= s.likely <= s.high:
        return "likely", (f"Condition '{condition.what}': {s.low:.0%}, {s.likely:.0%}, {s.high:.0%} are not in rising "
                          "order; it was left out, put them in order.")
    return "", ""


def factors(job: Job, unit: HourUnit, count: float) -> Factors:
    """What the conditions of the job and learning do to one task of `count` units.

    Notes
    -----
    Extras of several conditions are added up, not compounded: common practice, no source. Learning is off unless the
    job turns it on and the task has a rate; the task's hours then count for the first unit.
    """
    found = [slowed(c) for c in job.all(Condition) if not fault(c)[0] and _concerns(c, unit)]
    low, likely, high = (1 + sum(getattr(s, f) for s in found) for f in ("low", "likely", "high"))
    learned, note = _learned(job, unit, count)
    notes = ((f"Conditions ({'; '.join(s.words() for s in found)}): the extras are added up, not compounded.",)
             if found else ()) + note
    return Factors(max(low, 0.0) * learned, max(likely, 0.0) * learned, max(high, 0.0) * learned, notes,
                   tuple(s.basis for s in found))


def _concerns(condition: Condition, unit: HourUnit) -> bool:
    work, quantity = condition.work, condition.quantity
    known = load("conditions").rows.get((condition.what,))
    if known is not None:  # a condition that was only named concerns the work it is known for
        work = work if "work" in condition.model_fields_set else known.text("work")
        quantity = quantity or known.text("quantity")
    if work not in (ALL_WORK, unit.section):
        return False
    if names.plain(unit.quantity) == names.HOURS and names.plain(quantity) != names.HOURS:
        return False  # it counts the hours of the other tasks, which the condition has made more already
    return not quantity or names.is_of(unit.quantity, quantity) or names.plain(unit.quantity) == names.plain(quantity)


def _learned(job: Job, unit: HourUnit, count: float) -> tuple[float, tuple[str, ...]]:
    form, units = job.pricing().learning, round(count)
    if form == "off" or unit.learning is None or units < 2 or not 50 < unit.learning <= PERCENT:
        return 1.0, ()
    curve = rules.crawford if form == "unit form" else rules.wright
    share = curve(1.0, units, unit.learning).result.amount / units
    return share, (f"Learning, {form}, {unit.learning:g} % at each doubling: {units} units take {share:.3f} of the "
                   "first one's hours on average.",)
