"""Does the floor, the edge, the lid and the reach allow a box where it stands? Reports, with a cure for each finding.

Three outlines: cutout, body, cover flange. Wood limits are screens: a cut member always goes to the engineer.
What is not known about a slab or a floor is a stop with the question to ask, never a guess.
"""

from dataclasses import dataclass
from math import hypot

from stagefloor.core.open_items import CHECK, ENGINEER, MEND, STOP, TO_DO, OpenItem
from stagefloor.core.units import Quantity, length_text
from stagefloor.core.workings import ARITHMETIC, JOB, PRACTICE, Basis, Value, Working
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import Bearing, FloorZone, Joists, KeepClear, Survey
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.geometry import Rect, overlap, rect_gap, segment_meets_rect, segment_rect_gap
from stagefloor.steps.boxes.schedule import layout, points_of
from stagefloor.steps.inventory import in_use

POSITIONS = "positions frozen"
SLABS = ("concrete slab on grade", "suspended concrete slab", "post-tensioned slab")
NEXT_EVENT_GAP = 1e-6  # metres: two edges that touch do not overlap


def _si(quantity: Quantity | None, otherwise: float = 0.0) -> float:
    return quantity.si if quantity is not None else otherwise


@dataclass(frozen=True)
class Outlines:
    """The three outlines of a box at its place, and its depth (None: not known). Metres."""

    cutout: Rect
    body: Rect
    cover: Rect
    depth: float | None


def outlines(job: Job, box: Box) -> Outlines | None:
    """Outlines of a box where it stands; None while place or model is not known."""
    plan = layout(job, box)
    model = plan.model if plan else job.find(BoxModel, box.model)
    if box.x is None or box.y is None or model is None:
        return None
    return outline_of(model, box.x.si, box.y.si, box.turned)


def outline_of(model: BoxModel, px: float, py: float, turned: bool) -> Outlines | None:
    """Outlines of a model with its middle at a place (metres); None while its size is not known."""
    if model.across is None or model.along is None:
        return None
    across, along = model.across.si, model.along.si
    b_across, b_along = _si(model.body_across, across), _si(model.body_along, along)
    if turned:
        across, along, b_across, b_along = along, across, b_along, b_across
    cutout = Rect.around(px, py, across, along)
    return Outlines(cutout, Rect.around(px, py, b_across, b_along), cutout.grown(_si(model.flange)),
                    model.depth.si if model.depth else None)


def zone_at(job: Job, x: float, y: float) -> FloorZone | None:
    """The smallest floor zone that holds a place."""
    found = [(abs((_si(z.x1) - _si(z.x0)) * (_si(z.y1) - _si(z.y0))), i, z) for i, z in enumerate(job.all(FloorZone))
             if z.x0 and z.y0 and z.x1 and z.y1
             and Rect.between(z.x0.si, z.y0.si, z.x1.si, z.y1.si).contains(x, y)]
    return min(found)[2] if found else None


def floor_type(job: Job, box: Box) -> str:
    """What the floor is made of under a box; empty if nobody knows."""
    zone = zone_at(job, _si(box.x), _si(box.y))
    return (zone.floor_type if zone and zone.floor_type else job.settings.floor_type)


def looked_at(job: Job, word: str) -> bool:
    """Whether a survey line whose topic contains the word was looked at."""
    return any(word in s.topic.lower() and s.looked == "looked" for s in job.all(Survey))


@dataclass(frozen=True)
class Clash:
    """How far an interval cuts into structure, and the shifts that clear it: barely, with the gap, centred."""

    member: str
    cut: float
    gap: float
    barely: float
    with_gap: float
    centred: float | None


def joist_clash(joists: Joists, low: float, high: float, gap: float) -> Clash | None:
    """A cutout from `low` to `high` (metres, square to the joists) against a field of joists.

    Returns None if both faces keep `gap`. Shifts are signed along the axis, the smaller way first;
    `cut` is how far the cutout cuts into a joist (0 if it only comes too near).
    """
    if joists.offset is None or joists.spacing is None or joists.width is None or joists.spacing.si <= 0:
        return None
    step, half = joists.spacing.si, joists.width.si / 2
    width, middle = high - low, (low + high) / 2
    clear = step - 2 * half
    first = round((middle - joists.offset.si) / step)
    near = [joists.offset.si + (first + k) * step for k in (-1, 0, 1)]
    cuts = [(overlap(low, high, c - half, c + half), c) for c in near]
    worst, centre = max(cuts)
    if worst <= -gap + 1e-9:
        return None
    ways = {}
    for name, keep in (("barely", 0.0), ("with_gap", gap)):
        if width + 2 * keep > clear + 1e-9:
            ways[name] = float("nan")
            continue
        options = [c + half + keep - low for c in near] + [c - half - keep - high for c in near]
        free = [s for s in options if max(overlap(low + s, high + s, c - half, c + half) for c in
                                          [near[0] - step, *near, near[-1] + step]) <= -keep + 1e-9]
        ways[name] = min(free, key=abs) if free else float("nan")
    bay = round((middle - joists.offset.si) / step - 0.5) + 0.5
    centres = [joists.offset.si + (bay + k) * step for k in (-1, 0, 1)]
    centred = min((c - middle for c in centres), key=abs) if width <= clear + 1e-9 else None
    return Clash(f"joist at {centre:.3f}", max(0.0, worst), max(0.0, -worst), ways["barely"], ways["with_gap"], centred)


