"""The cables step: raceways, which way each line goes, how long it is, what the raceways hold."""

import ipywidgets as widgets

from stagefloor.core.units import area_text, length_text, long_length_text
from stagefloor.entry import show
from stagefloor.entry.session import here
from stagefloor.entry.stage_plan import StagePlan
from stagefloor.entry.tables import Table
from stagefloor.results import Results
from stagefloor.steps.cables import cable_totals, total_working


def plan() -> widgets.Widget:
    """The stage with raceways."""
    return show.stack(show.style(), StagePlan(here(), "Raceways on the stage", ways=True).plan)


def raceways() -> widgets.Widget:
    """Nodes and raceways."""
    session = here()
    return show.stack(
        Table(session, "node", ("label", "what", "x", "y", "z"), name="Rack, pull points and ends",
              empty_hint="Without raceways a typical path gives rough lengths. Press 'Add row' for the first point.").grid,
        Table(session, "segment", ("label", "start", "end", "signal_class", "way", "size", "size_source", "existing",
                                   "used_percent", "string", "typed_length", "bends", "seal",
                                   "barrier", "blocked"),
              name="Raceways and free paths").grid,
        show.view(session, fills, "raceways"))


def fills(results: Results) -> str:
    """What each raceway holds, and the smallest size now and with growth."""
    display = results.job.settings.units
    rows = [(r.segment.name, r.segment.signal_class, long_length_text(r.metres, display) if r.metres else "–",
             len(r.diameters), area_text(r.area, display), r.size_now or "–", r.size_grown or "–", r.size or "–",
             r.fill.result.text() if r.fill else r.problem or "–") for r in results.raceways if r.diameters]
    if not rows:
        return show.paragraph("No raceway carries a cable yet: lengths are rough, along a typical path.")
    growth = results.job.settings.growth_percent or 0
    return "<h3>What the raceways hold</h3>" + show.table(
        ("Raceway", "Class", "Length", "Cables", "Cable area", "Size now", f"Size with {growth:g} % growth", "Taken",
         "Filled"), rows, (2, 3, 4, 5, 6, 7, 8)) + show.workings([r.fill for r in results.raceways if r.fill])


def types() -> widgets.Widget:
    """Cable types."""
    return Table(here(), "cabletype", ("label", "what", "diameter", "awg", "resistance", "price", "reel", "lines",
                                       "assembly", "lead", "source"),
                 name="Cable types").grid


def lengths() -> widgets.Widget:
    """Every line with its length and the calculation at its own length."""
    session = here()
    return show.stack(show.view(session, lines, "lines"),
                      Table(session, "circuit", ("label", "what", "rack", "state"), name="Lines and their labels",
                            readonly=("what",)).grid,
                      Table(session, "cable", ("label", "circuits", "type", "typed_length"), name="Cables").grid)


def lines(results: Results) -> str:
    """Totals by kind, then each line."""
    display = results.job.settings.units
    found = list(results.lines)
    if not found:
        return show.paragraph("No line yet: boxes that serve points make them.")
    totals = cable_totals(found)
    rough = any(line.way.rough for line in found)
    known = [line for line in found if line.metres > 0]
    if not known:
        return "<h3>Lines</h3>" + show.figures([("lines", str(len(found))), ("cable", "not known yet")]) + show.paragraph(
            "Enter the way to the rack, or its place, in the job sheet: lengths follow.")
    figures = [(f"cable in all{', rough' if rough else ''}", long_length_text(sum(totals.values()), display)),
               ("lines", str(len(found)))]
    shortest, longest = min(known, key=lambda x: x.metres), max(known, key=lambda x: x.metres)
    figures += [(f"shortest, {shortest.circuit.label}", length_text(shortest.metres, display)),
                (f"longest, {longest.circuit.label}", length_text(longest.metres, display))]
    rows = [(line.circuit.label, line.circuit.what, line.box.label, line.type.label if line.type else "–",
             length_text(line.metres, display) + (" typed" if line.typed else " rough" if line.way.rough else ""),
             line.check.result.text() if line.check else "–",
             {True: "kept", False: "missed", None: "–"}[line.check.holds if line.check else None]) for line in found]
    by_kind = show.table(("Kind", "Cable"), [(k, long_length_text(v, display)) for k, v in totals.items()], (1,))
    ways = {(line.box.id, line.signal_class): line.way.working(line.circuit.label, display) for line in found}
    return ("<h3>Lines</h3>" + show.figures(figures) + by_kind + show.folded("Every line", show.table(
        ("Line", "Kind", "Box", "Cable", "Length", "At this length", "Limit"), rows, (4, 5)))
        + show.workings([total_working(totals, display), *ways.values()])
        + show.workings([line.check for line in found if line.check], "Each line at its own length"))


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "cables")
