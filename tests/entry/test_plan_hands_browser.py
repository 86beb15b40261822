"""Plan, gallery and file field under hands that are quick, late or use keys alone: nothing is done that was not meant."""

import copy
import shutil
import time

import pytest
from browser import TOP
from PIL import Image

from stagefloor.entry.file_in import FileIn
from stagefloor.entry.gallery import AT_ONCE, Gallery
from stagefloor.entry.session import Session
from stagefloor.entry.stage_plan import StagePlan
from stagefloor.job import edit, store
from stagefloor.job.inventory import Point
from stagefloor.job.pictures import Picture

pytestmark = pytest.mark.browser
METRES = {"label": "m", "per_metre": 1, "format": "decimal"}


def point(name, x, y, **more):
    return {"id": name, "x": x, "y": y, "label": name, "role": "point", "draggable": True, **more}


def item(it, name):
    return it.page.locator(f'.sf-item[data-id="{name}"]')


def centre(it, name):
    box = item(it, name).locator(".sf-body").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def until(it, check, what):
    end = time.monotonic() + 5
    while time.monotonic() < end:
        if check():
            return
        it.page.wait_for_timeout(20)
    raise AssertionError(f"not seen within 5 s: {what}")


def last(messages, do):
    return next((message for message in reversed(messages) if message["do"] == do), None)


def said(it):
    return it.page.locator(".sf-say").inner_text()


def focus(it):
    return it.page.evaluate("document.activeElement.getAttribute('class') ?? document.activeElement.localName")


def spot(it, x, y):
    """Where a place on the stage is on the page, by the item p1 of the scene, at (-1.5, 2.2)."""
    left, top = centre(it, "p1")
    scale = (centre(it, "n1")[0] - left) / (5.2 + 1.5)  # n1 stands at 5.2 m
    return left + (x + 1.5) * scale, top - (y - 2.2) * scale


class Slow:
    """Holds back what Python answers, as a busy kernel does."""

    def __init__(self, it):
        self.it, self.kept = it, []
        it.widget.send = lambda message, buffers=None: self.kept.append(message)

    def answer(self):
        self.it.widget.send = self.it.to_browser
        for message in self.kept:
            self.it.to_browser(message)


def test_an_item_that_only_shows_is_not_removed_by_any_key_or_button(stand, drawing):
    shown = [point("Lectern", 0.0, 2.0, draggable=False, fixed="Connection points are placed in the step Inventory.")]
    plan, messages, _ = drawing(items=shown, place=[])
    it = stand(plan)
    assert it.page.get_by_role("button", name="Remove").count() == 0
    assert "Delete" not in it.page.locator(".sf-help").inner_text()
    item(it, "Lectern").focus()
    for key in ("Enter", "Delete", "Backspace"):
        it.page.keyboard.press(key)
    assert said(it) == (
        "Connection point Lectern cannot be removed here. Connection points are placed in the step Inventory.")
    until(it, lambda: messages, "what was selected")
    assert messages == [{"do": "select", "id": "Lectern"}]
    other, _, _ = drawing()
    it = stand(other)
    item(it, "k1").focus()
    it.page.keyboard.press("Enter")
    assert it.page.get_by_role("button", name="Remove").is_disabled()


def test_measuring_takes_the_nearest_item_and_says_which_or_the_very_spot(stand, drawing):
    """Items at 0, 0.18 and 4 m, nearer on the screen than a finger is wide: from the second to the third are 3.82 m."""
    items = [point("a", 0.0, 1.0), point("b", 0.18, 1.0), point("c", 4.0, 1.0)]
    it = stand(drawing(items=items, unit=METRES)[0])
    it.page.get_by_role("button", name="Measure").click()
    it.page.mouse.click(*centre(it, "b"))
    it.page.mouse.click(*centre(it, "c"))
    assert said(it) == ("Measured: 3.82 m (3.82 m across, 0.00 m up and down stage), "
                        "from Connection point b to Connection point c.")
    x, y = centre(it, "c")
    scale = (x - centre(it, "a")[0]) / 4
    it.page.mouse.click(x, y)
    it.page.keyboard.down("Shift")
    it.page.mouse.click(x - 8, y)  # a joist beside the item
    it.page.keyboard.up("Shift")
    assert said(it).startswith(f"Measured: {8 / scale:.2f} m (")
    assert said(it).endswith("from Connection point c to the spot pressed.")
    it.page.keyboard.press("ArrowLeft")  # the cross is heard of: here it goes on from where the hand was
    assert said(it).startswith("Here: ")


