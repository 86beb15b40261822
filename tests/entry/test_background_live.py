"""A drawing behind the plan on the live page: chosen, scaled by mouse and by keys, moved, switched off, under everything."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import STEP, Live, lab_of
from PIL import Image, ImageDraw
from playwright.sync_api import Page

from stagefloor.job import store
from stagefloor.job.background import Background
from stagefloor.job.inventory import Point

pytestmark = pytest.mark.browser
FOOT = 0.3048  # metres; international yard and pound agreement, 1959
SHEET = (1600, 1200)


job, live = lab_of("quillhaven_playhouse", "inventory")


def sheets(path: Path) -> Path:
    """Two sheets; on the second a stage of 1200 by 850 points, its lower edge 200 points over the sheet's."""
    pages = [Image.new("RGB", SHEET, "white") for _ in range(2)]
    ImageDraw.Draw(pages[1]).rectangle((200, 150, 1400, 1000), outline="black", width=6)
    pages[0].save(path, "PDF", save_all=True, append_images=pages[1:])
    return path


def now(job: Path) -> Background:
    return store.read(job).job.all(Background)[-1]


def until(page: Page, check: object, what: str) -> None:
    for _ in range(250):
        if check():  # type: ignore[operator]
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"not seen within 5 s: {what}")


def box(page: Page) -> dict[str, float]:
    found = page.locator(f"{STEP}.sf-back image").bounding_box()
    assert found is not None
    return found


def feet(page: Page) -> float:
    """Pixels a foot, by the plan's own scale bar of five feet."""
    way = page.locator(f"{STEP}.sf-overlay .sf-scale").get_attribute("d") or ""  # M x y v5 h(length) v-5
    assert page.locator(f"{STEP}.sf-overlay").text_content() == "5 ft"
    return float(way.split("h")[1].split("v")[0]) / 5


@pytest.fixture(scope="module")
def page(live: Live, tmp_path_factory: pytest.TempPathFactory) -> Page:
    """The page, with the second sheet of a drawing taken in behind the plan."""
    page, folder = live.page, tmp_path_factory.mktemp("drawings")
    page.locator(f"{STEP}.sf-folds").get_by_text("A drawing or picture behind the plan").click()
    page.locator(f"{STEP}.sf-background-in input[type=file]").set_input_files(sheets(folder / "old <b>sheets.pdf"))
    page.wait_for_selector(f"{STEP}.sf-background-in .sf-preview p")
    page.locator(f"{STEP}.sf-background-in input[type=number]").fill("2")
    page.keyboard.press("Tab")
    page.wait_for_function("s => document.querySelector(s).innerText.includes('page 2')",
                           arg=f"{STEP}.sf-background-in .sf-preview")
    page.locator(f"{STEP}.sf-background-in .sf-take").click()
    page.locator(f"{STEP}.sf-svg").scroll_into_view_if_needed()  # out of sight it is not drawn
    page.wait_for_selector(f"{STEP}.sf-back image")
    return page


@pytest.fixture(autouse=True)
def _ready(live: Live, page: Page) -> None:
    """Where the drawing is edited, seen whole, no tool taken up."""
    live.go_to("inventory")
    page.get_by_role("button", name="Fit").first.click()
    page.locator(f"{STEP}.sf-svg").focus()
    page.keyboard.press("Escape")


def test_a_page_of_a_pdf_is_taken_in_and_scaled(page: Page, job: Path) -> None:
    words = page.locator(f"{STEP}.sf-back-words")
    assert "old <b>sheets.pdf, page 2: Its scale is assumed" in words.inner_text()
    assert "only sizes that were measured on site count" in words.inner_text()

    page.get_by_role("button", name="Set two points").click()
    shown = box(page)
    for x in (200, 1400):
        page.mouse.click(shown["x"] + shown["width"] * x / SHEET[0], shown["y"] + shown["height"] * 1000 / SHEET[1])
    page.keyboard.type("52 steps")  # the field has the focus
    page.keyboard.press("Enter")
    page.wait_for_selector(f"{STEP}.sf-back-said:not(:empty)")
    assert "Between the two points: 'steps' in '52 steps' is not a unit" in page.locator(f"{STEP}.sf-back-said").inner_text()
    page.keyboard.press("Control+a")
    page.keyboard.type("52")
    page.keyboard.press("Enter")
    until(page, lambda: "Scaled by two points" in words.inner_text(), "the scale")
    # 1600 of 1200 points are 69.33 ft; a press is half a pixel off at most on each side
    assert box(page)["width"] / feet(page) == pytest.approx(52 * 1600 / 1200, rel=0.006)
    assert str(now(job).distance) == "52 ft"
    assert page.locator(f"{STEP}.sf-two").is_hidden()
    turned = page.get_by_role("button", name="Turn by 90°")
    turned.click()
    # on the screen, turned counter-clockwise: the sheet's right is up, its down is to the right
    pixel = 52 * feet(page) / 1200 * SHEET[0] / 3000  # the sheet is kept at 3000 points
    ways = "e => { const m = e.getScreenCTM(); return [m.a, m.b, m.c, m.d]; }"
    until(page, lambda: page.locator(f"{STEP}.sf-back image").evaluate(ways) == pytest.approx(
        [0, -pixel, pixel, 0], abs=pixel * 0.01), "a turn")
    for angle in (180, 270, 0):
        turned.click()
        until(page, lambda angle=angle: now(job).turn == angle, "a turn")


