"""Data over copper: lengths, cords, warmth, insertion loss, and power over the same pairs."""

from math import sqrt

from stagefloor.calculations.inputs import choice, not_negative, positive, within
from stagefloor.core.problems import Problem
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import fact, load

CIRCUIT = Basis("circuit theory", ARITHMETIC)
GAUGES = ("24", "26")
CATEGORIES = ("5e", "6")
PERCENT = 100.0
PAIRS = ("two pairs", "four pairs")


def channel_length(fixed_m: float, cords_m: float) -> Working:
    """Length of a data channel, fixed cable and all cords, against 100 m; notes on the fixed part.

    Parameters
    ----------
    fixed_m : fixed cable between its two ends, m, zero or more
    cords_m : all cords together, m, zero or more

    Returns m. Source: ANSI/TIA-568 and ISO/IEC 11801: channel 100 m, permanent link 90 m, cords 10 m at 90 m.
    """
    not_negative("fixed_m", fixed_m, "m")
    not_negative("cords_m", cords_m, "m")
    channel, link, cords = (fact("data_limits", k) for k in ("channel", "permanent_link", "cords"))
    notes = []
    if fixed_m > link["value"]:
        notes.append(
            f"The fixed cable is {fixed_m:g} m, {fixed_m - link['value']:g} m over the "
            f"{link['value']:g} m of a "
            "permanent link."
        )
    if cords_m > cords["value"]:
        notes.append(
            f"More than {cords['value']:g} m of cords: the fixed cable must be shorter; see the cord formula."
        )
    return Working(
        "Data channel length",
        "L = H + C",
        (Value("H", "fixed cable", fixed_m, "m"), Value("C", "cords", cords_m, "m")),
        Value("L", "channel", fixed_m + cords_m, "m"),
        (channel.basis(), link.basis()),
        channel.shown("", "limit"),
        notes=tuple(notes),
    )


def permanent_link_length(fixed_m: float) -> Working:
    """Length of the fixed cable against the 90 m of a permanent link.

    Parameters
    ----------
    fixed_m : fixed cable between its two ends, m, zero or more

    Returns m. Source: ANSI/TIA-568 and ISO/IEC 11801.
    """
    not_negative("fixed_m", fixed_m, "m")
    link = fact("data_limits", "permanent_link")
    return Working(
        "Fixed data cable",
        "L = H",
        (Value("H", "fixed cable", fixed_m, "m"),),
        Value("L", "length", fixed_m, "m"),
        (link.basis(),),
        link.shown("", "limit"),
    )


def cords_allowed(fixed_m: float, cord_awg: str = "24") -> Working:
    """Total length of cords allowed with a length of fixed cable.

    Parameters
    ----------
    fixed_m : fixed cable, m, 0 to 90
    cord_awg : gauge of the cords, 24 or 26

    Returns m, all cords together; with the usual equipment and patch cords taken off under 'also'.
    Source: ANSI/TIA-568.1, C = (102 - H)/(1 + D); the older form (93.6 - H)/1.2 is the same line with 7 m
    of other cords.
    """
    link = fact("data_limits", "permanent_link")["value"]
    within("fixed_m", fixed_m, 0.0, link, "m", "a permanent link is at most 90 m")
    choice("cord_awg", cord_awg, GAUGES)
    constant, penalty = fact("data_limits", "cord_constant"), fact("data_limits", f"cord_D_{cord_awg}")
    other, most = (
        fact("data_limits", f"cords_elsewhere_{cord_awg}"),
        fact("data_limits", f"longest_work_cord_{cord_awg}"),
    )
    total = (constant["value"] - fixed_m) / (1 + penalty["value"])
    cord = total - other["value"]
    notes: tuple[str, ...] = ()
    if cord > most["value"]:
        notes = (f"The longest cord at the outlet is {most['value']:g} m, whatever the formula gives.",)
    return Working(
        "Cords allowed",
        "C = (K - H) / (1 + D)",
        (
            constant.shown("K", "constant"),
            Value("H", "fixed cable", fixed_m, "m"),
            penalty.shown("D", f"penalty of {cord_awg} AWG cords"),
        ),
        Value("C", "all cords", total, "m"),
        (constant.basis(), penalty.basis()),
        notes=notes,
        also=(
            Value(
                "W",
                f"cord at the outlet, with {other['value']:g} m of other cords",
                min(cord, most["value"]),
                "m",
            ),
        ),
    )


