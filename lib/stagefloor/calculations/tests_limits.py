"""Limits for the test of a line, from the line's own length and cable. A reading is judged against these."""

from stagefloor.calculations.inputs import choice, not_negative, positive, within
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import Row, fact

KINDS_OF_LINE = ("microphone", "loudspeaker")
PERCENT = 100.0
INSULATION = {
    "up to 500 V": ("insulation_500", "500 V d.c."),
    "SELV and PELV": ("insulation_selv", "250 V d.c."),
    "above 500 V": ("insulation_above_500", "1000 V d.c."),
    "older edition, up to 500 V": ("insulation_older", "500 V d.c."),
    "older edition, SELV and PELV": ("insulation_selv_older", "250 V d.c."),
}
RCD = {
    "general, 1x": ("", "rcd_1x"),
    "general, 5x": ("", "rcd_5x"),
    "type S, 1x": ("rcd_s_1x_low", "rcd_s_1x"),
    "type S, 5x": ("rcd_s_5x_low", "rcd_s_5x"),
}
LINK_PARTS = ("permanent link", "channel")
INSIDE, ABOVE, BELOW = "inside", "above", "below"


def _fact(key: str) -> Row:
    return fact("acceptance", key)


def expected_loop(
    length_m: float,
    ohm_per_m: float,
    kind: str = "microphone",
    measured_ohm: float | None = None,
    doubt_percent: float = 0.0,
) -> Working:
    """Loop resistance that a line should read, with an upper limit and a lower bound of plausibility.

    Parameters
    ----------
    length_m : one-way length of the line, m, zero or more
    ohm_per_m : resistance of one conductor, ohm/m, above zero
    kind : microphone (0.2 ohm added for connectors) or loudspeaker (0.1 ohm)
    measured_ohm : the reading, ohm, if there is one; then the result is the reading
    doubt_percent : by how much the length may be off, %, 0 if it was measured on the cable, below 100

    Returns ohm: the calculated loop, or the reading, against 1.05 x 2 L r + 0.2 or 0.1 ohm; the lower bound
    stands under
    'also'. Source: common practice, no source; the lower bound, nine tenths of the copper alone, is own
    reasoning.
    """
    not_negative("length_m", length_m, "m")
    positive("ohm_per_m", ohm_per_m, "ohm/m")
    choice("kind", kind, KINDS_OF_LINE)
    within("doubt_percent", doubt_percent, 0.0, PERCENT - 1, "%", "a length that may be off by all of itself is not known")
    factor, extra, low = _fact("conductor_factor"), _fact(f"conductor_extra_{kind}"), _fact("loop_low_factor")
    copper, doubt = 2 * length_m * ohm_per_m, doubt_percent / PERCENT
    upper = factor["value"] * copper * (1 + doubt) + extra["value"]
    lower = low["value"] * copper * (1 - doubt)
    reading = copper if measured_ohm is None else not_negative("measured_ohm", measured_ohm, "ohm")
    notes = []
    if measured_ohm is not None and standing(measured_ohm, lower, upper) == BELOW:
        notes.append(
            f"The reading is below {lower:.3g} ohm: another length, another gauge, or a short on "
            "the way; find out which."
        )
    return Working(
        f"Loop of a {kind} line",
        "R_max = k * 2 * L * r / 1000 * (1 + d / 100) + R_x",
        (
            factor.shown("k", "factor"),
            Value("L", "one-way length", length_m, "m"),
            Value("r", "one conductor", ohm_per_m * 1000, "ohm/km"),
            Value("d", "the length may be off by", doubt_percent, "%"),
            extra.shown("R_x", "connectors"),
        ),
        Value("R", "calculated loop" if measured_ohm is None else "reading", reading, "ohm"),
        (factor.basis(), extra.basis(), low.basis()),
        Value("R_max", "upper limit", upper, "ohm"),
        notes=tuple(notes),
        also=(Value("R_min", "lower bound of plausibility", lower, "ohm"),),
    )


def standing(reading: float, low: float | None, high: float | None) -> str:
    """How a reading stands to its limits: 'inside', 'above' or 'below'. None: there is no such end."""
    if high is not None and reading > high:
        return ABOVE
    return BELOW if low is not None and reading < low else INSIDE


