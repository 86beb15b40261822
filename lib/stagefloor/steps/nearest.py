"""The nearest of many places, right-angled, without a look at every one: places lie in square cells. Knows no job."""

from collections.abc import Iterator, Sequence
from math import sqrt

Place = tuple[float, float, float]


def right_angled(a: Place, b: Place) -> float:
    """|dx| + |dy| + |dz|, metres."""
    return sum(abs(p - q) for p, q in zip(a, b, strict=True))


class Nearest:
    """Places (x, y, z) in metres, asked by index; of two alike the first.

    About one place lies in a cell, so that a search takes the same time however many places there are.
    """

    def __init__(self, places: Sequence[Place]) -> None:
        self.places = places
        self.cells: dict[tuple[int, int], list[int]] = {}
        if not places:
            return
        self.x0, self.y0 = min(p[0] for p in places), min(p[1] for p in places)
        wide, deep = max(p[0] for p in places) - self.x0, max(p[1] for p in places) - self.y0
        # a long thin venue has cells as long as its share of places
        self.size = max(sqrt(wide * deep / len(places)), max(wide, deep) / len(places)) or 1.0
        for n, p in enumerate(places):
            self.cells.setdefault(self._cell(p), []).append(n)
        self.last = max(c[0] for c in self.cells), max(c[1] for c in self.cells)

    def _cell(self, p: Place) -> tuple[int, int]:
        return int((p[0] - self.x0) // self.size), int((p[1] - self.y0) // self.size)

    def find(self, here: Place) -> int | None:
        """Index of the nearest place; None if there are none."""
        if not self.cells:
            return None
        i, j = (min(max(c, 0), most) for c, most in zip(self._cell(here), self.last, strict=True))
        best: tuple[float, int] | None = None
        for ring in range(max(self.last) + 1):
            # nothing in this ring or beyond is nearer than the cells in between are wide
            if best is not None and (ring - 1) * self.size > best[0]:
                break
            for cell in self._ring(i, j, ring):
                for n in self.cells.get(cell, ()):
                    found = (right_angled(here, self.places[n]), n)
                    best = found if best is None or found < best else best
        return best[1] if best else None

    @staticmethod
    def _ring(i: int, j: int, ring: int) -> Iterator[tuple[int, int]]:
        if ring == 0:
            yield i, j
            return
        for d in range(-ring, ring + 1):
            yield from ((i + d, j - ring), (i + d, j + ring))
        for d in range(1 - ring, ring):
            yield from ((i - ring, j + d), (i + ring, j + d))

