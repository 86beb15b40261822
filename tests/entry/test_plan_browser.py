"""The entry plan in a browser: drag, keys, placing, measuring, words, a cut line, a narrow screen."""

import copy
import time

import pytest

pytestmark = pytest.mark.browser


def until(stand, check, what):
    end = time.monotonic() + 5
    while time.monotonic() < end:
        if check():
            return
        stand.page.wait_for_timeout(20)
    raise AssertionError(f"not seen within 5 s: {what}")


def item(stand, item_id):
    return stand.page.locator(f'.sf-item[data-id="{item_id}"]')


def centre(stand, item_id):
    box = item(stand, item_id).locator(".sf-body").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(stand, start, right, down):
    mouse = stand.page.mouse
    mouse.move(*start)
    mouse.down()
    for part in range(1, 9):
        mouse.move(start[0] + right * part / 8, start[1] + down * part / 8)
        stand.page.wait_for_timeout(30)
    mouse.up()


def last(messages, do):
    found = [message for message in messages if message["do"] == do]
    return found[-1] if found else None


def test_names_are_in_stage_terms(stand, drawing):
    """2.8956 m is 9 ft 6 in and 0.9144 m is 3 ft, by the international foot of 0.3048 m."""
    it = stand(drawing()[0])
    assert item(it, "b1").get_attribute("aria-label") == (
        "Floor box FB-A1 at 9 ft 6 in stage right, 3 ft upstage, check"
    )
    assert item(it, "b1").get_attribute("role") == "button"


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        (2.8956, -0.9144, "9 ft 6 in stage left, 3 ft downstage"),
        (0.0, 0.0, "on the centre line, on the origin line"),
        (0.1651, 0.0127, "6 1/2 in stage left, 1/2 in upstage"),
        (-0.3, 3.6449, "1 ft stage right, 11 ft 11 1/2 in upstage"),
    ],
)
def test_lengths_in_feet_and_inches_to_the_half_inch(stand, drawing, x, y, words):
    """By hand, at 25.4 mm to the inch: 165.1 is 6.5, 12.7 is 0.5, 300 is 11.81 (so 12.0), 3644.9 is 143.5."""
    point = {"id": "q", "x": x, "y": y, "label": "Q", "role": "point", "draggable": True}
    it = stand(drawing(items=[point])[0])
    assert item(it, "q").get_attribute("aria-label") == f"Connection point Q at {words}"


def test_decimal_metres(stand, drawing):
    it = stand(drawing(unit={"label": "m", "per_metre": 1, "format": "decimal"})[0])
    assert "at 2.90 m stage right, 0.91 m upstage" in item(it, "b1").get_attribute("aria-label")


def test_stage_left_is_on_the_right_and_upstage_is_up(stand, drawing):
    it = stand(drawing()[0])
    (x1, y1), (x2, y2) = centre(it, "b1"), centre(it, "b2")
    assert x2 > x1
    assert y2 < y1


def test_a_drag_sends_previews_and_one_move_and_snaps(stand, drawing):
    plan, messages, _ = drawing()
    it = stand(plan)
    start = centre(it, "b1")
    drag(it, start, 90, -60)
    until(it, lambda: last(messages, "move"), "the move")
    moves = [message for message in messages if message["do"] == "move"]
    assert len(moves) == 1
    assert messages[-1]["do"] == "move"
    assert last(messages, "preview")
    for axis in ("x", "y"):
        steps = moves[0][axis] / 0.1524
        assert abs(steps - round(steps)) < 1e-6, "on the snap grid"
    assert moves[0]["x"] > -2.8956
    assert moves[0]["y"] > 0.9144
    end = centre(it, "b1")
    assert abs(end[0] - start[0] - 90) < 12
    assert abs(end[1] - start[1] + 60) < 12
    assert len(messages) < 14, "previews are held back"


