"""Options and changes priced again from the quantities they add or take away; now or later; changes since an issue.

Once a price went out they are priced and checked against the quantities of the last issue, else against the job as drawn.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations

from stagefloor.core.units import FOOT, number_text
from stagefloor.core.workings import ARITHMETIC, SHOP, Basis, Value, Working
from stagefloor.job.commercial import CHANGES, Change, ChangeLine
from stagefloor.job.edit import add
from stagefloor.job.labour import TAXED
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.estimate import Estimate, estimate
from stagefloor.steps.labour.issues import (
    alike,
    held_by,
    issued_quantities,
    last_issue,
    lines_of,
    quantities_text,
)
from stagefloor.steps.labour.materials import Offer, reaching
from stagefloor.steps.labour.rows import RowProblem, money, rounded

OPTION, ORDER, LATER = CHANGES
MOST_TOGETHER = 3  # options whose every combination is priced; with more, each by itself and all together


@dataclass(frozen=True)
class PricedChange:
    """An option or change: what it adds to the price before tax (minus: a credit), the hours, and the working.

    `tax`: what it adds to the tax; `lines`: (quantity, amount added); `later` what it would cost later, for 'now or
    later', and `even` the chance of needing it later, in per cent, from which doing it now is cheaper.
    """

    change: Change
    lines: tuple[tuple[str, float], ...]
    price: Decimal
    tax: Decimal
    hours: Decimal
    missing: tuple[str, ...]
    working: Working
    later: Decimal | None = None
    even: float | None = None


@dataclass(frozen=True)
class Combined:
    """Options taken together: their names and what they add to the price before tax."""

    labels: tuple[str, ...]
    price: Decimal
    working: Working


def changed(job: Job, quantities: Mapping[str, float], changes: Sequence[Change]) -> dict[str, float]:
    """The quantities with what the changes add and take away, never below zero."""
    after = dict(quantities)
    for change in changes:
        for name, amount in lines_of(job, change):
            have = after.get(name, 0.0)
            after[name] = 0.0 if alike(have, -amount) else max(have + amount, 0.0)
    return {k: v for k, v in after.items() if v}


def priced_changes(job: Job, quantities: Mapping[str, float], base: Estimate, offered: Sequence[Offer] = ()
                   ) -> list[PricedChange]:
    """Each option and change by itself, against the last issue or the price as it stands; [] without a price."""
    then, known, offers = _basis(job, quantities, base, offered)
    if known.selling is None:
        return []
    return [_one(job, then, known, c, offers) for c in job.all(Change) if lines_of(job, c)]


def _basis(job: Job, quantities: Mapping[str, float], base: Estimate, offered: Sequence[Offer]
           ) -> tuple[Mapping[str, float], Estimate, Sequence[Offer]]:
    """What changes stand on: quantities, their price at the terms of now, and offers that reach as far."""
    issue = last_issue(job)
    if issue is None:
        return quantities, base, offered
    then = issued_quantities(issue)
    offers = reaching(offered, quantities, then)
    return then, estimate(job, then, offers), offers


def faults(job: Job, quantities: Mapping[str, float]) -> list[RowProblem]:
    """The lines of changes that can't be used as they stand."""
    issue = last_issue(job)
    have = quantities if issue is None else issued_quantities(issue)
    settled = set() if issue is None else set(issue.holds)
    return [p for row in job.all(ChangeLine) if row.change not in settled
            and (p := _fault(job, row, have, {*have, *quantities})) is not None]


def combined(job: Job, quantities: Mapping[str, float], base: Estimate, offered: Sequence[Offer] = ()) -> list[Combined]:
    """Every combination of two or more options that are not declined, each priced as a whole."""
    options = [c for c in job.all(Change) if c.what == OPTION and c.state != "declined" and lines_of(job, c)]
    quantities, base, offered = _basis(job, quantities, base, offered)
    if base.selling is None or len(options) < 2:
        return []
    sizes = range(2, len(options) + 1) if len(options) <= MOST_TOGETHER else (len(options),)
    found = []
    for group in (g for n in sizes for g in combinations(options, n)):
        after = estimate(job, changed(job, quantities, group), offered)
        if after.selling is not None:
            labels, price = tuple(c.name for c in group), after.selling.price - base.selling.price
            found.append(Combined(labels, price, Working(
                f"Options together: {', '.join(labels)}", "D = P_w - P",
                (money("P_w", "price with them", after.selling.price), money("P", "price without", base.selling.price)),
                money("D", "difference before tax", price),
                (Basis("the whole job priced again with all their quantities", ARITHMETIC),))))
    return found


