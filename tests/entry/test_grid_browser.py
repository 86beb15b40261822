"""The entry grid in a browser: keys, blocks, refusals, a cut line, many rows, a narrow screen."""

import time

import pytest

from stagefloor.entry.grid import Grid

pytestmark = pytest.mark.browser


def cell(stand, row, key):
    return stand.page.locator(f'[data-id="{row}"] [data-key="{key}"]')


def text(stand, row, key):
    return cell(stand, row, key).locator(".sf-text").inner_text()


def press(stand, *keys):
    for key in keys:
        stand.page.keyboard.press(key)


def until(stand, check, what):
    end = time.monotonic() + 5
    while time.monotonic() < end:
        if check():
            return
        stand.page.wait_for_timeout(20)
    raise AssertionError(f"not seen within 5 s: {what}")


def saved(stand):
    stand.page.locator('.sf-grid[data-state="saved"]').wait_for()


def into(stand, row="r1", key="where"):
    cell(stand, row, key).focus()


def focused(stand):
    return stand.page.evaluate(
        "(e => [e.closest('[data-id]')?.dataset.id ?? null, e.closest('[data-key]')?.dataset.key ?? null])"
        "(document.activeElement)"
    )


def paste(stand, block):
    stand.page.evaluate("(text) => navigator.clipboard.writeText(text)", block)
    press(stand, "Control+V")


def test_a_row_is_entered_with_the_keyboard_alone(stand, table):
    grid, owner = table(2)
    it = stand(grid)
    for _ in range(7):
        press(it, "Tab")
        if focused(it)[0]:
            break
    assert focused(it) == ["r1", "where"], "Tab reaches the table through its tools"
    press(it, "Control+Enter")
    it.page.keyboard.type("Pit")
    press(it, "Tab")
    it.page.keyboard.type("Loud")
    press(it, "Tab")
    it.page.keyboard.type("4")
    press(it, "Tab")
    it.page.keyboard.type("12' 6 1/2\"")
    press(it, "Tab", "Space")
    until(it, lambda: len(owner.rows) == 3 and owner.rows["r3"]["cells"].get("night") == "yes", "the new row")
    assert owner.rows["r3"]["cells"] == {
        "where": "Pit",
        "kind": "spk",
        "count": "4",
        "worked": "5",
        "left": "12' 6 1/2\"",
        "night": "yes",
    }
    saved(it)
    assert text(it, "r3", "worked") == "5"
    assert text(it, "r3", "kind") == "Loudspeaker"


def test_tab_meets_the_tools_once_and_arrows_go_along_them(stand, table):
    grid, owner = table(1)
    it = stand(grid)
    here = "document.activeElement.textContent"
    press(it, "Tab")
    assert it.page.evaluate(here) == "Add row"
    press(it, "ArrowRight")
    assert it.page.evaluate(here) == "Duplicate"
    press(it, "End", "ArrowRight", "ArrowLeft")
    assert it.page.evaluate(here) == "Redo"
    press(it, "Tab")
    assert focused(it) == ["r1", "where"]
    it.page.get_by_role("button", name="Delete row").click()
    until(it, lambda: not owner.rows, "deleted")
    press(it, "Shift+Tab", "Shift+Tab")
    it.page.get_by_role("button", name="Add row").focus()
    press(it, "ArrowRight")  # past what can't be pressed in an empty table
    assert it.page.evaluate(here) == "Undo"


def test_enter_twice_makes_an_assumed_value_ones_own(stand, table):
    grid, owner = table(1)
    it = stand(grid)
    assert cell(it, "r1", "left").locator(".sf-mark").inner_text() == "assumed"
    into(it, "r1", "left")
    press(it, "Enter", "Enter")
    until(it, lambda: owner.messages, "told")
    assert owner.messages[0]["changes"] == [["r1", "left", "0' 6\""]]


def test_what_is_typed_in_a_form_is_read_whole_on_a_phone(stand):
    columns = [{"key": "what", "label": "What", "kind": "text", "readonly": True, "width": 230},
               {"key": "value", "label": "Value", "kind": "text", "width": 260},
               {"key": "hint", "label": "Hint", "kind": "note", "readonly": True, "width": 380}]
    rows = [{"id": "a", "cells": {"what": "What plugs in", "value": "2 microphone, 1 loudspeaker, 1 branch power",
                                  "hint": "for example: 2 microphone"}}]
    it = stand(Grid("Start", columns, rows, lambda message: {"ok": True}, fixed=True), width=390, touch=True)
    box = cell(it, "a", "value").bounding_box()
    frame = it.page.locator(".sf-scroll").bounding_box()
    assert box["x"] + box["width"] <= frame["x"] + frame["width"] + 0.5
    assert box["width"] >= 200


def test_moving_about(stand, table):
    it = stand(table(60)[0])
    into(it)
    for keys, place in [
        (["ArrowDown", "ArrowRight"], ["r2", "kind"]),
        (["End"], ["r2", "remark"]),
        (["Home"], ["r2", "where"]),
        (["Shift+Tab"], ["r1", "remark"]),
        (["Tab"], ["r2", "where"]),
        (["Control+End"], ["r60", "remark"]),
        (["Control+Home"], ["r1", "where"]),
        (["ArrowUp"], [None, "where"]),
        (["ArrowDown"], ["r1", "where"]),
    ]:
        press(it, *keys)
        assert focused(it) == place, keys
    press(it, "PageDown")
    assert int(focused(it)[0][1:]) > 8
    press(it, "PageUp")
    assert focused(it) == ["r1", "where"]
    assert it.page.locator('[role=gridcell][tabindex="0"]').count() == 1


