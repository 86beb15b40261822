"""An entry plan: a drawing in stage terms whose items can be placed, moved and removed; knows no job."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import traitlets

from stagefloor.entry.link import HERE, Answer, Linked, Message, front_end

Scene = dict[str, Any]

BACKGROUND = ("scale", "shift", "turn")  # what a hand does to the background
EDITS = ("move", "place", "select", "remove", *BACKGROUND)
LONGEST = 200  # characters of a text typed into the plan
EMPTY: Scene = {
    "extent": [-5.0, -1.0, 5.0, 8.0],
    "shapes": [],
    "items": [],
    "layers": [],
    "place": [],
    "snap": None,
    "unit": {"label": "m", "per_metre": 1.0, "format": "decimal"},
    "origin": {"x": "centre line", "y": "origin line"},
    "background": None,
}


@dataclass(frozen=True)
class Backing:
    """The bytes of a background, their type, and the name by which a scene means them."""

    file: str
    type: str
    data: bytes


class Plan(Linked):
    """A plan with the audience at the bottom: +x is stage left (to the right), +y is upstage; metres.

    Parameters
    ----------
    name : what the plan is called on screen and by a screen reader.
    scene : a dict; what is left out is taken from EMPTY:
        `extent` [x0, y0, x1, y1], what Fit shows;
        `shapes` [{id, layer, kind, role, label}] with kind 'polygon' or 'line' (`points` [[x, y], ...]),
        'rect' (`points`, two corners), 'circle' (`center`, `radius`) or 'text' (`center`, `text`), and role
        'stage', 'stage_assumed', 'joist', 'bearing', 'keep_clear', 'path', 'reach', 'cable', 'raceway' or 'note';
        a circle with `follow`, an item's id, stays round that item while it is dragged, a line with
        `ends`, an item's id or None for each of its points, stays tied to them;
        `items` [{id, x, y, label, role, size, draggable, note, state}] with role 'floor_box', 'wall_panel',
        'point', 'node', 'rack' or 'panel', and `size` [width, depth]; one that is not draggable can't be removed
        either, and `fixed` says where it is placed;
        `layers` [{key, label, on}]; `place` [{role, label, line}], what may be placed by a press on the plan: a role
        with a `line` is of one thing, and when that is placed the next one of its line comes into the hand;
        `unit` {label, per_metre, format: 'ft-in' (per_metre counts feet) or 'decimal'};
        `snap`, the grid to which items move, or None; `origin` {x, y}, names of the two lines of zero;
        `background` {file, size, way, assumed, editable, label, words} or {problem}: what lies under everything, of the
        backing with this file; `size` [wide, high] in its points; `way` [p, q, x, y] takes a point z of it (right and
        up from the lower left corner, as a complex number) to (p + qi) z + (x + yi).
    on_change : called with one edit: {'do': 'move' or 'preview', 'id', 'x', 'y'}, {'do': 'place', 'x', 'y',
        'role'}, {'do': 'select', 'id'}, {'do': 'remove', 'id'}; of the background in 'file' {'do': 'scale', 'points'
        [[x, y], [x, y]] of the file, 'distance', 'first' [text, text], 'second' [text, text]}, {'do': 'shift', 'x', 'y'}
        by so much, {'do': 'turn'}. The answer: {'ok': bool, 'say': sentence,
        'items': [changed or new items], 'removed': [ids], 'shapes': {'replace_layer': key, 'shapes': [...]}
        or a list of these}; all but 'ok' may be left out.
        The owner may call `update` before it answers. A preview is a question: it comes while an item is
        still under the hand, must not change the job, and only its 'say' counts. A move that is not ok goes
        back to where the item was.
    keep_under : as for the grid.
    """

    _esm = front_end("plan_scene.js", "plan_shapes.js", "plan_background.js", "plan.js")
    _css = (HERE / "plan.css").read_text("utf-8")
    scene = traitlets.Dict().tag(sync=True)

    def __init__(
        self, name: str, scene: Scene, on_change: Callable[[Message], Answer | None], *, keep_under: str = ""
    ) -> None:
        self._told = False  # whether `update` was called while an edit is being answered
        self._backing: Backing | None = None
        super().__init__(on_change, name=name, scene=_own(scene), keep_under=keep_under)

    def update(self, scene: Scene, elsewhere: bool = True) -> None:
        """Show `scene` (whole, as it now stands); only items and layers that differ travel to the browser."""
        before = dict(self.scene)
        self.scene.update(_own(scene))
        self._told = True
        news = _difference(before, self.scene)
        if any(news.values()) and not self._answering:  # else the answer tells it all
            self.send({"do": "scene", "elsewhere": elsewhere, **news})

    def put_behind(self, backing: Backing | None) -> None:
        """Give the browser the bytes of the background: once, and again only to a page that is opened later."""
        if backing is not None and (self._backing is None or backing.file != self._backing.file):
            self._backing = backing
            self._send_backing()

    def _send_backing(self) -> None:
        if self._backing is not None:
            self.send({"do": "backing", "file": self._backing.file, "type": self._backing.type},
                      buffers=[self._backing.data])

    def _receive(self, widget: Any, message: Message, buffers: Any) -> None:
        super()._receive(widget, message, buffers)
        if message.get("do") == "hello":
            self._send_backing()

    def _whole(self) -> Message:
        return {"do": "whole", "scene": self.scene}

    def _reply(self, message: Message) -> Answer:
        good = all(_is_length(message.get(axis)) for axis in ("x", "y"))
        if message.get("do") != "preview" or not good or not self._item(message) or self._fixed(message):
            return {}  # of no use, and of no harm: the edit that follows is told why
        return {"say": self._ask(message).get("say", "")}

    def _renewed(self, answer: Answer) -> Answer:
        now = {item["id"]: item for item in self.scene["items"]}
        ids = [item["id"] for item in answer.get("items", [])]
        layers = _by_layer(self.scene["shapes"])
        return {**answer, "items": [now[i] for i in ids if i in now],
                "removed": [i for i in (*answer.get("removed", []), *ids) if i not in now],
                "shapes": [{**s, "shapes": layers.get(s["replace_layer"], [])} for s in answer.get("shapes", [])],
                "base": {key: self.scene.get(key) for key in answer.get("base", {})}}

    def _answer(self, message: Message) -> Answer:
        do = message.get("do")
        if do not in EDITS:
            return {"ok": False, "say": f"The plan does not know how to do {do!r}. Load the page again."}
        if ("x" in message or do == "shift") and not all(_is_length(message.get(axis)) for axis in ("x", "y")):
            say = "That position is not a number. Move the item again."
            return {"ok": False, "say": say, "items": self._item(message)}
        if do == "scale" and not _is_two_points(message):
            return {"ok": False, "say": "These are no two points. Press them again."}
        if do not in ("place", *BACKGROUND) and not self._item(message):
            return {"ok": False, "say": "That item was removed elsewhere.", "removed": [message.get("id")]}
        if do in ("move", "remove") and (why := self._fixed(message)):
            return {"ok": False, "say": why, "items": self._item(message)}
        before = dict(self.scene)
        self._told = False
        said = self._ask(message)
        ok = bool(said.get("ok", True))
        items, removed = list(said.get("items", [])), list(said.get("removed", []))
        if ok and not self._told and message.get("id") not in {item["id"] for item in items}:
            if do == "move":
                items += [{**item, "x": message["x"], "y": message["y"]} for item in self._item(message)]
            elif do == "remove":
                removed.append(message["id"])
        shapes = said.get("shapes") or []
        self._store(items, removed, shapes if isinstance(shapes, list) else [shapes])
        news = _difference(before, self.scene)
        told = {item["id"] for item in news["items"]}
        if do == "move" and message["id"] not in told:
            news["items"] += self._item(message)  # back to where it was
        if do in BACKGROUND:
            news["base"]["background"] = self.scene.get("background")  # also if it must go back to where it was
        return {"ok": ok, "say": said.get("say", ""), **news}

    def _fixed(self, message: Message) -> str:
        """Why an item is neither moved nor removed here; empty if it may be."""
        item = self._item(message)[0]
        done = "removed" if message["do"] == "remove" else "moved"
        return "" if item.get("draggable") else f"{item['label']} cannot be {done} here. {item.get('fixed', '')}".strip()

    def _item(self, message: Message) -> list[Scene]:
        return [item for item in self.scene["items"] if item["id"] == message.get("id")]

    def _store(self, items: list[Scene], removed: list[str], shapes: list[Scene]) -> None:
        # In place: a view opened later reads the present scene, and no whole scene travels at each edit.
        found = {item["id"]: item for item in [*self.scene["items"], *items]}
        self.scene["items"] = [item for item_id, item in found.items() if item_id not in removed]
        if items:  # the browser did the same while it was dragged
            self.scene["shapes"] = [_followed(shape, found) for shape in self.scene["shapes"]]
        for part in shapes:
            others = [shape for shape in self.scene["shapes"] if shape["layer"] != part["replace_layer"]]
            self.scene["shapes"] = [*others, *part["shapes"]]


def _own(scene: Scene) -> Scene:
    """A whole scene with items and shapes of its own: the owner may go on changing its dicts, not what is in them."""
    whole = {**EMPTY, **scene}
    return {**whole, "items": [dict(item) for item in whole["items"]], "shapes": [dict(shape) for shape in whole["shapes"]]}


def _difference(old: Scene, new: Scene) -> Message:
    """What a browser that shows `old` must be told to show `new`."""
    known = {item["id"]: item for item in old["items"]}
    ids = {item["id"] for item in new["items"]}
    before, after = _by_layer(old["shapes"]), _by_layer(new["shapes"])
    return {
        "items": [item for item in new["items"] if known.get(item["id"]) != item],
        "removed": [item_id for item_id in known if item_id not in ids],
        "shapes": [
            {"replace_layer": layer, "shapes": after.get(layer, [])}
            for layer in {**before, **after}
            if before.get(layer) != after.get(layer)
        ],
        "base": {
            key: value
            for key, value in new.items()
            if key not in ("items", "shapes") and value != old.get(key)
        },
    }


def _followed(shape: Scene, items: dict[str, Scene]) -> Scene:
    """The shape with what hangs on items where they stand."""
    place = {item_id: [item["x"], item["y"]] for item_id, item in items.items()}
    if shape.get("follow") in place:
        return {**shape, "center": place[shape["follow"]]}
    if not shape.get("ends"):
        return shape
    return {**shape, "points": [place.get(end, point)
                                for end, point in zip(shape["ends"], shape["points"], strict=True)]}


def _is_length(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _is_two_points(message: Message) -> bool:
    points, texts = message.get("points"), [message.get("distance")]
    for name in ("first", "second"):
        pair = message.get(name)
        texts += pair if isinstance(pair, list) and len(pair) == 2 else [None]
    return isinstance(points, list) and len(points) == 2 and all(
        isinstance(p, list) and len(p) == 2 and all(map(_is_length, p)) for p in points) and all(
        isinstance(t, str) and len(t) <= LONGEST for t in texts)


def _by_layer(shapes: Iterable[Scene]) -> dict[str, list[Scene]]:
    found: dict[str, list[Scene]] = {}
    for shape in shapes:
        found.setdefault(shape["layer"], []).append(shape)
    return found
