"""The closeout step: tests beside what is expected, as-built, hold points, documents, and the client's documents."""

from datetime import date
from html import escape

import ipywidgets as widgets

from stagefloor.drawings.plan import plan
from stagefloor.drawings.svg import render
from stagefloor.entry import after, line_tests, show
from stagefloor.entry.documents import writer
from stagefloor.entry.folds import folds
from stagefloor.entry.session import Session, here
from stagefloor.entry.tables import Table
from stagefloor.job.closeout import Document
from stagefloor.job.edit import add
from stagefloor.results import Results
from stagefloor.results.scenes import built_scene
from stagefloor.steps import closeout


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
    return "<h3>Handover</h3>" + show.figures([("there, of what is due", f"{c.done} of {c.of}")]) + \
        show.table(("Part", "There"), rows, (1,)) + missing


def tests() -> widgets.Widget:
    """Readings in bulk, judged against limits from each line's own length."""
    session = here()
    return show.stack(line_tests.bulk(session), show.view(session, line_tests.judged, "judged"), line_tests.single(session))


def tester_file() -> widgets.Widget:
    """Readings from a tester's file."""
    return line_tests.TesterFileView(here()).view


def as_built() -> widgets.Widget:
    """Where boxes really are, what else is not as planned, and the fit at the places as built."""
    session = here()
    grid = Table(session, "asbuilt", ("box", "x", "y", "z", "trimmed", "model", "feed", "connector", "note_text", "photo",
                                      "by", "date"), name="As built",
                 empty_hint="Press 'Add row', choose a box, and type where it was measured from the origin.",
                 pictures=True).grid
    lengths = Table(session, "cable", ("label", "typed_length"), name="Lengths measured on the cable",
                    readonly=("label",)).grid
    return show.stack(grid, show.view(session, built, "built"),
                      widgets.Accordion([lengths], titles=("Lengths measured on the cable",), selected_index=None))


def built(results: Results) -> str:
    """The plan as built, what was built otherwise, what the fit rules say of it."""
    job = results.job
    found = closeout.as_built(job)
    known = [d for d in found if d.measured]
    if not known:
        return show.paragraph("No box is measured yet.")
    moved = [d for d in known if d.beyond]
    lead = f"Boxes measured: {len(known)} of {len(found)}; {len(moved)} of them more than the tolerance from the plan."
    drawing = plan(built_scene(job))
    shown = f'<div class="wide">{render(drawing, "liveasbuilt")}</div>' if drawing else ""
    rows = [(c.date or "no date", c.subject, c.what, c.planned, c.built, c.by, c.note)
            for c in closeout.changes(job, results.lines)]
    log = show.table(("Date", "Subject", "What", "Planned", "Built", "By", "Why"), rows) if rows else \
        show.paragraph("Nothing was built otherwise than planned.")
    again = [i for i in results.items_of("closeout") if i.code.startswith("built-") and i.code != "built-elsewhere"]
    fit = "<h3>The fit at the places as built</h3>" + show.items(again) if again else ""
    workings = [d.working for d in known if d.working] + [b.working for b in closeout.built_lengths(results.lines)]
    return (show.paragraph(lead, "lead")
            + show.folded("The stage as built; a dashed outline is where a box was planned", shown)
            + "<h3>Change log</h3>" + log + fit + show.workings(workings, "Shifts and lengths"))


def handover() -> widgets.Widget:
    """Hold points and punch list; documents, spares, training, warranties and revisions folded."""
    session = here()
    return show.stack(
        Table(session, "holdpoint", ("label", "when", "by", "date", "evidence", "photo"), name="Hold points",
              pictures=True).grid,
        Table(session, "punch", ("label", "about", "owner", "due", "closed", "closed_by", "photo", "audience"),
              name="Punch list", pictures=True,
              marked=lambda job: {p.id: {"due": "overdue"} for p in closeout.overdue(job, date.today())}).grid,
        show.view(session, late, "late"),
        folds([
            ("Documents due at handover", lambda: show.stack(_usual_documents(session), Table(
                session, "document", ("label", "owner", "received"), name="Documents due at handover").grid)),
            ("Spares, tools and keys", lambda: Table(
                session, "spare", ("label", "quantity", "owner", "given_to", "date"), name="Spares, tools and keys").grid),
            ("Training", lambda: Table(session, "training", ("label", "who", "owner", "date"), name="Training").grid),
            ("Warranties", lambda: show.stack(
                Table(session, "warranty", ("label", "starts", "date", "months", "contact"), name="Warranties").grid,
                show.view(session, warranties, "warranties"))),
            ("Revisions of the document set", lambda: Table(
                session, "revision", ("label", "date", "words"), name="Revisions of the document set").grid)]))


def late(results: Results) -> str:
    """What is open past its date, the longest first."""
    found = closeout.overdue(results.job, date.today())
    return show.paragraph("Overdue: " + "; ".join(
        f"{p.name}, {p.owner or 'nobody named yet'}, was due {p.due}" for p in found) + ".") if found else ""


def _usual_documents(session: Session) -> widgets.Widget:
    """A button that lists the papers that are usually due and not listed yet."""
    button = widgets.Button(description="List the usual papers", layout=widgets.Layout(width="auto"),
                            tooltip="adds those that are not listed yet; delete what this contract does not ask for")

    def put(_: object) -> None:
        there = {d.label.lower() for d in session.job.all(Document)}
        new = [d for d in closeout.default_documents() if d["label"].lower() not in there]
        if new:
            session.edit("Usual papers listed", lambda j: add(j, Document.kind, new)[0])

    button.on_click(put)
    return button


def warranties(results: Results) -> str:
    """From when to when each warranty runs."""
    terms = closeout.warranty_terms(results.job)
    return "<ul>" + "".join(f"<li>{escape(t.sentence)}</li>" for t in terms) + "</ul>" if terms else ""


def service() -> widgets.Widget:
    """What a label leads to."""
    return after.service(here())


def outage() -> widgets.Widget:
    """What runs while something is out of service."""
    return after.outage(here())


def documents() -> widgets.Widget:
    """Write the client's document set."""
    return writer(here(), "client", "Write the client's documents")


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "closeout")
