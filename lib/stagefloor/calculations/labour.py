"""Hours and money: three-point estimates, burden, margin, learning curves, the payment due on a job.

Margin is not markup. A published burden list is an example, not a figure to copy: the shop builds up its own.
"""

from collections.abc import Sequence
from math import erf, log, sqrt

from stagefloor.calculations.inputs import finite, not_negative, positive, whole, within
from stagefloor.core.problems import Problem
from stagefloor.core.workings import ARITHMETIC, JOB, Basis, Value, Working
from stagefloor.reference.tables import fact

PERCENT = 100.0
TEXTBOOK = Basis("project-management textbook")
IDENTITY = Basis("identity", ARITHMETIC)
FEWEST, MOST_UNITS = 1, 100_000


def _three(low: float, likely: float, high: float) -> None:
    for name, value in (("low", low), ("likely", likely), ("high", high)):
        finite(name, value)
    if not low <= likely <= high:
        raise Problem(
            f"Low {low:g}, likely {likely:g} and high {high:g} are not in order; put them in order.", "likely"
        )


def beta(low: float, likely: float, high: float) -> Working:
    """Mean of a three-point estimate by the beta (PERT) rule.

    Parameters
    ----------
    low : optimistic value, at most the likely one
    likely : most likely value
    high : pessimistic value, at least the likely one

    Returns the mean in the unit of the inputs; the standard deviation stands under 'also'.
    Source: project-management textbook, (a + 4 m + b)/6 and (b - a)/6.
    """
    _three(low, likely, high)
    weight, divisor = fact("commercial", "beta_weight")["value"], fact("commercial", "beta_divisor")["value"]
    return Working(
        "Three-point mean, beta",
        "m = (a + w * c + b) / k",
        (
            Value("a", "low", low),
            Value("w", "weight", weight),
            Value("c", "likely", likely),
            Value("b", "high", high),
            Value("k", "divisor", divisor),
        ),
        Value("m", "mean", (low + weight * likely + high) / divisor),
        (fact("commercial", "beta_weight").basis(),),
        also=(Value("s", "standard deviation", (high - low) / divisor),),
    )


def triangular(low: float, likely: float, high: float) -> Working:
    """Mean of a three-point estimate by a triangular distribution.

    Parameters
    ----------
    low : optimistic value, at most the likely one
    likely : most likely value
    high : pessimistic value, at least the likely one

    Returns the mean in the unit of the inputs; the standard deviation stands under 'also'. Source:
    statistics.
    """
    _three(low, likely, high)
    spread = (low**2 + likely**2 + high**2 - low * likely - low * high - likely * high) / 18
    return Working(
        "Three-point mean, triangular",
        "m = (a + c + b) / 3",
        (Value("a", "low", low), Value("c", "likely", likely), Value("b", "high", high)),
        Value("m", "mean", (low + likely + high) / 3),
        (Basis("statistics", ARITHMETIC),),
        also=(Value("s", "standard deviation", sqrt(max(spread, 0.0))),),
    )


def path_sum(means: Sequence[float], deviations: Sequence[float]) -> Working:
    """Mean of tasks one after another; their variances add, if the tasks do not depend on each other.

    Parameters
    ----------
    means : mean of each task, at least one, zero or more
    deviations : standard deviation of each task, zero or more, as many as means

    Returns the mean; the standard deviation stands under 'also'. Source: project-management textbook. Only
    tasks on the
    critical path count; near-critical paths make the true chance lower.
    """
    if not means or len(means) != len(deviations):
        raise Problem(
            f"{len(means)} means and {len(deviations)} deviations do not match; give one of each per task.",
            "deviations",
        )
    total = sum(not_negative("means", m) for m in means)
    spread = sqrt(sum(not_negative("deviations", s) ** 2 for s in deviations))
    return Working(
        "Tasks one after another",
        "m = sum of the means",
        (Value("n", "tasks", len(means)),),
        Value("m", "mean", total),
        (TEXTBOOK,),
        also=(Value("s", "standard deviation", spread),),
        notes=("Near-critical paths make the true chance lower; tasks that share a cause vary together.",),
    )


