"""The purchase list with prices where the shop has them, and lead times. For the office: nothing here leaves the house.

Prices come from the record that names them: the reel, the cable type, the box model, else the shop's price rows.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.core.units import FOOT, long_length_text
from stagefloor.core.workings import ARITHMETIC, JOB, SHOP, Basis, Value, Working
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.cables import CableType
from stagefloor.job.labour import PriceRow
from stagefloor.job.lists import SOLD, Reel
from stagefloor.job.model import Job
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.schedule import Layout
from stagefloor.steps.cables import Line, Raceway
from stagefloor.steps.cables.takeoff import SUPPORTS, TRAY, is_tray, raceway_quantity, supports
from stagefloor.steps.cut_list import Assembly, CutList
from stagefloor.steps.labour.quantities import is_of
from stagefloor.steps.labour.rows import money, rounded


@dataclass(frozen=True)
class Purchase:
    """One line of the purchase list; `each` and `cost` are None where the shop has no price.

    `amount` counts pieces, or metres where `metres` is True; `lead` in days, 0: not known; `price_from` in words.
    """

    item: str
    amount: float
    each: Decimal | None
    cost: Decimal | None
    lead: int
    price_from: str
    note: str = ""
    metres: bool = False
    working: Working | None = None


@dataclass(frozen=True)
class PurchaseList:
    """All lines, what the priced ones come to, and how much of the cable money stays on the reels."""

    rows: tuple[Purchase, ...]
    total: Working | None
    on_reels: Working | None

    @property
    def unpriced(self) -> tuple[Purchase, ...]:
        return tuple(r for r in self.rows if r.each is None)

    @property
    def longest_lead(self) -> Purchase | None:
        """What takes longest to come; None while no lead time is known."""
        known = [r for r in self.rows if r.lead]
        return max(known, key=lambda r: r.lead) if known else None


def purchase_list(job: Job, boxes: Iterable[tuple[Box, Layout | None]], lines: Sequence[Line], raceways: Sequence[Raceway],
                  cuts: Sequence[CutList], ready: Sequence[Assembly]) -> PurchaseList:
    """What to buy for the job. Mains outlets are left out: the licensed electrician furnishes them."""
    chosen = [(box, plan) for box, plan in boxes if plan is not None and box.state != "built"]
    rows = [*_boxes(job, chosen), *_connectors(job, chosen), *_cables(job, cuts), *_assemblies(job, ready),
            *_raceways(job, raceways)]
    if lines:
        row = _row_for(job, "labels")
        rows.append(_priced("Labels, both ends of a line", float(len(lines)), _each(row), _lead(row), _from(row)))
    priced = [r.cost for r in rows if r.cost is not None]
    total = None
    if priced:
        total = Working("Purchase list, what is priced", "T = sum of the priced lines",
                        tuple(money(f"c{i}", r.item, r.cost) for i, r in enumerate(rows, 1) if r.cost is not None),
                        money("T", "cost", sum(priced, Decimal(0))),
                        (Basis("the shop's prices for this job", SHOP), Basis("sum of lines, each to the cent", ARITHMETIC)),
                        notes=(f"{len(rows) - len(priced)} of {len(rows)} lines are unpriced and not in it.",))
    return PurchaseList(tuple(rows), total, _on_reels(job, cuts))


def _row_for(job: Job, quantity: str) -> PriceRow | None:
    """The price row that counts a quantity: one that names it itself before one of its family."""
    rows = [r for r in job.all(PriceRow) if r.cost is not None and r.cost >= 0 and (r.per or 0) > 0
            and is_of(quantity, r.quantity)]
    return min(rows, key=lambda r: r.quantity.strip().endswith(":")) if rows else None


def _each(row: PriceRow | None) -> Decimal | None:
    return row.cost / Decimal(repr(row.per)) if row and row.cost is not None and row.per else None


def _lead(row: PriceRow | None) -> int:
    return row.lead if row else 0


def _from(row: PriceRow | None) -> str:
    return f"price row '{row.item}'" if row else ""


def _priced(item: str, amount: float, each: Decimal | None, lead: int, price_from: str, note: str = "",
            metres: bool = False, also: tuple[Value, ...] = ()) -> Purchase:
    unit = "m" if metres else ""
    if each is None:
        counted = Working(f"To buy: {item}", "n as taken off; unpriced", (), Value("n", "how many", amount, unit, 6),
                          (Basis("the takeoff of this job", JOB),), also=also)
        return Purchase(item, amount, None, None, lead, "", note, metres, counted)
    cost = rounded(Decimal(repr(amount)) * each)
    working = Working(f"To buy: {item}", "C = n c",
                      (Value("n", "how many", amount, unit, 6), money("c", "each", each)),
                      money("C", "cost", cost), (Basis(price_from or "the shop's price", SHOP),),
                      also=(*also, money("f", "each foot", rounded(each * Decimal(str(FOOT))))) if metres else also)
    return Purchase(item, amount, each, cost, lead, price_from, note, metres, working)


def each_by_length(row: Purchase, display: str) -> Decimal:
    """The price of a foot or a metre of something that is bought by length, to the cent."""
    each = row.each or Decimal(0)
    return rounded(each * Decimal(str(FOOT)) if display == "ft-in" else each)


def _boxes(job: Job, chosen: Sequence[tuple[Box, Layout]]) -> list[Purchase]:
    models: dict[str, BoxModel] = {plan.model.id: plan.model for _, plan in chosen}
    count, rows = Counter(plan.model.id for _, plan in chosen), []
    for model_id, model in models.items():
        row = _row_for(job, "floor boxes" if model.surface == "floor" else "wall panels")
        own = model.cost is not None
        rows.append(_priced(model.label, count[model_id], model.cost if own else _each(row), model.lead or _lead(row),
                            f"box model '{model.label}'" if own else _from(row)))
    return rows


def _connectors(job: Job, chosen: Sequence[tuple[Box, Layout]]) -> list[Purchase]:
    parts = Counter(o.what for box, _ in chosen for o in job.openings(box.id))
    rows = []
    for kind, known in connections().items():
        if parts[kind] and kind != "mains":
            row = _row_for(job, f"openings: {kind}")
            note = "" if known.panel_gender == "no choice" else f"panel part: {known.panel_gender}"
            rows.append(_priced(f"{known.connector}, {kind}", parts[kind], _each(row), _lead(row), _from(row), note))
    if blanks := sum(plan.spare_places for _, plan in chosen):
        row = next((r for r in job.all(PriceRow) if "blank plate" in r.item.lower() and r.cost is not None), None)
        rows.append(_priced("Blank plate, D-size", blanks, _each(row), _lead(row), _from(row), "for spare places"))
    return rows


def metre_price(job: Job, kind: CableType) -> tuple[Decimal | None, str]:
    """What one metre of a cable type costs, and where the price stands; None if the shop has none."""
    if kind.price is not None:
        per = 100 * FOOT if job.settings.units == "ft-in" else 30.0
        return kind.price / Decimal(repr(per)), f"cable type '{kind.label}'"
    row = _row_for(job, f"cable m: {kind.what}") if kind.lines <= 1 else None
    return _each(row), _from(row)


def _reel_price(job: Job, kind: CableType, metres: float) -> tuple[Decimal | None, str]:
    """What a reel costs: as entered for reels of this length, else its length at the price of a metre."""
    own = next((r for r in job.all(Reel) if r.type == kind.id and r.what == SOLD and r.price is not None and r.length
                and abs(r.length.si - metres) < 1e-3), None)
    if own is not None:
        return own.price, "the reel's own price"
    each, source = metre_price(job, kind)
    return (rounded(each * Decimal(repr(metres))) if each is not None else None), source


def _cables(job: Job, cuts: Sequence[CutList]) -> list[Purchase]:
    rows = []
    for one in cuts:
        if one.type is None or one.plan is None:
            continue
        used = {r.name: 0.0 for r in one.plan.reels if r.bought}
        for name in used:
            reels = [r for r in one.plan.reels if r.bought and r.name == name]
            each, source = _reel_price(job, one.type, reels[0].metres)
            left = sum(r.left for r in reels)
            rows.append(_priced(f"{one.label}, {name}", len(reels), each, one.type.lead, source,
                                f"{long_length_text(left, job.settings.units)} left over",
                                also=(Value("w", "left over", left, "m", 6),)))
    return rows


def _assemblies(job: Job, ready: Sequence[Assembly]) -> list[Purchase]:
    groups: dict[tuple[str, float], list[Assembly]] = defaultdict(list)
    for a in ready:
        if a.length is not None and a.bought:
            groups[a.type.id, a.length].append(a)
    rows = []
    for (_, length), held in groups.items():
        kind = held[0].type
        each, source = _reel_price(job, kind, length)
        rows.append(_priced(f"{kind.label}, ready-made, {long_length_text(length, job.settings.units)}", len(held), each,
                            kind.lead, source, "for " + ", ".join(a.label for a in held)))
    return rows


def _raceways(job: Job, raceways: Sequence[Raceway]) -> list[Purchase]:
    metres: dict[tuple[str, str], float] = defaultdict(float)
    for r in raceways:
        if r.metres and (r.to_lay or is_tray(r)):
            metres[r.segment.way, r.size] += r.metres
    rows = []
    for (way, size), total in sorted(metres.items()):
        row = _row_for(job, TRAY if way == "cable tray" else raceway_quantity(size))
        inches = " in" if size and way in ("EMT", "RMC", "PVC40") else ""
        rows.append(_priced(f"{way} {size or '(size not known)'}{inches}", round(total, 3), _each(row),
                            _lead(row), _from(row), "routed length; agree who furnishes it", metres=True))
    if hooks := sum(supports(r) for r in raceways):
        row = _row_for(job, SUPPORTS)
        rows.append(_priced("Supports for free cable paths", hooks, _each(row), _lead(row), _from(row),
                            "one for each spacing begun"))
    return rows


def _on_reels(job: Job, cuts: Sequence[CutList]) -> Working | None:
    """What is paid for cable that stays on the reels; None while no cable type has a price."""
    values: list[Value] = []
    total, feet = Decimal(0), job.settings.units == "ft-in"
    unit, name, word = (FOOT, "ft", "foot") if feet else (1.0, "m", "metre")
    for i, one in enumerate(cuts, 1):
        each = metre_price(job, one.type)[0] if one.type else None
        if one.plan is None or each is None:
            continue
        left = sum(r.left for r in one.plan.reels if r.bought)
        part = rounded(Decimal(repr(left)) * each)
        values += [Value(f"l{i}", f"left on reels bought, {one.label}", left / unit, name),
                   money(f"c{i}", f"a {word} of it", each * Decimal(repr(unit)))]
        total += part
    if not values:
        return None
    return Working("Cable that stays on the reels", "S = l1 c1 + l2 c2 + ...", tuple(values), money("S", "cost", total),
                   (Basis("the cut list of this job", JOB), Basis("the shop's prices", SHOP)),
                   notes=("The estimate counts cable by its routed length; this much more is paid and stays in the shop.",))
