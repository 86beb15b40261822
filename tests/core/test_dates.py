"""A day is read in the ways it is written in, and never guessed; what is kept stands year first (ISO 8601)."""

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagefloor.core.dates import as_kept, day_of, read_date
from stagefloor.core.problems import Problem
from stagefloor.job.closeout import Punch
from stagefloor.job.edit import add
from stagefloor.job.model import Job


@pytest.mark.parametrize("pattern", ["%Y-%m-%d", "%d %b %Y", "%d %B %Y", "%B %d, %Y", "%b %d %Y", "%d-%b-%Y", "%d. %B %Y"])
@given(st.dates(min_value=date(1990, 1, 1), max_value=date(2099, 12, 31)))
def test_every_usual_way_of_writing_a_day(pattern: str, day: date) -> None:
    text = datetime(day.year, day.month, day.day).strftime(pattern)  # the C library's names of months, in English
    assert read_date(text) == day
    assert as_kept(text) == day.isoformat()


@pytest.mark.parametrize("text", ["4/3/2026", "4.3.2026", "2026-02-30", "31 Jun 2026", "soon", "12 Foo 2026", "4 Ma 2026",
                                  "9999-12-31", "0020-03-04", "1 Mar 3026"])
def test_what_is_no_day_is_asked_back_and_kept_as_it_is(text: str) -> None:
    with pytest.raises(Problem, match="year first"):
        read_date(text)
    assert day_of(text) is None
    assert as_kept(text) == text


def test_a_field_for_a_day_keeps_it_year_first() -> None:
    job, (one, other) = add(Job(), "punch", [{"label": "Lid rattles", "due": "3 Nov 2026"},
                                             {"label": "Label missing", "due": "before the first event"}])
    assert job.get(Punch, one).due == "2026-11-03"
    assert job.get(Punch, other).due == "before the first event"