def length_when_warm(temperature_c: float, screened: bool = False) -> Working:
    """Greatest fixed length where cable is warmer than 20 C.

    Parameters
    ----------
    temperature_c : cable temperature, degC, 20 to 60
    screened : whether the cable is screened

    Returns m, with 10 m of cords at 20 C.
    Source: ANSI/TIA-568.2-D annex for unscreened cable, the row at or above the temperature (84 m at 40 C
    from a
    public page, the other rows from memory); screened cable 0.2 % a degree (from memory).
    """
    within("temperature_c", temperature_c, 20.0, 60.0, "degC", "cabling standards cover this range")
    link, rise = fact("data_limits", "permanent_link"), fact("data_limits", "insertion_screened")
    if screened:
        length = link["value"] / (1 + rise["value"] / PERCENT * (temperature_c - 20))
        return Working(
            "Fixed data cable when warm, screened",
            "L = L_20 / (1 + p / 100 * (T - 20))",
            (
                link.shown("L_20", "at 20 °C"),
                rise.shown("p", "rise of insertion loss a degree"),
                Value("T", "temperature", temperature_c, "°C"),
            ),
            Value("L", "length", length, "m"),
            (rise.basis(), link.basis()),
        )
    row = next(r for r in load("data_length_by_temperature") if float(r.key[0]) >= temperature_c)
    return Working(
        "Fixed data cable when warm, unscreened",
        f"table look-up, row {row.key[0]} °C",
        (Value("T", "temperature", temperature_c, "°C"),),
        row.shown("L", "length", "length"),
        (row.basis(),),
    )


def insertion_loss(
    category: str, length_m: float = 100.0, connectors: int = 4, cords_m: float = 10.0
) -> Working:
    """Insertion loss of a channel at 100 MHz from its cable and connectors.

    Parameters
    ----------
    category : 5e or 6
    length_m : whole channel, m, above zero, at most 100
    connectors : mated connectors in the channel, 0 to 4
    cords_m : length of cords within it, m, 0 to 10; cords have 20 % more loss than fixed cable

    Returns dB at 100 MHz, to 0.1 dB as the limits are printed. Source: TIA-568-B.2 comparison table: 1.02 x
    100 m of cable + 4 connectors.
    """
    choice("category", category, CATEGORIES)
    most = fact("data_limits", "channel")["value"]
    within("length_m", length_m, 0.0, most, "m", "a channel is at most 100 m")
    within(
        "cords_m",
        cords_m,
        0.0,
        min(length_m, fact("data_limits", "cords")["value"]),
        "m",
        "cords are part of the channel",
    )
    within(
        "connectors",
        connectors,
        0,
        int(fact("data_limits", "channel_connectors")["value"]),
        "",
        "a channel has at most four",
    )
    cable, plug = fact("data_limits", f"cable_{category}"), fact("data_limits", f"connector_{category}")
    limit, cord = fact("data_limits", f"channel_{category}"), fact("data_limits", "cord_D_24")
    loss = cable["value"] * (length_m + cord["value"] * cords_m) / most + connectors * plug["value"]
    return Working(
        "Insertion loss of a data channel at 100 MHz",
        "a = round(a_c * (L + D * C) / 100 + n * a_p, 1)",
        (
            cable.shown("a_c", "100 m of cable"),
            Value("L", "channel", length_m, "m"),
            cord.shown("D", "extra loss of cords"),
            Value("C", "cords", cords_m, "m"),
            Value("n", "connectors", connectors),
            plug.shown("a_p", "one connector"),
        ),
        Value("a", "insertion loss", round(loss, 1), "dB"),
        (cable.basis(), plug.basis(), limit.basis()),
        limit.shown("", "limit"),
    )


def data_loop(length_m: float, ohm_per_m: float, part: str = "permanent link") -> Working:
    """Loop resistance of one pair against its limit.

    Parameters
    ----------
    length_m : length, m, zero or more
    ohm_per_m : resistance of one conductor, ohm/m, above zero
    part : permanent link (21 ohm) or channel (25 ohm)

    Returns ohm. Source: tester training page (21 ohm); ANSI/TIA-568.2-D (25 ohm, from memory).
    """
    not_negative("length_m", length_m, "m")
    positive("ohm_per_m", ohm_per_m, "ohm/m")
    key = {"permanent link": "loop_permanent_link", "channel": "loop_channel"}
    limit = fact("data_limits", key[choice("part", part, list(key))])
    return Working(
        "Loop resistance of a data pair",
        "R = 2 * L * r / 1000",
        (Value("L", "length", length_m, "m"), Value("r", "one conductor", ohm_per_m * 1000, "ohm/km")),
        Value("R", "loop resistance", 2 * length_m * ohm_per_m, "ohm"),
        (limit.basis(),),
        limit.shown("", "limit"),
    )


def power_loop(length_m: float, ohm_per_m: float, pairs: str = "two pairs") -> Working:
    """Resistance that power over data sees: conductors of a pair work in parallel, out and back.

    Parameters
    ----------
    length_m : length, m, zero or more
    ohm_per_m : resistance of one conductor, ohm/m, above zero
    pairs : two pairs or four pairs in use

    Returns ohm. Source: circuit theory: half of the pair loop that a tester reads; four pairs half of that
    again.
    """
    not_negative("length_m", length_m, "m")
    positive("ohm_per_m", ohm_per_m, "ohm/m")
    sets = {"two pairs": 1, "four pairs": 2}[choice("pairs", pairs, PAIRS)]
    limit = fact("power_over_data", "pair_set_loop" if sets == 1 else "four_pair_loop")
    return Working(
        "Resistance seen by power over data",
        "R = L * r / 1000 / s",
        (
            Value("L", "length", length_m, "m"),
            Value("r", "one conductor", ohm_per_m * 1000, "ohm/km"),
            Value("s", "sets of two pairs", sets),
        ),
        Value("R", "resistance", length_m * ohm_per_m / sets, "ohm"),
        (CIRCUIT, limit.basis()),
        limit.shown("", "limit"),
    )


