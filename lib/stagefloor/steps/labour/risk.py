"""Named risks, and what the contingency would have to be: eight jobs in ten at or below, less the base."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal

from stagefloor.core.workings import ARITHMETIC, JOB, PRACTICE, Basis, Value, Working
from stagefloor.job.labour import Risk
from stagefloor.job.model import Job
from stagefloor.steps.labour.crew import Crew
from stagefloor.steps.labour.materials import ROUNDING, MaterialCost
from stagefloor.steps.labour.rows import RowProblem, money, rounded
from stagefloor.steps.labour.simulation import CAUSES, CAUTIOUS, Part, Simulation, simulate

PERCENT = Decimal(100)
DRIVERS, LEAST_SHOWN = 6, 0.01  # parts that are listed, and the least share that is worth a line
SHOP_POLICY = Basis("the shop's pricing for this job", JOB)
DRAWN = Basis("random draws with a fixed seed, each part triangular from low over likely to high", ARITHMETIC)
SHARING = Basis("correlation of two parts that share a cause: " + "; ".join(f"{c} {v:g}" for c, v in CAUSES.items()),
                PRACTICE)


@dataclass(frozen=True)
class RiskCost:
    """A named risk: `expected` is chance times consequence; shown to the office, not added to the price.

    `hours` and `consequence` are what it takes if it happens, with the likely number of pieces; `unit_price` is what
    the offer asks for each piece, `piece` what one costs the shop.
    """

    label: str
    chance: float
    hours: float
    consequence: Decimal
    expected: Decimal
    part: Part
    working: Working
    record: tuple[str, str]
    unit_price: Decimal | None = None
    piece: Decimal = Decimal(0)


def risk_costs(job: Job, rate: Decimal | None) -> tuple[list[RiskCost], list[RowProblem]]:
    """Each named risk with chance times consequence; hours are priced at the labour cost if there is one."""
    lines: list[RiskCost] = []
    problems: list[RowProblem] = []
    for risk in job.all(Risk):
        fault = _fault(risk)
        if fault is not None:
            problems.append(fault)
        else:
            lines.append(_line(risk, rate))
    return lines, problems


def _line(risk: Risk, rate: Decimal | None) -> RiskCost:
    chance, hours = risk.chance or 0.0, risk.hours or 0.0
    low, likely, high = _pieces(risk)
    pieces = (low + likely + high) / 3
    piece = (risk.cost or Decimal(0)) + (rounded(Decimal(repr(hours)) * rate) if rate else Decimal(0))
    worst = rounded(piece * Decimal(repr(pieces)))
    expected = rounded(worst * Decimal(repr(chance)) / PERCENT)
    ours = piece if risk.unit_price is None else max(piece - risk.unit_price, Decimal(0))
    notes = ["Listed for the office; it is not added to the price: the contingency stands against it."
             if risk.unit_price is None else "Listed for the office; the client pays each piece at the unit price, so its "
             "money is not in the contingency by the draws" + (f", but for {ours} a piece." if ours else ".")]
    if hours and not rate:
        notes.append(f"Its {hours:g} hours have no money: no labour cost an hour is entered.")
    counted = (Value("n", "pieces, mean of low, likely and high", pieces),) if risk.likely is not None else ()
    also = () if risk.unit_price is None else (money("u", "unit price in the offer", risk.unit_price),)
    if risk.unit_price is not None and risk.unit_price < piece:
        notes.append(f"The unit price of {risk.unit_price} is less than the {piece} that a piece costs.")
    working = Working(
        f"Risk: {risk.name}", "E = p / 100 * n * (C + T * r)" if counted else "E = p / 100 * (C + T * r)",
        (Value("p", "chance", chance, "%"), *counted,
         money("C", "cost if it happens" + (", a piece" if counted else ""), risk.cost or Decimal(0)),
         Value("T", "hours if it happens" + (", a piece" if counted else ""), hours, "h"),
         money("r", "an hour", rate or Decimal(0))),
        money("E", "chance times consequence", expected), (SHOP_POLICY, ROUNDING), notes=tuple(notes), also=also)
    part = Part(f"Risk: {risk.name}", low, likely, high, chance / 100, (), hours, float(ours))
    return RiskCost(risk.name, chance, hours * pieces, worst, expected, part, working, (risk.kind, risk.id),
                    risk.unit_price, piece)


def _pieces(risk: Risk) -> tuple[float, float, float]:
    if risk.likely is None:
        return 1.0, 1.0, 1.0
    low = risk.likely if risk.low is None else risk.low
    return low, risk.likely, risk.likely if risk.high is None else risk.high


def _fault(risk: Risk) -> RowProblem | None:
    field, words = "", ""
    low, likely, high = _pieces(risk)
    if risk.chance is None:
        field, words = "chance", "no chance is entered; enter it in percent"
    elif not 0 <= risk.chance <= float(PERCENT):
        field, words = "chance", f"the chance is {risk.chance:g} %; it must be from 0 to 100"
    elif risk.hours is not None and risk.hours < 0:
        field, words = "hours", f"the hours are {risk.hours:g}; they can't be below zero"
    elif risk.cost is not None and risk.cost < 0:
        field, words = "cost", f"the cost is {risk.cost}; it can't be below zero"
    elif risk.likely is None and (risk.low is not None or risk.high is not None):
        field, words = "likely", "pieces are given without the likely number; enter it"
    elif not 0 <= low <= likely <= high:
        field, words = "likely", f"{low:g}, {likely:g} and {high:g} pieces are not in rising order; put them in order"
    elif risk.unit_price is not None and risk.unit_price < 0:
        field, words = "unit_price", f"the unit price is {risk.unit_price}; it can't be below zero"
    return RowProblem((risk.kind, risk.id), field, f"Risk '{risk.name}': {words}.") if field else None


def drawn(tasks: Sequence[Part], materials: Sequence[MaterialCost], risks: Sequence[RiskCost],
          tax: Decimal = Decimal(0)) -> Simulation:
    """The draws of hours and cost together, so that a slow job is also a dear one. `tax`: on material, a share."""
    return simulate((*tasks, *(m.part(1 + float(tax)) for m in materials), *(r.part for r in risks)))


def cautious_hours(found: Simulation, crew: Crew) -> Working:
    """The hours that eight draws in ten stay at or below, with the errors of the sample."""
    h = found.hours
    also = [
        Value("P50", "as likely to be over as under", h.median, "h"),
        Value("m", "mean of the draws, named risks included", h.mean, "h"),
        Value("s_80", "standard error of P80", h.cautious_error, "h", 2),
        Value("s_50", "standard error of P50", h.median_error, "h", 2),
        Value("s_m", "standard error of the mean", h.mean_error, "h", 2),
        Value("", "P80 lies between, 95 in 100", h.cautious_interval[0], "h"),
        Value("", "and", h.cautious_interval[1], "h"),
        Value("D_80", "days of the crew", h.cautious / crew.hours_of_a_day, "d"),
    ]
    if crew.rate is not None:
        also.append(money("C", "labour cost of these hours", rounded(rounded(h.cautious) * crew.rate)))
    return Working(
        "Hours, cautious", "T_80: eight draws in ten stay at or below it", (Value("n", "draws", h.draws, digits=8),),
        Value("T_80", "hours", h.cautious, "h"), (DRAWN, SHARING),
        notes=("All tasks share the site; tasks counted by the metre share the lengths as well.",
               "A named risk happens with its own chance, apart from every cause."),
        also=tuple(also))


def cautious_cost(found: Simulation, base: Decimal) -> Working:
    """Contingency as P80 of the cost less the base, in whole money, rounded up: what the draws say it should be."""
    m = found.money
    amount = contingency_amount(found, base)
    return Working(
        "Contingency by the draws", "K = C_80 - B, at least 0",
        (Value("C_80", "cost that eight draws in ten stay at or below", m.cautious, "", 8),
         money("B", "base: material and labour as priced, before contingency", base),
         Value("n", "draws", m.draws, digits=8)),
        money("K", "contingency", amount), (DRAWN, SHARING, Basis("rounded up to whole money", ARITHMETIC)),
        notes=("All material shares the market, cable and raceway share the lengths with the hours of pulling them.",
               "Named risks are in the draws, each with its chance."),
        also=(Value("C_50", "P50 of the cost", m.median, "", 8), Value("s_80", "standard error of C_80",
                                                                      m.cautious_error, "", 3),
              Value("", "C_80 lies between, 95 in 100", m.cautious_interval[0], "", 8),
              Value("", "and", m.cautious_interval[1], "", 8),
              Value("k", "share of the base", 100 * float(amount) / float(base) if base else 0.0, "%", 3)))


def drivers(found: Simulation) -> Working:
    """What drives the spread of the hours: the parts by their share of the variance, and the shared causes."""
    h = found.hours
    first = [s for s in h.shares if s[1] >= LEAST_SHOWN][:DRIVERS]
    return Working(
        "What drives the spread of the hours", "share of a part = cov(part, total) / var(total)",
        tuple(Value("", n, 100 * s, "%", 3) for n, s in first),
        Value("s", "standard deviation of the hours", h.deviation, "h"),
        (DRAWN, SHARING), notes=("Shares of parts add up to 100 %; a shared cause works through the parts, beside them.",),
        also=tuple(Value("", f"goes with {n}", 100 * s, "%", 3) for n, s in h.causes))


def contingency_amount(found: Simulation, base: Decimal) -> Decimal:
    """P80 of the cost less the base, rounded up to whole money; zero if nothing is uncertain."""
    if found.money.deviation == 0 or base <= 0:
        return Decimal(0)
    return max(Decimal(repr(found.money.cautious)) - base, Decimal(0)).quantize(Decimal(1), ROUND_UP)


def share_words() -> str:
    """What a cautious figure means, in one sentence."""
    return f"Cautious: {CAUTIOUS * 10:.0f} times in 10 it takes no more."
