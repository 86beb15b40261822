"""What closed jobs teach about the shop's hours: old figures, evidence, new figures. Changes nothing by itself.

How it works, in words. One closed job gives one figure for a task: the hours for one unit, with that job's own
conditions taken out. Jobs differ, so figures are compared as ratios (logarithms). The shop's low, likely and high
hours are read as a spread that holds eight jobs in ten; they weigh as much as one job for the middle and as two jobs
for how far jobs scatter. Each closed job counts one, however big it was. New low, likely and high follow: the spread
whose inner part holds about eight jobs in ten, cut to what the hours so far and the closed jobs reach; low and high,
the ends of a triangle, lie beyond that part.

In the terms of statistics: log hours of a job are normal with unknown mean and variance, the prior is the
normal-inverse-gamma distribution (its updates are arithmetic: a conjugate prior), the spread is the predictive
Student distribution.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan, cos, exp, lgamma, log, pi, sqrt

from stagefloor.core.units import Quantity
from stagefloor.core.workings import PRACTICE, SHOP, Basis, Value, Working
from stagefloor.job.edit import set_fields
from stagefloor.job.labour import ActualHours, HourUnit
from stagefloor.job.measured import in_si, misfit
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.rows import RowProblem

WORTH = 1.0  # jobs that the shop's likely hours weigh as; common practice, no source
FREEDOM = 2.0  # jobs that the shop's spread weighs as: few, since spreads are guessed too narrow; common practice, no source
HELD = 0.8  # share of jobs that the spread from low to high holds between its tenth and ninetieth hundredth
FAR = 3.0  # times off the hours so far, at which an entry is asked about; common practice, no source
NARROWEST = 0.05  # a spread without low and high is taken as 5 % each way, or nothing could ever move it


@dataclass(frozen=True)
class Belief:
    """Normal-inverse-gamma belief on the log of one unit's hours: middle, its weight in jobs, freedom, sum of squares."""

    middle: float
    weight: float
    freedom: float
    squares: float

    def interval(self, held: float = HELD) -> tuple[float, float]:
        """Hours between which the next job lies with the chance `held`."""
        return self._between(held, 1 + 1 / self.weight)

    def middle_interval(self, held: float = HELD) -> tuple[float, float]:
        """Hours between which the shop's true middle lies with the chance `held`."""
        return self._between(held, 1 / self.weight)

    def _between(self, held: float, times: float) -> tuple[float, float]:
        half = student(0.5 + held / 2, self.freedom) * sqrt(self.squares / self.freedom * times)
        return exp(self.middle - half), exp(self.middle + half)


def updated(belief: Belief, hours: Sequence[float]) -> Belief:
    """The belief after figures of closed jobs, hours for one unit, above zero.

    Source: conjugate update of a normal distribution with unknown mean and variance, statistics textbook.
    """
    seen = [log(h) for h in hours]
    n = len(seen)
    if not n:
        return belief
    mean = sum(seen) / n
    squares = sum((x - mean) ** 2 for x in seen)
    weight = belief.weight + n
    return Belief((belief.weight * belief.middle + n * mean) / weight, weight, belief.freedom + n,
                  belief.squares + squares + belief.weight * n / weight * (mean - belief.middle) ** 2)


def belief_of(low: float, likely: float, high: float) -> Belief:
    """The belief that a shop's low, likely and high hours stand for; likely above zero.

    The triangle from low over likely to high has a tenth of its jobs below one point and a tenth above another: these
    two are the interval that the belief gives to the next job.
    """
    tenth, ninetieth = _triangle(low, likely, high, 0.1), _triangle(low, likely, high, 0.9)
    if ninetieth <= tenth * (1 + NARROWEST) or tenth <= 0:
        tenth, ninetieth = max(tenth, likely * (1 - NARROWEST) / 2), max(ninetieth, likely * (1 + NARROWEST))
    half = (log(ninetieth) - log(tenth)) / 2
    squares = (half / student(0.5 + HELD / 2, FREEDOM)) ** 2 * FREEDOM / (1 + 1 / WORTH)
    return Belief((log(tenth) + log(ninetieth)) / 2, WORTH, FREEDOM, squares)


def _triangle(low: float, likely: float, high: float, share: float) -> float:
    """The hours below which a share of the triangle lies."""
    width = high - low
    if width <= 0:
        return low
    if share * width < likely - low:
        return low + sqrt(share * width * (likely - low))
    return high - sqrt((1 - share) * width * (high - likely))


