"""Video: loss of coax at half the clock against two different rules; planning lengths of display cables."""

from math import sqrt

from stagefloor.calculations.inputs import choice, not_negative, positive
from stagefloor.core.problems import Problem
from stagefloor.core.workings import Basis, Value, Working
from stagefloor.reference.tables import fact

FORMATS = ("270M", "HD", "3G", "6G", "12G")
HUNDRED_FEET = 30.48  # m
MEGA = 1e6


def _coefficients(points: list[tuple[float, float]] | None) -> tuple[float, float, Basis]:
    """k1 and k2 in dB per 100 ft from two data-sheet points (MHz, dB per 100 ft), or of generic series 6."""
    if points is None:
        skin, dielectric = fact("video", "series_6_k1"), fact("video", "series_6_k2")
        return skin["value"], dielectric["value"], skin.basis()
    if len(points) != 2 or len({f for f, _ in points}) != 2:
        raise Problem("The loss of a cable needs two different frequencies from its data sheet.", "points")
    (f1, a1), (f2, a2) = ((positive("points", f, "MHz"), positive("points", a, "dB")) for f, a in points)
    k2 = (a1 / sqrt(f1) - a2 / sqrt(f2)) / (sqrt(f1) - sqrt(f2))
    k1 = a1 / sqrt(f1) - k2 * sqrt(f1)
    if k1 <= 0 or k2 < 0:
        raise Problem(
            "The two losses do not fit a coaxial cable, whose loss grows between the root of the "
            "frequency and "
            "the frequency; check the data sheet.",
            "points",
        )
    return k1, k2, Basis("two points of the cable's data sheet", "this job's own value")


def coax_attenuation(frequency_hz: float, points: list[tuple[float, float]] | None = None) -> Working:
    """Attenuation of coaxial cable, skin effect and dielectric, per 100 ft.

    Parameters
    ----------
    frequency_hz : frequency, Hz, above zero
    points : two (MHz, dB per 100 ft) from the cable's data sheet; generic series 6 drop cable if left out

    Returns dB per 100 ft. Notes say when it extrapolates beyond the published points (55 to 2150 MHz).
    Source: A = k1 sqrt(f) + k2 f; published points of series 6 drop cable.
    """
    positive("frequency_hz", frequency_hz, "Hz")
    k1, k2, basis = _coefficients(points)
    f = frequency_hz / MEGA
    low, high = fact("video", "fit_low")["value"], fact("video", "fit_high")["value"]
    if points is not None:
        low, high = min(p[0] for p in points), max(p[0] for p in points)
    notes = () if low <= f <= high else (f"Extrapolated: the points cover {low:g} to {high:g} MHz.",)
    return Working(
        "Attenuation of coax",
        "A = k_1 * sqrt(f) + k_2 * f",
        (
            Value("k_1", "skin effect", k1, "dB/100ft", 5),
            Value("k_2", "dielectric", k2, "dB/100ft"),
            Value("f", "frequency", f, "MHz"),
        ),
        Value("A", "attenuation", k1 * sqrt(f) + k2 * f, "dB/100ft"),
        (basis,),
        notes=notes,
    )


def coax_loss(
    length_m: float, picture_format: str, points: list[tuple[float, float]] | None = None
) -> Working:
    """Loss of a video line at half its clock against the rule of its format: 20 or 40 dB.

    Parameters
    ----------
    length_m : length, m, zero or more
    picture_format : 270M, HD, 3G, 6G or 12G
    points : two (MHz, dB per 100 ft) from the cable's data sheet; generic series 6 drop cable if left out

    Returns dB. Source: SMPTE 292M scope (20 dB), distance-chart note citing ST 2081-1 and ST 2082-1 (40
    dB), 259M and
    424M from memory. Failure sets in within about 15 m of its limit.
    """
    not_negative("length_m", length_m, "m")
    choice("picture_format", picture_format, FORMATS)
    rate, rule = fact("video", f"rate_{picture_format}"), fact("video", f"loss_{picture_format}")
    half = rate.si() / 2
    per = coax_attenuation(half, points)
    return Working(
        f"Loss of a video line, {picture_format}",
        "a = A * L / 30.48",
        (
            Value("A", f"attenuation at {half / MEGA:g} MHz", per.result.amount, "dB/100ft"),
            Value("L", "length", length_m, "m"),
        ),
        Value("a", "loss at half clock", per.result.amount * length_m / HUNDRED_FEET, "dB"),
        (*per.basis, rate.basis(), rule.basis()),
        rule.shown("", "limit"),
        notes=per.notes,
    )


def coax_length(picture_format: str, points: list[tuple[float, float]] | None = None) -> Working:
    """Greatest length of a video line by the rule of its format.

    Parameters
    ----------
    picture_format : 270M, HD, 3G, 6G or 12G
    points : two (MHz, dB per 100 ft) from the cable's data sheet; generic series 6 drop cable if left out

    Returns m. Source: as coax_loss.
    """
    one = coax_loss(HUNDRED_FEET, picture_format, points)
    rule = fact("video", f"loss_{picture_format}")
    return Working(
        f"Longest video line, {picture_format}",
        "L = 30.48 * a / A",
        (rule.shown("a", "loss allowed"), Value("A", "attenuation", one.result.amount, "dB/100ft")),
        Value("L", "length", HUNDRED_FEET * rule["value"] / one.result.amount, "m"),
        one.basis,
        notes=one.notes,
    )


def display_cable(length_m: float) -> Working:
    """Kind of display cable (HDMI) for a length, by a planning rule: no length is in its specification.

    Parameters
    ----------
    length_m : length from outlet to outlet with cords, m, zero or more

    Returns m against the passive limit; the note names the kind. Source: common practice, no source.
    """
    not_negative("length_m", length_m, "m")
    steps = [
        ("a passive cable", fact("video", "hdmi_passive")),
        ("an active cable, which has a direction", fact("video", "hdmi_active")),
        ("an extender over twisted pair", fact("video", "hdmi_pair")),
    ]
    kind = next(
        (words for words, row in steps if length_m <= row["value"]), "fibre or an active optical cable"
    )
    limit = steps[0][1]
    return Working(
        "Display cable (HDMI)",
        "L against 5, 15 and 70 m",
        (Value("L", "length", length_m, "m"),),
        Value("L", "length", length_m, "m"),
        (
            limit.basis(),
            Basis("the specification names no length: pass or fail is electrical (licensing body page)"),
        ),
        Value("", "passive limit", limit["value"], "m"),
        notes=(f"Plan {kind}.",),
    )
