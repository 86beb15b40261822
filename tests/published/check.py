"""One outside check: a value as printed by its source, and the calculation that must meet it.

The tolerance is half a unit of the last printed digit unless a reason for another stands beside it; a limit that a
rule states is met exactly.
No expected value comes from this project's own code.
"""

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from stagefloor.calculations import look_up
from stagefloor.core.problems import Problem
from stagefloor.core.units import parse
from stagefloor.core.workings import PUBLISHED, Working

DATA = Path(__file__).parent / "data"


@dataclass(frozen=True)
class Check:
    """One printed value. `tolerance` None: half of the last printed digit; else with its `reason`."""

    calculation: str
    source: str
    what: str
    printed: str
    value: Callable[[], float]
    tolerance: float | None = None
    reason: str = ""
    status: str = PUBLISHED

    @property
    def allowed(self) -> float:
        """Greatest difference from the printed figure."""
        if self.tolerance is not None:
            return self.tolerance
        if getattr(self.value, "stated", False):
            return 1e-9 * abs(float(self.printed))
        digits = self.printed.partition(".")[2]
        return 0.5 * 10.0 ** -len(digits) * (1 + 1e-9)

    def difference(self) -> float:
        """Distance of our value from the printed one."""
        return abs(self.value() - float(self.printed))

    def kept(self) -> bool:
        """Whether our value meets the printed one."""
        return self.difference() <= self.allowed + 1e-12


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a file of printed values."""
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def si(text: str, kind: str) -> float:
    """A quantity as printed, in SI."""
    return parse(text, kind).si


def result(function: Callable[..., Working], *given: object, **named: object) -> Callable[[], float]:
    """The result of a calculation, computed when asked."""
    return lambda: function(*given, **named).result.amount


def also(
    index: int, function: Callable[..., Working], *given: object, **named: object
) -> Callable[[], float]:
    """A further value of a calculation, computed when asked."""
    return lambda: function(*given, **named).also[index].amount


def cell(table: str, key: str, column: str, factor: float = 1.0) -> Callable[[], float]:
    """A number of a table as the look-up shows it, times `factor` (from the table's unit to the printed one)."""

    def value() -> float:
        working = look_up.table_row(table, key)
        names = {v.name: v.amount for v in working.also}
        return names.get(column, working.result.amount) * factor

    return value


def accepts(function: Callable[..., Working], *given: object, **named: object) -> Callable[[], float]:
    """1 if the calculation takes the values, 0 if it refuses them with a Problem."""

    def value() -> float:
        try:
            function(*given, **named)
        except Problem:
            return 0.0
        return 1.0

    return value


def remarks(function: Callable[..., Working], *given: object, **named: object) -> Callable[[], float]:
    """The number of notes of a calculation."""
    return lambda: float(len(function(*given, **named).notes))


def limit(function: Callable[..., Working], *given: object, **named: object) -> Callable[[], float]:
    """The limit that a calculation sets: a rule states it exactly, so it must be met exactly."""

    def value() -> float:
        return function(*given, **named).limit.amount  # type: ignore[union-attr]

    value.stated = True  # type: ignore[attr-defined]
    return value
