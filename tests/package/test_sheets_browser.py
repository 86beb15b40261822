"""Both phone sheets in a real browser at phone size: fill, close, open again, export, take in, take in again."""

import json
import struct
import zlib
from base64 import b64decode
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import QUIET, demo_job, find_chromium, playwright
from playwright.sync_api import BrowserContext, Locator, Page

from stagefloor.job import edit, store
from stagefloor.job.cables import Cable
from stagefloor.job.closeout import AsBuilt, Punch, Reading
from stagefloor.job.exchange.preview import ADD, CHANGE, REFUSE, SAME, Plan, carry_out
from stagefloor.job.exchange.sheet_file import read_sheet_file
from stagefloor.job.exchange.taking import planned
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.job.sheet import FloorLayer, Survey
from stagefloor.package.sheets import make_sheet
from stagefloor.results import compute

pytestmark = pytest.mark.browser
MARKUP = "<img src=x onerror=\"document.title='ran'\"><script>document.title='ran'</script>"
SMALL_TARGETS = """[...document.querySelectorAll(
        'button, select, textarea, summary, .file, .choices label, label.tick, label.line input')]
    .map(e => [e, e.getBoundingClientRect()]).filter(([e, box]) => e.checkVisibility() && box.height > 0)
    .filter(([e, box]) => box.height < 44 || box.width < 44).map(([e]) => e.outerHTML.slice(0, 120))"""


class Phone:
    """A phone with a browser of its own, whose storage outlives it."""

    def __init__(self, profile: Path) -> None:
        self.profile = profile
        self.asked: list[str] = []
        self.faults: list[str] = []
        self.context: BrowserContext | None = None

    def open(self, file: Path) -> Page:
        if self.context is None:
            self.context = playwright().chromium.launch_persistent_context(
                str(self.profile), executable_path=find_chromium(), args=list(QUIET), viewport={"width": 390, "height": 844},
                has_touch=True, is_mobile=True, offline=True)
            self.context.set_default_timeout(8000)
            self.context.on("request", lambda request: self.asked.append(request.url))
        page = self.context.new_page()
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.on("console", lambda said: self.faults.append(said.text) if said.type == "error" else None)
        page.on("dialog", lambda dialog: self.faults.append(dialog.message))
        page.goto(file.as_uri())
        return page

    def close(self) -> None:
        """The whole browser ends, as when the phone is switched off."""
        if self.context is not None:
            self.context.close()
        self.context = None

    def check(self) -> None:
        outside = [a for a in self.asked if not a.startswith(("file:", "data:", "blob:"))]
        assert (outside, self.faults) == ([], [])


@pytest.fixture
def phone(tmp_path: Path) -> Iterator[Phone]:
    one = Phone(tmp_path / "phone")
    yield one
    one.close()
    one.check()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = demo_job("quillhaven_playhouse", tmp_path)

    def hostile(job: Job) -> Job:
        job = edit.set_fields(job, "settings", "job", {"venue": f"Quillhaven {MARKUP}", "rack_x": ""})
        return edit.set_fields(job, "box", job.boxes()[0].id, {"remark": MARKUP})

    store.transact(folder, hostile, "a name that is markup")
    return folder


def picture(path: Path, wide: int = 2400, high: int = 1200) -> Path:
    """A plain grey PNG, by the chunks of ISO/IEC 15948; from memory."""
    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    rows = zlib.compress((b"\0" + b"\x80" * wide) * high)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0))
                     + chunk(b"IDAT", rows) + chunk(b"IEND", b""))
    return path


def jpeg_sizes(data: bytes) -> list[tuple[int, int]]:
    """(high, wide) from each frame header of a baseline JPEG (ITU-T T.81, B.2.2; from memory)."""
    return [struct.unpack(">HH", data[i + 5:i + 9]) for i in range(len(data)) if data[i:i + 2] == b"\xff\xc0"]


