"""Tables of records and forms on a real job, with no browser: what an edit of their grid does to the job."""

import shutil
from pathlib import Path
from typing import Any

import pytest
from browser import TOP

from stagefloor.entry.grid import Grid
from stagefloor.entry.line_tests import BulkGrid
from stagefloor.entry.picture_table import PLACE, PictureTable
from stagefloor.entry.session import Session
from stagefloor.entry.tables import Form, Table
from stagefloor.job import edit, store
from stagefloor.job.closeout import Reading
from stagefloor.job.inventory import Point
from stagefloor.job.pictures import Picture

LECTERN = "point-75"


@pytest.fixture
def session(tmp_path: Path) -> Session:
    shutil.copy(TOP / "demo_projects" / "one_box" / "job.json", tmp_path)
    return Session(tmp_path)


def told(grid: Grid, do: str, number: int = 1, **rest: Any) -> dict[str, Any]:
    """What comes back to an edit sent as the browser does."""
    sent: list[dict[str, Any]] = []
    grid.send = lambda message, buffers=None: sent.append(message)
    grid._receive(grid, {"do": do, "client": "c", "edit": number, **rest}, [])
    return next(message for message in sent if message.get("ack") == number)


def row(grid: Grid, row_id: str) -> dict[str, Any]:
    return next(r for r in grid.rows if r["id"] == row_id)


def points(session: Session) -> Table:
    return Table(session, "point", ("label", "x", "microphone"))


def test_of_two_entries_in_one_cell_the_last_counts(session: Session) -> None:
    table = points(session)
    told(table.grid, "set", changes=[[LECTERN, "microphone", "two"], [LECTERN, "microphone", "2"]])
    assert session.job.get(Point, LECTERN).microphone == 2
    assert row(table.grid, LECTERN)["problems"] == {}
    answer = told(table.grid, "set", 2, changes=[[LECTERN, "microphone", "3"], [LECTERN, "microphone", "many"]])
    assert answer["ok"] is False
    assert row(table.grid, LECTERN)["cells"]["microphone"] == "many"
    assert "many" in row(table.grid, LECTERN)["problems"]["microphone"]


def test_of_two_entries_in_one_line_of_a_form_the_last_counts(session: Session) -> None:
    form = Form(session, ["rack_distance"], "Start")
    told(form.grid, "set", changes=[["rack_distance", "value", "42 kg"], ["rack_distance", "value", "40 ft"]])
    assert session.job.settings.rack_distance.text == "40 ft"
    assert row(form.grid, "rack_distance")["problems"] == {}


def test_of_two_entries_in_the_place_of_a_picture_the_last_counts(session: Session) -> None:
    session.edit("a picture", lambda j: edit.add(j, Picture.kind, [{"file": "a.jpg", "on": "point", "to": LECTERN}])[0])
    picture = session.job.all(Picture)[0]
    table = PictureTable(session, lambda job: job.all(Picture))
    told(table.grid, "set", changes=[[picture.id, PLACE, "nowhere/1"], [picture.id, PLACE, "box/box-76"]])
    assert (session.job.all(Picture)[0].on, session.job.all(Picture)[0].to) == ("box", "box-76")
    assert row(table.grid, picture.id)["problems"] == {}
    of_boxes = PictureTable(session, lambda job: [p for p in job.all(Picture) if p.on == "box"])
    answer = told(of_boxes.grid, "set", changes=[[picture.id, PLACE, f"point/{LECTERN}"]])
    assert (answer["removed"], answer["say"]) == ([picture.id], ""), "it has left this table, and is saved"


def test_a_block_pasted_while_one_of_its_rows_is_deleted_elsewhere_is_told_as_saved(session: Session) -> None:
    table = points(session)
    store.transact(session.path, lambda j: edit.delete(j, "point", [LECTERN]), "Lectern taken away", "Ben")
    answer = told(table.grid, "paste", changes=[[LECTERN, "label", "Pulpit"]], after=LECTERN, new_rows=[{"label": "Choir"}])
    assert "fault in the program" not in answer["say"]
    assert [p.label for p in store.read(session.path).job.all(Point)] == ["Choir"]
    assert [r["cells"]["label"] for r in table.grid.rows] == ["Choir"]
    assert "removed elsewhere" in answer["say"] and "Pulpit" in answer["say"], "what was typed for it is said back"


def test_an_entry_in_a_row_deleted_elsewhere_is_said_back(session: Session) -> None:
    table = points(session)
    store.transact(session.path, lambda j: edit.delete(j, "point", [LECTERN]), "Lectern taken away", "Ben")
    answer = told(table.grid, "set", changes=[[LECTERN, "label", "Pulpit"]])
    assert "removed elsewhere" in answer["say"] and "Pulpit" in answer["say"]
    assert table.grid.rows == []


def test_a_tick_for_an_event_deleted_elsewhere_does_not_hold_up_the_rest(session: Session) -> None:
    table = Table(session, "point", ("label",), flags=("events", "event"))
    gone, *left = session.job.tables["event"]
    store.transact(session.path, lambda j: edit.delete(j, "event", [gone]), "event taken away", "Ben")
    told(table.grid, "set", changes=[[LECTERN, f"events:{gone}", "yes"], [LECTERN, "label", "Pulpit"]])
    assert row(table.grid, LECTERN)["cells"] == {"label": "Pulpit", **{f"events:{i}": "yes" for i in left}}
    assert row(table.grid, LECTERN)["problems"] == {}


