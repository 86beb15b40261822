"""Loudspeaker lines: loss, damping at the loudspeaker, 70 and 100 V lines; rival limits side by side."""

from math import log10

from stagefloor.calculations.copper import gauge_ohm_per_m, loop_resistance
from stagefloor.calculations.inputs import choice, not_negative, positive, within
from stagefloor.core.problems import Problem
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import fact

CIRCUIT = Basis("circuit theory", ARITHMETIC)
PERCENT = 100.0
LINE_VOLTAGES = {"100 V": "line_100", "70 V": "line_70", "25 V": "line_25"}


def loudspeaker_loss(
    length_m: float, awg: str | int, load_ohm: float, temperature_c: float = 20.0
) -> Working:
    """Level lost between amplifier and loudspeaker in the cable.

    Parameters
    ----------
    length_m : one-way length, m, zero or more
    awg : gauge of each conductor, 4/0 to 40
    load_ohm : load at the far end, ohm, above zero
    temperature_c : conductor temperature, degC, -40 to 120

    Returns dB, against the usual 0.5 dB. Source: circuit theory; the limit is common practice, no source.
    """
    positive("load_ohm", load_ohm, "ohm")
    loop = loop_resistance(length_m, gauge_ohm_per_m(awg, temperature_c)).result.amount
    wanted = fact("loudspeaker", "loss_wanted")
    power = PERCENT * (1 - (load_ohm / (load_ohm + loop)) ** 2)
    return Working(
        "Loss in a loudspeaker line",
        "a = 20 * log10((Z + R) / Z)",
        (Value("Z", "load", load_ohm, "ohm"), Value("R", "loop resistance of the line", loop, "ohm")),
        Value("a", "loss", 20 * log10((load_ohm + loop) / load_ohm), "dB", 3),
        (CIRCUIT, fact("copper", "conductivity").basis(), wanted.basis()),
        wanted.shown("", "limit"),
        notes=(f"Solid copper of {awg} AWG at {temperature_c:g} °C; stranded cable has 2 to 5 % more.",),
        also=(
            Value("p", "less power at the load", power, "%", 3),
            Value(
                "q", "of the amplifier's power, lost in the cable", PERCENT * loop / (load_ohm + loop), "%", 3
            ),
        ),
    )


def longest_for_loss(loss_db: float, awg: str | int, load_ohm: float, temperature_c: float = 20.0) -> Working:
    """Greatest one-way length of a loudspeaker line for a level loss.

    Parameters
    ----------
    loss_db : loss allowed, dB, above zero
    awg : gauge of each conductor, 4/0 to 40
    load_ohm : load, ohm, above zero
    temperature_c : conductor temperature, degC, -40 to 120

    Returns m. Source: circuit theory, R = Z (10^(a/20) - 1).
    """
    positive("loss_db", loss_db, "dB")
    positive("load_ohm", load_ohm, "ohm")
    each = gauge_ohm_per_m(awg, temperature_c)
    return Working(
        "Longest loudspeaker line for a loss",
        "L = 1000 * Z * (10^(a / 20) - 1) / (2 * r)",
        (
            Value("Z", "load", load_ohm, "ohm"),
            Value("a", "loss", loss_db, "dB"),
            Value("r", "one conductor", each * 1000, "ohm/km"),
        ),
        Value("L", "one-way length", load_ohm * (10 ** (loss_db / 20) - 1) / (2 * each), "m"),
        (CIRCUIT,),
        notes=(f"At {temperature_c:g} °C.",),
    )


def system_damping(load_ohm: float, amplifier_damping: float, loop_ohm: float) -> Working:
    """Damping factor at the loudspeaker, amplifier and line together.

    Parameters
    ----------
    load_ohm : nominal load, ohm, above zero
    amplifier_damping : damping factor of the amplifier into the same load, above zero
    loop_ohm : loop resistance of the line, ohm, zero or more

    Returns the damping factor against 25; other sources ask 20 or 50.
    Source: reference page with a worked example; limit from an installation article.
    """
    positive("load_ohm", load_ohm, "ohm")
    positive("amplifier_damping", amplifier_damping)
    not_negative("loop_ohm", loop_ohm, "ohm")
    least, better = fact("loudspeaker", "damping_least"), fact("loudspeaker", "damping_preferred")
    value = load_ohm / (load_ohm / amplifier_damping + loop_ohm)
    return Working(
        "Damping factor at the loudspeaker",
        "D = Z / (Z / D_a + R)",
        (
            Value("Z", "load", load_ohm, "ohm"),
            Value("D_a", "damping factor of the amplifier", amplifier_damping),
            Value("R", "loop resistance of the line", loop_ohm, "ohm"),
        ),
        Value("D", "damping factor", value),
        (Basis("reference page with worked example"), least.basis(), better.basis()),
        least.shown("", "limit"),
        ">=",
        (
            f"Another source prefers {better['value']:g}, a third asks "
            f"{fact('loudspeaker', 'damping_third')['value']:g}.",
        ),
    )


def loop_for_damping(load_ohm: float, amplifier_damping: float, wanted: float) -> Working:
    """Greatest loop resistance of a line for a damping factor at the loudspeaker.

    Parameters
    ----------
    load_ohm : nominal load, ohm, above zero
    amplifier_damping : damping factor of the amplifier, above zero
    wanted : damping factor wanted at the loudspeaker, above zero and below the amplifier's

    Returns ohm. Raises Problem if the amplifier alone is already below what is wanted. Source: as
    system_damping.
    """
    positive("load_ohm", load_ohm, "ohm")
    positive("wanted", wanted)
    if wanted >= positive("amplifier_damping", amplifier_damping):
        raise Problem(
            f"A damping factor of {wanted:g} is out of reach: the amplifier alone has {amplifier_damping:g}; "
            "ask for less.",
            "wanted",
        )
    value = load_ohm / wanted - load_ohm / amplifier_damping
    return Working(
        "Greatest loop resistance for a damping factor",
        "R = Z / D - Z / D_a",
        (
            Value("Z", "load", load_ohm, "ohm"),
            Value("D", "damping factor wanted", wanted),
            Value("D_a", "damping factor of the amplifier", amplifier_damping),
        ),
        Value("R", "loop resistance", value, "ohm"),
        (Basis("reference page with worked example"),),
    )


