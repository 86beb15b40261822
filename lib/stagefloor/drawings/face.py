"""The face of a box with its lid open, seen from above and to scale: bays, modules, openings, barrier, spares.

Sizes of the D-size opening: a 24 mm round hole; the plate over it is 26 x 31 mm, from memory of connector drawings.
A mains outlet is drawn as the device opening of a one-gang wall box, 2 x 3 in, from memory.
"""

import math
from dataclasses import replace
from typing import Annotated, Literal

from pydantic import Field

from stagefloor.core.units import INCH, length_text
from stagefloor.drawings.plain import Metres, Plain
from stagefloor.drawings.scene import Display, Surface
from stagefloor.drawings.shapes import Drawing, Shape, rectangle, text_width

HOLE = 24.0
PLATE_WIDTH, PLATE_HEIGHT = 26.0, 31.0
OUTLET_WIDTH, OUTLET_HEIGHT = 50.8, 76.2

Size = Annotated[Metres, Field(gt=0)]


class FaceOpening(Plain):
    """One place in a module. `use` 'blank': no connector, a blank plate covers it."""

    kind: str = ""
    connector: str = ""
    label: str = ""
    use: Literal["in use", "spare", "blank"] = "in use"


class FaceBay(Plain):
    """One bay with its module, counted from the hinge side. No openings: a blank plate covers the bay."""

    mains: bool = False
    openings: tuple[FaceOpening, ...] = ()


class BoxFace(Plain):
    """A face: cutout `across` (square to the hinge side) and `along` it, flange lap, in metres; bays from the hinge.

    `hinge`: towards which side of the stage the hinge is; empty for a panel without a lid.
    """

    title: str
    surface: Surface = "floor"
    across: Size
    along: Size
    flange: Annotated[Metres, Field(ge=0)] = 0.0127
    hinge: str = ""
    display: Display = "ft-in"
    bays: tuple[FaceBay, ...] = ()


LABEL = 15.0
PITCH = 33.0             # D-size openings side by side, practical, from memory
PIXELS = 1.9             # on paper for a millimetre: the same on every face, so that faces can be compared
SIDE, ABOVE, BELOW = 32.0, 20.0, 32.0
BARRIER = 4.0            # drawn thicker than it is, so that it is seen
ROUNDING = 0.05          # of sizes typed in inches


def place_name(bay: int, slot: int) -> str:
    """How a place is named on the face and in the opening schedule: bay, then place in it, 1 first."""
    return f"{bay}.{slot}"


def face(box: BoxFace) -> Drawing:
    """Draw a face in millimetres: x along the hinge, y across, the hinge at the top.

    Parameters
    ----------
    box : the record, lengths in metres

    Returns
    -------
    Drawing in millimetres. If plates or outlets overlap at true size, a note on the drawing says so.

    Source: sizes of openings and outlets as the top of this module says; an arrangement of our own.
    """
    width, height, lap = box.along * 1000, box.across * 1000, box.flange * 1000
    outer = rectangle(-lap, -lap, width + 2 * lap, height + 2 * lap)
    shapes = [Shape("polygon", "flange", outer, label="cover flange"),
              Shape("polygon", "cutout", rectangle(0, 0, width, height), label="cutout")]
    bay_height = height / max(1, len(box.bays))
    overlap = False
    for number, bay in enumerate(box.bays, 1):
        low = height - number * bay_height
        shapes.append(Shape("polygon", "mains bay" if bay.mains else "bay", rectangle(0, low, width, bay_height),
                            label=f"bay {number}" + (", mains" if bay.mains else "")))
        shapes.append(_side_text(-lap, low + bay_height / 2, f"bay {number}", "end"))
        drawn, fits = _bay(number, bay, width, low, bay_height)
        shapes += drawn
        overlap = overlap or not fits
    for number in range(1, len(box.bays)):
        if box.bays[number - 1].mains != box.bays[number].mains:
            low = height - number * bay_height - BARRIER / 2
            shapes.append(Shape("polygon", "barrier", rectangle(0, low, width, BARRIER), label="barrier"))
            shapes.append(_side_text(width + lap, low + BARRIER / 2, "barrier", "start"))
    if box.hinge:
        shapes.append(Shape("polygon", "hinge", rectangle(width * 0.1, height + lap, width * 0.8, 5.0), label="hinge"))
        shapes.append(Shape("text", "note", ((width / 2, height + lap + 5.0),), offset=(0, -7),
                            text=f"hinge side, towards {box.hinge}"))
    shapes += _foot(box, lap)
    if overlap:
        shapes.append(Shape("text", "note", ((width / 2, -lap),), offset=(0, 48),
                            text="plates overlap at true size: check the figures of the model"))
    extent = (-lap - SIDE, -lap - BELOW, width + lap + SIDE + 8, height + lap + (ABOVE if box.hinge else 6.0))
    return Drawing(f"Face of {box.title}", _description(box), extent, (extent[2] - extent[0]) * PIXELS, tuple(shapes))


