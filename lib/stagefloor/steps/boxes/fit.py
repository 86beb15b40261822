"""Does the floor, the edge, the lid and the reach allow a box where it stands? Asks each rule, with a cure for each finding.

What is not known about a slab or a floor is a stop with the question to ask, never a guess.
"""

from dataclasses import replace
from math import dist

from stagefloor.core.open_items import MEND, STOP, TO_DO, OpenItem
from stagefloor.core.units import length_text
from stagefloor.core.workings import ARITHMETIC, Basis, Working
from stagefloor.job.boxes import Box
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import Joists, KeepClear
from stagefloor.steps.boxes.fit_depth import clear_below_unknown
from stagefloor.steps.boxes.fit_hinge import hinge_side
from stagefloor.steps.boxes.fit_lid import depth_and_lid, models_unknown
from stagefloor.steps.boxes.fit_outline import (
    JOISTED,
    POSITIONS,
    TOUCH,
    Finding,
    Outlines,
    floor_type,
    length_value,
    outlines,
    si,
    told,
)
from stagefloor.steps.boxes.fit_shift import Surroundings, neighbours
from stagefloor.steps.boxes.fit_slab import rooms, slab, tendons
from stagefloor.steps.boxes.fit_unplaced import unplaced
from stagefloor.steps.boxes.fit_wood import members
from stagefloor.steps.boxes.fit_zones import edges, zones
from stagefloor.steps.boxes.geometry import Rect, rect_gap, segment_gap, segment_meets_rect
from stagefloor.steps.boxes.schedule import points_of
from stagefloor.steps.inventory import in_use


def _structure_known(job: Job, box: Box, shape: Outlines | None) -> list[OpenItem]:
    kind = floor_type(job, box)
    where = ("box", box.id)
    if kind == "":
        return [OpenItem("floor-unknown", "boxes", box.title, "what the floor is made of is not known", "unknown",
                         "the job sheet", "look from below, ask for drawings, or open a small hole", STOP, POSITIONS,
                         where, "What is the floor made of, layer by layer, and what is below it?")]
    if kind == "wood on joists" and not job.all(Joists):
        return [OpenItem("joists-unknown", "boxes", box.title, "where the joists are is not known", "unknown",
                         "the job sheet", "look from below or find the nail lines; enter one joist and the spacing",
                         STOP, POSITIONS, where, "Where is one joist, which way do they run, and how far apart?")]
    return slab(job, box, shape)


def structure(job: Job, box: Box, shape: Outlines) -> list[Finding]:
    """What the structure and the sides of the stage have against a place."""
    wood = floor_type(job, box) in JOISTED
    return (members(job, box, shape) if wood else tendons(job, box, shape)) + edges(job, box, shape)


def _with_nearest(job: Job, box: Box, shape: Outlines, found: list[Finding]) -> list[OpenItem]:
    """The items; the first that a shift would mend also names the nearest clear place, if no simple shift clears all."""
    items = [f.item for f in found]
    permanent = [i for i, f in enumerate(found) if f.shift is not None or f.permanent]
    if not permanent:
        return items
    round_it = Surroundings(job, box, shape)
    if any(f.shift is not None and round_it.clear(*f.shift) for f in found):
        return items
    first = permanent[0]
    items[first] = replace(items[first], cure=f"{items[first].cure}; {round_it.words()}",
                           workings=(*items[first].workings, round_it.working()))
    return items


def loose_crosses(job: Job, box: Box, point: Point) -> list[str]:
    """Names of keep-clear zones that a straight loose cable from the box to the point would cross."""
    if not (box.x and box.y and point.x and point.y):
        return []
    line = (box.x.si, box.y.si, point.x.si, point.y.si)
    crossed = []
    for z in job.all(KeepClear):
        if not z.crossing or not (z.x0 and z.y0 and z.x1 and z.y1):
            continue
        if z.events and not any(in_use(point, e) for e in z.events):
            continue
        ends = (z.x0.si, z.y0.si, z.x1.si, z.y1.si)
        if segment_meets_rect(line, Rect.between(*ends)) if z.width is None else \
                segment_gap(line, ends) <= z.width.si / 2:
            crossed.append(z.name)
    return crossed


def unserved(job: Job, event_id: str) -> list[tuple[Point, Box | None]]:
    """Points in use in an event that nothing serves: with the box that is too far off, or None if there is no box."""
    holders: dict[str, list[Box]] = {}
    for box in job.boxes():
        for i in box.points:
            holders.setdefault(i, []).append(box)
    found: list[tuple[Point, Box | None]] = []
    for p in job.all(Point):
        if not p.counts() or not in_use(p, event_id):
            continue
        boxes = holders.get(p.id, [])
        far = [b for b in boxes if job.settings.reach is not None and (d := loose_length(b, p)) is not None
               and d > job.settings.reach.si + 1e-9]
        if len(far) == len(boxes):
            found.append((p, boxes[0] if boxes else None))
    return found


def loose_length(box: Box, point: Point) -> float | None:
    """Straight length of a loose cable from the middle of the box to the point, metres, its rise or fall with it."""
    if not (box.x and box.y and point.x and point.y):
        return None
    return dist((box.x.si, box.y.si, si(box.z)), (point.x.si, point.y.si, si(point.z)))


