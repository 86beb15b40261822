"""Units at the edge: text as typed becomes a number in SI, and a number in SI becomes text to read.

Factors are exact by definition (international yard and pound, 1959; SI Brochure 9th edition)
unless a comment says otherwise. Nothing here knows what a value is used for.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from stagefloor.core.problems import Problem

INCH = 0.0254
FOOT = 0.3048
POUND = 0.45359237
STANDARD_GRAVITY = 9.80665

# kind of quantity -> (SI unit, {unit as typed: factor to SI})
KINDS: dict[str, tuple[str, dict[str, float]]] = {
    "length": ("m", {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "ft": FOOT, "in": INCH, "yd": 3 * FOOT,
                     "'": FOOT, '"': INCH, "feet": FOOT, "foot": FOOT, "inch": INCH, "inches": INCH,
                     "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "millimetre": 1e-3, "millimetres": 1e-3,
                     "millimeter": 1e-3, "millimeters": 1e-3, "centimetre": 1e-2, "centimetres": 1e-2,
                     "centimeter": 1e-2, "centimeters": 1e-2}),
    "area": ("m2", {"m2": 1.0, "mm2": 1e-6, "cm2": 1e-4, "in2": INCH**2, "sqin": INCH**2, "ft2": FOOT**2,
                    "sqft": FOOT**2, "cmil": 0.25 * 3.141592653589793 * (INCH / 1000) ** 2,
                    "kcmil": 250 * 3.141592653589793 * (INCH / 1000) ** 2}),
    "volume": ("m3", {"m3": 1.0, "cm3": 1e-6, "l": 1e-3, "in3": INCH**3, "ft3": FOOT**3}),
    "mass": ("kg", {"kg": 1.0, "g": 1e-3, "t": 1e3, "lb": POUND, "lbs": POUND, "oz": POUND / 16}),
    "mass_per_length": ("kg/m", {"kg/m": 1.0, "kg/km": 1e-3, "lb/ft": POUND / FOOT,
                                 "lb/kft": POUND / (1000 * FOOT)}),
    "force": ("N", {"N": 1.0, "kN": 1e3, "lbf": POUND * STANDARD_GRAVITY}),
    "force_per_length": ("N/m", {"N/m": 1.0, "kN/m": 1e3, "lbf/ft": POUND * STANDARD_GRAVITY / FOOT}),
    "pressure": ("Pa", {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "N/mm2": 1e6, "kN/m2": 1e3,
                        "psi": POUND * STANDARD_GRAVITY / INCH**2, "psf": POUND * STANDARD_GRAVITY / FOOT**2}),
    "time": ("s", {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0, "h": 3600.0}),
    "hours": ("h", {"h": 1.0, "hr": 1.0, "hour": 1.0, "hours": 1.0, "min": 1 / 60}),
    "voltage": ("V", {"V": 1.0, "mV": 1e-3, "uV": 1e-6, "kV": 1e3}),
    "current": ("A", {"A": 1.0, "mA": 1e-3, "uA": 1e-6}),
    "power": ("W", {"W": 1.0, "mW": 1e-3, "kW": 1e3}),
    "apparent_power": ("VA", {"VA": 1.0, "kVA": 1e3}),
    "resistance": ("ohm", {"ohm": 1.0, "ohms": 1.0, "Ω": 1.0, "mohm": 1e-3, "kohm": 1e3, "Mohm": 1e6}),
    "resistance_per_length": ("ohm/m", {"ohm/m": 1.0, "ohm/km": 1e-3, "mohm/m": 1e-3,
                                        "ohm/kft": 1 / (1000 * FOOT), "ohm/ft": 1 / FOOT}),
    "capacitance": ("F", {"F": 1.0, "uF": 1e-6, "nF": 1e-9, "pF": 1e-12}),
    "capacitance_per_length": ("F/m", {"F/m": 1.0, "pF/m": 1e-12, "pF/ft": 1e-12 / FOOT, "nF/km": 1e-12}),
    "frequency": ("Hz", {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}),
    "bitrate": ("bit/s", {"bit/s": 1.0, "kb/s": 1e3, "Mb/s": 1e6, "Gb/s": 1e9}),
    "temperature": ("degC", {"degC": 1.0, "C": 1.0, "°C": 1.0}),  # degF is handled apart: it has an offset
    "level": ("dB", {"dB": 1.0}),
    "angle": ("deg", {"deg": 1.0, "°": 1.0}),
    "percent": ("%", {"%": 1.0}),
    "count": ("", {}),
    "ratio": ("", {}),
    "per_year": ("/year", {"/year": 1.0}),
}

_NUMBER = r"(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_MIXED = re.compile(rf"^\s*({_NUMBER})?(?:\s*[- ]?\s*(\d+)/(\d+))?\s*$")
_FEET_INCHES = re.compile(
    r"^\s*(?P<feet>[\d.]+(?:[ -]\d+/\d+)?|\d+/\d+)\s*(?:'|ft|feet|foot)\s*-?\s*"
    r"(?:(?P<inches>[\d.]+(?:\s*[ -]\s*\d+/\d+)?|\d+/\d+)\s*(?:\"|in|inch|inches|'')?\s*)?$", re.IGNORECASE)
# 6-0, 9-6 1/2: feet and inches as tape readings are written; only where feet are what a bare number means
_DASHED = re.compile(r"^(?P<feet>\d{1,4})\s*-\s*(?P<inches>\d{1,2}(?:\.\d+)?(?:[ -]\d+/\d+)?)\s*(?:\"|in)?$")
# 1,200: a thousand and two hundred on one side of the ocean, one and a fifth on the other; 0,125 is no thousands
_EITHER = re.compile(r"^[+-]?[1-9]\d{0,2}(,\d{3})+(?!\d)")
_PLAIN = re.compile(r"^\s*(?P<number>[\d.eE+/ -]*\d\.?)\s*(?P<unit>[^\d\s.][^\s]*)?\s*$")


@dataclass(frozen=True)
class Quantity:
    """A number in SI with the text that was typed; two are equal if their texts and kinds are.

    Attributes: `kind` (a key of KINDS), `si` (float, in the kind's SI unit), `text` (as typed, with its unit).
    """

    kind: str
    si: float
    text: str

    def __str__(self) -> str:
        return self.text


def _number(text: str) -> float:
    text = text.strip()
    match = _MIXED.match(text)
    if not match or (match[1] is None and match[2] is None):
        raise ValueError(text)
    if match[3] is not None and int(match[3]) == 0:
        raise ValueError(text)
    whole = float(match[1]) if match[1] is not None else 0.0
    if match[2] is not None and match[1] is not None and not float(whole).is_integer():
        raise ValueError(text)
    return whole + (float(Fraction(int(match[2]), int(match[3]))) if match[2] is not None else 0.0)


def parse(text: str, kind: str, default_unit: str = "") -> Quantity:
    """Read a quantity as typed: ``12' 6 1/2"``, ``3.81 m``, ``25 lbf``, or a bare number in `default_unit`.

    Parameters
    ----------
    text : str
        As typed. A decimal comma between digits is read as a decimal point.
    kind : str
        Kind of quantity, a key of KINDS.
    default_unit : str
        The unit of a bare number; the kept text then names it.

    Returns
    -------
    Quantity
        In SI, with the text.

    Raises
    ------
    Problem
        If the text is not a number with a unit of this kind.
    """
    return _parse(str(text).strip(), kind, default_unit)


@lru_cache(maxsize=20_000)
def _parse(text: str, kind: str, default_unit: str) -> Quantity:
    units = KINDS[kind][1]
    shown = text if len(text) <= 40 else text[:37] + "..."
    if not text:
        raise Problem(f"Nothing is typed where a {_kind_words(kind)} belongs.")
    body = text.replace("−", "-").replace("′", "'").replace("″", '"').replace("”", '"').replace("’", "'")
    check_comma(body)
    body = re.sub(r"(?<=\d),(?=\d)", ".", body) if body.count(",") == 1 else body
    sign = 1.0
    if body[:1] in "+-":
        sign, body = (-1.0 if body[0] == "-" else 1.0), body[1:].strip()
    if kind == "length" and default_unit == "ft" and (match := _DASHED.match(body)):
        text = body = f"{match['feet']}'-{match['inches']}\""  # what is kept says how it was read
        text = f"-{text}" if sign < 0 else text
    if kind == "length" and (match := _FEET_INCHES.match(body)):
        try:
            feet = _number(match["feet"])
            inches = _number(match["inches"]) if match["inches"] else 0.0
        except ValueError:
            raise Problem(f"'{shown}' is not a length; type for example 12' 6 1/2\" or 3.81 m.") from None
        if match["inches"] and not float(feet).is_integer():
            raise Problem(f"'{shown}' has both a fraction of a foot and inches; use one of them.")
        if text != shown and inches >= 12:
            raise Problem(f"'{shown}' would be {match['feet']} feet and {match['inches']} inches, which is more than a foot "
                          "of inches; type for example 12' 6\".")
        return Quantity(kind, sign * (feet * FOOT + inches * INCH), text)
    match = _PLAIN.match(body)
    if not match:
        raise Problem(f"'{shown}' is not a {_kind_words(kind)}; type {_example(kind)}.")
    try:
        number = sign * _number(match["number"])
    except ValueError:
        raise Problem(f"'{shown}' is not a {_kind_words(kind)}; type {_example(kind)}.") from None
    unit = match["unit"] or ""
    if kind in ("count", "ratio"):
        if unit:
            raise Problem(f"'{shown}' has a unit, but a plain number belongs here.")
        if kind == "count" and (number < 0 or number != int(number)):
            raise Problem(f"'{shown}' is not a whole number of zero or more.")
        return Quantity(kind, number, text)
    if not unit:
        if not default_unit:
            raise Problem(f"'{shown}' has no unit; type {_example(kind)}.")
        unit, text = default_unit, f"{text} {default_unit}"
    if kind == "temperature" and unit in ("degF", "F", "°F"):
        return Quantity(kind, (number - 32.0) / 1.8, text)
    named = unit_named(unit, kind)
    if not named:
        raise Problem(f"'{unit}' in '{shown}' is not a unit of {_kind_words(kind)}; "
                      f"use one of {', '.join(u for u in list(units)[:6])}.")
    return Quantity(kind, number * units[named], text)


def unit_named(word: str, kind: str) -> str:
    """The unit of this kind that a word means, as `KINDS` writes it; empty if it means none.

    A different letter case is only taken where it can't be another unit (m/M, in milliohm and megohm).
    """
    units = KINDS[kind][1]
    if word in units:
        return word
    folded = [u for u in units if u.lower() == word.lower()]
    return folded[0] if len(folded) == 1 else ""


def check_comma(text: str) -> None:
    """A Problem for a number such as 1,200, which has two meanings; `text` begins with the number."""
    if _EITHER.match(text):
        shown = text if len(text) <= 40 else text[:37] + "..."
        raise Problem(f"'{shown}' can be read as thousands or as a decimal; leave the comma out, or type a point.")


def _kind_words(kind: str) -> str:
    return kind.replace("_", " ")


def _example(kind: str) -> str:
    if kind == "length":
        return "for example 12' 6 1/2\" or 3.81 m"
    unit = KINDS[kind][0]
    return f"for example 12 {unit}".rstrip() if unit else "a plain number, for example 12"


def length_text(metres: float, display: str, finer: int = 0) -> str:
    """A length to read. `display`: 'ft-in' (feet and inches to 1/16 in), 'm', 'mm' or 'ft' (decimal).

    `finer`: so many more halvings of the sixteenth, or decimals.
    """
    if display == "m":
        return f"{_trim(metres, 3 + finer)} m"
    if display == "mm":
        return f"{_trim(metres * 1000, finer)} mm"
    if display == "ft":
        return f"{_trim(metres / FOOT, 2 + finer)} ft"
    whole = 16 * 2**finer
    parts = round(abs(metres) / INCH * whole)
    sign = "-" if metres < 0 and parts else ""
    inches, part = divmod(parts, whole)
    feet, inches = divmod(inches, 12)
    fraction = f" {Fraction(part, whole)}" if part else ""
    if not feet:
        return f'{sign}{inches}{fraction}"' if inches or not part else f'{sign}{Fraction(part, whole)}"'
    return f"{sign}{feet}'" + (f' {inches}{fraction}"' if inches or part else "")


def typed_length(metres: float, display: str) -> str:
    """A length as a user would type it, for a place that was dragged: feet or metres to three decimals."""
    return f"{_trim(metres / FOOT, 3)} ft" if display in ("ft-in", "ft") else f"{_trim(metres, 3)} m"


def long_length_text(metres: float, display: str) -> str:
    """A cable length to read: whole feet, or metres to one decimal."""
    return f"{metres / FOOT:,.0f} ft" if display in ("ft-in", "ft") else f"{metres:,.1f} m"


def area_text(square_metres: float, display: str) -> str:
    """A small area to read: square inches to three decimals, or square millimetres."""
    if display in ("ft-in", "ft"):
        return f"{square_metres / INCH**2:.3f} in²"
    return f"{square_metres * 1e6:.0f} mm²"


def number_text(value: float, digits: int = 4) -> str:
    """A number to read with `digits` significant digits and no exponent where it can be avoided."""
    if value == 0:
        return "0"
    text = f"{value:.{digits}g}"
    if "e" in text and 1e-6 < abs(value) < 1e9:
        text = f"{float(text):f}".rstrip("0").rstrip(".")
    return text.replace("-", "−", 1) if text.startswith("-") else text


def _trim(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text
