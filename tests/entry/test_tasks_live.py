"""Tasks as a new user does them, in a real browser, with the steps counted; what a step is stands in `steps_counted`."""

from pathlib import Path

import pytest
from browser import STEP, Live
from playwright.sync_api import Page
from steps_counted import Hands

from stagefloor.job import store
from stagefloor.job.edit import add
from stagefloor.job.inventory import Point

pytestmark = [pytest.mark.browser, pytest.mark.slow]
GRID = f"{STEP}.sf-points"


def saved(page: Page) -> None:
    page.wait_for_selector(f"{GRID} .sf-grid[data-state='saved'], {GRID}.sf-grid[data-state='saved']")


def labels(job: Path) -> list[str]:
    return [p.label for p in store.read(job).job.all(Point)]


def test_ten_connection_points_by_keyboard_alone(live: Live, job: Path) -> None:
    """From the bar at the top of the page, with no hand on the mouse."""
    live.go_to("inventory")
    page, hands, before = live.page, Hands(live.page), len(labels(job))
    page.locator(f"{STEP}[data-jp-item-name='step-inventory'] jp-button").focus()
    for _ in range(30):
        hands.keys("Tab")
        if page.evaluate("!!document.activeElement.closest('.sf-points [role=gridcell]')"):
            break
        if page.evaluate("!!document.activeElement.closest('[role=gridcell]')"):
            hands.keys("Escape")  # another table: Esc and Tab leave it at once
    way = hands.steps
    hands.keys("Control+Enter")
    for number in range(10):
        for text in (f"K{number}", "Keys", f"{number}-6", "4"):
            hands.cell(text)
        hands.cell("2", "Control+Enter" if number < 9 else "Enter")
    page.wait_for_timeout(200)
    saved(page)
    made = {p.label: p for p in store.read(job).job.all(Point) if p.label.startswith("K")}
    assert len(labels(job)) == before + 10, labels(job)
    assert sorted(made) == [f"K{n}" for n in range(10)]
    assert all(p.microphone == 2 and p.y and p.x for p in made.values())
    assert made["K3"].x is not None
    assert made["K3"].x.si == pytest.approx(3.5 * 0.3048)
    served = {p for b in store.read(job).job.boxes() for p in b.points}
    assert not served.intersection(p.id for p in made.values())  # a row with a place of its own waits to be served
    print(f"ten connection points by keyboard alone: {way} steps to the table, {hands.steps - way} in it")
    assert way <= 10
    assert hands.steps - way == 101  # five texts and five keys a row, and one key to begin


def test_forty_rows_with_three_mistakes_are_pasted_and_the_mistakes_found(live: Live, job: Path) -> None:
    live.go_to("inventory")
    page, hands, before = live.page, Hands(live.page), len(labels(job))
    rows = [["Point", "Where", "Across", "Up", "Microphone"]]
    rows[0][:2] = [page.locator(f"{GRID} [role=columnheader][data-key={key}] .sf-sort > span").first.inner_text()
                   for key in ("label", "what")]
    rows += [[f"T{n}", "Choir", "6-0", "2.5", "1"] for n in range(40)]
    rows[6][2], rows[16][4], rows[26][3] = "left of it", "many", "3 kg"
    page.evaluate("text => navigator.clipboard.writeText(text)", "\n".join("\t".join(r) for r in rows))
    hands.press(page.locator(f"{GRID} [role=gridcell]").first)
    hands.keys("Control+V")
    page.get_by_text("Saved, except 3 cells that were not taken").wait_for(timeout=20_000)
    assert len(labels(job)) == before + 40
    for text in ("6 ft", "3", "3 ft"):
        hands.press(page.locator(GRID).get_by_role("button", name="Go to the next one to mend"))
        hands.cell(text, "Enter")
        page.wait_for_timeout(400)
    page.locator(GRID).get_by_text("All saved.").wait_for()
    pasted = [p for p in store.read(job).job.all(Point) if p.label.startswith("T")]
    assert len(pasted) == 40
    assert all(p.x and p.y and p.microphone for p in pasted)
    print(f"forty rows with three mistakes: {hands.steps} steps")
    assert hands.steps == 11


def test_a_box_deleted_yesterday_comes_back(live: Live, job: Path) -> None:
    page, hands = live.page, Hands(live.page)
    store.transact(job, lambda j: add(j, "point", [{"label": "P-NEW"}])[0], "P-NEW added since")
    since = set(labels(job))
    live.go_to("inventory")
    live.go_to("job_sheet")
    hands.steps += 1  # the press on the bar
    if "Show" in page.locator(f"{STEP}.sf-history-open").inner_text():
        page.click(f"{STEP}.sf-history-open")
    hands.steps += 1
    page.wait_for_selector(f"{STEP}.sf-history:has-text('FB-OLD deleted')")
    choose = page.locator(f"{STEP}.sf-history-first select")
    option = choose.locator("option", has_text="FB-OLD deleted").first.inner_text()
    hands.choose(choose, option)
    assert "Ann" in option
    hands.press(page.locator(f"{STEP}.sf-history-bring"))
    page.wait_for_selector(f"{STEP}.sf-history-said:has-text('Back again: FB-OLD')")
    assert "FB-OLD" in [b.label for b in store.read(job).job.boxes()]
    assert set(labels(job)) == since  # what was done since stays
    print(f"a box deleted yesterday: {hands.steps} steps (page, history, open a list, choose, bring back)")
    assert hands.steps == 5
