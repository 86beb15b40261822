"""The Python side of the entry plan, with no browser."""

import copy

import pytest

from stagefloor.entry.plan import Plan


def edit(plan, number, do, **rest):
    sent = []
    plan.send = sent.append
    plan._receive(plan, {"do": do, "client": "c1", "edit": number, **rest}, [])
    return sent[-1]


def item(plan, item_id):
    return next((one for one in plan.scene["items"] if one["id"] == item_id), None)


def layer(plan, key):
    return [shape["id"] for shape in plan.scene["shapes"] if shape["layer"] == key]


def test_an_accepted_move_is_kept(drawing):
    plan, messages, _ = drawing()
    answer = edit(plan, 1, "move", id="b1", x=1.0, y=2.0)
    assert messages == [{"do": "move", "id": "b1", "x": 1.0, "y": 2.0}]
    assert answer["ok"]
    assert answer["items"][0]["x"] == 1.0
    assert (item(plan, "b1")["x"], item(plan, "b1")["y"]) == (1.0, 2.0)
    assert plan.get_state("scene")["scene"]["items"][0]["x"] == 1.0, "a page loaded again reads the trait"


def test_where_the_owner_puts_an_item_wins(drawing):
    plan, _, answers = drawing()
    answers["move"] = lambda m: {
        "ok": True,
        "items": [{**item(plan, "b1"), "x": 0.8, "y": 2.0}],
        "say": "In a bay.",
    }
    answer = edit(plan, 1, "move", id="b1", x=1.0, y=2.0)
    assert answer["items"][0]["x"] == 0.8
    assert answer["say"] == "In a bay."
    assert item(plan, "b1")["x"] == 0.8


def test_a_refused_move_sends_the_item_back(drawing):
    plan, _, answers = drawing()
    answers["move"] = {"ok": False, "say": "That is on the keep-clear path. Place it 1 ft downstage."}
    answer = edit(plan, 1, "move", id="b1", x=0.0, y=6.0)
    assert answer["items"][0]["x"] == -2.8956
    assert item(plan, "b1")["y"] == 0.9144


def ask(plan, number, **rest):
    sent = []
    plan.send = sent.append
    plan._receive(plan, {"client": "c1", "question": number, **rest}, [])
    return sent


def test_a_preview_is_answered_with_a_sentence_and_changes_nothing(drawing):
    plan, messages, answers = drawing()
    answers["preview"] = {"ok": True, "say": "mend: a joist is in the way."}
    before = copy.deepcopy(dict(plan.scene))
    told = {"say": "mend: a joist is in the way.", "client": "c1", "reply": 7}
    assert ask(plan, 7, do="preview", id="b1", x=0.0, y=0.0) == [told]
    assert messages == [{"do": "preview", "id": "b1", "x": 0.0, "y": 0.0}]
    assert dict(plan.scene) == before


@pytest.mark.parametrize("rest", [{"do": "move", "id": "b1", "x": 0.0, "y": 0.0}, {"do": "preview", "id": "zz"},
                                  {"do": "preview", "id": "b1", "x": "1", "y": 0.0}])
def test_a_question_that_is_none_never_reaches_the_job(drawing, rest):
    plan, messages, _ = drawing()
    assert ask(plan, 1, **rest) == [{"client": "c1", "reply": 1}]
    assert messages == []


def test_what_hangs_on_a_moved_item_goes_along_and_is_not_sent_again(drawing):
    plan, _, _ = drawing()
    new = copy.deepcopy(dict(plan.scene))
    by_id = {shape["id"]: shape for shape in new["shapes"]}
    by_id["reach1"]["follow"], by_id["cable1"]["ends"] = "b1", ["b1", "p1"]
    plan.update(new)
    answer = edit(plan, 1, "move", id="b1", x=1.0, y=2.0)
    now = {shape["id"]: shape for shape in plan.scene["shapes"]}
    assert now["reach1"]["center"] == [1.0, 2.0]
    assert now["cable1"]["points"] == [[1.0, 2.0], [-1.5, 2.2]]  # the other end stays at the point p1
    by_id["reach1"]["center"], by_id["cable1"]["points"][0] = [1.0, 2.0], [1.0, 2.0]
    new["items"][0].update(x=1.0, y=2.0)
    sent = []
    plan.send = sent.append
    plan.update(new)
    assert answer["ok"]
    assert sent == [], "the browser drew it while it was dragged"


