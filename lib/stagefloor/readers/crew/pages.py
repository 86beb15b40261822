"""The crew's pages, piece by piece, from the crew's file. Formats; computes nothing; knows no money and no hour."""

import os
from pathlib import Path

from stagefloor.drawings.classes import look_of
from stagefloor.drawings.face import face, rear
from stagefloor.drawings.labels import label_sheets as sheets_of
from stagefloor.drawings.line_diagram import line_diagrams
from stagefloor.drawings.route_plan import RoutePlan, route_plan
from stagefloor.drawings.section import RacewaySection, section
from stagefloor.drawings.svg import clean, render, swatch
from stagefloor.readers.crew.record import CrewFile, LabelSheetCard, PullSheetCard, TrimOutCard
from stagefloor.readers.html import Html, bullets, facts, folded, frame, paragraph, table
from stagefloor.readers.html import section as block
from stagefloor.readers.pictures import picture_groups

PAGE_FILE = "STAGEFLOOR_PAGE_FILE"


def open_file(path: Path | None = None) -> CrewFile:
    """The crew's file at `path`, or the one that the pages are made for."""
    return CrewFile.model_validate_json((path or Path(os.environ[PAGE_FILE])).read_bytes())


def before_you_start(file: CrewFile) -> Html:
    """Cautions, and words meant for the crew."""
    return Html(block("Before you start", bullets(file.cautions, "caution"))
                + block("Remarks", facts((r.about or "Remark", r.words) for r in file.remarks)))


def pull_sheets(file: CrewFile) -> Html:
    """One card for each raceway, in the order of work."""
    if not file.sheets:
        return Html(paragraph("Nothing is to pull yet."))
    return Html("".join(_sheet(s) for s in file.sheets))


def _sheet(sheet: PullSheetCard) -> str:
    rows = [(c.cable, c.carries, c.box_end, c.rack_end, c.type, c.length, c.reel) for c in sheet.cables]
    about = facts((("Pull", f"from {sheet.far} to {sheet.near}" if sheet.far else ""), ("Raceway", sheet.about),
                   ("In it already", sheet.already)))
    heads = ("Cable", "Carries", "Box end", "Rack end", "Type", "Cut length", "From reel")
    return (f'<article class="sheet"><h2>{clean(f"{sheet.number}. {sheet.name}")}</h2>{about}'
            + table("Pulled together, those of the farthest box first", heads, rows) + bullets(sheet.todo) + "</article>")


def cut_list(file: CrewFile) -> Html:
    """Which cable from which reel, longest first, and what is never cut."""
    parts = [block(c.label, paragraph(c.said), table("Cut in this order", ("Reel", "Where", "Cuts", "Left"), [
        (r.reel, r.where, r.cuts, r.left) for r in c.reels]), bullets(c.notes)) for c in file.cuts]
    ready = table("Never cut", ("Cable", "Assembly", "Length"), [(a.cable, a.type, a.length) for a in file.assemblies])
    return Html("".join(parts) + block("Ready-made assemblies", ready) or paragraph("Nothing is to cut yet."))


def label_sheets(file: CrewFile) -> Html:
    """Each label sheet at true size: on paper a page of its own size, without margins of ours."""
    if not file.label_sheets:
        return Html(paragraph("No label sheet is entered: the labels stand in the table below."))
    return Html("".join(_label_sheet(s, n) for n, s in enumerate(file.label_sheets)))


def _label_sheet(card: LabelSheetCard, number: int) -> str:
    pages = sheets_of(card.layout, card.marks, card.used, card.title)
    wide, high = f"{card.layout.page_width * 1000:g}mm", f"{card.layout.page_height * 1000:g}mm"
    empty = " ".join(f"@{place} {{ content: none; }}" for place in ("top-left", "top-right", "bottom-left", "bottom-right"))
    style = (f"<style>@page labels{number} {{ size: {wide} {high}; margin: 0; {empty} }}\n"
             f"@media print {{ .labels{number} {{ page: labels{number}; width: {wide}; height: {high}; overflow: hidden; "
             "break-before: page; margin: 0; } }</style>")
    drawn = "".join(f'<div class="frame labels{number}">{render(p, f"label{number}x{i}", true_size=True)}</div>'
                    for i, p in enumerate(pages))
    words = (f"{len(card.marks)} labels on {len(pages)} sheets of {wide} by {high}. Print at 100 %, without 'fit to page'; "
             "lay the first print over a label sheet against the light before you use one.")
    return f"{style}<h2>{clean(card.title)}</h2>{paragraph(words)}{drawn}"


