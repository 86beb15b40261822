"""Costs become a price: material, labour, contingency, markup, tax, by section. Money is decimal.

Rounding: each line to the cent, half up; a total is the sum of rounded lines. Percentages are added to cost.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.calculations import labour as rules
from stagefloor.core.workings import ARITHMETIC, JOB, SHOP, Basis, Value, Working
from stagefloor.job.labour import SECTIONS, PriceRow, Pricing, Risk
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.hours import RowProblem, TaskHours, rounded

PERCENT = Decimal(100)
ROUNDING = Basis("each line to the cent, half up; totals are sums of rounded lines", ARITHMETIC)
SHOP_PRICES = Basis("the shop's price list and rate for this job", SHOP)
SHOP_POLICY = Basis("the shop's pricing for this job", JOB)


@dataclass(frozen=True)
class MaterialCost:
    """What a quantity costs the shop, `cost` in the job's currency."""

    item: str
    section: str
    quantity: str
    amount: float
    cost: Decimal
    working: Working
    record: tuple[str, str]


@dataclass(frozen=True)
class LabourCost:
    """What the hours of one task cost the shop."""

    task: str
    section: str
    hours: Decimal
    cost: Decimal
    working: Working


@dataclass(frozen=True)
class SectionPrice:
    """One section from cost to selling price; contingency and markup on material and on labour apart."""

    section: str
    material: Decimal
    labour: Decimal
    contingency_material: Decimal
    contingency_labour: Decimal
    markup_material: Decimal
    markup_labour: Decimal

    @property
    def cost(self) -> Decimal:
        """Material, labour and contingency."""
        return self.material + self.labour + self.contingency_material + self.contingency_labour

    @property
    def selling(self) -> Decimal:
        return self.cost + self.markup_material + self.markup_labour


@dataclass(frozen=True)
class RiskCost:
    """A named risk: `expected` is chance times consequence; shown to the office, not added to the price."""

    label: str
    chance: float
    hours: float
    consequence: Decimal
    expected: Decimal
    working: Working
    record: tuple[str, str]


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


def material_costs(job: Job, quantities: Mapping[str, float]) -> tuple[list[MaterialCost], list[RowProblem]]:
    """The cost of each price row whose quantity is above zero; a row without a cost is left out."""
    lines: list[MaterialCost] = []
    problems: list[RowProblem] = []
    for row in job.all(PriceRow):
        fault = _row_fault(row, quantities)
        if fault is not None:
            problems.append(fault)
            continue
        amount = names.amount(quantities, row.quantity)
        if row.cost is not None and amount > 0:
            lines.append(_material(row, amount, row.cost))
    return lines, problems


def _row_fault(row: PriceRow, quantities: Mapping[str, float]) -> RowProblem | None:
    missing = names.unknown(row.quantity, quantities)
    field, words = "", ""
    if missing:
        field, words = "quantity", f"the row {missing}"
    elif row.per is None or row.per <= 0:
        field, words = "per", f"'per how many' is {row.per or 0:g}; it must be more than zero"
    elif row.cost is not None and row.cost < 0:
        field, words = "cost", f"the cost is {row.cost}; it can't be below zero: enter what the shop pays"
    if not field:
        return None
    return RowProblem(
        (row.kind, row.id), field, f"Price of '{row.name}': {words}" + ("" if words[-1] == "?" else ".")
    )


def _material(row: PriceRow, amount: float, each: Decimal) -> MaterialCost:
    cost = rounded(Decimal(repr(amount)) / Decimal(repr(row.per or 1.0)) * each)
    working = Working(
        f"Cost: {row.name}",
        "C = q / n * c",
        (
            Value("q", f"counted by '{row.quantity}'", amount),
            Value("n", "per how many", row.per or 1.0),
            money("c", "cost", each),
        ),
        money("C", "cost", cost),
        (SHOP_PRICES, ROUNDING),
        notes=("Whole reels and packs are not rounded up here.",),
    )
    return MaterialCost(row.name, row.section, row.quantity, amount, cost, working, (row.kind, row.id))


def labour_costs(tasks: Sequence[TaskHours], rate: Decimal) -> list[LabourCost]:
    """Hours of each task times the labour cost of an hour."""
    return [
        LabourCost(
            t.task,
            t.section,
            t.hours,
            rounded(t.hours * rate),
            Working(
                f"Labour: {t.task}",
                "C = T * r",
                (Value("T", "hours", float(t.hours), "h", 8), money("r", "an hour", rate)),
                money("C", "labour cost", rounded(t.hours * rate)),
                (SHOP_PRICES, ROUNDING),
            ),
        )
        for t in tasks
    ]


def money(symbol: str, name: str, amount: Decimal) -> Value:
    """Money as a value of a working, shown in full."""
    return Value(symbol, name, float(amount), digits=15)


def percentage(pricing: Pricing, field: str, label: str) -> tuple[Decimal, RowProblem | None]:
    """A percentage as a share; zero if none is entered, or with a problem if it is below zero."""
    value: float | None = getattr(pricing, field)
    if value is None:
        return Decimal(0), None
    if value < 0:
        return Decimal(0), RowProblem(
            (pricing.kind, pricing.id),
            field,
            f"{label} is {value:g} %; it can't be below zero, so none was used.",
        )
    return Decimal(repr(value)) / PERCENT, None


