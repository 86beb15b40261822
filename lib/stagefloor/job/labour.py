"""The shop's hours and prices for this job. Internal: nothing here has a way to a client's page but one door."""

from typing import ClassVar

from stagefloor.job.fields import (
    Amount,
    Count,
    Flag,
    MeasuredAmount,
    Money,
    Number,
    Ref,
    Text,
    choice,
    count,
    flag,
    measured,
    money,
    note,
    number,
    ref,
    text,
)
from stagefloor.job.record import Record

SECTIONS = ("Floor boxes and panels", "Raceways", "Cables and terminations", "Tests and handover", "Other")
CONTINGENCIES = ("the percentage", "P80 minus base")
LEARNING = ("off", "unit form", "cumulative-average form")
TAXED = ("on the whole price", "on material at its selling price", "paid by the shop on material, not shown")
ALL_WORK = "all work"
# What makes work slower, in the words of the trade; the shares stand in reference/conditions.csv.
CONDITIONS = ("occupied building", "night work", "work at height", "crawl space", "heritage building",
              "ends made on the bench", "other")
# What no drawing shows and someone has to say.
BY_HAND = ("trips", "surveys", "scans", "cores", "framed openings", "commissioning visits", "training sessions",
           "document sets")


class HourUnit(Record):
    """Hours for one unit of a task: low, likely, high."""

    kind: ClassVar[str] = "hourunit"
    noun: ClassVar[str] = "hours for a task"
    nouns: ClassVar[str] = "hours for tasks"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "task"

    task: Text = text("Task")
    quantity: Text = text("Counted by", "the name of a quantity of the takeoff", own=True)
    per: Amount = number("Per how many", default=1.0)
    low: Amount = number("Low", unit="h")
    likely: Amount = number("Likely", unit="h")
    high: Amount = number("High", unit="h")
    section: Text = choice("Section", SECTIONS, "Other")
    learning: Amount = number("Learning rate", "hours fall to this share at each doubling; used only if learning is on",
                              unit="%")
    source: Text = text("Where it comes from", default="common practice, no source")


class PriceRow(Record):
    """What one unit of a quantity costs the shop."""

    kind: ClassVar[str] = "pricerow"
    noun: ClassVar[str] = "price"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "item"

    item: Text = text("Item")
    quantity: Text = text("Counted by", "the name of a quantity of the takeoff", own=True)
    per: Amount = number("Per how many", default=1.0)
    cost: Money = money("Cost")
    waste: Amount = number("Waste", "bought beyond what is counted; empty: the job's own for cable and raceway", unit="%")
    low: Money = money("Lowest it may cost", "empty: as for all prices")
    high: Money = money("Highest it may cost", "empty: as for all prices")
    section: Text = choice("Section", SECTIONS, "Other")
    besides: Flag = flag("Bought as well", "small material beside the box, cable or part: no price of that itself")
    supplier: Text = text("Supplier")
    lead: Count = count("Lead time, days", "calendar days from the order to the day it comes")


class Pricing(Record):
    """One a job: how costs become a price."""

    kind: ClassVar[str] = "pricing"
    noun: ClassVar[str] = "pricing"
    step: ClassVar[str] = "labour"

    label: Text = text("Pricing", default="Pricing")
    rate: Money = money("Labour cost an hour", "with burden; empty: built up from the crew and its burdens")
    material_markup: Number = number("Markup on material", "percent added to cost; it is not the margin", unit="%")
    labour_markup: Number = number("Markup on labour", unit="%")
    contingency: Amount = number("Contingency", "percent of cost", unit="%")
    contingency_by: Text = choice("Contingency is", CONTINGENCIES, CONTINGENCIES[0])
    waste: Amount = number("Waste on cable and raceway", "bought beyond what is counted", unit="%")
    price_low: Amount = number("Buying prices may fall by", unit="%")
    price_high: Amount = number("Buying prices may rise by", unit="%")
    learning: Text = choice("Learning over repeated work", LEARNING, "off")
    hours_a_day: Amount = number("Hours a day", "that one person works on site", 8.0, "h")
    tax: Amount = number("Tax", "percent, as your adviser says", unit="%")
    tax_on: Text = choice("Tax is", TAXED, TAXED[0])
    exempt: Flag = flag("Client is exempt from tax")
    exempt_paper: Text = text("Exemption paper", "its number, as kept on file")
    retainage: Amount = number("Retainage", "share of each payment that the client keeps until the end", unit="%")
    later: Amount = number("Doing it later costs times", "the shop's own multiplier; trade articles claim 5 to 10")
    show_sections: Flag = flag("Client sees the price by section", default=True)
    remark: Text = note("Remark for the office")


