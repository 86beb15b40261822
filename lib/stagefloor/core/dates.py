"""Dates at the edge: a day or a time of day as typed, whichever of the usual ways it is written in. Looks at no clock."""

import re
from collections.abc import Callable, Sequence
from datetime import date
from itertools import groupby
from typing import TypeVar

from stagefloor.core.problems import Problem

T = TypeVar("T")
MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
          "december")
YEARS = range(1500, 3000)  # any other year is a slip of the finger
_YEAR_FIRST = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_DAY_FIRST = re.compile(r"(\d{1,2})[ .-]+([a-z]{3,9})[ .,-]+(\d{4})", re.IGNORECASE)
_MONTH_FIRST = re.compile(r"([a-z]{3,9})[ .]+(\d{1,2})(?:,| )\s*(\d{4})", re.IGNORECASE)
_TIME = re.compile(r"(\d{1,2})(?::(\d{2})(:(\d{2})(?:\.\d{1,9})?)?)?\s*(?:([ap])\.?m\.?)?(?:Z|[+-]\d{2}:?\d{2})?",
                   re.IGNORECASE | re.ASCII)
# a time that stands behind its day; hours alone would be a part of the day
_MOMENT = re.compile(r"(?:T|,?\s)(\d{1,2}:.*|\d{1,2}\s*[ap]\.?m\.?)$", re.IGNORECASE | re.ASCII)


def read_date(text: str) -> date | None:
    """A date as typed: 2026-03-04, 4 Mar 2026 or March 4, 2026; None if it is empty, a Problem if it is none.

    Figures alone are taken year first only: 4/3/2026 is another day on each side of the ocean.
    """
    word = text.strip()
    if not word:
        return None
    try:
        day = _read(word)
    except ValueError:
        day = None
    if day is None or day.year not in YEARS:
        raise Problem(f"'{word[:30]}' is not a date; type it as 2026-03-04, year first, or as 4 Mar 2026.")
    return day


def _read(word: str) -> date | None:
    if found := _YEAR_FIRST.fullmatch(word):
        return date(int(found[1]), int(found[2]), int(found[3]))
    if found := _DAY_FIRST.fullmatch(word):
        return date(int(found[3]), _month(found[2]), int(found[1]))
    if found := _MONTH_FIRST.fullmatch(word):
        return date(int(found[3]), _month(found[1]), int(found[2]))
    return None


def day_of(text: str) -> date | None:
    """A date as typed; None for anything else, empty or not."""
    try:
        return read_date(text)
    except Problem:
        return None


def read_time(text: str) -> str:
    """A time of day as typed, such as 9:05, 9:05:30 or 1:05 PM, as it is kept: 09:05, 09:05:30, 13:05; empty if it is empty.

    Texts of one day sort like their times. A Problem if it is none.
    """
    word = text.strip()
    if not word:
        return ""
    found = _TIME.fullmatch(word)
    if found and (found[2] or found[5]):
        hour, half = int(found[1]), (found[5] or "").lower()
        known = 1 <= hour <= 12 if half else hour < 24
        if known and int(found[2] or 0) < 60 and int(found[4] or 0) < 60:
            hour = hour % 12 + 12 * (half == "p") if half else hour
            return f"{hour:02}:{found[2] or '00'}{found[3] or ''}"
    raise Problem(f"'{word[:30]}' is no time of day; write it as 09:05 or 9:05 AM.")


def day_and_time(text: str) -> tuple[str, str]:
    """A text such as 2026-03-04 10:20 parted at its time of day; the whole text and nothing if it has none."""
    found = _MOMENT.search(text.strip())
    return (text.strip()[:found.start()], found[1]) if found else (text, "")


def in_order(items: Sequence[T], when: Callable[[T], tuple[str, str]]) -> list[T]:
    """Items in the order in which they were made; `when` gives the day and the time of each as they are kept.

    By day if every one has one, within a day by time if every one of that day has one; else as they stand.
    """
    days = [day_of(when(i)[0]) for i in items] if len(items) > 1 else [None]
    if None in days:
        return list(items)
    found: list[T] = []
    dated = sorted(zip(days, items, strict=True), key=lambda pair: pair[0] or date.min)
    for _, pairs in groupby(dated, key=lambda pair: pair[0]):
        same = [i for _, i in pairs]
        times = [time_of(when(i)[1]) for i in same]
        found += [same[n] for n in sorted(range(len(same)), key=times.__getitem__)] if all(times) else same
    return found


def time_of(text: str) -> str:
    """A time of day as it is kept; empty for anything else."""
    try:
        return read_time(text)
    except Problem:
        return ""


def as_kept(text: str) -> str:
    """The text that is kept: a date year first, however it was typed; any other text as it is."""
    day = day_of(text)
    return text.strip() if day is None else day.isoformat()


def _month(word: str) -> int:
    """1 to 12; ValueError for a word that begins no month."""
    named = [number for number, month in enumerate(MONTHS, 1) if month.startswith(word.lower())]
    if len(named) == 1:
        return named[0]
    if word.lower() == "sept":
        return MONTHS.index("september") + 1
    raise ValueError(word)