def test_escape_and_tab_leave_the_table(stand, table):
    it = stand(table()[0])
    into(it)
    press(it, "Escape", "Tab")
    assert focused(it) == [None, None]


def test_escape_cancels_and_f2_keeps_the_text(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it)
    it.page.keyboard.type("zzz")
    press(it, "Escape")
    assert text(it, "r1", "where") == "Drum riser 1"
    assert focused(it) == ["r1", "where"]
    press(it, "F2")
    it.page.keyboard.type("b")
    press(it, "Enter")
    until(it, lambda: owner.rows["r1"]["cells"]["where"] == "Drum riser 1b", "the entry")
    until(it, lambda: focused(it) == ["r2", "where"], "the hand goes on")


def test_a_refused_text_stays_in_the_cell_with_its_sentence(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it, "r1", "count")
    it.page.keyboard.type("two")
    press(it, "Enter")
    bad = cell(it, "r1", "count")
    bad.locator(".sf-problem").wait_for()
    assert text(it, "r1", "count") == "two"
    assert bad.get_attribute("aria-invalid") == "true"
    told = it.page.locator(f"id={bad.get_attribute('aria-describedby')}").inner_text()
    assert told == "Mend: 'two' is not a whole number. Type a count such as 2."
    assert owner.rows["r1"]["cells"]["count"] == "1"
    into(it, "r1", "count")
    it.page.keyboard.type("2")
    press(it, "Enter")
    bad.locator(".sf-problem").wait_for(state="detached")
    assert bad.get_attribute("aria-invalid") is None


def test_undo_and_redo(stand, table):
    it = stand(table()[0])
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter", "Control+Z")
    until(it, lambda: text(it, "r1", "where") == "Drum riser 1", "undo")
    it.page.get_by_role("button", name="Redo").click()
    until(it, lambda: text(it, "r1", "where") == "Pit", "redo")
    press(it, "Control+Z")
    it.page.get_by_role("button", name="Undo").click()
    it.page.get_by_role("button", name="Undo").click()
    it.page.get_by_text("There is nothing to undo.").wait_for()


def test_a_pasted_block_spreads_adds_rows_and_flags_bad_cells(stand, table):
    grid, owner = table(3)
    it = stand(grid)
    into(it, "r3", "where")
    paste(it, 'Pit\tMains\t2\r\nTrap\tnonsense\tmany\r\n"two\nlines"\tmic\t1\r\n')
    until(it, lambda: len(owner.rows) == 5, "two new rows")
    saved(it)
    assert [text(it, "r3", key) for key in ("where", "kind", "count")] == ["Pit", "Mains", "2"]
    assert owner.rows["r3"]["cells"]["kind"] == "mains"
    assert text(it, "r4", "count") == "many"
    assert cell(it, "r4", "count").get_attribute("aria-invalid") == "true"
    assert text(it, "r4", "kind") == "nonsense"
    assert owner.rows["r5"]["cells"]["where"] == "two\nlines"
    press(it, "Control+Z")
    press(it, "Control+Z")
    until(
        it,
        lambda: len(owner.rows) == 3 and owner.rows["r3"]["cells"]["where"] == "Stage left wing 1",
        "one step",
    )


def test_values_that_cannot_land_are_counted_not_dropped_in_silence(stand, table):
    it = stand(table()[0])
    into(it, "r1", "worked")
    paste(it, "9\tnote\tbeyond")
    it.page.get_by_text("Pasted beyond the last column and left out: 1.").wait_for()
    it.page.get_by_text("on columns that are worked out and left out: 1.").wait_for()


def test_copy_and_paste_of_a_block_of_our_own(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it)
    press(it, "Shift+ArrowDown", "Shift+ArrowRight", "Control+C")
    got = it.page.evaluate("navigator.clipboard.readText()")
    assert got == "Drum riser 1\tMicrophone\nCentre front 1\tLoudspeaker"
    into(it, "r4", "where")
    press(it, "Control+V")
    until(it, lambda: owner.rows["r5"]["cells"]["kind"] == "spk", "the copy")
    assert owner.rows["r4"]["cells"]["where"] == "Drum riser 1"


def test_fill_down_and_clear(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it, "r1", "count")
    press(it, "Shift+ArrowDown", "Shift+ArrowDown", "Control+D")
    until(
        it,
        lambda: [owner.rows[f"r{n}"]["cells"]["count"] for n in (1, 2, 3, 4)] == ["1", "1", "1", "4"],
        "fill",
    )
    press(it, "Delete")
    until(
        it,
        lambda: [owner.rows[f"r{n}"]["cells"]["count"] for n in (1, 2, 3, 4)] == ["", "", "", "4"],
        "clear",
    )


def test_a_choice_is_a_real_list(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it, "r1", "kind")
    press(it, "Enter")
    assert it.page.evaluate("document.activeElement.tagName") == "SELECT"
    it.page.keyboard.type("Mai")
    press(it, "Enter")
    until(it, lambda: owner.rows["r1"]["cells"]["kind"] == "mains", "the choice")
    cell(it, "r2", "kind").click()
    cell(it, "r2", "kind").click()
    it.page.locator("select.sf-editor").wait_for()


