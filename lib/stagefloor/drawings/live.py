"""The live renderer's data: a scene as plain lists for the plan on screen, in metres."""

from stagefloor.core.units import FOOT
from stagefloor.drawings.plan import band
from stagefloor.drawings.scene import StageScene

LAYERS = (("stage", "Stage"), ("structure", "Joists and bearing lines"), ("keep_clear", "Keep-clear zones"),
          ("raceways", "Raceways"), ("cables", "Cables on the floor"))


def live(scene: StageScene, event: str = "") -> dict[str, object]:
    """The scene for the plan on screen.

    Parameters
    ----------
    scene : lengths in metres
    event : label of the event whose loose cables are shown; empty: none

    Returns
    -------
    dict with 'extent' [left, bottom, right, top], 'shapes', 'items', 'layers' and 'unit'; lengths in metres.
    Boxes and points keep the ids of their marks; a cable names the items it is tied to.
    """
    shapes: list[dict[str, object]] = []
    items = _items(scene)

    def add(layer: str, kind: str, role: str, points: object, label: str) -> None:
        shapes.append({"id": f"{role}-{len(shapes) + 1}", "layer": layer, "kind": kind, "role": role,
                       "points": [list(p) for p in points], "label": label})  # type: ignore[attr-defined]

    placed = {(i["label"], i["x"], i["y"]): i["id"] for i in reversed(items)}  # of two in one place, the first

    def tied(place: tuple[float, float], label: str) -> object:
        return placed.get((label, *place))

    if len(scene.outline) > 2:
        add("stage", "polygon", "stage", scene.outline, "Stage floor")
    for joist in scene.joists:
        add("structure", "line", "joist", joist.points, joist.label)
    for bearing in scene.bearings:
        add("structure", "line", "bearing", bearing.points, bearing.label)
    for zone in scene.zones:
        if event and zone.events and event not in zone.events:
            continue
        if zone.width > 0 and len(zone.points) == 2:
            add("keep_clear", "polygon", "path", band(zone.points[0], zone.points[1], zone.width), zone.label)
        else:
            add("keep_clear", "polygon" if len(zone.points) > 2 else "line", "keep_clear", zone.points, zone.label)
    for way in scene.raceways:
        add("raceways", "line", "raceway", way.points, way.label)
    for replay in scene.replay:
        if replay.event == event:
            for cable in replay.connections:
                add("cables", "line", "cable", cable.line, f"{cable.point} to {cable.box}: {cable.kinds}")
                shapes[-1]["ends"] = [tied(cable.line[0], cable.box), *[None] * (len(cable.line) - 2),
                                      tied(cable.line[-1], cable.point)]
    return {"extent": _extent(scene, items), "shapes": shapes, "items": items,
            "layers": [{"key": key, "label": label, "on": True} for key, label in LAYERS
                       if any(s["layer"] == key for s in shapes)],
            "unit": _unit(scene.display)}


def box_role(surface: str) -> str:
    """The role of a box on the plan."""
    return "floor_box" if surface == "floor" else "wall_panel"


def _items(scene: StageScene) -> list[dict[str, object]]:
    marks = [(b.id, box_role(b.surface), b.label, b.x, b.y, [b.width, b.height], b.title) for b in scene.boxes]
    marks += [(m.id, "point", m.label, m.x, m.y, [0.3, 0.3], m.what) for m in scene.points]
    marks += [("", role, place.label, place.x, place.y, [0.4, 0.4], "")
              for role, place in (("rack", scene.rack), ("panel", scene.panel)) if place]
    return [{"id": own or f"{role}-{number}", "x": x, "y": y, "label": label, "role": role, "size": size,
             "draggable": role in ("floor_box", "wall_panel", "point"), "note": note, "state": ""}
            for number, (own, role, label, x, y, size, note) in enumerate(marks, 1)]


def _extent(scene: StageScene, items: list[dict[str, object]]) -> list[float]:
    """A frame with half a metre to spare around everything; three metres each way if the scene is empty."""
    places = [*scene.outline, *(p for z in scene.zones for p in z.points)]
    places += [p for w in scene.raceways for p in w.points]
    places += [(float(str(i["x"])), float(str(i["y"]))) for i in items]
    if not places:
        return [-3.0, -3.0, 3.0, 3.0]
    across, up = [p[0] for p in places], [p[1] for p in places]
    return [min(across) - 0.5, min(up) - 0.5, max(across) + 0.5, max(up) + 0.5]


def _unit(display: str) -> dict[str, object]:
    if display == "ft-in":
        return {"label": "ft", "per_metre": 1 / FOOT, "format": "ft-in"}
    if display == "ft":
        return {"label": "ft", "per_metre": 1 / FOOT, "format": "decimal"}
    return {"label": "m", "per_metre": 1.0, "format": "decimal"} if display == "m" else \
        {"label": "mm", "per_metre": 1000.0, "format": "decimal"}
