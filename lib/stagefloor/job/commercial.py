"""What is agreed with the client about money: options, change orders, payments, terms. For the office.

The words of a term are written for the client; everything else here stays inside.
"""

from typing import ClassVar

from stagefloor.job.fields import (
    Amount,
    Measured,
    Money,
    Ref,
    Refs,
    Text,
    choice,
    day,
    measured,
    money,
    note,
    number,
    ref,
    refs,
    text,
)
from stagefloor.job.record import Record

CHANGES = ("option", "change order", "now or later")
CHANGE_STATES = ("offered", "accepted", "declined")
TERMS = ("validity", "start of the warranty", "insurance", "lien papers", "payment", "not included", "other")


class Change(Record):
    """An option or a change of the agreed work, priced by the quantities that it adds or takes away."""

    kind: ClassVar[str] = "change"
    noun: ClassVar[str] = "option or change"
    nouns: ClassVar[str] = "options and changes"
    step: ClassVar[str] = "labour"

    label: Text = text("Option or change")
    what: Text = choice("It is", CHANGES, "option")
    state: Text = choice("State", CHANGE_STATES, "offered")
    cap: Amount = number("Overhead and profit at most", "the contract's cap on a change; empty: none", unit="%")
    price: Money = money("Price agreed, before tax", "kept when it is accepted; what was signed stays, whatever the terms")
    tax: Money = money("Tax on it, agreed")
    agreed_for: Text = note("Quantities agreed", "kept with the price that was agreed for them; lengths in metres", own=True)
    remark: Text = note("Remark for the office")


class ChangeLine(Record):
    """One quantity that an option or change adds, or takes away with a minus."""

    kind: ClassVar[str] = "changeline"
    noun: ClassVar[str] = "line of a change"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "quantity"

    change: Ref = ref("Option or change", "change")
    quantity: Text = text("Quantity", "the name of a quantity of the takeoff", own=True)
    amount: Measured = measured("Amount", "more, or less with a minus; a length in the job's units, or with its own: 500 ft")


class IssuedPrice(Record):
    """A price that went out, with the quantities that it rests on, so that a later change can be told from it."""

    kind: ClassVar[str] = "issuedprice"
    noun: ClassVar[str] = "issued price"
    step: ClassVar[str] = "labour"

    label: Text = text("Issue")
    date: Text = day("Date")
    price: Money = money("Price before tax")
    total: Money = money("Total")
    quantities: Text = note("Quantities that it rests on", "one a line")
    holds: Refs = refs("Changes that are in it", "change", "accepted changes that it counts already; not added again")


class Payment(Record):
    """One payment of the schedule; the last one is what is left."""

    kind: ClassVar[str] = "payment"
    noun: ClassVar[str] = "payment"
    step: ClassVar[str] = "labour"

    label: Text = text("Payment")
    percent: Amount = number("Share of the price", "empty in the last one: what is left", unit="%")
    due: Text = text("Due", "for example on order, strings proved, handover")


class Application(Record):
    """An application for payment on work in progress."""

    kind: ClassVar[str] = "application"
    noun: ClassVar[str] = "application for payment"
    step: ClassVar[str] = "labour"

    label: Text = text("Application")
    date: Text = day("Date")
    completed: Money = money("Work completed to date")
    stored: Money = money("Material stored to date")
    retainage: Amount = number("Retainage", "that the client keeps of all earned so far; empty: the job's own; 0 in the "
                               "last one pays it out", unit="%")


class Term(Record):
    """One paragraph of the shop's terms, in the shop's own words."""

    kind: ClassVar[str] = "term"
    noun: ClassVar[str] = "term"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "what"

    what: Text = choice("About", TERMS, "other")
    words: Text = note("Words for the client")
