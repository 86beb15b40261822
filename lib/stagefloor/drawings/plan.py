"""The stage plan: a scene becomes shapes, as a whole or for one event. The audience is at the bottom."""

from stagefloor.core.units import FOOT
from stagefloor.drawings.plain import XY
from stagefloor.drawings.scene import BoxMark, EventReplay, StageScene, Zone
from stagefloor.drawings.shapes import Drawing, Shape, rectangle, text_width

WIDTH = 1000.0           # pixels on paper
LABEL = 15.0
Rect = tuple[float, float, float, float]


def plan(scene: StageScene, event: EventReplay | None = None) -> Drawing | None:
    """Draw the plan in metres.

    Parameters
    ----------
    scene : lengths in metres
    event : one of the scene's replays; None draws every point and zone and no connection

    Returns
    -------
    Drawing in metres, or None if the scene has neither an outline nor a box nor a point.
    """
    places = _places(scene)
    if not places:
        return None
    extent = extent_of(places)
    scale = WIDTH / (extent[2] - extent[0])
    shapes = [*_ground(scene), *_zones(scene, event), *_ways(scene)]
    active = {c.point for c in event.connections} if event else {p.label for p in scene.points}
    if event:
        shapes += [Shape("line", "cable", c.line, label=f"{c.point} to {c.box}: {c.kinds}") for c in event.connections]
    shapes += [s for b in scene.boxes for s in _planned(b)] + [box_shape(b) for b in scene.boxes]
    shapes += [Shape("circle", "point" if p.label in active else "idle point", ((p.x, p.y),), radius=7 / scale,
                     label=f"point {p.label}" + (f", {p.what}" if p.what else "")) for p in scene.points]
    shapes += [Shape("polygon", "rack", rectangle(p.x - 0.2, p.y - 0.2, 0.4, 0.4), label=p.label)
               for p in (scene.rack, scene.panel) if p]
    shapes += _labels(scene, event, active, scale, extent)
    shapes += [*directions(extent), *scale_bar(scene, extent)]
    name = f"Stage plan: {event.event}" if event else "Stage plan"
    return Drawing(name, _description(scene, event), extent, WIDTH, tuple(shapes))


def _places(scene: StageScene) -> list[XY]:
    """Every place that must be inside the drawing."""
    found: list[XY] = list(scene.outline)
    for box in scene.boxes:
        found += rectangle(box.x - box.width / 2, box.y - box.height / 2, box.width, box.height)
        found += [box.planned] if box.planned else []
    found += [(p.x, p.y) for p in scene.points]
    if not found:
        return []
    found += [(p.x, p.y) for p in (scene.rack, scene.panel) if p]
    found += [xy for zone in scene.zones for xy in zone.points]
    found += [xy for way in scene.raceways for xy in way.points]
    found += [xy for e in scene.replay for c in e.connections for xy in c.line]
    return found


def extent_of(places: list[XY]) -> Rect:
    """The places with a margin for the stage directions; never narrower than two metres."""
    x0, x1 = min(p[0] for p in places), max(p[0] for p in places)
    y0, y1 = min(p[1] for p in places), max(p[1] for p in places)
    grow = max(0.0, 2.0 - (x1 - x0)) / 2
    x0, x1 = x0 - grow, x1 + grow
    margin = 0.07 * (x1 - x0)
    return x0 - margin, y0 - margin, x1 + margin, y1 + 0.6 * margin


def _ground(scene: StageScene) -> list[Shape]:
    shapes = [Shape("polygon", "stage", scene.outline, label="stage floor")] if len(scene.outline) > 2 else []
    shapes += [Shape("line", "joist", j.points, label=j.label or "joist") for j in scene.joists]
    return shapes + [Shape("line", "bearing", b.points, label=b.label or "bearing line") for b in scene.bearings]


def _zones(scene: StageScene, event: EventReplay | None) -> list[Shape]:
    shapes = []
    for zone in _zones_of(scene, event):
        said = f"keep clear: {zone.label}" + (f" ({zone.what})" if zone.what and zone.what != zone.label else "")
        if zone.width > 0 and len(zone.points) == 2:
            shapes.append(Shape("polygon", "keep clear", band(zone.points[0], zone.points[1], zone.width), label=said))
        elif len(zone.points) > 2:
            shapes.append(Shape("polygon", "keep clear", zone.points, label=said))
        elif len(zone.points) == 2:
            shapes.append(Shape("line", "keep clear line", zone.points, label=said))
    return shapes


def _zones_of(scene: StageScene, event: EventReplay | None) -> list[Zone]:
    """Zones of this event; without an event all of them."""
    return [z for z in scene.zones if not (event and z.events and event.event not in z.events)]


