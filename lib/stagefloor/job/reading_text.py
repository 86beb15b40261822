"""What was read, as a tester or a person writes it: a figure with or without unit, a word, more than the meter shows."""

import re
from math import isfinite

from stagefloor.core.problems import Problem
from stagefloor.core.units import FOOT
from stagefloor.job.closeout import RESULTS
from stagefloor.job.fields import LARGEST

OHM_SIGNS = ("\u03a9", "\u2126")  # the Greek letter and the sign that looks like it
# unit as written -> (unit of the reading, factor). Letter case counts: mohm is a thousandth, Mohm a million.
UNITS = {
    "ohm": ("ohm", 1.0), "ohms": ("ohm", 1.0), "R": ("ohm", 1.0), "mohm": ("ohm", 1e-3), "milliohm": ("ohm", 1e-3),
    "kohm": ("ohm", 1e3), "Mohm": ("Mohm", 1.0), "MOhm": ("Mohm", 1.0), "megohm": ("Mohm", 1.0), "Gohm": ("Mohm", 1e3),
    "V": ("V", 1.0), "mV": ("V", 1e-3), "dB": ("dB", 1.0), "m": ("m", 1.0), "ft": ("m", FOOT), "cm": ("m", 0.01),
    "ms": ("ms", 1.0), "s": ("ms", 1e3),
} | {prefix + sign: (unit, factor) for sign in OHM_SIGNS
     for prefix, unit, factor in (("", "ohm", 1.0), ("m", "ohm", 1e-3), ("k", "ohm", 1e3), ("M", "Mohm", 1.0),
                                  ("G", "Mohm", 1e3))}
OHMS = {("ohm", "Mohm"): 1e-6, ("Mohm", "ohm"): 1e6}
PASSED = {"pass", "passed", "ok", "yes", "good", "p"}
FAILED = {"fail", "failed", "no", "bad", "f", "nok"}
OVER = re.compile(r"^(ol|o\.l\.?|over ?range|open|>.*|inf|infinity|∞)$", re.IGNORECASE)
FIGURE = re.compile(r"^([+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?)\s*([^\d\s].*)?$")
THOUSANDS = re.compile(r"[+\-−]?\d{1,3},\d{3}")
GRAVITY = ("", "pass", "over range", "fail")
SHOWN = 40  # characters of a cell that a sentence repeats


def units_for(wanted: str) -> dict[str, float]:
    """The units that may be written for a test that is read in `wanted`, and how many of `wanted` each is."""
    return {written: factor * OHMS.get((base, wanted), 1.0) for written, (base, factor) in UNITS.items()
            if base == wanted or (base, wanted) in OHMS}


def figure_in(text: str, unit: str, test: str, wanted: str) -> tuple[float | None, str]:
    """The figure in the unit of the test, or none and what the word means as a result.

    Parameters
    ----------
    unit : unit of the figure where the text has none; empty: the unit of the test
    test, wanted : the test, and the unit that it is read in

    Raises
    ------
    Problem : the reason why this is no reading of that test
    """
    if not text:
        return None, ""
    if OVER.match(text):
        return None, "over range"
    if text.lower() in PASSED | FAILED:
        return None, word(text)
    match = FIGURE.match(text)
    if match is None:
        raise Problem(f"'{text[:SHOWN]}' is not a figure.")
    if THOUSANDS.fullmatch(match[1]):
        raise Problem(f"'{text[:SHOWN]}' may mean thousands or a decimal comma; write it with a point.")
    value = float(match[1].replace(",", ".").replace("−", "-"))
    if not isfinite(value) or abs(value) > LARGEST:
        raise Problem(f"'{text[:SHOWN]}' is too large a figure.")
    written = (match[2] or unit).strip()
    if not written:
        return value, ""
    if written not in UNITS:
        lower = {u.lower(): u for u in UNITS}
        tip = f"; is it {lower[written.lower()]}?" if written.lower() in lower else "."
        raise Problem(f"'{written[:SHOWN]}' is no unit that is known here{tip}")
    taken = units_for(wanted)
    if written not in taken:
        raise Problem(f"{test} is read in {wanted}, not in {written[:SHOWN]}.")
    return float(f"{value * taken[written]:.12g}"), ""  # 0.1 of a thousandth stays 0.0001


def word(text: str) -> str:
    """A result as it is stored: pass, fail, over range or nothing; a Problem for another word."""
    said = text.strip().lower()
    if not said:
        return ""
    if said in PASSED:
        return "pass"
    if said in FAILED:
        return "fail"
    if OVER.match(said) or said in RESULTS:
        return "over range"
    raise Problem(f"'{text[:SHOWN]}' is no result; pass or fail is.")


def graver(one: str, other: str) -> str:
    """Of two results of one test the one that tells more against the line: a 'pass' hides neither a failure nor an open."""
    return max(one, other, key=GRAVITY.index)
