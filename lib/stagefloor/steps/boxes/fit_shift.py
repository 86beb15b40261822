"""The nearest place that is clear of structure, edges, zones in its way and other boxes, in both directions.

Structure and edges bind one axis each, so a shift is tried axis by axis first; zones are asked last.
"""

from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor, hypot, inf

from stagefloor.core.units import INCH, length_text
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.boxes import Box
from stagefloor.job.model import Job
from stagefloor.job.sheet import Bearing, Joists, KeepClear, Tendon
from stagefloor.steps.boxes.fit_outline import (
    JOISTED,
    SLABS,
    Outlines,
    floor_type,
    length_value,
    outlines,
    shift_values,
    shift_words,
    si,
    zone_at,
)
from stagefloor.steps.boxes.fit_slab import ROUNDING, pocket_depth
from stagefloor.steps.boxes.fit_wood import UP
from stagefloor.steps.boxes.fit_zones import events_of, kept_from, sides, zone_gap
from stagefloor.steps.boxes.geometry import Rect, overlap, rect_gap

ALL = "structure, edges, zones in its way and other floor boxes"
FARTHEST = 24 * INCH  # farther off it is another position, not a shift
STEP = {"ft-in": INCH / 4, "m": 0.005}
NEAR = FARTHEST + 2.0  # metres from middle to middle: two boxes farther apart never meet by a shift
LEAST_BAY = 0.001  # a smaller one between two joists is a slip of the finger


@dataclass(frozen=True)
class Band:
    """A stretch of one axis that a stretch of the box (from `low` to `high`, as it stands) must keep out of. Metres."""

    low: float
    high: float
    near: float
    far: float

    def kept(self, by: float) -> bool:
        return overlap(self.low + by, self.high + by, self.near, self.far) <= ROUNDING


def neighbours(job: Job, box: Box) -> tuple[Box, ...]:
    """The other floor boxes that a shift could bring it to."""
    x, y = si(box.x), si(box.y)
    return tuple(b for b in job.boxes() if b.id != box.id and b.surface == "floor" and b.x and b.y
                 and hypot(b.x.si - x, b.y.si - y) <= NEAR)


