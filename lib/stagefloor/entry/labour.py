"""The labour and price step: hours with their spread, costs, and the price as the client may see it. For the office."""

from html import escape

import ipywidgets as widgets

from stagefloor.core.units import long_length_text
from stagefloor.entry import charts, show
from stagefloor.entry.folds import folds
from stagefloor.entry.session import here
from stagefloor.entry.tables import Form, FormLine, Table
from stagefloor.job import edit
from stagefloor.job.fields import extra_of
from stagefloor.job.labour import Pricing
from stagefloor.job.model import Job
from stagefloor.job.typed import cell_text
from stagefloor.results import Results
from stagefloor.steps.labour import Estimate, price_page
from stagefloor.steps.labour.conditions import defaults as known_conditions
from stagefloor.steps.labour.price_page import PageLine
from stagefloor.steps.labour.quantities import is_length
from stagefloor.steps.labour.risk import share_words
from stagefloor.steps.labour.words import share

PRICING = ("rate", "material_markup", "labour_markup", "contingency_by", "contingency", "waste", "price_low", "price_high",
           "hours_a_day", "tax", "tax_on", "exempt", "exempt_paper", "show_sections", "retainage", "later", "learning",
           "remark")
NAMED = 3  # quantities or drivers that stand in a sentence; the rest is folded


def price() -> widgets.Widget:
    """The result: days, price, what is not priced, what drives the risk."""
    return show.stack(show.style(), show.view(here(), summary, "price"))


def summary(results: Results) -> str:
    """One sentence first, then the few figures, the rest folded."""
    e = results.estimate
    if not e.tasks and e.selling is None:
        return show.paragraph("Enter hours for tasks and prices below: what they come to appears here.")
    figures = [("likely", f"{e.likely_hours.result.amount:.0f} h"), ("cautious", f"{e.cautious_hours.result.amount:.0f} h")]
    if e.selling:
        figures.append(("price", f"{e.selling.currency} {e.selling.total:,.2f}"))
    parts = ["<h3>Hours and price</h3>", show.paragraph(lead(e), "lead"), show.figures(figures)]
    parts += [show.paragraph(n) for n in e.notes]
    if len(e.unpriced) > NAMED:
        parts.append(show.folded(f"All {len(e.unpriced)} that are unpriced", show.table(
            ("Quantity", "What is missing"), [(u.quantity, u.missing) for u in e.unpriced])))
    rows = [(s.section, f"{s.material + s.tax_material:,.2f}", f"{s.labour:,.2f}",
             f"{s.contingency_material + s.contingency_labour:,.2f}", f"{s.markup_material + s.markup_labour:,.2f}",
             f"{s.selling:,.2f}") for s in e.sections]
    if rows:
        parts.append(show.table(("Section", "Material", "Labour", "Contingency", "Markup", "Price"), rows, (1, 2, 3, 4, 5)))
    parts.append(show.folded("What the cautious figure rests on", risk(e)))
    parts.append(show.folded("The price on one page, from quantities to total", page(results)))
    parts.append(show.workings([e.likely_hours, e.cautious_hours, e.crew.days, *([e.crew.working] if e.crew.working else []),
                                *e.build_up, *e.totals, *(s.working for s in e.sections)]))
    parts.append(show.workings([t.working for t in e.tasks], "Every task"))
    parts.append(show.workings([m.working for m in e.materials] + [w.working for w in e.labour], "Every cost line"))
    return "".join(parts)


def lead(e: Estimate) -> str:
    """Days, price, what is unpriced, what drives the risk, as one would say it."""
    people = f"{e.crew.people} people" if e.crew.people != 1 else "1 person"
    words = []
    if e.tasks:
        words.append(f"{e.days[0].upper()}{e.days[1:]} for {people}{' (assumed)' if e.crew.assumed else ''}.")
    if e.selling:
        words.append(f"{e.selling.currency} {e.selling.total:,.2f}" + (
            f", tax of {e.selling.tax:,.2f} included." if e.selling.tax else "."))
    if e.unpriced:
        first = ", ".join(f"{u.quantity} ({u.missing})" for u in e.unpriced[:NAMED])
        more = " and more." if len(e.unpriced) > NAMED else "."
        words.append(f"{len(e.unpriced)} of {e.counted} unpriced: {first}{more}")
    elif e.counted:
        words.append("All that was counted is priced.")
    moving = [f"'{n.removeprefix('Risk: ')}'" for n, s in e.drawn.hours.shares[:NAMED] if s > 0]
    if moving:
        words.append(f"What may move it most: {', '.join(moving)}.")
    return " ".join(words)


