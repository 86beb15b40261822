"""How the price is paid: the schedule of payments, retainage, and applications for payment. Money is decimal."""

from dataclasses import dataclass
from decimal import Decimal

from stagefloor.core.workings import ARITHMETIC, JOB, MEMORY, Basis, Value, Working
from stagefloor.job.commercial import Application, Payment
from stagefloor.job.labour import Pricing
from stagefloor.job.model import Job
from stagefloor.steps.labour.rows import RowProblem, money, rounded

PERCENT = Decimal(100)
RELEASED = "Retainage released"


@dataclass(frozen=True)
class Instalment:
    """One payment: its share of the total, what the client keeps back of it, and what is paid.

    The last line may be the retainage that is released: no share of its own, and less than nothing kept back.
    """

    label: str
    due: str
    amount: Decimal
    kept: Decimal
    working: Working

    @property
    def paid(self) -> Decimal:
        return self.amount - self.kept


def schedule(job: Job, total: Decimal) -> tuple[list[Instalment], list[RowProblem]]:
    """The payments of a total, each to the cent; they add up to it, what is kept back included.

    A payment without a share, the last one, is what is left, and so is the one with which the shares reach 100 %.
    Retainage is kept from every payment; what was kept is paid by a line of its own at the end.
    """
    rows: list[Payment] = job.all(Payment)
    problems: list[RowProblem] = []
    share = _retainage(job, problems)
    left, reached = total, Decimal(0)
    found = []
    for i, row in enumerate(rows):
        last = i == len(rows) - 1
        if (row.percent is None and not last) or (row.percent is not None and not 0 <= row.percent <= 100):
            problems.append(RowProblem((row.kind, row.id), "percent", f"Payment '{row.name}': enter a share from 0 to "
                                       "100 %; only the last one may be empty."))
            continue
        part = Decimal(repr(row.percent or 0.0))
        if reached + part > PERCENT:
            problems.append(RowProblem((row.kind, row.id), "percent", f"Payment '{row.name}': the shares add up to more "
                                       "than 100 %; lower one of them."))
            continue
        reached += part
        rest = row.percent is None or (part > 0 and reached == PERCENT)
        amount = left if rest else min(rounded(total * part / PERCENT), left)
        left -= amount
        kept = rounded(amount * share)
        found.append(Instalment(row.name, row.due, amount, kept, Working(
            f"Payment: {row.name}", "A = S - payments before" if rest else "A = S * p / 100",
            (money("S", "sum of the contract", total), *_share(row)),
            money("A", "amount", amount), (Basis("the schedule of payments of this job", JOB),
                                           Basis("to the cent, half up; the last one is what is left", ARITHMETIC)),
            also=(money("R", "kept back as retainage", kept), money("D", "paid", amount - kept)))))
    if rows and rows[-1].percent is not None and reached < PERCENT and not problems:
        problems.append(RowProblem((rows[-1].kind, rows[-1].id), "percent", f"The shares of the payments add up to "
                                   f"{reached.normalize():f} %, and {left} of the price is in no payment; leave the share "
                                   "of the last payment empty."))
    if held := sum((p.kept for p in found), Decimal(0)):
        found.append(Instalment(RELEASED, "when the contract releases it", Decimal(0), -held, Working(
            RELEASED, "D = R1 + R2 + ...", tuple(money(f"R{n}", f"kept back of {p.label}", p.kept)
                                                 for n, p in enumerate(found, 1)),
            money("D", "paid", held), (Basis("the schedule of payments of this job", JOB),
                                       Basis("sum of rounded amounts", ARITHMETIC)))))
    return found, problems


def _share(row: Payment) -> tuple[Value, ...]:
    return () if row.percent is None else (Value("p", "share", row.percent, "%"),)


def _retainage(job: Job, problems: list[RowProblem], row: Application | None = None) -> Decimal:
    """The share that is kept: the application's own, else that of the job."""
    holder: Application | Pricing = job.pricing() if row is None or row.retainage is None else row
    if holder.retainage is not None and not 0 <= holder.retainage < 100:
        of = "" if isinstance(holder, Pricing) else f" of '{holder.name}'"
        problem = RowProblem((holder.kind, holder.id), "retainage", f"The retainage{of} is {holder.retainage:g} %; it must "
                             "be from 0 to below 100, so none was used.")
        if problem not in problems:
            problems.append(problem)
        return Decimal(0)
    return Decimal(repr(holder.retainage or 0.0)) / PERCENT


def applications(job: Job, contract: Decimal) -> tuple[list[Working], list[RowProblem]]:
    """Each application for payment in its order: earned less retainage, less what was certified before.

    Each may keep another share than the job's; 0 in the last one pays out what was kept.

    Parameters
    ----------
    contract : contract sum with accepted changes, money

    Source: lines 4 to 8 of a common application-for-payment form, from memory.
    """
    problems: list[RowProblem] = []
    before = Decimal(0)
    found = []
    for row in job.all(Application):
        share = _retainage(job, problems, row)
        done = (row.completed or Decimal(0)) + (row.stored or Decimal(0))
        if not 0 <= done <= contract:
            problems.append(RowProblem((row.kind, row.id), "completed", f"Application '{row.name}': {done} of work and "
                                       f"material is not between nothing and the contract sum of {contract}; check it."))
            continue
        earned = done - rounded(done * share)
        found.append(Working(
            f"Payment due: {row.name}", "D = E * (1 - r / 100) - B",
            (money("E", "completed and stored to date", done), Value("r", "retainage", float(share * PERCENT), "%"),
             money("B", "certified before", before)),
            money("D", "due", earned - before),
            (Basis("application-for-payment form, lines 4 to 8", MEMORY), Basis("the amounts as entered", JOB),
             Basis("to the cent, half up", ARITHMETIC)),
            also=(money("", "earned less retainage", earned), money("", "balance with retainage", contract - earned))))
        before = earned
    return found, problems
