"""Analogue lines: levels, the corner of a microphone line, bridging, thermal noise, phantom power."""

from math import isfinite, log10, pi, sqrt

from stagefloor.calculations.inputs import choice, finite, not_negative, positive
from stagefloor.core.problems import Problem
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import fact

CIRCUIT = Basis("circuit theory", ARITHMETIC)
SUPPLIES = {"P48": "phantom", "P24": "p24", "P12": "p12"}
DBU, DBV = "dBu", "dBV"
AUDIO_TOP = 20_000.0  # Hz, upper end of the audio band by convention
NANO, KILO, PICO = 1e9, 1e3, 1e12


def _reference(unit: str) -> float:
    return fact(
        "analogue", "dbu_reference" if choice("unit", unit, (DBU, DBV)) == DBU else "dbv_reference"
    ).si()


def level(voltage_v: float, unit: str = DBU) -> Working:
    """Level of a voltage.

    Parameters
    ----------
    voltage_v : rms voltage, V, above zero
    unit : dBu (0.7746 V) or dBV (1 V)

    Returns dBu or dBV. Source: trade definition.
    """
    positive("voltage_v", voltage_v, "V")
    reference = _reference(unit)
    return Working(
        "Level of a voltage",
        "G = 20 * log10(U / U_0)",
        (Value("U", "voltage", voltage_v, "V"), Value("U_0", "reference", reference, "V")),
        Value("G", "level", 20 * log10(voltage_v / reference), unit),
        (fact("analogue", "dbu_reference" if unit == DBU else "dbv_reference").basis(),),
    )


def voltage_of_level(level_db: float, unit: str = DBU) -> Working:
    """Voltage of a level.

    Parameters
    ----------
    level_db : level, dBu or dBV
    unit : dBu (0.7746 V) or dBV (1 V)

    Returns V rms. Source: trade definition.
    """
    finite("level_db", level_db, "dB")
    if not abs(level_db) <= 300:
        raise Problem(f"A level of {level_db:g} {unit} is beyond any audio line; check it.", "level_db")
    reference = _reference(unit)
    return Working(
        "Voltage of a level",
        "U = U_0 * 10^(G / 20)",
        (Value("G", "level", level_db, unit), Value("U_0", "reference", reference, "V")),
        Value("U", "voltage", reference * 10 ** (level_db / 20), "V"),
        (fact("analogue", "dbu_reference" if unit == DBU else "dbv_reference").basis(),),
    )


def level_gap(voltage_1_v: float, voltage_2_v: float) -> Working:
    """Gap between two voltages.

    Parameters
    ----------
    voltage_1_v : first voltage, V, above zero
    voltage_2_v : second voltage, V, above zero

    Returns dB, positive if the first is the higher. Source: definition of the decibel. A voice that drives
    one microphone
    to 15 mV stands 40 dB below a 1.5 V cell; other microphones give about 0.5 mV to over 100 mV (common
    practice).
    """
    positive("voltage_1_v", voltage_1_v, "V")
    positive("voltage_2_v", voltage_2_v, "V")
    return Working(
        "Gap between two voltages",
        "g = 20 * log10(U_1 / U_2)",
        (Value("U_1", "first", voltage_1_v, "V"), Value("U_2", "second", voltage_2_v, "V")),
        Value("g", "gap", 20 * log10(voltage_1_v / voltage_2_v), "dB"),
        (Basis("definition of the decibel", ARITHMETIC),),
    )


def microphone_below_cell() -> Working:
    """How far a loud voice on one microphone (15 mV) stands below a 1.5 V cell: a picture for a layman.

    Returns dB. Source: common practice, no source; other microphones give about 0.5 mV to over 100 mV.
    """
    cell, mic = fact("analogue", "one_and_half_volt_cell"), fact("analogue", "loud_microphone")
    low, high = fact("analogue", "microphone_low"), fact("analogue", "microphone_high")
    return Working(
        "A microphone below a dry cell",
        "g = 20 * log10(U_c / (U_m / 1000))",
        (cell.shown("U_c", "cell"), mic.shown("U_m", "microphone")),
        Value("g", "gap", level_gap(cell.si(), mic.si()).result.amount, "dB"),
        (cell.basis(), mic.basis()),
        notes=(f"Other microphones give about {low['value']:g} mV to over {high['value']:g} mV.",),
    )


