"""A cover against what stands or rolls on the stage, and against its edges and walls."""

from dataclasses import dataclass

from stagefloor.calculations.floor import lid_load
from stagefloor.core.open_items import CHECK, ENGINEER, MEND, STOP, OpenItem
from stagefloor.core.units import STANDARD_GRAVITY
from stagefloor.core.workings import JOB, Basis, Working
from stagefloor.job.boxes import Box
from stagefloor.job.inventory import Event
from stagefloor.job.model import Job
from stagefloor.job.sheet import KeepClear
from stagefloor.steps.boxes.fit_outline import (
    POSITIONS,
    TOUCH,
    Finding,
    Outlines,
    length_value,
    of_text,
    shift_words,
    si,
    small_text,
    told,
    zone_at,
)
from stagefloor.steps.boxes.geometry import Rect, rect_gap, segment_rect_gap
from stagefloor.steps.boxes.schedule import layout, points_of
from stagefloor.steps.inventory import in_use


def events_of(job: Job, box: Box) -> list[Event]:
    """Events in which something plugs in at a box."""
    return [e for e in job.all(Event) if any(in_use(p, e.id) for p in points_of(job, box))]


def zone_gap(zone: KeepClear, cover: Rect) -> float | None:
    """Distance from a cover to a zone, minus the overlap if it lies in it; None while its place is not known. Metres."""
    if not (zone.x0 and zone.y0 and zone.x1 and zone.y1):
        return None
    ends = (zone.x0.si, zone.y0.si, zone.x1.si, zone.y1.si)
    if zone.width is not None:
        return segment_rect_gap(ends, cover) - float(zone.width.si) / 2
    return rect_gap(cover, Rect.between(*ends))


def kept_from(job: Job, zone: KeepClear) -> float:
    """What a cover keeps from a zone, metres: from the nosing of steps, by the job's policy."""
    return si(job.settings.nosing_gap) if zone.what == "step unit" else 0.0


def _overlap(zone: KeepClear, overlap: float, cover: Rect, display: str) -> Working:
    """How far a cover lies in a zone."""
    return Working(f"Cover in {zone.name}", "o = the smaller of the overlaps across and up" if zone.width is None
                   else "o = half the width of the route - distance of the cover from its middle line",
                   (length_value("x0", "cover from, across", cover.x0, display),
                    length_value("x1", "cover to, across", cover.x1, display),
                    length_value("y0", "cover from, up", cover.y0, display),
                    length_value("y1", "cover to, up", cover.y1, display)),
                   length_value("o", "overlap", overlap, display), (Basis("the zone of the job sheet", JOB),))


def zones(job: Job, box: Box, shape: Outlines) -> list[Finding]:
    """Cover against keep-clear zones, in the events in which they stand there."""
    display = job.settings.units
    items: list[Finding] = []
    using = {e.id: e for e in events_of(job, box)}
    for zone in job.all(KeepClear):
        gap = zone_gap(zone, shape.cover)
        if gap is None:
            continue
        busy = [using[e].name for e in zone.events if e in using]
        stands = bool(busy) or not zone.events  # whenever something plugs in here, or always
        where_when = f" in the event {' and '.join(busy)}, in which it is needed" if busy else \
            (" in an event in which nothing plugs in here" if zone.events else "")
        basis = "keep-clear zones of the job sheet"
        if gap < -TOUCH:
            if zone.what == "rolling route":
                items += [Finding(i, permanent=stands and i.state != ENGINEER) for i in _rolling(job, box, zone)]
                continue
            state = MEND if stands else CHECK
            needs = ", ".join(p.name for p in points_of(job, box) if any(in_use(p, e) for e in zone.events))
            what = f"lies under {zone.name}{where_when}" + (f" (points {needs})" if busy and needs else "")
            items.append(Finding(OpenItem(
                "box-in-zone", "boxes", box.title, what, f"overlap {small_text(-gap, display)}", basis,
                "move it clear of the zone, or serve those points from another box or a wall panel", state, POSITIONS,
                ("box", box.id), workings=(_overlap(zone, -gap, shape.cover, display),)), permanent=stands))
        elif gap < kept_from(job, zone) - 1e-9:
            items.append(Finding(OpenItem(
                "cover-near-step", "boxes", box.title, f"the cover is near the nosing of {zone.name}",
                of_text(gap, kept_from(job, zone), display),
                "common practice, no source", "move it away from the step", CHECK, POSITIONS, ("box", box.id))))
    return items