def conductor_limit(length_m: float, ohm_per_m: float) -> Working:
    """Greatest reading of one conductor of a microphone or line circuit from end to end.

    Parameters
    ----------
    length_m : one-way length, m, zero or more
    ohm_per_m : resistance of one conductor, ohm/m, above zero

    Returns ohm. Source: common practice, no source.
    """
    not_negative("length_m", length_m, "m")
    positive("ohm_per_m", ohm_per_m, "ohm/m")
    factor, extra = _fact("conductor_factor"), _fact("conductor_extra_microphone")
    return Working(
        "Greatest reading of one conductor",
        "R = k * L * r / 1000 + R_x",
        (
            factor.shown("k", "factor"),
            Value("L", "length", length_m, "m"),
            Value("r", "one conductor", ohm_per_m * 1000, "ohm/km"),
            extra.shown("R_x", "connectors"),
        ),
        Value("R", "limit", factor["value"] * length_m * ohm_per_m + extra["value"], "ohm"),
        (factor.basis(),),
    )


def leg_difference(leg_2_ohm: float, leg_3_ohm: float) -> Working:
    """Difference of the two legs of a balanced line against what the balance bears.

    Parameters
    ----------
    leg_2_ohm : reading of the pin 2 conductor, ohm, zero or more
    leg_3_ohm : reading of the pin 3 conductor, ohm, zero or more

    Returns ohm against 0.1 ohm + 1 %. Source: common practice, no source.
    """
    not_negative("leg_2_ohm", leg_2_ohm, "ohm")
    not_negative("leg_3_ohm", leg_3_ohm, "ohm")
    base, share = _fact("leg_match"), _fact("leg_match_share")
    limit = base["value"] + share["value"] / PERCENT * (leg_2_ohm + leg_3_ohm) / 2
    return Working(
        "Difference of the legs",
        "d = abs(R_2 - R_3)",
        (Value("R_2", "pin 2", leg_2_ohm, "ohm"), Value("R_3", "pin 3", leg_3_ohm, "ohm")),
        Value("d", "difference", abs(leg_2_ohm - leg_3_ohm), "ohm"),
        (base.basis(),),
        Value("", "limit", limit, "ohm"),
    )


def phantom_range(pin_2_v: float, pin_3_v: float) -> Working:
    """Unloaded phantom voltage of both legs against 44 to 52 V and against each other.

    Parameters
    ----------
    pin_2_v : pin 2 to pin 1, V, zero or more
    pin_3_v : pin 3 to pin 1, V, zero or more

    Returns the distance of the worse leg from 48 V, V, against 4 V. Source: IEC 61938 (P48); the match of
    the two legs
    within 0.5 V is common practice, no source, and stands in a note.
    """
    not_negative("pin_2_v", pin_2_v, "V")
    not_negative("pin_3_v", pin_3_v, "V")
    low, high, match = _fact("phantom_low"), _fact("phantom_high"), _fact("phantom_match")
    middle = (low["value"] + high["value"]) / 2
    gap = abs(pin_2_v - pin_3_v)
    words = "within" if gap <= match["value"] else "more than"
    return Working(
        "Phantom at the outlet, unloaded",
        "d = max(abs(U_2 - U_0), abs(U_3 - U_0))",
        (
            Value("U_2", "pin 2", pin_2_v, "V"),
            Value("U_3", "pin 3", pin_3_v, "V"),
            Value("U_0", "nominal", middle, "V"),
        ),
        Value("d", "distance from nominal", max(abs(pin_2_v - middle), abs(pin_3_v - middle)), "V"),
        (low.basis(),),
        Value("", "tolerance", high["value"] - middle, "V"),
        notes=(f"The legs differ by {gap:.3g} V, {words} {match['value']:g} V ({match.status}).",),
    )


def data_limits(part: str = "permanent link", category: str = "6") -> dict[str, Working]:
    """The limits of a data test: length, loop, insertion loss at 100 MHz, delay and skew.

    Parameters
    ----------
    part : permanent link or channel
    category : 5e, 6 or 6a

    Returns Workings by name, each with the limit as its result. Source: on each row.
    """
    choice("part", part, LINK_PARTS)
    choice("category", category, ("5e", "6", "6a"))
    short = "link" if part == "permanent link" else "channel"
    keys = {
        "length": "permanent_link" if short == "link" else "channel",
        "loop resistance": f"loop_{'permanent_link' if short == 'link' else 'channel'}",
        "insertion loss at 100 MHz": f"{short}_{category}",
        "propagation delay": f"delay_{short}",
        "delay skew": f"skew_{short}",
    }
    found = {}
    for name, key in keys.items():
        row = fact("data_limits", key)
        found[name] = Working(
            f"Limit of {name}, {part}", "table look-up", (), row.shown("", name), (row.basis(),)
        )
    return found


