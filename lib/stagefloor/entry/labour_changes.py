"""Options, changes and payments on screen, and the price that is issued. For the office."""

import datetime
from decimal import Decimal

import ipywidgets as widgets

from stagefloor.core.words import counted
from stagefloor.core.workings import Working
from stagefloor.entry import show
from stagefloor.entry.folds import folds
from stagefloor.entry.labour import amount
from stagefloor.entry.session import Session, here
from stagefloor.entry.tables import Table
from stagefloor.job.commercial import IssuedPrice
from stagefloor.job.model import Job
from stagefloor.results import Results
from stagefloor.steps.labour import PricedChange, PriceMove, SinceIssue, beyond_orders, last_issue
from stagefloor.steps.labour.change_price import of_now
from stagefloor.steps.labour.changes import as_change_order, issued
from stagefloor.steps.labour.issues import is_agreed
from stagefloor.steps.labour.words import hours as hour_words


def changes() -> widgets.Widget:
    """What options and changes cost, what changed since the issued price, how it is paid; two buttons."""
    session = here()
    issue = widgets.Button(description="Issue this price", tooltip="keeps the price with the quantities that it rests on",
                           layout=widgets.Layout(width="auto"))
    take = widgets.Button(description="Make a change order of what changed",
                          tooltip="of what no change order holds yet, neither accepted nor offered",
                          layout=widgets.Layout(width="auto"))
    issue.add_class("sf-issue")
    take.add_class("sf-take-changes")
    issue.on_click(lambda _: issue_price(session, datetime.date.today().isoformat()))
    take.on_click(lambda _: take_changes(session))

    def ready() -> None:
        results = session.results()
        issue.disabled = results.estimate.selling is None
        since = beyond_orders(session.job, results.quantities)
        take.disabled = since is None or not since.beyond

    ready()
    session.listen(ready)
    row = widgets.HBox([issue, take], layout=widgets.Layout(flex_flow="row wrap"))
    return show.stack(show.view(session, told, "changes"), row)


def issue_price(session: Session, today: str) -> None:
    """Keep the price as it stands, with its quantities, as a record of the job."""
    results = session.results()
    label = f"Issue {len(session.job.all(IssuedPrice)) + 1}"
    session.edit("Price issued", lambda job: issued(job, results.estimate, results.quantities, label, today,
                                                      results.offers))


def take_changes(session: Session) -> None:
    """Make a change order of what changed since the last issue and stands in no change order yet."""
    quantities = session.results().quantities

    def change(job: Job) -> Job:
        since = beyond_orders(job, quantities)
        return job if since is None else as_change_order(job, since.beyond, f"Changes since {since.issue.name}")

    session.edit("Change order", change)


def told(results: Results) -> str:
    """Changes since the issue, options and changes with their prices, payments."""
    parts = ["<h3>Options, changes and payments</h3>"]
    since = beyond_orders(results.job, results.quantities)
    if since is None:
        parts.append(show.paragraph("No price is issued yet."))
    else:
        parts += what_changed(since, results.job.settings.units == "ft-in")
    if (moved := results.price_move) is not None and moved.moved:
        parts += why_moved(moved, results.job.settings.currency)
    if results.changes:
        taxed = any(c.tax for c in results.changes)
        issue = last_issue(results.job)
        heads = ("Option or change", "It is", "State", "Adds to the price", *(("With tax",) if taxed else ()), "In words")
        parts.append(show.table(heads, [line(c, issue, taxed) for c in results.changes], (3, 4) if taxed else (3,)))
    if results.options_together:
        parts.append(show.table(("Options together", "Add to the price"),
                                [(", ".join(c.labels), f"{c.price:,.2f}") for c in results.options_together], (1,)))
    contract = results.contract_working
    if contract is not None and (since is not None or len(contract.inputs) > 1 or results.payments or results.applications):
        parts.append(show.paragraph(agreed(contract, results.job.settings.currency)))
    if results.payments:
        parts.append(show.table(("Payment", "Due", "Amount", "Kept back", "Paid"), [
            (p.label, p.due, f"{p.amount:,.2f}", f"{p.kept:,.2f}", f"{p.paid:,.2f}") for p in results.payments], (2, 3, 4)))
    if results.applications:
        parts.append(show.table(("Application", "Due now", "Balance with retainage"), [
            (w.name.removeprefix("Payment due: "), f"{w.result.amount:,.2f}", f"{w.also[1].amount:,.2f}")
            for w in results.applications], (1, 2)))
    return "".join(parts) + show.workings([
        *(c.working for c in results.changes), *(c.working for c in results.options_together),
        *((contract,) if contract is not None else ()), *(p.working for p in results.payments), *results.applications])


