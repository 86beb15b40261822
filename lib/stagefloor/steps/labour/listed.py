"""Prices that the shop's lists hold, for the price and for the purchase list: of a metre, a reel, an assembly."""

from collections.abc import Sequence
from decimal import Decimal

from stagefloor.job.cables import CableType
from stagefloor.job.labour import PriceRow
from stagefloor.job.lists import SOLD, Reel
from stagefloor.job.measured import price_length
from stagefloor.job.model import Job
from stagefloor.steps.labour.quantities import is_of
from stagefloor.steps.labour.rows import rounded

SAME = 1e-3  # m; lengths sold that differ by less are one


def rows_for(job: Job, quantity: str) -> list[PriceRow]:
    """The price rows that are the price of a quantity: those that name it itself, else those of its family.

    What is bought as well is no price of it.
    """
    own, family = own_and_family(job, quantity)
    return own or family


def own_and_family(job: Job, quantity: str) -> tuple[list[PriceRow], list[PriceRow]]:
    """The price rows that name a quantity itself, and those of its family."""
    rows = [r for r in job.all(PriceRow) if not r.besides and r.cost is not None and r.cost >= 0 and (r.per or 0) > 0
            and is_of(quantity, r.quantity)]
    family = [r for r in rows if r.quantity.strip().endswith(":")]
    return [r for r in rows if r not in family], family


def row_for(job: Job, quantity: str) -> PriceRow | None:
    """The price row of a quantity, the first if there are several."""
    return next(iter(rows_for(job, quantity)), None)


def each_of(row: PriceRow | None) -> Decimal | None:
    """What one piece or metre costs by a price row."""
    return row.cost / Decimal(repr(row.per)) if row and row.cost is not None and row.per else None


def each_of_all(rows: Sequence[PriceRow]) -> Decimal:
    """What one piece or metre costs by all of these price rows."""
    return sum((each_of(r) or Decimal(0) for r in rows), Decimal(0))


def from_row(row: PriceRow | None) -> str:
    """Where such a price stands, in words."""
    return f"price row '{row.item}'" if row else ""


def _own_metre(job: Job, kind: CableType) -> tuple[Decimal | None, str]:
    if kind.price is None:
        return None, ""
    return kind.price / Decimal(repr(price_length(job, kind))), f"cable type '{kind.label}'"


def metre_price(job: Job, kind: CableType) -> tuple[Decimal | None, str]:
    """What one metre of a cable type costs, and where the price stands; None if the shop has none."""
    each, source = _own_metre(job, kind)
    if each is not None:
        return each, source
    row = row_for(job, f"cable m: {kind.what}") if kind.lines <= 1 and not kind.assembly else None
    return each_of(row), from_row(row)


def reel_price(job: Job, kind: CableType, metres: float) -> tuple[Decimal | None, str]:
    """What a reel, or an assembly of this length, costs by its own price or at the price of a metre."""
    own = next((r for r in job.all(Reel) if r.type == kind.id and r.what == SOLD and r.price is not None and r.length
                and abs(r.length.si - metres) < SAME), None)
    if own is not None:
        return own.price, "the reel's own price"
    each, source = metre_price(job, kind)
    return (rounded(each * Decimal(repr(metres))) if each is not None else None), source


def assembly_price(job: Job, kind: CableType, metres: float) -> tuple[Decimal | None, str]:
    """What an assembly of a length that is sold costs; a row of cable by the metre says nothing of it."""
    each, source = reel_price(job, kind, metres)
    if each is not None:
        return each, source
    row = row_for(job, f"assemblies: {kind.what}")
    return each_of(row), from_row(row)
