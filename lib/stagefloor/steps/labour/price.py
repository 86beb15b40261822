"""Costs become a price: material, labour, contingency, markup, tax, by section. Money is decimal.

Rounding: each line to the cent, half up; a total is the sum of rounded lines; what is split over sections is split so
that the parts add up to it. Percentages are added to cost.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.calculations import labour as rules
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.job.labour import CONTINGENCIES, SECTIONS, TAXED, Pricing
from stagefloor.steps.labour.hours import TaskHours
from stagefloor.steps.labour.materials import ROUNDING, SHOP_PRICES, MaterialCost
from stagefloor.steps.labour.risk import SHOP_POLICY
from stagefloor.steps.labour.rows import RowProblem, apportioned, money, rounded

PERCENT = Decimal(100)
WHOLE, ON_MATERIAL, IN_COST = TAXED
ADVISER = "the percentage as entered; whether and on what tax is due is for your adviser"


@dataclass(frozen=True)
class LabourCost:
    """What the hours of one task cost the shop."""

    task: str
    section: str
    quantity: str
    hours: Decimal
    cost: Decimal
    working: Working


@dataclass(frozen=True)
class SectionPrice:
    """One section from cost to selling price; contingency and markup on material and on labour apart.

    `tax_material` is tax that the shop pays on material and does not show; it is cost like the material.
    """

    section: str
    material: Decimal
    labour: Decimal
    tax_material: Decimal
    contingency_material: Decimal
    contingency_labour: Decimal
    markup_material: Decimal
    markup_labour: Decimal

    @property
    def material_side(self) -> Decimal:
        """Material with the tax that the shop pays and its contingency."""
        return self.material + self.tax_material + self.contingency_material

    @property
    def labour_side(self) -> Decimal:
        """Labour with its contingency."""
        return self.labour + self.contingency_labour

    @property
    def cost(self) -> Decimal:
        return self.material_side + self.labour_side

    @property
    def selling(self) -> Decimal:
        return self.cost + self.markup_material + self.markup_labour


    @property
    def working(self) -> Working:
        """The price of the section from its parts."""
        return Working(
            f"Section: {self.section}", "P = M + W + X_m + K + U",
            (money("M", "material", self.material), money("W", "labour", self.labour),
             money("X_m", "tax that the shop pays on material", self.tax_material),
             money("K", "contingency", self.contingency_material + self.contingency_labour),
             money("U", "markups", self.markup_material + self.markup_labour)),
            money("P", "price of the section", self.selling), (ROUNDING,),
            also=(money("K_m", "contingency on material", self.contingency_material),
                  money("K_w", "contingency on labour", self.contingency_labour),
                  money("U_m", "markup on material", self.markup_material),
                  money("U_w", "markup on labour", self.markup_labour)))


@dataclass(frozen=True)
class Selling:
    """The one record of this step that may travel outwards: no cost, no hour, no percentage but the tax.

    `sections` is empty where the client sees one sum; `unpriced` of `counted` quantities are missing.
    """

    currency: str
    sections: tuple[tuple[str, Decimal], ...]
    price: Decimal
    tax_percent: Decimal | None
    tax: Decimal | None
    total: Decimal
    unpriced: int
    counted: int


def labour_costs(tasks: Sequence[TaskHours], rate: Decimal) -> list[LabourCost]:
    """Hours of each task times the labour cost of an hour."""
    return [
        LabourCost(
            t.task, t.section, t.quantity, t.hours, rounded(t.hours * rate),
            Working(f"Labour: {t.task}", "C = T * r",
                    (Value("T", "hours", float(t.hours), "h", 8), money("r", "an hour", rate)),
                    money("C", "labour cost", rounded(t.hours * rate)), (SHOP_PRICES, ROUNDING)))
        for t in tasks
    ]


def percentage(pricing: Pricing, field: str, label: str) -> tuple[Decimal, RowProblem | None]:
    """A percentage as a share; zero if none is entered, or with a problem if it is below zero."""
    value: float | None = getattr(pricing, field)
    if value is None:
        return Decimal(0), None
    if value < 0:
        return Decimal(0), RowProblem((pricing.kind, pricing.id), field,
                                      f"{label} is {value:g} %; it can't be below zero, so none was used.")
    return Decimal(repr(value)) / PERCENT, None


def base_cost(materials: Sequence[MaterialCost], labour: Sequence[LabourCost], tax: Decimal) -> Decimal:
    """Material and labour before contingency, with the tax that the shop pays on material (a share)."""
    return sum((m.cost for m in materials), Decimal(0)) + sum((w.cost for w in labour), Decimal(0)) + sum(
        (rounded(_of(materials, s) * tax) for s in SECTIONS), Decimal(0))


def _of(lines: Sequence[MaterialCost] | Sequence[LabourCost], section: str) -> Decimal:
    return sum((x.cost for x in lines if x.section == section), Decimal(0))


def section_prices(materials: Sequence[MaterialCost], labour: Sequence[LabourCost], contingency: Decimal,
                   amount: Decimal | None, tax: Decimal, material_markup: Decimal, labour_markup: Decimal
                   ) -> list[SectionPrice]:
    """Each section with any cost, in the usual order; contingency is marked up like the cost it stands by.

    Parameters
    ----------
    contingency : as a share of cost; amount : as a sum instead, split over the sections by their cost
    tax : share of material that the shop pays itself; the markups are shares as well
    """
    known = [(s, _of(materials, s), rounded(_of(materials, s) * tax), _of(labour, s)) for s in SECTIONS]
    known = [k for k in known if k[1] or k[3]]
    if amount is None:
        spare = [rounded(x * contingency) for _, m, t, w in known for x in (m + t, w)]
    else:
        spare = apportioned(amount, [x for _, m, t, w in known for x in (m + t, w)])
    return [SectionPrice(s, m, w, t, spare[2 * i], spare[2 * i + 1], rounded((m + t + spare[2 * i]) * material_markup),
                         rounded((w + spare[2 * i + 1]) * labour_markup)) for i, (s, m, t, w) in enumerate(known)]


def build_up(sections: Sequence[SectionPrice], pricing: Pricing, by_draws: Working) -> list[Working]:
    """From cost to price, line by line, ending with the margin that results."""

    def total(field: str) -> Decimal:
        return sum((getattr(s, field) for s in sections), Decimal(0))

    material, work, paid = total("material"), total("labour"), total("tax_material")
    spare_m, spare_w = total("contingency_material"), total("contingency_labour")
    lines = [
        Working("Material cost", "sum of the price lines", (), money("M", "material", material),
                (SHOP_PRICES, ROUNDING)),
        Working("Labour cost", "sum of hours times rate", (), money("W", "labour", work), (SHOP_PRICES, ROUNDING)),
    ]
    if paid:
        lines.append(Working(
            "Tax that the shop pays", "X_m = M * x / 100, by section",
            (money("M", "material", material), Value("x", "tax", pricing.tax or 0.0, "%")),
            money("X_m", "tax on material, in the cost", paid), (Basis(ADVISER, ARITHMETIC), ROUNDING)))
    also = (money("K_m", "of it on material", spare_m), money("K_w", "of it on labour", spare_w))
    if pricing.contingency_by == CONTINGENCIES[0]:
        lines.append(Working(
            "Contingency", "K = (M + W) * k / 100, by section",
            (money("M", "material" + (" with its tax" if paid else ""), material + paid), money("W", "labour", work),
             Value("k", "contingency", pricing.contingency or 0.0, "%")),
            money("K", "contingency", spare_m + spare_w), (SHOP_POLICY, ROUNDING), also=also))
    else:
        lines.append(Working(
            "Contingency", by_draws.formula, by_draws.inputs, money("K", "contingency", spare_m + spare_w),
            (SHOP_POLICY, *by_draws.basis), notes=("Split over the sections by their cost, to the cent.",), also=also))
    for name, cost, percent, field in (
        ("Markup on material", material + paid + spare_m, pricing.material_markup, "markup_material"),
        ("Markup on labour", work + spare_w, pricing.labour_markup, "markup_labour"),
    ):
        lines.append(Working(
            name, "U = cost with its contingency * u / 100, by section",
            (money("C", "cost with its contingency", cost), Value("u", "markup", percent or 0.0, "%")),
            money("U", "markup", total(field)), (SHOP_POLICY, ROUNDING),
            notes=("Markup is added to cost; the margin is another figure.",)))
    cost, selling = total("cost"), total("selling")
    lines.append(Working(
        "Price before tax", "P = C + U",
        (money("C", "cost with contingency", cost),
         money("U", "markups", total("markup_material") + total("markup_labour"))),
        money("P", "price", selling), (ROUNDING,)))
    if selling > 0:
        lines.append(rules.margin(float(cost), float(selling)))
    return lines


def selling(pricing: Pricing, currency: str, sections: Sequence[SectionPrice], tax_share: Decimal, unpriced: int,
            counted: int) -> tuple[Selling | None, tuple[Working, ...]]:
    """The selling record with its workings; none while nothing has a price, rather than a price of zero."""
    if not sections:
        return None, ()
    price = sum((s.selling for s in sections), Decimal(0))
    shown = pricing.tax is not None and pricing.tax >= 0 and pricing.tax_on != IN_COST
    base = price if pricing.tax_on == WHOLE else sum((s.material_side + s.markup_material for s in sections), Decimal(0))
    tax = None
    if shown:
        tax = Decimal("0.00") if pricing.exempt else rounded(base * tax_share)
    total = price + (tax or Decimal(0))
    short = (f"{unpriced} of {counted} unpriced: not, or not wholly, in it.",) if unpriced else ()
    workings = [Working(
        "Total", "S = P + X" if shown else "S = P",
        (money("P", "price before tax", price), *((money("X", "tax", tax),) if tax is not None else ())),
        money("S", "total", total), (Basis("sum of rounded lines", ARITHMETIC),), notes=short)]
    if tax is not None:
        what = "price before tax" if pricing.tax_on == WHOLE else "material at its selling price"
        exempt = f"The client is exempt: {pricing.exempt_paper or 'its paper is not recorded'}."
        workings.insert(0, Working(
            "Tax", "X = 0, the client is exempt" if pricing.exempt else "X = P * x / 100",
            (money("P", what, base), Value("x", "tax", pricing.tax or 0.0, "%")), money("X", "tax", tax),
            (Basis(ADVISER, ARITHMETIC),), notes=(exempt,) if pricing.exempt else ()))
    by_section = tuple((s.section, s.selling) for s in sections) if pricing.show_sections else ()
    percent = None if not shown else Decimal(0) if pricing.exempt else Decimal(repr(pricing.tax))
    return Selling(currency, by_section, price, percent, tax, total, unpriced, counted), tuple(workings)