def what_changed(since: SinceIssue, feet: bool) -> list[str]:
    """What is drawn otherwise than issued, and how much of it no change order holds."""
    def signed(value: float, name: str) -> str:
        return ("+" if value > 0 else "−") + amount(abs(value), name, feet)

    issue = f"'{since.issue.name}' of {since.issue.date or 'no date'}"
    beyond, parts = dict(since.beyond), []
    if not since.differences:
        parts.append(show.paragraph(f"Nothing counted has changed since {issue}.", "lead"))
    else:
        words = f"Since {issue}, {counted(len(since.differences), 'quantity')} changed"
        rest = "all of it stands in change orders, accepted or offered." if not beyond else (
            f"{counted(len(beyond), 'quantity')} of it beyond what stands in change orders."
            if len(beyond) < len(since.differences) or since.waiting else "")
        parts.append(show.paragraph(f"{words}; {rest}" if rest else f"{words}.", "lead"))
        rows = [(n, signed(a, n), signed(beyond[n], n) if n in beyond else "–") for n, a in since.differences]
        parts.append(show.folded("What changed", show.table(
            ("Quantity", "More or less", "In no change order"), rows, (1, 2))))
    if since.waiting:
        listed = ", ".join(f"{n} {signed(a, n)}" for n, a in since.waiting)
        parts.append(show.paragraph(f"Accepted and not, or not wholly, drawn: {listed}. If it is no longer wanted, enter a "
                                    "change order that takes it back."))
    return parts


def why_moved(found: PriceMove, currency: str) -> list[str]:
    """How far the price has moved since its issue, and what moved it."""
    def signed(money: Decimal) -> str:
        return f"{'+' if money > 0 else '−'}{abs(money):,.2f}"

    parts = [w for w, m in ((f"{signed(found.counted)} because quantities changed", found.counted),
                            (f"{signed(found.terms)} because hours, prices or terms changed", found.terms)) if m]
    way = "higher" if found.moved > 0 else "lower"
    words = f"The price before tax is {currency} {abs(found.moved):,.2f} {way} than issued: {' and '.join(parts)}."
    rows = [(name, signed(money)) for name, money in found.sections]
    return [show.paragraph(words), show.table(("Section, for the quantities", "More or less"), rows, (1,)) if rows else "",
            show.workings([found.working], "How the price moved")]


def agreed(contract: Working, currency: str) -> str:
    """The sum of the contract in one sentence."""
    start, *more = contract.inputs
    words = f"Sum of the contract: {currency} {contract.result.amount:,.2f}"
    if not more:
        return f"{words}, the {start.name}."
    return f"{words}: the {start.name}, {start.amount:,.2f}, and {counted(len(more), 'accepted change')}."


def line(c: PricedChange, issue: IssuedPrice | None, taxed: bool) -> tuple[str, ...]:
    """One option or change in a row; `taxed`: with a column of what it adds with its tax."""
    hours = float(c.hours)
    words = "" if not hours else f"{hour_words(abs(hours))} {'more' if hours > 0 else 'less'}"
    if c.later is not None and c.even is not None:
        words = f"later it would be {c.later:,.2f}; now is cheaper if it will be needed with more than {c.even:.0f} % chance"
    if c.missing:
        words += ("; " if words else "") + f"unpriced in it: {', '.join(c.missing)}"
    state = c.change.state
    if issue is not None and c.change.id in issue.holds:
        state += f", in '{issue.name}' already"
    if is_agreed(c.change):
        state += ", price kept"
        if c.lines and c.today != c.price:
            words += ("; " if words else "") + f"{of_now(c.change, c.lines)} {c.today:,.2f}"
    with_tax = (f"{c.with_tax:,.2f}",) if taxed else ()
    return c.change.name, c.change.what, state, f"{c.price:,.2f}", *with_tax, words


def entries() -> widgets.Widget:
    """Options, changes, payments and terms, each table under its name."""
    session = here()
    return folds([
        ("Options and changes", lambda: show.stack(
            Table(session, "change", ("label", "what", "state", "cap", "price", "tax", "agreed_for", "remark"),
                  name="Options and changes",
                  empty_hint="Press 'Add row' and name an option, a change order, or spare raceway now or later.").grid,
            Table(session, "changeline", ("change", "quantity", "amount"), name="Quantities of options and changes").grid)),
        ("Payments", lambda: show.stack(
            Table(session, "payment", ("label", "percent", "due"), name="Schedule of payments",
                  empty_hint="Press 'Add row' for deposit, progress and final payment; the last share stays empty.").grid,
            Table(session, "application", ("label", "date", "completed", "stored", "retainage"),
                  name="Applications for payment").grid)),
        ("Issued prices", lambda: Table(session, "issuedprice", ("label", "date", "price", "total", "holds"),
                                        name="Issued prices", readonly=("price", "total")).grid),
        ("Terms for the client", lambda: Table(session, "term", ("what", "words"), name="Terms",
                                               empty_hint="Press 'Add row' and type your own terms.").grid)])
