"""From a job to what is drawn: the stage with its replay by event, and the face of each box. Knows no money."""

from stagefloor.core.units import Quantity
from stagefloor.drawings.face import BoxFace, FaceBay, FaceOpening
from stagefloor.drawings.scene import BoxMark, Connection, EventReplay, Line, Place, PointMark, StageScene, Zone
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.cables import Node, Segment
from stagefloor.job.inventory import KINDS, Event, Point, kind_name
from stagefloor.job.model import Job
from stagefloor.job.sheet import Bearing, Joists, KeepClear
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.fit import loose_cables, unserved
from stagefloor.steps.boxes.fit_outline import outlines
from stagefloor.steps.boxes.schedule import layout
from stagefloor.steps.closeout import as_built, built_job
from stagefloor.steps.inventory import in_use
from stagefloor.steps.paths import rack_place

MOST_JOISTS = 500


def _si(quantity: Quantity | None, otherwise: float) -> float:
    return quantity.si if quantity is not None else otherwise


def extent(job: Job) -> tuple[float, float, float, float]:
    """x0, y0, x1, y1 of the stage: as entered, else around everything that has a place. Metres."""
    s = job.settings
    spots = [(p.x.si, p.y.si) for p in job.all(Point) if p.x and p.y]
    spots += [(b.x.si, b.y.si) for b in job.boxes() if b.x and b.y]
    xs, ys = [x for x, _ in spots] or [0.0], [y for _, y in spots] or [0.0]
    return (_si(s.stage_right, min(xs) - 2.0), _si(s.stage_down, min(ys) - 2.0), _si(s.stage_left, max(xs) + 2.0),
            _si(s.stage_up, max(ys) + 2.0))


def loose_edges(job: Job) -> list[tuple[Line, bool]]:
    """The four edges of the stage with whether each is assumed; empty if all were entered, or nothing has a place yet."""
    s = job.settings
    entered = (s.stage_down, s.stage_left, s.stage_up, s.stage_right)
    placed = any(e is not None for e in entered) or any(p.x and p.y for p in job.all(Point)) or \
        any(b.x and b.y for b in job.boxes())
    x0, y0, x1, y1 = extent(job)
    if None not in entered or not placed or x1 <= x0 or y1 <= y0:
        return []
    corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))
    return [(Line(what="stage edge", points=corners[n:n + 2]), edge is None) for n, edge in enumerate(entered)]


def kinds_text(counts: dict[str, int]) -> str:
    """Counts in words, such as 2 microphone, 1 data, 1 mains outlet."""
    def noun(kind: str) -> str:
        return kind_name(kind) if kind != "mains" else "mains outlet" if counts[kind] == 1 else "mains outlets"

    return ", ".join(f"{counts[k]} {noun(k)}" for k in KINDS if counts.get(k))


def stage_scene(job: Job, structure: bool = False, ways: bool = False) -> StageScene:
    """The stage as it is drawn. `structure` adds joists and bearing lines, `ways` raceways and rack."""
    x0, y0, x1, y1 = extent(job)
    names = {e.id: e.name for e in job.all(Event)}
    rack = rack_place(job)
    s = job.settings
    measured = None not in (s.stage_left, s.stage_right, s.stage_down, s.stage_up)  # no edge is drawn that nobody entered
    return StageScene(
        outline=((x0, y0), (x1, y0), (x1, y1), (x0, y1)) if measured else (), display="ft-in" if s.units == "ft-in" else "m",
        origin=s.origin,
        zones=tuple(_zone(z, names) for z in job.all(KeepClear) if z.x0 and z.y0 and z.x1 and z.y1),
        boxes=tuple(m for b in job.boxes() if (m := _mark(job, b)) is not None),
        points=tuple(PointMark(id=p.id, label=p.label, what=p.what, x=p.x.si, y=p.y.si)
                     for p in job.all(Point) if p.x and p.y),
        joists=tuple(joist_lines(job, x0, y0, x1, y1)) if structure else (),
        bearings=tuple(bearing_lines(job, x0, y0, x1, y1)) if structure else (),
        raceways=tuple(raceway_lines(job)) if ways else (),
        rack=Place(label="rack", x=rack[0], y=rack[1]) if rack and ways else None,
        panel=Place(label="mains panel", x=s.panel_x.si, y=s.panel_y.si) if ways and s.panel_x and s.panel_y else None,
        replay=tuple(replay(job, e) for e in job.all(Event)))


def built_scene(job: Job) -> StageScene:
    """The stage as it is built: each box where it was measured, with its planned place where that is another one.

    A box that nobody has measured yet stands where it was planned, and is marked so.
    """
    scene, built = stage_scene(built_job(job), ways=True), as_built(job)
    moved = {d.title: (d.planned[0], d.planned[1]) for d in built if d.beyond}
    measured = {d.title for d in built if d.built[0] is not None and d.built[1] is not None}
    ways = tuple(w.model_copy(update={"label": ""}) for w in scene.raceways)  # here the boxes are what is looked for
    return scene.model_copy(update={"replay": (), "raceways": ways, "boxes": tuple(
        b.model_copy(update={"planned": moved.get(b.title), "measured": b.title in measured}) for b in scene.boxes)})


