"""The boxes step: where boxes are, what is in each, whether the floor allows it, and the least-cost plan."""

from functools import lru_cache
from html import escape

import ipywidgets as widgets

from stagefloor.core.units import number_text
from stagefloor.drawings.face import BoxFace, face, rear
from stagefloor.drawings.svg import render
from stagefloor.entry import show
from stagefloor.entry.planning import planner_view
from stagefloor.entry.session import here
from stagefloor.entry.stage_plan import StagePlan, events_shown
from stagefloor.entry.tables import Table
from stagefloor.job.inventory import kind_name
from stagefloor.results import BoxResult, Results
from stagefloor.results.scenes import box_face, kinds_text
from stagefloor.results.unit_costs import TO_COMPARE, currency_words
from stagefloor.steps.boxes.trim_out import Task, TrimOut


def plan() -> widgets.Widget:
    """The plan with boxes to place and drag, and a replay of one event."""
    session = here()
    stage = StagePlan(session, "Floor boxes on the stage", boxes=True)
    choose = widgets.Dropdown(options=events_shown(session.job), description="Replay", layout=widgets.Layout(
        width="320px"))
    choose.observe(lambda change: stage.show(change["new"]), "value")
    return show.stack(show.style(), choose, stage.plan)


def table() -> widgets.Widget:
    """Boxes in a grid."""
    session = here()
    grid = Table(session, "box", ("label", "surface", "model", "x", "y", "z", "points", "hinge", "turned", "pinned",
                                  "state", "scan", "remark"), name="Floor boxes and panels",
                 empty_hint="Press 'Add row', or place a floor box on the plan.", pictures=True).grid
    grid.add_class("sf-boxes")
    return show.stack(grid, show.view(session, summary, "box-summary"))


def summary(results: Results) -> str:
    """One line a box: what it must hold, model, places used and spare."""
    rows = []
    for b in results.boxes:
        fits = b.layout
        rows.append((show.whole(b.box.label), kinds_text(b.contents.openings) or "nothing yet",
                     fits.model.label if fits else "no model takes it",
                     f"{b.contents.signal} of {fits.signal_places}" if fits else f"{b.contents.signal}",
                     f"{b.contents.mains} of {fits.mains_places}" if fits else f"{b.contents.mains}",
                     f"{results.box_costs[b.box.id].result.amount:,.0f}"))
    if not rows:
        return ""
    total = show.figures([("boxes and panels", str(len(rows))),
                          ("signal openings", str(sum(b.contents.signal for b in results.boxes))),
                          ("mains outlets", str(sum(b.contents.mains for b in results.boxes)))])
    money = currency_words(results.job)
    priced = money != TO_COMPARE
    heads = ("Box", "Holds", "Model", "Openings used", "Mains outlets used",
             f"Installed, {money}" if priced else "Installed, to compare")
    note = "" if priced else show.paragraph(
        "The labour step holds no hourly rate: what a box costs installed is shown only so that boxes can be compared.")
    return (total + show.table(heads, rows, (3, 4, 5), raw=(0,)) + note
            + show.workings(list(results.box_costs.values()), "How the installed costs come about, without the electrician")
            + floor_cable(results))


def floor_cable(results: Results) -> str:
    """Cable on the floor, event by event."""
    found = [c for c in results.floor_cables if c.cables]
    if not found:
        return ""
    rows = [(c.event, c.cables, f"{number_text(c.length, 3)} {c.working.result.unit}") for c in found]
    most = max(found, key=lambda c: c.length)
    return show.folded(
        f"Cable on the floor: most in {most.event}, {number_text(most.length, 3)} {most.working.result.unit}",
        show.table(("Event", "Loose cables", "Together"), rows, (1, 2)) + show.workings([c.working for c in found]))


def models() -> widgets.Widget:
    """The shop's box models."""
    return Table(here(), "boxmodel", ("label", "surface", "across", "along", "body_across", "body_along", "depth",
                                      "flange", "bays", "mains_bays", "openings", "mains_outlets", "front", "behind",
                                      "proud", "lid_load",
                                      "listed", "gasket", "cost", "source"), name="Box models").grid


def cards() -> widgets.Widget:
    """The face of each box and its opening schedule."""
    return show.view(here(), lambda results: "".join(card(results, b) for b in results.boxes), "cards")


def card(results: Results, found: BoxResult) -> str:
    """One box folded: face to scale, opening schedule, and behind that its trim-out."""
    trim = next(t for t in results.trim_outs if t.box.id == found.box.id)
    record = box_face(results.job, found.box)
    name = show.svg_name("face", found.box.id)
    drawing = drawn_face(record, name) if record else \
        show.paragraph("No face yet: no model takes what it must hold.")
    rows = [(s.place, kind_name(s.kind) or "–", s.connector or "blank plate", s.panel_part, s.label, s.line, s.cable)
            for s in trim.spots]
    schedule = show.table(("Place", "Kind", "Connector", "Panel part", "Label on the face", "Line", "Cable"), rows)
    body = drawing + schedule + show.folded("Trim-out card: who does what, parts, rear view",
                                            trim_out_card(trim) + (drawn_rear(record, f"{name}r") if record else ""))
    if found.layout:
        body += show.workings([found.layout.working(found.box.title)])
    return f"<details><summary><b>{escape(found.box.title)}</b> " \
           f"{escape(found.layout.model.label if found.layout else 'no model')}</summary>{body}</details>"


def trim_out_card(trim: TrimOut) -> str:
    """Hinge and cable exit, tasks by kind, parts, old outlets, what to ask first."""
    asked = "".join(show.paragraph(a) for a in trim.ask)
    lid = show.paragraph(f"Hinge {trim.hinge}; cables leave {trim.exit}.") if trim.hinge else ""
    tasks = "".join(f"<li><b>{escape(', '.join(t.labels))}</b>: {escape(task_words(t))}</li>" for t in trim.tasks)
    time = show.paragraph("Time for one end: usual is about 6 minutes, long about 10 (the shop's own hours count in the "
                          "labour step).")
    parts = show.table(("Part", "Number"), trim.parts, (1,))
    old = show.table(("Old outlet gathered in here", "It is", "Its line"), [(o.outlet, o.after, o.line) for o in trim.old]
                     ) if trim.old else ""
    return f"{asked}{lid}<ul>{tasks}</ul>{time}{parts}{old}"


def task_words(task: Task) -> str:
    """Who does what to the connectors of one kind, with which tool and hardware."""
    lead = f"{task.count} x {task.connector}, by {task.who}."
    if task.kind == "mains":
        return f"{lead} {task.in_place[:1].upper()}{task.in_place[1:]}."
    return (f"{lead} On the bench: {task.bench}. In place, module lifted out: {task.in_place}. Tool: {task.tool}. "
            f"For each: {task.hardware}. Time: {task.time_class}.")


@lru_cache(maxsize=400)
def drawn_rear(record: BoxFace, name: str) -> str:
    """A face from behind as SVG."""
    return render(rear(record), name)


@lru_cache(maxsize=400)  # drawing a face costs more than all else in an edit, and most edits change none
def drawn_face(record: BoxFace, name: str) -> str:
    """A face as SVG; `name` keeps the names inside it apart from those of other faces."""
    return render(face(record), name)


def openings() -> widgets.Widget:
    """The opening schedule of every box, labels to edit."""
    return Table(here(), "opening", ("box", "bay", "slot", "what", "label", "state"), name="Opening schedule",
                 readonly=("box", "what")).grid


def choose() -> widgets.Widget:
    """The planner: a least-cost plan with its bound, to adopt or not."""
    return planner_view(here())


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "boxes")
