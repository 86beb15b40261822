"""Dates at the edge: a day as typed becomes a date, whichever of the usual ways it is written in. Looks at no clock."""

import re
from datetime import date

from stagefloor.core.problems import Problem

MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
          "december")
YEARS = range(1500, 3000)  # any other year is a slip of the finger
_YEAR_FIRST = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_DAY_FIRST = re.compile(r"(\d{1,2})[ .-]+([a-z]{3,9})[ .,-]+(\d{4})", re.IGNORECASE)
_MONTH_FIRST = re.compile(r"([a-z]{3,9})[ .]+(\d{1,2})(?:,| )\s*(\d{4})", re.IGNORECASE)


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