def test_rows_are_duplicated_and_deleted_by_the_buttons(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it, "r2")
    press(it, "Shift+ArrowDown")
    it.page.get_by_role("button", name="Delete 2 rows").click()
    until(it, lambda: list(owner.rows) == ["r1", "r4", "r5"], "deleted")
    into(it, "r4")
    it.page.get_by_role("button", name="Duplicate").click()
    until(it, lambda: list(owner.rows) == ["r1", "r4", "r6", "r5"], "duplicated")
    until(it, lambda: focused(it)[0] == "r6", "the copy is where we are")


def test_filter_and_sort_change_the_view_only(stand, table):
    grid, owner = table(40)
    it = stand(grid)
    it.page.get_by_label("Filter").fill("keys")
    until(it, lambda: it.page.locator(".sf-count").inner_text() == "8 of 40 rows shown", "the filter")
    it.page.get_by_label("Filter").fill("")
    it.page.get_by_role("button", name="Count").click()
    head = it.page.locator("[role=columnheader][data-key=count]")
    assert head.get_attribute("aria-sort") == "ascending"
    counts = it.page.locator("[role=gridcell][data-key=count] .sf-text").all_inner_texts()
    assert counts == sorted(counts)
    it.page.get_by_role("button", name="Count").click()
    assert head.get_attribute("aria-sort") == "descending"
    assert list(owner.rows) == [f"r{n + 1}" for n in range(40)]
    assert owner.messages == []


def test_a_cut_line_is_said_and_nothing_typed_is_lost(stand, table):
    grid, owner = table(2)
    it = stand(grid)
    saved(it)
    it.connected = False
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter", "Control+Enter")
    it.page.keyboard.type("Trap")
    press(it, "Enter")
    state = it.page.locator(".sf-state")
    until(it, lambda: "Saving" in state.inner_text(), "saving")
    it.page.locator('.sf-grid[data-state="waiting"]').wait_for(timeout=6000)
    assert "Not connected. 3 changes are kept here" in state.inner_text()
    assert text(it, "r1", "where") == "Pit"
    assert len(owner.messages) == 0
    it.connected = True
    it.page.locator('.sf-grid[data-state="saved"]').wait_for(timeout=12000)
    assert [row["cells"].get("where") for row in owner.rows.values()] == ["Pit", "Centre front 1", "Trap"]


def test_an_unanswered_entry_is_not_overwritten_by_a_change_from_elsewhere(stand, table):
    grid, owner = table(2)
    it = stand(grid)
    saved(it)
    it.connected = False
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    row = {**owner.rows["r1"], "cells": {**owner.rows["r1"]["cells"], "count": "9"}}
    it.page.evaluate("(row) => listen({do: 'rows', elsewhere: true, rows: [row], removed: []})", row)
    until(it, lambda: text(it, "r1", "count") == "9", "the other change")
    assert text(it, "r1", "where") == "Pit"


def test_typing_in_a_new_row_is_not_disturbed_by_its_late_answer(stand, table):
    grid, owner = table(2)
    it = stand(grid)
    saved(it)
    it.connected = False
    into(it)
    press(it, "Control+Enter")
    it.page.keyboard.type("Pi")
    it.connected = True
    it.page.locator('[data-id="r3"]').wait_for(timeout=9000)
    it.page.keyboard.type("t")
    press(it, "Enter")
    until(it, lambda: owner.rows["r3"]["cells"].get("where") == "Pit", "one entry, whole")


def test_unanswered_edits_outlive_a_page_loaded_again(stand, table):
    grid, owner = table(2, keep_under="job-7/needs")
    it = stand(grid)
    saved(it)
    it.connected = False
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    it.page.on("dialog", lambda dialog: dialog.accept())
    it.page.goto("http://localhost/stand")
    it.connected = True
    it.mount()
    it.page.get_by_text("1 change made here earlier may not have reached the job.").wait_for()
    assert owner.messages == []
    it.page.get_by_role("button", name="Save them now").click()
    assert it.page.evaluate("document.activeElement.closest('.sf-grid') !== null"), "the hand is not left without a place"
    until(it, lambda: owner.rows["r1"]["cells"]["where"] == "Pit", "sent at last")


def test_changes_from_elsewhere_appear_and_do_not_disturb_an_open_editor(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it)
    it.page.keyboard.type("Pi")
    owner.write("r1", "count", "9")
    grid.update(list(owner.rows.values()))
    until(it, lambda: text(it, "r1", "count") == "9", "the other change")
    assert "Changed elsewhere: 1 row." in it.page.locator(".sf-say").inner_text()
    it.page.keyboard.type("t")
    press(it, "Enter")
    until(it, lambda: owner.rows["r1"]["cells"]["where"] == "Pit", "the entry")


def test_a_second_view_shows_the_same_rows_and_follows(stand, table):
    it = stand(table()[0])
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    saved(it)
    it.page.evaluate("openView(document.querySelector('main').appendChild(document.createElement('div')))")
    until(
        it,
        lambda: (
            it.page.locator('[data-id="r1"] [data-key="where"] .sf-text').all_inner_texts() == ["Pit"] * 2
        ),
        "both views",
    )


