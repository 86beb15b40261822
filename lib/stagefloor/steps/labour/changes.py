"""Options and changes priced again from the quantities they add or take away; now or later; changes since an issue.

Once a price went out they are priced and checked against the quantities of the last issue, else against the job as drawn.
Each accepted change stands on the accepted ones before it, everything else on all of them: changes that touch the same
quantity so add up.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations

from stagefloor.core.workings import ARITHMETIC, Basis, Working
from stagefloor.job.commercial import Change, ChangeLine
from stagefloor.job.edit import add
from stagefloor.job.measured import in_si, misfit, with_unit
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.change_price import OPTION, ORDER, PricedChange, difference, priced
from stagefloor.steps.labour.estimate import Estimate, estimate
from stagefloor.steps.labour.issues import (
    accepted,
    alike,
    counts,
    held_by,
    issued_quantities,
    last_issue,
    lines_of,
    quantities_text,
)
from stagefloor.steps.labour.materials import Offer, reaching
from stagefloor.steps.labour.rows import RowProblem, money

MOST_TOGETHER = 3  # options whose every combination is priced; with more, each by itself and all together


@dataclass(frozen=True)
class Combined:
    """Options taken together: their names and what they add to the price before tax."""

    labels: tuple[str, ...]
    price: Decimal
    working: Working


def changed(job: Job, quantities: Mapping[str, float], changes: Sequence[Change], sign: int = 1) -> dict[str, float]:
    """The quantities with what the changes add and take away (`sign` -1: without it), never below zero."""
    after = dict(quantities)
    for change in changes:
        for name, amount in lines_of(job, change):
            after[name] = _moved(after.get(name, 0.0), sign * amount)
    return {k: v for k, v in after.items() if v}


def _moved(have: float, amount: float) -> float:
    return 0.0 if alike(have, -amount) else max(have + amount, 0.0)


def priced_changes(job: Job, quantities: Mapping[str, float], base: Estimate, offered: Sequence[Offer] = ()
                   ) -> list[PricedChange]:
    """Each option and change, against the last issue or the price as it stands; [] without a price.

    An accepted one is priced on top of the accepted ones before it, any other on top of all accepted ones. What the
    issue holds is priced as a part of it.
    """
    then, known, offers = _basis(job, quantities, base, offered)
    if known.selling is None:
        return []
    found: dict[str, PricedChange] = {}

    def after(change: Change, at: Mapping[str, float], without: Estimate) -> tuple[dict[str, float], Estimate]:
        more = changed(job, at, [change])
        with_it = estimate(job, more, reaching(offers, then, more) if change.id in held else offers)
        found[change.id] = priced(job, without, with_it, change)
        return more, with_it

    held = _held(job)
    if inside := [c for c in job.all(Change) if c.id in held]:
        at: Mapping[str, float] = changed(job, then, inside, -1)
        without = estimate(job, at, reaching(offers, then, at))
        for change in inside:
            at, without = after(change, at, without)
    at, without = then, known
    for change in accepted(job):
        at, without = after(change, at, without)
    for change in job.all(Change):
        if change.id not in found:
            after(change, at, without)
    return [found[c.id] for c in job.all(Change) if counts(job, c)]


def _held(job: Job) -> tuple[str, ...]:
    """Ids of the changes that the last issue holds."""
    issue = last_issue(job)
    return () if issue is None else issue.holds


def _basis(job: Job, quantities: Mapping[str, float], base: Estimate, offered: Sequence[Offer]
           ) -> tuple[Mapping[str, float], Estimate, Sequence[Offer]]:
    """What changes stand on: quantities, their price at the terms of now, and offers that reach as far."""
    issue = last_issue(job)
    if issue is None:
        return quantities, base, offered
    then = issued_quantities(issue)
    offers = reaching(offered, quantities, then)
    return then, estimate(job, then, offers), offers


def agreed_beyond(job: Job, held: Collection[str], quantities: Mapping[str, float], base: Estimate,
                  offered: Sequence[Offer] = ()) -> tuple[Decimal, Decimal]:
    """What the agreed prices of changes that are in these quantities add to the price of the quantities: price, tax.

    A cap of the contract counts as agreed.
    """
    price = tax = Decimal(0)
    at, with_it = quantities, base
    for change in reversed(job.all(Change)):
        if change.id in held and change.state == "accepted" and (change.price is not None or change.cap is not None):
            less = changed(job, at, [change], -1)
            without = estimate(job, less, reaching(offered, base.quantities, less))
            one = priced(job, without, with_it, change)
            more, more_tax = difference(without, with_it)
            price, tax = price + one.price - more, tax + one.tax - more_tax
            at, with_it = less, without
    return price, tax


def faults(job: Job, quantities: Mapping[str, float]) -> list[RowProblem]:
    """The lines of changes that can't be used as they stand, each checked on what is there before its change."""
    issue = last_issue(job)
    have = quantities if issue is None else issued_quantities(issue)
    known, held = {*have, *quantities}, _held(job)
    there = {names.plain(n): a for n, a in have.items()}
    agreed = [c.id for c in accepted(job)]
    found: list[RowProblem] = []
    for change in sorted(job.all(Change), key=lambda c: c.id not in agreed):
        if change.id in held:
            continue
        at = there if change.id in agreed else dict(there)
        for row in job.all(ChangeLine):
            if row.change != change.id or not row.quantity.strip():
                continue  # another's, or not finished yet
            if problem := _fault(job, row, change, at, known):
                found.append(problem)
            name, amount = names.plain(row.quantity), in_si(job, row.quantity, row.amount)
            at[name] = _moved(at.get(name, 0.0), amount)
    return found


