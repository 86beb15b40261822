"""The six steps in a real browser, from a count in the inventory to the client's documents, without touching code."""

import json
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import STEP, Live, demo_job, lab_of, live_lab
from playwright.sync_api import Page

from stagefloor.job import store
from stagefloor.job.boxes import Opening
from stagefloor.job.inventory import Point
from stagefloor.steps.starter import started

pytestmark = pytest.mark.browser
STEPS = ("job_sheet", "inventory", "boxes", "cables", "labour", "closeout")


EMPTY = {"inventory": "Press 'Add row', place a point on the plan, or add a ready-made pack below.",
         "boxes": "Press 'Add row', or place a floor box on the plan.",
         "cables": "No line yet: boxes that serve points make them.",
         "labour": "Enter hours for tasks and prices below: what they come to appears here.",
         "closeout": "No box is measured yet.", "job_sheet": "Type into the column Value."}


def cell(page: Page, grid: str, row: str, key: str) -> str:
    """The selector of one cell of a grid of the step on show."""
    return f"{STEP}.{grid} [data-id='{row}'] [data-key='{key}']"


def type_into(page: Page, selector: str, text: str) -> None:
    """Type into a cell as a user does: click, type over, Enter; then wait until it is saved."""
    page.click(selector)
    page.keyboard.type(text)
    page.keyboard.press("Enter")
    page.wait_for_selector(f"{selector.split(' [')[0]} .sf-grid[data-state='saved']")


def point_named(job: Path, label: str) -> str:
    """The id of a connection point of a job on disk."""
    return next(p["id"] for p in json.loads((job / "job.json").read_text())["records"]["point"] if p["label"] == label)


job, live = lab_of("quillhaven_playhouse")


def figure(live: Live, view: str, label: str) -> str:
    """One of the large figures of a view."""
    return live.page.locator(f"{STEP}.sf-{view} .figures div", has_text=label).locator("b").inner_text()


@pytest.mark.slow
def test_one_count_is_followed_everywhere(live: Live, job: Path) -> None:
    page = live.page
    live.go_to("cables")
    cable = figure(live, "lines", "cable in all")
    live.go_to("labour")
    price, hours = figure(live, "price", "price"), figure(live, "price", "likely")
    live.go_to("boxes")
    openings = figure(live, "box-summary", "signal openings")

    live.go_to("inventory")
    # the plan of the demo: A02 has 4 foot microphones, alone in FB-A2; three more make 7
    type_into(page, cell(page, "sf-points", point_named(job, "A02"), "microphone"), "7")
    page.wait_for_selector(f"{STEP}.sf-need td:text-is('36')")  # 33 at once in a musical, and 3 more

    live.go_to("boxes")
    wanted = int(openings) + 3
    page.wait_for_function(f"n => document.querySelector('{STEP}.sf-box-summary .figures').textContent.includes(n)",
                           arg=str(wanted))
    live.go_to("cables")
    page.wait_for_function("([s, old]) => !document.querySelector(s).textContent.includes(old)",
                           arg=[f"{STEP}.sf-lines .figures", cable])
    # a line to FB-A2 is 55.67 ft long: slack 3 + 10, rack 4.5, W1 14, T1 14, box 9.17 and 1 ft; the sum grows by three
    before, after = (int(x.split()[0].replace(",", "")) for x in (cable, figure(live, "lines", "cable in all")))
    assert 100 < after - before < 250
    live.go_to("labour")
    page.wait_for_function("([s, old]) => !document.querySelector(s).textContent.includes(old)",
                           arg=[f"{STEP}.sf-price .figures", price])
    assert money(figure(live, "price", "price")) > money(price)
    assert int(figure(live, "price", "likely").split()[0]) >= int(hours.split()[0])

    live.go_to("closeout")
    page.click(f"{STEP}button.sf-write")
    page.wait_for_function("s => !['', 'Writing ...'].includes(document.querySelector(s).innerText.trim())",
                           arg=f"{STEP}.sf-written", timeout=90_000)
    assert "The documents are in" in page.inner_text(f"{STEP}.sf-written")
    boxes = (job / "documents" / "client" / "boxes.html").read_text(encoding="utf-8")
    assert "A2-M7" in boxes
    assert figure_free(boxes)
    found = store.read(job).job
    assert sum(o.what == "microphone" and o.state == "in use" for o in found.all(Opening)) == 41 + 3
    assert live.outside == []


def money(text: str) -> float:
    return float(text.split()[-1].replace(",", ""))


def figure_free(page: str) -> bool:
    """Whether a client's page is without code, prompts and widgets."""
    return not any(word in page for word in ("In [", "jupyter-widgets", "stagefloor.entry", "<script"))


@pytest.mark.slow
@pytest.mark.parametrize("step", STEPS)
def test_every_step_is_readable_for_everyone(live: Live, step: str) -> None:
    live.go_to(step)
    found = Axe().run(live.page, context=STEP.strip()).response["violations"]
    # the list of cells itself is the lab's own frame, not ours to mend
    ours = [(v["id"], n["html"][:200]) for v in found if v["impact"] in ("serious", "critical")
            for n in v["nodes"] if 'role="feed"' not in n["html"]]
    assert ours == []