def test_markup_typed_is_shown_as_text(stand, table):
    it = stand(table()[0])
    into(it)
    it.page.keyboard.type("<img src=x onerror=window.bad=1>")
    press(it, "Enter")
    saved(it)
    assert it.page.locator(".sf-grid img").count() == 0
    assert text(it, "r1", "where") == "<img src=x onerror=window.bad=1>"


def test_keys_do_not_reach_the_page_around(stand, table):
    it = stand(table()[0])
    it.page.evaluate("window.out = []; document.addEventListener('keydown', (e) => window.out.push(e.key))")
    into(it)
    press(it, "d", "Escape", "ArrowDown", "Control+Z")
    assert it.page.evaluate("window.out") == []
    assert it.page.locator(".sf-grid[data-lm-suppress-shortcuts]").count() == 1


def test_an_empty_table_says_what_to_do(stand, table):
    grid, owner = table(0, empty_hint="No needs yet. Press 'Add row', then type where something plugs in.")
    it = stand(grid)
    assert it.page.locator(".sf-empty").inner_text().startswith("No needs yet.")
    it.page.get_by_role("button", name="Add row").click()
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    until(it, lambda: [row["cells"].get("where") for row in owner.rows.values()] == ["Pit"], "the first row")
    assert it.page.locator(".sf-empty").is_hidden()


def test_a_thousand_rows(stand, table):
    grid, owner = table(1000)
    it = stand(grid)
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    saved(it)
    assert next(iter(owner.rows.values()))["cells"].get("where") == "Pit"
    it.page.get_by_role("button", name="Count").click()
    press(it, "Control+End")
    assert it.page.evaluate("document.activeElement.parentElement.getAttribute('aria-rowindex')") == "1001"
    assert it.page.locator("[role=row]").count() == 1001


@pytest.mark.parametrize("width", [1440, 390])
def test_no_serious_accessibility_fault_and_nothing_cut_off(stand, table, no_serious_faults, width, tmp_path):
    grid, _ = table(14)
    it = stand(grid, width=width, height=844, touch=width < 500)
    into(it, "r2", "count")
    it.page.keyboard.type("two")
    press(it, "Enter")
    cell(it, "r2", "count").locator(".sf-problem").wait_for()
    saved(it)
    it.page.screenshot(path=tmp_path / f"grid-{width}.png")
    assert no_serious_faults(it.page) == []
    assert it.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (
        "only the table itself scrolls sideways"
    )
    if width < 500:
        small = it.page.evaluate("""[...document.querySelectorAll('.sf-button, .sf-filter, .sf-cell')]
            .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 40).length""")
        assert small == 0 or not it.page.evaluate("matchMedia('(pointer: coarse)').matches")


def test_a_finger_edits_at_one_tap(stand, table):
    it = stand(table()[0], width=390, height=844, touch=True)
    cell(it, "r1", "where").tap()
    it.page.locator("input.sf-editor").wait_for()
    it.page.locator("input.sf-editor").fill("Pit")
    cell(it, "r2", "where").tap()
    until(it, lambda: text(it, "r1", "where") == "Pit", "the entry is kept when another cell is tapped")


def test_a_cell_opened_by_a_press_or_by_enter_is_typed_over(stand, table):
    it = stand(table()[0])
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter")  # moves to the next row
    until(it, lambda: focused(it) == ["r2", "where"], "the next row")
    cell(it, "r2", "where").click()  # the press opens it, as it is where we are
    it.page.locator("input.sf-editor").wait_for()
    it.page.keyboard.type("Choir")
    press(it, "Enter")
    press(it, "Enter")
    it.page.keyboard.type("Organ")
    press(it, "Enter")
    until(it, lambda: [text(it, r, "where") for r in ("r1", "r2", "r3")] == ["Pit", "Choir", "Organ"], "all replaced")


def test_saved_is_not_said_of_cells_that_were_not_taken_and_a_button_leads_to_them(stand, table):
    it = stand(table(30)[0])
    into(it, "r2", "count")
    paste(it, "two\n3\nfour")
    it.page.get_by_text("Saved, except 2 cells that were not taken: see 'Mend'.").wait_for()
    into(it, "r20", "where")
    for row in ("r2", "r4", "r2"):
        it.page.get_by_role("button", name="Go to the next one to mend").click()
        assert focused(it) == [row, "count"]
    for row in ("r2", "r4"):
        into(it, row, "count")
        it.page.keyboard.type("5")
        press(it, "Enter")
    saved(it)
    it.page.get_by_text("All saved.").wait_for()
    assert it.page.get_by_role("button", name="Go to the next one to mend").is_hidden()


def test_no_word_of_a_heading_is_broken_and_columns_out_of_sight_are_counted(stand, table):
    grid, _ = table()
    grid.columns = [*grid.columns, {"key": "long", "label": "Loudspeaker connections", "kind": "number", "width": 40}]
    it = stand(grid, width=700)
    broken = it.page.evaluate("""[...document.querySelectorAll('.sf-head .sf-sort > span:first-child')].filter((e) => {
        const range = document.createRange();
        return e.textContent.split(' ').some((word) => {
            const at = e.textContent.indexOf(word);
            range.setStart(e.firstChild, at); range.setEnd(e.firstChild, at + word.length);
            return range.getClientRects().length > 1; }); }).length""")
    assert broken == 0
    said = it.page.locator(".sf-more")
    until(it, lambda: "to the right" in said.inner_text(), "columns out of sight are counted")
    it.page.evaluate("document.querySelector('.sf-scroll').scrollLeft = 5000")
    until(it, lambda: said.inner_text() == "", "none is left")