def readable(page: Page) -> None:
    """Nothing for a screen reader to stumble over, nothing too small to tap, nothing wider than the phone."""
    assert [(v["id"], [n["html"][:100] for n in v["nodes"][:3]]) for v in Axe().run(page).response["violations"]] == []
    assert page.evaluate(SMALL_TARGETS) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.title() != "ran"


def export(page: Page, folder: Path, press: str = "Export") -> Path:
    with page.expect_download() as waiting:
        page.locator("button.main" if press == "Export" else "main button", has_text=press).click()
    target = folder / waiting.value.suggested_filename
    waiting.value.save_as(target)
    return target


def take(job: Path, file: Path) -> Plan:
    """Look at it and take it in, as the workbook does."""
    read = read_sheet_file(file)
    shown = planned(store.read(job).job, read)
    return carry_out(job, lambda name, change: store.transact(job, change, name), "sheet", lambda j: planned(j, read),
                     shown.lines)


def count(plan: Plan) -> dict[str, int]:
    return {state: len(plan.of(state)) for state in (ADD, CHANGE, REFUSE, SAME) if plan.of(state)}


def topic(page: Page, words: str) -> Locator:
    return page.locator("details.topic", has=page.locator("summary", has_text=words)).first


def test_a_survey_on_a_phone(phone: Phone, job: Path, tmp_path: Path) -> None:
    file = make_sheet(job, "survey")
    asked = len(compute(store.read(job).job).items)
    assert asked
    page = phone.open(file)
    readable(page)
    page.get_by_label("Surveyed by").fill("Kim")
    rack = topic(page, "Rack position")
    rack.locator("summary").first.click()
    rack.get_by_label("Rack entry across").fill("30' 6\"")
    rack.get_by_label("What was found").fill(MARKUP)
    rack.locator("input[type=file]").set_input_files(picture(tmp_path / "big.png"))
    rack.locator("img").wait_for()
    rack.get_by_role("button", name="Sketch").click()
    canvas = page.locator("canvas")
    field = canvas.bounding_box()
    assert field is not None
    page.mouse.move(field["x"] + 40, field["y"] + 40)
    page.mouse.down()
    page.mouse.move(field["x"] + 300, field["y"] + 60, steps=6)
    page.mouse.up()
    page.get_by_label("Add a dimension").check()
    canvas.click(position={"x": 40, "y": 40})
    canvas.click(position={"x": 300, "y": 60})
    page.keyboard.type("12' 6 1/2\"")
    readable(page)
    page.get_by_role("button", name="Done").click()
    rack.get_by_label("Caption: Rack").last.fill("wall behind the rack")
    layers = topic(page, "Floor layers")
    layers.locator("summary").first.click()
    layers.get_by_role("button", name="Add a floor layer").click()
    layers.get_by_label("Material", exact=True).last.fill("oak")
    layers.get_by_label("Thickness, in", exact=True).last.fill("22 mm")
    question = page.locator("h2:has-text('Questions') ~ details.topic").first
    asked_words = question.locator("summary span").first.inner_text()
    question.locator("summary").first.click()
    question.get_by_label("Could not be found out").check()
    page.close()  # the tab is closed in mid-work
    phone.close()  # and the phone goes off

    page = phone.open(file)
    assert page.get_by_label("Surveyed by").input_value() == "Kim"
    rack = topic(page, "Rack position")
    rack.locator("summary").first.click()
    assert rack.get_by_label("What was found").input_value() == MARKUP
    assert rack.locator("img").count() == 2
    assert "not exported yet" in page.locator(".bar").inner_text()
    readable(page)
    first = export(page, tmp_path)
    assert "All of it is exported" in page.locator(".bar").inner_text()

    before = store.read(job).job
    plan = take(job, first)
    # rack x and the survey line change; a layer, an answered question, a photo and a sketch are new
    assert count(plan) == {ADD: 4, CHANGE: 2}, plan.lines
    after = store.read(job).job
    assert after.settings.rack_x is not None
    assert after.settings.rack_x.si == pytest.approx(366 * 0.0254)  # 30 ft 6 in
    assert [x.material for x in after.all(FloorLayer)][-1] == "oak"
    assert next(s for s in after.all(Survey) if s.topic.startswith("Rack")).found == MARKUP
    assert [(s.topic, s.looked) for s in after.all(Survey)][-1] == (asked_words, "could not be found out")
    photo, sketch = after.all(Picture)
    assert sketch.dimensions == "1: 12' 6 1/2\" (3.823 m)"  # 150.5 in of 25.4 mm
    assert sketch.label == "wall behind the rack"
    data = (job / "pictures" / photo.file).read_bytes()
    sent = b64decode(json.loads(first.read_text())["pictures"][0]["data"])
    assert jpeg_sizes(sent) == [(800, 1600)], "made smaller on the phone"  # high, wide: 2400 by 1200 to 1600 a side
    assert jpeg_sizes(data) == [(800, 1600)]

    assert count(take(job, first)) == {SAME: 6}
    assert store.read(job).job == after
    question = page.locator("details.topic", has_text=asked_words).first
    question.locator("summary").first.click()
    question.get_by_label("What was found").fill("behind the panel")
    second = export(page, tmp_path)
    assert json.loads(second.read_text())["export"] == 2
    assert count(take(job, second)) == {CHANGE: 1, SAME: 5}
    assert len(store.read(job).job.all(Survey)) == len(before.all(Survey)) + 1

    rack = topic(page, "Rack position")  # what is set back and what is emptied after an export is told too
    rack.get_by_label("Rack entry across").fill("")
    layers = topic(page, "Floor layers")
    layers.locator("summary").first.click()
    layers.get_by_label("Material", exact=True).last.fill("")
    layers.get_by_label("Thickness, in", exact=True).last.fill("")
    page.get_by_label("What else was seen").fill("a pit below")
    page.reload()
    assert page.get_by_label("What else was seen").input_value() == "a pit below"  # typed, and not yet added
    assert "not added yet" in page.locator("main").inner_text()
    readable(page)
    third = export(page, tmp_path)
    assert page.locator(".bar p").inner_text() == "All but what is not noted yet is exported."
    plan = take(job, third)
    assert count(plan) == {CHANGE: 2, SAME: 4}
    assert [line.words for line in plan.of(CHANGE)] == [
        "rack entry across: 30' 6\" → empty", "material: oak → empty, thickness: 22 mm → empty"]
    assert store.read(job).job.settings.rack_x is None
    page.get_by_role("button", name="Add it").click()
    assert page.get_by_label("What else was seen", exact=True).input_value() == ""
    assert "not added yet" not in page.locator("main").inner_text()
    assert count(take(job, export(page, tmp_path))) == {ADD: 1, SAME: 6}


