"""Two pictures put to a box on the live page by keyboard, seen small and large, captioned, and taken back."""

import os
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import STEP, Live, lab_of
from PIL import Image

from stagefloor.job import store
from stagefloor.job.pictures import Picture

pytestmark = pytest.mark.browser
PANEL = f"{STEP}.sf-pictures "
TILES = f"{PANEL}.sf-gallery li > button"
DRAWN = "s => [...document.querySelectorAll(s)].filter(image => image.complete && image.naturalWidth > 0).length"


job, live = lab_of("one_box", "boxes")


def test_two_pictures_by_keyboard(live: Live, job: Path, tmp_path: Path) -> None:
    page, keys = live.page, live.page.keyboard
    box = store.read(job).job.boxes()[0]
    files = [tmp_path / "lid.jpg", tmp_path / "wiring.png"]
    for file, colour in zip(files, ("teal", "maroon"), strict=True):
        Image.new("RGB", (2000, 1500), colour).save(file)

    page.locator(f"{PANEL}.sf-picture-which select").focus()
    keys.press("ArrowDown")  # the first box
    page.wait_for_selector(f"{PANEL}.sf-picture-file input", state="visible")
    with page.expect_file_chooser() as asked:
        for _ in range(12):
            keys.press("Tab")
            if page.evaluate("document.activeElement.type") == "file":
                break
        keys.press("Enter")
    asked.value.set_files(files)
    page.wait_for_function("s => document.querySelector(s).innerText.includes('2 pictures added')",
                           arg=f"{PANEL}.sf-file-said")
    page.wait_for_function(f"s => ({DRAWN})(s) === 2", arg=f"{TILES} img")
    kept = store.read(job).job.all(Picture)
    assert [(p.on, p.to, p.audience) for p in kept] == [("box", box.id, "office")] * 2
    assert sorted(p.name for p in (job / "pictures").iterdir()) == sorted(p.file for p in kept)
    cell = page.locator(f"{STEP}.sf-boxes [data-id='{box.id}'] [data-key='pictures']")
    assert cell.inner_text() == "2"

    page.locator(TILES).first.focus()
    keys.press("Enter")
    page.wait_for_function(f"s => ({DRAWN})(s) === 1", arg=f"{PANEL}dialog img:not([hidden])")
    first = page.locator(f"{PANEL}dialog").get_attribute("aria-label")
    keys.press("ArrowRight")
    page.wait_for_function("s => document.querySelector(s).innerText.startsWith('2.')", arg=f"{PANEL}dialog figcaption")
    assert box.title in (first or "")
    if shots := os.environ.get("SHOTS"):
        page.screenshot(path=f"{shots}/picture_large.png")
    keys.press("Escape")
    page.wait_for_function("id => document.activeElement.dataset.id === id", arg=kept[1].id)  # a moment after it closes

    page.locator(f"{PANEL}.sf-picture-table [data-id='{kept[0].id}'] [data-key='label']").focus()
    keys.type("Lid open")
    keys.press("Enter")
    page.wait_for_function("s => document.querySelector(s).alt.startsWith('Lid open, ')", arg=f"{TILES} img")
    assert store.read(job).job.get(Picture, kept[0].id).label == "Lid open"
    found = Axe().run(page, context=".sf-pictures").response["violations"]
    assert [(v["id"], v["nodes"][0]["html"][:120]) for v in found if v["impact"] in ("serious", "critical")] == []

    keys.press("Control+z")
    page.wait_for_function("s => !document.querySelector(s).alt.startsWith('Lid')", arg=f"{TILES} img")
    page.locator(f"{PANEL}.sf-picture-table").get_by_role("button", name="Undo").press("Enter")
    page.wait_for_function("s => !document.querySelector(s)", arg=TILES)
    assert store.read(job).job.all(Picture) == []
    assert len(list((job / "pictures").iterdir())) == 2  # history can bring them back
    assert live.outside == []
    assert live.complaints == []
