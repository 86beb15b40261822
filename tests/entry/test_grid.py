"""The Python side of the entry grid, with no browser: what each edit is answered and what is kept."""

import pytest

from stagefloor.entry.grid import Grid


def edit(grid, number, do, client="c1", **rest):
    """Send one edit as the browser does; what came back."""
    sent = []
    grid.send = sent.append
    grid._receive(grid, {"do": do, "client": client, "edit": number, **rest}, [])
    return sent[-1]


def cells(grid, row):
    return next(one for one in grid.rows if one["id"] == row)["cells"]


def test_an_accepted_entry_comes_back_with_what_was_worked_out_from_it(table):
    grid, owner = table()
    answer = edit(grid, 1, "set", changes=[["r2", "count", "8"]])
    assert (answer["client"], answer["ack"], answer["ok"]) == ("c1", 1, True)
    assert [row["id"] for row in answer["rows"]] == ["r2"]
    assert answer["rows"][0]["cells"]["worked"] == "9"
    assert owner.messages == [{"do": "set", "changes": [["r2", "count", "8"]]}]


def test_a_refused_text_stays_as_typed_beside_its_sentence(table):
    grid, owner = table()
    answer = edit(grid, 1, "set", changes=[["r1", "count", "a few"], ["r1", "where", "Pit"]])
    row = answer["rows"][0]
    assert answer["ok"] is False
    assert row["cells"]["count"] == "a few"
    assert "not a whole number" in row["problems"]["count"]
    assert row["cells"]["where"] == "Pit"
    assert owner.rows["r1"]["cells"]["count"] == "1"
    assert cells(grid, "r1")["count"] == "a few", "a view opened later sees it too"


def test_a_refused_text_survives_a_change_from_elsewhere_until_it_is_mended(table):
    grid, owner = table()
    edit(grid, 1, "set", changes=[["r1", "count", "a few"]])
    owner.write("r1", "where", "Pit")
    grid.update(list(owner.rows.values()))
    assert cells(grid, "r1") | {"where": "Pit", "count": "a few"} == cells(grid, "r1")
    answer = edit(grid, 2, "set", changes=[["r1", "count", "4"]])
    assert answer["rows"][0]["problems"] == {}
    assert answer["rows"][0]["cells"]["count"] == "4"


def test_undo_first_takes_back_the_refused_text_and_does_not_touch_the_job(table):
    grid, _ = table()
    edit(grid, 1, "set", changes=[["r1", "where", "Pit"]])
    edit(grid, 2, "set", changes=[["r1", "count", "a few"]])
    first = edit(grid, 3, "undo")
    assert first["rows"][0]["cells"]["count"] == "1"
    assert first["rows"][0]["problems"] == {}
    assert cells(grid, "r1")["where"] == "Pit"
    edit(grid, 4, "undo")
    assert cells(grid, "r1")["where"] == "Drum riser 1"
    edit(grid, 5, "redo")
    assert cells(grid, "r1")["where"] == "Pit"


def test_an_edit_that_arrives_twice_is_carried_out_once(table):
    grid, owner = table()
    first = edit(grid, 1, "add", after="r1", cells={"where": "Pit"})
    again = edit(grid, 1, "add", after="r1", cells={"where": "Pit"})
    assert {**first, "again": True} == again
    assert len(owner.rows) == 6
    other = edit(grid, 1, "add", client="c2", after="r1", cells={"where": "Pit"})
    assert other != first
    assert len(owner.rows) == 7


def test_an_answer_sent_again_tells_what_stands_there_now(table):
    grid, owner = table()
    edit(grid, 1, "set", changes=[["r1", "where", "Pit"], ["r2", "where", "Wing"]])
    edit(grid, 1, "set", client="c2", changes=[["r1", "where", "Hall"]])
    edit(grid, 2, "delete", client="c2", rows=["r2"])
    again = edit(grid, 1, "set", changes=[["r1", "where", "Pit"], ["r2", "where", "Wing"]])
    assert owner.rows["r1"]["cells"]["where"] == "Hall"
    assert [(row["id"], row["cells"]["where"]) for row in again["rows"]] == [("r1", "Hall")]
    assert again["removed"] == ["r2"]


def test_new_rows_stand_after_the_row_named(table):
    grid, _ = table()
    answer = edit(grid, 1, "add", after="r2", cells={"where": "Pit"})
    assert answer["added"] == ["r6"]
    assert answer["order"] == ["r1", "r2", "r6", "r3", "r4", "r5"]
    assert [row["id"] for row in grid.rows] == answer["order"]


def test_new_rows_stand_after_the_row_named_when_the_owner_gives_no_order():
    rows = [{"id": name, "cells": {"a": name}} for name in ("x", "y")]
    grid = Grid(
        "t",
        [{"key": "a", "label": "A", "kind": "text"}],
        rows,
        lambda message: {"ok": True, "rows": [{"id": "z", "cells": {"a": "new"}}]},
    )
    assert edit(grid, 1, "add", after="x", cells={})["order"] == ["x", "z", "y"]


