"""The cables step: raceways, which way each line goes, how long it is, what the raceways hold."""

import asyncio
from html import escape

import ipywidgets as widgets

from stagefloor.core.units import length_text, long_length_text
from stagefloor.entry import show
from stagefloor.entry.cables_changes import since, what_if
from stagefloor.entry.cables_mains import mains
from stagefloor.entry.cables_routes import fills, lines, policies
from stagefloor.entry.session import here
from stagefloor.entry.stage_plan import StagePlan
from stagefloor.entry.tables import Table
from stagefloor.steps.reels import ReelPlan, reel_plan

__all__ = ["fills", "lengths", "lines", "mains", "open_items", "plan", "raceways", "reels", "since", "types", "what_if"]


def plan() -> widgets.Widget:
    """The stage with raceways."""
    return show.stack(show.style(), StagePlan(here(), "Raceways on the stage", ways=True).plan)


def raceways() -> widgets.Widget:
    """Nodes and raceways."""
    session = here()
    return show.stack(
        Table(session, "node", ("label", "what", "x", "y", "z"), name="Rack, pull points and ends",
              empty_hint="Without raceways a typical path gives rough lengths. Press 'Add row' for the first point.").grid,
        Table(session, "segment", ("label", "start", "end", "signal_class", "way", "size", "compartment", "size_source",
                                   "existing", "used_percent", "string", "typed_length", "bends", "other_bends", "space",
                                   "wall", "seal", "barrier", "supports", "full", "blocked"),
              name="Raceways and free paths").grid,
        policies(),
        show.view(session, fills, "raceways"))


def types() -> widgets.Widget:
    """Cable types."""
    return Table(here(), "cabletype", ("label", "what", "diameter", "awg", "resistance", "mass", "pull_limit", "rating",
                                       "price", "reel", "lines", "assembly", "head", "coupler", "source"),
                 name="Cable types").grid


def lengths() -> widgets.Widget:
    """Every line with its length and the calculation at its own length."""
    session = here()
    return show.stack(show.view(session, lines, "lines"),
                      Table(session, "circuit", ("label", "what", "rack", "state"), name="Lines and their labels",
                            readonly=("what",)).grid,
                      Table(session, "cable", ("label", "circuits", "type", "typed_length"), name="Cables").grid)


def reels() -> widgets.Widget:
    """Which cable is cut from which reel, worked out when asked."""
    session = here()
    button = widgets.Button(description="Work out the reels", layout=widgets.Layout(width="auto"))
    button.add_class("sf-reels-start")
    said = widgets.HTML(layout=widgets.Layout(width="100%"))
    said.add_class("sf-reels")

    async def work() -> None:
        button.disabled, said.value = True, "Working it out ..."
        job, known = session.job, list(session.results().lines)
        try:
            plans = await asyncio.to_thread(reel_plan, job, known)
            said.value = f'<div class="sf">{"".join(cut_list(p, job.settings.units) for p in plans)}</div>'
        finally:
            button.disabled = False

    button.on_click(lambda _: session.start(work()))
    return show.stack(button, said)


def cut_list(found: ReelPlan, display: str) -> str:
    """The cut list of one cable type: which piece from which reel, longest first, and what is left."""
    if found.plan is None:
        return f"<h3>{escape(found.label)}</h3>" + show.paragraph(found.problem)
    names = dict(found.names)
    rows = [(f"{r.name} {r.number}", ", ".join(f"{names.get(i, i)} {length_text(m, display)}" for i, m in r.cuts),
             long_length_text(r.left, display)) for r in found.plan.reels]
    uncut = f"Not cut: {', '.join(names.get(i, i) for i in found.plan.uncut)}." if found.plan.uncut else ""
    return (f"<h3>{escape(found.label)}</h3>" + "".join(show.paragraph(p) for p in (*found.plan.problems, uncut) if p)
            + show.workings([found.working] if found.working else [], f"{len(rows)} reels for {found.cables} cables")
            + show.table(("Reel", "Cut in this order", "Left"), rows, (2,)))


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "cables")
