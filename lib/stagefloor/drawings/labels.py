"""Sheets of labels at true size, in millimetres: a label's rows of text, a band in its colour, the colour's word.

The height of capitals is 0.72 of the size of a sans font, from memory.
"""

from typing import Annotated

from pydantic import Field

from stagefloor.drawings.plain import Metres, Plain
from stagefloor.drawings.shapes import Drawing, Shape, rectangle, text_width

CAPITALS = 0.72
PIXELS = 96 / 25.4       # CSS pixels in a millimetre (CSS Values and Units, level 4, section 6.2)
SMALL = 0.68             # of the letter height: second and third row
LEADING = 1.45           # from row to row, of the letter height
BAND, PADDING = 2.5, 1.2  # mm: width of the colour band, free space inside the label
MOST_PAGES = 2000

Size = Annotated[Metres, Field(gt=0)]


class LabelMark(Plain):
    """One label: its text, a row on where it leads, the word for its colour; `said` names it for a screen reader."""

    text: str
    detail: str = ""
    colour: str = ""
    said: str = ""


class LabelLayout(Plain):
    """A sheet of labels, lengths in metres; `print_height`: the upper part that is printed on."""

    page_width: Size
    page_height: Size
    rows: Annotated[int, Field(gt=0)]
    columns: Annotated[int, Field(gt=0)]
    width: Size
    height: Size
    pitch_across: Size
    pitch_down: Size
    left: Metres = 0.0
    top: Metres = 0.0
    print_height: Size
    text_height: Size
    outline: bool = False

    @property
    def places(self) -> int:
        return self.rows * self.columns


def fits(layout: LabelLayout, mark: LabelMark) -> float:
    """The share of the letter height at which all rows fit on the label: 1 if they fit as entered."""
    room = layout.width * 1000 - 2 * PADDING - (BAND if mark.colour else 0.0)
    letter = layout.text_height * 1000
    rows = [r for r in _rows(mark, letter) if r[0]]
    widest = max((text_width(words, high / CAPITALS) for words, high in rows), default=0.0)
    tall = sum(LEADING * high for _, high in rows)
    return min(1.0, room / widest if widest else 1.0, (layout.print_height * 1000 - PADDING) / tall if tall else 1.0)


def _rows(mark: LabelMark, letter: float) -> list[tuple[str, float]]:
    """(words, letter height in mm) of the rows of a label."""
    return [(mark.text, letter), (mark.detail, letter * SMALL), (mark.colour, letter * SMALL)]


def label_sheets(layout: LabelLayout, marks: tuple[LabelMark, ...], used: int = 0, title: str = "Labels") -> list[Drawing]:
    """The sheets in order, each a page at true size; drawn in millimetres from the lower left corner of the page.

    Parameters
    ----------
    layout : lengths in metres; used : labels that are gone from the first sheet, 0 or more
    """
    places = layout.places
    first = used % places
    pages: list[Drawing] = []
    for start in range(-first, len(marks), places):
        if len(pages) == MOST_PAGES:
            break
        held = [(at, marks[start + at]) for at in range(places) if 0 <= start + at < len(marks)]
        pages.append(_page(layout, held, f"{title}, sheet {len(pages) + 1}"))
    return pages


def _page(layout: LabelLayout, held: list[tuple[int, LabelMark]], title: str) -> Drawing:
    wide, high = layout.page_width * 1000, layout.page_height * 1000
    shapes: list[Shape] = []
    for at, mark in held:
        row, column = divmod(at, layout.columns)
        x = (layout.left + column * layout.pitch_across) * 1000
        y = high - (layout.top + row * layout.pitch_down) * 1000
        shapes += _label(layout, mark, x, y)
    words = f"{len(held)} labels of {layout.width * 1000:g} by {layout.height * 1000:g} mm at true size."
    return Drawing(title, words, (0.0, 0.0, wide, high), wide * PIXELS, tuple(shapes))


def _label(layout: LabelLayout, mark: LabelMark, x: float, top: float) -> list[Shape]:
    """One label with its upper left corner at x, top."""
    wide, high, printed = layout.width * 1000, layout.height * 1000, layout.print_height * 1000
    edge = "label outline" if layout.outline else "label edge"
    shapes = [Shape("polygon", edge, rectangle(x, top - high, wide, high), label=mark.said or mark.text)]
    left = x + PADDING
    if mark.colour:
        shapes.append(Shape("polygon", f"band {mark.colour}", rectangle(x, top - printed, BAND, printed)))
        left += BAND
    share = fits(layout, mark)
    y = top - PADDING / 2
    for number, (words, letter) in enumerate(_rows(mark, layout.text_height * 1000 * share)):
        if not words:
            continue
        y -= LEADING * letter
        shapes.append(Shape("text", "label text" if number == 0 else "label detail", ((left, y),), text=words,
                            size=letter / CAPITALS * PIXELS, anchor="start", offset=(0.0, -0.2 * letter * PIXELS)))
    return shapes
