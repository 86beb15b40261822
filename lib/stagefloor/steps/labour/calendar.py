"""Working days as dates. Knows the start, the days of the week and the days off; looks at no clock."""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor

from stagefloor.core.dates import read_date
from stagefloor.core.problems import Problem
from stagefloor.job.model import Job
from stagefloor.job.workplan import WEEKS, WorkPlan

LONGEST = 4000  # days to look ahead; a job of stage floors is over before
SMALL = 1e-6


@dataclass(frozen=True)
class Calendar:
    """Working days of a job: `start` None while no start is entered."""

    start: date | None
    weekdays: int
    off: frozenset[date] = frozenset()

    def works(self, day: date) -> bool:
        return day.weekday() < self.weekdays and day not in self.off

    def day(self, number: int) -> date | None:
        """The date of working day `number`, 0 first; None without a start or beyond the longest look ahead."""
        if self.start is None:
            return None
        day, left = self.start, number
        for _ in range(LONGEST):
            if self.works(day):
                if left == 0:
                    return day
                left -= 1
            day += timedelta(days=1)
        return None

    def first(self, start: float) -> date | None:
        """The date on which work that starts `start` days after the beginning is begun."""
        return self.day(floor(start + SMALL))

    def last(self, finish: float) -> date | None:
        """The date on which work that is finished `finish` days after the beginning is finished."""
        return self.day(max(ceil(finish - SMALL) - 1, 0))

    def between(self, earlier: date, later: date) -> int:
        """Working days after `earlier` up to and with `later`; minus if it is the other way round."""
        if later < earlier:
            return -self.between(later, earlier)
        days = (later - earlier).days
        return sum(self.works(earlier + timedelta(days=d)) for d in range(1, min(days, LONGEST) + 1))


def calendar(job: Job) -> tuple[Calendar, list[str]]:
    """The calendar of the job, and a sentence for each date that can't be read."""
    plans = job.all(WorkPlan)
    plan = plans[0] if plans else WorkPlan()
    problems, off, start = [], set(), None
    try:
        start = read_date(plan.start)
    except Problem as problem:
        problems.append(f"Start of work: {problem.sentence}")
    for word in re.split(r"[,;\n]", plan.off):
        try:
            if day := read_date(word):
                off.add(day)
        except Problem as problem:
            problems.append(f"Day off: {problem.sentence}")
    return Calendar(start, {WEEKS[0]: 5, WEEKS[1]: 6}.get(plan.week, 7), frozenset(off)), problems