def power_in_cable(drive_v: float, load_ohm: float, loop_ohm: float) -> Working:
    """Power that a loudspeaker line turns into heat, with what reaches the load.

    Parameters
    ----------
    drive_v : voltage at the amplifier, V, above zero
    load_ohm : load, ohm, above zero
    loop_ohm : loop resistance of the line, ohm, zero or more

    Returns W in the cable; power of the amplifier and of the load stand under 'also'. Source: circuit theory.
    """
    positive("drive_v", drive_v, "V")
    positive("load_ohm", load_ohm, "ohm")
    not_negative("loop_ohm", loop_ohm, "ohm")
    current = drive_v / (load_ohm + loop_ohm)
    return Working(
        "Power lost in a loudspeaker line",
        "P = (U / (Z + R))^2 * R",
        (
            Value("U", "drive", drive_v, "V"),
            Value("Z", "load", load_ohm, "ohm"),
            Value("R", "loop resistance", loop_ohm, "ohm"),
        ),
        Value("P", "power in the cable", current**2 * loop_ohm, "W"),
        (CIRCUIT,),
        also=(
            Value("P_t", "power from the amplifier", drive_v * current, "W"),
            Value("P_l", "power at the load", current**2 * load_ohm, "W"),
        ),
    )


def line_voltage(line: str) -> float:
    """Voltage of a distributed line, V: '100 V', '70 V' (70.7) or '25 V'; Problem for another."""
    return fact("loudspeaker", LINE_VOLTAGES[choice("line", line, list(LINE_VOLTAGES))])["value"]


def line_impedance(power_w: float, line: str) -> Working:
    """Impedance of the loads on a distributed line at their tapped power.

    Parameters
    ----------
    power_w : sum of the tapped powers, W, above zero
    line : 100 V, 70 V (70.7 V) or 25 V

    Returns ohm. Source: line-impedance note, Z = U^2/P. Measure with an AC impedance meter, not with DC.
    """
    positive("power_w", power_w, "W")
    volts = line_voltage(line)
    return Working(
        "Impedance of a distributed line",
        "Z = U^2 / P",
        (
            fact("loudspeaker", LINE_VOLTAGES[line]).shown("U", "line voltage"),
            Value("P", "tapped power", power_w, "W"),
        ),
        Value("Z", "impedance", volts**2 / power_w, "ohm"),
        (fact("loudspeaker", LINE_VOLTAGES[line]).basis(), CIRCUIT),
    )


def line_conductor(length_m: float, power_w: float, line: str, loss_percent: float = 10.0) -> Working:
    """Copper area for a distributed line that loses a share of the amplifier's power in the cable.

    Parameters
    ----------
    length_m : one-way length to the load, all of it taken at the far end, m, above zero
    power_w : tapped power, W, above zero
    line : 100 V, 70 V or 25 V
    loss_percent : share of the power lost in the cable, per cent, above 0 and below 100

    Returns mm2. Source: note on line loss, A = 2 rho (100 - n) L P / (n U^2), rho 0.0175 ohm mm2/m.
    """
    positive("length_m", length_m, "m")
    positive("power_w", power_w, "W")
    within("loss_percent", loss_percent, 0.01, 99.99, "%", "a share of the power")
    rho = fact("loudspeaker", "line_resistivity")
    volts = line_voltage(line)
    area = 2 * rho["value"] * (PERCENT - loss_percent) * length_m * power_w / (loss_percent * volts**2)
    return Working(
        "Conductor of a distributed line",
        "A = 2 * k * (100 - n) * L * P / (n * U^2)",
        (
            rho.shown("k", "resistivity"),
            Value("n", "power lost in the cable", loss_percent, "%"),
            Value("L", "one-way length", length_m, "m"),
            Value("P", "tapped power", power_w, "W"),
            fact("loudspeaker", LINE_VOLTAGES[line]).shown("U", "line voltage"),
        ),
        Value("A", "conductor area", area, "mm²"),
        (rho.basis(),),
        notes=("10 % of the amplifier's power in the cable is 0.92 dB; 10.9 % less at the load is 0.5 dB.",),
    )


def parallel_load(loads_ohm: list[float]) -> Working:
    """Impedance of loudspeakers in parallel and its lowest value.

    Parameters
    ----------
    loads_ohm : nominal impedance of each loudspeaker, ohm, at least one, above zero

    Returns ohm; the lowest impedance a loudspeaker may show (80 % of nominal) stands under 'also'.
    Source: circuit theory; IEC 60268-5 for the 80 %.
    """
    if not loads_ohm:
        raise Problem("'loads_ohm' is empty; give at least one loudspeaker.", "loads_ohm")
    nominal = 1 / sum(1 / positive("loads_ohm", z, "ohm") for z in loads_ohm)
    share = fact("loudspeaker", "impedance_least_share")
    return Working(
        "Loudspeakers in parallel",
        "Z = 1 / sum of 1 / Z_i",
        (Value("n", "loudspeakers", len(loads_ohm)),),
        Value("Z", "impedance", nominal, "ohm"),
        (CIRCUIT, share.basis()),
        also=(Value("Z_min", "lowest it may show", nominal * share["value"] / PERCENT, "ohm"),),
    )
