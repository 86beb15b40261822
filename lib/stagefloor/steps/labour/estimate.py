"""One estimate: hours, their spread, cost, contingency, price, and what is missing. Nothing is invented."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.core.words import counted as so_many
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.job.labour import CONTINGENCIES, TAXED, Condition, PriceRow
from stagefloor.job.model import Job
from stagefloor.steps.cables.takeoff import NO_LENGTH
from stagefloor.steps.labour import conditions
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.crew import Crew, crew
from stagefloor.steps.labour.hours import TaskHours, task_hours
from stagefloor.steps.labour.materials import MaterialCost, Offer, material_costs
from stagefloor.steps.labour.price import (
    LabourCost,
    SectionPrice,
    Selling,
    base_cost,
    build_up,
    labour_costs,
    percentage,
    section_prices,
    selling,
)
from stagefloor.steps.labour.risk import (
    RiskCost,
    cautious_cost,
    cautious_hours,
    contingency_amount,
    drawn,
    drivers,
    risk_costs,
)
from stagefloor.steps.labour.rows import RowProblem
from stagefloor.steps.labour.simulation import Simulation
from stagefloor.steps.labour.words import likely_and_cautious

PERCENTAGES = (
    ("contingency", "The contingency"),
    ("material_markup", "The markup on material"),
    ("labour_markup", "The markup on labour"),
    ("tax", "The tax"),
)


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
    crew : who works and what an hour costs
    likely_hours : sum of the tasks' means, h; cautious_hours : P80 of the total with named risks, h
    cautious_cost : the contingency that the draws ask for, P80 of the cost less the base
    drawn : the spreads of hours and money; their shares rank what drives them
    build_up : from cost to price, the last one the margin that results; totals : tax and total, if any
    selling : what may travel outwards; None as long as nothing has a price
    unpriced : of `counted` quantities, those not wholly in the price
    problems : rows that can't be used, left out of every sum; notes : what a reader must know of it all
    quantities : what was counted
    """

    tasks: tuple[TaskHours, ...]
    materials: tuple[MaterialCost, ...]
    labour: tuple[LabourCost, ...]
    crew: Crew
    likely_hours: Working
    cautious_hours: Working
    cautious_cost: Working
    drawn: Simulation
    sections: tuple[SectionPrice, ...]
    build_up: tuple[Working, ...]
    totals: tuple[Working, ...]
    risks: tuple[RiskCost, ...]
    selling: Selling | None
    unpriced: tuple[Unpriced, ...]
    counted: int
    problems: tuple[RowProblem, ...]
    notes: tuple[str, ...]
    quantities: Mapping[str, float]

    @property
    def days(self) -> str:
        """'about 6 days, cautious 8 days', for the crew of the job."""
        day = self.crew.hours_of_a_day
        return likely_and_cautious(self.likely_hours.result.amount / day, self.cautious_hours.result.amount / day)

    @property
    def cost(self) -> Decimal:
        """Material and labour with contingency and the tax that the shop pays."""
        return sum((s.cost for s in self.sections), Decimal(0))

    @property
    def drivers(self) -> Working:
        """What drives the spread of the hours."""
        return drivers(self.drawn)

    def workings(self) -> list[Working]:
        """Every working of this estimate, each once."""
        first = [self.likely_hours, self.cautious_hours, self.crew.days, self.drivers]
        if self.crew.working is not None:
            first.append(self.crew.working)
        if self.sections:
            first.append(self.cautious_cost)
        return [*first, *self.build_up, *self.totals, *(s.working for s in self.sections), *(t.working for t in self.tasks),
                *(m.working for m in self.materials), *(w.working for w in self.labour),
                *(r.working for r in self.risks)]