def differential_capacitance(pair_f_m: float, screen_f_m: float) -> Working:
    """Capacitance per length that a balanced source sees.

    Parameters
    ----------
    pair_f_m : conductor to conductor, F/m, zero or more
    screen_f_m : conductor to screen, F/m, zero or more

    Returns pF/m. Source: arithmetic, C = C_cc + C_cs / 2 (the two screen capacitances are in series).
    """
    not_negative("pair_f_m", pair_f_m, "F/m")
    not_negative("screen_f_m", screen_f_m, "F/m")
    return Working(
        "Capacitance seen by a balanced source",
        "C = C_cc + C_cs / 2",
        (
            Value("C_cc", "conductor to conductor", pair_f_m * PICO, "pF/m"),
            Value("C_cs", "conductor to screen", screen_f_m * PICO, "pF/m"),
        ),
        Value("C", "capacitance", (pair_f_m + screen_f_m / 2) * PICO, "pF/m"),
        (Basis("two capacitances to the screen in series", ARITHMETIC),),
    )


def corner_frequency(source_ohm: float, length_m: float, capacitance_f_m: float) -> Working:
    """Frequency at which a microphone line is 3 dB down, with a bridging load.

    Parameters
    ----------
    source_ohm : source impedance, ohm, above zero
    length_m : length of the line, m, above zero
    capacitance_f_m : capacitance per length that the source sees, F/m, above zero

    Returns kHz against 40 kHz; the loss at 20 kHz stands under 'also'.
    Source: handbook author's worked example; the limit is common practice, no source.
    """
    positive("source_ohm", source_ohm, "ohm")
    positive("length_m", length_m, "m")
    positive("capacitance_f_m", capacitance_f_m, "F/m")
    wanted = fact("analogue", "corner_wanted")
    corner = 1 / (2 * pi * source_ohm * capacitance_f_m * length_m)
    return Working(
        "Corner of a microphone line",
        "f = 10^9 / (2 * pi * R * C * L)",
        (
            Value("R", "source", source_ohm, "ohm"),
            Value("C", "capacitance", capacitance_f_m * PICO, "pF/m"),
            Value("L", "length", length_m, "m"),
        ),
        Value("f", "corner", corner / KILO, "kHz"),
        (CIRCUIT, wanted.basis()),
        wanted.shown("", "limit"),
        ">=",
        ("The load is taken as bridging and is left out.",),
        (Value("a", "loss at 20 kHz", 10 * log10(1 + (AUDIO_TOP / corner) ** 2), "dB"),),
    )


def roll_off(frequency_hz: float, corner_hz: float) -> Working:
    """Loss of a first-order low pass at a frequency.

    Parameters
    ----------
    frequency_hz : frequency, Hz, zero or more
    corner_hz : frequency at which it is 3 dB down, Hz, above zero

    Returns dB. Source: circuit theory.
    """
    not_negative("frequency_hz", frequency_hz, "Hz")
    positive("corner_hz", corner_hz, "Hz")
    return Working(
        "Roll-off",
        "a = 10 * log10(1 + (f / f_c)^2)",
        (Value("f", "frequency", frequency_hz, "Hz"), Value("f_c", "corner", corner_hz, "Hz")),
        Value("a", "loss", 10 * log10(1 + (frequency_hz / corner_hz) ** 2), "dB"),
        (CIRCUIT,),
    )


