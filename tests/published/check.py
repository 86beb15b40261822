"""One outside check: a value as printed by its source, and the calculation that must meet it.

The tolerance is half a unit of the last printed digit unless a reason for another stands beside it.
No expected value comes from this project's own code.
"""

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

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


def limit(function: Callable[..., Working], *given: object, **named: object) -> Callable[[], float]:
    """The limit that a calculation sets, computed when asked."""
    return lambda: function(*given, **named).limit.amount  # type: ignore[union-attr]
