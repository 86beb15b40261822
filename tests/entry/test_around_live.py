"""What stands around grid and plan on the live pages: packs, history, files, the buttons of the price."""

import io
from pathlib import Path

import openpyxl
import pytest
from browser import STEP, Live
from playwright.sync_api import Locator, expect

from stagefloor.job import store
from stagefloor.job.closeout import Reading
from stagefloor.job.commercial import Change, ChangeLine, IssuedPrice
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import Point
from stagefloor.job.labour import HourUnit
from stagefloor.reference.tables import load
from stagefloor.steps.boxes.schedule import reconciled
from stagefloor.steps.starter import pack_rows

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def points(job: Path) -> list[Point]:
    return store.read(job).job.all(Point)


def test_a_pack_becomes_plain_rows_and_undo_takes_them_away(live: Live, job: Path) -> None:
    live.go_to("inventory")
    page, before = live.page, len(points(job))
    page.locator(f"{STEP}.widget-dropdown", has_text="Pack").locator("select").select_option(label="Drum kit")
    page.locator(STEP).get_by_role("button", name="Add this pack").click()
    expect(page.locator(STEP).get_by_text("Drum kit added on center")).to_be_visible()  # as a US job spells it
    wanted = pack_rows("Drum kit", 0.0, 0.0, [], "ft")
    assert len(points(job)) == before + len(wanted)
    grid = page.locator(f"{STEP}.sf-points")
    row = grid.locator(f"[data-id='{points(job)[-1].id}']")
    expect(row.locator("[data-key=label]")).to_contain_text(str(wanted[-1]["label"]))
    grid.get_by_role("button", name="Undo").click()
    expect(row).to_have_count(0)
    assert len(points(job)) == before


def test_a_word_is_looked_up_by_a_part_of_it(live: Live) -> None:
    live.go_to("inventory")
    page = live.page
    fold = page.locator(f"{STEP}.sf-folds").get_by_text("What a word means")
    fold.click()
    words, find = page.locator(f"{STEP}.sf-words dt"), page.locator(f"{STEP}.sf-word-find input")
    expect(words).to_have_count(len(load("words")))
    find.press_sequentially("ground")  # as this US job says it
    expect(words.first).to_contain_text("ground")
    assert 0 < words.count() < len(load("words"))
    expect(page.locator(f"{STEP}.sf-words dd").first).to_be_visible()
    find.fill("qqq")
    expect(page.locator(f"{STEP}.sf-words")).to_contain_text("No word here holds 'qqq'.")
    find.fill("")
    fold.click()


def open_history(live: Live) -> Locator:
    live.go_to("job_sheet")
    button = live.page.locator(f"{STEP}.sf-history-open")
    if "Show" in button.inner_text():
        button.click()
    expect(button).to_have_text("Hide the history")
    return live.page.locator(f"{STEP}.sf-history-said")


def test_two_states_are_compared_and_an_earlier_one_restored(live: Live, job: Path) -> None:
    lectern = points(job)[0]
    for what in ("Desk", "Ambo"):
        store.transact(job, lambda j, what=what: set_fields(j, "point", lectern.id, {"what": what}), f"It is a {what}")
    said, page = open_history(live), live.page
    first, name = page.locator(f"{STEP}.sf-history-first select"), page.locator(STEP).get_by_label("Your name")
    mine = name.input_value()
    name.fill("Kim")
    name.press("Enter")
    expect(page.locator(f"{STEP}.sf-history")).to_contain_text("It is a Ambo")
    first.select_option(label=first.locator("option", has_text="It is a Desk").first.inner_text())
    page.click(f"{STEP}.sf-history-compare")
    expect(said).to_contain_text("1 difference.")
    assert [c.inner_text() for c in said.locator("tbody td").all()][-2:] == ["Desk", "Ambo"]
    page.click(f"{STEP}.sf-history-restore")
    expect(said).to_contain_text("The job is as it was after edit")
    assert points(job)[0].what == "Desk"
    newest = page.locator(f"{STEP}.sf-history tbody tr").first
    expect(newest).to_contain_text("Back to the state after edit")
    expect(newest.locator("td").nth(2), "the name typed on this page").to_have_text("Kim")
    name.fill(mine)
    name.press("Enter")
    assert [e.name for e in store.edits(job)][-2:][0] == "It is a Ambo"  # what was between is still there
    store.transact(job, lambda j: set_fields(j, "point", lectern.id, {"what": lectern.what}), "As it was")


