"""The finished pages in a real browser, opened from disk: nothing is fetched, nothing overflows, all of it prints."""

import pypdfium2
import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import QUIET, find_chromium, playwright
from package.sample import EVENTS

pytestmark = pytest.mark.browser
NAMES = ["index", "needs", "plan", "boxes", "scope", "handover", "lines", "as_built", "users"]


@pytest.fixture(scope="module")
def chromium():
    browser = playwright().chromium.launch(executable_path=find_chromium(), args=list(QUIET))
    yield browser
    browser.close()


@pytest.fixture
def opened(chromium, built):
    """A function that opens a page of the set and hands it back with the addresses it asked for."""
    contexts = []

    def go(name, width=1440, **options):
        context = chromium.new_context(viewport={"width": width, "height": 900}, **options)
        contexts.append(context)
        page = context.new_page()
        page.asked, page.said = [], []
        page.on("request", lambda request: page.asked.append(request.url))
        page.on("console", lambda message: page.said.append(message.text))
        page.goto((built.folder / f"{name}.html").as_uri())
        return page

    yield go
    for context in contexts:
        context.close()


@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("name", NAMES)
def test_readable_for_everyone_and_closed_to_the_outside(opened, name, width):
    page = opened(name, width)
    faults = [(v["id"], [n["html"][:150] for n in v["nodes"][:3]]) for v in Axe().run(page).response["violations"]
              if v["impact"] in ("serious", "critical")]
    assert faults == []
    assert page.asked == [page.url]
    assert page.said == []
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert page.evaluate("[...document.querySelectorAll('main *')].every(e => e.closest('.frame') || e.closest('thead')"
                         " || e.getBoundingClientRect().right <= innerWidth + 1)")


def test_the_replay_works_without_scripts(opened):
    page = opened("plan", java_script_enabled=False)
    panels = page.locator(".panel")
    assert panels.nth(0).is_visible()
    page.get_by_text("School show", exact=True).first.click()
    assert not panels.nth(0).is_visible()
    assert page.get_by_role("radio", name="School show").is_checked()
    assert page.get_by_text("Foot microphones (A02) need 4 lines").is_visible()
    page.keyboard.press("ArrowRight")
    assert page.get_by_role("radio", name="Civic meeting").is_checked()


def test_pages_lead_to_each_other(opened):
    page = opened("index")
    for name in NAMES[1:]:
        page.get_by_role("navigation", name="Next page").get_by_role("link", name="Next").click()
        assert page.url.endswith(f"{name}.html")


def test_every_event_is_on_paper_with_heading_and_page_numbers(opened, tmp_path):
    page = opened("plan")
    page.pdf(path=tmp_path / "plan.pdf", prefer_css_page_size=True, print_background=True)
    printed = pypdfium2.PdfDocument(tmp_path / "plan.pdf")
    sheets = [" ".join(sheet.get_textpage().get_text_range().split()) for sheet in printed]
    for label, often in EVENTS:
        assert any(label in sheet and often in sheet for sheet in sheets), label
    assert all("Quillhaven Community Playhouse" in sheet and "Revision B, 2026-03-04" in sheet for sheet in sheets)
    assert f"1/{len(sheets)}" in sheets[0].replace(" ", "")
    assert "Choose an event to see" in sheets[0]
    assert not any("Next:" in sheet for sheet in sheets)