def power_over_data(device_w: float, source_v: float, loop_ohm: float) -> Working:
    """Current of a device that takes a constant power over the data pairs.

    Parameters
    ----------
    device_w : power at the device, W, above zero
    source_v : voltage at the source, V, above zero
    loop_ohm : resistance of the line as power sees it, ohm, zero or more

    Returns A; voltage at the device and power of the source stand under 'also'.
    Raises Problem if the line can't carry the power at all. Source: circuit theory, V = U - I R and P = V I.
    """
    positive("device_w", device_w, "W")
    positive("source_v", source_v, "V")
    not_negative("loop_ohm", loop_ohm, "ohm")
    root = source_v**2 - 4 * loop_ohm * device_w
    if root < 0:
        raise Problem(
            f"{device_w:g} W can't be had over {loop_ohm:g} ohm from {source_v:g} V; shorten the "
            "line or take a "
            "lower class.",
            "loop_ohm",
        )
    current = 2 * device_w / (source_v + sqrt(root))
    return Working(
        "Power over data: current",
        "I = 2 * P / (U + sqrt(U^2 - 4 * R * P))",
        (
            Value("P", "power at the device", device_w, "W"),
            Value("U", "voltage at the source", source_v, "V"),
            Value("R", "line", loop_ohm, "ohm"),
        ),
        Value("I", "current", current, "A"),
        (CIRCUIT,),
        also=(
            Value("V", "voltage at the device", source_v - current * loop_ohm, "V"),
            Value("P_s", "power of the source", source_v * current, "W"),
        ),
    )


def power_class(power_class: str, loop_ohm: float | None = None) -> Working:
    """Voltage at the device of a class over its worst line, or over a given one.

    Parameters
    ----------
    power_class : class 0 to 8
    loop_ohm : resistance of the line as power sees it, ohm, zero or more; the class's worst line if left out

    Returns V at the device against the least its type asks; the power of the source stands under 'also'.
    Source: IEEE 802.3 class table, as published.
    """
    row = load("power_over_data_classes").row(power_class)
    loop = row["loop"] if loop_ohm is None else not_negative("loop_ohm", loop_ohm, "ohm")
    found = power_over_data(row["device_power"], row["source_voltage"], loop)
    volts, watts = found.also
    notes = tuple(n for n in (row.text("note"),) if n)
    least = fact("power_over_data", f"type_{row.text('type')}_device_voltage")
    return Working(
        f"Power over data, class {power_class}: voltage at the device",
        "V = U - I * R",
        (
            row.shown("U", "least voltage at the source", "source_voltage"),
            row.shown("P", "power at the device", "device_power"),
            Value("R", "line", loop, "ohm"),
            Value("I", "current", found.result.amount, "A"),
        ),
        volts,
        (row.basis(), least.basis()),
        least.shown("", "least"),
        ">=",
        notes,
        (watts,),
    )


def fixed_for_long_cord(cord_m: float, cord_awg: str = "24") -> Working:
    """Fixed cable that a long cord at the outlet still leaves.

    Parameters
    ----------
    cord_m : cord at the outlet, m, zero or more, at most 22 (24 AWG) or 17 (26 AWG)
    cord_awg : gauge of the cords, 24 or 26

    Returns m, at most 90. Source: the cord formula solved for H.
    """
    choice("cord_awg", cord_awg, GAUGES)
    most = fact("data_limits", f"longest_work_cord_{cord_awg}")
    within("cord_m", cord_m, 0.0, most["value"], "m", f"longest cord at an outlet, {cord_awg} AWG")
    constant, penalty = fact("data_limits", "cord_constant"), fact("data_limits", f"cord_D_{cord_awg}")
    other, link = fact("data_limits", f"cords_elsewhere_{cord_awg}"), fact("data_limits", "permanent_link")
    value = constant["value"] - (1 + penalty["value"]) * (cord_m + other["value"])
    return Working(
        "Fixed cable with a long cord",
        "H = min(K - (1 + D) * (W + T), H_max)",
        (
            constant.shown("K", "constant"),
            penalty.shown("D", "penalty of cords"),
            Value("W", "cord at the outlet", cord_m, "m"),
            other.shown("T", "other cords"),
            link.shown("H_max", "permanent link"),
        ),
        Value("H", "fixed cable", min(value, link["value"]), "m"),
        (constant.basis(), penalty.basis()),
    )