def test_an_arrow_key_moves_along_its_own_axis_alone(stand, drawing):
    """0.9271 m are 36 1/2 in, between two steps of the snap: it stays so to the last digit."""
    plan, messages, _ = drawing(items=[point("a", 1.0, 0.9271)], snap=0.0254)
    it = stand(plan)
    item(it, "a").focus()
    it.page.keyboard.press("ArrowRight")
    until(it, lambda: last(messages, "move"), "the move")
    assert last(messages, "move")["y"] == 0.9271
    assert last(messages, "move")["x"] == pytest.approx(round(1.0254 / 0.0254) * 0.0254)


def test_two_presses_place_one_thing_and_the_next_comes_into_the_hand_after_the_answer(stand, tmp_path):
    session = Session(store.create(tmp_path / "job", {"units": "m"}))
    session._soon = session.tell  # the loop that runs here is the one that drives the browser
    session.edit("points", lambda job: edit.add(job, "point", [{"label": "Organ"}, {"label": "Piano"}])[0])

    def places():
        return {p.label: p.x is not None for p in session.job.all(Point)}

    it = stand(StagePlan(session, "Stage", points=True).plan)
    box = it.page.locator(".sf-svg").bounding_box()
    x, y = box["x"] + box["width"] * 0.4, box["y"] + box["height"] * 0.5
    it.page.get_by_role("button", name="Place Organ").click()
    slow = Slow(it)
    it.page.mouse.dblclick(x, y)
    it.page.mouse.click(x + 60, y)
    until(it, lambda: it.sent("place"), "the first press")
    slow.answer()
    it.page.get_by_role("button", name="Place Piano", pressed=True).wait_for()
    assert places() == {"Organ": True, "Piano": False}
    assert it.page.locator(".sf-readout").inner_text().startswith("Place Piano: press on the plan.")
    it.page.mouse.click(x + 60, y)
    until(it, lambda: places()["Piano"], "the second one")
    assert len(it.sent("place")) == 2
    slow = Slow(it)
    it.page.get_by_role("button", name="Add connection point").click()
    it.page.mouse.dblclick(x + 120, y)
    until(it, lambda: len(it.sent("place")) == 3, "a new one")
    slow.answer()
    it.page.locator(".sf-plan[data-state=saved]").wait_for()
    assert len(it.sent("place")) == 3


def test_enter_pressed_twice_scales_the_background_once_by_points_of_its_file(stand, drawing):
    """Its way takes (u, v) to 0.03 i (u, v) + (3, 1): a place (x, y) is u = (y - 1) / 0.03, v = (3 - x) / 0.03 of it."""
    told = {"file": "f.png", "size": [400, 300], "way": [0.0, 0.03, 3.0, 1.0], "editable": True, "label": "sheet",
            "words": "Its scale is assumed.", "assumed": True}
    plan, messages, answers = drawing(background=told)
    answers["scale"] = lambda m: plan.update({**plan.scene, "background": {**told, "way": [0.0, 0.06, 3.0, 1.0]}})
    it = stand(plan)
    it.page.get_by_role("button", name="Set two points").click()
    for x, y in ((-0.5, 2.0), (1.0, 4.0)):
        it.page.mouse.click(*spot(it, x, y))
    slow = Slow(it)
    it.page.keyboard.type("52")
    it.page.keyboard.press("Enter")
    it.page.keyboard.press("Enter")
    until(it, lambda: messages, "the scale")
    assert "not answered yet" in it.page.locator(".sf-back-said").inner_text()
    slow.answer()
    it.page.locator(".sf-two").wait_for(state="hidden")
    assert [m["do"] for m in messages] == ["scale"]
    assert messages[0]["file"] == "f.png"
    pressed = [n for pair in messages[0]["points"] for n in pair]
    assert pressed == pytest.approx([1.0 / 0.03, 3.5 / 0.03, 3.0 / 0.03, 2.0 / 0.03], abs=0.5)