def test_a_pasted_block_keeps_the_bad_cells_of_new_rows(table):
    grid, owner = table()
    answer = edit(
        grid,
        1,
        "paste",
        changes=[["r5", "count", "3"]],
        after="r5",
        new_rows=[{"count": "x"}, {"count": "2"}],
    )
    assert answer["added"] == ["r6", "r7"]
    assert cells(grid, "r6")["count"] == "x"
    assert cells(grid, "r7")["count"] == "2"
    assert len(owner.past) == 1, "one paste is one step"


def test_delete_and_duplicate(table):
    grid, _ = table()
    copy = edit(grid, 1, "duplicate", rows=["r2"])
    assert cells(grid, copy["added"][0])["where"] == cells(grid, "r2")["where"]
    gone = edit(grid, 2, "delete", rows=["r1", "r2"])
    assert gone["removed"] == ["r1", "r2"]
    assert gone["order"][0] == copy["added"][0]


def test_text_for_a_row_removed_elsewhere_is_said_back_not_lost(table):
    grid, owner = table()
    del owner.rows["r3"]
    grid.send = lambda message: None
    grid.update(list(owner.rows.values()))
    answer = edit(grid, 1, "set", changes=[["r3", "where", "Trap room"]])
    assert "Trap room" in answer["say"]
    assert "removed elsewhere" in answer["say"]
    assert owner.messages == []


def test_a_fault_in_the_owner_keeps_the_text_and_says_a_sentence(table):
    grid, _ = table()

    def broken(message):
        raise ZeroDivisionError("inside")

    grid._on_change = broken
    answer = edit(grid, 1, "set", changes=[["r1", "where", "Pit"]])
    assert answer["ok"] is False
    assert answer["rows"][0]["cells"]["where"] == "Pit"
    assert answer["rows"][0]["problems"]["where"]
    assert "ZeroDivision" not in str(answer)
    assert "inside" not in str(answer)


def test_a_whole_edit_refused_keeps_every_text():
    rows = [{"id": "x", "cells": {"a": "1", "b": "2"}}, {"id": "y", "cells": {"a": "3"}}]
    grid = Grid("t", [], rows, lambda message: {"ok": False, "problems": {"x": {"a": "Too long."}}})
    edit(grid, 1, "set", changes=[["x", "a", "p"], ["x", "b", "q"], ["y", "a", "r"]])
    shown = {row["id"]: row for row in grid.rows}
    assert shown["x"]["cells"] == {"a": "p", "b": "q"}
    assert shown["y"]["cells"] == {"a": "r"}
    assert set(shown["x"]["problems"]) == {"a", "b"}
    assert set(shown["y"]["problems"]) == {"a"}


def test_update_sends_only_what_changed(table):
    grid, owner = table(300)
    sent = []
    grid.send = sent.append
    grid.update(list(owner.rows.values()))
    assert sent == []
    owner.write("r7", "where", "Pit")
    grid.update(list(owner.rows.values()))
    assert [row["id"] for row in sent[0]["rows"]] == ["r7"]
    assert sent[0]["elsewhere"] is True
    assert "order" not in sent[0]


def test_an_update_made_while_answering_travels_with_the_answer(table):
    grid, owner = table()
    sent = []
    grid.send = sent.append

    def update_and_answer(message):
        owner.on_change(message)
        grid.update(list(owner.rows.values()))
        return {"ok": True}

    grid._on_change = update_and_answer
    grid._receive(grid, {"do": "add", "client": "c", "edit": 1, "after": "r2", "cells": {"where": "Pit"}}, [])
    assert len(sent) == 1
    assert sent[0]["added"] == ["r6"]
    assert [row["id"] for row in sent[0]["rows"]] == ["r6"]
    assert sent[0]["order"] == ["r1", "r2", "r6", "r3", "r4", "r5"]


def test_a_new_view_gets_the_present_rows(table):
    grid, _ = table()
    edit(grid, 1, "set", changes=[["r1", "where", "Pit"]])
    sent = []
    grid.send = sent.append
    grid._receive(grid, {"do": "hello"}, [])
    assert sent[0]["do"] == "table"
    assert sent[0]["rows"][0]["cells"]["where"] == "Pit"
    assert grid.get_state("rows")["rows"][0]["cells"]["where"] == "Pit", "a page loaded again reads the trait"


def test_an_unknown_edit_is_answered_with_a_sentence(table):
    grid, owner = table()
    answer = edit(grid, 1, "explode")
    assert answer["ok"] is False
    assert "explode" in answer["say"]
    assert owner.messages == []


@pytest.mark.parametrize("typed", ["<b>x</b>", "=1+1", "12' 6 1/2\"", " spaced "])
def test_text_is_kept_exactly_as_typed(table, typed):
    grid, _ = table()
    edit(grid, 1, "set", changes=[["r1", "where", typed]])
    assert cells(grid, "r1")["where"] == typed