def triangle_of(tenth: float, likely: float, ninetieth: float) -> tuple[float, float]:
    """Low and high of the triangle with this likely value that has a tenth below and a tenth above these points."""
    low, high = tenth, ninetieth
    for _ in range(200):  # a fixed point: each end follows from the other
        width = high - low
        low, high = (min(likely, max(tenth - sqrt(0.1 * width * max(likely - low, 0.0)), 0.0)),
                     ninetieth + sqrt(0.1 * width * max(high - likely, 0.0)))
    return low, max(high, likely)


@lru_cache(maxsize=256)
def student(share: float, freedom: float) -> float:
    """The point below which `share` (above a half) of Student's distribution lies, by halving; any freedom above 1."""
    low, high = 0.0, 1e3
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if _student_share(middle, freedom) < share else (low, middle)
    return (low + high) / 2


def _student_share(t: float, freedom: float, steps: int = 200) -> float:
    """Share below t, by Simpson's rule on the angle atan(t / sqrt(freedom)), where the density is smooth."""
    scale = exp(lgamma((freedom + 1) / 2) - lgamma(freedom / 2)) / sqrt(pi)
    end = atan(t / sqrt(freedom))
    h = end / steps
    total = sum((1 if k in (0, steps) else 4 if k % 2 else 2) * cos(k * h) ** (freedom - 1) for k in range(steps + 1))
    return float(0.5 + scale * total * h / 3)


@dataclass(frozen=True)
class Lesson:
    """One task: old and new low, likely and high hours for `per` units, and the jobs that speak for the new ones.

    `evidence`: (closed job, hours for `per` units); `far`: those of its jobs that are far from the hours so far;
    `interval`: where the shop's true middle lies, 80 in 100; `rows`: ids of the rows that it rests on.
    """

    unit: HourUnit
    old: tuple[float, float, float]
    new: tuple[float, float, float]
    evidence: tuple[tuple[str, float], ...]
    far: tuple[str, ...]
    interval: tuple[float, float]
    working: Working
    rows: tuple[str, ...]

    @property
    def priced(self) -> tuple[float, float]:
        """The hours that the price takes, mean of low, likely and high: so far, and with the new figures."""
        return sum(self.old) / 3, sum(self.new) / 3


@dataclass(frozen=True)
class _Figure:
    """What one closed job says of a task: its name, hours for the task's `per` units, its rows."""

    name: str
    hours: float
    rows: tuple[str, ...]


def lessons(job: Job, quantities: Mapping[str, float]) -> tuple[list[Lesson], list[RowProblem]]:
    """What the actual hours in this job teach, a lesson a task, and the rows that can't be used.

    The rows of one closed job and one task are added up: a job counts one, however many rows it has. If none of them
    has an amount, they are of this job itself: the amount is what the takeoff counts.
    """
    problems: list[RowProblem] = []
    seen: dict[str, dict[str, list[ActualHours]]] = {}
    for row in job.all(ActualHours):
        unit = job.find(HourUnit, row.task)
        if row.taken or (unit is None and not row.task and row.hours is None):
            continue
        if (problem := _fault(row, unit)) is not None:
            problems.append(problem)
        elif unit is not None:
            seen.setdefault(unit.id, {}).setdefault(" ".join(row.job.lower().split()) or row.id, []).append(row)
    found: list[Lesson] = []
    for unit in job.all(HourUnit):
        figures = []
        for rows in seen.get(unit.id, {}).values():
            amounts = [in_si(job, unit.quantity, r.amount) for r in rows if r.amount is not None]
            amount = sum(amounts) if amounts else names.amount(quantities, unit.quantity)
            if amount > 0:
                hours = sum((r.hours or 0.0) / (1 + (r.factor or 0.0) / 100) for r in rows)
                figures.append(_Figure(rows[0].name, hours / (amount / (unit.per or 1.0)), tuple(r.id for r in rows)))
            else:
                problems += [_problem(r, "hours", ENTER) for r in rows]
        if figures and (lesson := _lesson(unit, figures)) is not None:
            found.append(lesson)
    return found, problems


ENTER = "enter hours and an amount, both above zero"


def _fault(row: ActualHours, unit: HourUnit | None) -> RowProblem | None:
    """What keeps a row from being used by itself, or None."""
    if unit is None:
        return _problem(row, "task", "choose the task that they were for")
    if wrong := misfit(unit.quantity, row.amount):
        return _problem(row, "amount", f"'{unit.quantity}' {wrong}")
    amount = row.amount.si if isinstance(row.amount, Quantity) else row.amount
    if (amount is not None and amount <= 0) or not row.hours or row.hours <= 0 or (row.factor or 0.0) <= -100:
        return _problem(row, "hours", ENTER)
    return None


def _problem(row: ActualHours, field: str, words: str) -> RowProblem:
    return RowProblem((row.kind, row.id), field, f"Actual hours of '{row.name}': {words}.")


