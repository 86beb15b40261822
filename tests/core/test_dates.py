"""A day is read in the ways it is written in, and never guessed; what is kept stands year first (ISO 8601)."""

from datetime import date, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagefloor.core.dates import as_kept, day_and_time, day_of, in_order, read_date, read_time, time_of
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


@given(st.times())
def test_a_time_of_day_is_read_however_it_is_written(at) -> None:
    """Against the clock of the standard library."""
    assert read_time(at.isoformat()) == at.isoformat()
    for way in ("%H:%M:%S", "%I:%M:%S %p", "%I:%M:%S%p"):
        assert read_time(at.strftime(way)) == at.isoformat("seconds"), way
    assert time.fromisoformat(read_time(f"{at.hour}:{at.minute:02}")) == at.replace(second=0, microsecond=0)


@pytest.mark.parametrize("text", ["24:00", "9:60", "9:05:60", "9", "905", "13 PM", "0 AM", "9.05", "-9:05",
                                  "9:05 XM", "٩:٠٥"])
def test_a_time_that_is_none_is_asked_back(text) -> None:
    with pytest.raises(Problem, match="is no time of day"):
        read_time(text)
    assert time_of(text) == ""


@pytest.mark.parametrize(("text", "parted"), [
    ("2026-03-04 10:20", ("2026-03-04", "10:20")), ("2026-03-04T10:20:05Z", ("2026-03-04", "10:20:05Z")),
    ("March 4, 2026, 9 PM", ("March 4, 2026", "9 PM")), ("March 4, 2026", ("March 4, 2026", "")),
    ("4 Mar 2026", ("4 Mar 2026", "")), ("10:20", ("10:20", "")), ("", ("", ""))])  # fmt: skip
def test_a_day_with_its_time_is_parted(text, parted) -> None:
    assert day_and_time(text) == parted


@given(st.lists(st.datetimes(datetime(2026, 1, 1), datetime(2026, 1, 4)), max_size=8))
def test_what_is_dated_is_put_in_order(moments) -> None:
    def when(at: datetime) -> tuple[str, str]:
        return at.date().isoformat(), at.time().isoformat()

    assert in_order(moments, when) == sorted(moments)
    assert in_order(moments, lambda at: ("", when(at)[1])) == moments
    assert in_order(moments, lambda at: (when(at)[0], "")) == sorted(moments, key=lambda at: at.date())
