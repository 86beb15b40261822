"""Copper: gauge geometry, resistance with temperature, the loop of a pair. Knows no signal."""

from math import pi

from stagefloor.calculations.inputs import choice, not_negative, positive, within
from stagefloor.core.problems import Problem
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import fact, load

SMALLEST_GAUGE = 40
LARGEST_GAUGE = {"1/0": 0, "2/0": -1, "3/0": -2, "4/0": -3, "0": 0}
KILO = 1000.0
COLDEST, HOTTEST = -40.0, 120.0  # degC; the linear law is used within this range (from memory)
PERCENT = 100.0


def gauge_number(awg: str | int | float) -> int:
    """The gauge as a number: 12 is 12, 1/0 is 0, 4/0 is -3; Problem for anything else."""
    text = str(awg).strip().upper().removesuffix("AWG").strip()
    if text in LARGEST_GAUGE:
        return LARGEST_GAUGE[text]
    try:
        number = int(float(text)) if float(text).is_integer() else SMALLEST_GAUGE + 1
    except (ValueError, OverflowError):
        number = SMALLEST_GAUGE + 1
    if not min(LARGEST_GAUGE.values()) <= number <= SMALLEST_GAUGE:
        raise Problem(f"'{awg}' is not a wire gauge; type one from 4/0 to {SMALLEST_GAUGE}.", "awg")
    return number


def gauge_diameter(awg: str | int) -> Working:
    """Diameter of a solid conductor of an American wire gauge.

    Parameters
    ----------
    awg : gauge, 4/0 to 40

    Returns m shown in mm. Source: ASTM B258: 0.127 mm at 36 AWG, ratio 92 over 39 steps.
    """
    n = gauge_number(awg)
    first, ratio, steps = fact("copper", "awg_36"), fact("copper", "awg_ratio"), fact("copper", "awg_steps")
    diameter = first["value"] * ratio["value"] ** ((36 - n) / steps["value"])
    return Working(
        "Diameter of a wire gauge",
        "d = d_36 * r^((36 - n) / s)",
        (
            first.shown("d_36", "diameter of 36 AWG"),
            ratio.shown("r", "ratio"),
            steps.shown("s", "steps"),
            Value("n", "gauge number", n),
        ),
        Value("d", "diameter", diameter, "mm"),
        (first.basis(),),
    )


def gauge_area_m2(awg: str | int) -> float:
    """Area of a solid conductor of an American wire gauge, m2."""
    return pi / 4 * (gauge_diameter(awg).result.amount / KILO) ** 2


def temperature_factor(temperature_c: float) -> float:
    """Resistance at a temperature over that at 20 C, copper; Problem outside -40 to 120 C."""
    within(
        "temperature_c",
        temperature_c,
        COLDEST,
        HOTTEST,
        "degC",
        "the linear law of copper is used in this range",
    )
    reference = fact("copper", "reference_temperature")["value"]
    return 1 + fact("copper", "temperature_coefficient")["value"] * (temperature_c - reference)


def gauge_ohm_per_m(awg: str | int, temperature_c: float = 20.0) -> float:
    """Resistance of one solid copper conductor of a gauge, ohm/m, at a temperature in degrees Celsius."""
    conductivity = fact("copper", "conductivity").si()
    return temperature_factor(temperature_c) / (conductivity * gauge_area_m2(awg))


def gauge_resistance(awg: str | int, temperature_c: float = 20.0, stranding_percent: float = 0.0) -> Working:
    """Resistance per length of one copper conductor of a gauge.

    Parameters
    ----------
    awg : gauge, 4/0 to 40
    temperature_c : conductor temperature, degC, -40 to 120
    stranding_percent : added for lay and tinning, per cent, 0 to 10; 2 to 5 is common practice

    Returns ohm/km. Source: ASTM B258 and 58 MS/m (100 % IACS) at 20 C, 0.00393 per degree.
    """
    within("stranding_percent", stranding_percent, 0.0, 10.0, "%", "lay and tinning add a few per cent")
    area = gauge_area_m2(awg) * 1e6
    conductivity, alpha = fact("copper", "conductivity"), fact("copper", "temperature_coefficient")
    factor = temperature_factor(temperature_c)
    value = KILO / (conductivity["value"] * area) * factor * (1 + stranding_percent / PERCENT)
    return Working(
        "Resistance of one conductor",
        "r = 1000 / (k * A) * (1 + a * (T - 20)) * (1 + s / 100)",
        (
            conductivity.shown("k", "conductivity"),
            Value("A", "conductor area", area, "mm²"),
            alpha.shown("a", "temperature coefficient"),
            Value("T", "temperature", temperature_c, "°C"),
            Value("s", "stranding", stranding_percent, "%"),
        ),
        Value("r", "resistance", value, "ohm/km"),
        (fact("copper", "awg_36").basis(), conductivity.basis(), alpha.basis()),
        notes=(f"One conductor, at {temperature_c:g} °C.",),
    )


