"""Checks of what a calculation is given: one sentence for a value that can't be. Knows no calculation."""

from collections.abc import Sequence
from math import isfinite

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import number_text


def finite(name: str, value: float, unit: str = "") -> float:
    """The value itself if it is a finite number, else Problem."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise Problem(f"{_words(name)} is '{value}', which is not a number; type one{_in(unit)}.", name)
    return float(value)


def positive(name: str, value: float, unit: str = "") -> float:
    """The value itself if it is a number above zero, else Problem."""
    if finite(name, value, unit) <= 0:
        raise Problem(f"{_words(name)} is {_text(value, unit)}; it must be more than zero.", name)
    return float(value)


def not_negative(name: str, value: float, unit: str = "") -> float:
    """The value itself if it is zero or more, else Problem."""
    if finite(name, value, unit) < 0:
        raise Problem(f"{_words(name)} is {_text(value, unit)}; it can't be negative.", name)
    return float(value)


def within(name: str, value: float, low: float, high: float, unit: str, why: str) -> float:
    """The value itself if it lies in the range of its source, ends included, else Problem with the reason."""
    if not low <= finite(name, value, unit) <= high:
        raise Problem(
            f"{_words(name)} is {_text(value, unit)}, outside {_text(low, unit)} to {_text(high, unit)}: {why}.",
            name,
        )
    return float(value)


def whole(name: str, value: float, least: int = 0) -> int:
    """The value as a whole number of at least `least`, else Problem."""
    if finite(name, value) != int(value) or value < least:
        raise Problem(
            f"{_words(name)} is {number_text(value)}; it must be a whole number of {least} or more.", name
        )
    return int(value)


def choice(name: str, value: str, choices: Sequence[str]) -> str:
    """The value itself if it is one of the choices, else Problem with the nearest one."""
    if value not in choices:
        near = nearest(str(value), list(choices))
        raise Problem(
            f"{_words(name)} is '{value}', which is unknown"
            + (f"; did you mean {near}?" if near else ";")
            + f" Choose one of: {', '.join(choices)}.",
            name,
        )
    return value


def some(name: str, values: Sequence[float], unit: str = "") -> list[float]:
    """The values as a list of numbers above zero, at least one, else Problem."""
    if not values:
        raise Problem(f"{_words(name)} is empty; give at least one value{_in(unit)}.", name)
    return [positive(name, v, unit) for v in values]


def _words(name: str) -> str:
    return f"'{name}'"


def _in(unit: str) -> str:
    return f" in {unit}" if unit else ""


def _text(value: float, unit: str) -> str:
    return f"{number_text(value)} {unit}".strip()