def section_prices(
    materials: Sequence[MaterialCost],
    labour: Sequence[LabourCost],
    contingency: Decimal,
    material_markup: Decimal,
    labour_markup: Decimal,
) -> list[SectionPrice]:
    """Each section with any cost, in the usual order; contingency is marked up like the cost it stands by."""
    found = []
    for name in SECTIONS:
        material = sum((m.cost for m in materials if m.section == name), Decimal(0))
        work = sum((w.cost for w in labour if w.section == name), Decimal(0))
        if not material and not work:
            continue
        spare_m, spare_w = rounded(material * contingency), rounded(work * contingency)
        found.append(
            SectionPrice(
                name,
                material,
                work,
                spare_m,
                spare_w,
                rounded((material + spare_m) * material_markup),
                rounded((work + spare_w) * labour_markup),
            )
        )
    return found


def build_up(sections: Sequence[SectionPrice], pricing: Pricing) -> list[Working]:
    """From cost to price, line by line, ending with the margin that results."""

    def total(field: str) -> Decimal:
        return sum((getattr(s, field) for s in sections), Decimal(0))

    material, work = total("material"), total("labour")
    spare_m, spare_w = total("contingency_material"), total("contingency_labour")
    lines = [
        Working(
            "Material cost",
            "sum of the price lines",
            (),
            money("M", "material", material),
            (SHOP_PRICES, ROUNDING),
        ),
        Working(
            "Labour cost", "sum of hours times rate", (), money("W", "labour", work), (SHOP_PRICES, ROUNDING)
        ),
        Working(
            "Contingency",
            "K = (M + W) * k / 100, by section",
            (
                money("M", "material", material),
                money("W", "labour", work),
                Value("k", "contingency", pricing.contingency or 0.0, "%"),
            ),
            money("K", "contingency", spare_m + spare_w),
            (SHOP_POLICY, ROUNDING),
            also=(money("K_m", "of it on material", spare_m), money("K_w", "of it on labour", spare_w)),
        ),
    ]
    for name, cost, percent, field in (
        ("Markup on material", material + spare_m, pricing.material_markup, "markup_material"),
        ("Markup on labour", work + spare_w, pricing.labour_markup, "markup_labour"),
    ):
        lines.append(
            Working(
                name,
                "U = cost with its contingency * u / 100, by section",
                (money("C", "cost with its contingency", cost), Value("u", "markup", percent or 0.0, "%")),
                money("U", "markup", total(field)),
                (SHOP_POLICY, ROUNDING),
                notes=("Markup is added to cost; the margin is another figure.",),
            )
        )
    cost, selling = total("cost"), total("selling")
    lines.append(
        Working(
            "Price before tax",
            "P = M + W + K + markups",
            (
                money("C", "cost with contingency", cost),
                money("U", "markups", total("markup_material") + total("markup_labour")),
            ),
            money("P", "price", selling),
            (ROUNDING,),
        )
    )
    if cost > 0:
        lines.append(rules.margin(float(cost), float(selling)))
    return lines


def risk_costs(job: Job, rate: Decimal | None) -> tuple[list[RiskCost], list[RowProblem]]:
    """Each named risk with chance times consequence; hours are priced at the labour cost if there is one."""
    lines: list[RiskCost] = []
    problems: list[RowProblem] = []
    for risk in job.all(Risk):
        fault = _risk_fault(risk)
        if fault is not None:
            problems.append(fault)
            continue
        chance, hours = risk.chance or 0.0, risk.hours or 0.0
        worst = (risk.cost or Decimal(0)) + (rounded(Decimal(repr(hours)) * rate) if rate else Decimal(0))
        expected = rounded(worst * Decimal(repr(chance)) / PERCENT)
        notes = ["Listed for the office; it is not added to the price: the contingency stands against it."]
        if hours and not rate:
            notes.append(f"Its {hours:g} hours have no money: no labour cost an hour is entered.")
        lines.append(
            RiskCost(
                risk.name,
                chance,
                hours,
                worst,
                expected,
                Working(
                    f"Risk: {risk.name}",
                    "E = p / 100 * (C + T * r)",
                    (
                        Value("p", "chance", chance, "%"),
                        money("C", "cost if it happens", risk.cost or Decimal(0)),
                        Value("T", "hours if it happens", hours, "h"),
                        money("r", "an hour", rate or Decimal(0)),
                    ),
                    money("E", "chance times consequence", expected),
                    (SHOP_POLICY, ROUNDING),
                    notes=tuple(notes),
                ),
                (risk.kind, risk.id),
            )
        )
    return lines, problems


def _risk_fault(risk: Risk) -> RowProblem | None:
    field, words = "", ""
    if risk.chance is None:
        field, words = "chance", "no chance is entered; enter it in percent"
    elif not 0 <= risk.chance <= float(PERCENT):
        field, words = "chance", f"the chance is {risk.chance:g} %; it must be from 0 to 100"
    elif risk.hours is not None and risk.hours < 0:
        field, words = "hours", f"the hours are {risk.hours:g}; they can't be below zero"
    elif risk.cost is not None and risk.cost < 0:
        field, words = "cost", f"the cost is {risk.cost}; it can't be below zero"
    return RowProblem((risk.kind, risk.id), field, f"Risk '{risk.name}': {words}.") if field else None
