"""What is open in hours, prices, dates and duties: each bad row by itself, what is unpriced as one item."""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.core.units import FOOT
from stagefloor.core.words import counted as so_many
from stagefloor.job.commercial import Change
from stagefloor.job.labour import HourUnit, PriceRow
from stagefloor.job.measured import with_unit
from stagefloor.job.model import Job
from stagefloor.steps.labour import changes, dates
from stagefloor.steps.labour import quantities as names
from stagefloor.steps.labour.contract import contract_sum
from stagefloor.steps.labour.duties import duties
from stagefloor.steps.labour.duties import open_items as orphans
from stagefloor.steps.labour.estimate import Estimate, estimate
from stagefloor.steps.labour.issues import altered, last_issue, lines_of, on_top
from stagefloor.steps.labour.learning import lessons
from stagefloor.steps.labour.materials import Displaced, Offer, displaced
from stagefloor.steps.labour.order import WorkOrder, order_of_work
from stagefloor.steps.labour.payments import applications, schedule
from stagefloor.steps.labour.rows import rounded

NAMED_AT_MOST = 6  # names listed in one sentence; the rest is counted
BASIS = "the shop's hours and prices for this job"


def open_items(job: Job, quantities: Mapping[str, float], known: Estimate | None = None,
               order: WorkOrder | None = None, contract: Decimal | None = None,
               offered: Sequence[Offer] = ()) -> list[OpenItem]:
    """What is wrong or missing in hours, prices, changes, payments, dates and duties.

    `known` and `order` spare them if at hand; `contract` is the sum that payments add up to; `offered`: prices that
    models and cable types carry.
    """
    found = estimate(job, quantities) if known is None else known
    if order is None:
        order = order_of_work(job, found.tasks, found.crew.hours_of_a_day)
    if contract is None:
        contract = contract_sum(job, found, changes.priced_changes(job, quantities, found))
    rows = [*found.problems, *order.problems, *changes.faults(job, quantities), *lessons(job, quantities)[1]]
    if found.selling is not None:
        rows += [*schedule(job, contract)[1], *applications(job, contract)[1]]
    items = [
        OpenItem("labour-row", "labour", p.sentence.split(":")[0], p.sentence, "", BASIS,
                 "Mend the row; until then " + ("this name is left out, the rest of the step is in the plan."
                                                if p.field in ("after", "before") else "it is left out of every sum."),
                 MEND, record=p.record)
        for p in {(p.record, p.field, p.sentence): p for p in rows}.values()
    ]
    items += [
        OpenItem("labour-quantity", "labour", "Takeoff", sentence, "", BASIS, "Mend what it is counted from.", CHECK)
        for sentence in names.usable(quantities)[1]
    ]
    if found.unpriced and (bool(job.all(HourUnit)) or bool(job.all(PriceRow))):
        listed = "; ".join(f"{u.quantity} ({u.missing})" for u in found.unpriced[:NAMED_AT_MOST])
        rest = len(found.unpriced) - NAMED_AT_MOST
        items.append(OpenItem(
            "labour-unpriced", "labour", "Price",
            f"{len(found.unpriced)} of {found.counted} unpriced: {listed}" + (f"; and {rest} more" if rest > 0 else "")
            + ".", f"{len(found.unpriced)} of {found.counted}", BASIS,
            "Enter what is named in brackets; nothing is made up in its place.", TO_DO))
    feet = job.settings.units == "ft-in"
    items += _accepted(job, found) + [_other_price(d, feet) for d in displaced(job, quantities, offered)]
    pricing = job.pricing()
    if pricing.exempt and not pricing.exempt_paper.strip():
        items.append(OpenItem("exemption-open", "labour", "Tax", "the client is exempt from tax and no paper is recorded",
                              "", BASIS, "Ask for the exemption paper and enter its number.", TO_DO,
                              record=(pricing.kind, pricing.id)))
    return items + dates.open_items(job, order) + orphans(duties(job, quantities))


def _other_price(found: Displaced, feet: bool) -> OpenItem:
    """A price row that stands for what a model, cable type or family has a far other price of."""
    length = names.is_length(found.quantity)
    per, unit = (Decimal(repr(FOOT)), "a foot") if length and feet else (Decimal(1), "a metre" if length else "each")
    listed, family = (" and ".join(f"'{r}'" for r in rows[:NAMED_AT_MOST]) for rows in (found.rows, found.family))
    whose = f"its family, {family}" if family else "its models or cable types"
    rows, others = (f"{rounded(v * per):,.2f}" for v in (found.each, found.other))
    return OpenItem(
        "price-instead", "labour", "Price", f"{found.quantity}: {listed} stands for it at {rows} {unit}, and not the "
        f"{others} of {whose}", f"{rows} for {others}", BASIS, "If it is small material beside it, tick "
        "'Bought as well' in its row; else see which price is right.", CHECK, record=found.record)


def _accepted(job: Job, found: Estimate) -> list[OpenItem]:
    """Accepted changes whose price is not kept, and those that no issue tells from what is drawn."""
    signed = on_top(job) if found.selling is not None else []
    agreed = [c for c in signed if lines_of(job, c)]
    items = [OpenItem(
        "change-price", "labour", c.name, "the change is accepted and the price that was agreed is not entered: it "
        + ("moves with hours, prices and terms" if c in agreed else "counts nowhere, as it has no quantities either"),
        "", BASIS, "Enter the price as agreed, before tax, and the tax on it.", TO_DO,
        record=(c.kind, c.id)) for c in signed if c.price is None]
    for c in job.all(Change):
        if others := altered(c, lines_of(job, c)):
            listed = "; ".join(f"{n} {with_unit(job, n, now)} for {with_unit(job, n, then)}" for n, now, then in others)
            items.append(OpenItem(
                "change-altered", "labour", c.name, "its quantities are other than those that its price, "
                f"{rounded(c.price or Decimal(0)):,.2f}, was agreed for: {listed}", "", BASIS, "Set them back and enter "
                "another change, or type the price that is agreed for them; if it is the same, empty 'Quantities agreed'.",
                CHECK, record=(c.kind, c.id)))
    if agreed and last_issue(job) is None:
        named = ", ".join(f"'{c.name}'" for c in agreed[:NAMED_AT_MOST])
        items.append(OpenItem(
            "change-unissued", "labour", "Changes", f"accepted ({named}) while no price is issued: nothing tells whether "
            "they are drawn already, so they stand on top of the price as it stands", so_many(len(agreed), "change"), BASIS,
            "Issue the price before a change is drawn. If it is drawn and in the price, delete the change.", CHECK,
            record=(agreed[0].kind, agreed[0].id)))
    return items
