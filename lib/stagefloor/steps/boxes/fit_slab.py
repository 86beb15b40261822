"""A floor box over or in a slab: the depth the build-up leaves, the pocket it needs, tendons, the room below.

A pocket is 'stop, unknown' until the slab was scanned at this very place; afterwards it is still the engineer's to
answer. A slab that is too thin for it is a plain conflict, scanned or not.
"""

from stagefloor.core.open_items import CHECK, ENGINEER, MEND, STOP, OpenItem
from stagefloor.core.workings import JOB, Basis, Working
from stagefloor.job.boxes import Box
from stagefloor.job.model import Job
from stagefloor.job.sheet import FloorZone, Tendon
from stagefloor.reference.tables import fact, load
from stagefloor.steps.boxes.fit_outline import (
    POSITIONS,
    SLABS,
    Finding,
    Outlines,
    floor_type,
    length_value,
    of_text,
    outlines,
    shift_values,
    shift_words,
    si,
    small_text,
    told,
    zone_at,
)
from stagefloor.steps.boxes.geometry import overlap

ON_GRADE = SLABS[0]
ROUNDING = 1e-9


def pocket_depth(job: Job, box: Box, shape: Outlines | None) -> float | None:
    """How deep a pocket in the slab the box needs, metres; 0 for none, None while depth or build-up is not known."""
    if floor_type(job, box) not in SLABS:
        return 0.0
    zone = zone_at(job, si(box.x), si(box.y))
    if zone is None or zone.build_up is None or shape is None or shape.depth is None:
        return None
    return max(0.0, shape.depth - (si(zone.build_up) - si(zone.slab_gap)))


def slab(job: Job, box: Box, shape: Outlines | None) -> list[OpenItem]:
    """The pocket that a box needs, what is not known about it, and whether the slab is thick enough for it."""
    deep = pocket_depth(job, box, shape)
    if deep == 0.0:
        return []
    return [_pocket(job, box, shape, deep), *_thickness(job, box, deep)]


def _pocket(job: Job, box: Box, shape: Outlines | None, deep: float | None) -> OpenItem:
    display, where, title = job.settings.units, ("box", box.id), box.title
    zone = zone_at(job, si(box.x), si(box.y))
    word = "tendons" if floor_type(job, box) == "post-tensioned slab" else "bars, conduits and tendons"
    amount, needs = "unknown", "how deep it goes into the slab is not known"
    workings: tuple[Working, ...] = ()
    questions: list[str] = []
    if deep is not None and zone is not None and shape is not None and shape.depth is not None:
        amount = f"pocket {small_text(deep, display)} deep"
        amount += f" in a slab of {small_text(zone.slab.si, display)}" if zone.slab else ", slab thickness not known"
        needs = "is deeper than the build-up and needs a pocket in the slab"
        workings = (Working("Pocket in the slab", "p = t - (b - g)",
                            (length_value("t", "depth of the floor box", shape.depth, display),
                             length_value("b", "build-up over the slab", si(zone.build_up), display),
                             length_value("g", "kept clear of the slab", si(zone.slab_gap), display)),
                            length_value("p", "pocket", deep, display), (Basis("this job's floor zone", JOB),)),)
    elif zone is None or zone.build_up is None:
        questions.append(f"How thick is the floor over the slab {f'in {zone.name}' if zone else f'at {title}'}, layer by "
                         "layer?")
    if deep is None or zone is None or zone.slab is None:
        questions.append(f"How thick is the slab {f'in {zone.name}' if zone else f'at {title}'}?")
    if not box.scan.strip():
        scan = load("concrete_rules").row("scan before coring")
        questions.insert(0, f"Where are the {word} at {title}? (scan, with report number)")
        return OpenItem("slab-not-scanned", "boxes", title,
                        f"{needs}; the slab was not scanned for {word} at this place", amount,
                        f"{scan.text('rule')} ({scan.basis().line()})", "have it scanned and the engineer answer in "
                        "writing, and enter the number of the report with the floor box; or choose a model that stays in "
                        "the build-up", STOP, POSITIONS, where, "\n".join(questions), workings)
    if deep is None:
        return OpenItem("pocket-unknown", "boxes", title, needs, "unknown", "the job sheet's floor zone",
                        ("enter the build-up over the slab" if zone else "enter a floor zone round it with its build-up "
                         "over the slab") + ", and the depth of the model", STOP, POSITIONS, where,
                        "\n".join(questions) or f"How deep is {title}?", workings)
    return OpenItem("slab-pocket", "boxes", title, needs, amount, "a scan is no leave to cut: the engineer's answer is",
                    f"ask the engineer in writing, with the scan ({box.scan.strip()}); it has to show this very place",
                    ENGINEER, POSITIONS, where, "\n".join(questions), workings)