def test_a_refused_move_springs_back_and_says_why(stand, drawing):
    plan, _, answers = drawing()
    answers["move"] = {"ok": False, "say": "That is on the keep-clear path. Place it further downstage."}
    it = stand(plan)
    start = centre(it, "b1")
    drag(it, start, 60, -200)
    it.page.get_by_text("That is on the keep-clear path.").wait_for()
    until(it, lambda: centre(it, "b1") == pytest.approx(start, abs=1), "back where it was")


def test_what_hangs_on_a_dragged_item_follows_with_no_answer_from_python(stand, drawing):
    shapes = copy.deepcopy(drawing()[0].scene["shapes"])
    for shape in shapes:
        if shape["id"] == "reach1":
            shape["follow"] = "b1"
        if shape["id"] == "cable1":
            shape["ends"] = ["b1", "p1"]
    it = stand(drawing(shapes=shapes)[0])
    start, circle, cable = centre(it, "b1"), it.page.locator("circle.sf-reach"), it.page.locator("polyline.sf-cable")
    it.connected = False
    it.page.mouse.move(*start)
    it.page.mouse.down()
    it.page.mouse.move(start[0] + 90, start[1])
    now = centre(it, "b1")
    round_it = circle.bounding_box()
    assert now[0] > start[0] + 80
    assert round_it["x"] + round_it["width"] / 2 == pytest.approx(now[0], abs=1)
    ends = [float(n) for n in cable.get_attribute("points").replace(",", " ").split()]
    at = [float(n) for n in item(it, "b1").get_attribute("transform")[10:-1].split()]
    assert ends[:2] == pytest.approx(at, abs=0.2)
    it.page.keyboard.press("Escape")
    assert centre(it, "b1") == pytest.approx(start, abs=1)


def test_the_last_place_under_a_hand_that_rests_is_asked_about(stand, drawing):
    plan, messages, answers = drawing()
    answers["preview"] = lambda m: {"say": f"Here it is {m['x']:.2f} m across."}
    it = stand(plan)
    start = centre(it, "b1")
    it.page.mouse.move(*start)
    it.page.mouse.down()
    for far in (20, 40, 60, 80, 100):  # faster than anybody answers
        it.page.mouse.move(start[0] + far, start[1])
    x = 0.1524 * round((-2.8956 + (centre(it, "b1")[0] - start[0]) / scale_of(it)) / 0.1524)
    it.page.get_by_text(f"Here it is {x:.2f} m across.").wait_for()
    assert last(messages, "preview")["x"] == pytest.approx(x)
    assert last(messages, "move") is None


def scale_of(it):
    """Pixels a metre, from two items of the scene whose places are known: b2 at 2.5 m, n1 at 5.2 m."""
    at = [float(item(it, name).get_attribute("transform")[10:-1].split()[0]) for name in ("b2", "n1")]
    return (at[1] - at[0]) / (5.2 - 2.5)


def test_arrow_keys_move_by_the_snap_and_a_run_of_keys_is_one_move(stand, drawing):
    plan, messages, _ = drawing()
    it = stand(plan)
    item(it, "b1").focus()
    it.page.keyboard.press("ArrowRight")
    until(it, lambda: last(messages, "move"), "the move")
    assert last(messages, "move")["x"] == pytest.approx(-2.8956 + 0.1524)
    it.page.keyboard.press("Shift+ArrowUp")
    until(it, lambda: last(messages, "move")["y"] > 1, "ten steps")
    assert last(messages, "move")["y"] == pytest.approx(0.9144 + 1.524)
    for _ in range(4):
        it.page.keyboard.down("ArrowLeft")
    it.page.keyboard.up("ArrowLeft")
    until(it, lambda: last(messages, "move")["x"] < -3, "the run")
    assert len([message for message in messages if message["do"] == "move"]) == 3
    # -2.8956 + (1 - 4) x 0.1524 = -3.3528 m, which is 11 ft
    assert it.page.locator(".sf-readout").inner_text().startswith("Floor box FB-A1: 11 ft stage right")


