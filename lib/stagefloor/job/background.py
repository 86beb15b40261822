"""A drawing or picture that lies behind the plan on screen, and how it was scaled. A help for the eye, never a measure."""

from typing import ClassVar

from stagefloor.job.fields import Flag, Length, Number, Size, Text, flag, length, number, text
from stagefloor.job.record import Record

NEAREST = 1e-6  # points of the file: two that are nearer than this are the same
FARTHEST = 1e9  # points of a file: no sheet is so large, and a scale from two such points would be none


class Background(Record):
    """One drawing in the folder 'backgrounds' beside the job, under a name that was made here.

    `ax` to `by` are two points on it in points of the file, from its lower left corner, to the right and up.
    """

    kind: ClassVar[str] = "background"
    noun: ClassVar[str] = "background of the plan"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Background", "as its file was called")
    file: Text = text("File", "in the folder 'backgrounds'")
    shown: Flag = flag("Lies behind the plan")
    ax: Number = number("First point, to the right", "in points of the file")
    ay: Number = number("First point, up", "in points of the file")
    bx: Number = number("Second point, to the right", "in points of the file")
    by: Number = number("Second point, up", "in points of the file")
    distance: Size = length("Between the two points", "as measured on site or written on the drawing")
    at_x: Length = length("First point lies across", "from the origin, stage left is plus")
    at_y: Length = length("First point lies up", "from the origin, upstage is plus")
    to_x: Length = length("Second point lies across", "with this and the next the background is turned too")
    to_y: Length = length("Second point lies up", "from the origin, upstage is plus")
    turn: Number = number("Turned", "counter-clockwise; 180 for a sheet with the audience at its top", 0.0, "deg")

    @property
    def points(self) -> tuple[complex, complex] | None:
        """The two points on the file; None until both are set, on a sheet that can be, and apart."""
        if self.ax is None or self.ay is None or self.bx is None or self.by is None:
            return None
        a, b = complex(self.ax, self.ay), complex(self.bx, self.by)
        far = max(abs(n) for n in (self.ax, self.ay, self.bx, self.by))
        return (a, b) if far < FARTHEST and abs(b - a) > NEAREST else None

    @property
    def at(self) -> complex | None:
        """Where the first point lies on the stage, metres."""
        return complex(self.at_x.si, self.at_y.si) if self.at_x and self.at_y else None

    @property
    def to(self) -> complex | None:
        """Where the second point lies on the stage, metres."""
        return complex(self.to_x.si, self.to_y.si) if self.to_x and self.to_y else None
