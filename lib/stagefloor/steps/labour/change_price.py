"""What one option or change is worth: the job priced with it and without it, or what was agreed when it was accepted."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.core.units import number_text
from stagefloor.core.workings import ARITHMETIC, JOB, SHOP, Basis, Value, Working
from stagefloor.job.commercial import CHANGES, Change
from stagefloor.job.labour import TAXED
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.estimate import Estimate
from stagefloor.steps.labour.issues import altered, is_agreed, lines_of
from stagefloor.steps.labour.rows import money, rounded

OPTION, ORDER, LATER = CHANGES
AGAIN = Basis("the whole job priced again with the quantities of the change", ARITHMETIC)
TERMS = Basis("the shop's hours, prices and pricing for this job", SHOP)


@dataclass(frozen=True)
class PricedChange:
    """An option or change: what it adds to the price before tax (minus: a credit), the hours, and the working.

    `tax`: what it adds to the tax; `lines`: (quantity, amount added); `later` what it would cost later, for 'now or
    later', and `even` the chance of needing it later, in per cent, from which doing it now is cheaper. `today` and
    `tax_today` are price and tax at the terms of now; another price than that was agreed.
    """

    change: Change
    lines: tuple[tuple[str, float], ...]
    price: Decimal
    tax: Decimal
    hours: Decimal
    missing: tuple[str, ...]
    working: Working
    today: Decimal
    tax_today: Decimal
    later: Decimal | None = None
    even: float | None = None

    @property
    def with_tax(self) -> Decimal:
        return self.price + self.tax


def priced(job: Job, before: Estimate, after: Estimate, change: Change) -> PricedChange:
    """A change from the job priced without it and with it."""
    lines = lines_of(job, change)
    price, tax, direct, formula, inputs = _today(job, before, after, change)
    today, tax_today = price, tax
    basis, notes = (AGAIN, TERMS), []
    if change.cap is not None and change.cap >= 0 and direct > 0:
        notes.append("The contract's cap stands on a change that adds, not on a credit.")
    if is_agreed(change):
        price, tax = _agreed(job, before, change, today, tax_today)
        formula, inputs = "D = D_0, as agreed", [money("D_0", "price agreed when it was accepted", price)]
        basis = (Basis("the price that was agreed", JOB), *((AGAIN,) if lines else ()))
    hours = Decimal(repr(after.likely_hours.result.amount)) - Decimal(repr(before.likely_hours.result.amount))
    missing = _missing(before, after, {n for n, _ in lines})
    if missing:
        notes.append(f"Not, or not wholly, priced: {', '.join(missing)}.")
    also = [Value("T", "likely hours", float(hours), "h", 6), money("C", "direct cost", direct)]
    if is_agreed(change) and lines:
        also.append(money("D_n", of_now(change, lines), today))
    if tax:
        also += [money("X", "tax on it", tax), money("S", "with its tax", price + tax)]
    times, later, even = job.pricing().later, None, None
    if change.what == LATER and times is not None and times > 0:
        later, even = rounded(price * Decimal(repr(times))), 100 / times
        also += [money("L", f"done later, {times:g} times as much", later),
                 Value("q", "chance of needing it from which now is cheaper", even, "%", 3)]
        notes.append("The multiplier is the shop's own; trade articles claim 5 to 10, without a source of figures.")
    working = Working(
        f"Price of '{change.name}'", formula, tuple(inputs), money("D", "difference before tax", price), basis,
        notes=(*(f"{n}: {number_text(a, 4)} {'m' if names.is_length(n) else ''}".strip() for n, a in lines), *notes),
        also=tuple(also))
    return PricedChange(change, lines, price, tax, hours, missing, working, today, tax_today, later, even)


def of_now(change: Change, lines: Sequence[tuple[str, float]]) -> str:
    """What makes the price of today another than the agreed one, in words to stand before it."""
    return "with its quantities of now" if altered(change, lines) else "at the terms of now"


def _today(job: Job, before: Estimate, after: Estimate, change: Change
           ) -> tuple[Decimal, Decimal, Decimal, str, list[Value]]:
    """Price, tax and direct cost at the terms of now, with formula and inputs."""
    (price, tax), formula = difference(before, after), "D = P_w - P"
    direct = _direct(after) - _direct(before)
    inputs = [money("P_w", "price with it", _price(after)), money("P", "price without it", _price(before))]
    if change.cap is not None and change.cap >= 0 and direct > 0:
        capped = rounded(direct * (1 + Decimal(repr(change.cap)) / 100))
        if capped < price:
            tax = _tax_of_part(job, before, tax, price, capped)
            price, formula = capped, "D = C * (1 + c / 100), the cap of the contract"
            inputs += [money("C", "direct cost of the change", direct), Value("c", "overhead and profit at most",
                                                                              change.cap, "%")]
    return price, tax, direct, formula, inputs


def difference(before: Estimate, after: Estimate) -> tuple[Decimal, Decimal]:
    """What one estimate is more than another: price before tax, tax."""
    return _price(after) - _price(before), _tax(after) - _tax(before)


def _price(found: Estimate) -> Decimal:
    return found.selling.price if found.selling else Decimal(0)


def _direct(found: Estimate) -> Decimal:
    return sum((s.material + s.labour + s.tax_material for s in found.sections), Decimal(0))


def _missing(before: Estimate, after: Estimate, touched: set[str]) -> tuple[str, ...]:
    known = {u.quantity for u in before.unpriced}
    return tuple(dict.fromkeys([
        *(u.quantity for u in after.unpriced if u.quantity not in known or u.quantity in touched),
        *(n for n in known if n in touched)]))  # what is taken away whole and had no price gives no credit


def _agreed(job: Job, before: Estimate, change: Change, today: Decimal, tax: Decimal) -> tuple[Decimal, Decimal]:
    """The price that was agreed and its tax; a tax that was not entered goes by the rule of the job."""
    price = Decimal(change.price or 0)
    if change.tax is not None:
        return price, Decimal(change.tax)
    return price, _tax_of_part(job, before, tax, today, price) if today or not tax else tax


def _tax(found: Estimate) -> Decimal:
    """The tax that the client sees; none where the shop pays it or the client is exempt."""
    return (found.selling.tax if found.selling else None) or Decimal(0)


def _tax_of_part(job: Job, base: Estimate, tax: Decimal, price: Decimal, other: Decimal) -> Decimal:
    """The tax of a change at another price: the share of the whole, or as much of the tax as the price is of its own."""
    if job.pricing().tax_on == TAXED[0] and base.selling is not None and base.selling.tax_percent is not None:
        return rounded(other * base.selling.tax_percent / 100)
    return rounded(tax * other / price) if price else Decimal(0)