def _shift_words(amount: float, along_stage: bool, display: str) -> str:
    if amount != amount:
        return "no way"
    word = ("upstage" if amount > 0 else "downstage") if along_stage else \
        ("to stage left" if amount > 0 else "to stage right")
    decimal = f"{abs(amount) / 0.3048:.2f} ft" if display == "ft-in" else length_text(abs(amount), "m")
    return f"{decimal} {word}"


def members(job: Job, box: Box, shape: Outlines) -> list[OpenItem]:
    """Cutout against joists and bearing lines."""
    display, items = job.settings.units, []
    where = ("box", box.id)
    for field in job.all(Joists):
        up = field.run == "up and down stage"
        low, high = (shape.cutout.x0, shape.cutout.x1) if up else (shape.cutout.y0, shape.cutout.y1)
        if field.offset is None or field.spacing is None:
            items.append(OpenItem("joists-unknown", "boxes", box.title, "where the joists are is not known",
                                  "unknown", "the job sheet", "look from below or open the floor; enter one joist and "
                                  "the spacing", STOP, POSITIONS, where,
                                  "Where is one joist, and how far apart are they?"))
            continue
        clash = joist_clash(field, low, high, _si(job.settings.joist_gap))
        if clash is not None:
            items.append(_joist_item(job, box, field, clash, low, high, not up))
        # bearing lines lie square to the joists, so they are measured along them
        b_low, b_high = (shape.cutout.y0, shape.cutout.y1) if up else (shape.cutout.x0, shape.cutout.x1)
        for line in job.all(Bearing):
            if line.at is None:
                continue
            half = _si(line.half_width)
            cut = overlap(b_low, b_high, line.at.si - half, line.at.si + half)
            if cut <= NEXT_EVENT_GAP:
                continue
            shifts = (line.at.si + half - b_low, line.at.si - half - b_high)
            best = min(shifts, key=abs)
            working = Working("Cutout on a bearing line", "c = overlap of the cutout with the line and what is kept "
                              "clear each side",
                              (_len("y0", "cutout from", b_low, display), _len("y1", "cutout to", b_high, display),
                               _len("b", "bearing line at", line.at.si, display),
                               _len("h", "kept clear each side", half, display)),
                              _len("c", "overlap", cut, display),
                              (Basis("this job's own bearing line; keeping off it is common practice", PRACTICE),))
            items.append(OpenItem(
                "box-on-bearing", "boxes", box.title,
                f"the cutout lies on the bearing line {line.name}" + (" with blocking" if line.blocking else ""),
                f"overlap {length_text(cut, display)}", "bearing lines of this job; a bearing is not cut without the "
                "engineer", f"move it {_shift_words(best, up, display)}, or ask the engineer", MEND, POSITIONS, where,
                workings=(working,)))
    return items