def rear(box: BoxFace) -> Drawing:
    """The same face from behind, with the modules lifted out: mirrored, and it says so. Labels stay readable.

    Left and right are swapped about the hinge side, which stays at the top. Millimetres.
    """
    front = face(box)
    width = box.along * 1000
    left, bottom, right, top = front.extent
    words = "seen from behind, modules lifted out: left and right are swapped"
    note = Shape("text", "note", ((width / 2, bottom - 8),), text=words,
                 size=_fitting(words, right - left))
    swapped: dict[str, Literal["start", "middle", "end"]] = {"start": "end", "end": "start", "middle": "middle"}
    shapes = tuple(replace(s, points=tuple((width - x, y) for x, y in s.points), anchor=swapped[s.anchor],
                           offset=(-s.offset[0], s.offset[1])) for s in front.shapes)
    return Drawing(f"Rear of {box.title}", f"Seen from behind, mirrored. {front.description}",
                   (width - right, bottom - 12, width - left, top), front.width, (*shapes, note))


def _description(box: BoxFace) -> str:
    parts = [f"Cutout {_size(box)}."]
    for number, bay in enumerate(box.bays, 1):
        used = sum(o.use == "in use" for o in bay.openings)
        spare = len(bay.openings) - used
        what = "mains outlets behind the barrier" if bay.mains else "openings"
        parts.append(f"Bay {number}: {used} {what} in use, {spare} spare or blank." if bay.openings
                     else f"Bay {number}: blank plate.")
    return " ".join(parts)


def _size(box: BoxFace) -> str:
    return f"{length_text(box.across, box.display)} by {length_text(box.along, box.display)}"


def _side_text(x: float, y: float, words: str, anchor: Literal["start", "end"]) -> Shape:
    shift = 5 if anchor == "start" else -5
    return Shape("text", "side", ((x, y),), text=words, anchor=anchor, offset=(shift, 4), size=14)


def _bay(number: int, bay: FaceBay, width: float, low: float, height: float) -> tuple[list[Shape], bool]:
    """The openings of one bay in rows, and whether they fit at true size."""
    if not bay.openings:
        corners = rectangle(3, low + 3, width - 6, height - 6)
        words = Shape("text", "minor", ((width / 2, low + height / 2),), text="blank plate", offset=(0, 4), size=LABEL)
        return [Shape("polygon", "blank plate", corners, label=f"bay {number}: blank plate"), words], True
    if bay.mains:
        turned = height < OUTLET_HEIGHT + BARRIER
        piece = (OUTLET_HEIGHT, OUTLET_WIDTH) if turned else (OUTLET_WIDTH, OUTLET_HEIGHT)
        pitch = piece[0] + 2.0
    else:
        piece, pitch = (PLATE_WIDTH, PLATE_HEIGHT), PITCH
    count = len(bay.openings)
    columns = min(count, max(1, math.floor((width - 4.0) / pitch)))
    rows = math.ceil(count / columns)
    cell = (width / columns, height / rows)
    shapes: list[Shape] = []
    for place, opening in enumerate(bay.openings):
        row, column = divmod(place, columns)
        middle = (cell[0] * (column + 0.5), low + height - cell[1] * (row + 0.5))
        shapes += _opening(place_name(number, place + 1), opening, middle, piece, cell, bay.mains)
    return shapes, cell[0] >= piece[0] - ROUNDING and cell[1] >= piece[1] - ROUNDING


def _opening(name: str, opening: FaceOpening, middle: tuple[float, float], piece: tuple[float, float],
             cell: tuple[float, float], mains: bool) -> list[Shape]:
    x, y = middle
    corners = rectangle(x - piece[0] / 2, y - piece[1] / 2, piece[0], piece[1])
    said = ", ".join(w for w in (name, opening.kind, opening.label, opening.use) if w)
    free = opening.use != "in use"
    if opening.use == "blank":
        shapes = [Shape("polygon", "blank plate", corners, label=said)]
    elif mains:
        shapes = [Shape("polygon", "spare outlet" if free else "outlet", corners, label=said)]
    else:
        shapes = [Shape("polygon", "plate", corners, label=said),
                  Shape("circle", "spare hole" if free else "hole", (middle,), radius=HOLE / 2)]
    shapes.append(Shape("text", "key", (middle,), text=name, offset=(0, 6), size=18))
    room = (cell[1] - piece[1]) / 2 * PIXELS
    if room >= 16:
        below = opening.label if not free else "blank" if opening.use == "blank" else opening.label or "spare"
        shapes.append(Shape("text", "minor", ((x, y - piece[1] / 2),), text=below, offset=(0, 14),
                            size=_fitting(below, cell[0])))
        kind = f"{opening.kind}, spare" if opening.use == "spare" and opening.kind else opening.kind
        shapes.append(Shape("text", "minor", ((x, y + piece[1] / 2),), text=kind, offset=(0, -4),
                            size=_fitting(kind, cell[0])))
    return shapes


def _fitting(words: str, width: float) -> float:
    """The text size in pixels at which the words fit a width in millimetres, LABEL at most."""
    return round(min(LABEL, LABEL * width * PIXELS / max(1.0, text_width(words, LABEL) * 1.08)), 1)


def _foot(box: BoxFace, lap: float) -> list[Shape]:
    """The scale bar and the size of the cutout."""
    inches = box.display in ("ft-in", "ft")
    length = 4 * INCH * 1000 if inches else 100.0
    middle = box.along * 500
    low = -lap - 9.0
    left = middle - length / 2
    parts = [Shape("polygon", "scale dark" if part % 2 == 0 else "scale light",
                   rectangle(left + part * length / 4, low, length / 4, 2.5)) for part in range(4)]
    words = f"{'4 in' if inches else '100 mm'} (bar)   cutout {_size(box)}"
    return [*parts, Shape("text", "note", ((middle, low),), text=words, offset=(0, 20), size=14)]
