"""Three tasks as a new user does them, in a real browser, with the steps counted (a step: one key, one press, one paste)."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import STEP, TOP, Live, live_lab
from playwright.sync_api import Page

from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, delete
from stagefloor.job.inventory import Point

pytestmark = [pytest.mark.browser, pytest.mark.slow]
GRID = f"{STEP}.sf-points"


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The theatre without its points' table in the way: a box of it was deleted yesterday."""
    folder = tmp_path_factory.mktemp("jobs") / "job in a folder, größer"
    folder.mkdir()
    shutil.copy(TOP / "demo_projects" / "one_box" / "job.json", folder)
    store.transact(folder, lambda j: add(j, "box", [{"label": "FB-OLD", "x": "3", "y": "4"}])[0], "FB-OLD placed")
    old = next(b for b in store.read(folder).job.all(Box) if b.label == "FB-OLD")
    store.transact(folder, lambda j: delete(j, "box", [old.id]), "FB-OLD deleted", "Ann")
    return folder


@pytest.fixture(scope="module")
def live(job: Path) -> Iterator[Live]:
    with live_lab(job, step="inventory") as opened:
        opened.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
        yield opened


def keys(page: Page, *pressed: str) -> int:
    """Press keys, a text of several letters counted as one entry; returns how many steps that was."""
    for key in pressed:
        if len(key) > 1 and key not in ("Tab", "Enter", "Control+Enter", "Control+V"):
            page.keyboard.type(key)
        else:
            page.keyboard.press(key)
    return len(pressed)


def saved(page: Page) -> None:
    page.wait_for_selector(f"{GRID} .sf-grid[data-state='saved'], {GRID}.sf-grid[data-state='saved']")


def labels(job: Path) -> list[str]:
    return [p.label for p in store.read(job).job.all(Point)]


def test_ten_connection_points_by_keyboard_alone(live: Live, job: Path) -> None:
    page = live.page
    before = len(labels(job))
    page.locator(f"{GRID} [role=gridcell][tabindex='0']").focus()
    steps = keys(page, "Control+Enter")
    for number in range(10):
        steps += keys(page, f"K{number}", "Tab", "Keys", "Tab", f"{number}-6", "Tab", "4", "Tab", "2")
        steps += keys(page, "Control+Enter" if number < 9 else "Enter")
    page.wait_for_timeout(200)
    saved(page)
    made = {p.label: p for p in store.read(job).job.all(Point) if p.label.startswith("K")}
    assert len(labels(job)) == before + 10, labels(job)
    assert sorted(made) == [f"K{n}" for n in range(10)]
    assert all(p.microphone == 2 and p.y and p.x for p in made.values())
    assert made["K3"].x is not None
    assert made["K3"].x.si == pytest.approx(3.5 * 0.3048)
    print(f"ten connection points by keyboard alone: {steps} steps")


def test_forty_rows_with_three_mistakes_are_pasted_and_the_mistakes_found(live: Live, job: Path) -> None:
    page = live.page
    before = len(labels(job))
    rows = [["Point", "Where", "Across", "Up", "Microphone"]]
    rows[0][:2] = [page.locator(f"{GRID} [role=columnheader][data-key={key}] .sf-sort > span").first.inner_text()
                   for key in ("label", "what")]
    rows += [[f"T{n}", "Choir", "6-0", "2.5", "1"] for n in range(40)]
    rows[6][2], rows[16][4], rows[26][3] = "left of it", "many", "3 kg"
    page.evaluate("text => navigator.clipboard.writeText(text)", "\n".join("\t".join(r) for r in rows))
    page.locator(f"{GRID} [role=gridcell]").first.click()
    steps = 1 + keys(page, "Control+V")
    page.get_by_text("Saved, except 3 cells that were not taken").wait_for(timeout=20_000)
    assert len(labels(job)) == before + 40
    for text in ("6 ft", "3", "3 ft"):
        page.locator(GRID).get_by_role("button", name="Go to the next one to mend").click()
        steps += 1 + keys(page, text, "Enter")
        page.wait_for_timeout(400)
    page.locator(GRID).get_by_text("All saved.").wait_for()
    pasted = [p for p in store.read(job).job.all(Point) if p.label.startswith("T")]
    assert len(pasted) == 40
    assert all(p.x and p.y and p.microphone for p in pasted)
    print(f"forty rows with three mistakes: {steps} steps")


def test_a_box_deleted_yesterday_comes_back(live: Live, job: Path) -> None:
    page = live.page
    live.go_to("job_sheet")
    page.click(f"{STEP}.sf-history-open")
    page.wait_for_selector(f"{STEP}.sf-history:has-text('FB-OLD deleted')")
    choose = page.locator(f"{STEP}.sf-history-first select")
    option = choose.locator("option", has_text="FB-OLD deleted").first.inner_text()
    choose.select_option(label=option)
    assert "Ann" in option
    page.click(f"{STEP}.sf-history-bring")
    page.wait_for_selector(f"{STEP}.sf-history-said:has-text('Back again: FB-OLD')")
    assert "FB-OLD" in [b.label for b in store.read(job).job.boxes()]
    assert {p.label for p in store.read(job).job.all(Point)} >= {"K1", "T1"}  # what was done since stays
    print("a box deleted yesterday: 3 steps (open the history, choose the edit, bring it back)")
