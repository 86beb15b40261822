"""What a drawing is made of: a flat list of shapes with a role each. Says nothing of colour."""

from dataclasses import dataclass, field
from typing import Literal

Point = tuple[float, float]
Kind = Literal["polygon", "line", "circle", "text"]


@dataclass(frozen=True)
class Shape:
    """One shape in the drawing's own unit (metres on a plan, millimetres on a face).

    Attributes
    ----------
    kind : 'polygon' and 'line' use `points`; 'circle' uses points[0] and `radius`; 'text' uses points[0]
    role : what it stands for; the renderer chooses line, pattern and colour by it
    label : its name for people who can't see it; text : the words of a text shape
    size : height of a text on paper in pixels; anchor : 'start', 'middle' or 'end'
    offset : shift of a text on paper in pixels, to the right and down
    """

    kind: Kind
    role: str
    points: tuple[Point, ...]
    radius: float = 0.0
    label: str = ""
    text: str = ""
    size: float = 13.0
    anchor: Literal["start", "middle", "end"] = "middle"
    offset: Point = (0.0, 0.0)


@dataclass(frozen=True)
class Drawing:
    """Shapes with a title, a description and an extent (left, bottom, right, top), the y axis pointing up.

    `width` is the width on paper in pixels at which the text sizes hold.
    """

    title: str
    description: str
    extent: tuple[float, float, float, float]
    width: float
    shapes: tuple[Shape, ...] = field(default=())

    @property
    def scale(self) -> float:
        """Pixels on paper for one unit of the drawing."""
        return self.width / (self.extent[2] - self.extent[0])


def rectangle(x: float, y: float, width: float, height: float) -> tuple[Point, ...]:
    """The corners of a rectangle given its lower left corner."""
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def text_width(text: str, size: float) -> float:
    """About how wide a text is in pixels; 0.56 of its height a character, from memory of common sans fonts."""
    return 0.56 * size * len(text)
