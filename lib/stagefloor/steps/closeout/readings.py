"""Readings judged: the last one of each test on each line against its limit. The earlier ones stay listed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stagefloor.calculations.tests_limits import ABOVE as OVER
from stagefloor.calculations.tests_limits import BELOW as UNDER
from stagefloor.core.dates import in_order
from stagefloor.core.units import number_text
from stagefloor.core.workings import Working
from stagefloor.job.cables import Circuit
from stagefloor.job.closeout import TESTS, Reading
from stagefloor.job.model import Job
from stagefloor.steps.closeout.line_tests import (
    BY_LICENSED,
    Limit,
    line_length,
    line_limits,
    possible_tests,
    why_no_limit,
)

FITS = "fits"
PASSED = "passed, as recorded"
ABOVE = "above the limit"
BELOW = "below the limit"
TOO_LOW = "too low for its length: wrong line or a short midway"
FAILED = "failed, as recorded"
IMPOSSIBLE = "not a possible reading"
NO_LIMIT = "no limit known"
NO_NUMBER = "passed without a reading"
EMPTY = "no result entered"
TOO_HIGH = "too high for its length: another line, a bad joint or a longer way"
OPEN = "open: the meter found no way through"
BEYOND = "over range, more than the least"
NO_NAME = "without a name: this test is the licensed electrician's"
GOOD = (FITS, PASSED, BEYOND)
FAILING = (ABOVE, BELOW, TOO_LOW, TOO_HIGH, OPEN, FAILED, IMPOSSIBLE)

# tests that a simple lamp, ear or tester answers with yes or no, though a figure can be compared as well
WORDS_WILL_DO = ("continuity", "coax loss", "fibre loss", "link length")
_WHAT_TO_DO = {
    ABOVE: "look for a bad joint, a thinner cable or a longer way, then test again",
    BELOW: "find the fault, then test again",
    TOO_LOW: "check that it is this line and that nothing touches on the way, then test again",
    TOO_HIGH: "check that it is this line, look at both ends, then test again",
    OPEN: "look for a broken conductor or an end that was left off, then test again",
    NO_NAME: "enter who made it",
    FAILED: "mend it, then test again",
    IMPOSSIBLE: "read it again",
    NO_NUMBER: "enter the figure that was read",
    EMPTY: "enter pass, fail or the figure",
}
# where more than the greatest speaks of something else than the cable
_WHEN_ABOVE = {
    "impedance": "look for a load that is off or broken and for an open conductor, then test again",
    "phantom": "look at the supply, then test again",
    "noise": "look at the screen, the connectors and what runs beside it, then test again",
    "trip time": "the licensed electrician looks at the device, then tests again",
}


@dataclass(frozen=True)
class ReadingJudged:
    """The last reading of one test on one line, with what was expected of it.

    `measured`, `expected`, `low` and `high` are in `unit`; None where there is none. `outcome` is one of the
    words of this module. `earlier`: the readings before it, oldest first, each judged in the same way.
    """

    record: str
    circuit: str
    line: str
    test: str
    outcome: str
    sentence: str
    measured: float | None
    expected: float | None
    low: float | None
    high: float | None
    unit: str
    working: Working | None
    instrument: str
    by: str
    date: str
    earlier: tuple["ReadingJudged", ...] = ()
    word: str = ""  # the result as recorded: pass, fail, over range
    time: str = ""  # of day, as recorded

    @property
    def good(self) -> bool:
        return self.outcome in GOOD

    @property
    def failing(self) -> bool:
        return self.outcome in FAILING


def parted(
    readings: Sequence[ReadingJudged],
) -> tuple[list[ReadingJudged], list[ReadingJudged], list[ReadingJudged]]:
    """Readings that fit, readings that don't, and readings of which nobody can tell yet."""
    return ([j for j in readings if j.good], [j for j in readings if j.failing],
            [j for j in readings if not j.good and not j.failing])


