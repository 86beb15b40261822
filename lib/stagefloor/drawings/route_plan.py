"""The route plan: raceways by class with their names and sizes, pull points, boxes and what feeds them, the rack."""

from math import hypot

from stagefloor.drawings.classes import look_of
from stagefloor.drawings.plain import XY, Metres, Plain
from stagefloor.drawings.plan import WIDTH, Rect, around, box_shape, directions, extent_of, overlap, scale_bar
from stagefloor.drawings.scene import StageScene
from stagefloor.drawings.shapes import Drawing, Shape, rectangle, text_width

APART = 5.0              # pixels between raceways that lie side by side
LABEL = 12.5
MOST_LETTERS = 44        # of the sizes beside a run; the table beside the plan has all


class RouteClass(Plain):
    """One raceway of a bundle: class, and its size in words; `there`: it exists already; `closed`: out of use."""

    signal_class: str
    size: str = ""
    there: bool = False
    closed: bool = False


class RouteRun(Plain):
    """Raceways that lie side by side between two nodes, drawn along `points` in metres; `cables` in all."""

    label: str
    points: tuple[XY, ...]
    classes: tuple[RouteClass, ...]
    cables: int = 0


class RouteNode(Plain):
    """A node: pull point, wall opening, bend."""

    label: str
    what: str = ""
    x: Metres
    y: Metres


class RoutePlan(Plain):
    """The stage and its raceways. `feeds`: from a box to the node that feeds it."""

    scene: StageScene = StageScene()
    runs: tuple[RouteRun, ...] = ()
    nodes: tuple[RouteNode, ...] = ()
    feeds: tuple[tuple[XY, ...], ...] = ()

    def classes(self) -> tuple[str, ...]:
        """The classes that have a raceway, in their order."""
        return tuple(dict.fromkeys(c.signal_class for run in self.runs for c in run.classes))


def route_plan(record: RoutePlan) -> Drawing | None:
    """Draw the route plan in metres; None without a raceway."""
    if not record.runs:
        return None
    scene = record.scene
    places: list[XY] = [*scene.outline, *((b.x, b.y) for b in scene.boxes)]
    places += [p for run in record.runs for p in run.points if run.cables or not places]
    places += [(p.x, p.y) for p in (scene.rack, scene.panel) if p]
    extent = extent_of(places)
    record = _within(record, extent)
    scale = WIDTH / (extent[2] - extent[0])
    shapes = [Shape("polygon", "stage", scene.outline, label="stage floor")] if len(scene.outline) > 2 else []
    shapes += [Shape("line", "feed", line, label="from the box to what feeds it") for line in record.feeds]
    for run in record.runs:
        for at, one in enumerate(run.classes):
            shift = (at - (len(run.classes) - 1) / 2) * APART / scale
            said = f"raceway {run.label}, {one.signal_class}" + (f", {one.size}" if one.size else "")
            said += ", there already" * one.there + ", out of use" * one.closed
            role = "closed way" if one.closed else look_of(one.signal_class)
            shapes.append(Shape("line", role, _beside(run.points, shift), label=said))
    shapes += [box_shape(b) for b in scene.boxes]
    shapes += [Shape("circle", "node", ((n.x, n.y),), radius=5 / scale, label=f"{n.label}, {n.what}") for n in record.nodes]
    shapes += [Shape("polygon", "rack", rectangle(p.x - 0.2, p.y - 0.2, 0.4, 0.4), label=p.label)
               for p in (scene.rack, scene.panel) if p]
    shapes += _labels(record, extent, scale)
    shapes += [*directions(extent), *scale_bar(scene, extent)]
    words = (f"Seen from above, audience at the bottom. {len(record.runs)} runs of raceways, {len(record.nodes)} nodes, "
             f"{len(scene.boxes)} boxes and panels.")
    return Drawing("Route plan", words, extent, WIDTH, tuple(shapes))


def _within(record: RoutePlan, extent: Rect) -> RoutePlan:
    """The plan without what lies beyond the extent: an empty raceway that leads far away is cut at its edge."""
    def inside(x: float, y: float) -> bool:
        return extent[0] <= x <= extent[2] and extent[1] <= y <= extent[3]

    runs = []
    for run in record.runs:
        kept = [(min(max(x, extent[0]), extent[2]), min(max(y, extent[1]), extent[3])) for x, y in run.points]
        cut = any(not inside(x, y) for x, y in run.points)
        label = f"{run.label}, leads on" if cut else run.label
        runs.append(run.model_copy(update={"points": tuple(kept), "label": label}))
    return record.model_copy(update={"runs": tuple(runs), "nodes": tuple(n for n in record.nodes if inside(n.x, n.y))})