def _rolling(job: Job, box: Box, zone: KeepClear) -> list[OpenItem]:
    plan = layout(job, box)
    if plan is None:
        return []
    load = zone.load.si * STANDARD_GRAVITY if zone.load else None
    rated = plan.model.lid_load
    working = (lid_load(load, rated.si),) if load and rated is not None and rated.si > 0 else ()
    if load is not None and working and working[0].holds:
        return [OpenItem("deck-on-route", "boxes", box.title, f"lies on a rolling route, {zone.name}: the lid's figure "
                         "covers the wheel, the deck beside it is not shown to", f"{load / 1000:.2f} kN a wheel",
                         "data sheet of the lid; the deck is the engineer's", "ask about the deck beside the lid",
                         ENGINEER, POSITIONS, ("box", box.id), workings=working)]
    amount = f"{load / 1000:.2f} kN a wheel or leg" if load is not None else "load not known"
    amount += f", lid {rated.si / 1000:.2f} kN" if rated else ", lid not known"
    amount += f", {working[0].inputs[0].amount:g} times the wheel asked" if working else ""
    state = MEND if load is not None and rated is not None else STOP
    return [OpenItem("box-on-route", "boxes", box.title, f"lies on a rolling route, {zone.name}", amount,
                     "lid load of the data sheet against the wheel; a floor load by area does not check a lid",
                     "move it off the route, or choose a lid that carries it and ask about the deck beside it", state,
                     POSITIONS, ("box", box.id),
                     "" if state == MEND else f"What does the heaviest wheel on {zone.name} weigh, and what does the "
                                              "lid carry?", workings=working)]


@dataclass(frozen=True)
class Side:
    """One side of the stage: at what coordinate (m), along which axis, which way is inside, what a cover keeps from it."""

    name: str
    at: float
    along_y: bool
    sign: int
    least: float

    def gap(self, cover: Rect) -> float:
        low, high = (cover.y0, cover.y1) if self.along_y else (cover.x0, cover.x1)
        return ((low if self.sign > 0 else high) - self.at) * self.sign


def sides(job: Job, x: float, y: float) -> list[Side]:
    """The sides of the stage that count at a place; off the stage, on a floor with a level of its own, there is no edge."""
    s = job.settings
    zone = zone_at(job, x, y)
    known = ((s.stage_down, "the stage edge", True, 1, si(s.edge_gap)), (s.stage_up, "the back wall", True, -1, 0.0),
             (s.stage_left, "the wall stage left", False, -1, 0.0), (s.stage_right, "the wall stage right", False, 1, 0.0))
    found = [Side(name, at.si, along_y, sign, least) for at, name, along_y, sign, least in known if at is not None]
    if zone is not None and abs(si(zone.z)) > TOUCH:
        found = [side for side in found if side.name != "the stage edge"]
    return found


def edges(job: Job, box: Box, shape: Outlines) -> list[Finding]:
    """Cover against the sides of the stage."""
    s = job.settings
    items: list[Finding] = []
    for side in sides(job, si(box.x), si(box.y)):
        name, least = side.name, side.least
        gap = side.gap(shape.cover)
        if gap < least - 1e-9:
            outside = gap < 0
            by = told((least - gap) * side.sign, s.units)
            working = Working(f"Cover of {box.title} to {name}", "g = from the outline of the cover to the side", (),
                              length_value("g", "gap", gap, s.units), (Basis("outlines of cover and stage", JOB),),
                              length_value("", "kept from it", least, s.units), ">=")
            items.append(Finding(OpenItem("outside-stage" if outside else "cover-near-edge", "boxes", box.title,
                                  f"is over {name}" if outside else f"the cover is near {name}",
                                  small_text(gap, s.units) if outside else of_text(gap, least, s.units),
                                  "outline of the stage" if outside else "common practice, no source",
                                  f"move it {shift_words(by, side.along_y, s.units)}",
                                  MEND if outside else CHECK, POSITIONS, ("box", box.id), workings=(working,)),
                                 (0.0, by) if side.along_y else (by, 0.0)))
    return items