def loop_resistance(length_m: float, ohm_per_m: float) -> Working:
    """Resistance of both conductors of a pair, out and back.

    Parameters
    ----------
    length_m : one-way length, m, zero or more
    ohm_per_m : resistance of one conductor, ohm/m, above zero

    Returns ohm. Source: circuit theory, R = 2 L r.
    """
    not_negative("length_m", length_m, "m")
    positive("ohm_per_m", ohm_per_m, "ohm/m")
    return Working(
        "Loop resistance",
        "R = 2 * L * r",
        (
            Value("L", "one-way length", length_m, "m"),
            Value("r", "one conductor", ohm_per_m, "ohm/m"),
        ),
        Value("R", "loop resistance", 2 * length_m * ohm_per_m, "ohm"),
        (Basis("circuit theory: both conductors in series", ARITHMETIC),),
    )


def resistance_at_temperature(resistance_ohm: float, temperature_c: float, at_c: float = 20.0) -> Working:
    """A copper resistance brought from one temperature to another.

    Parameters
    ----------
    resistance_ohm : resistance at `at_c`, ohm, zero or more
    temperature_c : temperature wanted, degC, -40 to 120
    at_c : temperature of the given resistance, degC, -40 to 120

    Returns ohm. Source: R = R20 (1 + 0.00393 (T - 20)).
    """
    not_negative("resistance_ohm", resistance_ohm, "ohm")
    alpha = fact("copper", "temperature_coefficient")
    ratio = temperature_factor(temperature_c) / temperature_factor(at_c)
    return Working(
        "Resistance at another temperature",
        "R = R_1 * (1 + a * (T - 20)) / (1 + a * (T_1 - 20))",
        (
            Value("R_1", "resistance given", resistance_ohm, "ohm"),
            alpha.shown("a", "temperature coefficient"),
            Value("T", "temperature wanted", temperature_c, "°C"),
            Value("T_1", "temperature given", at_c, "°C"),
        ),
        Value("R", "resistance", resistance_ohm * ratio, "ohm"),
        (alpha.basis(),),
    )


def metric_resistance(mm2: str, conductor: str = "class1 2 plain") -> Working:
    """Greatest resistance of a metric copper conductor at 20 C.

    Parameters
    ----------
    mm2 : nominal area as the table prints it, such as 1.5
    conductor : class1 2 plain, class1 2 tinned, class5 plain or class5 tinned

    Returns ohm/km. Source: IEC 60228 Tables 1 to 3, a table look-up.
    """
    choice("conductor", conductor, load("iec_60228_resistance_20C").values("class"))
    row = load("iec_60228_resistance_20C").row(mm2, conductor)
    return Working(
        "Greatest resistance of a metric conductor",
        f"row {mm2} mm², column {conductor}",
        (Value("A", "nominal area", float(mm2), "mm²"),),
        row.shown("r", "resistance", "resistance"),
        (row.basis(),),
        notes=("At 20 °C.",),
    )


def gauge_for_resistance(ohm_per_m: float) -> Working:
    """The thinnest wire gauge whose solid conductor stays at or below a resistance at 20 C.

    Parameters
    ----------
    ohm_per_m : greatest resistance of one conductor, ohm/m, above zero

    Returns the gauge number. Raises Problem if even 4/0 has more. Source: ASTM B258 and 58 MS/m.
    """
    wanted = positive("ohm_per_m", ohm_per_m, "ohm/m")
    fits = [
        n
        for n in range(min(LARGEST_GAUGE.values()), SMALLEST_GAUGE + 1)
        if gauge_ohm_per_m_number(n) <= wanted
    ]
    if not fits:
        raise Problem(
            "Even 4/0 has more resistance; shorten the line or run conductors in parallel.", "ohm_per_m"
        )
    return Working(
        "Thinnest gauge for a resistance",
        "largest n with r(n) <= r",
        (Value("r", "greatest resistance", wanted * KILO, "ohm/km"),),
        Value("n", "gauge number", max(fits)),
        (fact("copper", "awg_36").basis(), fact("copper", "conductivity").basis()),
    )


def gauge_ohm_per_m_number(number: int) -> float:
    """As gauge_ohm_per_m at 20 C for a gauge number (0 and below are 1/0 to 4/0)."""
    names = {0: "1/0", -1: "2/0", -2: "3/0", -3: "4/0"}
    return gauge_ohm_per_m(names.get(number, str(number)))
