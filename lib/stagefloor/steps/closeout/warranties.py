"""From when to when a warranty runs, by the rule of the contract."""

import calendar
from dataclasses import dataclass
from datetime import date, timedelta

from stagefloor.core.dates import day_of
from stagefloor.job.closeout import Warranty
from stagefloor.job.model import Job

MOST_MONTHS = 1200


@dataclass(frozen=True)
class WarrantyTerm:
    """One warranty: first and last day, None while not known; `sentence` says it, or what is missing."""

    record: str
    label: str
    starts: str
    first: date | None
    last: date | None
    sentence: str
    contact: str


def warranty_terms(job: Job) -> list[WarrantyTerm]:
    """Every warranty of the job, in the user's order."""
    return [_term(w) for w in job.all(Warranty)]


def last_day(first: date, months: int) -> date:
    """The last day of a term of whole calendar months: the day before the same day of the month, or the month's last.

    12 months from 4 March 2026 end with 3 March 2027. Common practice, no source: read the contract's own wording.
    """
    month = first.year * 12 + first.month - 1 + months
    year, month = divmod(month, 12)
    day = min(first.day, calendar.monthrange(year, month + 1)[1])
    return date(year, month + 1, day) - timedelta(days=1)


def _term(w: Warranty) -> WarrantyTerm:
    first = day_of(w.date)
    months = w.months if w.months is not None and 0 < w.months <= MOST_MONTHS and w.months == int(w.months) else None
    missing = [x for x, there in ((f"the date of {w.starts}", first), ("whole months that it runs", months)) if not there]
    if first is None or months is None:
        sentence = f"{w.name}: it runs from {w.starts}; {' and '.join(missing)} missing."
        return WarrantyTerm(w.id, w.name, w.starts, first, None, sentence, w.contact)
    last = last_day(first, int(months))
    return WarrantyTerm(w.id, w.name, w.starts, first, last,
                        f"{w.name}: from {w.starts} on {first.isoformat()} through {last.isoformat()}.", w.contact)
