"""Where a box may go: places that stand there or were marked, and places near the points, each with the models that fit.

A place counts against the most that are tried only if something can stand there; a point never loses its own to that.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from stagefloor.core.units import FOOT
from stagefloor.job.boxes import Box, BoxModel, Opening, Position
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import Joists, KeepClear
from stagefloor.steps.boxes import fit
from stagefloor.steps.boxes.fit_depth import too_deep
from stagefloor.steps.boxes.fit_outline import TOUCH, Outlines, outline_of, outlines, si, zone_at
from stagefloor.steps.boxes.fit_zones import sides, zone_gap
from stagefloor.steps.boxes.geometry import Rect, rect_gap
from stagefloor.steps.boxes.schedule import SET_STATES, is_fixed, layout

MOST_CANDIDATES = 70   # so that a plan is proven while the user waits
MOST_TRIED = 400       # places looked at beyond those of the points
STEP = 2 * FOOT
FARTHEST = 12 * FOOT   # from a point while no reach is entered
NEAR = ((0.0, 0.0), (STEP, 0.0), (-STEP, 0.0), (0.0, STEP), (0.0, -STEP))
LEVEL = 0.5            # metres: a lower floor than this below another is another level, such as a pit
WAYS = tuple((math.cos(a), math.sin(a)) for a in (i * math.pi / 4 for i in range(8)))


@dataclass(frozen=True)
class Place:
    """A place to try, in metres: what surface, the box that stands there, the models that may, which of them turned."""

    id: str
    x: float
    y: float
    z: float
    surface: str
    box: Box | None
    models: tuple[BoxModel, ...]
    turned: frozenset[str] = frozenset()

    @property
    def trial(self) -> Box:
        """The box that stands here, or a new one as if it did."""
        return self.box or Box(id=self.id, label="new", x=f"{self.x:.6f} m", y=f"{self.y:.6f} m", z=f"{self.z:.6f} m",
                               surface=self.surface)

    def outline(self, model: BoxModel) -> Outlines | None:
        """The outlines of a model that stands here."""
        return outline_of(model, self.x, self.y, model.id in self.turned)


def left_out(job: Job, box: Box) -> list[Point]:
    """The points of a box that no plan is asked about, because their place is not entered."""
    held = (job.find(Point, i) for i in box.points)
    return [p for p in held if p is not None and p.counts() and not (p.x and p.y)]


def stays(job: Job, box: Box) -> bool:
    """Whether a plan must leave a box where it is: it is fixed, or serves something that the plan is not asked about."""
    return is_fixed(box) or bool(left_out(job, box))


def on_stage(job: Job, x: float, y: float) -> bool:
    """Whether a place (metres) lies inside every side of the stage that counts there."""
    return all(((y if s.along_y else x) - s.at) * s.sign > 0 for s in sides(job, x, y))


def level_bars(point: Point, z: float, surface: str) -> bool:
    """Whether no cable is laid from a box to a point, as one of them is down in a pit and the other is not.

    A panel in a wall serves what lies below it; from a floor nothing hangs down, and nothing comes up out of a pit.
    """
    up = si(point.z) - z
    return (up < -LEVEL and surface == "floor") or (up > LEVEL and z < -LEVEL)


def in_zone(zone: KeepClear, cover: Rect) -> bool:
    """Whether a cover lies in a keep-clear zone."""
    gap = zone_gap(zone, cover)
    return gap is not None and gap < -TOUCH


class _Ground:
    """What stands in the way of a new floor box anywhere."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.models = job.all(BoxModel)
        self.forbidden = [(p.x.si, p.y.si) for p in job.all(Position) if p.use == "forbidden" and p.x and p.y]
        self.always = [z for z in job.all(KeepClear) if not z.events]
        self.fixed = [(b.id, o.cover) for b in job.boxes() if b.surface == "floor" and stays(job, b)
                      and (o := outlines(job, b)) is not None]

    def stands(self, model: BoxModel, x: float, y: float, turned: bool, own: str = "") -> bool:
        """Whether nothing permanent stands against this model here: marks, zones, depth, fixed boxes, structure, sides."""
        shape = outline_of(model, x, y, turned)
        if shape is None or any(shape.cover.contains(*p) for p in self.forbidden) or any(
                in_zone(z, shape.cover) for z in self.always) or any(
                rect_gap(shape.cover, cover) < -TOUCH for i, cover in self.fixed if i != own):
            return False
        if too_deep(shape, zone_at(self.job, x, y)):
            return False
        box = Box(id="trial", label="trial", model=model.id, x=f"{x:.6f} m", y=f"{y:.6f} m", turned=turned)
        return not fit.structure(self.job, box, shape)

    def place(self, spot: str, x: float, y: float, z: float, surface: str, box: Box | None = None) -> Place | None:
        """The place with the models that may stand there, or None if none may; a box that stays has one in any case.

        A box that stays keeps the model that was chosen for it, as long as that takes what it serves.
        """
        models = [m for m in self.models if m.surface == surface]
        keeps = box is not None and stays(self.job, box)
        if box is not None and box.model and (box.state in SET_STATES or (keeps and layout(self.job, box) is not None)):
            models = [m for m in self.models if m.id == box.model]
        as_it_is = bool(box is not None and box.turned)
        if surface != "floor" or (box is not None and box.state in SET_STATES):
            return Place(spot, x, y, z, surface, box, tuple(models),
                         frozenset(m.id for m in models if as_it_is)) if models or keeps else None
        fitting, turned = [], set()
        for m in models:
            for turn in (as_it_is,) if keeps else (as_it_is, not as_it_is):
                if self.stands(m, x, y, turn, box.id if box is not None else ""):
                    fitting.append(m)
                    turned |= {m.id} if turn else set()
                    break
        if not fitting and keeps:
            fitting, turned = models, {m.id for m in models if as_it_is}
        return Place(spot, x, y, z, surface, box, tuple(fitting), frozenset(turned)) if fitting or keeps else None