def estimate(job: Job, quantities: Mapping[str, float], offered: Sequence[Offer] = ()) -> Estimate:
    """Hours, cost and price of a job from the takeoff's quantities.

    Parameters
    ----------
    quantities : name -> amount (metres for cables and raceways, counts otherwise). A row's name that ends in
        ':' counts the whole family, without mains: that is counted only by a row that names it.
    offered : prices of box models and cable types, used where no price row names their quantity

    Notes
    -----
    Nothing is invented: a quantity without hours or a price is in `unpriced`, a row that can't be used in
    `problems`. The price uses the likely hours; the cautious ones show what a poor site would take.
    """
    pricing = job.pricing()
    good, notes = names.usable(quantities)
    tasks, problems = task_hours(job, good)
    materials, faults = material_costs(job, good, offered)
    problems += faults
    team = crew(job)
    problems += team.problems
    problems += [RowProblem((c.kind, c.id), *conditions.fault(c)) for c in job.all(Condition) if conditions.fault(c)[0]]
    shares = {}
    for field, label in PERCENTAGES:
        shares[field], fault = percentage(pricing, field, label)
        if fault is not None:
            problems.append(fault)
        elif getattr(pricing, field) is None and not (
                field == "contingency" and pricing.contingency_by != CONTINGENCIES[0]):
            notes.append(f"{label} is not entered: none is in these figures.")
    rate = team.rate
    if tasks and rate is None:
        notes.append("No labour cost an hour is entered: the hours have no money and are not in the price.")
    risks, faults = risk_costs(job, rate)
    problems += faults
    labour = labour_costs(tasks, rate) if rate is not None else []
    paid = shares["tax"] if pricing.tax_on == TAXED[2] and not pricing.exempt else Decimal(0)
    found = drawn([t.part(rate) for t in tasks], materials, risks, paid)
    base = base_cost(materials, labour, paid)
    by_draws = cautious_cost(found, base)
    amount = None if pricing.contingency_by == CONTINGENCIES[0] else contingency_amount(found, base)
    sections = section_prices(materials, labour, shares["contingency"], amount, paid, shares["material_markup"],
                              shares["labour_markup"])
    unpriced, counted = _unpriced(job, good, tasks, materials, rate)
    record, totals = selling(pricing, job.settings.currency, sections, shares["tax"], len(unpriced), counted)
    return Estimate(
        tuple(tasks), tuple(materials), tuple(labour), team, _likely(tasks, team), cautious_hours(found, team), by_draws,
        found, tuple(sections), tuple(build_up(sections, pricing, by_draws)) if sections else (), totals, tuple(risks),
        record, tuple(unpriced), counted, tuple(problems), tuple(notes), good)


def _likely(tasks: Sequence[TaskHours], team: Crew) -> Working:
    total = sum((t.hours for t in tasks), Decimal(0))
    low, high = sum(t.low for t in tasks), sum(t.high for t in tasks)
    return Working(
        "Hours, likely", "T = sum of the tasks' hours", (Value("n", "tasks", len(tasks)),),
        Value("T", "hours", float(total), "h", 8),
        (Basis("sum of the tasks' means, each rounded to 0.01 h", ARITHMETIC),),
        notes=("The named risks are not in it.",),
        also=(Value("T_low", "if every task went as low as it can", low, "h"),
              Value("T_high", "if every task went as high as it can", high, "h"),
              Value("D", "days of the crew", float(total) / team.hours_of_a_day, "d")))


def _unpriced(job: Job, quantities: Mapping[str, float], tasks: Sequence[TaskHours],
              materials: Sequence[MaterialCost], rate: Decimal | None) -> tuple[list[Unpriced], int]:
    rows = {r.id for r in job.all(PriceRow)}
    besides = {r.id for r in job.all(PriceRow) if r.besides}
    found: list[Unpriced] = []
    counted = 0
    for name, amount in quantities.items():
        has_price = any(names.is_of(name, m.quantity) for m in materials
                        if m.record[1] in rows - besides)
        offered = sum(m.amount for m in materials if m.record[1] not in rows and m.quantity == names.plain(name))
        short = "" if has_price or amount - offered <= 1e-6 * amount else (
            f"a price for {amount - offered:.3g} of {amount:.3g}" if offered else "a price")
        has_hours = any(names.is_of(name, t.quantity) for t in tasks)
        ours = not names.is_any(name, (*names.COUNTED_ONLY, *names.OF_OTHERS))
        if amount == 0 or not (ours or has_price or has_hours):
            continue
        counted += 1
        known = names.is_any(name, (*names.MATERIAL, *names.WORK))
        missing = []
        if short and (names.is_any(name, names.MATERIAL) or not (known or has_hours)):
            missing.append(short)
        if not has_hours and (names.is_any(name, names.WORK) or not (known or has_price)):
            missing.append("hours")
        if has_hours and rate is None:
            missing.append("the labour cost of an hour")
        if missing:
            found.append(Unpriced(name, amount, " and ".join(missing)))
    if unknown := quantities.get(NO_LENGTH, 0.0):
        known_lines = sum(n for q, n in quantities.items() if names.is_of(q, "circuits:"))
        counted += 1
        found.append(Unpriced(NO_LENGTH, unknown, f"the length of {unknown:g} of {so_many(int(known_lines), 'line')}"))
    return found, counted