def _zone(z: KeepClear, names: dict[str, str]) -> Zone:
    assert z.x0 and z.y0 and z.x1 and z.y1
    a, b = (z.x0.si, z.y0.si), (z.x1.si, z.y1.si)
    points = (a, b) if z.width else (a, (b[0], a[1]), b, (a[0], b[1]))
    return Zone(label=z.name, what=z.what, points=points, width=z.width.si if z.width else 0.0,
                events=tuple(names[e] for e in z.events if e in names))


def _mark(job: Job, box: Box) -> BoxMark | None:
    if box.x is None or box.y is None:
        return None
    shape = outlines(job, box)
    size = (shape.cover.x1 - shape.cover.x0, shape.cover.y1 - shape.cover.y0) if shape else (0.3, 0.3)
    if box.surface != "floor":
        size = (size[0], 0.1)  # a panel stands upright: on the plan it is a thin strip
    return BoxMark(id=box.id, label=box.label, title=box.title, x=box.x.si, y=box.y.si, width=size[0], height=size[1],
                   surface=box.surface)  # type: ignore[arg-type]  # the choices are the same words


def joist_lines(job: Job, x0: float, y0: float, x1: float, y1: float) -> list[Line]:
    """The middle line of every joist within the stage."""
    found = []
    for j in job.all(Joists):
        if j.offset is None or j.spacing is None or j.spacing.si <= 0:
            continue
        up = j.run == "up and down stage"
        low, high = (x0, x1) if up else (y0, y1)
        if (high - low) / j.spacing.si > MOST_JOISTS:
            continue  # no real spacing: a slip of the finger must not stop the drawing
        number = -int((j.offset.si - low) // j.spacing.si)
        while (at := j.offset.si + number * j.spacing.si) <= high:
            points = ((at, y0), (at, y1)) if up else ((x0, at), (x1, at))
            found.append(Line(what="joist", points=points))
            number += 1
    return found


def bearing_lines(job: Job, x0: float, y0: float, x1: float, y1: float) -> list[Line]:
    """Bearing lines, square to the joists."""
    across = not any(j.run != "up and down stage" for j in job.all(Joists))
    return [Line(label=b.name, what="bearing line",
                 points=((x0, b.at.si), (x1, b.at.si)) if across else ((b.at.si, y0), (b.at.si, y1)))
            for b in job.all(Bearing) if b.at is not None]


def raceway_lines(job: Job) -> list[Line]:
    """One line for each pair of nodes with a raceway between them, drawn right-angled."""
    found, seen = [], set()
    for s in job.all(Segment):
        a, b = job.find(Node, s.start), job.find(Node, s.end)
        if not (a and b and a.x and a.y and b.x and b.y) or frozenset((a.id, b.id)) in seen:
            continue
        seen.add(frozenset((a.id, b.id)))
        corner = () if a.x.si == b.x.si or a.y.si == b.y.si else ((b.x.si, a.y.si),)
        found.append(Line(label=f"{a.name}–{b.name}", what="raceway",
                          points=((a.x.si, a.y.si), *corner, (b.x.si, b.y.si))))
    return found


def replay(job: Job, event: Event) -> EventReplay:
    """What is connected where in one event, and what is not served."""
    missing = unserved(job, event.id)
    missed = {p.id for p, _ in missing}
    connections_ = [Connection(point=p.label, box=box.label, kinds=kinds_text(p.counts()),
                               line=((box.x.si, box.y.si), (p.x.si, p.y.si)), metres=loose)
                    for p, box, loose in loose_cables(job)
                    if in_use(p, event.id) and p.id not in missed and box.x and box.y and p.x and p.y]
    said = [f"{p.name} ({p.what}) is farther from {box.title} than the longest loose cable." if box else
            f"{p.name} ({p.what}) has no floor box or panel." for p, box in missing]
    per_year = f"{event.per_year:g} times a year" if event.per_year else ""
    return EventReplay(event=event.name, per_year=per_year, connections=tuple(connections_), unserved=tuple(said))


def box_face(job: Job, box: Box) -> BoxFace | None:
    """The face of a box to scale; None while no model takes it or its size is not known."""
    plan = layout(job, box)
    sides = (plan.model.across, plan.model.along) if plan is not None else ()
    if plan is None or not all(side is not None and side.si > 0 for side in sides):
        return None
    model: BoxModel = plan.model
    assert model.across is not None and model.along is not None
    openings = job.openings(box.id)
    bays = []
    for bay in range(1, model.bays + 1):
        mains = bay > model.bays - plan.mains_bays
        places = model.mains_outlets if mains else model.openings
        by_slot = {o.slot: o for o in openings if o.bay == bay}
        bays.append(FaceBay(mains=mains, openings=tuple(
            FaceOpening(kind=o.what, connector=connections()[o.what].connector, label=o.label,
                        use="spare" if o.state == "spare" else "in use")
            if (o := by_slot.get(slot)) is not None else FaceOpening(use="blank")
            for slot in range(1, places + 1))))
    return BoxFace(title=box.title, surface=box.surface,  # type: ignore[arg-type]  # the same words
                   across=model.across.si, along=model.along.si,
                   flange=model.flange.si if model.flange else 0.0,
                   hinge=box.hinge if box.surface == "floor" else "",
                   display="ft-in" if job.settings.units == "ft-in" else "m", bays=tuple(bays))