def test_a_line_of_a_form_has_a_list_of_its_own(stand):
    choices = [{"value": "", "label": "not known"}, {"value": "wood on joists", "label": "wood on joists"}]
    rows = [{"id": "a", "cells": {"what": "Venue", "value": ""}},
            {"id": "b", "cells": {"what": "Floor", "value": ""}, "as": {"value": {"kind": "choice", "choices": choices}}}]
    columns = [{"key": "what", "label": "What", "kind": "text", "readonly": True},
               {"key": "value", "label": "Value", "kind": "text"}]
    asked = []
    it = stand(Grid("Start", columns, rows, lambda message: asked.append(message["changes"]) or {"ok": True}, fixed=True))
    into(it, "a", "value")
    it.page.keyboard.type("Hall")
    press(it, "Enter")
    press(it, "w")
    assert it.page.locator("select.sf-editor option").all_inner_texts() == ["not known", "wood on joists"]
    press(it, "Enter")
    until(it, lambda: asked == [[["a", "value", "Hall"]], [["b", "value", "wood on joists"]]], "both")


def test_pasted_rows_with_headings_go_under_the_same_names_and_overwrite_nothing(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it, "r2", "left")
    paste(it, "count\tConnection point\tPrice\n4\tPit\t12\nfour\tTrap\t9")
    until(it, lambda: len(owner.rows) == 7, "two rows more")
    made = [row["cells"] for row in list(owner.rows.values())[5:]]
    assert [(m.get("where"), m.get("count"), m.get("left")) for m in made] == [("Pit", "4", None), ("Trap", None, None)]
    assert owner.rows["r2"]["cells"]["left"] == "1' 6\""
    said = it.page.locator(".sf-say").inner_text()
    assert "read as headings; rows added: 2." in said
    assert "under headings that are not here and left out: 2." in said


def test_control_and_enter_in_a_cell_keep_it_and_begin_the_next_row(stand, table):
    grid, owner = table(1)
    it = stand(grid)
    into(it)
    for name in ("Pit", "Trap"):
        it.page.keyboard.type(name)
        press(it, "Control+Enter")
    until(it, lambda: [row["cells"].get("where") for row in owner.rows.values()][:2] == ["Pit", "Trap"], "both kept")
    until(it, lambda: len(owner.rows) == 3, "a third row begun")


READ_ONLY = "The file is read-only. Make it writable, then repeat the edit."


def refusing(owner, refused):
    """The owner's own answers, but none to the kinds of edit in `refused`, which is emptied later."""
    return lambda message: {"ok": False, "say": READ_ONLY} if message["do"] in refused else owner.on_change(message)


def given_rows(**options):
    """A table of three lines whose rows are given, and the edits its owner got."""
    columns = [{"key": "line", "label": "Line", "kind": "text", "readonly": True},
               {"key": "loop", "label": "Loop resistance", "kind": "number", "unit": "ohm"},
               {"key": "polarity", "label": "Polarity", "kind": "text"}]
    rows = [{"id": f"c{n}", "cells": {"line": f"M{n}", "loop": "", "polarity": ""}} for n in (1, 2, 3)]
    asked = []
    return Grid("Readings", columns, rows, lambda m: asked.append(m) or {"ok": True}, fixed=True, **options), asked


def test_a_text_refused_for_a_passing_reason_is_offered_again_by_enter(stand, table):
    grid, owner = table()
    refused = {"set"}
    grid._on_change = refusing(owner, refused)
    it = stand(grid)
    into(it, "r1", "count")
    it.page.keyboard.type("5")
    press(it, "Enter")
    bad = cell(it, "r1", "count")
    bad.locator(".sf-problem").wait_for()
    refused.clear()
    into(it, "r1", "count")
    press(it, "Enter", "Enter")
    until(it, lambda: owner.rows["r1"]["cells"]["count"] == "5", "taken now")
    bad.locator(".sf-problem").wait_for(state="detached")


def test_a_row_that_could_not_be_added_is_not_left_behind(stand, table):
    grid, owner = table(2)
    refused = {"add"}
    grid._on_change = refusing(owner, refused)
    it = stand(grid)
    into(it)
    press(it, "Control+Enter")
    it.page.get_by_text(READ_ONLY).wait_for()
    until(it, lambda: it.page.locator("[role=row][data-id]").count() == 2, "no row without anything behind it")
    assert focused(it)[0] in ("r1", "r2")
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    until(it, lambda: "Pit" in [row["cells"]["where"] for row in owner.rows.values()], "typing goes on")
    assert len(owner.rows) == 2


def test_what_was_typed_into_a_row_that_could_not_be_added_stays_and_is_offered_again(stand, table):
    grid, owner = table(1)
    refused = {"add"}
    grid._on_change = refusing(owner, refused)
    it = stand(grid)
    saved(it)
    it.connected = False
    into(it)
    press(it, "Control+Enter")
    it.page.keyboard.type("Pit")
    press(it, "Tab", "Tab")
    it.page.keyboard.type("4")  # the answer comes while the cell is open
    it.connected = True
    new = it.page.locator("[role=row][data-id^=new-]")
    new.get_by_text("This row is not saved. The file is read-only.").wait_for(timeout=9000)
    saved(it)
    assert "removed elsewhere" not in it.page.locator(".sf-say").inner_text()
    it.page.keyboard.type("2")
    press(it, "Enter")
    until(it, lambda: len({m["edit"] for m in it.sent("add")}) > 1 and new.locator(".sf-problem").count() == 1, "offered")
    refused.clear()
    new.locator("[data-key=where]").focus()
    press(it, "Enter", "Enter")
    made = {"where": "Pit", "count": "42", "worked": "43"}
    until(it, lambda: [row["cells"] for row in owner.rows.values()][1:] == [made], "taken at last")
    saved(it)
    assert it.page.locator(".sf-problem").count() == 0