def gfci_trip_time(current_a: float) -> Working:
    """Longest trip time of a class A ground-fault interrupter at a fault current.

    Parameters
    ----------
    current_a : fault current, A, 6 to 264 mA

    Returns s. Raises Problem outside 6 to 264 mA. Source: UL 943, T = (20/I)^1.43, quoted in a code forum.
    """
    low, high = _fact("gfci_trip"), _fact("gfci_longest")
    within(
        "current_a",
        current_a * 1000,
        low["value"],
        high["value"],
        "mA",
        "the formula of UL 943 covers this range",
    )
    base, exponent = _fact("gfci_current"), _fact("gfci_exponent")
    return Working(
        "Longest trip time, class A",
        "T = (I_0 / I)^e",
        (
            base.shown("I_0", "constant"),
            Value("I", "fault current", current_a * 1000, "mA"),
            exponent.shown("e", "exponent"),
        ),
        Value("T", "time", (base["value"] / (current_a * 1000)) ** exponent["value"], "s"),
        (base.basis(),),
    )


def rcd_trip_time(measured_s: float, test: str) -> Working:
    """Trip time of a residual-current device against the limit of its type and test current.

    Parameters
    ----------
    measured_s : trip time, s, zero or more
    test : general, 1x; general, 5x; type S, 1x; or type S, 5x of the rated residual current

    Returns ms. Source: IEC 61008 and 61009. Type S also has a least time, in a note.
    """
    not_negative("measured_s", measured_s, "s")
    low_key, key = RCD[choice("test", test, list(RCD))]
    limit = _fact(key)
    notes: tuple[str, ...] = ()
    if low_key and measured_s * 1000 < _fact(low_key)["value"]:
        notes = (f"Type S must not trip before {_fact(low_key)['value']:g} ms.",)
    return Working(
        f"Trip time, {test}",
        "t = reading",
        (Value("t", "reading", measured_s * 1000, "ms"),),
        Value("t", "trip time", measured_s * 1000, "ms"),
        (limit.basis(),),
        limit.shown("", "limit"),
        notes=notes,
    )


def insulation(measured_ohm: float, circuit: str = "up to 500 V") -> Working:
    """Insulation resistance against the limit of its circuit. Never on a line with equipment attached.

    Parameters
    ----------
    measured_ohm : reading, ohm, zero or more
    circuit : up to 500 V; SELV and PELV; above 500 V; older edition, up to 500 V; or older edition, SELV and PELV

    Returns Mohm. Source: IEC 60364-6, current and older edition.
    """
    not_negative("measured_ohm", measured_ohm, "ohm")
    key, test = INSULATION[choice("circuit", circuit, list(INSULATION))]
    limit = _fact(key)
    return Working(
        f"Insulation resistance, {circuit}",
        "R = reading",
        (Value("R", "reading", measured_ohm / 1e6, "Mohm"),),
        Value("R", "insulation resistance", measured_ohm / 1e6, "Mohm"),
        (limit.basis(),),
        limit.shown("", "least"),
        ">=",
        (f"Test voltage {test}; by the licensed electrician.",),
    )


def line_power_band(measured_ohm: float, line_v: float, tapped_w: float) -> Working:
    """Power that a 70 or 100 V line takes by its impedance, against the band around the tapped watts.

    Parameters
    ----------
    measured_ohm : impedance read with an AC meter, loads on and amplifier off, ohm, above zero
    line_v : line voltage, V, above zero
    tapped_w : sum of the taps, W, above zero

    Returns W against 110 % of the taps; the lower end, 80 %, stands under 'also'. Source: line-impedance
    notes; the band is
    common practice, no source.
    """
    positive("measured_ohm", measured_ohm, "ohm")
    positive("line_v", line_v, "V")
    positive("tapped_w", tapped_w, "W")
    high, low = _fact("power_high"), _fact("power_low")
    return Working(
        "Power of a distributed line by its impedance",
        "P = U^2 / Z",
        (Value("U", "line voltage", line_v, "V"), Value("Z", "impedance read", measured_ohm, "ohm")),
        Value("P", "power", line_v**2 / measured_ohm, "W"),
        (Basis("circuit theory", ARITHMETIC), high.basis()),
        Value("", "upper end", tapped_w * (1 + high["value"] / PERCENT), "W"),
        also=(Value("", "lower end of the band", tapped_w * (1 - low["value"] / PERCENT), "W"),),
    )


