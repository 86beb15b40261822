"""What somebody meets who has never seen the workbook: tables of his own floor only, where to go on, what is not known."""

from pathlib import Path

import ipywidgets as widgets
import pytest

from stagefloor.entry import cables_changes, job_sheet
from stagefloor.entry.grid import Grid
from stagefloor.entry.history import History
from stagefloor.entry.line_tests import BulkGrid
from stagefloor.entry.session import Session
from stagefloor.entry.stage_plan import StagePlan
from stagefloor.job import store
from stagefloor.job.edit import add, delete, set_fields
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.results import compute


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Session:
    """A new job, opened before anything is typed."""
    store.create(tmp_path)
    opened = Session(tmp_path)
    for module in (job_sheet, cables_changes):
        monkeypatch.setattr(module, "here", lambda: opened)
    return opened


def parts(widget: widgets.Widget) -> list[widgets.Widget]:
    return [widget, *(p for child in getattr(widget, "children", ()) for p in parts(child))]


def floor_type(session: Session, typed: str) -> None:
    session.edit("floor", lambda job: set_fields(job, "settings", "job", {"floor_type": typed}))


@pytest.mark.parametrize(("typed", "open_", "shut"), [
    ("", {"Joists", "Bearing lines"}, ("Floor zones over a slab", "Tendons in the slab")),
    ("wood on joists", {"Joists", "Bearing lines"}, ("Floor zones over a slab", "Tendons in the slab")),
    ("post-tensioned slab", {"Floor zones over a slab", "Tendons in the slab"}, ("Joists", "Bearing lines"))])
def test_the_tables_of_another_floor_are_folded(session: Session, typed: str, open_: set[str],
                                                shut: tuple[str, ...]) -> None:
    if typed:
        floor_type(session, typed)
    shown = parts(job_sheet.floor())
    names = {p.name for p in shown if isinstance(p, Grid)}
    assert names == {"Floor zones", "Floor layers, from the finish down", *open_}
    assert [p.titles for p in shown if isinstance(p, widgets.Accordion)] == [shut]


def test_the_tables_follow_the_floor_while_the_page_is_open(session: Session) -> None:
    def grids() -> set[str]:
        return {p.name for p in parts(page) if isinstance(p, Grid)} - {"Floor zones", "Floor layers, from the finish down"}

    page = job_sheet.floor()
    wood = {p.name: p for p in parts(page) if isinstance(p, Grid)}["Joists"]
    floor_type(session, "post-tensioned slab")
    session.tell()
    assert grids() == {"Floor zones over a slab", "Tendons in the slab"}
    session.edit("joists", lambda job: add(job, "joists", [{"offset": "0", "spacing": "16", "depth": "2x10"}])[0])
    session.tell()
    assert grids() == {"Joists", "Bearing lines", "Floor zones over a slab", "Tendons in the slab"}
    assert wood in parts(page)  # the same table, with what is being typed in it
    assert not any(isinstance(p, widgets.Accordion) for p in parts(page))


def test_the_start_page_says_where_to_go_on(session: Session) -> None:
    floor_type(session, "wood on joists")
    session.edit("box", lambda job: add(job, "box", [{"label": "FB-1", "x": "9", "y": "3"}])[0])
    page = job_sheet.smallest(session.results())
    for wanted in ("What next", "type the way to the rack", "enter one joist and the spacing", "the step Inventory",
                   "The client&#x27;s documents"):
        assert wanted in page
    session.edit("rack", lambda job: set_fields(job, "settings", "job", {"rack_distance": "60"}))
    session.edit("joists", lambda job: add(job, "joists", [{"offset": "0", "spacing": "16", "depth": "2x10"}])[0])
    page = job_sheet.smallest(session.results())
    assert "type the way to the rack" not in page
    assert "enter one joist" not in page


def test_the_first_edits_can_be_compared_at_once(session: Session) -> None:
    shown = parts(cables_changes.since())
    choose = next(p for p in shown if isinstance(p, widgets.Dropdown))
    ask = next(p for p in shown if isinstance(p, widgets.Button))
    said = next(p for p in shown if "sf-since-answer" in p._dom_classes)
    assert ask.disabled
    assert "No earlier state" in said.value
    for venue in ("Chapel", "Old Chapel", "Old Mill Chapel"):
        session.edit(venue, lambda job, v=venue: set_fields(job, "settings", "job", {"venue": v}))
    session.tell()
    assert not ask.disabled
    assert said.value == ""
    assert choose.value is not None
    choose.value = kept = choose.options[-1][1]
    session.edit("later", lambda job: set_fields(job, "settings", "job", {"client": "The parish"}))
    session.tell()
    assert choose.value == kept  # what was chosen stays chosen