def test_place_and_remove(drawing):
    plan, _, answers = drawing()
    answers["place"] = lambda m: {
        "ok": True,
        "items": [
            {"id": "b3", "x": m["x"], "y": m["y"], "label": "FB-A3", "role": m["role"], "draggable": True}
        ],
    }
    edit(plan, 1, "place", x=1.0, y=1.0, role="floor_box")
    assert item(plan, "b3")["label"] == "FB-A3"
    assert edit(plan, 2, "remove", id="b3")["removed"] == ["b3"]
    assert item(plan, "b3") is None
    answers["remove"] = {"ok": False, "say": "FB-A1 is built. Retire it instead."}
    assert edit(plan, 3, "remove", id="b1")["removed"] == []
    assert item(plan, "b1")


@pytest.mark.parametrize("x", [None, "1", float("nan"), True])
def test_a_position_that_is_no_number_is_refused_with_a_sentence(drawing, x):
    plan, messages, _ = drawing()
    answer = edit(plan, 1, "move", id="b1", x=x, y=0.0)
    assert answer["ok"] is False
    assert answer["say"]
    assert answer["items"][0]["x"] == -2.8956
    assert messages == []


def test_an_item_gone_elsewhere_and_an_unknown_edit_are_answered(drawing):
    plan, messages, _ = drawing()
    assert edit(plan, 1, "move", id="zz", x=0.0, y=0.0)["removed"] == ["zz"]
    assert edit(plan, 2, "explode")["ok"] is False
    assert messages == []


def test_update_sends_only_what_differs(drawing):
    plan, _, _ = drawing()
    sent = []
    plan.send = sent.append
    new = copy.deepcopy(dict(plan.scene))
    plan.update(new)
    assert sent == []
    new["items"][1]["x"] = 3.0
    del new["items"][3]
    new["shapes"] = [shape for shape in new["shapes"] if shape["layer"] != "reach"]
    new["snap"] = None
    plan.update(new)
    assert [one["id"] for one in sent[0]["items"]] == ["b2"]
    assert sent[0]["removed"] == ["p1"]
    assert sent[0]["shapes"] == [{"replace_layer": "reach", "shapes": []}]
    assert sent[0]["base"] == {"snap": None}
    assert layer(plan, "reach") == []
    assert plan.scene["snap"] is None
    assert sent[0]["elsewhere"] is True


def test_a_fault_in_the_owner_is_a_sentence_and_the_item_goes_back(drawing):
    plan, _, answers = drawing()
    answers["move"] = lambda m: 1 / 0
    answer = edit(plan, 1, "move", id="b1", x=1.0, y=1.0)
    assert answer["ok"] is False
    assert answer["items"][0]["x"] == -2.8956
    assert "division" not in answer["say"]


def test_an_edit_that_arrives_twice_is_carried_out_once(drawing):
    plan, messages, _ = drawing()
    first = edit(plan, 1, "move", id="b1", x=1.0, y=1.0)
    assert edit(plan, 1, "move", id="b1", x=1.0, y=1.0) == {**first, "again": True}
    edit(plan, 2, "move", id="b1", x=2.0, y=1.0)
    again = edit(plan, 1, "move", id="b1", x=1.0, y=1.0)
    assert again["items"][0]["x"] == 2.0, "not where it was then"
    edit(plan, 3, "remove", id="b1")
    assert edit(plan, 1, "move", id="b1", x=1.0, y=1.0)["removed"] == ["b1"]
    assert [m["do"] for m in messages] == ["move", "move", "remove"]


def test_a_scene_may_leave_things_out():
    plan = Plan("Empty", {}, lambda message: None)
    assert plan.scene["items"] == []
    assert plan.scene["unit"]["label"] == "m"


def test_an_update_made_while_answering_travels_with_the_answer(drawing):
    plan, _, answers = drawing()

    def clamp(message):
        new = copy.deepcopy(dict(plan.scene))
        new["items"][0]["x"] = 0.5
        new["shapes"] = [shape for shape in new["shapes"] if shape["layer"] != "reach"]
        plan.update(new)
        return {"ok": True}

    answers["move"] = clamp
    answer = edit(plan, 1, "move", id="b1", x=1.0, y=2.0)
    assert [(one["id"], one["x"]) for one in answer["items"]] == [("b1", 0.5)]
    assert answer["shapes"] == [{"replace_layer": "reach", "shapes": []}]
    assert answer["ack"] == 1
