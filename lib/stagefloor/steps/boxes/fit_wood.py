"""Cutout and body against joists and bearing lines. Screens for wood: a cut member always goes to the engineer."""

from dataclasses import dataclass, replace

from stagefloor.core.open_items import CHECK, MEND, STOP, OpenItem
from stagefloor.core.workings import JOB, PRACTICE, Basis, Working
from stagefloor.job.boxes import Box
from stagefloor.job.model import Job
from stagefloor.job.sheet import Bearing, Joists
from stagefloor.reference.tables import load
from stagefloor.steps.boxes.fit_outline import (
    POSITIONS,
    TOUCH,
    Finding,
    Outlines,
    length_value,
    of_text,
    shift_values,
    shift_words,
    si,
    small_text,
    told,
)
from stagefloor.steps.boxes.geometry import overlap

UP = "up and down stage"
LAID_OUT = 1e-4  # metres: no tape lays out less, and half of the finest shift that is told is not more


@dataclass(frozen=True)
class Clash:
    """How far an interval cuts into structure, and the shifts that clear it: barely, with the gap, centred. Metres.

    None: no bay is wide enough for it. `room`: how much wider the clear bay is than the interval.
    """

    cut: float
    gap: float
    barely: float | None
    with_gap: float | None
    centred: float | None
    room: float

    def as_told(self, gap: float, display: str) -> "Clash":
        """The same with its shifts as they are said: each still reaches what it says, `gap` among it."""
        kept = gap if self.with_gap is not None else 0.0
        ways = ((self.barely, self.room), (self.with_gap, self.room - 2 * gap), (self.centred, self.room / 2 - kept))
        barely, with_gap, centred = (None if by is None else told(by, display, room) for by, room in ways)
        return replace(self, barely=barely, with_gap=with_gap, centred=centred)


def joist_clash(joists: Joists, low: float, high: float, gap: float) -> Clash | None:
    """A cutout from `low` to `high` (metres, square to the joists) against a field of joists.

    Returns None if both faces keep `gap`, to a tenth of a millimetre. Shifts are signed along the axis, the smaller way
    first; `cut` is how far the cutout cuts into a joist (0 if it only comes too near).
    """
    if joists.offset is None or joists.spacing is None or joists.width is None or joists.spacing.si <= 0:
        return None
    step, half = joists.spacing.si, joists.width.si / 2
    width, middle = high - low, (low + high) / 2
    clear = step - 2 * half
    first = round((middle - joists.offset.si) / step)
    near = [joists.offset.si + (first + k) * step for k in (-1, 0, 1)]
    cuts = [overlap(low, high, c - half, c + half) for c in near]
    worst = max(cuts)
    if worst <= -gap + LAID_OUT:
        return None
    ways: list[float | None] = []
    for keep in (0.0, gap):
        if width + 2 * keep > clear + 1e-9:
            ways.append(None)
            continue
        options = [c + half + keep - low for c in near] + [c - half - keep - high for c in near]
        free = [s for s in options if max(overlap(low + s, high + s, c - half, c + half) for c in
                                          [near[0] - step, *near, near[-1] + step]) <= -keep + 1e-9]
        ways.append(min(free, key=abs, default=None))
    bay = round((middle - joists.offset.si) / step - 0.5) + 0.5
    centres = [joists.offset.si + (bay + k) * step for k in (-1, 0, 1)]
    centred = min((c - middle for c in centres), key=abs) if width <= clear + 1e-9 else None
    return Clash(worst if worst > LAID_OUT else 0.0, max(0.0, -worst), ways[0], ways[1], centred, clear - width)


def members(job: Job, box: Box, shape: Outlines) -> list[Finding]:
    """Cutout and body against joists and bearing lines: the flange may lap a member, the body may not."""
    display = job.settings.units
    items: list[Finding] = []
    for field in job.all(Joists):
        up = field.run == UP
        low, high = (shape.hole.x0, shape.hole.x1) if up else (shape.hole.y0, shape.hole.y1)
        if field.offset is None or si(field.spacing) <= 0 or si(field.width) <= 0:
            items.append(Finding(OpenItem(
                "joists-unknown", "boxes", box.title, "where the joists are is not known", "unknown", "the job sheet",
                "look from below or open the floor; enter one joist, its width and the spacing", STOP, POSITIONS,
                ("box", box.id), "Where is one joist, how wide is it, and how far apart are they?")))
            continue
        gap = shape.hole_gap(not up, si(job.settings.joist_gap))
        clash = joist_clash(field, low, high, gap)
        if clash is not None:
            clash = clash.as_told(gap, display)
            by = clash.with_gap if clash.with_gap is not None or not clash.cut else clash.barely
            items.append(Finding(_joist_item(job, box, field, clash, shape, up),
                                 None if by is None else (by, 0.0) if up else (0.0, by)))
    # bearing lines lie square to the joists, so they are measured along them
    runs = dict.fromkeys(field.run == UP for field in job.all(Joists))
    return items + [found for up in runs for line in job.all(Bearing) for found in _bearing(job, box, line, shape, up)]