def _joist_item(job: Job, box: Box, field: Joists, clash: Clash, low: float, high: float, along: bool) -> OpenItem:
    display = job.settings.units
    assert field.spacing is not None and field.width is not None
    working = Working(
        "Cutout against the joists", "clear bay = spacing - joist width; cut = overlap of cutout and joist",
        (_len("s", "spacing, centre to centre", field.spacing.si, display),
         _len("w", "joist width", field.width.si, display), _len("a", "cutout from", low, display),
         _len("b", "cutout to", high, display)),
        _len("c", "cut into the joist" if clash.cut else "gap to the joist face", clash.cut or clash.gap, display),
        (Basis("the job sheet's joists", JOB), Basis("gap to the joist face", PRACTICE)),
        limit=None if clash.cut else _len("", "gap by policy", _si(job.settings.joist_gap), display), sense=">=")
    if clash.barely != clash.barely:
        cure = "no clear bay is wide enough: choose a narrower model, turn it, or have the opening framed as the " \
               "engineer says"
    else:
        parts = [f"move it {_shift_words(clash.barely, along, display)} to clear it" if clash.cut else ""]
        if clash.with_gap == clash.with_gap:
            parts.append(f"{_shift_words(clash.with_gap, along, display)} with "
                         f"{length_text(_si(job.settings.joist_gap), display)} to the joist face")
        if clash.centred is not None:
            parts.append(f"{_shift_words(clash.centred, along, display)} to centre it in the bay")
        cure = "; ".join(p for p in parts if p) + "; a cut joist goes to the engineer"
    decimal = f"{(clash.cut or clash.gap) / 0.3048:.2f} ft" if display == "ft-in" else \
        length_text(clash.cut or clash.gap, "mm")
    if clash.cut:
        return OpenItem("box-on-joist", "boxes", box.title, "the cutout cuts into a joist", decimal,
                        "joists of the job sheet; wood limits are screens, the engineer decides", cure, MEND,
                        POSITIONS, ("box", box.id), workings=(working,))
    return OpenItem("box-near-joist", "boxes", box.title, "the cutout comes nearer to a joist than the job's policy",
                    f"{decimal} of {length_text(_si(job.settings.joist_gap), display)}",
                    "common practice, no source", cure, CHECK, POSITIONS, ("box", box.id), workings=(working,))


def _len(symbol: str, name: str, metres: float, display: str) -> Value:
    return Value(symbol, name, metres / 0.3048, "ft", 4) if display == "ft-in" else Value(symbol, name, metres, "m", 4)


def events_of(job: Job, box: Box) -> list[Event]:
    """Events in which something plugs in at a box."""
    return [e for e in job.all(Event) if any(in_use(p, e.id) for p in points_of(job, box))]


def _zones(job: Job, box: Box, shape: Outlines) -> list[OpenItem]:
    """Cover against keep-clear zones, in the events in which they stand there."""
    items, display = [], job.settings.units
    using = {e.id: e for e in events_of(job, box)}
    for zone in job.all(KeepClear):
        if not (zone.x0 and zone.y0 and zone.x1 and zone.y1):
            continue
        ends = (zone.x0.si, zone.y0.si, zone.x1.si, zone.y1.si)
        if zone.width is not None:
            gap = segment_rect_gap(ends, shape.cover) - zone.width.si / 2
        else:
            gap = rect_gap(shape.cover, Rect.between(*ends))
        busy = [using[e].name for e in zone.events if e in using]
        where_when = f" in the event {' and '.join(busy)}, in which it is needed" if busy else \
            (" in an event in which nothing plugs in here" if zone.events else "")
        basis = "keep-clear zones of the job sheet"
        if gap < -NEXT_EVENT_GAP:
            if zone.what == "rolling route":
                items += _rolling(job, box, zone)
                continue
            state = MEND if busy or not zone.events else CHECK
            needs = ", ".join(p.name for p in points_of(job, box) if any(in_use(p, e) for e in zone.events))
            what = f"lies under {zone.name}{where_when}" + (f" (points {needs})" if busy and needs else "")
            items.append(OpenItem("box-in-zone", "boxes", box.title, what,
                                  f"overlap {length_text(-gap, display)}", basis,
                                  "move it clear of the zone, or serve those points from another box or a wall panel",
                                  state, POSITIONS, ("box", box.id)))
        elif zone.what == "step unit" and gap < _si(job.settings.nosing_gap) - 1e-9:
            items.append(OpenItem("cover-near-step", "boxes", box.title,
                                  f"the cover is near the nosing of {zone.name}",
                                  f"{length_text(gap, display)} of {length_text(_si(job.settings.nosing_gap), display)}",
                                  "common practice, no source", "move it away from the step", CHECK, POSITIONS,
                                  ("box", box.id)))
    return items


