"""Sheets and tables taken in on the live pages: chosen, shown, agreed to, undone; forty rows with three mistakes."""

import base64
import json
import os
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import STEP, Live
from playwright.sync_api import Page

from stagefloor.job import store
from stagefloor.job.inventory import Point
from stagefloor.job.sheet import Survey
from stagefloor.job.sheets import Sheet

pytestmark = pytest.mark.browser


def choose(page: Page, where: str, file: Path) -> None:
    before = page.locator(f"{STEP}.{where} .sf-preview").inner_text()
    page.locator(f"{STEP}.{where} input[type=file]").set_input_files(file)
    page.wait_for_function("([s, before]) => !['', before].includes(document.querySelector(s).innerText.trim())",
                           arg=[f"{STEP}.{where} .sf-preview", before.strip()])


def faults(page: Page) -> list[tuple[str, str]]:
    found = Axe().run(page).response["violations"]
    return [(v["id"], n["html"][:120]) for v in found if v["impact"] in ("serious", "critical") for n in v["nodes"]
            if "sf-" in str(n["target"]) or "sf-file" in n["html"]]


def test_forty_rows_with_three_mistakes(live: Live, job: Path, tmp_path: Path) -> None:
    live.go_to("inventory")
    rows = ["Point,Across [m],Up [m],Mics,Colour"] + [f"N{n:02},{n / 4},2,{n % 3},red" for n in range(1, 41)]
    rows[5], rows[15], rows[25] = "N05,1.25,2,five,red", "N15,3.75,far,0,red", "N14,6.25,2,1,red"
    file = tmp_path / "list of points.csv"
    file.write_text("\n".join(rows))
    page = live.page
    before = len(store.read(job).job.all(Point))
    choose(page, "sf-table-in", file)
    shown = page.locator(f"{STEP}.sf-table-in .sf-preview").inner_text()
    assert "37 added, 3 refused" in shown
    for words in ("Row 6, N05", "'five' is not a whole number", "Row 16, N15", "'far' is not a length", "Row 26, N14",
                  "row 15 has the same name"):
        assert words in shown
    assert len(store.read(job).job.all(Point)) == before  # nothing yet
    assert "bare numbers are in m, as its head says" in page.locator(f"{STEP}.sf-table-columns").inner_text()
    colour = page.locator(f"{STEP}.sf-table-columns").get_by_label("Colour")
    assert colour.input_value() == "left out"
    colour.select_option("What stands there")
    page.wait_for_function("s => document.querySelector(s).innerText.includes('what stands there: red')",
                           arg=f"{STEP}.sf-table-in .sf-preview")
    assert faults(page) == []
    if shots := os.environ.get("SHOTS"):
        page.locator(f"{STEP}.sf-table-kind").scroll_into_view_if_needed()
        page.screenshot(path=f"{shots}/inventory.png")
    page.locator(f"{STEP}.sf-table-in .sf-take").click()
    page.wait_for_function("s => document.querySelector(s).innerText.includes('Taken in: 37 added')",
                           arg=f"{STEP}.sf-table-in .sf-preview")
    points = store.read(job).job.all(Point)
    assert len(points) == before + 37
    assert points[-1].what == "red"
    page.wait_for_selector(f"{STEP}.sf-points [data-id='{points[-1].id}']", state="attached")
    page.locator(f"{STEP}.sf-points").get_by_role("button", name="Undo").click()
    page.wait_for_function("s => !document.querySelector(s)", arg=f"{STEP}.sf-points [data-id='{points[-1].id}']")
    assert len(store.read(job).job.all(Point)) == before


def test_a_table_goes_out(live: Live) -> None:
    live.go_to("inventory")
    page = live.page
    page.locator(f"{STEP}.sf-table-kind select").select_option("Connection points")
    page.get_by_role("button", name="Export as CSV").click()
    link = page.locator(f"{STEP}.sf-table-out a[download$='.csv']")
    link.wait_for()
    assert link.get_attribute("download") == "connection-points.csv"
    with page.expect_download() as waiting:
        link.click()
    assert waiting.value.path().read_bytes().startswith(b"\xef\xbb\xbfPoint,")


@pytest.mark.parametrize(("step", "kind"), [("job_sheet", "survey"), ("closeout", "site")])
def test_a_sheet_is_made_and_its_file_taken_in(live: Live, job: Path, tmp_path: Path, step: str, kind: str) -> None:
    live.go_to(step)
    page = live.page
    page.locator(f"{STEP}button.sf-make-{kind}").click()
    link = page.locator(f"{STEP}.sf-made-{kind} a")
    link.wait_for()
    address = link.get_attribute("href") or ""
    assert b"Content-Security-Policy" in base64.b64decode(address.split(",")[1])
    sheet = store.read(job).job.all(Sheet)[-1]
    fields = {"topic": "Roof <b>", "looked": "looked"} if kind == "survey" else {"label": "lid scrapes <b>"}
    lines = [{"id": "more.1", "on": "survey" if kind == "survey" else "punch", "fields": fields}]
    file = tmp_path / f"{kind}.json"
    # large, so that it travels in several parts
    file.write_text(json.dumps({"stagefloor_sheet": 1, "kind": kind, "sheet": sheet.key, "export": 1, "entries": lines,
                                "pictures": [{"id": "p1", "data": "A" * 3_500_000}]}))
    choose(page, f"sf-take-{kind}", file)
    preview = page.locator(f"{STEP}.sf-take-{kind} .sf-preview")
    assert "1 added, 1 refused" in preview.inner_text()
    assert "<b>" in preview.inner_text()
    page.locator(f"{STEP}.sf-take-{kind} .sf-take").click()
    page.wait_for_function("s => document.querySelector(s).innerText.includes('Taken in: 1 added')",
                           arg=f"{STEP}.sf-take-{kind} .sf-preview")
    choose(page, f"sf-take-{kind}", file)
    page.wait_for_function("s => document.querySelector(s).innerText.includes('1 refused, 1 there already')",
                           arg=f"{STEP}.sf-take-{kind} .sf-preview")
    if kind == "survey":
        assert [s.topic for s in store.read(job).job.all(Survey)][-1] == "Roof <b>"
    page.locator(f"{STEP}.sf-take-{kind}").scroll_into_view_if_needed()
    if shots := os.environ.get("SHOTS"):
        page.screenshot(path=f"{shots}/{step}.png")
    assert faults(page) == []
    assert live.outside == []
