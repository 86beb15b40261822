"""Which tests a line needs, and the limits of its readings from its own length and cable. Judges nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from stagefloor.calculations.copper import gauge_ohm_per_m
from stagefloor.calculations.tests_limits import conductor_limit, expected_loop
from stagefloor.core.workings import Basis, Value, Working
from stagefloor.job.cables import Cable, CableType, Circuit
from stagefloor.job.model import Job
from stagefloor.reference.tables import Row, fact, load

PERCENT = 100.0
# A line return and an intercom line are wired and tested like a microphone line.
LIKE_MICROPHONE = ("microphone", "line", "intercom")


@dataclass(frozen=True)
class RequiredTest:
    """One test that a kind of line needs; `reading_in` is the unit of its number, empty for pass or fail."""

    test: str
    reading_in: str
    method: str
    basis: Basis


@dataclass(frozen=True)
class Limit:
    """What a reading may be, in the unit of the test: low to high, None where there is no such end.

    `expected` is the calculated value. `low_is_length`: a reading below `low` speaks against the length.
    """

    working: Working
    unit: str
    expected: float | None = None
    low: float | None = None
    high: float | None = None
    low_is_length: bool = False


@lru_cache(maxsize=32)
def required_tests(kind: str) -> tuple[RequiredTest, ...]:
    """The tests that a kind of line needs, in the order in which they are made; none for an unknown kind."""
    return tuple(
        RequiredTest(r.text("test"), r.text("reading_in"), r.text("method"), r.basis())
        for r in load("line_tests")
        if r.text("kind") == kind
    )


def line_length(job: Job, circuit: Circuit, lengths: Mapping[str, float]) -> float | None:
    """Length of a line in metres: as the cables step gives it, else as measured on its cable, else None."""
    if circuit.id in lengths:
        return lengths[circuit.id]
    typed = [c.typed_length.si for c in _cables(job, circuit) if c.typed_length is not None]
    return typed[0] if typed else None


def conductor(job: Job, circuit: Circuit) -> tuple[float | None, str]:
    """Ohm per metre of one conductor of the line's cable at 20 degrees C, or None and why it is not known."""
    cables = _cables(job, circuit)
    if not cables:
        return None, "no cable carries this line yet"
    kind = job.find(CableType, cables[0].type)
    if kind is None:
        return None, f"cable {cables[0].name} has no type"
    if kind.resistance is not None and kind.resistance.si > 0:
        return kind.resistance.si, ""
    if kind.awg:
        return gauge_ohm_per_m(kind.awg), ""
    return None, f"cable type {kind.name} has neither a resistance nor a gauge"


def limits(job: Job, circuit: Circuit, length_m: float | None) -> dict[str, Working]:
    """The working behind the limit of each test of a line; tests without a known limit are left out."""
    return {test: limit.working for test, limit in line_limits(job, circuit, length_m).items()}


def line_limits(job: Job, circuit: Circuit, length_m: float | None) -> dict[str, Limit]:
    """Limits by test for one line.

    Parameters
    ----------
    length_m : one-way length, m, zero or more; None if not known: then only limits that need none are given
    """
    found: dict[str, Limit] = {}
    ohm_per_m, _ = conductor(job, circuit)
    loop: Limit | None = None
    if length_m is not None and length_m >= 0 and ohm_per_m is not None:
        loop = _loop(
            expected_loop(
                length_m, ohm_per_m, "loudspeaker" if circuit.what == "loudspeaker" else "microphone"
            )
        )
    if circuit.what in (*LIKE_MICROPHONE, "loudspeaker") and loop is not None:
        found["loop resistance"] = loop
    if circuit.what in LIKE_MICROPHONE:
        if length_m is not None and length_m >= 0 and ohm_per_m is not None:
            one = conductor_limit(length_m, ohm_per_m)
            found["continuity"] = Limit(one, "ohm", high=one.result.amount)
        found["isolation"] = _at_least("Isolation", fact("acceptance", "shorts"))
    if circuit.what == "microphone":
        found["phantom"] = _phantom()
    if circuit.what == "control" and loop is not None:
        found["termination"] = _termination(loop)
    return found


def why_no_limit(job: Job, circuit: Circuit, test: str, length_m: float | None) -> str:
    """Why a test of a line has no limit to compare with, as the end of a sentence."""
    if test in ("loop resistance", "continuity", "termination"):
        why = conductor(job, circuit)[1]
        if why:
            return why
        return (
            "its length is not known"
            if length_m is None or length_m < 0
            else "no rule for this kind of line is known"
        )
    return {
        "impedance": "it depends on the load: compare with the loudspeaker's data sheet, record pass or fail",
        "coax loss": "it depends on the picture format (20 dB for HD and 3G, 40 dB for 6G and 12G, "
        "at half clock): record pass or fail",
    }.get(test, "this test has no number to compare with: record pass or fail")


def _cables(job: Job, circuit: Circuit) -> list[Cable]:
    return [c for c in job.all(Cable) if circuit.id in c.circuits]


def _loop(working: Working) -> Limit:
    low = working.also[0].amount
    return Limit(
        working, "ohm", working.result.amount, low, working.limit.amount if working.limit else None, True
    )


def _at_least(name: str, row: Row) -> Limit:
    least = row.shown("R_min", "least")
    working = Working(
        f"{name}, least reading",
        "R >= R_min",
        (),
        least,
        (row.basis(),),
        notes=("With nothing plugged in; never a high test voltage on a line with equipment attached.",),
    )
    return Limit(working, "Mohm", low=row["value"])


def _phantom() -> Limit:
    low, high = fact("acceptance", "phantom_low"), fact("acceptance", "phantom_high")
    working = Working(
        "Phantom at the outlet, unloaded",
        "U_min <= U <= U_max",
        (low.shown("U_min", "least"),),
        high.shown("U_max", "most"),
        (low.basis(), high.basis()),
        notes=("IEC 61938, 48 V supply; read each leg and enter the worse one.",),
    )
    return Limit(working, "V", low=low["value"], high=high["value"])


def _termination(loop: Limit) -> Limit:
    """Terminating resistor within its tolerance, in series with the loop of the line."""
    row, tolerance = fact("control", "termination"), fact("control", "termination_tolerance")
    share = tolerance["value"] / PERCENT
    low, high = (
        row["value"] * (1 - share) + (loop.low or 0.0),
        row["value"] * (1 + share) + (loop.high or 0.0),
    )
    expected = row["value"] + (loop.expected or 0.0)
    working = Working(
        "Termination read from the near end",
        "R = R_t + R_loop; R_max = R_t (1 + t / 100) + R_loop,max",
        (
            row.shown("R_t", "terminator"),
            tolerance.shown("t", "tolerance"),
            Value("R_loop", "calculated loop", loop.expected or 0.0, "ohm"),
            Value("R_loop,max", "upper limit of the loop", loop.high or 0.0, "ohm"),
        ),
        Value("R", "expected", expected, "ohm"),
        (row.basis(), tolerance.basis(), *loop.working.basis),
        Value("R_max", "upper limit", high, "ohm"),
        also=(Value("R_min", "lower bound", low, "ohm"),),
        notes=("For a DMX512 or RS-485 line; a contact closure has no terminator: record pass or fail.",),
    )
    return Limit(working, "ohm", expected, low, high)