def test_keys_select_and_remove_and_a_fixed_item_says_so(stand, drawing):
    plan, messages, _ = drawing()
    it = stand(plan)
    item(it, "b1").focus()
    it.page.keyboard.press("Enter")
    until(it, lambda: messages == [{"do": "select", "id": "b1"}], "select")
    assert item(it, "b1").get_attribute("aria-pressed") == "true"
    assert (
        it.page.locator(".sf-readout")
        .inner_text()
        .startswith("Floor box FB-A1: 9 ft 6 in stage right, 3 ft upstage. 12 openings, 2 spare.")
    )
    it.page.keyboard.press("Tab")
    assert it.page.evaluate("document.activeElement.dataset.id") == "b2"
    it.page.keyboard.press("Delete")
    item(it, "b2").wait_for(state="detached")
    item(it, "k1").focus()
    it.page.keyboard.press("ArrowUp")
    it.page.get_by_text("Rack Rack cannot be moved here.").wait_for()
    assert last(messages, "move") is None


def test_placing_by_press_and_by_keys(stand, drawing):
    plan, messages, answers = drawing()
    answers["place"] = lambda m: {
        "ok": True,
        "items": [
            {
                "id": f"n{m['x']}",
                "x": m["x"],
                "y": m["y"],
                "label": "FB-A3",
                "role": m["role"],
                "draggable": True,
            }
        ],
    }
    it = stand(plan)
    it.page.get_by_role("button", name="Place floor box").click()
    box = it.page.locator(".sf-svg").bounding_box()
    it.page.mouse.click(box["x"] + box["width"] * 0.6, box["y"] + box["height"] * 0.5)
    until(it, lambda: last(messages, "place"), "placed by a press")
    placed = last(messages, "place")
    assert placed["role"] == "floor_box"
    assert placed["x"] > 0
    assert placed["x"] / 0.1524 == pytest.approx(round(placed["x"] / 0.1524))
    it.page.keyboard.press("Escape")
    it.page.get_by_role("button", name="Place floor box").click()
    for key in ("ArrowLeft", "ArrowLeft", "Enter"):
        it.page.keyboard.press(key)
    until(it, lambda: len([m for m in messages if m["do"] == "place"]) == 2, "placed by keys")
    assert last(messages, "place")["x"] == pytest.approx(-2 * 0.1524)


def test_what_was_just_placed_can_be_dragged_and_chosen_at_once(stand, drawing):
    plan, messages, answers = drawing()
    answers["place"] = lambda m: {"ok": True, "items": [
        {"id": "new", "x": m["x"], "y": m["y"], "label": "FB-A3", "role": m["role"], "draggable": True}]}
    it = stand(plan)
    it.page.get_by_role("button", name="Place floor box").click()
    box = it.page.locator(".sf-svg").bounding_box()
    it.page.mouse.click(box["x"] + box["width"] * 0.6, box["y"] + box["height"] * 0.5)
    item(it, "new").wait_for()
    placed, start = last(messages, "place"), centre(it, "new")
    it.page.mouse.click(*start)  # chosen, and no second one on top of it
    until(it, lambda: last(messages, "select"), "chosen by a press")
    drag(it, start, 60, 0)
    until(it, lambda: last(messages, "move"), "moved, not the plan")
    assert last(messages, "move")["x"] > placed["x"]
    assert len([m for m in messages if m["do"] == "place"]) == 1
    it.page.mouse.click(box["x"] + box["width"] * 0.4, box["y"] + box["height"] * 0.4)  # still placing elsewhere
    until(it, lambda: len([m for m in messages if m["do"] == "place"]) == 2, "placed by a press")


def test_measuring_between_two_items(stand, drawing):
    """A 3-4-5 triangle: 3 m across and 4 m along is 5 m."""
    items = [
        {"id": name, "x": x, "y": y, "label": name, "role": "point", "draggable": True}
        for name, x, y in (("a", -1.0, 1.0), ("b", 2.0, 5.0))
    ]
    it = stand(drawing(items=items, unit={"label": "m", "per_metre": 1, "format": "decimal"})[0])
    it.page.get_by_role("button", name="Measure").click()
    it.page.mouse.click(*centre(it, "a"))
    it.page.mouse.click(*centre(it, "b"))
    assert (
        "Measured: 5.00 m (3.00 m across, 4.00 m up and down stage), from Connection point a to Connection point b."
        in it.page.locator(".sf-readout").inner_text()
    )


