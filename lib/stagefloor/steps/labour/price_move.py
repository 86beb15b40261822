"""Why a price is not the one that was issued: what is counted, section by section, and what a thing costs. Knows no page."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.core.workings import ARITHMETIC, Basis, Working
from stagefloor.job.commercial import IssuedPrice
from stagefloor.job.model import Job
from stagefloor.steps.labour.changes import agreed_beyond
from stagefloor.steps.labour.estimate import Estimate, estimate
from stagefloor.steps.labour.issues import issued_quantities, last_issue
from stagefloor.steps.labour.materials import Offer, reaching
from stagefloor.steps.labour.rows import money


@dataclass(frozen=True)
class PriceMove:
    """How far the price before tax has moved since an issue (minus: down), in two parts that add up to it.

    `counted`: because other quantities are counted; `terms`: because hours, prices or terms of the job are others.
    `sections`: (name, money) of `counted`, those that moved, the farthest first; they add up to it.
    """

    issue: IssuedPrice
    moved: Decimal
    counted: Decimal
    terms: Decimal
    sections: tuple[tuple[str, Decimal], ...]
    working: Working


def price_move(job: Job, base: Estimate, offered: Sequence[Offer] = ()) -> PriceMove | None:
    """The move since the last issue; None without an issue, its price, or a price now.

    The quantities as issued are priced at today's hours, prices and terms: what lies between that and the price now
    comes from the counting, the rest from the terms. Changes that the issue holds count at the price that was agreed.
    """
    issue = last_issue(job)
    if issue is None or issue.price is None or base.selling is None:
        return None
    quantities = issued_quantities(issue)
    before = estimate(job, quantities, reaching(offered, base.quantities, quantities))
    agreed, _ = agreed_beyond(job, issue.holds, quantities, before, offered)
    then, now = Decimal(issue.price), base.selling.price + agreed
    between = (before.selling.price if before.selling is not None else Decimal(0)) + agreed
    counted, terms = now - between, between - then
    names = dict.fromkeys((*(s.section for s in base.sections), *(s.section for s in before.sections)))
    moved = [(n, _of(base, n) - _of(before, n)) for n in names]
    working = Working(
        f"Price since '{issue.name}'", "D = (P - P_q) + (P_q - P_i)",
        (money("P", "price before tax now", now), money("P_q", "the quantities of the issue at the terms of now", between),
         money("P_i", "price before tax as issued", then)), money("D", "more or less than issued", now - then),
        (Basis("the quantities of the issue priced again", ARITHMETIC),),
        also=(money("D_c", "because quantities changed", counted),
              money("D_t", "because hours, prices or terms changed", terms)))
    return PriceMove(issue, now - then, counted, terms, tuple(sorted(
        ((n, m) for n, m in moved if m), key=lambda x: -abs(x[1]))), working)


def _of(found: Estimate, section: str) -> Decimal:
    return sum((s.selling for s in found.sections if s.section == section), Decimal(0))