def test_a_site_sheet_on_a_phone(phone: Phone, job: Path, tmp_path: Path) -> None:
    file = make_sheet(job, "site", "Crew A")
    before = store.read(job).job
    page = phone.open(file)
    readable(page)
    page.get_by_label("Your name").fill("Kim")
    page.get_by_label("Instrument").fill("meter 4")
    page.get_by_role("searchbox").fill("a2-m1")
    assert page.locator("button.row").count() == 1
    page.locator("button.row").click()
    readable(page)
    loop = page.locator("section.card", has_text="Loop resistance")
    # expected about 1.77 ohm, so that 0.9 speaks of another line, or of a short midway
    loop.get_by_label("Reading, ohm").fill("0.9")
    assert "wrong line or a short midway" in loop.inner_text()
    loop.get_by_role("button", name="Test again").click()
    loop.get_by_label("Reading, ohm").fill("1780 mohm")
    assert "Fits this line" in loop.inner_text()
    page.locator("section.card", has_text="Polarity").get_by_label("Pass").check()
    isolation = page.locator("section.card", has_text="Isolation")
    isolation.get_by_label("Over range").check()
    assert "more than the meter can show" in isolation.inner_text()
    loop.get_by_label("Reading, ohm").fill("OL")
    assert "Over range, above the limit" in loop.inner_text()  # a loop that is open is no good one
    loop.get_by_label("Reading, ohm").fill("1780 mohm")
    page.get_by_label("Measured length").fill("55' 3\"")
    page.get_by_label("What is wrong: Line A2-M1").fill(MARKUP)
    page.get_by_role("button", name="Export", exact=True).click()  # typed, and not yet noted
    assert "1 problem typed and not noted yet" in page.locator("main").inner_text()
    readable(page)
    page.get_by_role("button", name="Line A2-M1", exact=True).click()
    page.reload()
    assert page.get_by_label("What is wrong: Line A2-M1").input_value() == MARKUP
    page.get_by_role("button", name="Note this problem").click()
    assert page.get_by_label("What is wrong: Line A2-M1").input_value() == ""
    page.get_by_role("button", name="Boxes", exact=True).click()
    page.locator("button.row").first.click()
    assert "onerror" in page.locator("dl").inner_text()  # markup in a note for the crew is read as text
    page.get_by_label("Across").fill("-9' 6\"")
    page.get_by_label("Enclosure was drilled").check()
    readable(page)
    page.close()
    phone.close()

    page = phone.open(file)
    page.get_by_role("searchbox").fill("a2-m1")
    assert "problem" in page.locator("button.row").inner_text()
    page.locator("button.row").click()
    loop = page.locator("section.card", has_text="Loop resistance")
    assert "0.9" in loop.inner_text()
    assert loop.get_by_label("Reading, ohm").input_value() == "1780 mohm"
    page.go_back()
    assert page.get_by_role("searchbox").input_value() == "a2-m1"
    page.get_by_role("button", name="Problems", exact=True).click()
    readable(page)
    page.get_by_role("button", name="Export", exact=True).click()
    page.get_by_role("button", name="Bright screen").click()
    readable(page)
    first = export(page, tmp_path)

    assert count(take(job, first)) == {ADD: 6, CHANGE: 1}
    after = store.read(job).job
    new = [r for r in after.all(Reading) if r not in before.all(Reading)]
    assert [(r.test, r.value, r.result, r.by, r.instrument) for r in new] == [
        ("loop resistance", 0.9, "", "Kim", "meter 4"), ("loop resistance", 1.78, "", "Kim", "meter 4"),
        ("polarity", None, "pass", "Kim", "meter 4"), ("isolation", None, "over range", "Kim", "meter 4")]
    assert after.all(Punch)[-1].label == f"Line A2-M1: {MARKUP}"
    built = after.all(AsBuilt)[-1]
    assert (built.x.text if built.x else "", built.modified) == ("-9' 6\"", True)
    assert [c.typed_length.text for c in after.all(Cable) if c.typed_length] == ["55' 3\""]
    assert count(take(job, first)) == {SAME: 7}
    assert store.read(job).job == after

    page.get_by_role("button", name="Problems", exact=True).click()
    page.get_by_label("What is wrong: The site").fill("the hatch is locked")
    page.get_by_role("button", name="Note this problem").click()
    page.get_by_role("button", name="Export", exact=True).click()
    assert count(take(job, export(page, tmp_path))) == {ADD: 1, SAME: 7}