def chance_within(mean: float, deviation: float, limit: float) -> Working:
    """Chance that a sum of tasks stays within a limit, by the normal distribution.

    Parameters
    ----------
    mean : mean, any number
    deviation : standard deviation, above zero
    limit : limit, any number

    Returns per cent. Source: project-management textbook, normal approximation.
    """
    finite("mean", mean)
    positive("deviation", deviation)
    finite("limit", limit)
    z = (limit - mean) / deviation
    return Working(
        "Chance to stay within a limit",
        "p = 50 * (1 + erf((x - m) / s / sqrt(2)))",
        (Value("x", "limit", limit), Value("m", "mean", mean), Value("s", "standard deviation", deviation)),
        Value("p", "chance", PERCENT / 2 * (1 + erf(z / sqrt(2))), "%"),
        (TEXTBOOK,),
        also=(Value("z", "standard deviations from the mean", z),),
    )


def price_from_markup(cost: float, markup_percent: float) -> Working:
    """Price of a cost with a markup on it.

    Parameters
    ----------
    cost : cost, money, zero or more
    markup_percent : markup on the cost, per cent, zero or more

    Returns money; the margin on the price stands under 'also'. Source: identity, m = k/(1 + k).
    """
    not_negative("cost", cost)
    not_negative("markup_percent", markup_percent, "%")
    return Working(
        "Price with markup",
        "P = C * (1 + k / 100)",
        (Value("C", "cost", cost), Value("k", "markup", markup_percent, "%")),
        Value("P", "price", cost * (1 + markup_percent / PERCENT), "", 6),
        (IDENTITY,),
        also=(Value("m", "margin on the price", PERCENT * markup_percent / (PERCENT + markup_percent), "%"),),
    )


def price_from_margin(cost: float, margin_percent: float) -> Working:
    """Price of a cost that leaves a margin on the price.

    Parameters
    ----------
    cost : cost, money, zero or more
    margin_percent : margin on the price, per cent, zero or more and below 100

    Returns money; the markup on the cost stands under 'also'. Source: identity, P = C/(1 - m).
    """
    not_negative("cost", cost)
    within("margin_percent", margin_percent, 0.0, 99.9, "%", "a margin on the price stays below 100 %")
    price = cost / (1 - margin_percent / PERCENT)
    return Working(
        "Price with margin",
        "P = C / (1 - m / 100)",
        (Value("C", "cost", cost), Value("m", "margin on the price", margin_percent, "%")),
        Value("P", "price", price, "", 6),
        (IDENTITY,),
        also=(Value("k", "markup on the cost", PERCENT * margin_percent / (PERCENT - margin_percent), "%"),),
    )


def margin(cost: float, price: float) -> Working:
    """Margin that a price leaves on itself.

    Parameters
    ----------
    cost : cost, money, zero or more
    price : price, money, above zero

    Returns per cent of the price; the markup on the cost stands under 'also' if there is a cost. Source:
    identity.
    """
    not_negative("cost", cost)
    positive("price", price)
    also = (Value("k", "markup on the cost", PERCENT * (price - cost) / cost, "%"),) if cost else ()
    return Working(
        "Margin on the price",
        "m = 100 * (P - C) / P",
        (Value("C", "cost", cost, "", 6), Value("P", "price", price, "", 6)),
        Value("m", "margin", PERCENT * (price - cost) / price, "%"),
        (IDENTITY,),
        also=also,
    )


def burdened_rate(wage: float, burdens_percent: Sequence[float]) -> Working:
    """Hourly wage with its burdens.

    Parameters
    ----------
    wage : wage, money an hour, zero or more
    burdens_percent : each burden on the wage, per cent, zero or more

    Returns money an hour; the sum of burdens stands under 'also'. Source: trade magazine, labour-burden
    list. Published
    examples run from 20 to 100 %, since some include hours that can't be billed: build up your own.
    """
    not_negative("wage", wage)
    total = sum(not_negative("burdens_percent", b, "%") for b in burdens_percent)
    return Working(
        "Wage with burden",
        "R = W * (1 + B / 100)",
        (Value("W", "wage", wage), Value("B", "sum of burdens", total, "%")),
        Value("R", "burdened rate", wage * (1 + total / PERCENT)),
        (Basis("trade magazine, labour-burden list"), Basis("the shop's own burdens", JOB)),
        also=(Value("B", "sum of burdens", total, "%"),),
    )