def _rolling(job: Job, box: Box, zone: KeepClear) -> list[OpenItem]:
    plan = layout(job, box)
    if plan is None:
        return []
    load = zone.load.si * 9.80665 if zone.load else None
    rated = plan.model.lid_load
    if load is not None and rated is not None and rated.si >= load:
        return [OpenItem("deck-on-route", "boxes", box.title, f"lies on the route {zone.name}: the lid's figure covers "
                         "the wheel, the deck beside it is not shown to", f"{load / 1000:.2f} kN a wheel",
                         "data sheet of the lid; the deck is the engineer's", "ask about the deck beside the lid",
                         ENGINEER, POSITIONS, ("box", box.id))]
    amount = f"{load / 1000:.2f} kN a wheel or leg" if load is not None else "load not known"
    amount += f", lid {rated.si / 1000:.2f} kN" if rated else ", lid not known"
    state = MEND if load is not None and rated is not None else STOP
    return [OpenItem("box-on-route", "boxes", box.title, f"lies on the rolling route {zone.name}", amount,
                     "lid load of the data sheet against the wheel; a floor load by area does not check a lid",
                     "move it off the route, or choose a lid that carries it and ask about the deck beside it", state,
                     POSITIONS, ("box", box.id),
                     "" if state == MEND else f"What does the heaviest wheel on {zone.name} weigh, and what does the "
                                              "lid carry?")]


def edges(job: Job, box: Box, shape: Outlines) -> list[OpenItem]:
    s = job.settings
    items = []
    sides = [("the stage edge", s.stage_down, shape.cover.y0, 1, _si(s.edge_gap)),
             ("the back wall", s.stage_up, shape.cover.y1, -1, 0.0),
             ("the wall stage left", s.stage_left, shape.cover.x1, -1, 0.0),
             ("the wall stage right", s.stage_right, shape.cover.x0, 1, 0.0)]
    for name, at, side, sign, least in sides:
        if at is None:
            continue
        gap = (side - at.si) * sign
        if gap < least - 1e-9:
            outside = gap < 0
            items.append(OpenItem("outside-stage" if outside else "cover-near-edge", "boxes", box.title,
                                  f"is over {name}" if outside else f"the cover is near {name}",
                                  f"{length_text(gap, s.units)}" + ("" if outside else
                                                                   f" of {length_text(least, s.units)}"),
                                  "outline of the stage" if outside else "common practice, no source",
                                  "move it on to the stage" if outside else "move it away from the edge",
                                  MEND if outside else CHECK, POSITIONS, ("box", box.id)))
    return items


def _depth_and_lid(job: Job, box: Box, shape: Outlines) -> list[OpenItem]:
    plan = layout(job, box)
    if plan is None:
        return []
    items, display, model = [], job.settings.units, plan.model
    where = ("box", box.id)
    zone = zone_at(job, _si(box.x), _si(box.y))
    if box.surface == "floor" and zone is not None and zone.clear_below is not None and shape.depth is not None:
        tails = max((connections()[k].depth_behind for k in plan.contents.openings), default=0.0)
        if shape.depth > zone.clear_below.si:
            items.append(OpenItem("box-too-deep", "boxes", box.title, f"is deeper than what is free below in "
                                  f"{zone.name}", f"{length_text(shape.depth, display)} of "
                                  f"{length_text(zone.clear_below.si, display)}", "the job sheet's floor zone",
                                  "choose a shallower model or another place", MEND, POSITIONS, where))
        elif shape.depth + tails > zone.clear_below.si:
            items.append(OpenItem("box-entry-tight", "boxes", box.title, "leaves little room for the raceway entry "
                                  "below it", length_text(zone.clear_below.si - shape.depth, display),
                                  "common practice, no source", "bring the raceway in from the side", CHECK, POSITIONS,
                                  where))
    if model.front is not None and box.surface == "floor":
        tall = {k: connections()[k].depth_front for k in plan.contents.openings
                if connections()[k].depth_front > model.front.si + 1e-9}
        if tall:
            kind = max(tall, key=lambda k: tall[k])
            items.append(OpenItem("lid-wont-close", "boxes", box.title,
                                  f"the lid does not close over a {connections()[kind].connector} with its cord",
                                  f"{length_text(model.front.si, display)} free, {length_text(tall[kind], display)} "
                                  "needed", f"depth in front of the plate: {connections()[kind].basis.status}",
                                  "a sloped or lowered plate, right-angle connectors, or a deeper model; measure your "
                                  "own connectors", MEND, "panels ordered", where))
    if box.surface == "floor" and plan.contents.mains and model.listed != "yes":
        items.append(OpenItem("floor-listing", "boxes", box.title,
                              "whether the enclosure is listed for floors is not " + (
                                  "known" if model.listed == "unknown" else "so by the data sheet"),
                              model.listed, "NEC 314.27(B): boxes for receptacles in floors are listed for floors"
                              if job.settings.basis == "US" else "EN 60670-23 for floor boxes",
                              "ask the maker for the listing, the licensed electrician decides", CHECK,
                              "panels ordered", where, f"Is the model {model.label} listed for use in floors?"))
    if box.surface == "floor" and job.settings.wet_cleaning == "wet" and not model.gasket and \
            {"data", "video"} & set(plan.contents.openings):
        items.append(OpenItem("wet-cleaning", "boxes", box.title,
                              "data or video outlets in a floor that is cleaned wet, under a lid without a gasket",
                              "no gasket", "common practice: such outlets fail early", "a model with a gasket, or a wall "
                              "panel or riser face for these lines", CHECK, "panels ordered", where))
    return items


