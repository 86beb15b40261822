"""The line diagram: from each opening through its box and class to the rack. One row a line, a sheet for some boxes.

Drawn in pixels of paper. A dot marks where a line joins the bus of its class; a crossing without a dot is none.
"""

from stagefloor.drawings.classes import look_of
from stagefloor.drawings.plain import Plain
from stagefloor.drawings.shapes import Drawing, Shape, rectangle, text_width

ROW, GROUP, GAP = 17.0, 25.0, 14.0     # height of a line, of the head of a class, between boxes
TOP, BOTTOM = 64.0, 26.0
MOST_ROWS = 44           # on one sheet, heads of classes included
WIDTH = 1000.0
BOX, PLACE, NAME, RUN = 10.0, 138.0, 178.0, 262.0
FIRST_BUS, LAST_BUS, RACK = 700.0, 838.0, 880.0


class DiagramLine(Plain):
    """One line: place in the box, designator, words on cable and length, rack position."""

    place: str
    label: str
    cable: str = ""
    rack: str = ""


class DiagramGroup(Plain):
    """The lines of one box and class, and the raceways they take, in words."""

    signal_class: str
    way: str = ""
    lines: tuple[DiagramLine, ...] = ()


class DiagramBox(Plain):
    """One box with its groups. `title` such as 'Floor box FB-A1'."""

    label: str
    title: str
    groups: tuple[DiagramGroup, ...] = ()


class LineDiagram(Plain):
    """All boxes of a job in their order; `rack`: what the rack is called."""

    title: str = "Line diagram"
    rack: str = "Rack"
    boxes: tuple[DiagramBox, ...] = ()


def line_diagrams(record: LineDiagram) -> list[Drawing]:
    """The sheets in order, whole boxes on each as long as they fit."""
    classes = list(dict.fromkeys(g.signal_class for b in record.boxes for g in b.groups))
    sheets: list[list[DiagramBox]] = []
    rows = 0
    for box in (b for b in record.boxes if b.groups):
        need = sum(len(g.lines) + 1 for g in box.groups)
        if not sheets or rows + need > MOST_ROWS:
            sheets.append([])
            rows = 0
        sheets[-1].append(box)
        rows += need
    return [_sheet(record, held, classes, f"{record.title}, sheet {n} of {len(sheets)}") for n, held in enumerate(sheets, 1)]


def _sheet(record: LineDiagram, boxes: list[DiagramBox], classes: list[str], title: str) -> Drawing:
    here = [c for c in classes if any(g.signal_class == c for b in boxes for g in b.groups)]
    step = (LAST_BUS - FIRST_BUS) / max(1, len(here) - 1)
    bus = {c: FIRST_BUS + i * step for i, c in enumerate(here)}
    look = {c: look_of(c) for c in here}
    height = TOP + BOTTOM + sum(GAP + sum(GROUP + ROW * len(g.lines) for g in b.groups) for b in boxes)
    shapes: list[Shape] = []
    reach: dict[str, list[float]] = {}
    y = height - TOP
    start = RUN + max(text_width(_words(x), 12) for b in boxes for g in b.groups for x in g.lines) + 8
    for box in boxes:
        y, drawn = _box(box, y, start, bus, look, reach)
        shapes += drawn
    shapes = [*_rack(record, here, bus, look, reach, height, boxes), *shapes]
    lines = sum(len(g.lines) for b in boxes for g in b.groups)
    said = f"{lines} lines of {', '.join(b.label for b in boxes)} by class to the rack."
    return Drawing(title, said, (0.0, 0.0, WIDTH, height), WIDTH, tuple(shapes))


def _box(box: DiagramBox, y: float, start: float, bus: dict[str, float], look: dict[str, str],
         reach: dict[str, list[float]]) -> tuple[float, list[Shape]]:
    """One box with its rows from y downwards; the new y."""
    shapes, top = [], y
    for group in box.groups:
        x = bus[group.signal_class]
        y -= GROUP
        head = f"{group.signal_class}, {len(group.lines)}" + (f": {group.way}" if group.way else "")
        shapes.append(_text("side", PLACE, y + 1, _short(head, FIRST_BUS - PLACE - 12, 12.5), 12.5))
        for line in group.lines:
            y -= ROW
            shapes += [_text("key", PLACE, y, _short(line.place, NAME - PLACE - 4, 12.5), 12.5),
                       _text("key", NAME, y, _short(line.label, RUN - NAME - 6, 12.5), 12.5),
                       _text("minor", RUN, y, _words(line), 12),
                       Shape("line", look[group.signal_class], ((start, y + 4), (x, y + 4)),
                             label=f"{line.label}, {line.cable}"),
                       Shape("circle", "dot", ((x, y + 4),), radius=2.6)]
            reach.setdefault(group.signal_class, []).append(y + 4)
    y -= GAP
    frame = rectangle(BOX, y + GAP - 3, PLACE - BOX - 10, top - y - GAP - 1)
    return y, [Shape("polygon", "diagram box", frame, label=box.title),
               _text("box label", BOX + 8, top - 19, _short(box.label, PLACE - BOX - 24, 15), 15), *shapes]


def _rack(record: LineDiagram, here: list[str], bus: dict[str, float], look: dict[str, str], reach: dict[str, list[float]],
          height: float, boxes: list[DiagramBox]) -> list[Shape]:
    """The rack at the right, a bus for each class with its name over it, and how many lines enter."""
    top, low = height - 30.0, BOTTOM / 2
    shapes = [Shape("polygon", "diagram rack", rectangle(RACK, low, WIDTH - RACK - 8, top - low), label=record.rack),
              _text("box label", RACK + 10, top - 20, _short(record.rack, WIDTH - RACK - 28, 15), 15),
              _text("minor", RACK + 10, top - 34, "on this sheet:", 10)]
    for number, name in enumerate(here):
        count = sum(len(g.lines) for b in boxes for g in b.groups if g.signal_class == name)
        enter = top - 58.0 - number * 46.0
        ys = [*reach[name], enter]
        shapes += [Shape("line", look[name], ((bus[name], min(ys)), (bus[name], max(ys))), label=f"bus: {name}"),
                   Shape("line", look[name], ((bus[name], enter), (RACK, enter)), label=f"{name} into the rack"),
                   _text("key", RACK + 10, enter - 1, f"{count} lines", 12)]
        shapes += [_text("minor", RACK + 10, enter - 15 - 12 * i, ("and " if i else "") + w, 11.5)
                   for i, w in enumerate(name.split(" and "))]
    return shapes


def _words(line: DiagramLine) -> str:
    """What stands beside a line: its cable, length and rack position, as far as there is room."""
    return _short(", ".join(w for w in (line.cable, f"to {line.rack}" if line.rack else "") if w), FIRST_BUS - RUN - 60, 12)


def _text(role: str, x: float, y: float, words: str, size: float) -> Shape:
    return Shape("text", role, ((x, y),), text=words, size=size, anchor="start")


def _short(words: str, room: float, size: float) -> str:
    """The words, cut with an ellipsis where they would run into something else."""
    shown = words
    while len(words) > 1 and text_width(shown, size) > room:
        words = words[:-1].rstrip(" ,")
        shown = words + "…"
    return shown
