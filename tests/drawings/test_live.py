"""The scene as the plan on screen reads it."""

import json

import pytest
from package.sample import sample

from stagefloor.drawings.live import live
from stagefloor.drawings.scene import BoxMark, PointMark, StageScene

SCENE = sample().scene
ROLES = {"stage", "joist", "bearing", "keep_clear", "path", "reach", "cable", "raceway", "note"}
ITEM_ROLES = {"floor_box", "wall_panel", "point", "node", "rack", "panel"}


def test_plain_data_with_known_roles_and_unique_ids():
    data = json.loads(json.dumps(live(SCENE, "Musical")))
    assert {s["role"] for s in data["shapes"]} <= ROLES
    assert {i["role"] for i in data["items"]} <= ITEM_ROLES
    ids = [x["id"] for x in data["shapes"] + data["items"]]
    assert len(ids) == len(set(ids))
    assert {s["layer"] for s in data["shapes"]} == {layer["key"] for layer in data["layers"]}


def test_only_the_cables_and_zones_of_the_event():
    none, school = live(SCENE), live(SCENE, "School show")
    assert not [s for s in none["shapes"] if s["role"] == "cable"]
    assert len([s for s in school["shapes"] if s["role"] == "cable"]) == 4, "A02, A03, A04 and A12 are in that show"
    labels = {s["label"] for s in live(SCENE, "Play")["shapes"]}
    assert "Step unit" not in labels
    assert "Trap" in labels


def test_two_boxes_with_one_label_keep_apart():
    twice = tuple(BoxMark(id=name, label="FB", title="Floor box FB", x=x, y=0) for x, name in enumerate(("a", "b")))
    assert [(i["id"], i["x"]) for i in live(StageScene(boxes=twice))["items"]] == [("a", 0), ("b", 1)]
    nameless = tuple(mark.model_copy(update={"id": ""}) for mark in twice)
    assert len({i["id"] for i in live(StageScene(boxes=nameless))["items"]}) == 2


def test_extent_and_units():
    """1 m is 3.28084 ft to six digits (by definition of the foot)."""
    data = live(StageScene(points=(PointMark(label="P", x=2, y=3),)))
    assert data["extent"] == [1.5, 2.5, 2.5, 3.5]
    assert data["unit"]["per_metre"] == pytest.approx(3.28084, abs=5e-6)
    assert live(StageScene(display="m"))["unit"] == {"label": "m", "per_metre": 1.0, "format": "decimal"}
    assert live(StageScene())["extent"] == [-3, -3, 3, 3]