@pytest.mark.slow
@pytest.mark.parametrize("step", STEPS)
def test_every_step_fits_a_phone(live: Live, step: str) -> None:
    live.go_to(step)
    live.page.set_viewport_size({"width": 390, "height": 844})
    live.page.wait_for_timeout(600)
    wide = live.page.evaluate("""s => {
        const panel = document.querySelector(s);
        const frame = e => e.closest('.wide, .sf-scroll, [role=grid], .js-plotly-plot, svg, .jp-Toolbar');
        return [...panel.querySelectorAll('.jp-OutputArea-output *, .jp-RenderedMarkdown *')].filter(e =>
            e.getBoundingClientRect().right > innerWidth + 1 && e.getBoundingClientRect().width > 0 && !frame(e))
            .slice(0, 5).map(e => e.outerHTML.slice(0, 120));
    }""", STEP.strip())
    live.page.set_viewport_size({"width": 1440, "height": 900})
    assert wide == []


@pytest.mark.slow
def test_a_box_is_dragged_and_what_is_open_follows(live: Live, job: Path) -> None:
    """FB-A8 stands on a joist; the arrow keys move it clear, and its open item goes."""
    live.go_to("boxes")
    page = live.page
    items = f"{STEP}.sf-open-items"
    page.wait_for_selector(f"{items}:has-text('FB-A8: the cutout cuts into a joist')")
    box = page.locator(f"{STEP}[role=button][aria-label*='FB-A8']").first
    box.focus()
    for _ in range(3):
        page.keyboard.press("ArrowLeft")
    page.wait_for_function("s => !document.querySelector(s).textContent.includes('FB-A8: the cutout cuts into a joist')",
                           arg=items)
    moved = next(b for b in json.loads((job / "job.json").read_text())["records"]["box"] if b["label"] == "FB-A8")
    assert moved["x"] in ('-3"', '-1"', '-2"')


@pytest.mark.slow
def test_four_entries_give_the_smallest_box(tmp_path: Path) -> None:
    """A new job: venue and units, floor, one box by two distances, what plugs in."""
    job = tmp_path / "new_job"
    store.create(job)
    store.transact(job, started, "Starting rows")
    with live_lab(job) as live:
        page = live.page
        for step, hint in EMPTY.items():
            live.go_to(step)
            assert hint in page.inner_text(STEP.strip()), f"{step}: an empty step says what to do"
            hints = page.locator(f"{STEP}.sf-empty:not([hidden])").all_text_contents()
            assert all("Press 'Add row'" in h or "come" in h or "above" in h for h in hints), hints
        for row, text in (("venue", "Maple Lane Hall"), ("units", "ft-in"), ("floor_type", "wood on joists"),
                          ("box_x", "8' 8\""), ("box_y", "3' 6\""), ("plugs", "2 mics, 1 loudspeaker, 1 mains")):
            type_into(page, cell(page, "sf-start", row, "value"), text)
        view = page.locator(f"{STEP}.sf-smallest")
        page.wait_for_selector(f"{STEP}.sf-smallest:has-text('Branch power is behind the barrier in bay 2')")
        (box,) = store.read(job).job.boxes()
        assert (str(box.x), str(box.y)) == ("8' 8\"", "3' 6\"")
        said = view.inner_text()
        assert "Floor box with 2 bays, the smallest that takes it" in said
        assert view.locator("svg").count() >= 1
        # two microphones and a loudspeaker in four places leave one; one of two mains places is used
        assert [view.locator(".figures b").nth(i).inner_text() for i in range(4)] == ["3", "1", "1", "1"]
        for words in ("Order list", "3-pin XLR, microphone", "Blank plate, D-size", "To find out on site",
                      "Where is one joist", "licensed electrician"):
            assert words in said


@pytest.mark.slow
def test_the_planner_is_asked_and_its_plan_adopted(tmp_path: Path) -> None:
    """The least-cost plan clears what the plan made by hand fouls: step unit, joist, bearing line, reach."""
    job = demo_job("quillhaven_playhouse", tmp_path)
    with live_lab(job, step="boxes") as live:
        page = live.page
        page.click(f"{STEP}button.sf-plan-start")
        page.wait_for_selector(f"{STEP}.sf-plan-answer:has-text('serve every event')", timeout=120_000)
        page.click(f"{STEP}button.sf-plan-adopt")
        page.wait_for_selector(f"{STEP}.sf-plan-answer:has-text('Adopted.')", timeout=30_000)
        page.wait_for_function("s => !/cuts into a joist|bearing line|step unit in the event|longest loose/.test("
                               "document.querySelector(s).textContent)", arg=f"{STEP}.sf-open-items")
    found = store.read(job).job
    assert {b.label for b in found.boxes()} >= {"FB-A3", "WB-A5"}  # the two that are built stay
    assert {p for b in found.boxes() for p in b.points} == {p.id for p in found.all(Point)}