def _one(job: Job, quantities: Mapping[str, float], base: Estimate, change: Change,
         offered: Sequence[Offer]) -> PricedChange:
    after = estimate(job, changed(job, quantities, [change]), offered)
    before_price = base.selling.price if base.selling else Decimal(0)
    after_price = after.selling.price if after.selling else Decimal(0)
    price, notes = after_price - before_price, []
    tax = _tax(after) - _tax(base)
    direct = sum((s.material + s.labour + s.tax_material for s in after.sections), Decimal(0)) - sum(
        (s.material + s.labour + s.tax_material for s in base.sections), Decimal(0))
    inputs = [money("P_w", "price with it", after_price), money("P", "price without it", before_price)]
    formula = "D = P_w - P"
    if change.cap is not None and change.cap >= 0 and direct > 0:
        capped = rounded(direct * (1 + Decimal(repr(change.cap)) / 100))
        if capped < price:
            tax = _tax_of_part(job, base, tax, price, capped)
            price, formula = capped, "D = C * (1 + c / 100), the cap of the contract"
            inputs += [money("C", "direct cost of the change", direct), Value("c", "overhead and profit at most",
                                                                              change.cap, "%")]
        notes.append("The contract's cap stands on a change that adds, not on a credit.")
    hours = Decimal(repr(after.likely_hours.result.amount)) - Decimal(repr(base.likely_hours.result.amount))
    known = {u.quantity for u in base.unpriced}
    lines = lines_of(job, change)
    changed_names = {n for n, _ in lines}
    missing = tuple(dict.fromkeys([
        *(u.quantity for u in after.unpriced if u.quantity not in known or u.quantity in changed_names),
        *(n for n in known if n in changed_names)]))  # what is taken away whole and had no price gives no credit
    if missing:
        notes.append(f"Not, or not wholly, priced: {', '.join(missing)}.")
    times = job.pricing().later
    later = even = None
    also = [Value("T", "likely hours", float(hours), "h", 6), money("C", "direct cost", direct)]
    if tax:
        also += [money("X", "tax on it", tax), money("S", "with its tax", price + tax)]
    if change.what == LATER and times is not None and times > 0:
        later, even = rounded(price * Decimal(repr(times))), 100 / times
        also += [money("L", f"done later, {times:g} times as much", later),
                 Value("q", "chance of needing it from which now is cheaper", even, "%", 3)]
        notes.append("The multiplier is the shop's own; trade articles claim 5 to 10, without a source of figures.")
    working = Working(
        f"Price of '{change.name}'", formula, tuple(inputs), money("D", "difference before tax", price),
        (Basis("the whole job priced again with the quantities of the change", ARITHMETIC),
         Basis("the shop's hours, prices and pricing for this job", SHOP)),
        notes=(*(f"{n}: {number_text(a, 4)} {'m' if names.is_length(n) else ''}".strip() for n, a in lines), *notes),
        also=tuple(also))
    return PricedChange(change, lines, price, tax, hours, missing, working, later, even)


def _tax(found: Estimate) -> Decimal:
    """The tax that the client sees; none where the shop pays it or the client is exempt."""
    return (found.selling.tax if found.selling else None) or Decimal(0)


def _tax_of_part(job: Job, base: Estimate, tax: Decimal, price: Decimal, capped: Decimal) -> Decimal:
    """The tax of a change whose price is cut: the share of the whole, or as much of the tax as is left of the price."""
    if job.pricing().tax_on == TAXED[0] and base.selling is not None and base.selling.tax_percent is not None:
        return rounded(capped * base.selling.tax_percent / 100)
    return rounded(tax * capped / price)


def _fault(job: Job, row: ChangeLine, have: Mapping[str, float], known: Collection[str]) -> RowProblem | None:
    if not row.change or not row.quantity.strip():
        return None  # not finished yet
    change = job.find(Change, row.change)
    what = f"Line of '{change.name if change else row.change}'"
    if missing := names.unknown(row.quantity, known):
        end = "" if missing.endswith("?") else "."
        return RowProblem((row.kind, row.id), "quantity", f"{what}: it {missing}{end}")
    per = FOOT if job.settings.units == "ft-in" and names.is_length(row.quantity) else 1.0
    there, more = have.get(names.plain(row.quantity), 0.0), (row.amount or 0.0) * per
    if there + more < 0 and not alike(there, -more):
        return RowProblem((row.kind, row.id), "amount", f"{what}: it takes away {-(row.amount or 0):g} of {there / per:.4g} "
                          f"{names.plain(row.quantity)}; take away at most what is there.")
    return None


def issued(job: Job, base: Estimate, quantities: Mapping[str, float], label: str, date: str) -> Job:
    """The job with a record of the price as it stands and of the quantities that it rests on."""
    if base.selling is None:
        return job
    return add(job, "issuedprice", [{
        "label": label, "date": date, "price": str(base.selling.price), "total": str(base.selling.total),
        "quantities": quantities_text(quantities), "holds": ", ".join(held_by(job, quantities))}])[0]


def as_change_order(job: Job, differences: Sequence[tuple[str, float]], label: str) -> Job:
    """The job with a change order made of the differences since the last issue."""
    job, (change,) = add(job, "change", [{"label": label, "what": ORDER}])
    per = FOOT if job.settings.units == "ft-in" else 1.0
    return add(job, "changeline", [
        {"change": change, "quantity": n, "amount": f"{round(a / (per if names.is_length(n) else 1.0), 3):.10g}"}
        for n, a in differences])[0]
