"""What a floor box covers on the plan and what floor is under it: the ground that the fit rules share."""

from dataclasses import dataclass
from math import ceil, copysign, inf

from stagefloor.core.open_items import OpenItem
from stagefloor.core.units import INCH, Quantity, length_text
from stagefloor.core.workings import Value
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.model import Job
from stagefloor.job.sheet import FloorZone
from stagefloor.steps.boxes.geometry import Rect
from stagefloor.steps.boxes.schedule import layout

POSITIONS = "positions frozen"
SLABS = ("concrete slab on grade", "suspended concrete slab", "post-tensioned slab")
JOISTED = ("wood on joists", "")  # joists that are entered count on a floor that nobody knows, too
FINEST = 4  # lengths to read: 1/16 to 1/128 in, 1 to 0.001 mm
TOUCH = 1e-6  # metres: two edges that touch do not overlap


def si(quantity: Quantity | None, otherwise: float = 0.0) -> float:
    """The SI number of a quantity, or another one while it is not known."""
    return quantity.si if quantity is not None else otherwise


@dataclass(frozen=True)
class Finding:
    """One open item about a place, and the shift (across, up; metres) that clears it by itself; None: no simple one.

    `permanent`: it stands there whenever the box is used, so that another place mends it.
    """

    item: OpenItem
    shift: tuple[float, float] | None = None
    permanent: bool = False


@dataclass(frozen=True)
class Outlines:
    """The three outlines of a box at its place, and its depth (None: not known). Metres."""

    cutout: Rect
    body: Rect
    cover: Rect
    depth: float | None

    @property
    def hole(self) -> Rect:
        """What structure must leave free below the floor: it takes the cutout and the body."""
        a, b = self.cutout, self.body
        return Rect(min(a.x0, b.x0), min(a.y0, b.y0), max(a.x1, b.x1), max(a.y1, b.y1))

    def wider(self, along_y: bool) -> float:
        """How far the body reaches beyond the cutout on each side of an axis, both round one middle; metres."""
        return self.cutout.y0 - self.hole.y0 if along_y else self.cutout.x0 - self.hole.x0

    def hole_gap(self, along_y: bool, gap: float) -> float:
        """What the hole keeps from a joist so that the cutout keeps `gap` and the body does not touch it; metres."""
        return max(0.0, gap - self.wider(along_y))


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
    b_across, b_along = si(model.body_across, across), si(model.body_along, along)
    if turned:
        across, along, b_across, b_along = along, across, b_along, b_across
    cutout = Rect.around(px, py, across, along)
    return Outlines(cutout, Rect.around(px, py, b_across, b_along), cutout.grown(si(model.flange)),
                    model.depth.si if model.depth else None)


def zone_at(job: Job, x: float, y: float) -> FloorZone | None:
    """The smallest floor zone that holds a place."""
    found = [(abs((si(z.x1) - si(z.x0)) * (si(z.y1) - si(z.y0))), i, z) for i, z in enumerate(job.all(FloorZone))
             if z.x0 and z.y0 and z.x1 and z.y1
             and Rect.between(z.x0.si, z.y0.si, z.x1.si, z.y1.si).contains(x, y)]
    return min(found)[2] if found else None


def floor_type(job: Job, box: Box) -> str:
    """What the floor is made of under a box; empty if nobody knows."""
    zone = zone_at(job, si(box.x), si(box.y))
    return (zone.floor_type if zone and zone.floor_type else job.settings.floor_type)


def small_text(metres: float, display: str, finer: int = 0) -> str:
    """A length about a box to read: feet and inches, or millimetres below a metre."""
    return length_text(metres, "mm" if display == "m" and abs(metres) < 1.0 else display, finer)


def of_text(is_: float, wanted: float, display: str) -> str:
    """'3/8" of 1/2"': what is there of what is wanted (metres), as fine as it takes to read them apart."""
    for finer in range(FINEST):
        pair = small_text(is_, display, finer), small_text(wanted, display, finer)
        if pair[0] != pair[1]:
            break
    return " of ".join(pair)


def _step(display: str, finer: int) -> float:
    """What one step of a length to read is, in metres."""
    return INCH / 16 / 2.0**finer if display == "ft-in" else 0.001 / 10.0**finer


def told(amount: float, display: str, room: float = inf) -> float:
    """A signed shift as it is said (metres): away from zero to the next sixteenth or millimetre, so that who follows it
    does not clip. `room`: how much farther than `amount` it may go; where that is less, it is said finer.
    """
    for finer in range(FINEST):
        step = _step(display, finer)
        far = ceil(round(abs(amount) / step, 6)) * step
        if far - abs(amount) <= room + 1e-9:
            return copysign(far, amount)
    return amount


def shift_words(amount: float, along_stage: bool, display: str) -> str:
    """A signed shift that was `told`, in stage terms."""
    word = ("upstage" if amount > 0 else "downstage") if along_stage else \
        ("to stage left" if amount > 0 else "to stage right")
    whole = (finer for finer in range(FINEST) if abs((n := abs(amount) / _step(display, finer)) - round(n)) < 1e-5)
    return f"{small_text(abs(amount), display, next(whole, FINEST - 1))} {word}"


def shift_values(display: str, **ways: float | None) -> tuple[Value, ...]:
    """Shifts in metres, each with the words for what it reaches (underscores as blanks), as further values of a working."""
    return tuple(length_value("m", f"shift {words.replace('_', ' ')}", abs(by), display)
                 for words, by in ways.items() if by is not None and by == by)


def length_value(symbol: str, name: str, metres: float, display: str) -> Value:
    """A length as a named value in the user's unit."""
    return Value(symbol, name, metres / 0.3048, "ft", 4) if display == "ft-in" else Value(symbol, name, metres, "m", 4)