def bridging_loss(source_ohm: float, load_ohm: float, kind: str = "microphone") -> Working:
    """Level lost because a load draws current from a source.

    Parameters
    ----------
    source_ohm : source impedance with the line, ohm, zero or more
    load_ohm : input impedance, ohm, above zero
    kind : microphone (load at least 5 times the source) or line (10 times)

    Returns dB against the loss of that ratio. Source: circuit theory; the ratios are common practice, no
    source.
    """
    not_negative("source_ohm", source_ohm, "ohm")
    positive("load_ohm", load_ohm, "ohm")
    choice("kind", kind, ("microphone", "line"))
    ratio = fact("analogue", f"bridging_{kind}")
    limit = 20 * log10(1 + 1 / ratio["value"])
    return Working(
        "Bridging loss",
        "a = 20 * log10((R_s + R_l) / R_l)",
        (Value("R_s", "source", source_ohm, "ohm"), Value("R_l", "load", load_ohm, "ohm")),
        Value("a", "loss", 20 * log10((source_ohm + load_ohm) / load_ohm), "dB"),
        (CIRCUIT, ratio.basis()),
        Value("", f"loss of a load {ratio['value']:g} times the source", limit, "dB"),
    )


def thermal_noise(
    resistance_ohm: float, bandwidth_hz: float = AUDIO_TOP, temperature_k: float = 300.0
) -> Working:
    """Thermal noise of a resistance.

    Parameters
    ----------
    resistance_ohm : resistance, ohm, above zero
    bandwidth_hz : bandwidth, Hz, above zero
    temperature_k : absolute temperature, K, above zero

    Returns dBu. Source: U = sqrt(4 k T R B), k by SI definition; 150 ohm gives -130.8 dBu, 200 ohm -129.6.
    """
    positive("resistance_ohm", resistance_ohm, "ohm")
    positive("bandwidth_hz", bandwidth_hz, "Hz")
    positive("temperature_k", temperature_k, "K")
    k, reference = fact("analogue", "boltzmann"), fact("analogue", "dbu_reference")
    volts = sqrt(4 * k["value"] * temperature_k * resistance_ohm * bandwidth_hz)
    return Working(
        "Thermal noise",
        "N = 20 * log10(sqrt(4 * k * T * R * B) / U_0)",
        (
            k.shown("k", "Boltzmann constant"),
            Value("T", "temperature", temperature_k, "K"),
            Value("R", "resistance", resistance_ohm, "ohm"),
            Value("B", "bandwidth", bandwidth_hz, "Hz"),
            reference.shown("U_0", "reference"),
        ),
        Value("N", "noise", 20 * log10(volts / reference["value"]), "dBu", 5),
        (k.basis(), reference.basis()),
        also=(Value("U", "noise voltage", volts * NANO, "nV"),),
    )


def phantom_voltage(
    current_a: float, conductor_ohm: float = 0.0, screen_ohm: float = 0.0, supply: str = "P48"
) -> Working:
    """Phantom voltage left at a microphone.

    Parameters
    ----------
    current_a : current of the microphone, both legs together, A, zero or more
    conductor_ohm : resistance of one signal conductor, ohm, zero or more
    screen_ohm : resistance of the screen, ohm, zero or more
    supply : P48, P24 or P12

    Returns V. Raises Problem if the microphone asks more than the standard lets it take.
    Source: IEC 61938: 48 V, 6.81 kohm a leg, at most 10 mA; both legs out in parallel, the screen back.
    """
    not_negative("current_a", current_a, "A")
    not_negative("conductor_ohm", conductor_ohm, "ohm")
    not_negative("screen_ohm", screen_ohm, "ohm")
    name = SUPPLIES[choice("supply", supply, list(SUPPLIES))]
    volts, feed, most = (fact("analogue", f"{name}_{part}") for part in ("supply", "feed", "current"))
    if current_a > most.si():
        raise Problem(
            f"A microphone may take at most {most['value']:g} mA from {supply}, not {current_a * KILO:g} mA; "
            "check its data sheet.",
            "current_a",
        )
    left = volts["value"] - current_a * (feed.si() / 2 + conductor_ohm / 2 + screen_ohm)
    if left < 0:
        raise Problem(
            f"Nothing is left of {supply} at {current_a * KILO:g} mA over this line; check its resistance.",
            "current_a",
        )
    return Working(
        f"Phantom voltage at the microphone, {supply}",
        "U = U_0 - I / 1000 * (R_f / 2 + R_c / 2 + R_s)",
        (
            volts.shown("U_0", "supply"),
            Value("I", "current", current_a * KILO, "mA"),
            Value("R_f", "feed resistor of a leg", feed.si(), "ohm"),
            Value("R_c", "one conductor", conductor_ohm, "ohm"),
            Value("R_s", "screen", screen_ohm, "ohm"),
        ),
        Value("U", "voltage at the microphone", left, "V"),
        (volts.basis(), feed.basis(), most.basis()),
    )


