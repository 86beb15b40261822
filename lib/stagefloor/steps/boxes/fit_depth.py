"""Is there room below the floor for the depth of a box? Over a slab that is another question: `fit_slab` asks it."""

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.job.boxes import Box
from stagefloor.job.model import Job
from stagefloor.job.sheet import FloorZone
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.fit_outline import (
    POSITIONS,
    SLABS,
    Outlines,
    floor_type,
    of_text,
    si,
    small_text,
    zone_at,
)
from stagefloor.steps.boxes.schedule import Layout


def too_deep(shape: Outlines, zone: FloorZone | None) -> bool:
    """Whether a box is deeper than what is entered as clear below the floor; equal lengths may be typed in two units."""
    return zone is not None and zone.clear_below is not None and shape.depth is not None \
        and shape.depth > zone.clear_below.si + 1e-9


def depth(job: Job, box: Box, shape: Outlines, plan: Layout) -> list[OpenItem]:
    """The depth of a box, and the raceway below it, against what is clear below the floor."""
    zone = zone_at(job, si(box.x), si(box.y))
    if box.surface != "floor" or zone is None or zone.clear_below is None or shape.depth is None:
        return []
    display, clear = job.settings.units, zone.clear_below.si
    tails = max((connections()[k].depth_behind for k in plan.contents.openings), default=0.0)
    if too_deep(shape, zone):
        return [OpenItem("box-too-deep", "boxes", box.title, f"is deeper than what is free below in {zone.name}",
                         of_text(shape.depth, clear, display), "the job sheet's floor zone",
                         "choose a shallower model or another place", MEND, POSITIONS, ("box", box.id))]
    if shape.depth + tails > clear:
        return [OpenItem("box-entry-tight", "boxes", box.title, "leaves little room for the raceway entry below it",
                         small_text(clear - shape.depth, display), "common practice, no source",
                         "bring the raceway in from the side", CHECK, POSITIONS, ("box", box.id))]
    return []


def clear_below_unknown(job: Job) -> list[OpenItem]:
    """What is clear below, where nobody has entered it: one item a floor zone, one for all boxes outside of any."""
    placed = [b for b in job.boxes() if b.surface == "floor" and b.x and b.y and floor_type(job, b) not in SLABS]
    held: dict[str, tuple[FloorZone | None, list[Box]]] = {}
    for box in placed:
        zone = zone_at(job, si(box.x), si(box.y))
        if zone is None or zone.clear_below is None:
            held.setdefault(zone.id if zone else "", (zone, []))[1].append(box)
    items = []
    for zone, boxes in held.values():
        which = ", ".join(b.label for b in boxes)
        items.append(OpenItem(
            "clear-below-unknown", "boxes", f"Floor {zone.name}" if zone else "Floor",
            "how much is clear below the finish is not known: no depth is checked",
            f"{len(boxes)} floor box{'es' if len(boxes) > 1 else ''}: {which}", "survey fields of the trade (common "
            "practice, no source)", "measure it, and enter it as what is clear below the finish " + (
                "of this floor zone" if zone else "of a floor zone round them"), TO_DO, POSITIONS,
            ("zone", zone.id) if zone else ("box", boxes[0].id),
            f"How much is clear below the finish under {which}, down to the ground or the first thing in the way?"))
    return items