def risk(e: Estimate) -> str:
    """Likely and cautious in words, then P50 and P80 with their errors, drivers, named risks, contingency."""
    h, m = e.drawn.hours, e.drawn.money
    rows = [("Hours", f"{h.median:.0f} h", f"{h.cautious:.0f} h", f"{h.cautious_error:.2f} h")]
    if e.sections:
        rows.append(("Cost", f"{m.median:,.0f}", f"{m.cautious:,.0f}", f"{m.cautious_error:,.2f}"))
    parts = [show.paragraph(share_words() + " The named risks are in it, each with its chance."),
             show.table(("", "P50", "P80", "Standard error of P80"), rows, (1, 2, 3)),
             show.table(("What moves the hours", "Share of the spread"),
                        [(v.name, share(v.amount / 100)) for v in e.drivers.inputs], (1,)),
             show.table(("Cause that several tasks share", "Goes with it"),
                        [(n, share(s)) for n, s in h.causes], (1,))]
    if e.sections:
        k = e.cautious_cost
        parts.append(show.paragraph(f"A contingency of {k.result.amount:,.0f} would cover it: P80 of the cost less the "
                                    f"base, {k.also[-1].text()} of it."))
    if e.risks:
        parts.append(show.table(
            ("Named risk", "Chance", "Expected cost, not in the price", "Unit price in the offer"),
            [(r.label, f"{r.chance:g} %", f"{r.expected:,.2f}", "–" if r.unit_price is None else f"{r.unit_price:,.2f}")
             for r in e.risks], (1, 2, 3)))
    return "".join(parts) + show.workings([e.drivers, *([e.cautious_cost] if e.sections else []),
                                           *(r.working for r in e.risks)])


def page(results: Results) -> str:
    """The price on one page: each line with its quantity and working, each sum from the lines above it."""
    found = price_page(results.estimate)
    if found is None:
        return show.paragraph("Nothing has a price yet.")
    feet = results.job.settings.units == "ft-in"
    parts = [show.paragraph(found.rule)]
    for section in found.sections:
        rows = [(opened(line), counted_by(line.quantity), amount(line.amount, line.quantity, feet), line.becomes or (
                     "as counted" if line.bought == line.amount else
                     f"{amount(line.bought or 0, line.quantity, feet)} with waste"), f"{line.cost:,.2f}")
                for line in section.lines]
        rows += [("", "", "", name, f"{sum_:,.2f}") for name, sum_ in section.steps]
        rows.append(("", "", "", f"{section.name} in all", f"{section.price:,.2f}"))
        parts.append(show.table((section.name, "Counted by", "Amount", "Becomes", "Money"), rows, (2, 4), raw=(0,)))
    sums = [(s.name, f"{s.price:,.2f}") for s in found.sections] + [("Price before tax", f"{found.price:,.2f}")]
    if found.tax is not None:
        sums.append(("Tax", f"{found.tax:,.2f}"))
    return "".join(parts) + show.table(("From sections to total", "Money"), [*sums, ("Total", f"{found.total:,.2f}")], (1,))


def opened(line: PageLine) -> str:
    """The line's name, that opens its working."""
    rest = line.working.as_html().partition("</summary>")[2]
    return f'<details class="sf-working"><summary>{escape(line.what)}</summary>{rest}'


def counted_by(quantity: str) -> str:
    words = quantity.replace(" m:", ":").removesuffix(" m")  # lengths are shown in the job's unit
    return f"{words[:-1]}, all but mains" if words.endswith(":") else words


def amount(value: float, quantity: str, feet: bool) -> str:
    """An amount of a quantity in the job's units."""
    if is_length(quantity):
        return long_length_text(value, "ft-in" if feet else "m")
    return f"{value:,.2f}".rstrip("0").rstrip(".")