def test_pan_zoom_fit_and_layers(stand, drawing):
    it = stand(drawing()[0])
    start = centre(it, "b1")
    it.page.get_by_role("button", name="Zoom in").click()
    assert centre(it, "b1") != start
    it.page.get_by_role("button", name="Fit").click()
    assert centre(it, "b1") == pytest.approx(start, abs=0.5)
    box = it.page.locator(".sf-svg").bounding_box()
    drag(it, (box["x"] + box["width"] / 2 + 40, box["y"] + box["height"] * 0.55), 50, 30)
    moved = centre(it, "b1")
    assert (moved[0] - start[0], moved[1] - start[1]) == pytest.approx((50, 30), abs=1)
    assert it.page.locator(".sf-joist").count() > 0
    it.page.get_by_label("Joists").uncheck()
    assert it.page.locator(".sf-frame .sf-joist").count() == 0
    before = centre(it, "b1")
    it.page.mouse.move(*before)
    it.page.keyboard.down("Control")
    it.page.mouse.wheel(0, -200)
    it.page.keyboard.up("Control")
    until(it, lambda: item(it, "b1").locator(".sf-body").bounding_box()["width"] > 30, "zoomed by the wheel")
    assert centre(it, "b1") == pytest.approx(before, abs=1), "what is under the pointer stays there"


def test_a_move_made_while_not_connected_is_sent_later(stand, drawing):
    plan, messages, _ = drawing()
    it = stand(plan)
    it.page.locator('.sf-plan[data-state="saved"]').wait_for()
    it.connected = False
    drag(it, centre(it, "b1"), 60, 0)
    it.page.locator('.sf-plan[data-state="waiting"]').wait_for(timeout=6000)
    assert "Not connected. 1 change is kept here" in it.page.locator(".sf-state").inner_text()
    it.connected = True
    it.page.locator('.sf-plan[data-state="saved"]').wait_for(timeout=12000)
    assert last(messages, "move")["x"] > -2.5


def test_an_update_from_python_moves_an_item_and_keeps_the_focus(stand, drawing):
    plan, _, _ = drawing()
    it = stand(plan)
    item(it, "b1").focus()
    start = centre(it, "b2")
    new = copy.deepcopy(dict(plan.scene))
    new["items"][1]["x"] = 4.0
    plan.update(new)
    until(it, lambda: centre(it, "b2")[0] > start[0] + 20, "moved")
    assert it.page.evaluate("document.activeElement.dataset.id") == "b1"
    assert it.page.locator(".sf-say").inner_text() == "Changed elsewhere."


def test_two_fingers_zoom(stand, drawing):
    it = stand(drawing()[0], width=390, height=844, touch=True)
    box = it.page.locator(".sf-svg").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    wide = item(it, "k1").locator(".sf-body").bounding_box()["width"]
    line = it.page.context.new_cdp_session(it.page)
    for kind, gap in (("touchStart", 30), ("touchMove", 50), ("touchMove", 80), ("touchMove", 120)):
        line.send(
            "Input.dispatchTouchEvent",
            {
                "type": kind,
                "touchPoints": [{"x": x - gap / 2, "y": y, "id": 1}, {"x": x + gap / 2, "y": y, "id": 2}],
            },
        )
    line.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    until(it, lambda: item(it, "k1").locator(".sf-body").bounding_box()["width"] > 1.5 * wide, "zoomed")


@pytest.mark.parametrize("width", [1440, 390])
def test_no_serious_accessibility_fault_and_nothing_cut_off(
    stand, drawing, no_serious_faults, width, tmp_path
):
    it = stand(drawing()[0], width=width, height=1100, touch=width < 500)
    item(it, "b1").focus()
    it.page.keyboard.press("Enter")
    it.page.locator('.sf-plan[data-state="saved"]').wait_for()
    it.page.screenshot(path=tmp_path / f"plan-{width}.png", full_page=True)
    assert no_serious_faults(it.page) == []
    assert it.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