def all_labels(file: CrewFile) -> Html:
    """Every label in a table."""
    rows = [(x.text, x.use, x.end, x.detail, x.kind, x.colour) for x in file.labels]
    return Html(block("Every label", folded(f"{len(rows)} labels", table(
        "Both ends of every cable, and every face", ("Label", "For", "At", "Leads to", "Kind", "Colour"), rows))))


def trim_outs(file: CrewFile) -> Html:
    """One card for each box: its face and its rear, what is in each place, who does what, parts, old outlets."""
    cards = "".join(_trim_out(t, n) for n, t in enumerate(file.trim_outs))
    return Html(cards or paragraph("No box or panel is planned yet."))


def _trim_out(card: TrimOutCard, number: int) -> str:
    about = facts((("Where", card.position), ("Model", card.model), ("Hinge", card.hinge), ("Cables leave", card.exit)))
    drawn = ""
    if card.face:
        drawn = ('<div style="display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,280px),1fr));gap:8px 24px;'
                 'break-inside:avoid">') + "".join(frame(d.title, render(d, f"{name}{number}"), "face")
                        for d, name in ((face(card.face), "front"), (rear(card.face), "rear"))) + "</div>"
    return (f'<article class="sheet"><h2>{clean(card.title)}</h2>{bullets(card.ask, "open")}{about}{drawn}'
            + table("Openings in order", ("Place", "Connector", "Panel part", "Label", "Line", "Cable"),
                    [(s.place, s.connector, s.panel_part, s.label, s.line, s.cable) for s in card.spots])
            + table("Who does what", ("Openings", "Connector", "Who", "On the bench", "In place", "Tool", "Hardware"),
                    [(t.openings, t.connector, t.who, t.bench, t.in_place, t.tool, t.hardware) for t in card.tasks])
            + table("Parts", ("Part", "Number"), [(p.part, str(p.number)) for p in card.parts])
            + (table("Old outlets gathered in here", ("Old outlet", "It is", "Its line"),
                     [(o.outlet, o.after, o.line) for o in card.old]) if card.old else "") + "</article>")


def routes(file: CrewFile) -> Html:
    """The route plan with its legend and the size of every raceway."""
    drawing = route_plan(file.routes)
    if drawing is None:
        return Html(block("Route plan", paragraph("No raceway is drawn yet.")))
    rows = [(run.label, c.signal_class, c.size, "there already" if c.there else "new", "out of use" if c.closed else "")
            for run in file.routes.runs for c in run.classes]
    return Html(block("Route plan", frame(drawing.title, render(drawing, "routeplan"), "plan"), _legend(file.routes),
                      table("Raceways", ("Run", "Class", "Size", "Existing", "Use"), rows)))


def _legend(record: RoutePlan) -> str:
    items = "".join(f"<li>{swatch(look_of(c), f'routekey{i}')}<span>{clean(c)}</span></li>"
                    for i, c in enumerate(record.classes()))
    feed = f"<li>{swatch('feed', 'routefeed')}<span>from a box to what feeds it</span></li>" if record.feeds else ""
    return f'<ul class="legend">{items}{feed}</ul>'


def diagram(file: CrewFile) -> Html:
    """The line diagram, sheet by sheet."""
    sheets = line_diagrams(file.diagram)
    return Html(block("Line diagram", "".join(f"<h3>{clean(s.title)}</h3>" + frame(s.title, render(s, f"diagram{i}"), "plan")
                                              for i, s in enumerate(sheets)) or paragraph("No line yet.")))


def sections(file: CrewFile) -> Html:
    """The raceway sections, all at one scale."""
    said = paragraph("All at one scale. Cables lie as they fall; in the raceway they will lie otherwise.")
    drawn = "".join(_section(s, i) for i, s in enumerate(file.sections))
    return Html(block("Raceway sections", said, f'<div class="sections">{drawn}</div>') if drawn else "")


def _section(record: RacewaySection, number: int) -> str:
    listed = ", ".join(f"{i} {c.label}" for i, c in enumerate(record.cables, 1))
    return (f'<figure><figcaption>{clean(record.title)}</figcaption>{render(section(record), f"section{number}")}'
            f"{paragraph(listed)}</figure>")


def pictures(file: CrewFile) -> Html:
    """The pictures that were chosen for the crew, below their box."""
    return Html(picture_groups(file.pictures))