def _thickness(job: Job, box: Box, deep: float | None) -> list[OpenItem]:
    """A pocket against the slab and the cover that stays below it."""
    zone, display = zone_at(job, si(box.x), si(box.y)), job.settings.units
    if deep is None or zone is None or zone.slab is None:
        return []
    rule, cover = load("concrete_rules").row("slab that takes a poured-in box"), fact("floor_rules", "slab_cover")
    left = zone.slab.si - deep
    if left >= cover.si() - 1e-9:
        return []
    through = left <= 1e-9
    working = Working("Slab left below the pocket", "l = s - p",
                      (length_value("s", "slab", zone.slab.si, display), length_value("p", "pocket", deep, display)),
                      length_value("l", "left; below zero: the pocket goes through", left, display),
                      (Basis(f"{rule.text('item')}: {rule.text('rule')}", rule.basis().status), cover.basis()),
                      limit=length_value("", "bottom cover", cover.si(), display), sense=">=")
    amount = f"pocket {small_text(deep, display)} in a slab of {small_text(zone.slab.si, display)}" if through else \
        of_text(left, cover.si(), display)
    return [OpenItem("slab-too-thin", "boxes", box.title,
                     "its pocket would go through the slab" if through else
                     "its pocket leaves less of the slab below it than the bottom cover", amount,
                     f"{rule.text('rule')} ({rule.basis().line()}); bottom cover {small_text(cover.si(), display)}: "
                     f"{cover.basis().line()}",
                     "choose a shallower model or another place; a thicker slab, or a pocket formed or fire-rated below "
                     "it, is the engineer's", MEND if through else ENGINEER, POSITIONS, ("box", box.id),
                     workings=(working,))]


def uncut(job: Job, box: Box) -> tuple[str, ...]:
    """What holds back whoever would cut the slab for a box, in words for the crew."""
    if box.surface != "floor" or not (box.x and box.y) or pocket_depth(job, box, outlines(job, box)) == 0.0:
        return ()
    scan = box.scan.strip()
    known, first = (f"the slab scan of this place is {scan}; a scan is no leave to cut", "") if scan else \
        ("no scan of the slab at this place is entered", "it was scanned and ")
    return (f"{box.title}: {known}. Cut, core and drill nothing in the slab here before {first}the engineer has answered in "
            "writing.",)