def test_back_to_what_is_there_already_is_no_edit(session: Session) -> None:
    session.edit("floor", lambda job: set_fields(job, "settings", "job", {"floor_type": "wood on joists"}))
    page = History(session)
    page.open.click()
    page.first.value = session.job.sequence
    assert "is so already" in page._restore()
    assert [e.name for e in store.edits(session.path)] == ["floor"]


def test_a_point_of_the_table_gets_its_place_on_the_plan(session: Session) -> None:
    session.edit("points", lambda job: add(job, "point", [{"label": "P1", "what": "lectern"},
                                                          {"label": "P2", "x": "1", "y": "2"}, {"label": "P3"}])[0])
    plan = StagePlan(session, "Stage", points=True).plan

    def offered() -> list[str]:
        return [one["label"] for one in plan.scene["place"]]

    def press(role: str, x: float) -> str:
        message = {"do": "place", "role": role, "x": x, "y": 0.0, "number": int(x * 1000), "client": "c"}
        said = str(plan._on_change(message)["say"])
        session.tell()
        return said

    assert offered() == ["Add connection point", "Place P1, lectern"]
    first, third = (p.id for p in session.job.all(Point) if p.label != "P2")
    assert press(f"waiting {first}", 0.3048) == "P1 placed."
    assert offered() == ["Add connection point", "Place P3"]
    assert "P1 has its place by now" in press(f"waiting {first}", 0.6096)  # pressed twice, or placed elsewhere
    press(f"waiting {third}", 0.6096)
    assert offered() == ["Add connection point"]
    assert "has its place by now" in press(f"waiting {third}", 0.9144)
    # three rows as before, each where it was pressed: 0.3048 m are a foot, exactly (1959)
    places = {p.label: (str(p.x), str(p.y)) for p in session.job.all(Point)}
    assert places == {"P1": ("1'", '0"'), "P2": ("1 ft", "2 ft"), "P3": ("2'", '0"')}


def test_a_move_is_one_of_the_record_however_it_is_called_by_then(session: Session) -> None:
    """Labels are swapped and a box is deleted after the page was drawn; the move that comes then is of what was dragged."""
    rows = [{"label": f"FB-{n}", "x": f"{n}", "y": f"{n}"} for n in (1, 2, 3)]
    session.edit("boxes", lambda job: add(job, "box", rows)[0])
    plan = StagePlan(session, "Stage", boxes=True).plan
    first, second, third = (i["id"] for i in plan.scene["items"])

    def told(job: Job) -> Job:
        job = set_fields(set_fields(job, "box", first, {"label": "FB-2"}), "box", second, {"label": "FB-1"})
        return delete(job, "box", [third])

    store.transact(session.path, told, "elsewhere")
    session._read()  # the page has not been told yet
    moved = plan._answer({"do": "move", "id": first, "x": 3.048, "y": 0.0})  # 10 ft, exactly (1959)
    assert moved["ok"]
    places = {b.id: (str(b.x), b.label) for b in session.job.boxes()}
    assert places == {first: ("10'", "FB-2"), second: ("2 ft", "FB-1")}
    gone = plan._answer({"do": "move", "id": third, "x": 3.048, "y": 0.0})
    assert not gone["ok"]
    assert "removed" in str(gone["say"])


def test_a_line_without_a_length_says_so_instead_of_a_figure(session: Session) -> None:
    session.edit("models", lambda job: add(add(job, "cabletype", [{"label": "pair", "what": "microphone", "awg": "22"}])[0],
                                           "boxmodel", [{"label": "model", "bays": "2", "across": "12", "along": "8"}])[0])
    session.edit("box", lambda job: add(add(job, "point", [{"label": "P1", "microphone": "1"}])[0], "box", [
        {"label": "FB-1", "x": "9", "y": "3", "points": "P1"}])[0])
    assert compute(session.job).job.circuits()
    (row,) = BulkGrid(session).grid.rows
    assert row["cells"]["expected"] == "its length is not known"