def test_a_drag_and_an_edit_from_elsewhere(stand, drawing):
    plan, messages, _ = drawing()
    it = stand(plan)
    whole = copy.deepcopy(dict(plan.scene))
    mouse, start = it.page.mouse, centre(it, "b1")

    def taken():
        mouse.move(*start)
        mouse.down()
        mouse.move(start[0] + 90, start[1])

    taken()
    plan.update({**whole, "items": [i for i in whole["items"] if i["id"] != "b1"]})
    item(it, "b1").wait_for(state="detached")
    mouse.move(start[0] + 120, start[1])
    mouse.up()
    assert said(it) == "Floor box FB-A1 was removed elsewhere; it was not moved."
    plan.update(whole)  # an undo
    item(it, "b1").wait_for()
    assert centre(it, "b1") == pytest.approx(start, abs=1)

    taken()
    there = [{**i, "x": i["x"] + 1.0, "y": 4.0} if i["id"] == "b1" else i for i in whole["items"]]
    plan.update({**whole, "items": there})
    it.page.get_by_text("Changed elsewhere.").wait_for()
    it.page.keyboard.press("Escape")
    mouse.up()
    assert centre(it, "b1") == pytest.approx(spot(it, -1.8956, 4.0), abs=1)
    assert last(messages, "move") is None


def test_the_focus_is_not_lost_with_what_had_it(stand, drawing):
    plan, messages, _ = drawing()
    plan.keep_under = "job-8/plan"
    it = stand(plan)
    page = it.page
    item(it, "b2").focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Remove").focus()
    page.keyboard.press("Enter")
    item(it, "b2").wait_for(state="detached")
    assert focus(it) == "sf-svg"
    page.get_by_label("Joists").focus()
    plan.update({**plan.scene, "place": [{"role": "point", "label": "Add point"}]})
    page.get_by_role("button", name="Add point").wait_for()
    assert page.evaluate("document.activeElement.dataset.key") == "joists"
    page.keyboard.press("Space")
    plan.update({**plan.scene, "layers": [*plan.scene["layers"], {"key": "more", "label": "More", "on": True}]})
    page.get_by_label("More").wait_for()
    assert page.evaluate("document.activeElement.dataset.key") == "joists"
    assert not page.get_by_label("Joists").is_checked()

    it.connected = False
    item(it, "b1").focus()
    page.keyboard.press("ArrowRight")
    page.on("dialog", lambda dialog: dialog.accept())
    page.goto("http://localhost/stand")
    it.connected = True
    it.mount()
    page.get_by_role("button", name="Save them now").focus()
    page.keyboard.press("Enter")
    until(it, lambda: last(messages, "move"), "the kept move")
    assert page.evaluate("document.activeElement.closest('.sf-plan') !== null")


def test_the_gallery_keeps_the_focus_when_all_are_shown(stand, tmp_path):
    shutil.copy(TOP / "demo_projects" / "one_box" / "job.json", tmp_path)
    (tmp_path / "pictures").mkdir()
    Image.new("RGB", (40, 30), "teal").save(tmp_path / "pictures" / f"{'0' * 24}.png")
    gallery = Gallery(tmp_path)
    job = store.read(tmp_path).job
    pictures = [Picture(id=f"p{n}", label=f"No. {n}", file=f"{'0' * 24}.png", on="job") for n in range(AT_ONCE + 1)]
    gallery.show(job, pictures)
    it = stand(gallery)

    def synced(change):
        it.page.evaluate("([name, value]) => window.model.set(name, value)", [change["name"], change["new"]])

    gallery.observe(synced, ["items", "rest"])
    it.page.get_by_role("button", name="Show 1 more").focus()
    it.page.keyboard.press("Enter")
    it.page.wait_for_function("document.activeElement.dataset.id === 'p24'")
    gallery.show(job, pictures[:3])
    it.page.wait_for_function("document.activeElement.dataset.id === 'p2'")


def test_a_file_that_failed_can_be_chosen_again_and_silence_is_said(stand, tmp_path):
    came = []
    field = FileIn(lambda name, data: came.append(name) or "It can't be read.", label="A drawing", most=10, patience=250)
    it = stand(field)
    file = tmp_path / "plan.dxf"
    words = it.page.locator(".sf-file-said")

    def choose(text):
        file.write_text(text)
        it.page.locator("input").set_input_files(file)

    choose("much too long")
    until(it, lambda: "10" in words.inner_text() or "the most" in words.inner_text(), "too large")
    assert it.page.locator("input").evaluate("e => e.files.length") == 0
    choose("short")
    it.page.get_by_text("It can't be read.").wait_for()
    it.connected = False  # such as a kernel that was started again
    choose("short")
    it.page.get_by_text("No answer about plan.dxf yet. If none comes, load this page again").wait_for()
    it.connected = True
    choose("short")
    it.page.get_by_text("It can't be read.").wait_for()
    assert came == ["plan.dxf"] * 2