def tendons(job: Job, box: Box, shape: Outlines) -> list[Finding]:
    """The pocket against tendons and bands, with what the job keeps from them."""
    found: list[Finding] = []
    if not job.all(Tendon) or floor_type(job, box) not in SLABS or pocket_depth(job, box, shape) == 0.0:
        return found
    display, keep, hole = job.settings.units, si(job.settings.tendon_gap), shape.hole
    for tendon in job.all(Tendon):
        if tendon.at is None:
            continue
        up = tendon.run == "up and down stage"
        low, high = (hole.x0, hole.x1) if up else (hole.y0, hole.y1)
        near, far = tendon.at.si - si(tendon.half_width), tendon.at.si + si(tendon.half_width)
        gap = -overlap(low, high, near, far)
        if gap >= keep - 1e-9 and gap > 1e-9:
            continue
        on = gap <= 1e-9
        inside = min(far - low, high - near)
        off = max(keep, ROUNDING * 10)  # touching is on it
        shift = told(min((far + off - low, near - off - high), key=abs), display)
        working = Working("Pocket to a tendon", "d = from the nearer edge of the pocket to the tendon; below zero: inside",
                          (length_value("a", "pocket from", low, display), length_value("b", "pocket to", high, display),
                           length_value("m", "middle of the tendon or band", tendon.at.si, display),
                           length_value("h", "half width", si(tendon.half_width), display)),
                          length_value("d", "distance", -inside if on else gap, display),
                          (Basis("tendons of this job's drawing or scan, distance by this job's policy", JOB),),
                          limit=length_value("", "distance by policy", keep, display), sense=">=",
                          also=shift_values(display, to_clear_it=shift))
        known = "the scan" if tendon.evidence == "scan" else "the drawing only: a tendon may lie elsewhere"
        found.append(Finding(OpenItem(
            "pocket-on-tendon" if on else "pocket-near-tendon", "boxes", box.title,
            f"the pocket lies on the {tendon.what} {tendon.name}" if on else
            f"the pocket comes nearer to the {tendon.what} {tendon.name} than the job's policy",
            f"{small_text(inside, display)} inside the pocket" if on else
            of_text(gap, keep, display),
            f"known from {known}; {small_text(keep, display)} is this job's own value",
            f"move it {shift_words(shift, not up, display)}; never cut near a tendon without scan and engineer",
            MEND if on else ENGINEER, POSITIONS, ("box", box.id), workings=(working,)),
            (shift, 0.0) if up else (0.0, shift)))
    return found


def rooms(job: Job) -> list[OpenItem]:
    """The room under pockets: one item a floor zone, for fire and sound, and one for all boxes outside of any."""
    held: dict[str, tuple[FloorZone | None, list[Box]]] = {}
    for box in job.boxes():
        if not (box.x and box.y and box.surface == "floor") or floor_type(job, box) == ON_GRADE or \
                pocket_depth(job, box, outlines(job, box)) == 0.0:
            continue
        zone = zone_at(job, si(box.x), si(box.y))
        held.setdefault(zone.id if zone else "", (zone, []))[1].append(box)
    items = []
    fire = load("site_safety").row("firestop rating")
    for zone, boxes in held.values():
        which = ", ".join(b.label for b in boxes)
        rule = f"{fire.text('rule')} ({fire.basis().line()})" if job.settings.basis == "US" else \
            "a rated floor keeps its rating at every pocket and sleeve; local fire and sound rules decide (from memory)"
        amount = f"{len(boxes)} floor box{'es' if len(boxes) > 1 else ''}: {which}"
        if zone is None:
            items.append(OpenItem("below-unknown", "boxes", "Floor", "what is below the slab is not known", amount, rule,
                                  "look below, or ask the house; enter it with a floor zone round them", STOP, POSITIONS,
                                  ("box", boxes[0].id), f"What is below the slab under {which}, and who uses it?"))
            continue
        where, subject = ("zone", zone.id), f"Floor {zone.name}"
        if not zone.room_below:
            items.append(OpenItem("below-unknown", "boxes", subject, "what is below the slab is not known", amount, rule,
                                  "look below, or ask the house", STOP, POSITIONS, where,
                                  f"What is below the slab under {zone.name}, and who uses it?"))
        elif zone.room_below == "in use" and not zone.rating.strip():
            items.append(OpenItem("rating-unknown", "boxes", subject, "a room below is in use, and the fire and sound "
                                  "rating that the pockets must keep is not known", amount, rule,
                                  "ask the architect or the fire and sound consultants; enter it", STOP, POSITIONS, where,
                                  f"Which fire and sound rating must the slab under {zone.name} keep at each pocket?"))
        elif zone.room_below == "in use":
            items.append(OpenItem("rating-kept", "boxes", subject, f"pockets must keep {zone.rating}", amount, rule,
                                  "have each pocket's detail confirmed in writing", CHECK, POSITIONS, where))
    return items
