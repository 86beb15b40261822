"""The cables step: raceways, which way each line goes, how long it is, what the raceways hold."""

import ipywidgets as widgets

from stagefloor.entry import show
from stagefloor.entry.cables_changes import since, what_if
from stagefloor.entry.cables_joint import together
from stagefloor.entry.cables_mains import mains
from stagefloor.entry.cables_routes import fills, lines, policies
from stagefloor.entry.folds import folds
from stagefloor.entry.session import here
from stagefloor.entry.stage_plan import StagePlan
from stagefloor.entry.tables import Table

__all__ = ["fills", "lengths", "lines", "mains", "open_items", "plan", "raceways", "since", "together", "types", "what_if"]


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
        folds([("Which point feeds each box", lambda: Table(session, "box", ("label", "feed", "via"),
                                                            name="Which point feeds each box", readonly=("label",)).grid),
               ("Policies for raceways: growth, bends, longest pull", policies)]),
        show.view(session, fills, "raceways"))


def types() -> widgets.Widget:
    """Cable types, folded: they are entered once."""
    session = here()
    return folds([("Every cable type: diameter, gauge, limits, price, reel", lambda: Table(
        session, "cabletype", ("label", "what", "diameter", "awg", "resistance", "mass", "pull_limit", "rating", "price",
                               "price_for", "reel", "lines", "assembly", "head", "coupler", "lead", "source"),
        name="Cable types").grid)])


def lengths() -> widgets.Widget:
    """Every line with its length and the calculation at its own length; the tables behind it, folded."""
    session = here()
    return show.stack(show.view(session, lines, "lines"), folds([
        ("Lines and their labels", lambda: Table(session, "circuit", ("label", "what", "rack", "state"),
                                                 name="Lines and their labels", readonly=("what",)).grid),
        ("Loudspeaker lines: what hangs on each", lambda: Table(
            session, "circuit", ("label", "load_ohm", "load_line", "load_w"), name="Loads of loudspeaker lines",
            fixed={"what": "loudspeaker"}, empty_hint="No loudspeaker line yet. Until its load is entered 8 ohm is "
            "assumed.").grid),
        ("Cables: what each carries, its type, its length if measured", lambda: Table(
            session, "cable", ("label", "circuits", "type", "typed_length"), name="Cables").grid)]))



def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "cables")