def test_a_table_goes_out_as_xlsx_and_comes_back_changed(live: Live, job: Path, tmp_path: Path) -> None:
    """Read and changed by openpyxl, as a user would in a spreadsheet."""
    live.go_to("inventory")
    page, shown = live.page, points(job)[0]
    in_grid = page.locator(f"{STEP}.sf-points [data-id='{shown.id}'] [data-key=what]")
    expect(in_grid).to_have_text(shown.what)  # what was done elsewhere has arrived
    page.locator(f"{STEP}.sf-table-kind select").select_option("Connection points")
    page.locator(STEP).get_by_role("button", name="Export as XLSX").click()
    with page.expect_download() as waiting:
        page.locator(f"{STEP}.sf-table-out a").click()
    book = openpyxl.load_workbook(io.BytesIO(waiting.value.path().read_bytes()))
    sheet = book.worksheets[0]
    heads = [c.value for c in sheet[1]]
    assert [sheet.cell(n, 1).value for n in range(2, sheet.max_row + 1)] == [p.label for p in points(job)]
    column = next(n for n, head in enumerate(heads, 1) if str(head).startswith("What stands there"))
    was = sheet.cell(2, column).value
    sheet.cell(2, column).value = "Reading desk"
    file = tmp_path / "changed.xlsx"
    book.save(file)
    page.locator(f"{STEP}.sf-table-in input[type=file]").set_input_files(file)
    preview = page.locator(f"{STEP}.sf-table-in .sf-preview")
    expect(preview).to_contain_text("1 changed")
    assert points(job)[0].what == was  # nothing yet
    page.locator(f"{STEP}.sf-table-in .sf-take").click()
    expect(preview).to_contain_text("Taken in: 1 changed")
    assert points(job)[0].what == "Reading desk"
    page.locator(f"{STEP}.sf-points").get_by_role("button", name="Undo").click()
    expect(in_grid).to_have_text(str(was))


def test_a_testers_file_is_looked_at_first_and_its_good_rows_taken(live: Live, job: Path, tmp_path: Path) -> None:
    live.go_to("closeout")
    page, before = live.page, len(store.read(job).job.all(Reading))
    file = tmp_path / "tester.csv"
    file.write_text("Cable label,Test,Value,Unit,Pass/Fail,Date,Tester,Operator\n"
                    "1-M1,continuity,,,pass,2026-05-02,tester 7,crew lead\n"
                    "1-M2,loop resistance,2.5,ohm,pass,2026-05-02,tester 7,crew lead\n"
                    "1-X9,continuity,,,pass,2026-05-02,tester 7,crew lead\n")
    other = tmp_path / "other.csv"  # chosen by mistake, and long enough to be still on its way
    other.write_text("x,y\n" * 1_000_000)
    upload = page.locator(f"{STEP}.sf-tester-upload input[type=file]")
    upload.set_input_files(other)
    upload.set_input_files(file)
    said = page.locator(f"{STEP}.sf-tester-said")
    expect(said).to_contain_text("2 readings from 3 rows")
    expect(said).to_contain_text("no line is called '1-X9'")
    assert len(store.read(job).job.all(Reading)) == before
    page.locator(f"{STEP}.sf-tester-take").click()
    expect(said).to_contain_text("2 readings taken; 1 bad row was left out")
    assert len(store.read(job).job.all(Reading)) == before + 2


def test_a_price_is_issued_a_change_order_made_and_new_hours_taken(live: Live, job: Path) -> None:
    unit = store.read(job).job.all(HourUnit)[0]
    store.transact(job, lambda j: add(j, "actual", [{"job": f"Hall {n}", "task": unit.id, "amount": "4", "hours": "24"}
                                                    for n in range(3)])[0], "Hours that it took")
    live.go_to("labour")
    page = live.page
    changes, issue, order = (page.locator(f"{STEP}.sf-{name}") for name in ("changes", "issue", "take-changes"))
    expect(order).to_be_disabled()
    issue.click()
    expect(changes).to_contain_text("Nothing counted has changed since 'Issue 1'")
    (issued,) = store.read(job).job.all(IssuedPrice)
    shown = page.locator(f"{STEP}.sf-price .figures").inner_text()
    assert issued.total is not None and f"{issued.total:,.2f}" in shown

    lectern = points(job)[0]
    store.transact(job, lambda j: reconciled(set_fields(j, "point", lectern.id, {"loudspeaker": "2"})), "one more")
    expect(changes).to_contain_text("Since 'Issue 1'", timeout=8000)
    expect(changes).to_contain_text("higher than issued: +")  # why the price rose
    expect(changes).to_contain_text("because quantities changed")
    expect(order).to_be_enabled()
    order.click()
    expect(changes).to_contain_text("Changes since Issue 1")
    found = store.read(job).job
    assert [c.label for c in found.all(Change)] == ["Changes since Issue 1"]
    assert found.all(ChangeLine)

    lessons, take = page.locator(f"{STEP}.sf-lessons"), page.locator(f"{STEP}.sf-learn")
    expect(lessons).to_contain_text("3 closed jobs speak for new hours of 1 task")
    assert (unit.low, unit.likely, unit.high) == (2.0, 3.0, 4.0)
    take.click()
    expect(page.locator(STEP).get_by_text("Taken for 1 task.")).to_be_visible()
    now = store.read(job).job.get(HourUnit, unit.id)
    assert now.likely is not None and now.likely > 4.0  # three jobs at 6 h each, against 3 h so far


def test_the_head_of_a_step_leads_to_its_sections(live: Live) -> None:
    live.go_to("closeout")
    heading = live.page.locator(f"{STEP}h2", has_text="Remarks")
    expect(heading).not_to_be_in_viewport()
    links = live.page.locator(f"{STEP}.jp-Notebook")
    links.get_by_role("link", name="Remarks", exact=True).click()
    expect(heading).to_be_in_viewport()
    first = links.get_by_role("link", name="How far the handover is", exact=True)
    first.focus()
    live.page.keyboard.press("ArrowRight")
    expect(links.get_by_role("link", name="Tests", exact=True)).to_be_focused()
    live.page.keyboard.press("Tab")  # past all the others
    expect(links.locator("p > a:focus")).to_have_count(0)