def loudspeaker_impedance(nominal_ohm: float, loop_ohm: float = 0.0, measured_ohm: float | None = None) -> Working:
    """Least impedance of a low-impedance loudspeaker line: 80 % of its nominal load, with the cable in series.

    A load that is off or broken shows by the greatest, under 'also': four times the nominal load, since the impedance of a
    sound one rises at its resonance and towards high frequencies.

    Parameters
    ----------
    nominal_ohm : nominal impedance of all loads in parallel, ohm, above zero
    loop_ohm : calculated loop of the cable, ohm, zero or more
    measured_ohm : the reading with an alternating-current meter, ohm, if there is one; then it is the result

    Returns ohm: the nominal load with its cable, or the reading, against the least. Source: loudspeaker dictionary and
    line-impedance notes; IEC 60268-5, its number from memory. The greatest: common practice, no source.
    """
    positive("nominal_ohm", nominal_ohm, "ohm")
    not_negative("loop_ohm", loop_ohm, "ohm")
    share, wide = _fact("impedance_low"), _fact("impedance_high")
    least = share["value"] / PERCENT * nominal_ohm + loop_ohm
    most = wide["value"] / PERCENT * nominal_ohm + loop_ohm
    reading = nominal_ohm + loop_ohm if measured_ohm is None else not_negative("measured_ohm", measured_ohm, "ohm")
    notes = ["With an alternating-current meter, loads on, amplifier off: a direct-current meter reads only the winding.",
             f"Above {wide['value'] / PERCENT:g} times the nominal load something is off or broken ({wide.status}); one of "
             "several loads that is off may stay below it."]
    if measured_ohm is not None and standing(measured_ohm, None, most) == ABOVE:
        notes.insert(0, f"The reading is above {most:.4g} ohm: a load is off or broken, or a conductor is.")
    return Working(
        "Impedance of a loudspeaker line",
        "Z_min = p / 100 * Z + R",
        (
            share.shown("p", "share of nominal"),
            Value("Z", "nominal load", nominal_ohm, "ohm"),
            Value("R", "loop of the cable", loop_ohm, "ohm"),
        ),
        Value("Z", "nominal with cable" if measured_ohm is None else "reading", reading, "ohm"),
        (share.basis(), wide.basis()),
        Value("Z_min", "least", least, "ohm"),
        ">=",
        tuple(notes),
        (Value("Z_max", "greatest, wide", most, "ohm"),),
    )


def link_length(length_m: float, measured_m: float | None = None, doubt_percent: float = 0.0) -> Working:
    """Length that a field tester should read on a data line, and the greatest that is allowed.

    Parameters
    ----------
    length_m : length of the line by plan or by measure, m, above zero
    measured_m : what the tester read, m, if there is a reading; then it is the result
    doubt_percent : by how much the length may be off, %, 0 if it was measured on the cable, below 100

    Returns m: the length, or the reading, against 90 m; what fits the line, 10 % either way, stands under 'also'. Source:
    tester glossary (90 m); project specification (10 % length tolerance of a tester).
    """
    positive("length_m", length_m, "m")
    most, tolerance = fact("data_limits", "permanent_link"), fact("data_limits", "length_tolerance")
    reading = length_m if measured_m is None else not_negative("measured_m", measured_m, "m")
    within("doubt_percent", doubt_percent, 0.0, PERCENT - 1, "%", "a length that may be off by all of itself is not known")
    share, doubt = tolerance["value"] / PERCENT, doubt_percent / PERCENT
    fits = min(length_m * (1 + share) * (1 + doubt), most["value"])
    return Working(
        "Length of a data line by its tester",
        "l = reading or planned length",
        (
            Value("l_0", "length of the line", length_m, "m"),
            tolerance.shown("t", "tolerance of a tester"),
            Value("d", "the length may be off by", doubt_percent, "%"),
        ),
        Value("l", "length" if measured_m is None else "reading", reading, "m"),
        (most.basis(), tolerance.basis()),
        most.shown("l_max", "permanent link"),
        also=(
            Value("", "least that fits the line", length_m * (1 - share) * (1 - doubt), "m"),
            Value("", "most that fits the line", fits, "m"),
        ),
    )


def earth_continuity(measured_ohm: float) -> Working:
    """Resistance of the protective conductor to the outlet against 1 ohm, where the code has no value of its own.

    Parameters
    ----------
    measured_ohm : reading, ohm, zero or more

    Returns ohm. Source: common practice, no source; the code in force decides.
    """
    row = _fact("earth")
    return Working(
        "Protective conductor",
        "R = R_m",
        (Value("R_m", "reading", not_negative("measured_ohm", measured_ohm, "ohm"), "ohm"),),
        Value("R", "resistance", measured_ohm, "ohm"),
        (row.basis(),),
        row.shown("", "most"),
        notes=("By the licensed electrician.",),
    )
