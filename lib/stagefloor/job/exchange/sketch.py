"""A dimensioned sketch from a phone: numbers and typed dimensions in, a drawing that was made here out."""

from dataclasses import dataclass
from html import escape
from math import isfinite

from stagefloor.core.problems import Problem
from stagefloor.core.units import length_text
from stagefloor.job.fields import quantity

WIDTH, HEIGHT = 1000.0, 750.0  # the field that the sheet draws on, in its own units
MOST_STROKES, MOST_POINTS, MOST_DIMENSIONS = 500, 20_000, 60
NO_SKETCH = "this is not a sketch that the sheet made"
XY = tuple[float, float]


@dataclass(frozen=True)
class Dimension:
    """A measure between two points of the sketch; `text` as typed."""

    start: XY
    end: XY
    text: str


@dataclass(frozen=True)
class Sketch:
    """Strokes of points, and dimensions."""

    strokes: tuple[tuple[XY, ...], ...]
    dimensions: tuple[Dimension, ...]

    def words(self, unit: str) -> str:
        """The dimensions, one a line; what can't be read as a length is kept as it was typed and says so."""
        lines = []
        for number, one in enumerate(self.dimensions, 1):
            try:
                found = quantity(one.text, "length", unit)
                other = length_text(found.si, "m" if unit == "ft" else "ft-in")
                lines.append(f"{number}: {found.text} ({other})")
            except Problem:
                lines.append(f"{number}: {one.text} (not a length that can be read)")
        return "\n".join(lines)


def read_sketch(data: object) -> Sketch:
    """A sketch from the file's data; a Problem if it is not one."""
    if not isinstance(data, dict):
        raise Problem(NO_SKETCH)
    strokes, dimensions = data.get("strokes", []), data.get("dimensions", [])
    if not isinstance(strokes, list) or not isinstance(dimensions, list):
        raise Problem(NO_SKETCH)
    for many, most, noun in ((len(strokes), MOST_STROKES, "lines"), (len(dimensions), MOST_DIMENSIONS, "dimensions"),
                             (sum(len(s) for s in strokes if isinstance(s, list)), MOST_POINTS, "points")):
        if many > most:
            raise Problem(f"this sketch has {many:,} {noun}, {most:,} are the most; take some back on the phone and export "
                          "again")
    return Sketch(tuple(_stroke(s) for s in strokes), tuple(_dimension(d) for d in dimensions))


def _stroke(data: object) -> tuple[XY, ...]:
    if not isinstance(data, list) or not data:
        raise Problem(NO_SKETCH)
    return tuple(_place(p) for p in data)


def _dimension(data: object) -> Dimension:
    if not isinstance(data, dict) or not isinstance(data.get("text"), str):
        raise Problem(NO_SKETCH)
    text = " ".join("".join(c if c.isprintable() else " " for c in data["text"]).split())
    return Dimension(_place(data.get("from")), _place(data.get("to")), text[:60])


def _place(data: object) -> XY:
    if not isinstance(data, list) or len(data) != 2:
        raise Problem(NO_SKETCH)
    x, y = data
    for value in (x, y):
        if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 10_000 \
                or not isfinite(value):
            raise Problem(NO_SKETCH)
    return min(max(float(x), 0.0), WIDTH), min(max(float(y), 0.0), HEIGHT)


def drawing(sketch: Sketch, title: str) -> bytes:
    """The sketch as a drawing file; texts are escaped, nothing in it can run or load."""
    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" font-family="sans-serif" '
             f'font-size="26"><title>{escape(title)}</title><rect width="100%" height="100%" fill="#fff"/>']
    for stroke in sketch.strokes:
        points = " ".join(f"{x:g},{y:g}" for x, y in (stroke if len(stroke) > 1 else stroke * 2))
        parts.append(f'<polyline points="{points}" fill="none" stroke="#1d2733" stroke-width="5" '
                     'stroke-linecap="round" stroke-linejoin="round"/>')
    for number, one in enumerate(sketch.dimensions, 1):
        (x0, y0), (x1, y1) = one.start, one.end
        middle = f'x="{(x0 + x1) / 2:g}" y="{(y0 + y1) / 2 - 10:g}" text-anchor="middle"'
        words = escape(f"{number}: {one.text}")
        parts.append(f'<line x1="{x0:g}" y1="{y0:g}" x2="{x1:g}" y2="{y1:g}" stroke="#8a3b12" stroke-width="3"/>'
                     + "".join(f'<circle cx="{x:g}" cy="{y:g}" r="7" fill="#8a3b12"/>' for x, y in (one.start, one.end))
                     + f'<text {middle} fill="#8a3b12" stroke="#fff" stroke-width="7" paint-order="stroke">{words}</text>')
    return ("".join(parts) + "</svg>\n").encode()
