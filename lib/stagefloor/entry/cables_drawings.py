"""The drawings of the cables step: route plan, line diagram, raceway sections. They follow the job."""

from html import escape

import ipywidgets as widgets

from stagefloor.drawings.classes import look_of
from stagefloor.drawings.line_diagram import line_diagrams
from stagefloor.drawings.route_plan import RoutePlan, route_plan
from stagefloor.drawings.section import RacewaySection, section
from stagefloor.drawings.svg import render, swatch
from stagefloor.entry import show
from stagefloor.entry.session import here
from stagefloor.results import Results
from stagefloor.results.cable_drawings import line_diagram_record, route_plan_record, section_records

WIDE = 820  # pixels below which a drawing is not shrunk: it scrolls in its own frame


def drawings() -> widgets.Widget:
    """Route plan, line diagram and sections."""
    session = here()
    return show.stack(show.view(session, routes, "routes"), show.view(session, diagram, "line-diagram"),
                      show.view(session, sections, "sections"))


def framed(svg: str, least: int = WIDE) -> str:
    """A drawing that keeps its size on a narrow screen and scrolls there."""
    return f'<div class="wide"><div style="min-width:{least}px">{svg}</div></div>'


def routes(results: Results) -> str:
    """The route plan, its legend, and each run with kind and size."""
    record = route_plan_record(results)
    drawing = route_plan(record)
    if drawing is None:
        return "<h3>Route plan</h3>" + show.paragraph("No raceway is drawn yet.")
    rows = [(run.label, c.signal_class, c.size or "–", "there already" if c.there else "new",
             "out of use" if c.closed else "") for run in record.runs for c in run.classes]
    return ("<h3>Route plan</h3>" + framed(render(drawing, "routeplan")) + _legend(record)
            + show.folded("Every raceway on it", show.table(("Run", "Class", "Kind and size", "Existing", "Use"), rows)))


def _legend(record: RoutePlan) -> str:
    parts = [(look_of(c), c) for c in record.classes()]
    parts += [("feed", "from a box to what feeds it")] if record.feeds else []
    return '<p class="quiet">' + " &nbsp; ".join(
        f"{swatch(role, f'routekey{i}')} {escape(words)}" for i, (role, words) in enumerate(parts)) + "</p>"


def diagram(results: Results) -> str:
    """The line diagram, a folded sheet for some boxes each."""
    sheets = line_diagrams(line_diagram_record(results))
    if not sheets:
        return "<h3>Line diagram</h3>" + show.paragraph("No line yet.")
    return "<h3>Line diagram</h3>" + "".join(show.folded(s.title, framed(render(s, f"diagram{i}")))
                                             for i, s in enumerate(sheets))


def sections(results: Results) -> str:
    """The sections, all at one scale, with what each number stands for."""
    records = section_records(results)
    if not records:
        return "<h3>Raceway sections</h3>" + show.paragraph("No raceway of a known inside holds a cable yet.")
    body = "".join(_section(r, i) for i, r in enumerate(records))
    return "<h3>Raceway sections</h3>" + show.paragraph(
        "All at one scale. Cables lie as they fall, thickest first; in the raceway they will lie otherwise.") + show.folded(
        f"{len(records)} sections", f'<div class="sections">{body}</div>')


def _section(record: RacewaySection, number: int) -> str:
    drawing = section(record)
    listed = ", ".join(f"{i} {c.label}" for i, c in enumerate(record.cables, 1))
    return (f'<figure><figcaption><b>{escape(record.title)}</b></figcaption>{render(drawing, f"section{number}")}'
            + show.folded("Which is which", show.paragraph(listed)) + "</figure>")