def loose_cables(job: Job) -> list[tuple[Point, Box, float]]:
    """Each point that something plugs in at, with its box and the straight length (metres): of two boxes, the nearer."""
    found: dict[str, tuple[Point, Box, float]] = {}
    for box in job.boxes():
        for p in points_of(job, box):
            loose = loose_length(box, p)
            if loose is not None and p.counts() and (p.id not in found or loose < found[p.id][2]):
                found[p.id] = (p, box, loose)
    return list(found.values())


def loose_working(job: Job, box: Box, point: Point) -> Working | None:
    """The loose cable of a point as a calculation; None while a place is not known."""
    loose = loose_length(box, point)
    if loose is None or not (box.x and box.y and point.x and point.y):
        return None
    display = job.settings.units
    ways = [("dx", "across the stage", abs(box.x.si - point.x.si)), ("dy", "up and down stage", abs(box.y.si - point.y.si))]
    if (rise := abs(si(box.z) - si(point.z))) > TOUCH:
        ways.append(("dz", "rise or fall", rise))
    return Working(f"Loose cable, {point.label} to {box.label}", f"d = sqrt({' + '.join(f'{s}^2' for s, _, _ in ways)})",
                   tuple(length_value(s, name, metres, display) for s, name, metres in ways),
                   length_value("d", "straight", loose, display),
                   (Basis("straight line, without slack to the plug", ARITHMETIC),))


def _reach(job: Job, box: Box) -> list[OpenItem]:
    items, s = [], job.settings
    limit = si(s.reach)
    for point in points_of(job, box):
        loose, working = loose_length(box, point), loose_working(job, box, point)
        if loose is None or working is None:
            continue
        if loose > limit + 1e-9:
            working = replace(working, limit=length_value("", "longest loose cable by the job's policy", limit, s.units))
            items.append(OpenItem("out-of-reach", "boxes", f"Point {point.name}",
                                  f"is farther from {box.title} than the longest loose cable",
                                  f"{length_text(loose, s.units)}, "
                                  f"{length_text(told(loose - limit, s.units), s.units)} too far",
                                  "the job's reach policy (common practice 6 to 10 ft)",
                                  "move the box nearer, serve the point from a nearer one instead, or lengthen the job's "
                                  "longest loose cable", MEND, POSITIONS, ("point", point.id), workings=(working,)))
        crossed = loose_crosses(job, box, point)
        if crossed:
            items.append(OpenItem("cable-crosses", "boxes", f"Point {point.name}",
                                  f"its cable from {box.title} crosses {', '.join(crossed)}", f"{len(crossed)} crossing",
                                  "keep-clear paths of the job sheet", "serve it from a box on its own side", MEND,
                                  POSITIONS, ("point", point.id)))
    return items


def _each_other(job: Job) -> list[OpenItem]:
    placed = [(b, o) for b in job.boxes() if b.surface == "floor" and (o := outlines(job, b)) is not None]
    return [OpenItem("boxes-overlap", "boxes", a.title, f"overlaps {b.title}",
                     length_text(-rect_gap(oa.cover, ob.cover), job.settings.units), "cover outlines",
                     "move one of them", MEND, POSITIONS, ("box", a.id))
            for i, (a, oa) in enumerate(placed) for b, ob in placed[i + 1:] if rect_gap(oa.cover, ob.cover) < -1e-9]


def box_items(job: Job, box: Box) -> list[OpenItem]:
    """Everything that fit has to say about one box."""
    items: list[OpenItem] = []
    if box.x is None or box.y is None:
        return [OpenItem("box-no-place", "boxes", box.title, "its place is not entered", "unknown", "the box plan",
                         "enter two distances, or place it on the plan", TO_DO, POSITIONS, ("box", box.id),
                         f"Where shall {box.title} be?")]
    shape = outlines(job, box)
    if box.surface == "floor":
        items += _structure_known(job, box, shape)
        if shape is not None:
            found = structure(job, box, shape) + zones(job, box, shape)
            if any(i.code == "joists-unknown" for i in items):
                found = [f for f in found if f.item.code != "joists-unknown"]
            items += _with_nearest(job, box, shape, found) + hinge_side(job, box, shape)
    if shape is not None:
        items += depth_and_lid(job, box, shape)
    return items + _reach(job, box)


def open_items(job: Job) -> list[OpenItem]:
    """Everything that fit has to say about the plan."""
    return [i for box in job.boxes() for i in _said_before(job, box)] + _each_other(job) + rooms(job) + \
        clear_below_unknown(job) + unplaced(job) + models_unknown(job)


# What was said last about each box, and on what ground: one box under the hand must not ask again about all others.
_ground: tuple[object, ...] = ()
_said: dict[str, tuple[tuple[Box, ...], list[OpenItem]]] = {}


def _said_before(job: Job, box: Box) -> list[OpenItem]:
    """`box_items`, which depend on the box, its neighbours and everything but boxes; asked again only if those differ."""
    global _ground
    ground = (job.settings, *(table for kind, table in sorted(job.tables.items()) if kind != Box.kind))
    if len(ground) != len(_ground) or any(a is not b for a, b in zip(ground, _ground, strict=True)):
        _ground = ground
        _said.clear()
    before, items = _said.get(box.id, ((), []))
    boxes = (box, *neighbours(job, box))
    if len(before) != len(boxes) or any(a is not b for a, b in zip(before, boxes, strict=True)):
        items = box_items(job, box)
        _said[box.id] = (boxes, items)
    return items