def _snapped(job: Job, x: float, y: float) -> tuple[float, float]:
    """The nearest place in the middle of a joist bay."""
    for j in job.all(Joists):
        if j.offset is None or j.spacing is None or j.spacing.si <= 0:
            continue
        at = x if j.run == "up and down stage" else y
        middle = j.offset.si + (math.floor((at - j.offset.si) / j.spacing.si) + 0.5) * j.spacing.si
        return (middle, y) if j.run == "up and down stage" else (x, middle)
    return x, y


class _Grid:
    """New places on the floor, each looked at once."""

    def __init__(self, job: Job, ground: _Ground) -> None:
        self.job, self.ground = job, ground
        self.seen: dict[tuple[int, int], Place | None] = {}
        self.found: dict[str, Place] = {}

    def try_at(self, x: float, y: float) -> Place | None:
        """The place nearest to this one in the middle of a bay, if something may stand there."""
        x, y = _snapped(self.job, x, y)
        key = (round(x / 0.15), round(y / 0.15))
        if key not in self.seen:
            zone = zone_at(self.job, x, y)
            self.seen[key] = self.ground.place(f"grid:{x:.3f},{y:.3f}", x, y, si(zone.z) if zone else 0.0, "floor") \
                if on_stage(self.job, x, y) else None
        return self.seen[key]

    def beside(self, point: Point) -> Place | None:
        """The first place outwards from a point from which it can be served."""
        reach = si(self.job.settings.reach, FARTHEST)
        for dx, dy in _outwards(reach):
            place = self.try_at(si(point.x) + dx, si(point.y) + dy)
            if place is None:
                continue
            loose = fit.loose_length(place.trial, point)
            if loose is not None and loose <= reach + TOUCH and not level_bars(point, place.z, place.surface) \
                    and not fit.loose_crosses(self.job, place.trial, point):
                return place
        return None


def _outwards(reach: float) -> Iterator[tuple[float, float]]:
    yield from NEAR
    for ring in range(1, int(reach / STEP + 1e-9) + 1):
        yield from ((ring * STEP * dx, ring * STEP * dy) for dx, dy in WAYS)


def places(job: Job) -> list[Place]:
    """Every place to try: boxes, marks, one for each point, then more between and round the points as far as they go."""
    ground = _Ground(job)
    found = [ground.place(f"box:{b.id}", b.x.si, b.y.si, si(b.z), b.surface, b) for b in job.boxes() if b.x and b.y]
    found += [ground.place(f"mark:{p.id}", p.x.si, p.y.si, si(p.z), p.surface) for p in job.all(Position)
              if p.x and p.y and p.use == "possible"]
    chosen = {p.id: p for p in found if p is not None}
    grid, points = _Grid(job, ground), [p for p in job.all(Point) if p.x and p.y]
    for point in points:
        if point.counts() and (place := grid.beside(point)) is not None:
            chosen.setdefault(place.id, place)
    at = [(si(p.x), si(p.y)) for p in points]
    reach = si(job.settings.reach)
    pairs = [((xa + xb) / 2, (ya + yb) / 2) for i, (xa, ya) in enumerate(at) for xb, yb in at[i + 1:]
             if math.hypot(xa - xb, ya - yb) <= 2 * reach]
    most = len(grid.seen) + MOST_TRIED
    for x, y in [*at, *pairs, *((x + dx, y + dy) for dx, dy in NEAR[1:] for x, y in at)]:
        if len(chosen) >= MOST_CANDIDATES or len(grid.seen) >= most:
            break
        if (place := grid.try_at(x, y)) is not None:
            chosen.setdefault(place.id, place)
    return list(chosen.values())


def built_openings(job: Job, box: Box) -> dict[str, int]:
    """Openings in use in a box by kind."""
    found: dict[str, int] = {}
    for o in job.all(Opening):
        if o.state == "in use" and o.box == box.id:
            found[o.what] = found.get(o.what, 0) + 1
    return found