def test_no_row_is_added_where_rows_are_given(stand):
    grid, asked = given_rows()
    it = stand(grid)
    into(it, "c2", "loop")
    press(it, "Control+Enter")
    paste(it, "4.5\tgood\n4.6\n4.7\tbad\n4.8")
    until(it, lambda: asked, "pasted")
    assert asked[0]["do"] == "set"
    assert asked[0]["changes"] == [["c2", "loop", "4.5"], ["c2", "polarity", "good"], ["c3", "loop", "4.6"]]
    it.page.get_by_text("Pasted beyond the last row and left out: 3.").wait_for()
    assert it.page.locator("[role=row][data-id]").count() == 3
    press(it, "F2", "Control+Enter")
    assert focused(it) == ["c3", "loop"]
    assert it.page.locator("[role=row][data-id]").count() == 3


def test_a_block_with_headings_goes_to_given_rows_by_their_names(stand):
    grid, asked = given_rows()
    it = stand(grid)
    into(it, "c1", "loop")
    paste(it, "Polarity\tLine\tLoop resistance (ohm)\ngood\tM3\t4.5\nbad\tM9\t4.6\ngood\tm1\t4.7")
    until(it, lambda: asked, "pasted")
    assert asked[0]["changes"] == [["c3", "polarity", "good"], ["c3", "loop", "4.5"], ["c1", "polarity", "good"],
                                   ["c1", "loop", "4.7"]]
    it.page.get_by_text("The first row was read as headings.").wait_for()
    said = it.page.locator(".sf-say").inner_text()
    assert "rows added" not in said
    assert "Pasted for rows that are not here and left out: 2." in said
    into(it, "c2", "loop")
    paste(it, "Polarity\tLoop resistance\nbad\t5")  # no names: from the row where we are
    until(it, lambda: len(asked) == 2, "pasted")
    assert asked[1]["changes"] == [["c2", "polarity", "bad"], ["c2", "loop", "5"]]


def test_columns_that_change_leave_an_open_cell_and_the_order_alone(stand, table):
    grid, owner = table()
    it = stand(grid)
    it.page.get_by_role("button", name="Count").click()
    head = it.page.locator("[role=columnheader][data-key=count]")
    into(it, "r3")
    it.page.keyboard.type("Pi")
    choices = [{"value": "mic", "label": "Microphone"}, {"value": "data", "label": "Data"}]
    more = [{**c, "choices": choices} if c["key"] == "kind" else c for c in grid.columns]
    change = "columns => model.set('columns', columns)"
    it.page.evaluate(change, more)
    assert focused(it) == ["r3", "where"]
    it.page.keyboard.type("t")
    it.page.evaluate(change, [*more, {"key": "gala", "label": "Gala", "kind": "flag"}])
    it.page.evaluate("rows => listen({do: 'table', rows})", list(owner.rows.values()))
    it.page.keyboard.type(" 1")
    press(it, "Enter")
    until(it, lambda: owner.rows["r3"]["cells"]["where"] == "Pit 1", "what was typed")
    it.page.locator("[role=columnheader][data-key=gala]").wait_for()
    assert head.get_attribute("aria-sort") == "ascending"
    assert head.locator(".sf-arrow").inner_text() == "▲"
    assert focused(it)[1] == "where", "and we are still in the table"
    press(it, "F2")
    it.page.evaluate(change, more)
    press(it, "Escape")
    it.page.locator("[role=columnheader][data-key=gala]").wait_for(state="detached")
    assert focused(it)[1] == "where"


def test_a_cell_that_is_only_looked_into_stays_assumed(stand, table):
    grid, owner = table()
    it = stand(grid, width=390, height=844, touch=True)
    assumed = cell(it, "r1", "left")
    assumed.tap()
    it.page.locator("input.sf-editor").wait_for()
    cell(it, "r2", "where").tap()
    until(it, lambda: focused(it)[0] == "r2", "elsewhere")
    assert assumed.locator(".sf-mark").inner_text() == "assumed"
    into(it, "r1", "left")
    press(it, "F2")
    cell(it, "r3", "count").click()
    it.page.evaluate("document.querySelector('.sf-filter').parentElement.hidden = false")
    into(it, "r1", "left")
    press(it, "F2")
    it.page.locator(".sf-filter").focus()
    assert assumed.locator(".sf-mark").inner_text() == "assumed"
    into(it, "r1", "left")
    press(it, "F2", "Tab")
    until(it, lambda: owner.messages, "Tab means it")
    assert [m["changes"] for m in owner.messages] == [[["r1", "left", "0' 6\""]]]