def chart() -> widgets.Widget:
    """Hours by task."""
    return charts.hours_by_task(here())


def takeoff() -> widgets.Widget:
    """The quantities that hours and prices count by."""
    session = here()
    return show.view(session, lambda results: show.table(
        ("Quantity", "Amount"), [(k, amount(v, k, results.job.settings.units == "ft-in"))
                                 for k, v in results.quantities.items()], (1,)), "takeoff")


def terms() -> widgets.Widget:
    """Rate, markup, contingency, tax: one line each, since a job has one pricing."""
    return Form(here(), [pricing_line(f) for f in PRICING], "Rate, markup, contingency, tax").grid


def pricing_line(name: str) -> FormLine:
    """A line for one field of the job's pricing; the record is made when the first value is typed."""
    info = Pricing.model_fields[name]
    choices = [c for c in extra_of(info, "choices") or [] if c]
    unit = extra_of(info, "unit") or ""
    hint = " ".join(x for x in (info.description or "", f"({' / '.join(choices)})" if choices else "") if x)

    def read(job: Job) -> tuple[str, bool]:
        found = job.pricing()
        value = getattr(found, name)
        return cell_text(job, found, name), name not in found.model_fields_set and value not in (None, "", False)

    def write(job: Job, text: str) -> Job:
        if not job.all(Pricing):
            job = edit.add(job, "pricing", [{}])[0]
        return edit.set_fields(job, "pricing", job.pricing().id, {name: text})

    return FormLine(name, f"{info.title}{f', {unit}' if unit else ''}", hint, read, write)


def crew() -> widgets.Widget:
    """Who works, and the burdens on a wage."""
    session = here()
    return show.stack(
        Table(session, "crewrole", ("label", "people", "wage"), name="Crew",
              empty_hint="Two people are assumed. Press 'Add row' and enter who works and at what wage.").grid,
        Table(session, "burden", ("label", "percent", "source"), name="Burdens on the wage").grid)


def conditions() -> widgets.Widget:
    """What makes this job slower."""
    session = here()
    told = show.table(("Condition", "What it means", "Concerns"), [(k, words, work) for k, (work, words) in
                                                                 known_conditions().items()])
    return show.stack(Table(session, "condition", ("what", "work", "quantity", "low", "likely", "high", "remark"),
                            name="Working conditions",
                            empty_hint="Nothing slows this job down. Press 'Add row' and choose a condition.").grid,
                      show.Html(session, f'<div class="sf">{show.folded("What each condition means", told)}</div>'))


def hours() -> widgets.Widget:
    """Hours for a task."""
    return Table(here(), "hourunit", ("task", "quantity", "per", "low", "likely", "high", "section", "learning", "source"),
                 name="Hours for a task").grid


def by_hand() -> widgets.Widget:
    """Amounts that no drawing shows."""
    return Table(here(), "byhand", ("quantity", "amount", "remark"), name="Amounts by hand",
                 empty_hint="Press 'Add row' for trips, surveys, cores, training: what no drawing shows.").grid


def prices() -> widgets.Widget:
    """Buying prices."""
    columns = ("item", "quantity", "per", "cost", "waste", "low", "high", "section", "besides", "supplier", "lead")
    return Table(here(), "pricerow", columns, name="Buying prices").grid


def risks() -> widgets.Widget:
    """Named risks."""
    return Table(here(), "risk", ("label", "chance", "hours", "cost", "low", "likely", "high", "unit_price", "remark"),
                 name="Named risks").grid


def shown() -> widgets.Widget:
    """The chart of hours and the quantities, folded."""
    return folds([("Hours by task, drawn", chart), ("Quantities of the takeoff", takeoff)])


def entries() -> widgets.Widget:
    """Everything that is entered for hours and prices, each table under its name."""
    return folds([("Rate, markup, contingency, tax", terms), ("Crew and burdens", crew),
                  ("Conditions of this job", conditions), ("Hours for a task", hours),
                  ("Amounts that no drawing shows", by_hand), ("Buying prices", prices),
                  ("Named risks", risks)])


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "labour")