def _fault(job: Job, row: ChangeLine, change: Change, have: Mapping[str, float], known: Collection[str]
           ) -> RowProblem | None:
    what, name = f"Line of '{change.name}'", names.plain(row.quantity)
    if missing := names.unknown(row.quantity, known):
        end = "" if missing.endswith("?") else "."
        return RowProblem((row.kind, row.id), "quantity", f"{what}: it {missing}{end}")
    if wrong := misfit(row.quantity, row.amount):
        return RowProblem((row.kind, row.id), "amount", f"{what}: '{row.quantity}' {wrong}.")
    there, more = have.get(name, 0.0), in_si(job, row.quantity, row.amount)
    if there + more < 0 and not alike(there, -more):
        return RowProblem((row.kind, row.id), "amount", f"{what}: it takes away {with_unit(job, name, -more)} of "
                          f"{with_unit(job, name, there)} {name}; take away at most what is there.")
    return None


def combined(job: Job, quantities: Mapping[str, float], base: Estimate, offered: Sequence[Offer] = ()) -> list[Combined]:
    """Every combination of two or more options that are still open, each priced as a whole on what is agreed."""
    held = _held(job)
    options = [c for c in job.all(Change) if c.what == OPTION and c.state == "offered" and c.id not in held
               and lines_of(job, c)]
    quantities, base, offered = _basis(job, quantities, base, offered)
    if base.selling is None or len(options) < 2:
        return []
    if agreed := accepted(job):
        quantities = changed(job, quantities, agreed)
        base = estimate(job, quantities, offered)
    without = base.selling.price if base.selling else Decimal(0)
    sizes = range(2, len(options) + 1) if len(options) <= MOST_TOGETHER else (len(options),)
    found = []
    for group in (g for n in sizes for g in combinations(options, n)):
        after = estimate(job, changed(job, quantities, group), offered)
        if after.selling is not None:
            labels, price = tuple(c.name for c in group), after.selling.price - without
            found.append(Combined(labels, price, Working(
                f"Options together: {', '.join(labels)}", "D = P_w - P",
                (money("P_w", "price with them", after.selling.price), money("P", "price without", without)),
                money("D", "difference before tax", price),
                (Basis("the whole job priced again with all their quantities", ARITHMETIC),))))
    return found


def issued(job: Job, base: Estimate, quantities: Mapping[str, float], label: str, date: str,
           offered: Sequence[Offer] = ()) -> Job:
    """The job with a record of the price as it stands and of the quantities that it rests on.

    The changes that it holds are in it at the price that was agreed for them.
    """
    if base.selling is None:
        return job
    held = held_by(job, quantities)
    price, tax = agreed_beyond(job, held, quantities, base, offered)
    return add(job, "issuedprice", [{
        "label": label, "date": date, "price": str(base.selling.price + price),
        "total": str(base.selling.total + price + tax), "quantities": quantities_text(quantities),
        "holds": ", ".join(held)}])[0]


def as_change_order(job: Job, differences: Sequence[tuple[str, float]], label: str) -> Job:
    """The job with a change order made of differences; none without any."""
    if not differences:
        return job
    job, (change,) = add(job, "change", [{"label": label, "what": ORDER}])
    return add(job, "changeline", [{"change": change, "quantity": n, "amount": with_unit(job, n, a)}
                                   for n, a in differences])[0]