FORGET = "photos.memory.clear()"  # as when the sheet was closed and opened again


def test_photos_on_a_phone(phone: Phone, job: Path, tmp_path: Path) -> None:
    """The connection to the phone's store is lost, a photo can't be read, one export needs several files."""
    page = phone.open(make_sheet(job, "survey"))
    rack = topic(page, "Rack position")
    rack.locator("summary").first.click()
    rack.get_by_label("What was found").fill("behind the wall")
    for number in range(3):
        rack.locator("input[type=file]").set_input_files(picture(tmp_path / f"{number}.png", 300 + number, 200))
        rack.locator("img").nth(number).wait_for()

    page.evaluate(f"{FORGET}; photos.open().then(base => base.close())")  # as browsers do to a page in the background
    whole = export(page, tmp_path)
    page.get_by_text("All of it is exported.").wait_for()
    assert len(json.loads(whole.read_text())["pictures"]) == 3

    # several files of one export, each small enough to be taken in
    page.evaluate("limits.pictures = 2")
    page.locator("button.main", has_text="Export").click()
    parts = []
    for words in ("part 2 of 2", "part 1 of 2"):
        assert page.locator(".bar p").inner_text().startswith("Not all of it is exported")
        readable(page)
        parts.append(export(page, tmp_path, f"Save {words}"))
        page.get_by_text(f"Saved: {words}").wait_for()
    assert page.locator(".bar p").inner_text() == "All of it is exported."
    told = [json.loads(p.read_text()) for p in parts]
    assert [(t["export"], t["part"], len(t["pictures"])) for t in told] == [(2, 2, 1), (2, 1, 2)]
    assert [count(take(job, p)) for p in parts] == [{ADD: 1, CHANGE: 1}, {ADD: 2, SAME: 1}]
    assert count(take(job, parts[0])) == {SAME: 2}
    page.evaluate("limits.pictures = 200")

    # the only copy goes at the second press, and a double tap is one press
    remove = rack.get_by_role("button", name="Remove")
    remove.first.dblclick()
    assert (rack.locator("img").count(), remove.first.inner_text()) == (3, "Remove for good")
    page.wait_for_timeout(500)
    remove.first.click()
    rack.locator("img").nth(2).wait_for(state="detached")

    page.evaluate(f"{FORGET}; photos.run('readwrite', store => store.delete(state.pictures[0].id))")
    partial = export(page, tmp_path)
    assert len(json.loads(partial.read_text())["pictures"]) == 1
    assert "1 photo can't be read now and is not in the file" in page.locator(".bar p").inner_text()
    page.reload()
    assert "All of it" not in page.locator(".bar p").inner_text()

    rack = topic(page, "Rack position")
    rack.locator("summary").first.click()
    rack.get_by_text("This photo can't be read now").wait_for()
    readable(page)
    page.evaluate("limits.strokes = limits.dimensions = 1")
    rack.get_by_role("button", name="Sketch").click()
    canvas, full = page.locator("canvas"), page.get_by_text("This sketch is full")
    canvas.click(position={"x": 40, "y": 40})
    canvas.click(position={"x": 80, "y": 80})
    full.wait_for()
    page.get_by_label("Add a dimension").check()
    assert full.count() == 0
    for x in (40, 300, 40, 300):
        canvas.click(position={"x": x, "y": 90})
    full.wait_for()
    assert page.evaluate("state.sketches.map(one => [one.strokes.length, one.dimensions.length])") == [[1, 1]]


def test_two_phones_have_names_of_their_own(phone: Phone, job: Path, tmp_path: Path) -> None:
    file = make_sheet(job, "site", "Crew A")
    other = Phone(tmp_path / "other")
    names = []
    for one, field, words in ((phone, "Across", "lid scratched"), (other, "Up", "flange bent")):
        page = one.open(file)
        page.get_by_role("button", name="Boxes", exact=True).click()
        page.locator("button.row").first.click()
        page.get_by_label(field).first.fill("3' 2\"")
        page.get_by_label("What is wrong").fill(words)
        page.get_by_role("button", name="Note this problem").click()
        page.reload()
        page.get_by_role("button", name="Export", exact=True).click()
        made = export(page, tmp_path)
        names.append(json.loads(made.read_text())["phone"])
        assert count(take(job, made)) == ({ADD: 2} if one is phone else {ADD: 1, CHANGE: 1})
    other.close()
    other.check()
    assert len(set(names)) == 2
    built = store.read(job).job.all(AsBuilt)[-1]
    assert (built.x and built.x.text, built.y and built.y.text) == ("3' 2\"", "3' 2\"")