def test_undo_says_what_it_took_back_as_that_may_stand_in_another_table(session: Session) -> None:
    table, boxes = points(session), Table(session, "box", ("label",))
    told(table.grid, "set", changes=[[LECTERN, "label", "Pulpit"]])
    assert told(boxes.grid, "undo")["say"] == "Taken back: Lectern: point Pulpit."
    assert session.job.get(Point, LECTERN).label == "Lectern"
    assert told(boxes.grid, "redo", 2)["say"] == "Made again: Lectern: point Pulpit."
    assert session.job.get(Point, LECTERN).label == "Pulpit"


def test_the_last_tick_is_not_taken_off_as_if_it_meant_all(session: Session) -> None:
    session.edit("a third", lambda j: edit.add(j, "event", [{"label": "Rehearsal"}])[0])
    table = Table(session, "point", ("label",), flags=("events", "event"))
    first, second, third = session.job.tables["event"]
    others = [i for i in session.job.tables["event"] if i != first]
    told(table.grid, "set", changes=[[LECTERN, f"events:{i}", "no"] for i in others])
    assert session.job.get(Point, LECTERN).events == (first,)
    told(table.grid, "set", 2, changes=[[LECTERN, f"events:{first}", "no"]])
    assert session.job.get(Point, LECTERN).events == (first,)
    assert "tick another first" in row(table.grid, LECTERN)["problems"][f"events:{first}"]
    told(table.grid, "set", 3, changes=[[LECTERN, f"events:{i}", text] for i, text in
                                        ((first, "no"), (second, "no"), (third, "yes"))])
    assert session.job.get(Point, LECTERN).events == (third,), "a block is taken whatever the order of its columns"
    assert row(table.grid, LECTERN)["problems"] == {}


@pytest.mark.parametrize(("kind", "key", "texts"), [
    ("pricerow", "cost", ["9.5", "10.25", "100", "9.25"]), ("pricerow", "waste", ["7.5", "7.25", "12", "3"]),
    ("point", "microphone", ["2", "10", "1", "30"]), ("point", "x", ["3 m", "9 ft", "10 ft", "12 in"])])
def test_figures_are_sorted_by_what_they_amount_to(session: Session, kind: str, key: str, texts: list[str]) -> None:
    """Letters, or groups of digits, would put 9.25 after 9.5 the wrong way round and 3 m before 9 ft."""
    session.edit("rows", lambda j: edit.add(j, kind, [{key: text} for text in texts])[0])
    grid = Table(session, kind, (key,)).grid
    made = [r for r in grid.rows if r["cells"][key] in texts][-len(texts):]
    amount = {"9.5": 9.5, "10.25": 10.25, "100": 100, "9.25": 9.25, "7.5": 7.5, "7.25": 7.25, "12": 12, "3": 3, "2": 2,
              "10": 10, "1": 1, "30": 30, "3 m": 3.0, "9 ft": 2.7432, "10 ft": 3.048, "12 in": 0.3048}  # 1 ft = 0.3048 m
    assert [r["sort"][key] for r in made] == pytest.approx([amount[text] for text in texts])


def test_a_tick_is_no_figure_to_sort_by(session: Session) -> None:
    grid = Table(session, "oldoutlet", ("label", "count", "reuse")).grid
    assert all(set(r["sort"]) == {"count"} for r in grid.rows) and grid.rows


def test_a_name_that_two_records_bear_is_refused_and_both_are_told(session: Session) -> None:
    session.edit("points", lambda j: edit.add(j, "point", [{"label": "Choir"}, {"label": "Choir"}])[0])
    table = Table(session, "mainsload", ("label", "at", "amps"))
    answer = told(table.grid, "paste", changes=[], after=None, new_rows=[{"label": "Heater", "at": "Choir"}])
    made = row(table.grid, answer["added"][0])
    assert made["cells"]["at"] == "Choir"
    assert made["problems"]["at"]


def test_the_same_reading_entered_again_is_no_second_reading(session: Session) -> None:
    """A reading that does not fit its line is offered again when its cell is left with Enter; nobody has measured again."""
    bulk = BulkGrid(session)
    bulk.kind.value = "microphone"
    told(bulk.grid, "set", changes=[["circuit-81", "polarity", "fail"]])
    assert len(session.job.all(Reading)) == 1
    assert row(bulk.grid, "circuit-81")["problems"]["polarity"]
    told(bulk.grid, "set", 2, changes=[["circuit-81", "polarity", "fail"]])
    assert len(session.job.all(Reading)) == 1
    told(bulk.grid, "set", 3, changes=[["circuit-81", "polarity", "nine"]])
    assert row(bulk.grid, "circuit-81")["cells"]["polarity"] == "nine"
    told(bulk.grid, "set", 4, changes=[["circuit-81", "polarity", "fail"]])
    assert len(session.job.all(Reading)) == 1
    told(bulk.grid, "set", 5, changes=[["circuit-81", "polarity", "pass"]])
    assert [r.result for r in session.job.all(Reading)] == ["fail", "pass"]


def test_readings_by_line_are_sorted_by_what_was_read(session: Session) -> None:
    bulk = BulkGrid(session)
    bulk.kind.value = "microphone"
    told(bulk.grid, "set", changes=[["circuit-81", "loop resistance", "4.5"], ["circuit-82", "loop resistance", "4.25"]])
    assert [row(bulk.grid, c)["sort"]["loop resistance"] for c in ("circuit-81", "circuit-82")] == [4.5, 4.25]