def _lesson(unit: HourUnit, seen: Sequence[_Figure]) -> Lesson | None:
    given = [v for v in (unit.low, unit.likely, unit.high) if v is not None]
    if not given or min(given) < 0 or max(given) <= 0 or given != sorted(given):
        return None  # a row that can't be used is an open item already
    low, high = given[0], given[-1]
    likely = unit.likely if unit.likely else (low + high) / 2
    before = belief_of(low, likely, high)
    figures = [f.hours for f in seen]
    after = updated(before, figures)
    new = new_hours((low, likely, high), figures)
    next_low, next_high = after.interval()
    held = after.middle_interval()
    priced = sum((low, likely, high)) / 3, sum(new) / 3
    working = Working(
        f"What closed jobs say: {unit.name}", "m_1 = (k * m_0 + n * m) / (k + n), with logarithms of hours",
        (Value("m_0", "middle of the shop's hours so far", exp(before.middle), "h", 3),
         Value("k", "jobs that they weigh as", WORTH), Value("n", "closed jobs", len(seen)),
         Value("m", "middle of the closed jobs", exp(sum(log(f) for f in figures) / len(figures)), "h", 3)),
        Value("m_1", "middle now", exp(after.middle), "h", 3),
        (Basis("conjugate update of a normal distribution with unknown mean and variance, statistics textbook"),
         Basis("weight of the figures so far: one job for the middle, two for the scatter", PRACTICE),
         Basis("the inner part of the spread, eight in ten, is cut to the hours so far and the closed jobs; low and high, "
               "the ends of the triangle, lie beyond it. Then all three are moved together until their mean lies between "
               "the one so far and that of the closed jobs", PRACTICE),
         Basis("the shop's actual hours", SHOP)),
        notes=(f"Each closed job counts one: {', '.join(f'{f.name} {f.hours:.3g} h' for f in seen)}.",),
        also=(*(Value("", f"{n} so far", v, "h", 3) for n, v in (("low", low), ("likely", likely), ("high", high))),
              *(Value("", f"new {n}", v, "h", 3) for n, v in zip(("low", "likely", "high"), new, strict=True)),
              *(Value("", n, v, "h", 3) for n, v in zip(("mean so far, which is priced", "new mean"), priced, strict=True)),
              *(Value("", f.name, f.hours, "h", 3) for f in seen),
              Value("", "the true middle lies, 8 in 10, between", held[0], "h", 3), Value("", "and", held[1], "h", 3),
              Value("", "the next job lies, 8 in 10, between", next_low, "h", 3), Value("", "and", next_high, "h", 3)))
    return Lesson(unit, (low, likely, high), new, tuple((f.name, f.hours) for f in seen),
                  tuple(f.name for f in seen if not 1 / FAR <= f.hours / likely <= FAR), held, working,
                  tuple(i for f in seen for i in f.rows))


def new_hours(old: tuple[float, float, float], figures: Sequence[float]) -> tuple[float, float, float]:
    """Low, likely and high after figures of closed jobs.

    The interval of the next job has long ends after few jobs. It is cut to what was ever thought or seen, a triangle is
    laid through it, whose ends lie beyond, and all three are scaled until the mean, which is what the price takes, lies
    between the one so far and that of the figures.
    """
    low, likely, high = old
    before = belief_of(low, likely, high)
    after = updated(before, figures)
    tenth, ninetieth = after.interval()
    tenth, ninetieth = max(tenth, min(low, *figures)), min(ninetieth, max(high, *figures))
    middle = min(max(likely * exp(after.middle - before.middle), tenth), ninetieth)
    new_low, new_high = triangle_of(tenth, middle, ninetieth)
    mean, so_far, seen = (new_low + middle + new_high) / 3, (low + likely + high) / 3, sum(figures) / len(figures)
    share = min(max(mean, min(so_far, seen)), max(so_far, seen)) / mean
    return new_low * share, middle * share, new_high * share


def adopted(job: Job, lesson: Lesson) -> Job:
    """The job with the new hours of one task; its evidence is marked as taken, so that it never counts twice."""
    low, likely, high = (f"{v:.3g}" for v in lesson.new)
    jobs = len(lesson.evidence)
    job = set_fields(job, "hourunit", lesson.unit.id, {
        "low": low, "likely": likely, "high": high,
        "source": f"the shop's own record: {jobs} closed {'job' if jobs == 1 else 'jobs'} over "
                  f"{', '.join(f'{v:g}' for v in lesson.old)} h"})
    for row in lesson.rows:
        job = set_fields(job, "actual", row, {"taken": "yes"})
    return job
