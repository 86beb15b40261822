"""Who works, and what an hour costs: the wages of the crew and the burdens on them, or the cost as entered."""

from dataclasses import dataclass
from decimal import Decimal

from stagefloor.calculations import labour as rules
from stagefloor.core.workings import ARITHMETIC, PRACTICE, SHOP, Basis, Value, Working
from stagefloor.job.labour import Burden, CrewRole
from stagefloor.job.model import Job
from stagefloor.steps.labour.rows import RowProblem, money, rounded

PAIR = 2  # one lead and one helper; common practice, no source


@dataclass(frozen=True)
class Crew:
    """People on site, hours a day of each, and the cost of one hour of one of them (None: not entered)."""

    people: int
    assumed: bool
    hours_a_day: float
    rate: Decimal | None
    working: Working | None
    days: Working
    problems: tuple[RowProblem, ...] = ()

    @property
    def hours_of_a_day(self) -> float:
        """Hours of the whole crew on one day."""
        return self.people * self.hours_a_day


def crew(job: Job) -> Crew:
    """The crew of a job; a cost an hour that is entered wins over one built up from wages and burdens."""
    pricing, problems = job.pricing(), []
    roles = [r for r in job.all(CrewRole) if r.people]
    people = sum(r.people for r in roles)
    rate, working = pricing.rate, None
    if rate is not None and rate <= 0:
        problems.append(RowProblem((pricing.kind, pricing.id), "rate", f"The labour cost an hour is {rate}; it must be "
                                   "more than zero, so it was not used."))
        rate = None
    elif rate is None:
        rate, working, faults = _built_up(job, roles)
        problems += faults
    day = pricing.hours_a_day or 0.0
    if not 0 < day <= 24:
        problems.append(RowProblem((pricing.kind, pricing.id), "hours_a_day", f"{day:g} hours a day can't be; 8 were "
                                   "used: enter what one person works on site."))
        day = 8.0
    assumed = not people
    people = people or PAIR
    days = Working(
        "Hours of the crew on one day", "D = n * h",
        (Value("n", "people" + (", assumed" if assumed else ""), people), Value("h", "hours a day of each", day, "h")),
        Value("D", "crew hours a day", people * day, "h"),
        (Basis("one lead and one helper", PRACTICE) if assumed else Basis("the crew as entered", SHOP),))
    return Crew(people, assumed, day, rate, working, days, tuple(problems))


def _built_up(job: Job, roles: list[CrewRole]) -> tuple[Decimal | None, Working | None, list[RowProblem]]:
    problems = []
    paid = []
    for role in roles:
        if role.wage is None or role.wage <= 0:
            problems.append(RowProblem((role.kind, role.id), "wage", f"Crew role '{role.name}': the wage must be more than "
                                       "zero; enter it, or the labour cost an hour."))
        else:
            paid.append((role, role.wage))
    burdens = []
    for part in job.all(Burden):
        if part.percent is None or part.percent < 0:
            problems.append(RowProblem((part.kind, part.id), "percent", f"Burden '{part.name}': the share must be zero or "
                                       "more; it was left out."))
        else:
            burdens.append(part)
    if not paid or len(paid) < len(roles):
        return None, None, problems
    people = sum(r.people for r, _ in paid)
    wage = sum((w * r.people for r, w in paid), Decimal(0)) / people
    share = sum((Decimal(repr(b.percent)) for b in burdens), Decimal(0))
    rate = rounded(wage * (1 + share / 100))
    shown = rules.burdened_rate(float(wage), [b.percent or 0.0 for b in burdens])
    return rate, Working(
        "Labour cost an hour", "R = W * (1 + B / 100)",
        (money("W", "mean wage of the crew", rounded(wage)), Value("B", "sum of burdens", float(share), "%", 6)),
        money("R", "an hour", rate), (Basis("the wages and burdens of the shop", SHOP), shown.basis[0],
                                      Basis("to the cent, half up", ARITHMETIC)),
        notes=(("No burden is entered: an hour costs more than its wage.",) if not burdens else
               tuple(f"{b.name}: {b.percent:g} %" for b in burdens)),
        also=tuple(money("", f"{r.people} x {r.name}", w) for r, w in paid)), problems