def test_a_name_that_two_choices_bear_is_not_guessed(stand, table):
    grid, owner = table()
    names = [("", "–"), ("p1", "Choir"), ("p2", "Choir"), ("p3", "Pit"), ("p4", "pit")]
    choices = [{"value": value, "label": label} for value, label in names]
    grid.columns = [{**c, "choices": choices} if c["key"] == "kind" else c for c in grid.columns]
    it = stand(grid)
    into(it, "r1", "kind")
    paste(it, "Choir\nPit\np2\nPIT\n–")
    until(it, lambda: owner.messages, "pasted")
    assert [text for _, _, text in owner.messages[0]["changes"]] == ["Choir", "p3", "p2", "PIT", ""]


def test_of_two_entries_in_one_cell_that_wait_only_the_last_is_sent(stand, table):
    grid, owner = table()
    it = stand(grid)
    saved(it)
    it.connected = False
    into(it, "r2", "where")
    for text_typed in ("Pit", "Trap"):
        it.page.keyboard.type(text_typed)
        press(it, "Enter", "ArrowUp")
    press(it, "ArrowRight", "ArrowRight")
    for text_typed in ("two", "2"):
        it.page.keyboard.type(text_typed)
        press(it, "Enter", "ArrowUp")
    it.connected = True
    it.page.locator('.sf-grid[data-state="saved"]').wait_for(timeout=12000)
    assert [m["changes"] for m in owner.messages] == [[["r2", "where", "Pit"]],
                                                      [["r2", "where", "Trap"], ["r2", "count", "2"]]]


def test_undo_is_heard_when_all_rows_are_gone(stand, table):
    grid, owner = table(3)
    it = stand(grid)
    into(it)
    press(it, "Control+A")
    it.page.get_by_role("button", name="Delete 3 rows").click()
    until(it, lambda: not owner.rows, "all gone")
    saved(it)
    assert focused(it)[0] is None
    press(it, "Control+Z")
    until(it, lambda: len(owner.rows) == 3, "all back")


def test_a_block_pasted_on_a_heading_begins_in_its_column(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it, "r1", "count")
    press(it, "ArrowUp")
    assert focused(it) == [None, "count"]
    paste(it, "7\n8")
    until(it, lambda: [owner.rows[r]["cells"]["count"] for r in ("r1", "r2")] == ["7", "8"], "below the heading")
    assert owner.rows["r1"]["cells"]["where"] == "Drum riser 1"


def test_a_window_that_is_left_keeps_its_cell_open(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it)
    it.page.keyboard.type("Pi")
    # as a browser does when another window comes in front: the field still has the focus of the page
    it.page.evaluate("document.activeElement.dispatchEvent(new FocusEvent('focusout', {bubbles: true}))")
    it.page.keyboard.type("t")
    press(it, "Enter")
    until(it, lambda: owner.messages, "the entry")
    assert [m["changes"] for m in owner.messages] == [[["r1", "where", "Pit"]]]


def test_a_letter_of_the_third_level_begins_a_cell(stand, table):
    """With AltGr down, Windows tells of Ctrl and Alt as well."""
    it = stand(table()[0])
    into(it)
    taken = it.page.evaluate("""() => !document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: "ż",
        ctrlKey: true, altKey: true, modifierAltGraph: true, bubbles: true, cancelable: true}))""")
    it.page.locator("input.sf-editor").wait_for()
    assert not taken, "the letter itself goes to the field"


def test_what_was_being_typed_in_a_row_that_is_deleted_elsewhere_is_said(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it, "r2")
    it.page.keyboard.type("Pulpit")
    del owner.rows["r2"]
    grid.update(list(owner.rows.values()))
    cell(it, "r2", "where").wait_for(state="detached")
    assert it.page.locator(".sf-say").inner_text() == "The row was removed elsewhere. What you were typing: Pulpit"


def test_a_stored_value_that_is_wrong_is_not_called_unsaved(stand):
    columns = [{"key": "line", "label": "Line", "kind": "text"}, {"key": "loop", "label": "Loop", "kind": "number"}]
    rows = [{"id": "a", "cells": {"line": "M1", "loop": "9"}, "problems": {"loop": "Too high for its length."}}]

    def answer(message):
        bad = {row: {key: "No figure."} for row, key, text in message["changes"] if text == "nine"}
        return {"ok": not bad, "problems": bad}

    it = stand(Grid("Readings", columns, rows, answer, fixed=True))
    it.page.get_by_text("All saved; 1 cell to look at: see 'Mend'.").wait_for()
    assert it.page.get_by_role("button", name="Go to the next one to mend").is_visible()
    into(it, "a", "loop")
    it.page.keyboard.type("nine")
    press(it, "Enter")
    it.page.get_by_text("Saved, except 1 cell that was not taken: see 'Mend'.").wait_for()


def test_the_hand_goes_on_although_no_answer_comes(stand, table):
    grid, _ = table()
    it = stand(grid)
    saved(it)
    it.connected = False
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    until(it, lambda: text(it, "r1", "where") == "Pit" and focused(it) == ["r2", "where"], "shown without an answer")
    assert it.page.locator(".sf-state").inner_text() == "Saving…"


def test_keys_faster_than_any_answer_end_where_they_were_meant(stand, table):
    grid, owner = table()
    it = stand(grid)
    saved(it)
    it.connected = False
    into(it)
    it.page.keyboard.type("Pit\nWing\n")
    press(it, "Tab", "Shift+Tab")
    it.page.keyboard.type("Hall")
    press(it, "Tab")
    it.connected = True
    until(it, lambda: [owner.rows[r]["cells"]["where"] for r in ("r1", "r2", "r3")] == ["Pit", "Wing", "Hall"], "all three")
    until(it, lambda: focused(it) == ["r3", "kind"], "the hand is where Tab led it")