def phantom_short(supply: str = "P48") -> Working:
    """Current if both legs are shorted to the screen.

    Parameters
    ----------
    supply : P48, P24 or P12

    Returns mA. Source: arithmetic on IEC 61938: 48 V over two feed resistors in parallel.
    """
    name = SUPPLIES[choice("supply", supply, list(SUPPLIES))]
    volts, feed = fact("analogue", f"{name}_supply"), fact("analogue", f"{name}_feed")
    return Working(
        f"Short of a phantom supply, {supply}",
        "I = 1000 * U_0 / (R_f / 2)",
        (volts.shown("U_0", "supply"), Value("R_f", "feed resistor of a leg", feed.si(), "ohm")),
        Value("I", "current", KILO * volts["value"] / (feed.si() / 2), "mA"),
        (volts.basis(), feed.basis()),
    )


def balance_lost(common_mode_ohm: float, difference_ohm: float) -> Working:
    """Common-mode rejection left by a resistance in one leg only.

    Parameters
    ----------
    common_mode_ohm : common-mode input impedance of a leg, ohm, above zero
    difference_ohm : extra resistance in one leg, ohm, above zero

    Returns dB. Source: circuit theory, 20 log10(Z / dR).
    """
    positive("common_mode_ohm", common_mode_ohm, "ohm")
    positive("difference_ohm", difference_ohm, "ohm")
    value = 20 * log10(common_mode_ohm / difference_ohm)
    if not isfinite(value):
        raise Problem("These two resistances do not give a number; check them.", "difference_ohm")
    return Working(
        "Rejection left by an unequal leg",
        "c = 20 * log10(Z / R)",
        (
            Value("Z", "common-mode impedance of a leg", common_mode_ohm, "ohm"),
            Value("R", "difference between the legs", difference_ohm, "ohm"),
        ),
        Value("c", "rejection", value, "dB"),
        (CIRCUIT,),
    )


def digital_audio_length(length_m: float, cable: str = "110 ohm pair") -> Working:
    """Length of a two-channel digital audio line (AES3) against the practical distance of its cable.

    Parameters
    ----------
    length_m : length, m, zero or more
    cable : 110 ohm pair (100 m), ordinary microphone pair (about 15 m) or 75 ohm coax (1000 m)

    Returns m. Source: cinema-processor manual and broadcast-engineering article; AES3 itself says up to a
    few hundred metres.
    """
    not_negative("length_m", length_m, "m")
    keys = {
        "110 ohm pair": "digital_audio_length",
        "ordinary microphone pair": "digital_audio_ordinary_pair",
        "75 ohm coax": "digital_audio_coax",
    }
    limit = fact("analogue", keys[choice("cable", cable, list(keys))])
    return Working(
        f"Digital audio line on {cable}",
        "L = length",
        (Value("L", "length", length_m, "m"),),
        Value("L", "length", length_m, "m"),
        (limit.basis(),),
        limit.shown("", "practical distance"),
    )