def _bearing(job: Job, box: Box, line: Bearing, shape: Outlines, up: bool) -> list[Finding]:
    if line.at is None:
        return []
    display, part = job.settings.units, _part(shape, up)
    low, high = (shape.hole.y0, shape.hole.y1) if up else (shape.hole.x0, shape.hole.x1)
    half = si(line.half_width)
    cut = overlap(low, high, line.at.si - half, line.at.si + half)
    if cut <= TOUCH:
        return []
    best = told(min((line.at.si + half - low, line.at.si - half - high), key=abs), display)
    working = Working(f"{part.capitalize()} on a bearing line", f"c = overlap of the {part} with the line and what "
                      "is kept clear each side",
                      (length_value("y0", f"{part} from", low, display), length_value("y1", f"{part} to", high, display),
                       length_value("b", "bearing line at", line.at.si, display),
                       length_value("h", "kept clear each side", half, display)),
                      length_value("c", "overlap", cut, display),
                      (Basis("this job's own bearing line; keeping off it is common practice", PRACTICE),),
                      also=shift_values(display, to_clear_it=best))
    return [Finding(OpenItem(
        "box-on-bearing", "boxes", box.title,
        f"the {part} lies on the bearing line {line.name}" + (" with blocking" if line.blocking else ""),
        f"overlap {small_text(cut, display)}", "bearing lines of this job; a bearing is not cut without the "
        "engineer", f"move it {shift_words(best, up, display)}, or ask the engineer", MEND, POSITIONS, ("box", box.id),
        workings=(working,)), (0.0, best) if up else (best, 0.0))]


def _part(shape: Outlines, along_y: bool) -> str:
    """What reaches farthest on an axis."""
    return "body" if shape.wider(along_y) > TOUCH else "cutout"


def _joist_item(job: Job, box: Box, field: Joists, clash: Clash, shape: Outlines, up: bool) -> OpenItem:
    display, along = job.settings.units, not up
    low, high = (shape.hole.x0, shape.hole.x1) if up else (shape.hole.y0, shape.hole.y1)
    part, wider = _part(shape, along), shape.wider(along)
    body = load("placement_rules").row("box body to joist")
    assert field.spacing is not None and field.width is not None
    working = Working(
        f"{part.capitalize()} against the joists",
        f"clear bay = spacing - joist width; cut = overlap of {part} and joist",
        (length_value("s", "spacing, centre to centre", field.spacing.si, display),
         length_value("w", "joist width", field.width.si, display), length_value("a", f"{part} from", low, display),
         length_value("b", f"{part} to", high, display)),
        length_value("c", "cut into the joist" if clash.cut else "gap from the cutout to the joist face" if wider else
                     "gap to the joist face", clash.cut or clash.gap + wider, display),
        (Basis("the job sheet's joists", JOB), Basis("gap to the joist face", PRACTICE),
         *((Basis(f"{body.text('rule')}: {body.text('what')}", body.basis().status),) if part == "body" else ())),
        limit=None if clash.cut else length_value("", "gap by policy", si(job.settings.joist_gap), display), sense=">=",
        also=shift_values(display, to_clear_it=clash.barely, with_the_gap=clash.with_gap, to_centre_it=clash.centred))
    how_far = clash.cut or clash.gap + wider
    wanted = si(job.settings.joist_gap)
    if clash.barely is None:
        cure = _turned(job, field, shape, up) + "choose a narrower model, or have the opening framed as the engineer says"
    else:
        ways = []
        if clash.cut:
            ways.append(f"{shift_words(clash.barely, along, display)} to clear it")
        if clash.with_gap is not None and not (clash.cut and clash.with_gap == clash.barely):
            ways.append(f"{shift_words(clash.with_gap, along, display)} with {small_text(wanted, display)} to the "
                        "joist face")
        if clash.centred:
            ways.append(f"{shift_words(clash.centred, along, display)} to centre it in the bay")
        cure = "; ".join(w for w in ("move it " + "; ".join(ways) if ways else "", "" if clash.with_gap is not None else
                                     f"no bay leaves {small_text(wanted, display)} on both sides of it: a narrower model, "
                                     "or the opening framed as the engineer says",
                                     "a cut joist goes to the engineer") if w)
    if clash.cut:
        return OpenItem("box-on-joist", "boxes", box.title, f"the {part} cuts into a joist", small_text(how_far, display),
                        "joists of the job sheet; wood limits are screens, the engineer decides" + (
                            "; the flange may lap a joist, the body may not" if part == "body" else ""), cure, MEND,
                        POSITIONS, ("box", box.id), workings=(working,))
    return OpenItem("box-near-joist", "boxes", box.title, "the cutout comes nearer to a joist than the job's policy",
                    of_text(how_far, wanted, display), "common practice, no source", cure, CHECK, POSITIONS,
                    ("box", box.id), workings=(working,))


def _turned(job: Job, field: Joists, shape: Outlines, up: bool) -> str:
    """What a quarter turn does for a cutout that is too wide for the bays as it stands."""
    low, high = (shape.hole.y0, shape.hole.y1) if up else (shape.hole.x0, shape.hole.x1)
    across, along = (shape.hole.x0, shape.hole.x1) if up else (shape.hole.y0, shape.hole.y1)
    middle, half = (across + along) / 2, (high - low) / 2
    gap = shape.hole_gap(up, si(job.settings.joist_gap))
    clash = joist_clash(field, middle - half, middle + half, gap)
    if clash is None:
        return "no clear bay is wide enough as it stands; turned a quarter it clears the joists; or "
    by = clash.as_told(gap, job.settings.units).with_gap
    if by is not None:
        return ("no clear bay is wide enough as it stands; turn it a quarter and move it "
                f"{shift_words(by, not up, job.settings.units)}; or ")
    if clash.barely is not None:
        return "no clear bay is wide enough as it stands; turned a quarter one takes it, without the gap by policy; or "
    return "no clear bay is wide enough, turned or not: "
