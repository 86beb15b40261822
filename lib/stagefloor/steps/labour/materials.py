"""What material costs: the shop's price rows, and the prices of box models and cable types where no row names them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from stagefloor.core.units import long_length_text
from stagefloor.core.workings import ARITHMETIC, SHOP, Basis, Value, Working
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.labour import PriceRow, Pricing
from stagefloor.job.measured import price_length
from stagefloor.job.model import Job
from stagefloor.steps.cables import Line, one_a_cable
from stagefloor.steps.cut_list import assemblies
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.listed import assembly_price, each_of_all, own_and_family, rows_for
from stagefloor.steps.labour.rows import RowProblem, money, rounded
from stagefloor.steps.labour.simulation import LENGTHS, PRICES, Part

PERCENT = 100.0
MOST_WASTE = 300.0  # per cent; more is a slip
FAR = Decimal("1.5")  # times off, at which a price is asked about; common practice, no source
ROUNDING = Basis("each line to the cent, half up; totals are sums of rounded lines", ARITHMETIC)
SHOP_PRICES = Basis("the shop's price list and rate for this job", SHOP)
BOXES, CABLES = "Floor boxes and panels", "Cables and terminations"


@dataclass(frozen=True)
class Offer:
    """A price that a box model or cable type carries: so much of a quantity at so much."""

    item: str
    section: str
    quantity: str
    amount: float
    per: float
    cost: Decimal
    record: tuple[str, str]


@dataclass(frozen=True)
class MaterialCost:
    """What a quantity costs the shop, `cost` in the job's currency, with the lowest and highest it may come to.

    `amount` is what was counted and `bought` what is bought for it, with waste.
    """

    item: str
    section: str
    quantity: str
    amount: float
    bought: float
    cost: Decimal
    low: float
    high: float
    working: Working
    record: tuple[str, str]

    def part(self, share: float = 1.0) -> Part:
        """The line as an uncertain part of the money; all share the market, those counted by the metre the lengths.

        `share` multiplies it, for a tax that the shop pays on it.
        """
        causes = (PRICES, LENGTHS) if names.is_length(self.quantity) else (PRICES,)
        return Part(self.item, self.low, float(self.cost), self.high, 1.0, causes, 0.0, share)


def begun(job: Job) -> bool:
    """Whether the shop has begun to price the job; before that no price of a model becomes one of the job."""
    return bool(job.all(Pricing) or job.all(PriceRow))


def offers(job: Job, boxes: Sequence[tuple[Box, BoxModel | None]], lines: Sequence[Line]) -> tuple[Offer, ...]:
    """The prices of the box models and cable types that the job uses; what has none is left out."""
    found: dict[tuple[str, str, Decimal], Offer] = {}

    def put(item: str, section: str, quantity: str, amount: float, per: float, cost: Decimal,
            record: tuple[str, str]) -> None:
        before = found.get((record[1], quantity, cost))
        total = amount + (before.amount if before else 0.0)
        found[(record[1], quantity, cost)] = Offer(item, section, quantity, total, per, cost, record)

    for box, model in boxes:
        if model is not None and model.cost is not None:
            put(model.label or "Box", BOXES, "floor boxes" if box.surface == "floor" else "wall panels", 1.0, 1.0,
                model.cost, (model.kind, model.id))
    lengths = {a.cable: a.length for a in assemblies(job, lines, pulled=True)}
    for line in one_a_cable(lines):
        if line.type is None or line.cable is None:
            continue
        name, record = line.type.label or "Cable", (line.type.kind, line.type.id)
        if line.type.assembly:  # bought whole, at the price of the length that spans its way
            length = lengths.get(line.cable.id)
            each = assembly_price(job, line.type, length)[0] if length is not None else None
            if length is not None and each is not None:
                put(f"{name}, {long_length_text(length, job.settings.units)}", CABLES, f"assemblies: {line.circuit.what}",
                    1.0, 1.0, each, record)
        elif line.type.price is not None:
            put(name, CABLES, f"cable m: {line.circuit.what}", line.metres, price_length(job, line.type), line.type.price,
                record)
    return tuple(found.values())


def reaching(offered: Sequence[Offer], drawn: Mapping[str, float], quantities: Mapping[str, float]) -> tuple[Offer, ...]:
    """The offers of what is drawn, grown where other quantities of the job are more, at the same mix of models.

    What is drawn and has no offer stays without one: the offers grow with the quantity, not up to it.
    """
    def grown(offer: Offer) -> Offer:
        have, want = drawn.get(offer.quantity, 0.0), quantities.get(offer.quantity, 0.0)
        return replace(offer, amount=offer.amount * want / have) if 0 < have < want else offer

    return tuple(grown(o) for o in offered)


def material_costs(job: Job, quantities: Mapping[str, float], offered: Sequence[Offer] = ()
                   ) -> tuple[list[MaterialCost], list[RowProblem]]:
    """The cost of each price row whose quantity is above zero, and of each offer that no row is the price of.

    A row without a cost is left out. A row of a family counts what no row of its own names; one that is bought as well
    counts all of it, and takes no price away. An offer is scaled down if the quantity at hand is less than the one that
    it was made for, as in a change; what is more than it has no price.
    """
    lines: list[MaterialCost] = []
    problems: list[RowProblem] = []
    pricing = job.pricing()
    rows = job.all(PriceRow)
    for row in rows:
        found = _row_fault(row, quantities)
        if found is not None:
            problems.append(found)
            continue
        amount = sum(q for n, q in quantities.items() if names.is_of(n, row.quantity)
                     and (row.besides or any(r.id == row.id for r in rows_for(job, n))))
        if row.cost is not None and amount > 0:
            lines.append(_line(pricing, row, amount, row.cost))
    for offer in offered:
        if rows_for(job, offer.quantity):
            continue
        all_offers = sum(o.amount for o in offered if o.quantity == offer.quantity)
        share = min(quantities.get(offer.quantity, 0.0) / all_offers, 1.0) if all_offers else 0.0
        if amount := offer.amount * share:
            row = PriceRow(item=offer.item, quantity=offer.quantity, per=offer.per, cost=offer.cost,
                           section=offer.section)
            lines.append(_line(pricing, row, amount, offer.cost, offer.record))
    return lines, problems


@dataclass(frozen=True)
class Displaced:
    """A quantity that has a price, and price rows that stand for it at a far other one.

    `rows`: their names; `each` what one piece or metre costs by them, `other` what it costs by its models and cable
    types, or by the rows of its family, whose names are `family`.
    """

    quantity: str
    rows: tuple[str, ...]
    each: Decimal
    other: Decimal
    record: tuple[str, str]
    family: tuple[str, ...] = ()


def displaced(job: Job, quantities: Mapping[str, float], offered: Sequence[Offer]) -> list[Displaced]:
    """The quantities whose price rows are far from what their models carry, or far below the rows of their family: a row
    for small material may be meant. An own row above its family's is no small material.
    """
    found = []
    for quantity in (n for n, amount in quantities.items() if amount):
        own, family = own_and_family(job, quantity)
        if own and each_of_all(own) * FAR < each_of_all(family):
            found.append(Displaced(quantity, _names(own), each_of_all(own), each_of_all(family),
                                   (own[0].kind, own[0].id), _names(family)))
    for quantity in dict.fromkeys(o.quantity for o in offered):
        rows = rows_for(job, quantity)
        mine = [o for o in offered if o.quantity == quantity]
        amount = sum(o.amount for o in mine)
        if not rows or not amount:
            continue
        each = each_of_all(rows)
        by_model = sum((Decimal(repr(o.amount / o.per)) * o.cost for o in mine), Decimal(0)) / Decimal(repr(amount))
        if by_model and not 1 / FAR <= each / by_model <= FAR:
            found.append(Displaced(quantity, _names(rows), each, by_model, (rows[0].kind, rows[0].id)))
    return found


def _names(rows: Sequence[PriceRow]) -> tuple[str, ...]:
    return tuple(r.name for r in rows)


def _row_fault(row: PriceRow, quantities: Mapping[str, float]) -> RowProblem | None:
    def fault(field: str, words: str) -> RowProblem:
        end = "" if words.endswith("?") else "."
        return RowProblem((row.kind, row.id), field, f"Price of '{row.name}': {words}{end}")

    missing = names.unknown(row.quantity, quantities)
    if missing:
        return fault("quantity", f"the row {missing}")
    if row.per is None or row.per <= 0:
        return fault("per", f"'per how many' is {row.per or 0:g}; it must be more than zero")
    if row.cost is not None and row.cost < 0:
        return fault("cost", f"the cost is {row.cost}; it can't be below zero")
    if row.waste is not None and not 0 <= row.waste <= MOST_WASTE:
        return fault("waste", f"the waste is {row.waste:g} %; it must be from 0 to {MOST_WASTE:g}")
    if row.cost is not None:
        if row.low is not None and row.low > row.cost:
            return fault("low", f"the lowest is {row.low}, more than the cost of {row.cost}; mend one of them")
        if row.high is not None and row.high < row.cost:
            return fault("high", f"the highest is {row.high}, less than the cost of {row.cost}; mend one of them")
    return None


def _waste(pricing: Pricing, row: PriceRow) -> float:
    waste = row.waste
    if waste is None and names.is_length(row.quantity):
        waste = pricing.waste
    return waste if waste is not None and 0 <= waste <= MOST_WASTE else 0.0


def _line(pricing: Pricing, row: PriceRow, amount: float, each: Decimal,
          record: tuple[str, str] | None = None) -> MaterialCost:
    per, waste = row.per or 1.0, _waste(pricing, row)
    bought = Decimal(repr(amount)) * (1 + Decimal(repr(waste)) / 100)
    cost = rounded(bought / Decimal(repr(per)) * each)
    units = float(bought) / per
    fall, rise = max(pricing.price_low or 0.0, 0.0), max(pricing.price_high or 0.0, 0.0)
    low = units * float(row.low) if row.low is not None else float(cost) * max(1 - fall / PERCENT, 0.0)
    high = units * float(row.high) if row.high is not None else float(cost) * (1 + rise / PERCENT)
    own = record is None
    metres = "m" if names.is_length(row.quantity) else ""
    inputs = [Value("q", f"counted by '{row.quantity}'", amount, metres, 9)]
    formula = "C = q / n * c"
    if waste:
        formula = "C = q * (1 + w / 100) / n * c"
        inputs.append(Value("w", "waste", waste, "%"))
    working = Working(
        f"Cost: {row.item or row.id}", formula,
        (*inputs, Value("n", "per how many", per, metres), money("c", "cost", each)), money("C", "cost", cost),
        (SHOP_PRICES if own else Basis("the price of the model or cable type in this job", SHOP), ROUNDING),
        notes=("Whole reels and packs are not rounded up here.",),
        also=(Value("", "bought", float(bought), metres, 9),) if waste else ())
    return MaterialCost(row.item or row.id, row.section, row.quantity, amount, float(bought), cost,
                        min(low, float(cost)), max(high, float(cost)), working, record or (row.kind, row.id))
