"""The closeout step: tests beside what is expected, as-built, hold points, documents, and the client's documents."""

from html import escape

import ipywidgets as widgets

from stagefloor.entry import show
from stagefloor.entry.documents import writer
from stagefloor.entry.session import here
from stagefloor.entry.tables import Table
from stagefloor.results import Results


def state() -> widgets.Widget:
    """How complete the handover is, computed."""
    return show.stack(show.style(), show.view(here(), complete, "complete"))


def complete(results: Results) -> str:
    """What is there, what is missing and from whom."""
    c = results.closeout
    rows = [(p.name, f"{p.done} of {p.of}") for p in c.parts if p.of]
    owed: dict[str, list[str]] = {}
    for n in c.missing:
        owed.setdefault(n.who, []).append(n.what)
    missing = "".join(show.folded(f"{who}: {len(what)} missing", "<ul>" + "".join(
        f"<li>{escape(w)}</li>" for w in what) + "</ul>") for who, what in owed.items())
    return "<h3>Handover</h3>" + show.figures([("there", f"{c.done} of {c.of}")]) + \
        show.table(("Part", "There"), rows, (1,)) + missing


def tests() -> widgets.Widget:
    """Readings, judged against limits from each line's own length."""
    session = here()
    grid = Table(session, "reading", ("circuit", "test", "result", "value", "instrument", "by", "date"),
                 name="Test readings", empty_hint="Press 'Add row', choose a line and a test, and type what was read.").grid
    return show.stack(grid, show.view(session, judged, "judged"))


def judged(results: Results) -> str:
    """Each last reading beside what was expected."""
    rows = [(j.line, j.test, "–" if j.measured is None else f"{j.measured:g} {j.unit}",
             "–" if j.expected is None else f"{j.expected:.2f} {j.unit}", j.outcome, j.sentence)
            for j in results.readings]
    if not rows:
        return show.paragraph("No reading yet.")
    bad = [j for j in results.readings if j.failing]
    lead = f"{len(rows)} readings, {len(bad)} outside what fits the line." if bad else \
        f"{len(rows)} readings; all fit their line."
    return show.paragraph(lead, "lead") + show.folded("Every reading", show.table(
        ("Line", "Test", "Measured", "Expected", "Outcome", "In words"), rows)) + show.workings(
        [j.working for j in results.readings if j.working], "Limits from each line's own length")


def as_built() -> widgets.Widget:
    """Where boxes really are."""
    return Table(here(), "asbuilt", ("box", "x", "y", "z", "modified", "note_text", "by", "date"), name="As built").grid


def handover() -> widgets.Widget:
    """Hold points, punch list, documents, revisions."""
    session = here()
    return show.stack(
        Table(session, "holdpoint", ("label", "when", "by", "date", "evidence"), name="Hold points").grid,
        Table(session, "punch", ("label", "owner", "due", "closed", "audience"), name="Punch list").grid,
        Table(session, "document", ("label", "owner", "received"), name="Documents due at handover").grid,
        Table(session, "revision", ("label", "date", "words"), name="Revisions of the document set").grid)


def documents() -> widgets.Widget:
    """Write the client's document set."""
    return writer(here(), "client", "Write the client's documents")


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "closeout")