def test_who_went_elsewhere_with_the_mouse_is_not_called_back(stand, table):
    it = stand(table()[0])
    saved(it)
    it.connected = False
    into(it)
    it.page.keyboard.type("Pit")
    it.page.evaluate("document.addEventListener('keydown', () => setTimeout(() => "
                     "document.querySelector('.sf-tools button').focus()), {once: true, capture: true})")
    press(it, "Enter")
    until(it, lambda: text(it, "r1", "where") == "Pit", "shown")
    assert it.page.evaluate("document.activeElement.textContent") == "Add row"


def test_what_is_typed_after_saving_earlier_changes_is_an_edit_of_its_own(stand, table):
    """The number of an earlier page's edit may be answered already: what joined it would never be carried out."""
    grid, owner = table(2, keep_under="job-7/needs")
    it = stand(grid)
    saved(it)
    grid.send = lambda message: None  # the edit is made, its answer is lost
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    until(it, lambda: owner.rows["r1"]["cells"]["where"] == "Pit", "made")
    it.page.on("dialog", lambda dialog: dialog.accept())
    it.load()
    it.page.get_by_text("1 change made here earlier may not have reached the job.").wait_for()
    it.connected = False
    into(it, "r1", "remark")
    it.page.keyboard.type("high")
    press(it, "Enter")
    it.page.get_by_role("button", name="Save them now").click()
    into(it, "r2", "where")
    it.page.keyboard.type("Wing")
    press(it, "Enter")
    grid.send, it.connected = it.to_browser, True
    until(it, lambda: owner.rows["r2"]["cells"]["where"] == "Wing", "the last one")
    saved(it)
    assert owner.rows["r1"]["cells"]["remark"] == "high"


def test_an_edit_that_was_made_is_not_offered_again_after_a_reload(stand, table):
    grid, owner = table(2, keep_under="job-7/needs")
    it = stand(grid)
    saved(it)
    grid.send = lambda message: None
    into(it)
    it.page.keyboard.type("Pit")
    press(it, "Enter")
    until(it, lambda: owner.rows["r1"]["cells"]["where"] == "Pit", "made")
    it.page.on("dialog", lambda dialog: dialog.accept())
    grid.send = it.to_browser
    it.load()
    until(it, lambda: it.sent("hello")[-1]["earlier"] != [], "the page asks")
    until(it, lambda: text(it, "r1", "where") == "Pit", "the page knows it")
    it.page.locator(".sf-earlier").wait_for(state="hidden")
    assert it.page.evaluate("sessionStorage.length") == 0


def test_a_refusal_is_heard_each_time(stand, table):
    it = stand(table()[0])
    it.page.evaluate("new MutationObserver(() => { window.heard = (window.heard ?? 0) + 1; })"
                     ".observe(document.querySelector('.sf-live .sf-heard'), {childList: true})")
    for number in (1, 2):
        into(it, "r1", "count")
        press(it, "Enter")
        it.page.keyboard.type("many")
        press(it, "Enter")
        until(it, lambda n=number: it.page.evaluate("window.heard") == n, f"said {number} times")
        said = it.page.locator(".sf-heard").inner_text()
        assert said == "Count: 'many' is not a whole number. Type a count such as 2."
    saved(it)


def test_the_answer_to_duplicate_does_not_move_who_types_already(stand, table):
    grid, owner = table()
    it = stand(grid)
    saved(it)
    into(it)
    held = []
    grid.send = held.append
    it.page.get_by_role("button", name="Duplicate").click()
    until(it, lambda: bool(held), "asked")
    press(it, "ArrowDown")
    it.page.keyboard.type("Lec")
    for message in held:
        it.to_browser(message)
    it.page.locator('[data-id="r6"]').wait_for()
    grid.send = it.to_browser
    it.page.keyboard.type("tern")
    press(it, "Enter")
    until(it, lambda: owner.rows["r2"]["cells"]["where"] == "Lectern", "the whole word in one row")


def test_a_bare_number_means_the_unit_that_stood_in_its_heading(stand, table):
    grid, owner = table()
    it = stand(grid)
    into(it, "r1", "left")
    it.page.keyboard.type("4")
    it.page.evaluate("model.set('columns', model.get('columns').map((one) => one.unit ? {...one, unit: 'm'} : one))")
    press(it, "Enter")
    until(it, lambda: owner.rows["r1"]["cells"]["left"] == "4 ft", "as it was read")
    it.page.get_by_role("columnheader", name="From centre m").wait_for()
    into(it, "r2", "left")
    it.page.keyboard.type("4")
    press(it, "Enter")
    until(it, lambda: owner.rows["r2"]["cells"]["left"] == "4", "as typed")


def test_a_field_of_a_form_is_called_by_its_line(stand):
    columns = [{"key": "what", "label": "What", "kind": "text", "readonly": True},
               {"key": "value", "label": "Value", "kind": "text"}]
    it = stand(Grid("Form", columns, [{"id": "a", "cells": {"what": "Venue", "value": ""}}], lambda _: None, fixed=True))
    into(it, "a", "value")
    press(it, "Enter")
    it.page.get_by_label("Value, Venue").wait_for()