def productive_hours(off_hours: Sequence[float] = (), year_hours: float | None = None) -> Working:
    """Hours of a year that are worked after vacation, holidays and sickness.

    Parameters
    ----------
    off_hours : hours off of each kind; 80, 48 and 40 if left out
    year_hours : paid hours of a year, above zero; 2080 if left out

    Returns h. Raises Problem if more is off than paid. Source: trade magazine, 2080 - 80 - 48 - 40 = 1912.
    """
    year = fact("commercial", "hours_year")
    paid = year["value"] if year_hours is None else positive("year_hours", year_hours, "h")
    off = [not_negative("off_hours", o, "h") for o in off_hours] or [
        fact("commercial", k)["value"] for k in ("vacation", "holidays", "sick")
    ]
    if sum(off) >= paid:
        raise Problem(
            f"{sum(off):g} hours off are not fewer than the {paid:g} paid hours; check them.", "off_hours"
        )
    return Working(
        "Productive hours",
        "H = Y - O",
        (Value("Y", "paid hours of a year", paid, "h"), Value("O", "hours off", sum(off), "h")),
        Value("H", "productive hours", paid - sum(off), "h", 6),
        (year.basis(),),
    )


def wright(first_unit: float, units: int, rate_percent: float) -> Working:
    """Total of a repeated task by Wright's curve: the cumulative average falls to `rate` at each doubling.

    Parameters
    ----------
    first_unit : hours of the first unit, h, above zero
    units : number of units, 1 or more
    rate_percent : learning rate, per cent, above 50, at most 100

    Returns h in total; the cumulative average stands under 'also'. Source: cost-estimating textbook page.
    Differs greatly
    from Crawford's unit curve: say which one a rate belongs to.
    """
    positive("first_unit", first_unit, "h")
    n = whole("units", units, FEWEST)
    within("rate_percent", rate_percent, 50.0, 100.0, "%", "learning rates lie between 50 and 100 %")
    average = first_unit * n ** (log(rate_percent / PERCENT) / log(2))
    return Working(
        "Wright's learning curve, total",
        "T = n * H * n^(log(r / 100) / log(2))",
        (
            Value("n", "units", n),
            Value("H", "first unit", first_unit, "h"),
            Value("r", "learning rate", rate_percent, "%"),
        ),
        Value("T", "total", n * average, "h", 6),
        (Basis("cost-estimating textbook page"),),
        also=(Value("a", "cumulative average", average, "h"),),
    )


def crawford(first_unit: float, units: int, rate_percent: float) -> Working:
    """Total of a repeated task by Crawford's curve: each unit falls to `rate` at each doubling.

    Parameters
    ----------
    first_unit : hours of the first unit, h, above zero
    units : number of units, 1 to 100000
    rate_percent : learning rate, per cent, above 50, at most 100

    Returns h in total; the hours of the last unit stand under 'also'. Source: documentation of a statistics
    library.
    """
    positive("first_unit", first_unit, "h")
    n = whole("units", units, FEWEST)
    within("units", n, FEWEST, MOST_UNITS, "", "the sum is taken unit by unit")
    within("rate_percent", rate_percent, 50.0, 100.0, "%", "learning rates lie between 50 and 100 %")
    slope = log(rate_percent / PERCENT) / log(2)
    total = sum(first_unit * k**slope for k in range(1, n + 1))
    return Working(
        "Crawford's learning curve, total",
        "T = sum of H * k^(log(r / 100) / log(2)), k = 1 to n",
        (
            Value("n", "units", n),
            Value("H", "first unit", first_unit, "h"),
            Value("r", "learning rate", rate_percent, "%"),
        ),
        Value("T", "total", total, "h", 6),
        (Basis("documentation of a statistics library for learning curves"),),
        also=(
            Value("H_n", "last unit", first_unit * n**slope, "h"),
            Value("a", "cumulative average", total / n, "h"),
        ),
    )


