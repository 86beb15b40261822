"""Rectangles, routes and distances on the plan, in metres. Knows nothing of boxes or floors."""

from dataclasses import dataclass
from math import hypot


@dataclass(frozen=True)
class Rect:
    """A rectangle with its sides along the axes."""

    x0: float
    y0: float
    x1: float
    y1: float

    @staticmethod
    def around(x: float, y: float, across: float, along: float) -> "Rect":
        return Rect(x - across / 2, y - along / 2, x + across / 2, y + along / 2)

    @staticmethod
    def between(xa: float, ya: float, xb: float, yb: float) -> "Rect":
        return Rect(min(xa, xb), min(ya, yb), max(xa, xb), max(ya, yb))

    def grown(self, by: float) -> "Rect":
        return Rect(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def contains(self, x: float, y: float) -> bool:
        return self.x0 <= x <= self.x1 and self.y0 <= y <= self.y1

    def corners(self) -> list[tuple[float, float]]:
        return [(self.x0, self.y0), (self.x1, self.y0), (self.x1, self.y1), (self.x0, self.y1)]


def overlap(a0: float, a1: float, b0: float, b1: float) -> float:
    """How far two intervals overlap; minus their gap if they don't."""
    return min(a1, b1) - max(a0, b0)


def rect_gap(a: Rect, b: Rect) -> float:
    """Distance between two rectangles; minus the smaller overlap if they overlap."""
    dx, dy = -overlap(a.x0, a.x1, b.x0, b.x1), -overlap(a.y0, a.y1, b.y0, b.y1)
    if dx < 0 and dy < 0:
        return max(dx, dy)
    return hypot(max(dx, 0.0), max(dy, 0.0))


def point_segment(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> float:
    """Distance from a point to a segment."""
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    t = 0.0 if square == 0 else max(0.0, min(1.0, ((px - ax) * dx + (py - ay) * dy) / square))
    return hypot(px - ax - t * dx, py - ay - t * dy)


def _turn(ax: float, ay: float, bx: float, by: float, cx: float, cy: float) -> float:
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


def segment_gap(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> float:
    """Distance between two segments (x0, y0, x1, y1), 0 if they cross."""
    d1, d2 = _turn(*b, a[0], a[1]), _turn(*b, a[2], a[3])
    d3, d4 = _turn(*a, b[0], b[1]), _turn(*a, b[2], b[3])
    if ((d1 > 0) != (d2 > 0)) and ((d3 > 0) != (d4 > 0)) and 0.0 not in (d1, d2, d3, d4):
        return 0.0
    return min(point_segment(a[0], a[1], *b), point_segment(a[2], a[3], *b),
               point_segment(b[0], b[1], *a), point_segment(b[2], b[3], *a))


def segments_cross(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    """Whether two segments (x0, y0, x1, y1) have a point in common."""
    return segment_gap(a, b) < 1e-9


def segment_meets_rect(s: tuple[float, float, float, float], r: Rect) -> bool:
    """Whether a segment touches or crosses a rectangle."""
    if r.contains(s[0], s[1]) or r.contains(s[2], s[3]):
        return True
    c = r.corners()
    return any(segments_cross(s, (*c[i], *c[(i + 1) % 4])) for i in range(4))


def segment_rect_gap(s: tuple[float, float, float, float], r: Rect) -> float:
    """Distance from a segment to a rectangle, 0 if they touch."""
    if segment_meets_rect(s, r):
        return 0.0
    corner = min(point_segment(x, y, *s) for x, y in r.corners())

    def outside(px: float, py: float) -> float:
        return hypot(max(r.x0 - px, 0.0, px - r.x1), max(r.y0 - py, 0.0, py - r.y1))

    return min(corner, outside(s[0], s[1]), outside(s[2], s[3]))
