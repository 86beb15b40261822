"""The entry plan on a live page: place, drag, snap, measure, pan, zoom, layers, remove, and what the job gets of it."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import STEP, Live
from playwright.sync_api import Locator, expect

from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, delete

pytestmark = [pytest.mark.browser, pytest.mark.slow]
FOOT = 0.3048  # metres, exactly


def boxes(job: Path) -> dict[str, Box]:
    return {b.label: b for b in store.read(job).job.boxes()}


@pytest.fixture
def plan(live: Live) -> Locator:
    """The plan of the boxes, on show and seen whole, no tool taken up."""
    live.go_to("boxes")
    found = live.page.locator(f"{STEP}.sf-plan")
    found.locator(".sf-svg").press("Escape")
    found.get_by_role("button", name="Fit").click()
    found.locator(".sf-svg").scroll_into_view_if_needed()
    return found


@pytest.fixture(autouse=True, scope="module")
def _as_it_was(job: Path) -> Iterator[None]:
    before = set(boxes(job))
    yield
    store.transact(job, lambda j: delete(j, "box", [b.id for b in j.boxes() if b.label not in before]), "Tidied up")


def item(plan: Locator, label: str) -> Locator:
    return plan.get_by_role("button", name=f" {label} at ")


def middle(where: Locator) -> tuple[float, float]:
    box = where.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def scale(plan: Locator) -> float:
    """Pixels a foot: the platform of this job is 18 ft wide."""
    box = plan.locator(".sf-svg .sf-stage").first.bounding_box()
    assert box is not None
    return box["width"] / 18


def drag(plan: Locator, start: tuple[float, float], right: float, down: float) -> None:
    mouse = plan.page.mouse
    mouse.move(*start)
    mouse.down()
    for part in range(1, 7):
        mouse.move(start[0] + right * part / 6, start[1] + down * part / 6)
        plan.page.wait_for_timeout(20)
    mouse.up()


def saved(plan: Locator) -> None:
    whole = plan.locator(".sf-state").locator("xpath=ancestor::*[@data-state]")
    expect(whole).to_have_attribute("data-state", "saved", timeout=15_000)  # the words follow a little later
    expect(plan.locator(".sf-state")).to_have_text("All saved.", timeout=15_000)


def on_the_inch(box: Box) -> bool:
    return all(q is not None and abs(q.si / FOOT * 12 - round(q.si / FOOT * 12)) < 0.01 for q in (box.x, box.y))


def test_a_box_is_placed_by_a_press_and_another_by_keys(live: Live, job: Path, plan: Locator) -> None:
    page, before = live.page, set(boxes(job))
    plan.get_by_role("button", name="Add floor box").click()
    foot = scale(plan)
    x, y = middle(item(plan, "FB-1").locator(".sf-body"))
    page.mouse.click(x - 3 * foot, y - 3 * foot)
    expect(plan.locator(".sf-say")).to_contain_text("placed; give it its details in the table.")
    saved(plan)
    (new,) = set(boxes(job)) - before
    made, old = boxes(job)[new], boxes(job)["FB-1"]
    assert made.x and made.y and old.x and old.y
    # the snap is an inch, so each may be off by half of one, and by the pixel that was pressed
    assert made.x.si == pytest.approx(old.x.si - 3 * FOOT, abs=0.03)
    assert made.y.si == pytest.approx(old.y.si + 3 * FOOT, abs=0.03)
    assert on_the_inch(made)
    expect(page.locator(f"{STEP}.sf-boxes [data-id='{made.id}']")).to_be_attached()
    plan.locator(".sf-svg").focus()
    for key in ("Shift+ArrowRight", "Shift+ArrowRight", "Shift+ArrowRight", "Enter", "Escape"):
        page.keyboard.press(key)
    saved(plan)
    expect(plan.locator(".sf-item[data-id^='box-']")).to_have_count(len(before) + 2)
    assert len(boxes(job)) == len(before) + 2


def test_a_dragged_box_takes_along_what_hangs_on_it_and_undo_takes_it_back(live: Live, job: Path, plan: Locator) -> None:
    page, was = live.page, boxes(job)["FB-1"]
    ring = plan.locator("circle.sf-reach").first
    before, foot = middle(ring), scale(plan)
    start = middle(item(plan, "FB-1").locator(".sf-body"))
    mouse = page.mouse
    mouse.move(*start)
    mouse.down()
    for part in range(1, 7):
        mouse.move(start[0] + 7 * foot * part / 6, start[1])
    # still under the hand: the ring has come along, and the plan says what the place means
    expect(plan.locator(".sf-say")).not_to_be_empty()
    assert middle(ring)[0] == pytest.approx(before[0] + 7 * foot, abs=3)
    mouse.up()
    saved(plan)
    now = boxes(job)["FB-1"]
    assert now.x and was.x and now.y and was.y
    assert now.x.si == pytest.approx(was.x.si + 7 * FOOT, abs=0.03)
    assert now.y.si == pytest.approx(was.y.si, abs=1e-3)
    assert on_the_inch(now)
    # 15 ft 8 in across, and the lectern at 9 ft: farther than the reach of this job
    expect(page.locator(f"{STEP}.sf-open-items")).to_contain_text("is farther from Floor box FB-1 than the longest")
    page.locator(f"{STEP}.sf-boxes").get_by_role("button", name="Undo").click()
    expect(item(plan, "FB-1")).to_have_accessible_name("Floor box FB-1 at 8 ft 8 in stage left, 3 ft 6 in upstage",
                                                       timeout=8000)
    assert boxes(job)["FB-1"].x == was.x


def test_select_read_remove_and_bring_back(live: Live, job: Path, plan: Locator) -> None:
    page = live.page
    item(plan, "FB-1").locator(".sf-body").click()
    expect(plan.locator(".sf-readout")).to_contain_text("Floor box FB-1: 8 ft 8 in stage left, 3 ft 6 in upstage.")
    expect(item(plan, "FB-1")).to_have_attribute("aria-pressed", "true")
    expect(plan.locator(".sf-say")).to_contain_text("Installed")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    expect(plan.locator(".sf-readout")).to_contain_text("8 ft 6 in stage left")
    saved(plan)
    page.locator(f"{STEP}.sf-boxes").get_by_role("button", name="Undo").click()
    page.locator(f"{STEP}.sf-boxes").get_by_role("button", name="Undo").click()
    expect(item(plan, "FB-1")).to_have_accessible_name("Floor box FB-1 at 8 ft 8 in stage left, 3 ft 6 in upstage",
                                                       timeout=8000)
    plan.get_by_role("button", name="Remove").click()  # old outlets are gathered in it: it stays, and the plan says why
    expect(plan.locator(".sf-say")).to_contain_text("FB-1 is still used by old outlet")
    assert "FB-1" in boxes(job)
    placed = "FB-GO"
    store.transact(job, lambda j: add(j, "box", [{"label": placed, "x": "5", "y": "7"}])[0], f"{placed} placed")
    expect(item(plan, placed)).to_have_count(1, timeout=8000)
    plan.locator(".sf-svg").scroll_into_view_if_needed()
    page.mouse.click(*middle(item(plan, placed).locator(".sf-body")))
    expect(plan.locator(".sf-readout")).to_contain_text(f"Floor box {placed}:")
    plan.get_by_role("button", name="Remove").click()
    expect(item(plan, placed)).to_have_count(0)
    saved(plan)
    assert placed not in boxes(job)
    page.locator(f"{STEP}.sf-boxes").get_by_role("button", name="Undo").click()
    expect(item(plan, placed)).to_have_count(1, timeout=8000)
    assert placed in boxes(job)
    item(plan, placed).focus()
    page.keyboard.press("Delete")
    expect(item(plan, placed)).to_have_count(0)


def test_arrow_keys_move_a_box_and_a_run_of_keys_is_one_edit(live: Live, job: Path, plan: Locator) -> None:
    """An arrow key is one step of the snap, an inch; with Shift it is ten."""
    keyboard, before = live.page.keyboard, len(store.edits(job))
    item(plan, "FB-1").focus()
    for _ in range(3):
        keyboard.down("ArrowRight")  # held down: it repeats
    assert len(store.edits(job)) == before
    keyboard.up("ArrowRight")
    saved(plan)
    assert len(store.edits(job)) == before + 1
    for key in ("Shift+ArrowUp", "ArrowDown", "ArrowLeft"):
        keyboard.press(key)
        saved(plan)
    expect(item(plan, "FB-1")).to_have_accessible_name(re.compile("FB-1 at 8 ft 10 in stage left, 4 ft 3 in upstage"))
    now = boxes(job)["FB-1"]
    assert now.x and now.y
    assert (now.x.si / FOOT * 12, now.y.si / FOOT * 12) == pytest.approx((106, 51), abs=0.01)
    for there in (3, 2, 1, 0):
        live.page.locator(f"{STEP}.sf-boxes").get_by_role("button", name="Undo").click()
        saved(live.page.locator(f"{STEP}.sf-boxes"))
        assert len(store.edits(job)) == before + 8 - there
    expect(item(plan, "FB-1")).to_have_accessible_name("Floor box FB-1 at 8 ft 8 in stage left, 3 ft 6 in upstage",
                                                       timeout=8000)


def test_measuring_between_box_and_lectern(plan: Locator) -> None:
    """By hand: 4 in across (9' less 8' 8") and 6 in up (4' less 3' 6"): the root of 52 is 7.21 in, 7 to the half inch."""
    plan.get_by_role("button", name="Measure").click()
    for label in ("FB-1", "Lectern"):
        plan.page.mouse.click(*middle(item(plan, label).locator(".sf-body")))
    expect(plan.locator(".sf-readout")).to_contain_text("Measured: 7 in (4 in across, 6 in up and down stage), "
                                                           "from Floor box FB-1 to Connection point Lectern.")
    plan.page.keyboard.press("Escape")


def test_pan_zoom_and_layers(live: Live, plan: Locator) -> None:
    page, where = live.page, item(plan, "FB-1").locator(".sf-body")
    start, foot = middle(where), scale(plan)
    plan.get_by_role("button", name="Zoom in").click()
    assert scale(plan) == pytest.approx(1.4 * foot, rel=0.01)
    plan.get_by_role("button", name="Zoom out").click()
    assert scale(plan) == pytest.approx(foot, rel=0.01)
    drag(plan, (start[0] + 2 * foot, start[1] - 2 * foot), 50, 30)
    assert middle(where) == pytest.approx((start[0] + 50, start[1] + 30), abs=2)
    at = middle(where)
    plan.locator(".sf-svg").focus()
    page.keyboard.press("ArrowRight")  # what is shown goes the other way
    page.keyboard.press("ArrowDown")
    assert middle(where) == pytest.approx((at[0] - 40, at[1] - 40), abs=2)
    page.mouse.move(*middle(where))
    at = middle(where)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -200)
    page.keyboard.up("Control")
    expect(plan.locator(".sf-svg .sf-stage").first).to_be_visible()
    assert scale(plan) > 1.5 * foot
    assert middle(where) == pytest.approx(at, abs=2)  # what is under the pointer stays there
    zoomed = scale(plan)
    page.mouse.wheel(0, 120)  # without the key the page scrolls
    page.wait_for_timeout(200)
    assert scale(plan) == pytest.approx(zoomed)
    assert middle(where)[1] < at[1] - 50
    plan.locator(".sf-svg").focus()
    page.keyboard.press("0")
    assert scale(plan) == pytest.approx(foot, rel=0.01)
    joists = plan.locator(".sf-frame .sf-joist")
    assert joists.count() > 5
    plan.get_by_label("Joists and bearing lines").uncheck()
    assert joists.count() == 0
    assert plan.locator(".sf-svg .sf-stage").count() > 0
    plan.get_by_label("Joists and bearing lines").check()
    assert joists.count() > 5


def test_an_event_is_replayed(live: Live, plan: Locator) -> None:
    replay = live.page.locator(f"{STEP}.widget-dropdown", has_text="Replay").locator("select")
    replay.select_option(label="Concert")
    expect(plan.locator(".sf-frame .sf-cable").first).to_be_attached()
    replay.select_option(label="no event")
    expect(plan.locator(".sf-frame .sf-cable")).to_have_count(0)
