"""Circles laid into a round or rectangular outline as cables lie in a raceway: one after the other, as low as they go.

Deterministic: thickest first, each in the lowest free place that touches two things. Lengths in any one unit.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

Spot = tuple[float, float]
SLACK = 1e-7  # of the largest size: what rounding may take


@dataclass(frozen=True)
class Outline:
    """Round with this inside `diameter`, or a rectangle of `width` by `height`; its middle is at 0, 0."""

    diameter: float = 0.0
    width: float = 0.0
    height: float = 0.0

    @property
    def size(self) -> tuple[float, float]:
        return (self.diameter, self.diameter) if self.diameter else (self.width, self.height)

    def holds(self, spot: Spot, radius: float, slack: float = 0.0) -> bool:
        """Whether a circle lies inside."""
        if self.diameter:
            return hypot(*spot) + radius <= self.diameter / 2 + slack
        return (abs(spot[0]) + radius <= self.width / 2 + slack) and (abs(spot[1]) + radius <= self.height / 2 + slack)


def pack(outline: Outline, diameters: Sequence[float]) -> list[Spot | None]:
    """A place for each circle.

    Parameters
    ----------
    diameters : of the circles, above zero

    Returns
    -------
    The middle of each circle in the order given; None where none was found: either the circles do not fit, or they fit
    only in an order that this simple rule does not find.
    """
    slack = SLACK * max(outline.size)
    if slack <= 0:
        return [None] * len(diameters)
    placed: list[tuple[float, float, float]] = []
    found: list[Spot | None] = [None] * len(diameters)
    for i in sorted(range(len(diameters)), key=lambda i: (-diameters[i], i)):
        r = diameters[i] / 2
        spots = sorted(_touching(outline, placed, r), key=lambda s: (round(s[1] / slack), abs(s[0]), s[0]))
        spot = next((s for s in spots if outline.holds(s, r, slack) and all(
            hypot(s[0] - x, s[1] - y) >= r + q - slack for x, y, q in placed)), None)
        if spot is not None:
            placed.append((*spot, r))
            found[i] = spot
    return found


def _touching(outline: Outline, placed: Sequence[tuple[float, float, float]], r: float) -> Iterator[Spot]:
    """Middles at which a circle of radius r touches two things: outline or circles."""
    if outline.diameter:
        inner = outline.diameter / 2 - r
        if inner >= 0:
            yield 0.0, -inner
            for x, y, q in placed:
                yield from _circles((0.0, 0.0), inner, (x, y), q + r)
    else:
        across, up = outline.width / 2 - r, outline.height / 2 - r
        if across >= 0 and up >= 0:
            yield from ((-across, -up), (across, -up), (-across, up), (across, up))
            for x, y, q in placed:
                far = q + r
                for side in (-across, across):
                    if abs(side - x) <= far:
                        step = sqrt(far * far - (side - x) ** 2)
                        yield from ((side, y - step), (side, y + step))
                for level in (-up, up):
                    if abs(level - y) <= far:
                        step = sqrt(far * far - (level - y) ** 2)
                        yield from ((x - step, level), (x + step, level))
    for i, (x, y, q) in enumerate(placed):
        for x2, y2, q2 in placed[:i]:
            if hypot(x - x2, y - y2) <= q + q2 + 2 * r:
                yield from _circles((x, y), q + r, (x2, y2), q2 + r)


def _circles(a: Spot, ra: float, b: Spot, rb: float) -> Iterator[Spot]:
    """Where two circles meet."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    d = hypot(dx, dy)
    if d == 0 or d > ra + rb or d < abs(ra - rb):
        return
    along = (ra * ra - rb * rb + d * d) / (2 * d)
    off = sqrt(max(0.0, ra * ra - along * along))
    x, y = a[0] + along * dx / d, a[1] + along * dy / d
    yield x + off * dy / d, y - off * dx / d
    yield x - off * dy / d, y + off * dx / d
