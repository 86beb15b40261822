"""The inventory step: events, connection points by grid, plan and pack, and the need they add up to."""

from html import escape

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import charts, show
from stagefloor.entry.session import here
from stagefloor.entry.stage_plan import StagePlan
from stagefloor.entry.tables import Table
from stagefloor.job import edit
from stagefloor.job.inventory import KINDS, Event, kind_name
from stagefloor.results import Results
from stagefloor.steps.inventory import shares
from stagefloor.steps.starter import pack_rows, packs


def events() -> widgets.Widget:
    """Kinds of event."""
    return show.stack(show.style(), Table(here(), "event", ("label", "per_year", "together", "remark"), name="Events",
                                          empty_hint="Press 'Add row' and type the first kind of event, "
                                                     "such as Sunday service or Musical.").grid)


def points() -> widgets.Widget:
    """Connection points with counts and events, beside what they add up to."""
    session = here()
    grid = Table(session, "point", ("label", "what", "x", "y", *KINDS, "z"), name="Connection points",
                 flags=("events", "event"),
                 empty_hint="Press 'Add row', place a point on the plan, or add a ready-made pack below.").grid
    grid.add_class("sf-points")
    return show.stack(grid, show.view(session, need, "need"))


def pack() -> widgets.Widget:
    """Ready-made packs, added as plain rows."""
    session = here()
    choose = widgets.Dropdown(options=packs(), description="Pack", layout=widgets.Layout(width="320px"))
    button = widgets.Button(description="Add this pack", tooltip="adds its rows to the connection points")
    said = show.Html(session)

    def press(_: object) -> None:
        unit = "ft" if session.job.settings.units == "ft-in" else "m"
        try:
            session.edit(f"Pack {choose.value} added", lambda j: edit.add(
                j, "point", pack_rows(choose.value, 0.0, 0.0, [e.id for e in j.all(Event)], unit))[0])
            said.value = f"{escape(choose.value)} added on centre at the origin line: move it, and edit its rows."
        except Problem as problem:
            said.value = escape(problem.sentence)

    button.on_click(press)
    return show.stack(widgets.HBox([choose, button], layout=widgets.Layout(flex_flow="row wrap")), said)


def plan() -> widgets.Widget:
    """Points on the plan."""
    return StagePlan(here(), "Connection points on the stage", points=True, background=True).plan


def need(results: Results) -> str:
    """The peak of each kind with the event that drives it, and what shares."""
    if not results.peaks:
        return show.paragraph("Enter what plugs in at a point: the need appears here.")
    names = {e.id: e.name for e in results.job.all(Event)}
    rows = [(kind_name(kind), p.count, " and ".join(names.get(d, d) for d in p.drivers) or "always", p.plain_sum)
            for kind, p in results.peaks.items()]
    found = shares(results.job)
    shared = ""
    if found.pairs:
        words = ", ".join(f"{a.name} with {b.name}" for a, b in found.first)
        shared = show.folded(f"{found.pairs:,} pairs of points are never in use together and can share openings",
                             show.paragraph(words + (" ..." if found.pairs > len(found.first) else "")))
    return ("<h3>What is on at the same time</h3>"
            + show.table(("Kind", "Most at once", "In the event", "All points added"), rows, (1, 3)) + shared
            + show.workings([p.working(names, "the whole stage") for p in results.peaks.values()]))


def chart() -> widgets.Widget:
    """Need by event as bars."""
    return charts.need_by_event(here())


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "inventory")