class Risk(Record):
    """A named risk: what may happen and what it would cost, at once or by the piece."""

    kind: ClassVar[str] = "risk"
    noun: ClassVar[str] = "risk"
    step: ClassVar[str] = "labour"

    label: Text = text("Risk")
    chance: Amount = number("Chance", unit="%")
    hours: Amount = number("Hours if it happens", "for each piece, if pieces are given", unit="h")
    cost: Money = money("Cost if it happens", "for each piece, if pieces are given")
    low: Amount = number("Pieces, at least")
    likely: Amount = number("Pieces, likely", "such as rotten joists found; empty: it happens as a whole")
    high: Amount = number("Pieces, at most")
    unit_price: Money = money("Unit price in the offer", "what the client pays for each piece that is found")
    remark: Text = note("Remark for the office")
    box: Ref = ref("Box", "box")


class CrewRole(Record):
    """Who works on the job: how many, at what wage."""

    kind: ClassVar[str] = "crewrole"
    noun: ClassVar[str] = "crew role"
    step: ClassVar[str] = "labour"

    label: Text = text("Role")
    people: Count = count("How many", default=1)
    wage: Money = money("Wage an hour", "without burden")


class Burden(Record):
    """One part of what an hour costs beyond the wage."""

    kind: ClassVar[str] = "burden"
    noun: ClassVar[str] = "burden on the wage"
    step: ClassVar[str] = "labour"

    label: Text = text("Part")
    percent: Amount = number("Share of the wage", unit="%")
    source: Text = text("Where it comes from")


class Condition(Record):
    """What makes the work of this job slower or faster than the shop's hours."""

    kind: ClassVar[str] = "condition"
    noun: ClassVar[str] = "working condition"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "what"

    what: Text = choice("Condition", CONDITIONS, "other")
    work: Text = choice("Concerns", (ALL_WORK, *SECTIONS), ALL_WORK)
    quantity: Text = text("Only what is counted by", "empty: all of it", own=True)
    low: Amount = number("Adds at least", "empty: common practice, no source", unit="%")
    likely: Amount = number("Adds, likely", unit="%")
    high: Amount = number("Adds at most", unit="%")
    remark: Text = note("Remark for the office")


class ByHand(Record):
    """An amount that no drawing shows: trips, surveys, cores, training."""

    kind: ClassVar[str] = "byhand"
    noun: ClassVar[str] = "amount by hand"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "quantity"

    quantity: Text = choice("Quantity", BY_HAND, BY_HAND[0])
    amount: Amount = number("Amount", default=1.0)
    remark: Text = note("Remark for the office")


class ActualHours(Record):
    """Hours that a task really took on a closed job; evidence for the shop's own hours."""

    kind: ClassVar[str] = "actual"
    noun: ClassVar[str] = "actual hours"
    nouns: ClassVar[str] = "actual hours"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "job"

    job: Text = text("Closed job")
    task: Ref = ref("Task", "hourunit")
    amount: MeasuredAmount = measured("Amount done", "pieces; a length in the job's units, or with its own: 500 ft")
    hours: Amount = number("Hours it took", unit="h")
    factor: Number = number("Made slower by", "conditions of that job, taken out before it is compared", 0.0, "%")
    taken: Flag = flag("Already in the shop's hours")