def test_two_points_by_keys_alone_with_their_places(page: Page, job: Path) -> None:
    page.get_by_role("button", name="Set two points").focus()
    for key in ("Enter", "Enter", *["Shift+ArrowRight"] * 12, "Enter"):  # the cross, the first point, 120 pixels, the second
        page.keyboard.press(key)
    field = page.get_by_label("Between the two points")
    assert field.evaluate("e => e === document.activeElement")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # unfolds where they lie
    for text in ("-10", "2", "10", "2"):
        page.keyboard.press("Tab")
        page.keyboard.type(text)
    before = box(page)["width"]
    page.keyboard.press("Enter")
    until(page, lambda: str(now(job).to_x) == "10 ft", "the second place")
    # 120 pixels became 20 ft
    until(page, lambda: abs(box(page)["width"] - before * 20 * feet(page) / 120) < before * 0.01, "the scale")
    assert page.locator(f"{STEP}.sf-back-words").inner_text().endswith("count.")
    assert "Scaled and turned by two points" in page.locator(f"{STEP}.sf-back-words").inner_text()


def test_it_is_moved_by_hand_and_keys_and_lies_under_what_can_be_dragged(page: Page, job: Path) -> None:
    page.get_by_role("button", name="Move background").click()
    page.locator(f"{STEP}.sf-svg").scroll_into_view_if_needed()
    place = page.locator(f"{STEP}.sf-svg").bounding_box()
    assert place is not None
    x, y = place["x"] + place["width"] / 2, place["y"] + place["height"] / 2
    start, was = box(page), now(job)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 40, y + 20, steps=4)
    page.mouse.up()
    until(page, lambda: now(job).at_x != was.at_x, "the move")
    moved, placed = box(page), now(job).at_x.si
    assert (moved["x"] - start["x"], moved["y"] - start["y"]) == pytest.approx((40, 20), abs=1.5)
    page.keyboard.press("ArrowLeft")
    until(page, lambda: now(job).at_x.si < placed - FOOT / 13, "an inch to the left")
    page.keyboard.press("Escape")

    item = page.locator(f"{STEP}.sf-item[aria-label*='A11']")
    at = item.locator(".sf-body").bounding_box()
    assert at is not None
    before = next(p for p in store.read(job).job.all(Point) if p.label == "A11")
    page.mouse.move(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    page.mouse.down()
    page.mouse.move(at["x"] + 30, at["y"] + 20, steps=4)
    page.mouse.up()
    until(page, lambda: next(p for p in store.read(job).job.all(Point) if p.label == "A11").x != before.x, "a dragged point")
    order = page.evaluate("s => [...document.querySelector(s).children].map(e => e.getAttribute('class'))", f"{STEP}.sf-svg")
    assert order[1] == "sf-back"  # after the patterns, before everything that is drawn
    still = box(page)["width"]
    page.get_by_role("button", name="Zoom in").first.click()
    assert box(page)["width"] == pytest.approx(still * 1.4, rel=0.001)
    page.get_by_role("button", name="Fit").first.click()


def test_it_can_be_switched_off_made_fainter_and_is_there_in_the_next_step(live: Live, page: Page) -> None:
    found = Axe().run(page).response["violations"]
    assert [(v["id"], n["html"][:100]) for v in found if v["impact"] in ("serious", "critical") for n in v["nodes"]
            if "sf-" in str(n["target"])] == []
    page.get_by_label("Strength").select_option("faint")
    assert page.locator(f"{STEP}.sf-back").evaluate("e => e.style.opacity") == "0.2"
    page.get_by_label("Background", exact=True).uncheck()
    assert page.locator(f"{STEP}.sf-back image").count() == 0
    page.get_by_label("Background", exact=True).check()
    live.go_to("boxes")
    page.locator(f"{STEP}.sf-svg").first.scroll_into_view_if_needed()
    page.wait_for_selector(f"{STEP}.sf-back image")
    assert page.locator(f"{STEP}.sf-backing").get_by_role("button", name="Set two points").count() == 0
    assert live.complaints == []
    assert live.outside == []