class Surroundings:
    """What stands round one box."""

    def __init__(self, job: Job, box: Box, shape: Outlines) -> None:
        self.job, self.box, self.shape = job, box, shape
        self.home = zone_at(job, si(box.x), si(box.y))
        using = {e.id for e in events_of(job, box)}
        self.zones = [(z, kept_from(job, z)) for z in job.all(KeepClear) if not z.events or using & set(z.events)]
        self.covers = [o.cover for b in neighbours(job, box) if (o := outlines(job, b)) is not None]
        self.bands: tuple[list[Band], list[Band]] = ([], [])
        kind = floor_type(job, box)
        if kind in SLABS:
            self._slab()
        elif kind in JOISTED:
            self._wood()
        for side in sides(job, si(box.x), si(box.y)):
            near, far = (-inf, side.at + side.least) if side.sign > 0 else (side.at - side.least, inf)
            self._add(side.along_y, shape.cover, near, far)

    def _add(self, along_y: bool, part: Rect, near: float, far: float) -> None:
        low, high = (part.y0, part.y1) if along_y else (part.x0, part.x1)
        self.bands[along_y].append(Band(low, high, near, far))

    def _wood(self) -> None:
        hole = self.shape.hole
        for field in self.job.all(Joists):
            if field.offset is None or field.spacing is None or field.width is None or field.spacing.si <= 0:
                continue
            along_y = field.run != UP
            low, high = (hole.y0, hole.y1) if along_y else (hole.x0, hole.x1)
            gap = self.shape.hole_gap(along_y, si(self.job.settings.joist_gap))
            half, at, step = field.width.si / 2, field.offset.si, field.spacing.si
            if step - 2 * (half + gap) >= high - low - ROUNDING:
                half += gap  # else no bay leaves the gap on both sides, and clear of the joists is all there is
            if step - 2 * half < max(high - low - ROUNDING, LEAST_BAY):
                self._add(along_y, hole, -inf, inf)  # no bay takes it
            else:
                for k in range(floor((low - FARTHEST - at) / step), ceil((high + FARTHEST - at) / step) + 1):
                    self._add(along_y, hole, at + k * step - half, at + k * step + half)
        for up in {field.run == UP for field in self.job.all(Joists)}:
            for line in self.job.all(Bearing):
                if line.at is not None:
                    self._add(up, hole, line.at.si - si(line.half_width), line.at.si + si(line.half_width))

    def _slab(self) -> None:
        if pocket_depth(self.job, self.box, self.shape) == 0.0:
            return
        for tendon in self.job.all(Tendon):
            if tendon.at is not None:
                half = si(tendon.half_width) + max(si(self.job.settings.tendon_gap), ROUNDING * 10)
                self._add(tendon.run == "across the stage", self.shape.hole, tendon.at.si - half, tendon.at.si + half)

    def depth(self, dx: float, dy: float) -> float:
        """How deep the cover lies in the worst zone in its way, with what is kept from it, or in another cover after a
        shift, metres; 0 or less is clear.
        """
        c = self.shape.cover
        moved = Rect(c.x0 + dx, c.y0 + dy, c.x1 + dx, c.y1 + dy)
        return max((*(kept - gap for z, kept in self.zones if (gap := zone_gap(z, moved)) is not None),
                    *(-rect_gap(cover, moved) for cover in self.covers)), default=-inf)

    def clear(self, dx: float, dy: float) -> bool:
        """Whether nothing is in the way after a shift, on the same floor."""
        same = zone_at(self.job, si(self.box.x) + dx, si(self.box.y) + dy) is self.home
        return same and all(b.kept(d) for bands, d in zip(self.bands, (dx, dy), strict=True) for b in bands) \
            and self.depth(dx, dy) <= ROUNDING

    def nearest(self) -> tuple[float, float] | None:
        """The shortest shift (across, up; metres) that is clear, in steps of 1/4 in or 5 mm up to 2 ft; None if none is."""
        if self.depth(0.0, 0.0) > FARTHEST:
            return None  # a zone's depth changes by no more than the shift
        step = STEP[self.job.settings.units]
        steps = sorted((k * step for k in range(-int(FARTHEST / step), int(FARTHEST / step) + 1)), key=abs)
        free_x, free_y = ([d for d in steps if all(b.kept(d) for b in bands)] for bands in self.bands)
        best: tuple[float, float] | None = None
        reach = FARTHEST + ROUNDING
        for dx in free_x:
            if abs(dx) >= reach:
                break
            blocked = {1: 0.0, -1: 0.0}
            for dy in free_y:
                way = 1 if dy >= 0 else -1
                if hypot(dx, dy) >= reach:
                    break
                if abs(dy) < blocked[way]:
                    continue
                deep = self.depth(dx, dy)
                if deep > ROUNDING:
                    blocked[way] = abs(dy) + deep - ROUNDING
                elif self.clear(dx, dy):
                    best, reach = (dx, dy), hypot(dx, dy)
                    break
        return best

    @cached_property
    def found(self) -> tuple[float, float] | None:
        """The nearest shift, worked out once."""
        return self.nearest()

    def working(self) -> Working:
        """The nearest clear place, as a calculation that shows what was tried."""
        units, found = self.job.settings.units, self.found
        tried = (length_value("s", "step of the search", STEP[units], units),
                 length_value("r", "searched as far as", FARTHEST, units))
        across, up = found or (0.0, 0.0)
        return Working(f"Nearest place clear of {ALL}",
                       "m = least sqrt(dx^2 + dy^2) that is clear, in steps of s up to r" if found else
                       "no shift up to r, in steps of s, is clear", tried,
                       length_value("m", "shift", hypot(across, up), units) if found else Value("n", "clear places", 0.0),
                       (Basis("this job's own structure, edges, zones and clearances", JOB),),
                       also=shift_values(units, across=abs(across) or None, up_or_down_stage=abs(up) or None))

    def words(self) -> str:
        """The nearest clear place in stage terms."""
        found = self.found
        units = self.job.settings.units
        if found is None:
            return f"no place within {length_text(FARTHEST, 'ft' if units == 'ft-in' else 'm')} is clear of {ALL}"
        parts = [shift_words(d, along, units) for d, along in ((found[0], False), (found[1], True)) if abs(d) > ROUNDING]
        return f"nearest place clear of {ALL}: {' and '.join(parts)}"
