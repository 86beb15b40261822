"""The job sheet step: the start page with the smallest job, then venue, floor, what stands in the way, survey."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial
from html import escape

import ipywidgets as widgets

from stagefloor.core.units import length_text
from stagefloor.core.words import local
from stagefloor.drawings.face import face
from stagefloor.drawings.svg import render
from stagefloor.entry import show
from stagefloor.entry.folds import folds
from stagefloor.entry.history import History
from stagefloor.entry.session import Session, here
from stagefloor.entry.tables import Form, FormLine, Table, settings_line
from stagefloor.job import edit
from stagefloor.job.boxes import Box
from stagefloor.job.inventory import KINDS, Point, read_counts
from stagefloor.job.model import Job
from stagefloor.job.typed import cell_text
from stagefloor.results import BoxResult, Results
from stagefloor.results.compute import questions
from stagefloor.results.scenes import box_face, kinds_text
from stagefloor.steps.sheet import built_of, next_steps

OTHERS = [k for k in KINDS if k not in ("microphone", "loudspeaker", "mains")]
CAUTIONS = ("Structure: a cut joist, beam or slab goes to the structural engineer first; never cut or core an unscanned "
            "slab. Mains: only the licensed electrician opens, wires and tests it; breaker off, locked, proved dead. Dust: "
            "silica, lead and asbestos rules stand. Openings in a floor are guarded or covered, marked and secured. "
            "Local codes and the authority decide; this workbook reports.")


def start() -> widgets.Widget:
    """The start page: four entries, and at once what they give."""
    session = here()
    lines: list[FormLine | str] = ["venue", "units", "floor_type"]
    if len(session.job.boxes()) <= 1 and len(session.job.all(Point)) <= 1:  # else the tables of the next steps serve
        lines += [_walls_line(), _box_line("x", "Floor box, across the stage"),
                  _box_line("y", "Floor box, up the stage"), _plugs_line()]
    form = Form(session, lines, "Start").grid
    form.add_class("sf-start")
    return show.stack(show.style(), form, show.view(session, smallest, "smallest"))


def _first_box(job: Job) -> Box | None:
    return next(iter(job.boxes()), None)


def _walls_line() -> FormLine:
    """From which two walls or lines the first floor box is measured: the job's origin, by its usual names or in words."""
    line = settings_line("origin")
    return replace(line, key="walls", label="Measured from which two", hint="for example: stage right wall and back wall, "
                   "or centre line and stage edge")


def _box_line(axis: str, label: str) -> FormLine:
    """The place of the first box; typing it makes the box."""
    def read(job: Job) -> tuple[str, bool]:
        box = _first_box(job)
        return (cell_text(job, box, axis), False) if box is not None else ("", False)

    def write(job: Job, text: str) -> Job:
        box = _first_box(job)
        if box is None:
            job, (box_id,) = edit.add(job, "box", [{"label": "FB-1"}])
        else:
            box_id = box.id
        return edit.set_fields(job, "box", box_id, {axis: text})

    hint = "from the first of the two, to the middle of the cutout; towards stage right is minus" if axis == "x" else \
        "from the second of the two, square to the first; towards downstage is minus"
    return FormLine(f"box_{axis}", label, hint, read, write)


def _plugs_line() -> FormLine:
    """What plugs in at the first point, in words; typing it makes the point and, if there is none, the box."""
    def read(job: Job) -> tuple[str, bool]:
        points = job.all(Point)
        return (local(kinds_text(points[0].counts()), job.settings.basis), False) if points else ("", False)

    def write(job: Job, text: str) -> Job:
        counts = read_counts(text)
        points = job.all(Point)
        if not points:
            job, (point_id,) = edit.add(job, "point", [{"label": "P1", "what": "first position"}])
        else:
            point_id = points[0].id
        if _first_box(job) is None:
            job, _ = edit.add(job, "box", [{"label": "FB-1"}])
        return edit.set_fields(job, "point", point_id, {k: str(counts.get(k, 0)) for k in KINDS})

    hint = f"for example: 2 microphone, 1 loudspeaker, 1 mains outlet; also {', '.join(OTHERS)}"
    return FormLine("plugs", "What plugs in", hint, read, write)


