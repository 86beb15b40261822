"""What closed jobs teach about the shop's hours: old figures, evidence, new figures. Changes nothing by itself.

How it works, in words. One closed job gives one figure for a task: the hours for one unit, with that job's own
conditions taken out. Jobs differ, so figures are compared as ratios (logarithms). The shop's low, likely and high
hours are read as a spread that holds eight jobs in ten; they weigh as much as one job for the middle and as two jobs
for how far jobs scatter. Each closed job counts one, however big it was. New low, likely and high follow: the spread
that now holds eight jobs in ten.

In the terms of statistics: log hours of a job are normal with unknown mean and variance, the prior is the
normal-inverse-gamma distribution (its updates are arithmetic: a conjugate prior), the spread is the predictive
Student distribution.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan, cos, exp, lgamma, log, pi, sqrt

from stagefloor.core.workings import PRACTICE, SHOP, Basis, Value, Working
from stagefloor.job.edit import set_fields
from stagefloor.job.labour import ActualHours, HourUnit
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.rows import RowProblem

WORTH = 1.0  # jobs that the shop's likely hours weigh as; common practice, no source
FREEDOM = 2.0  # jobs that the shop's spread weighs as: few, since spreads are guessed too narrow; common practice, no source
HELD = 0.8  # share of jobs that the spread from low to high holds between its tenth and ninetieth hundredth
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

    `evidence`: (closed job, hours for `per` units); `interval`: where the shop's true middle lies, 80 in 100.
    """

    unit: HourUnit
    old: tuple[float, float, float]
    new: tuple[float, float, float]
    evidence: tuple[tuple[str, float], ...]
    interval: tuple[float, float]
    working: Working
    rows: tuple[str, ...]


def lessons(job: Job, quantities: Mapping[str, float]) -> tuple[list[Lesson], list[RowProblem]]:
    """What the actual hours in this job teach, a lesson a task, and the rows that can't be used.

    A row without an amount is of this job itself: the amount is what the takeoff counts.
    """
    found: list[Lesson] = []
    problems: list[RowProblem] = []
    seen: dict[str, list[tuple[ActualHours, float]]] = {}
    for row in job.all(ActualHours):
        if row.taken:
            continue
        unit = job.find(HourUnit, row.task)
        figure = 0.0 if unit is None else _figure(row, unit, quantities)
        if unit is None or figure <= 0:
            if row.task or row.hours is not None:
                problems.append(RowProblem((row.kind, row.id), "hours" if unit else "task", f"Actual hours of "
                                           f"'{row.name}': " + ("enter hours and an amount, both above zero." if unit
                                                                else "choose the task that they were for.")))
            continue
        seen.setdefault(unit.id, []).append((row, figure))
    for unit in job.all(HourUnit):
        if unit.id in seen and (lesson := _lesson(unit, seen[unit.id])) is not None:
            found.append(lesson)
    return found, problems


def _figure(row: ActualHours, unit: HourUnit, quantities: Mapping[str, float]) -> float:
    """Hours for one of the row's units, with the conditions of that job taken out."""
    amount = row.amount if row.amount is not None else names.amount(quantities, unit.quantity)
    slower = 1 + (row.factor or 0.0) / 100
    if not amount or amount <= 0 or not row.hours or row.hours <= 0 or slower <= 0:
        return 0.0
    return row.hours / slower / (amount / (unit.per or 1.0))


def _lesson(unit: HourUnit, rows: Sequence[tuple[ActualHours, float]]) -> Lesson | None:
    given = [v for v in (unit.low, unit.likely, unit.high) if v is not None]
    if not given or min(given) < 0 or max(given) <= 0 or given != sorted(given):
        return None  # a row that can't be used is an open item already
    low, high = given[0], given[-1]
    likely = unit.likely if unit.likely else (low + high) / 2
    before = belief_of(low, likely, high)
    figures = [f for _, f in rows]
    after = updated(before, figures)
    middle = likely * exp(after.middle - before.middle)
    tenth, ninetieth = after.interval()
    middle = min(max(middle, tenth), ninetieth)
    new_low, new_high = triangle_of(tenth, middle, ninetieth)
    new = (new_low, middle, new_high)
    held = after.middle_interval()
    working = Working(
        f"What closed jobs say: {unit.name}", "m_1 = (k * m_0 + n * m) / (k + n), with logarithms of hours",
        (Value("m_0", "middle of the shop's hours so far", exp(before.middle), "h", 3),
         Value("k", "jobs that they weigh as", WORTH), Value("n", "closed jobs", len(rows)),
         Value("m", "middle of the closed jobs", exp(sum(log(f) for f in figures) / len(figures)), "h", 3)),
        Value("m_1", "middle now", exp(after.middle), "h", 3),
        (Basis("conjugate update of a normal distribution with unknown mean and variance, statistics textbook"),
         Basis("weight of the figures so far: one job for the middle, two for the scatter", PRACTICE),
         Basis("the shop's actual hours", SHOP)),
        notes=(f"Each closed job counts one: {', '.join(f'{r.name} {f:.3g} h' for r, f in rows)}.",),
        also=(*(Value("", f"{n} so far", v, "h", 3) for n, v in (("low", low), ("likely", likely), ("high", high))),
              Value("", "new low", new_low, "h", 3), Value("", "new likely", middle, "h", 3),
              Value("", "new high", new_high, "h", 3), *(Value("", r.name, f, "h", 3) for r, f in rows),
              Value("", "the true middle lies, 8 in 10, between", held[0], "h", 3), Value("", "and", held[1], "h", 3),
              Value("", "the next job lies, 8 in 10, between", tenth, "h", 3), Value("", "and", ninetieth, "h", 3)))
    return Lesson(unit, (low, likely, high), new, tuple((r.name, f) for r, f in rows), held, working,
                  tuple(r.id for r, _ in rows))


def adopted(job: Job, lesson: Lesson) -> Job:
    """The job with the new hours of one task; its evidence is marked as taken, so that it never counts twice."""
    low, likely, high = (f"{v:.3g}" for v in lesson.new)
    jobs = len(lesson.rows)
    job = set_fields(job, "hourunit", lesson.unit.id, {
        "low": low, "likely": likely, "high": high,
        "source": f"the shop's own record: {jobs} closed {'job' if jobs == 1 else 'jobs'} over "
                  f"{', '.join(f'{v:g}' for v in lesson.old)} h"})
    for row in lesson.rows:
        job = set_fields(job, "actual", row, {"taken": "yes"})
    return job
