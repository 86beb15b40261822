"""The section of a raceway to scale: its inside, and the cables in it as circles of their outside diameters.

Cables lie as they fall, thickest first; where they lie in a real raceway nobody knows. Drawn in millimetres.
"""

from typing import Annotated

from pydantic import Field

from stagefloor.core.units import INCH, length_text
from stagefloor.drawings.packing import Outline, pack
from stagefloor.drawings.plain import Metres, Plain
from stagefloor.drawings.scene import Display
from stagefloor.drawings.shapes import Drawing, Shape, rectangle

Size = Annotated[Metres, Field(gt=0)]
PIXELS = 5.2             # on paper for a millimetre: the same on every section, so that they can be compared
SIDE, ABOVE, BELOW = 7.0, 4.0, 14.0
KEY = 9.0                # pixels: the smallest number inside a circle


class SectionCable(Plain):
    """A cable in a section: outside diameter in metres, its id, its kind."""

    label: str
    kind: str
    diameter: Size


class RacewaySection(Plain):
    """A raceway: inside diameter, or width and height of a compartment, in metres; the cables in it."""

    title: str
    diameter: Metres = 0.0
    width: Metres = 0.0
    height: Metres = 0.0
    display: Display = "ft-in"
    filled: str = ""
    cables: tuple[SectionCable, ...] = ()


def section(record: RacewaySection) -> Drawing:
    """Draw a section; a note says how many cables found no place in it."""
    outline = Outline(record.diameter * 1000, record.width * 1000, record.height * 1000)
    wide, high = outline.size
    spots = pack(outline, [c.diameter * 1000 for c in record.cables])
    shapes = [Shape("circle", "cutout", ((0.0, 0.0),), radius=wide / 2, label="inside") if record.diameter else
              Shape("polygon", "cutout", rectangle(-wide / 2, -high / 2, wide, high), label="inside")]
    for number, (cable, spot) in enumerate(zip(record.cables, spots, strict=True), 1):
        if spot is not None:
            shapes.append(Shape("circle", f"core {cable.kind}", (spot,), radius=cable.diameter * 500,
                                label=f"{number}: {cable.label}, {cable.kind}"))
            size = min(14.0, cable.diameter * 1000 * PIXELS * 0.5)
            if size >= KEY:
                shapes.append(Shape("text", "key", (spot,), text=str(number), size=size, offset=(0, size * 0.36)))
    outside = sum(s is None for s in spots)
    shapes += _foot(record, high)
    if outside:
        words = f"{outside} of {len(spots)} cables find no place in it"
        shapes.append(Shape("text", "note", ((0.0, -high / 2 - 4),), offset=(0, 46), text=words, size=13))
    half = max(wide / 2 + SIDE, 24.0)
    extent = (-half, -high / 2 - BELOW, half, high / 2 + ABOVE)
    kinds: dict[str, int] = {}
    for cable in record.cables:
        kinds[cable.kind] = kinds.get(cable.kind, 0) + 1
    said = ", ".join(f"{n} {kind}" for kind, n in kinds.items()) or "empty"
    return Drawing(f"Section of {record.title}", f"{_size(record)}: {said}. {record.filled}".strip(), extent,
                   (extent[2] - extent[0]) * PIXELS, tuple(shapes))


def _size(record: RacewaySection) -> str:
    small = "mm" if record.display in ("m", "mm") else "ft-in"

    def text(metres: float) -> str:
        return length_text(metres, "mm") if small == "mm" else f'{metres / INCH:.3g}"'

    return f"inside {text(record.diameter)}" if record.diameter else f"{text(record.width)} × {text(record.height)} inside"


def _foot(record: RacewaySection, high: float) -> list[Shape]:
    """The scale bar, and size and filling in words."""
    inches = record.display in ("ft-in", "ft")
    length = INCH * 1000 if inches else 20.0
    low = -high / 2 - 4.0
    bar = [Shape("polygon", "scale dark" if i % 2 == 0 else "scale light",
                 rectangle(-length / 2 + i * length / 2, low, length / 2, 1.4)) for i in range(2)]
    return [*bar, Shape("text", "note", ((0.0, low),), text=f"{'1 in' if inches else '20 mm'} (bar)   {_size(record)}",
                        offset=(0, 17), size=13),
            Shape("text", "note", ((0.0, low),), text=record.filled, offset=(0, 34), size=13)]