def smallest(results: Results) -> str:
    """What four entries give: the smallest box that takes it, its face, spare places, order list, questions."""
    if not results.boxes:
        return show.paragraph("Type into the column Value. With venue, floor, one box and what plugs in, the smallest "
                              "box that takes it, its face, an order list and the questions for the site appear here.",
                              "lead")
    shown = results.boxes if len(results.boxes) <= 2 else ()
    parts = [box_card(results, b) for b in shown]
    if not shown:
        parts.append(show.paragraph(f"This job has {len(results.boxes)} boxes and panels: see the step Boxes."))
    asked = questions(results.items)
    if asked:
        parts.append("<h3>To find out on site</h3><ul>" + "".join(f"<li>{escape(q)}</li>" for q in asked) + "</ul>")
    next_ = next_steps(results.job, bool(results.estimate.unpriced))
    parts.append("<h3>What next</h3><ul>" + "".join(f"<li>{escape(n)}</li>" for n in next_) + "</ul>")
    parts.append(f'<p class="caution">{escape(CAUTIONS)}</p>')
    return "".join(parts)


def box_card(results: Results, found: BoxResult) -> str:
    """One box: model, openings used and spare, barrier, face drawing, order list."""
    box, plan = found.box, found.layout
    if plan is None:
        need = kinds_text(found.contents.openings)
        return f"<h3>{escape(box.title)}</h3>" + show.paragraph(
            f"No model in the list takes {need}." if need else "Nothing plugs in here yet.")
    c, display = found.contents, results.job.settings.units
    chosen = "chosen" if box.model else "the smallest that takes it"
    size = " × ".join(length_text(q.si, display) for q in (plan.model.across, plan.model.along) if q)
    facts = [("signal openings used", str(c.signal)), ("places spare, with blank plates", str(plan.spare_places)),
             ("mains outlets", str(c.mains)), ("mains places spare", str(plan.mains_places - c.mains))]
    lead = (f"; cutout {size}. " +
            (f"Mains is behind the barrier in bay {plan.model.bays - plan.mains_bays + 1}"
             + (f" to {plan.model.bays}" if plan.mains_bays > 1 else "") + "; only the licensed electrician works there."
             if c.mains else "No mains in it."))
    record = box_face(results.job, box)
    drawing = render(face(record), show.svg_name("start", box.id)) if record else ""
    lead = f"{plan.model.label}, {chosen}{lead}"
    return (f"<h3>{escape(box.title)}</h3>" + show.paragraph(lead, "lead") + show.figures(facts) + drawing
            + "<h3>Order list</h3>" + order_list(results, box)
            + show.workings([plan.working(box.title)]))


def order_list(results: Results, box: Box) -> str:
    """What to buy for one box."""
    return show.table(("Item", "Quantity", "Note"),
                      [(r.item, r.quantity, r.note) for r in results.order_list(box.id)], (1,))


def venue() -> widgets.Widget:
    """Venue, units, code basis, who reads the documents."""
    session = here()
    return show.stack(show.style(), Form(session, (
        "venue", "client", "shop", "contact", "units", "basis", "edition", "currency", "floor_type", "tread",
        "wet_cleaning", "breaker_role", "validity", "warranty", "care"), "Venue and documents").grid)


def places() -> widgets.Widget:
    """The outline, rack and panel, and the shop's policies for this job."""
    session = here()
    return show.stack(
        Form(session, ("origin", "stage_left", "stage_right", "stage_down", "stage_up", "rack_x", "rack_y", "rack_z",
                       "rack_distance", "panel_x", "panel_y", "panel_ways"), "Stage, rack and panel").grid,
        Form(session, ("reach", "slack_box", "slack_rack", "spare_percent", "growth_percent", "joist_gap", "edge_gap",
                       "nosing_gap", "tendon_gap", "built_tolerance", "power_gap",
                       "streaming_needs_microphone"), "Policies of this job").grid)


