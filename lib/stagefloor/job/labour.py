"""The shop's hours and prices for this job. Internal: nothing here has a way to a client's page but one door."""

from typing import ClassVar

from stagefloor.job.fields import Count, Flag, Money, Number, Ref, Text, choice, count, flag, money, note, number, ref, text
from stagefloor.job.record import Record

SECTIONS = ("Floor boxes and panels", "Raceways", "Cables and terminations", "Tests and handover", "Other")


class HourUnit(Record):
    """Hours for one unit of a task: low, likely, high."""

    kind: ClassVar[str] = "hourunit"
    noun: ClassVar[str] = "hours for a task"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "task"

    task: Text = text("Task")
    quantity: Text = text("Counted by", "the name of a quantity of the takeoff")
    per: Number = number("Per how many", default=1.0)
    low: Number = number("Low", unit="h")
    likely: Number = number("Likely", unit="h")
    high: Number = number("High", unit="h")
    section: Text = choice("Section", SECTIONS, "Other")
    source: Text = text("Where it comes from", default="common practice, no source")


class PriceRow(Record):
    """What one unit of a quantity costs the shop."""

    kind: ClassVar[str] = "pricerow"
    noun: ClassVar[str] = "price"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "item"

    item: Text = text("Item")
    quantity: Text = text("Counted by", "the name of a quantity of the takeoff")
    per: Number = number("Per how many", default=1.0)
    cost: Money = money("Cost")
    section: Text = choice("Section", SECTIONS, "Other")
    supplier: Text = text("Supplier")
    lead: Count = count("Lead time, days")


class Pricing(Record):
    """One a job: how costs become a price."""

    kind: ClassVar[str] = "pricing"
    noun: ClassVar[str] = "pricing"
    step: ClassVar[str] = "labour"

    label: Text = text("Pricing", default="Pricing")
    rate: Money = money("Labour cost an hour", "with burden")
    material_markup: Number = number("Markup on material", "percent added to cost; it is not the margin", unit="%")
    labour_markup: Number = number("Markup on labour", unit="%")
    contingency: Number = number("Contingency", "percent of cost", unit="%")
    tax: Number = number("Tax", "percent of the price, as your adviser says", unit="%")
    show_sections: Flag = flag("Client sees the price by section", default=True)
    remark: Text = note("Remark for the office")


class Risk(Record):
    """A named risk: what may happen and what it would cost."""

    kind: ClassVar[str] = "risk"
    noun: ClassVar[str] = "risk"
    step: ClassVar[str] = "labour"

    label: Text = text("Risk")
    chance: Number = number("Chance", unit="%")
    hours: Number = number("Hours if it happens", unit="h")
    cost: Money = money("Cost if it happens")
    remark: Text = note("Remark for the office")
    box: Ref = ref("Box", "box")