def _structure_known(job: Job, box: Box) -> list[OpenItem]:
    kind = floor_type(job, box)
    where = ("box", box.id)
    if kind == "":
        return [OpenItem("floor-unknown", "boxes", box.title, "what the floor is made of is not known", "unknown",
                         "the job sheet", "look from below, ask for drawings, or open a small hole", STOP, POSITIONS,
                         where, "What is the floor made of, layer by layer, and what is below it?")]
    if kind in SLABS and not looked_at(job, "scan"):
        word = "tendons" if kind == "post-tensioned slab" else "bars, conduits and tendons"
        return [OpenItem("slab-not-scanned", "boxes", box.title, f"the slab was not scanned for {word}", "unknown",
                         "never cut or core an unscanned slab", "have it scanned and the engineer answer in writing",
                         STOP, POSITIONS, where, f"Where are the {word} at {box.title}? (scan, with report number)")]
    if kind == "wood on joists" and not job.all(Joists):
        return [OpenItem("joists-unknown", "boxes", box.title, "where the joists are is not known", "unknown",
                         "the job sheet", "look from below or find the nail lines; enter one joist and the spacing",
                         STOP, POSITIONS, where, "Where is one joist, which way do they run, and how far apart?")]
    return []


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
        rect = Rect.between(*ends)
        if z.width is not None:
            pad = z.width.si / 2
            hit = any(segment_meets_rect(line, Rect(px - pad, py - pad, px + pad, py + pad))
                      for px, py in _steps(ends, pad))
        else:
            hit = segment_meets_rect(line, rect)
        if hit:
            crossed.append(z.name)
    return crossed


def _steps(ends: tuple[float, float, float, float], pad: float) -> list[tuple[float, float]]:
    span = hypot(ends[2] - ends[0], ends[3] - ends[1])
    count = max(1, int(span / max(pad, 0.05)) + 1)
    return [(ends[0] + (ends[2] - ends[0]) * i / count, ends[1] + (ends[3] - ends[1]) * i / count)
            for i in range(count + 1)]


def loose_length(box: Box, point: Point) -> float | None:
    """Straight length of a loose cable from the middle of the box to the point, metres, on the plan."""
    if not (box.x and box.y and point.x and point.y):
        return None
    return hypot(box.x.si - point.x.si, box.y.si - point.y.si)


def _reach(job: Job, box: Box) -> list[OpenItem]:
    items, s = [], job.settings
    limit = _si(s.reach)
    for point in points_of(job, box):
        loose = loose_length(box, point)
        if loose is None:
            continue
        if loose > limit + 1e-9:
            working = Working("Loose cable from box to point", "d = sqrt(dx² + dy²)",
                              (_len("dx", "across", abs(_si(box.x) - _si(point.x)), s.units),
                               _len("dy", "up", abs(_si(box.y) - _si(point.y)), s.units)),
                              _len("d", "on the floor", loose, s.units), (Basis("plan distance", ARITHMETIC),),
                              limit=_len("", "longest loose cable by the job's policy", limit, s.units))
            items.append(OpenItem("out-of-reach", "boxes", f"Point {point.name}",
                                  f"is farther from {box.title} than the longest loose cable",
                                  f"{length_text(loose, s.units)}, {length_text(loose - limit, s.units)} too far",
                                  "the job's reach policy (common practice 6 to 10 ft)",
                                  "move the box nearer, add one, or allow a longer cable for this point", MEND,
                                  POSITIONS, ("point", point.id), workings=(working,)))
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
    if box.surface == "floor":
        items += _structure_known(job, box)
    shape = outlines(job, box)
    if shape is not None and box.surface == "floor":
        wood = floor_type(job, box) in ("wood on joists", "")
        if wood and not any(i.code == "joists-unknown" for i in items):
            items += members(job, box, shape)
        items += _zones(job, box, shape) + edges(job, box, shape)
    if shape is not None:
        items += _depth_and_lid(job, box, shape)
    return items + _reach(job, box)


def open_items(job: Job) -> list[OpenItem]:
    """Everything that fit has to say about the plan."""
    return [i for box in job.boxes() for i in box_items(job, box)] + _each_other(job)
