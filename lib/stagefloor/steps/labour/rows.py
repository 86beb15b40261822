"""What the rows of this step have in common: a row that can't be used, and how amounts are rounded and shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from stagefloor.core.workings import Value

HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True)
class RowProblem:
    """A row that can't be used: its record, the field, and the sentence to show beside it."""

    record: tuple[str, str]
    field: str
    sentence: str


def rounded(value: float | Decimal, step: Decimal = HUNDREDTH) -> Decimal:
    """To the step, half up, from the shortest decimal text of the number."""
    return (value if isinstance(value, Decimal) else Decimal(repr(value))).quantize(step, ROUND_HALF_UP)


def money(symbol: str, name: str, amount: Decimal) -> Value:
    """Money as a value of a working, shown in full."""
    return Value(symbol, name, float(amount), digits=15)


def apportioned(total: Decimal, weights: Sequence[Decimal]) -> list[Decimal]:
    """A sum split by weights, each part to the cent, so that the parts add up to the sum.

    The running total is rounded and each part is its step, so no cent is lost or made.
    """
    whole, running, given = sum(weights, Decimal(0)), Decimal(0), Decimal(0)
    parts = []
    for weight in weights:
        running += weight
        upto = rounded(total * running / whole) if whole else Decimal(0)
        parts.append(upto - given)
        given = upto
    return parts
