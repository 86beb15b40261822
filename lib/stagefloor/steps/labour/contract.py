"""The sum of the contract: what was issued, or the price as it stands, with the accepted changes and their tax."""

from collections.abc import Sequence
from decimal import Decimal

from stagefloor.core.workings import ARITHMETIC, JOB, Basis, Value, Working
from stagefloor.job.model import Job
from stagefloor.steps.labour.change_price import PricedChange
from stagefloor.steps.labour.estimate import Estimate
from stagefloor.steps.labour.issues import last_issue
from stagefloor.steps.labour.rows import money


def contract_sum(job: Job, base: Estimate, found: Sequence[PricedChange]) -> Decimal:
    """The sum that payments add up to, tax included; nothing without a price.

    Once a price is issued it is the issued total, and what was drawn since counts only by an accepted change.
    """
    return sum((amount for _, amount in _parts(job, base, found)), Decimal(0))


def contract_working(job: Job, base: Estimate, found: Sequence[PricedChange]) -> Working | None:
    """The sum of the contract from its parts; None without a price."""
    parts = _parts(job, base, found)
    if not parts:
        return None
    values: list[Value] = [money(f"S{n}" if n else "S_0", name, amount) for n, (name, amount) in enumerate(parts)]
    return Working(
        "Sum of the contract", "S = S_0" + "".join(f" + S{n}" for n in range(1, len(parts))), tuple(values),
        money("S", "sum of the contract", contract_sum(job, base, found)),
        (Basis("the price as issued, or as it stands while none is, and the accepted changes, each with its tax", JOB),
         Basis("sum of rounded amounts", ARITHMETIC)))


def _parts(job: Job, base: Estimate, found: Sequence[PricedChange]) -> list[tuple[str, Decimal]]:
    issue = last_issue(job)
    if issue is not None and issue.total is not None:
        start = [(f"total of '{issue.name}'", Decimal(issue.total))]
    elif base.selling is not None:
        start = [("total of the price as it stands", base.selling.total)]
    else:
        return []
    held = () if issue is None else issue.holds
    return start + [(f"{c.change.name}, with its tax" if c.tax else c.change.name, c.with_tax) for c in found
                    if c.change.state == "accepted" and c.change.id not in held]