def payment_due(
    completed: float, certified_before: float, contract: float, retainage_percent: float | None = None
) -> Working:
    """Payment due on a job in progress, less retainage and what was certified before.

    Parameters
    ----------
    completed : work completed and material stored to date, money, zero or more, at most the contract
    certified_before : earlier certificates, money, zero or more
    contract : contract sum, money, above zero
    retainage_percent : retainage, per cent, 0 to 100; 10 if left out

    Returns money; earned less retainage and the balance to finish stand under 'also'. Source: lines 4 to 8
    of a common
    application-for-payment form (from memory); retainage 5 to 10 % from a finance glossary.
    """
    positive("contract", contract)
    within("completed", completed, 0.0, contract, "", "work to date can't exceed the contract")
    not_negative("certified_before", certified_before)
    usual = fact("commercial", "retainage_usual")
    share = (
        usual["value"]
        if retainage_percent is None
        else within("retainage_percent", retainage_percent, 0.0, 100.0, "%", "a share of the work")
    )
    earned = completed * (1 - share / PERCENT)
    return Working(
        "Payment due",
        "D = E * (1 - r / 100) - B",
        (
            Value("E", "completed and stored", completed, "", 9),
            Value("r", "retainage", share, "%"),
            Value("B", "certified before", certified_before, "", 9),
        ),
        Value("D", "due", earned - certified_before, "", 9),
        (Basis("application-for-payment form, lines 4 to 8", "from memory"), usual.basis()),
        also=(
            Value("", "earned less retainage", earned, "", 9),
            Value("", "balance with retainage", contract - earned, "", 9),
        ),
    )


def change_cap(direct_cost: float, with_subcontractor: bool = False) -> Working:
    """Price of a change under one public owner's cap on overhead and profit.

    Parameters
    ----------
    direct_cost : direct cost of the change, money, zero or more
    with_subcontractor : whether a subcontractor does it (25 % in all) or own people (15 %)

    Returns money. Source: one state's building commission supplement; other owners cap at 10 or 15 %: read
    the contract.
    """
    not_negative("direct_cost", direct_cost)
    row = fact("commercial", "change_subcontractor" if with_subcontractor else "change_own")
    return Working(
        "Change under a cap",
        "P = C * (1 + c / 100)",
        (Value("C", "direct cost", direct_cost, "", 9), row.shown("c", "cap")),
        Value("P", "price at most", direct_cost * (1 + row["value"] / PERCENT), "", 9),
        (row.basis(),),
    )


def takeoff_length(plan_m: float, verticals_m: float, ends_m: float, measured: bool = False) -> Working:
    """Length of cable to buy for a route: plan and verticals with an allowance, and slack at both ends.

    Parameters
    ----------
    plan_m : length on the plan, m, zero or more
    verticals_m : every drop and rise, m, zero or more
    ends_m : slack at both ends, m, zero or more
    measured : whether the route was measured (5 %) or scaled off a plan (15 %)

    Returns m. Source: common practice, no source.
    """
    for name, value in (("plan_m", plan_m), ("verticals_m", verticals_m), ("ends_m", ends_m)):
        not_negative(name, value, "m")
    row = fact("takeoff_allowances", "waste_measured" if measured else "waste_high")
    return Working(
        "Cable to buy",
        "L = (P + V) * (1 + w / 100) + E",
        (
            Value("P", "plan", plan_m, "m"),
            Value("V", "verticals", verticals_m, "m"),
            row.shown("w", "allowance"),
            Value("E", "slack at the ends", ends_m, "m"),
        ),
        Value("L", "length", (plan_m + verticals_m) * (1 + row["value"] / PERCENT) + ends_m, "m"),
        (row.basis(),),
    )