def floor() -> widgets.Widget:
    """Zones and layers; of joists and slab, what this floor has stands open and the other is folded, as the job goes on."""
    session = here()
    of_wood = _kept(session, ("Joists", "joists", ("label", "run", "offset", "spacing", "width", "depth", "material")),
                    ("Bearing lines", "bearing", ("label", "at", "half_width", "blocking")))
    of_slab = _kept(session, ("Floor zones over a slab", "zone", ("label", "build_up", "slab_gap", "slab")),
                    ("Tendons in the slab", "tendon", ("label", "what", "run", "at", "half_width", "evidence", "paper")))
    always = (Table(session, "zone", ("label", "floor_type", "x0", "y0", "x1", "y1", "z", "clear_below", "below",
                                      "room_below", "rating", "public"), name="Floor zones").grid,
              Table(session, "layer", ("material", "thickness"), name="Floor layers, from the finish down").grid)
    page = show.stack()
    shown: tuple[bool, bool] | None = None

    def follow() -> None:
        nonlocal shown
        if (asked := built_of(session.job)) == shown:
            return
        shown, (wood, slab) = asked, asked
        open_ = [*(of_wood if wood else ()), *(of_slab if slab else ())]
        shut = [*(() if wood else of_wood), *(() if slab else of_slab)]
        page.children = (*always, *(make() for _, make in open_), *([folds(shut)] if shut else ()))

    session.listen(follow)
    follow()
    return page


def _kept(session: Session, *tables: tuple[str, str, tuple[str, ...]]) -> list[tuple[str, Callable[[], widgets.Widget]]]:
    """(name, function that gives the table) of (name, kind, columns); each table is made once, when it is first shown."""
    def make(name: str, kind: str, columns: tuple[str, ...]) -> widgets.Widget:
        return Table(session, kind, columns, name=name).grid

    return [(table[0], cache(partial(make, *table))) for table in tables]


def in_the_way() -> widgets.Widget:
    """Keep-clear zones and paths, other trades' lines, old outlets."""
    session = here()
    return show.stack(
        Table(session, "keepclear", ("label", "what", "x0", "y0", "x1", "y1", "width", "under", "crossing", "load"),
              name="Keep-clear zones and paths", flags=("events", "event")).grid,
        Table(session, "service", ("label", "what", "enclosed", "x0", "y0", "z0", "x1", "y1", "z1"),
              name="Lines of other trades").grid,
        Table(session, "oldoutlet", ("label", "what", "count", "reuse", "box", "after", "tested"),
              name="Old outlets").grid)


def survey() -> widgets.Widget:
    """What was looked at."""
    session = here()
    return show.stack(Table(session, "survey", ("topic", "looked", "found", "evidence", "by", "date"),
                            name="Survey", pictures=True).grid,
                      show.view(session, _questions, "questions"))


def _questions(results: Results) -> str:
    asked = questions(results.items)
    return "<h3>Questions for the site</h3>" + (
        "<ul>" + "".join(f"<li>{escape(q)}</li>" for q in asked) + "</ul>" if asked else show.paragraph("None are open."))


def open_items() -> widgets.Widget:
    """The most important open items of the whole job."""
    return show.open_items(here())


def remarks() -> widgets.Widget:
    """Remarks with their audience."""
    return remarks_table(here())


def remarks_table(session: Session) -> widgets.Widget:
    return Table(session, "remark", ("about", "words", "audience"), name="Remarks",
                 empty_hint="A remark is for the office unless you choose otherwise. Press 'Add row'.").grid


def history() -> widgets.Widget:
    """Who did what when, and the ways back; folded until it is asked for."""
    return History(here()).widget
