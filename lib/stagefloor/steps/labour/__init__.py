"""Labour and price: hours with their spread, and how costs become a price. The takeoff does the counting.

Hours, costs and margins stay inside; `Estimate.selling` is the one record that may travel outwards.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.core.workings import ARITHMETIC, PRACTICE, Basis, Value, Working
from stagefloor.job.labour import HourUnit, PriceRow
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.hours import RowProblem, TaskHours, default_hour_units, rounded, task_hours
from stagefloor.steps.labour.order import WorkStep, order_of_work
from stagefloor.steps.labour.price import (
    LabourCost,
    MaterialCost,
    RiskCost,
    SectionPrice,
    Selling,
    build_up,
    labour_costs,
    material_costs,
    money,
    percentage,
    risk_costs,
    section_prices,
)
from stagefloor.steps.labour.simulation import SHARED, Part, Spread, spread

__all__ = [
    "Estimate",
    "LabourCost",
    "MaterialCost",
    "RiskCost",
    "RowProblem",
    "SectionPrice",
    "Selling",
    "Spread",
    "TaskHours",
    "Unpriced",
    "WorkStep",
    "default_hour_units",
    "estimate",
    "open_items",
    "order_of_work",
]

NAMED_AT_MOST = 6  # names listed in one sentence; the rest is counted


@dataclass(frozen=True)
class Unpriced:
    """A quantity that is not, or not wholly, in the price: `missing` says what is not entered for it."""

    quantity: str
    amount: float
    missing: str


@dataclass(frozen=True)
class Estimate:
    """Hours and money of one job. Lists are in the order of the job's rows.

    Attributes
    ----------
    tasks, materials, labour, sections, risks : the lines, each with or from a Working
    likely_hours : sum of the tasks' means, h; cautious_hours : P80 of the total with named risks, h
    spread : the draws; its `shares` rank what drives the spread
    build_up : from cost to price, the last one the margin that results; totals : tax and total, if any
    selling : what may travel outwards; None as long as nothing has a price
    unpriced : of `counted` quantities, those not wholly in the price
    problems : rows that can't be used, left out of every sum; notes : what a reader must know of it all
    """

    tasks: tuple[TaskHours, ...]
    materials: tuple[MaterialCost, ...]
    labour: tuple[LabourCost, ...]
    likely_hours: Working
    cautious_hours: Working
    spread: Spread
    sections: tuple[SectionPrice, ...]
    build_up: tuple[Working, ...]
    totals: tuple[Working, ...]
    risks: tuple[RiskCost, ...]
    selling: Selling | None
    unpriced: tuple[Unpriced, ...]
    counted: int
    problems: tuple[RowProblem, ...]
    notes: tuple[str, ...]


def estimate(job: Job, quantities: Mapping[str, float]) -> Estimate:
    """Hours, cost and price of a job from the takeoff's quantities.

    Parameters
    ----------
    quantities : name -> amount (metres for cables and raceways, counts otherwise). A row's name that ends in
        ':' counts the whole family, without mains: that is counted only by a row that names it.

    Notes
    -----
    Nothing is invented: a quantity without hours or a price is in `unpriced`, a row that can't be used in
    `problems`. The price uses the likely hours; the cautious ones show what a poor site would take.
    """
    pricing = job.pricing()
    good, notes = names.usable(quantities)
    tasks, problems = task_hours(job, good)
    materials, faults = material_costs(job, good)
    problems += faults
    rate = pricing.rate
    if rate is not None and rate <= 0:
        problems.append(
            RowProblem(
                (pricing.kind, pricing.id),
                "rate",
                f"The labour cost an hour is {rate}; it must be more than zero, so it was not used.",
            )
        )
        rate = None
    shares = {}
    for field, label in (
        ("contingency", "The contingency"),
        ("material_markup", "The markup on material"),
        ("labour_markup", "The markup on labour"),
        ("tax", "The tax"),
    ):
        shares[field], fault = percentage(pricing, field, label)
        if fault is not None:
            problems.append(fault)
        elif getattr(pricing, field) is None:
            notes.append(f"{label} is not entered: none is in these figures.")
    if tasks and rate is None:
        notes.append("No labour cost an hour is entered: the hours have no money and are not in the price.")
    risks, faults = risk_costs(job, rate)
    problems += faults
    labour = labour_costs(tasks, rate) if rate is not None else []
    sections = section_prices(
        materials, labour, shares["contingency"], shares["material_markup"], shares["labour_markup"]
    )
    unpriced, counted = _unpriced(good, tasks, materials, rate)
    drawn = spread(
        (
            *(t.part() for t in tasks),
            *(Part(f"Risk: {r.label}", r.hours, None, r.hours, r.chance / 100) for r in risks if r.hours),
        )
    )
    selling, totals = _selling(job, sections, shares["tax"], len(unpriced), counted)
    return Estimate(
        tuple(tasks),
        tuple(materials),
        tuple(labour),
        _likely(tasks),
        _cautious(drawn, rate),
        drawn,
        tuple(sections),
        tuple(build_up(sections, pricing)) if sections else (),
        totals,
        tuple(risks),
        selling,
        tuple(unpriced),
        counted,
        tuple(problems),
        tuple(notes),
    )


def _likely(tasks: Sequence[TaskHours]) -> Working:
    total = sum((t.hours for t in tasks), Decimal(0))
    low, high = sum(t.low for t in tasks), sum(t.high for t in tasks)
    return Working(
        "Hours, likely",
        "T = sum of the tasks' hours",
        (Value("n", "tasks", len(tasks)),),
        Value("T", "hours", float(total), "h", 8),
        (Basis("sum of the tasks' means, each rounded to 0.01 h", ARITHMETIC),),
        notes=("The named risks are not in it.",),
        also=(
            Value("T_low", "if every task went as low as it can", low, "h"),
            Value("T_high", "if every task went as high as it can", high, "h"),
        ),
    )


def _cautious(drawn: Spread, rate: Decimal | None) -> Working:
    also = [
        Value("P50", "as likely to be over as under", drawn.median, "h"),
        Value("m", "mean of the draws, named risks included", drawn.mean, "h"),
        Value("s_80", "standard error of P80", drawn.cautious_error, "h", 2),
        Value("s_m", "standard error of the mean", drawn.mean_error, "h", 2),
    ]
    if rate is not None:
        also.append(money("C", "labour cost of these hours", rounded(rounded(drawn.cautious) * rate)))
    return Working(
        "Hours, cautious",
        "T_80: eight draws in ten stay at or below it",
        (
            Value("n", "draws", drawn.draws, digits=8),
            Value("c", "correlation of any two tasks through the site", SHARED),
        ),
        Value("T_80", "hours", drawn.cautious, "h"),
        (
            Basis(
                "random draws with a fixed seed, each task triangular from low over likely to high",
                ARITHMETIC,
            ),
            Basis("one shared site factor that moves all tasks together", PRACTICE),
        ),
        notes=("A named risk happens with its own chance, apart from the site factor.",),
        also=tuple(also),
    )


def _unpriced(
    quantities: Mapping[str, float],
    tasks: Sequence[TaskHours],
    materials: Sequence[MaterialCost],
    rate: Decimal | None,
) -> tuple[list[Unpriced], int]:
    found: list[Unpriced] = []
    counted = 0
    for name, amount in quantities.items():
        has_price = any(names.is_of(name, m.quantity) for m in materials)
        has_hours = any(names.is_of(name, t.quantity) for t in tasks)
        ours = not names.is_any(name, (*names.COUNTED_ONLY, *names.OF_OTHERS))
        if amount == 0 or not (ours or has_price or has_hours):
            continue
        counted += 1
        known = names.is_any(name, (*names.MATERIAL, *names.WORK))
        missing = []
        if not has_price and (names.is_any(name, names.MATERIAL) or not (known or has_hours)):
            missing.append("a price")
        if not has_hours and (names.is_any(name, names.WORK) or not (known or has_price)):
            missing.append("hours")
        if has_hours and rate is None:
            missing.append("the labour cost of an hour")
        if missing:
            found.append(Unpriced(name, amount, " and ".join(missing)))
    return found, counted


def _selling(
    job: Job, sections: Sequence[SectionPrice], tax_share: Decimal, unpriced: int, counted: int
) -> tuple[Selling | None, tuple[Working, ...]]:
    """The selling record with its workings; none while nothing has a price, rather than a price of zero."""
    if not sections:
        return None, ()
    pricing = job.pricing()
    price = sum((s.selling for s in sections), Decimal(0))
    entered = pricing.tax is not None and pricing.tax >= 0
    tax = rounded(price * tax_share) if entered else None
    total = price + (tax or Decimal(0))
    short = (f"{unpriced} of {counted} unpriced: not, or not wholly, in it.",) if unpriced else ()
    workings = [
        Working(
            "Total",
            "S = P + X" if entered else "S = P",
            (money("P", "price before tax", price), *((money("X", "tax", tax),) if tax is not None else ())),
            money("S", "total", total),
            (Basis("sum of rounded lines", ARITHMETIC),),
            notes=short,
        )
    ]
    if tax is not None:
        workings.insert(
            0,
            Working(
                "Tax",
                "X = P * x / 100",
                (money("P", "price before tax", price), Value("x", "tax", pricing.tax or 0.0, "%")),
                money("X", "tax", tax),
                (
                    Basis(
                        "the percentage as entered; whether and on what tax is due is for your adviser",
                        ARITHMETIC,
                    ),
                ),
            ),
        )
    shown = tuple((s.section, s.selling) for s in sections) if pricing.show_sections else ()
    return Selling(
        job.settings.currency,
        shown,
        price,
        Decimal(repr(pricing.tax)) if entered else None,
        tax,
        total,
        unpriced,
        counted,
    ), tuple(workings)


def open_items(job: Job, quantities: Mapping[str, float], known: Estimate | None = None) -> list[OpenItem]:
    """What is wrong or missing in hours and prices: each bad row by itself, what is unpriced as one item.

    `known` spares the estimate if it is at hand.
    """
    found = estimate(job, quantities) if known is None else known
    basis = "the shop's hours and prices for this job"
    items = [
        OpenItem(
            "labour-row",
            "labour",
            p.sentence.split(":")[0],
            p.sentence,
            "",
            basis,
            "Mend the row; until then it is left out of every sum.",
            MEND,
            record=p.record,
        )
        for p in found.problems
    ]
    items += [
        OpenItem(
            "labour-quantity",
            "labour",
            "Takeoff",
            sentence,
            "",
            basis,
            "Mend what it is counted from.",
            CHECK,
        )
        for sentence in names.usable(quantities)[1]
    ]
    if found.unpriced and (bool(job.all(HourUnit)) or bool(job.all(PriceRow))):
        listed = "; ".join(f"{u.quantity} ({u.missing})" for u in found.unpriced[:NAMED_AT_MOST])
        rest = len(found.unpriced) - NAMED_AT_MOST
        items.append(
            OpenItem(
                "labour-unpriced",
                "labour",
                "Price",
                f"{len(found.unpriced)} of {found.counted} unpriced: {listed}"
                + (f"; and {rest} more" if rest > 0 else "")
                + ".",
                f"{len(found.unpriced)} of {found.counted}",
                basis,
                "Enter what is named in brackets; nothing is made up in its place.",
                TO_DO,
            )
        )
    return items