def _beside(points: tuple[XY, ...], shift: float) -> tuple[XY, ...]:
    """The line moved to its left by `shift`; corners stay right-angled because runs are."""
    moved = list(points)
    for i, (a, b) in enumerate(zip(points, points[1:], strict=False)):
        length = hypot(b[0] - a[0], b[1] - a[1])
        if length == 0:
            continue
        nx, ny = -(b[1] - a[1]) / length * shift, (b[0] - a[0]) / length * shift
        moved[i] = (moved[i][0] + nx, moved[i][1] + ny)
        moved[i + 1] = (points[i + 1][0] + nx, points[i + 1][1] + ny)
    return tuple(moved)


def _labels(record: RoutePlan, extent: Rect, scale: float) -> list[Shape]:
    """Names where they hide least: boxes, nodes, rack and panel, then each run with its number of cables."""
    scene, half = record.scene, 6 / scale
    taken = [around(b.x, b.y, b.width / 2, b.height / 2) for b in scene.boxes]
    taken += [around(n.x, n.y, half, half) for n in record.nodes]
    for run in record.runs:
        thick = (len(run.classes) * APART / 2 + 2) / scale
        taken += [(min(a[0], b[0]) - thick, min(a[1], b[1]) - thick, max(a[0], b[0]) + thick, max(a[1], b[1]) + thick)
                  for a, b in zip(run.points, run.points[1:], strict=False)]
    wanted: list[tuple[str, tuple[str, ...], tuple[XY, ...], float, float]]
    wanted = [("box label", (b.label,), ((b.x, b.y),), b.width / 2, b.height / 2) for b in scene.boxes]
    wanted += [("key", (n.label,), ((n.x, n.y),), half, half) for n in record.nodes]
    wanted += [("place label", (p.label,), ((p.x, p.y),), 0.2, 0.2) for p in (scene.rack, scene.panel) if p]
    for run in record.runs:
        room = (len(run.classes) * APART / 2 + 3) / scale
        wanted.append(("zone label", _run_words(run), _along(run.points), room, room))
    shapes = []
    for role, rows, anchors, half_wide, half_high in wanted:
        size = LABEL + 2 if role == "box label" else LABEL
        wide = max(text_width(words, size * 1.05) for words in rows) / scale
        high = size * 1.2 * len(rows) / scale
        steps = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1))
        spots = [(x + k * dx * (half_wide + wide / 2 + 3 / scale), y + k * dy * (half_high + high / 2 + 2 / scale))
                 for k in (1.0, 1.7, 2.6) for x, y in anchors for dx, dy in steps]
        best = min(range(len(spots)), key=lambda i: (_hidden(around(*spots[i], wide / 2, high / 2), taken, extent), i))
        taken.append(around(*spots[best], wide / 2, high / 2))
        top = -size * 1.2 * (len(rows) - 1) / 2 + size * 0.35
        shapes += [Shape("text", role, (spots[best],), text=words, size=size, offset=(0, top + i * size * 1.2))
                   for i, words in enumerate(rows)]
    return shapes


def _hidden(rect: Rect, taken: list[Rect], extent: Rect) -> float:
    """How much of a name lies over something else; what leaves the plan weighs more."""
    outside = (rect[2] - rect[0]) * (rect[3] - rect[1]) - overlap(rect, extent)
    return round(sum(overlap(rect, t) for t in taken) + 10 * outside, 6)


def _run_words(run: RouteRun) -> tuple[str, ...]:
    """Name and number of cables; under it the sizes, class by class in the order in which they lie."""
    sizes = [c.size for c in run.classes if not c.closed]
    shown = sizes[0] if len(set(sizes)) == 1 and sizes else ", ".join(s or "?" for s in sizes)
    if len(set(sizes)) == 1 and len(sizes) > 1:
        shown = f"{len(sizes)} × {shown}"
    first = f"{run.label}: {run.cables} cables" if run.cables else run.label
    return (first, shown) if shown and len(shown) <= MOST_LETTERS else (first,)


def _along(points: tuple[XY, ...]) -> tuple[XY, ...]:
    """Places along the longest stretch, its middle first."""
    a, b = max(zip(points, points[1:], strict=False), key=lambda ab: hypot(ab[1][0] - ab[0][0], ab[1][1] - ab[0][1]))
    return tuple((a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for t in (0.5, 0.35, 0.65, 0.2, 0.8))
