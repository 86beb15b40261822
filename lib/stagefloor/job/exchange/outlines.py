"""Outlines of a drawing as one plain file: lines of whole numbers on a fine grid. Knows no drawing format."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, isfinite

from stagefloor.core.problems import Problem

GRID = 40_000  # points along the longest side: 1.5 mm on a building of 60 m
MOST_POINTS = 60_000
MOST_LINES = 20_000
LEAST_SIDE = 1e-100  # units of the drawing: below it numbers lose their digits
MOST_METRES = 1e6  # of a point
FINENESS = 3000  # a curve stays within this share of the longest side
FORMAT = 1
XY = tuple[float, float]


@dataclass(frozen=True)
class Outlines:
    """Lines in points of the grid, from the upper left corner, to the right and down.

    `wide`, `high` : size in points; `metres` : of one point as the drawing's own units say, None if it has none;
    `unit` : these units in words
    """

    wide: int
    high: int
    lines: tuple[tuple[int, ...], ...]
    metres: float | None = None
    unit: str = ""


class Budget:
    """Counts what a drawing unfolds to; a Problem as soon as it is more than is read. `cure`: what makes it fewer."""

    def __init__(self, name: str, most: int, noun: str, cure: str = "switch off or delete") -> None:
        self.name, self.most, self.noun, self.cure, self.used = name, most, noun, cure, 0

    def spend(self, how_many: int = 1) -> None:
        self.used += how_many
        if self.used > self.most:
            raise Problem(f"{self.name} has more than {self.most:,} {self.noun}; {self.cure} what is not needed "
                          "(furniture, hatching, text), and save it again, or save the sheet as a PDF.")


def on_grid(lines: Sequence[Sequence[XY]], name: str, down: bool, metres: float | None = None, unit: str = "") -> Outlines:
    """Lines in any unit put on the grid.

    Parameters
    ----------
    lines : points (x, y) of each line; down : whether y counts downwards
    metres : length of one unit; None: not known. `unit`: its name
    """
    everything = [p for line in lines for p in line if isfinite(p[0]) and isfinite(p[1])]
    if not everything:
        raise Problem(f"{name} has no lines that can be shown; if the drawing lies on a paper layout, or is a picture, "
                      "save the sheet as a PDF.")
    x0, x1 = min(p[0] for p in everything), max(p[0] for p in everything)
    y0, y1 = min(p[1] for p in everything), max(p[1] for p in everything)
    longest = max(x1 - x0, y1 - y0)
    if not (isfinite(longest) and longest > LEAST_SIDE):
        raise Problem(f"{name} has no lines that can be shown; all of it lies in one point.")
    step = longest / GRID
    found = []
    for line in lines:
        flat: list[int] = []
        for x, y in line:
            if not (isfinite(x) and isfinite(y)):
                continue
            at = (round((x - x0) / step), round(((y - y0) if down else (y1 - y)) / step))
            if tuple(flat[-2:]) != at:
                flat += at
        if len(flat) > 2:
            found.append(tuple(flat))
    if not found:
        raise Problem(f"{name} has no lines that can be shown, only points.")
    if len(found) > MOST_LINES:
        raise Problem(f"{name} has more than {MOST_LINES:,} lines; switch off or delete what is not needed, and save it "
                      "again, or save the sheet as a PDF.")
    point = metres * step if metres else 0.0
    known = 0 < point < MOST_METRES  # else the drawing is no building in the unit that it names
    return Outlines(max(1, ceil((x1 - x0) / step)), max(1, ceil((y1 - y0) / step)), tuple(found),
                    point if known else None, unit if known else "")


def to_bytes(found: Outlines) -> bytes:
    """The file that is kept."""
    return json.dumps({"outlines": FORMAT, "wide": found.wide, "high": found.high, "metres": found.metres,
                       "unit": found.unit, "lines": found.lines}, separators=(",", ":")).encode()


def from_bytes(data: bytes) -> Outlines:
    """A kept file, read as hostile data; ValueError if it is none."""
    found = json.loads(data, parse_constant=_no_number)
    if not isinstance(found, dict) or found.get("outlines") != FORMAT:
        raise ValueError("no outlines")
    wide, high, lines, metres, unit = (found.get(k) for k in ("wide", "high", "lines", "metres", "unit"))
    if not (isinstance(wide, int) and isinstance(high, int) and _whole(wide) and _whole(high) and wide and high
            and isinstance(lines, list) and len(lines) <= MOST_LINES and isinstance(unit, str) and len(unit) < 40):
        raise ValueError("no outlines")
    if metres is not None and not (isinstance(metres, int | float) and 0 < metres < MOST_METRES):
        raise ValueError("no outlines")
    if not all(isinstance(line, list) and len(line) % 2 == 0 and all(map(_whole, line)) for line in lines) \
            or sum(map(len, lines)) > 2 * MOST_POINTS:
        raise ValueError("no outlines")
    return Outlines(wide, high, tuple(tuple(line) for line in lines), metres, unit)


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= GRID + 1


def _no_number(word: str) -> object:
    raise ValueError(word)
