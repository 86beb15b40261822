"""Which tests a line needs, and the limits of its readings from its own length and cable. Judges nothing."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from math import log10

from stagefloor.calculations.copper import gauge_ohm_per_m
from stagefloor.calculations.data import data_loop
from stagefloor.calculations.fibre import loss_budget
from stagefloor.calculations.loudspeaker import line_voltage
from stagefloor.calculations.tests_limits import (
    conductor_limit,
    earth_continuity,
    expected_loop,
    gfci_trip_time,
    insulation,
    line_power_band,
    link_length,
    loudspeaker_impedance,
    rcd_trip_time,
    standing,
)
from stagefloor.calculations.video import coax_loss
from stagefloor.core.problems import Problem
from stagefloor.core.workings import PRACTICE, Basis, Value, Working
from stagefloor.job.cables import Cable, CableType, Circuit
from stagefloor.job.closeout import LICENSED
from stagefloor.job.model import Job
from stagefloor.reference.tables import Row, fact, load

PERCENT = 100.0
# A line return and an intercom line are wired and tested like a microphone line.
LIKE_MICROPHONE = ("microphone", "line", "intercom")
# Only the licensed electrician makes these; a reading without a name is none.
BY_LICENSED = (LICENSED, "earth continuity", "insulation resistance", "trip time")
PICTURE_FORMAT = "3G"  # assumed until the venue says otherwise
FIBRE = "multimode 850 nm"  # assumed: the one that loses most
BRIDGING_OHM = 10_000.0  # input of a console's line; common practice, no source
GFCI_TEST_A = 0.006  # the least current at which a class A device must trip


@dataclass(frozen=True)
class RequiredTest:
    """One test that a kind of line needs; `reading_in` is the unit of its number, empty for pass or fail."""

    test: str
    reading_in: str
    method: str
    basis: Basis
    needed: bool = True


@dataclass(frozen=True)
class Limit:
    """What a reading may be, in the unit of the test: low to high, None where there is no such end.

    `expected` is the calculated value. `low_is_length`: a reading below `low` speaks against the length,
    `high_is_length`: one above `high` may do so too.
    """

    working: Working
    unit: str
    expected: float | None = None
    low: float | None = None
    high: float | None = None
    low_is_length: bool = False
    high_is_length: bool = False

    def standing(self, reading: float) -> str:
        """Whether a reading is inside, above or below: the one comparison of what is expected and what was measured."""
        return standing(reading, self.low, self.high)


@lru_cache(maxsize=32)
def possible_tests(kind: str) -> tuple[RequiredTest, ...]:
    """Every test that can be entered for a kind of line, needed or not, in the order in which they are made."""
    return tuple(
        RequiredTest(r.text("test"), r.text("reading_in"), r.text("method"), r.basis(), r.text("needed") == "yes")
        for r in load("line_tests")
        if r.text("kind") == kind
    )


@lru_cache(maxsize=32)
def required_tests(kind: str) -> tuple[RequiredTest, ...]:
    """The tests that a kind of line needs, in the order in which they are made; none for an unknown kind."""
    return tuple(t for t in possible_tests(kind) if t.needed)


def line_length(job: Job, circuit: Circuit, lengths: Mapping[str, float]) -> float | None:
    """Length of a line in metres: as the cables step gives it, else as measured on its cable, else None."""
    if circuit.id in lengths:
        return lengths[circuit.id]
    typed = [c.typed_length.si for c in _cables(job, circuit) if c.typed_length is not None]
    return typed[0] if typed else None


def length_doubt(measured: bool, rough: bool) -> float:
    """By how much the length of a line may be off, %: nothing if it was measured on the cable, more without a drawn way."""
    return 0.0 if measured else fact("acceptance", "length_doubt_rough" if rough else "length_doubt_drawn")["value"]


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


def line_limits(
    job: Job, circuit: Circuit, length_m: float | None, doubt_percent: float = 0.0
) -> dict[str, Limit]:
    """Limits by test for one line.

    Parameters
    ----------
    length_m : one-way length, m, zero or more; None if not known: then only limits that need none are given
    doubt_percent : by how much the length may be off, %; 0 if it was measured on the cable
    """
    found: dict[str, Limit] = {}
    known = length_m if length_m is not None and length_m >= 0 else None
    ohm_per_m, _ = conductor(job, circuit)
    loop: Limit | None = None
    if known is not None and ohm_per_m is not None:
        kind = "loudspeaker" if circuit.what == "loudspeaker" else "microphone"
        loop = _loop(expected_loop(known, ohm_per_m, kind, doubt_percent=doubt_percent))
    if circuit.what in (*LIKE_MICROPHONE, "loudspeaker") and loop is not None:
        found["loop resistance"] = loop
    if circuit.what in LIKE_MICROPHONE:
        if known is not None and ohm_per_m is not None:
            one = conductor_limit(known * (1 + doubt_percent / PERCENT), ohm_per_m)
            found["continuity"] = Limit(one, "ohm", high=one.result.amount)
            found["leg match"] = _leg_match(known * ohm_per_m)
            found["level"] = _level(2 * known * ohm_per_m)
        found["isolation"] = _at_least("Isolation", fact("acceptance", "shorts"))
    if circuit.what == "microphone":
        found["phantom"] = _phantom()
        found["noise"] = _at_most("Noise added by the line", fact("acceptance", "noise"))
    if circuit.what == "control" and loop is not None:
        found["termination"] = _termination(loop)
    if circuit.what == "loudspeaker":
        found["isolation"] = _at_least("Isolation to earth", fact("acceptance", "loudspeaker_isolation"))
        load_limit = _impedance(circuit, known, ohm_per_m)
        if load_limit is not None:
            found["impedance"] = load_limit
    if circuit.what in ("video", "data") and known:
        found |= _network(circuit.what, known, ohm_per_m, doubt_percent)
    if circuit.what == "mains":
        found |= _mains(job)
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
        "impedance": "its load is not entered: enter the nominal ohms, or the watts of a 70 or 100 V line, at the circuit",
        "coax loss": "its length is not known",
        "fibre loss": "its length is not known",
        "link length": "its length is not known",
    }.get(test, "this test has no number to compare with: record pass or fail")


def _cables(job: Job, circuit: Circuit) -> list[Cable]:
    return [c for c in job.all(Cable) if circuit.id in c.circuits]


def _loop(working: Working) -> Limit:
    low = working.also[0].amount
    return Limit(
        working, "ohm", working.result.amount, low, working.limit.amount if working.limit else None, True, True
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


def _at_most(name: str, row: Row) -> Limit:
    most = row.shown("L_max", "most")
    return Limit(Working(f"{name}, greatest reading", "L <= L_max", (), most, (row.basis(),)), most.unit, high=row["value"])


def _leg_match(leg_ohm: float) -> Limit:
    """Difference of the two legs; both legs are as long as the line, so the share is taken of the calculated leg."""
    base, share = fact("acceptance", "leg_match"), fact("acceptance", "leg_match_share")
    high = base["value"] + share["value"] / PERCENT * leg_ohm
    working = Working(
        "Difference of the legs, greatest reading",
        "d_max = d_0 + s / 100 * R_leg",
        (base.shown("d_0", "base"), share.shown("s", "share"), Value("R_leg", "calculated leg", leg_ohm, "ohm")),
        Value("d_max", "most", high, "ohm"),
        (base.basis(), share.basis()),
    )
    return Limit(working, "ohm", 0.0, high=high)


def _level(loop_ohm: float) -> Limit:
    """Loss of a line between a low source and a bridging input: the calculated one and the tolerance of the reading."""
    row = fact("acceptance", "level")
    lost = _loss_db(loop_ohm)
    working = Working(
        "Level lost in the line",
        "A = 20 log10((R_L + R) / R_L)",
        (Value("R_L", "bridging input, assumed", BRIDGING_OHM, "ohm"), Value("R", "calculated loop", loop_ohm, "ohm")),
        Value("A", "expected loss", lost, "dB"),
        (row.basis(), Basis(f"a bridging input of {BRIDGING_OHM:,.0f} ohm is assumed", PRACTICE)),
        Value("A_max", "most", lost + row["value"], "dB"),
    )
    return Limit(working, "dB", lost, lost - row["value"], lost + row["value"])


def _loss_db(loop_ohm: float) -> float:
    """Level lost in a loop in front of a bridging input, dB."""
    return 20 * log10((BRIDGING_OHM + loop_ohm) / BRIDGING_OHM)


def _impedance(circuit: Circuit, length_m: float | None, ohm_per_m: float | None) -> Limit | None:
    """The wide band of a low-impedance line, or that of a 70 or 100 V line around its taps; None without a load."""
    loop = 2 * length_m * ohm_per_m if length_m is not None and ohm_per_m is not None else 0.0
    if circuit.load_line and circuit.load_w:
        volts = line_voltage(circuit.load_line)
        nominal = volts**2 / circuit.load_w
        band = line_power_band(nominal, volts, circuit.load_w)
        high = volts**2 / band.also[0].amount
        return Limit(band, "ohm", nominal, volts**2 / band.limit.amount if band.limit else None, high)
    if not circuit.load_line and circuit.load_ohm:
        working = loudspeaker_impedance(circuit.load_ohm, loop)
        least = working.limit.amount if working.limit else None
        return Limit(working, "ohm", working.result.amount, least, working.also[0].amount)
    return None


def _network(kind: str, length_m: float, ohm_per_m: float | None, doubt_percent: float) -> dict[str, Limit]:
    """Limits of video and data lines by their length; a length outside the range of a source gives none."""
    found: dict[str, Limit] = {}
    with suppress(Problem):
        fibre = loss_budget(length_m, FIBRE)
        # a reading is held against the budget; the lower end of what a fibre loses says nothing of its length
        found["fibre loss"] = Limit(fibre, "dB", fibre.result.amount, high=fibre.result.amount)
    if kind == "video":
        with suppress(Problem):
            coax = coax_loss(length_m, PICTURE_FORMAT)
            found["coax loss"] = Limit(
                coax, "dB", coax.result.amount, high=coax.limit.amount if coax.limit else None
            )
        return found
    with suppress(Problem):
        link = link_length(length_m, doubt_percent=doubt_percent)
        least, most = (v.amount for v in link.also)
        found["link length"] = Limit(link, "m", length_m, least, most, True, True)
    if ohm_per_m is not None:
        with suppress(Problem):
            pair = data_loop(length_m, ohm_per_m)
            low = fact("acceptance", "loop_low_factor")["value"] * pair.result.amount * (1 - doubt_percent / PERCENT)
            pair = replace(pair, also=(Value("R_min", "lower bound of plausibility", low, "ohm"),))
            found["loop resistance"] = Limit(
                pair, "ohm", pair.result.amount, low, pair.limit.amount if pair.limit else None, True
            )
    return found


def _mains(job: Job) -> dict[str, Limit]:
    """Limits that stand beside a reading of the licensed electrician; the edition in force decides."""
    earth, insulated = earth_continuity(0.0), insulation(1e6)
    trip = gfci_trip_time(GFCI_TEST_A) if job.settings.basis == "US" else rcd_trip_time(0.0, "general, 1x")
    seconds = trip.result.amount * 1000 if job.settings.basis == "US" else trip.limit.amount if trip.limit else None
    return {
        "earth continuity": Limit(earth, "ohm", high=earth.limit.amount if earth.limit else None),
        "insulation resistance": Limit(insulated, "Mohm", low=insulated.limit.amount if insulated.limit else None),
        "trip time": Limit(trip, "ms", high=seconds),
    }


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