def band(start: XY, end: XY, width: float) -> tuple[XY, ...]:
    """The four corners of a route of this width, metres, along its middle line."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = (dx * dx + dy * dy) ** 0.5
    if length == 0:
        return rectangle(start[0] - width / 2, start[1] - width / 2, width, width)
    nx, ny = -dy / length * width / 2, dx / length * width / 2
    return ((start[0] + nx, start[1] + ny), (end[0] + nx, end[1] + ny),
            (end[0] - nx, end[1] - ny), (start[0] - nx, start[1] - ny))


def _ways(scene: StageScene) -> list[Shape]:
    return [Shape("line", "raceway", w.points, label=f"raceway {w.label} {w.what}".strip()) for w in scene.raceways]


def box_shape(box: BoxMark) -> Shape:
    """A box as it lies on a plan."""
    role = {"floor": "floor box", "wall": "wall panel"}.get(box.surface, "riser panel") if box.measured else "planned box"
    corners = rectangle(box.x - box.width / 2, box.y - box.height / 2, box.width, box.height)
    return Shape("polygon", role, corners, label=box.title)


def _planned(box: BoxMark) -> list[Shape]:
    """Where a box was planned, and the way it was moved from there."""
    if box.planned is None:
        return []
    x, y = box.planned
    corners = rectangle(x - box.width / 2, y - box.height / 2, box.width, box.height)
    return [Shape("polygon", "planned box", corners, label=f"{box.title}, planned"),
            Shape("line", "moved", (box.planned, (box.x, box.y)), label=f"{box.title}, moved")]


def directions(extent: Rect) -> list[Shape]:
    """The four directions of the stage at the edge of a plan."""
    x0, y0, x1, y1 = extent
    return [Shape("text", "direction", (((x0 + x1) / 2, y0),), text="audience", offset=(0, -8), size=15),
            Shape("text", "direction", (((x0 + x1) / 2, y1),), text="upstage", offset=(0, 18), size=15),
            Shape("text", "direction", ((x0, y0),), text="stage right", anchor="start", offset=(6, -8), size=15),
            Shape("text", "direction", ((x1, y0),), text="stage left", anchor="end", offset=(-6, -8), size=15)]


def scale_bar(scene: StageScene, extent: Rect) -> list[Shape]:
    """A bar of 5 ft or 2 m in the upper left corner."""
    feet = scene.display in ("ft-in", "ft")
    length = 5 * FOOT if feet else 2.0
    left, top = extent[0] + 0.006 * (extent[2] - extent[0]), extent[3] - 0.02 * (extent[2] - extent[0])
    thick = 0.006 * (extent[2] - extent[0])
    return [Shape("polygon", "scale dark", rectangle(left, top, length / 2, thick)),
            Shape("polygon", "scale light", rectangle(left + length / 2, top, length / 2, thick)),
            Shape("text", "note", ((left + length, top),), text="5 ft" if feet else "2 m", anchor="start",
                  offset=(6, 3))]


def _labels(scene: StageScene, event: EventReplay | None, active: set[str], scale: float,
            extent: Rect) -> list[Shape]:
    """A label beside each mark, inside the drawing, where it hides least: boxes first, then rack, panel, points, zones."""
    half = 8 / scale
    taken: list[Rect] = [around(b.x, b.y, b.width / 2, b.height / 2) for b in scene.boxes]
    taken += [around(p.x, p.y, half, half) for p in scene.points]
    wanted = [("box label", b.label, b.x, b.y, b.width / 2, b.height / 2) for b in scene.boxes]
    wanted += [("place label", p.label, p.x, p.y, 0.2, 0.2) for p in (scene.rack, scene.panel) if p]
    wanted += [("point label" if p.label in active else "idle label", p.label, p.x, p.y, half, half)
               for p in scene.points]
    wanted += [("zone label", z.label, *_middle(z.points), 0.0, 0.0) for z in _zones_of(scene, event) if z.points]
    wanted += [("zone label", w.label, *_middle(w.points), 0.0, 0.0) for w in scene.raceways if w.points and w.label]
    shapes = []
    for role, words, x, y, half_width, half_height in wanted:
        size = LABEL if role == "box label" else LABEL - 2
        width, height = text_width(words, size * (1.15 if role == "box label" else 1.0)) / scale, size * 1.1 / scale
        sides = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1))
        spots = [(x + dx * (half_width + width / 2 + 3 / scale), y + dy * (half_height + height / 2 + 2 / scale))
                 for dx, dy in (((0, 0), *sides) if role == "zone label" else sides)]
        rects = [around(cx, cy, width / 2, height / 2) for cx, cy in spots]
        cut = [width * height - overlap(r, extent) for r in rects]  # what of it would lie outside
        best = min(range(len(spots)), key=lambda i: (round(cut[i] + sum(overlap(rects[i], t) for t in taken), 6), i))
        taken.append(rects[best])
        shapes.append(Shape("text", role, (spots[best],), text=words, size=size, offset=(0, size * 0.35)))
    return shapes


def around(x: float, y: float, half_width: float, half_height: float) -> Rect:
    """The rectangle about a middle."""
    return x - half_width, y - half_height, x + half_width, y + half_height


def _middle(points: tuple[XY, ...]) -> XY:
    across, up = [p[0] for p in points], [p[1] for p in points]
    return (min(across) + max(across)) / 2, (min(up) + max(up)) / 2


def overlap(a: Rect, b: Rect) -> float:
    """The area that two rectangles share."""
    return max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))


def _description(scene: StageScene, event: EventReplay | None) -> str:
    words = f"Seen from above, audience at the bottom, stage left on the right. {len(scene.boxes)} boxes and panels, "
    words += f"{len(scene.points)} connection points."
    if event:
        words += f" In this event {len(event.connections)} loose cables lie on the floor"
        words += f", {len(event.unserved)} needs are not served." if event.unserved else "."
    return words + (f" Origin: {scene.origin}." if scene.origin else "")
