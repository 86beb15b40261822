"""The order of work on screen: the five dates and what blocks them, steps with hold points, who does what."""

from datetime import date

import ipywidgets as widgets

from stagefloor.core.words import counted
from stagefloor.entry import show
from stagefloor.entry.charts import short
from stagefloor.entry.folds import folds
from stagefloor.entry.session import here
from stagefloor.entry.tables import Table
from stagefloor.results import Results
from stagefloor.steps.labour import RulingDate, Shared, WorkOrder, WorkStep
from stagefloor.steps.labour.calendar import Calendar, calendar
from stagefloor.steps.labour.stages import BY_NAME
from stagefloor.steps.labour.words import days as day_words
from stagefloor.steps.labour.words import slip

CAUTION = ("The order is common practice, no source. An old outlet comes out only when its breaker is off, locked and "
           "proved dead; a mains outlet is the licensed electrician's. How long a material cures, its maker and the "
           "engineer say. Structure, mains and work at height: the local code, the engineer and the licensed electrician "
           "come first.")
SHOWN, LONG = 2, 90  # open items named beside a date, and letters of each


def order() -> widgets.Widget:
    """The result: when it is done, what stands in the way of which date."""
    return show.view(here(), told, "order")


def told(results: Results) -> str:
    """One sentence, the five dates, the rest folded."""
    found = results.order
    if not found.steps:
        return show.paragraph("The order of work appears when there are hours for tasks.")
    days = calendar(results.job)[0]
    first, last = days.first(0.0), days.last(found.finish)
    span = f" {when(first)} to {when(last)} {last.year}." if first and last else " Enter the start of the work to see dates."
    holds = sum(s.hold and not s.released for s in found.steps)
    words = day_words(found.finish)
    lead = f"{words[:1].upper()}{words[1:]} from start to end with one crew" + (
        ", the work of others included" if any(s.others and s.days for s in found.steps) else "") + f".{span}"
    lead += strict(found)
    lead += f" {counted(holds, 'hold point')} {'is' if holds == 1 else 'are'} not released yet." if holds else ""
    missing = " ".join(f"{g.subject}: {g.what}." for g in found.gaps)
    return ("<h3>Order of work</h3>" + show.paragraph(lead, "lead") + (show.paragraph(missing) if missing else "")
            + show.table(("Date that rules the job", "On", "Plan is ready", "To spare", "Still open before it"),
                         [ruling(d) for d in results.ruling_dates])
            + show.folded("Every step, with hold points", steps(found.steps, days))
            + show.folded(duty_words(results.duties), duty_table(results.duties))
            + show.workings([found.longest] if found.longest else [])
            + show.paragraph(CAUTION, "quiet"))


def strict(found: WorkOrder) -> str:
    """What may not slip, as a sentence: by name, unless it is all the work."""
    if len(found.critical) == sum(s.days > 0 for s in found.steps):
        return " Nothing may slip: what is late in any step makes the end late."
    path = ", ".join(s.what[:1].lower() + s.what[1:] for s in found.critical)
    return f" Nothing may slip in: {path}." if path else ""


def when(day: date | None) -> str:
    return "–" if day is None else f"{day:%a} {day.day} {day:%b}"


def ruling(found: RulingDate) -> tuple[str, str, str, str, str]:
    """One row: the date, when the plan is ready, working days to spare, the first things that block it."""
    days = counted(abs(found.spare or 0), "day")
    spare = "–" if found.spare is None else days if found.spare >= 0 else f"late by {days}"
    first = "; ".join(short(f"{i.subject}: {i.what}", LONG) for i in found.blocking[:SHOWN])
    more = len(found.blocking) - SHOWN
    blocks = first + (f"; and {more} more" if more > 0 else "") if first else "nothing"
    return found.what, when(found.on), when(found.ready), spare, blocks


def steps(found: tuple[WorkStep, ...], days: Calendar) -> str:
    """Steps and hold points in their order, with days, dates and what may slip."""
    rows = []
    for s in found:
        t = s.times
        if s.hold:
            rows.append((f"Hold point: {s.what}", "", when(days.last(t.finish)) if t else "–", "",
                         release(s)))
        elif t is not None:
            first, last = when(days.first(t.start)), when(days.last(t.finish))
            dates = "–" if days.start is None else first if first == last else f"{first} to {last}"
            takes = "no wait" if s.others and not s.days else day_words(s.days)
            rows.append((s.what, takes, dates, slip(t.slip), s.by or ("others" if s.others else "the crew")))
    return show.table(("Step", "Takes", "When", "May slip by", "By whom"), rows)


def release(s: WorkStep) -> str:
    """By whom a hold point is released, and where that is entered while it is not."""
    if s.released:
        return f"released by {s.by}"
    held = " or ".join(f"'{h}'" for h in BY_NAME[s.what].holds)
    return f"to be released by {s.by}" + ("" if s.tasks else f"; enter it in the closeout, before {held}")


def duty_words(found: tuple[Shared, ...]) -> str:
    orphans = [d for d in found if d.orphans]
    if not orphans:
        return f"Who furnishes, installs, terminates and tests: {len(found)} items, nobody missing"
    return f"Who furnishes, installs, terminates and tests: {len(orphans)} of {len(found)} items have nobody for a part"


def duty_table(found: tuple[Shared, ...]) -> str:
    """Who does what; what goes by custom is marked as assumed."""
    def cell(d: Shared, index: int, column: str) -> str:
        who = d.who[index]
        if who is None:
            return "–"
        return "nobody yet" if not who else f"{who} (assumed)" if column in d.assumed else who

    return show.table(("Item", "Amount", "Furnished by", "Installed by", "Terminated by", "Tested by"), [
        (d.item, d.quantity, *(cell(d, i, c) for i, c in enumerate(("furnished", "installed", "terminated", "tested"))))
        for d in found])


def entries() -> widgets.Widget:
    """Dates, own steps and duties, each table under its name."""
    session = here()
    return folds([
        ("The five dates", lambda: Table(session, "jobdate", ("what", "date", "remark"), name="Dates of the job").grid),
        ("Start of work and days off", lambda: Table(
            session, "workplan", ("label", "start", "week", "off"), name="Work plan",
            empty_hint="Press 'Add row' and enter the date on which work starts.").grid),
        ("Own steps and days", lambda: Table(
            session, "worktask", ("label", "days", "after", "before", "others", "by"), name="Steps of the work",
            empty_hint="Press 'Add row' for what the takeoff does not know: framing by the carpenter, Curing, "
                       "Floor finish, lead times.").grid),
        ("Who does what", lambda: Table(
            session, "duty", ("item", "furnished", "installed", "terminated", "tested"), name="Who does what",
            empty_hint="What custom says is assumed. Press 'Add row' and type an item as it stands in the list.").grid)])
