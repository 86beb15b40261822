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
    assert focused(it) == ["r2", "where"]


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
    assert "on columns that are worked out and left out: 1." in it.page.locator(".sf-say").inner_text()


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
    it.page.get_by_text("1 change made here earlier did not reach the job.").wait_for()
    assert owner.messages == []
    it.page.get_by_role("button", name="Save them now").click()
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
    assert focused(it) == ["r2", "where"]
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