def judge(
    job: Job, lengths: Mapping[str, float], doubts: Mapping[str, float] | None = None
) -> list[ReadingJudged]:
    """The last reading of each test on each line that is not retired, in the order of the lines.

    Parameters
    ----------
    lengths : circuit id -> one-way length, m
    doubts : circuit id -> by how much that length may be off, %; 0 for a line that is not named

    Notes
    -----
    The last is the latest by date, and by time within a day, if every reading of the test has one, else the last entered.
    """
    readings: dict[tuple[str, str], list[Reading]] = {}
    for reading in job.all(Reading):
        readings.setdefault((reading.circuit, reading.test), []).append(reading)
    found: list[ReadingJudged] = []
    for circuit in job.circuits():
        tests = [t for t in TESTS if (circuit.id, t) in readings]
        if not tests:
            continue
        length = line_length(job, circuit, lengths)
        limits = line_limits(job, circuit, length, (doubts or {}).get(circuit.id, 0.0))
        units = {t.test: t.reading_in for t in possible_tests(circuit.what)}
        for test in tests:
            taken = [
                _judged(job, circuit, r, limits.get(test), units.get(test, ""), length)
                for r in in_order(readings[circuit.id, test], lambda r: (r.date, r.time))
            ]
            found.append(replace(taken[-1], earlier=tuple(taken[:-1])))
    return found


def _judged(
    job: Job, circuit: Circuit, reading: Reading, limit: Limit | None, unit: str, length: float | None
) -> ReadingJudged:
    unit = limit.unit if limit is not None else unit
    outcome = _outcome(reading, limit, unit)
    if outcome == NO_LIMIT:
        advice = why_no_limit(job, circuit, reading.test, length)
    elif outcome == PASSED and limit is None and unit:
        advice = "there is no limit here to compare with"
    else:
        advice = (_WHEN_ABOVE if outcome == ABOVE else {}).get(reading.test) or _WHAT_TO_DO.get(outcome, "")
    beyond = "over range: " if outcome == ABOVE and reading.value is None else ""
    sentence = f"Line {circuit.name}, {reading.test}: {_figures(reading, limit, unit)}{beyond}{outcome}" + (
        f"; {advice}." if advice else "."
    )
    return ReadingJudged(
        reading.id,
        circuit.id,
        circuit.name,
        reading.test,
        outcome,
        sentence,
        reading.value,
        limit.expected if limit else None,
        limit.low if limit else None,
        limit.high if limit else None,
        unit,
        limit.working if limit else None,
        reading.instrument,
        reading.by,
        reading.date,
        word=reading.result,
        time=reading.time,
    )


def _outcome(reading: Reading, limit: Limit | None, unit: str) -> str:
    value = reading.value
    if reading.result == "fail":
        return FAILED
    if reading.test in BY_LICENSED and (value is not None or reading.result) and not reading.by.strip():
        return NO_NAME
    if reading.result == "over range":
        # more than the meter can show: right for insulation alone, a broken conductor for every other resistance
        if unit == "Mohm":
            return BEYOND
        return OPEN if unit in ("ohm", "") or limit is None else ABOVE
    if value is None:
        if reading.result != "pass":
            return EMPTY
        # a word can't stand for a figure that could have been compared; continuity is a word by its nature
        return NO_NUMBER if limit is not None and reading.test not in WORDS_WILL_DO else PASSED
    if value < 0 and unit in ("ohm", "Mohm", "V", "m", "ms"):
        return IMPOSSIBLE
    if limit is None:
        return PASSED if reading.result == "pass" else NO_LIMIT
    where = limit.standing(value)
    if where == OVER:
        return TOO_HIGH if limit.high_is_length else ABOVE
    if where == UNDER:
        return TOO_LOW if limit.low_is_length else BELOW
    return FITS


def _figures(reading: Reading, limit: Limit | None, unit: str) -> str:
    def text(value: float) -> str:
        return f"{number_text(value)} {unit}".strip()

    if reading.value is None:
        return ""
    words = [f"{text(reading.value)} measured"]
    if limit is not None:
        words += [f"{text(limit.expected)} expected"] if limit.expected is not None else []
        words += [f"at least {text(limit.low)}"] if limit.low is not None else []
        words += [f"at most {text(limit.high)}"] if limit.high is not None else []
    return ", ".join(words) + ": "
