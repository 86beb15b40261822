"""The labour and price step: hours with their spread, costs, and the price as the client may see it. For the office."""

import ipywidgets as widgets

from stagefloor.entry import charts, show
from stagefloor.entry.session import here
from stagefloor.entry.tables import Table
from stagefloor.results import Results


def price() -> widgets.Widget:
    """The result: hours, price, what is not priced."""
    return show.stack(show.style(), show.view(here(), summary, "price"))


def summary(results: Results) -> str:
    """Hours in words, price by section, what is missing."""
    e = results.estimate
    if not e.tasks and e.selling is None:
        return show.paragraph("Enter hours for tasks and prices below: what they come to appears here.")
    figures = [("likely", f"{e.likely_hours.result.amount:.0f} h"), ("cautious", f"{e.cautious_hours.result.amount:.0f} h")]
    if e.selling:
        figures.append(("price", f"{e.selling.currency} {e.selling.total:,.2f}"))
    parts = ["<h3>Hours and price</h3>", show.figures(figures)]
    if e.unpriced:
        parts.append(show.paragraph(f"{len(e.unpriced)} of {e.counted} unpriced: "
                                    + ", ".join(f"{u.quantity} ({u.missing})" for u in e.unpriced)))
    parts += [show.paragraph(n) for n in e.notes]
    rows = [(s.section, f"{s.material:,.2f}", f"{s.labour:,.2f}", f"{s.contingency_material + s.contingency_labour:,.2f}",
             f"{s.markup_material + s.markup_labour:,.2f}", f"{s.selling:,.2f}") for s in e.sections]
    parts.append(show.table(("Section", "Material", "Labour", "Contingency", "Markup", "Price"), rows, (1, 2, 3, 4, 5)))
    if e.risks:
        parts.append(show.table(("Named risk", "Chance", "Expected cost, not in the price"),
                                [(r.label, f"{r.chance:g} %", f"{r.expected:,.2f}") for r in e.risks], (1, 2)))
    parts.append(show.workings([e.likely_hours, e.cautious_hours, *e.build_up, *e.totals]))
    parts.append(show.workings([t.working for t in e.tasks], "Every task"))
    parts.append(show.workings([m.working for m in e.materials] + [w.working for w in e.labour], "Every cost line"))
    return "".join(parts)


def chart() -> widgets.Widget:
    """Hours by task."""
    return charts.hours_by_task(here())


def takeoff() -> widgets.Widget:
    """The quantities that hours and prices count by."""
    return show.view(here(), lambda results: show.folded("Quantities of the takeoff", show.table(
        ("Quantity", "Amount"), [(k, f"{v:,.1f}".rstrip("0").rstrip(".")) for k, v in results.quantities.items()], (1,))),
        "takeoff")


def terms() -> widgets.Widget:
    """Rate, markup, contingency, tax."""
    return Table(here(), "pricing", ("label", "rate", "material_markup", "labour_markup", "contingency", "tax",
                                     "show_sections", "remark"), name="Pricing",
                 empty_hint="Press 'Add row' and enter your labour cost an hour and your markups.").grid


def hours() -> widgets.Widget:
    """Hours for a task."""
    return Table(here(), "hourunit", ("task", "quantity", "per", "low", "likely", "high", "section", "source"),
                 name="Hours for a task").grid


def prices() -> widgets.Widget:
    """Buying prices."""
    return Table(here(), "pricerow", ("item", "quantity", "per", "cost", "section", "supplier"),
                 name="Buying prices").grid


def risks() -> widgets.Widget:
    """Named risks."""
    return Table(here(), "risk", ("label", "chance", "hours", "cost", "remark"), name="Named risks").grid


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "labour")
