"""The background behind the plan, without a browser: two points, moves and turns become edits; its bytes travel once."""

import io
import shutil
from pathlib import Path

import pytest
from browser import TOP
from PIL import Image

from stagefloor.core.problems import Problem
from stagefloor.entry.background import BackgroundIn, Figures, _choice, _line
from stagefloor.entry.session import Session
from stagefloor.entry.stage_plan import StagePlan
from stagefloor.job import edit
from stagefloor.job.background import Background
from stagefloor.job.exchange.apart import Drawing
from stagefloor.job.exchange.background_file import FOLDER, planned, shown
from stagefloor.job.exchange.preview import carry_out
from stagefloor.job.store import create, edits

FOOT = 0.3048  # metres; international yard and pound agreement, 1959


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """The small demo with a picture of 400 by 300 points behind its plan."""
    shutil.copy(TOP / "demo_projects" / "one_box" / "job.json", tmp_path)
    session = Session(tmp_path)
    take_in(session, "sheet.png")
    return session


def take_in(session: Session, name: str, size: tuple[int, int] = (400, 300)) -> None:
    out = io.BytesIO()
    Image.new("RGB", size, "white").save(out, "PNG")
    drawing = Drawing(name, "png", out.getvalue())
    folder = session.path.parent
    lines = planned(session.job, drawing, folder).lines
    carry_out(folder, session.edit, f"{name} taken in", lambda job: planned(job, drawing, folder), lines)


class Browser:
    """What the browser's side of a plan would get and send."""

    def __init__(self, session: Session) -> None:
        self.stage = StagePlan(session, "Stage", boxes=True, points=True, background=True)
        self.sent: list[tuple[dict, list]] = []
        self.stage.plan.send = lambda message, buffers=None: self.sent.append((message, buffers or []))
        self.edits = 0

    def tell(self, do: str, **more: object) -> dict:
        self.edits += 1
        plan = self.stage.plan
        plan._receive(plan, {"do": do, "client": "c", "edit": self.edits, **more}, [])
        return next(m for m, _ in reversed(self.sent) if m.get("ack") == self.edits)

    def of_it(self, do: str, **more: object) -> dict:
        """An edit of the background that the browser shows."""
        return self.tell(do, file=self.stage.plan.scene["background"].get("file"), **more)

    def scale(self, points: list[list[float]], distance: str = "", first=("", ""), second=("", "")) -> dict:
        return self.of_it("scale", points=points, distance=distance, first=list(first), second=list(second))

    def on_stage(self, x: float, y: float) -> complex:
        """Where a point of the file lies, by what the browser is told."""
        p, q, e, f = self.stage.plan.scene["background"]["way"]
        return complex(p, q) * complex(x, y) + complex(e, f)

    @property
    def pictures(self) -> int:
        return sum(bool(buffers) for _, buffers in self.sent)


def test_two_points_and_a_distance_are_one_edit_that_can_be_undone(session: Session) -> None:
    page = Browser(session)
    before = [page.on_stage(0, 0), page.on_stage(400, 0)]
    assert page.stage.plan.scene["background"]["assumed"]
    number = session.job.sequence
    answer = page.scale([[0, 0], [400, 0]], "40 ft")
    assert (answer["ok"], answer["base"]["background"]["assumed"]) == (True, False)
    assert session.job.sequence == number + 1
    assert edits(session.path)[-1].name == "Background sheet.png scaled by two points"
    a, b = page.on_stage(0, 0), page.on_stage(400, 0)
    assert abs(b - a) == pytest.approx(40 * FOOT)
    assert a == pytest.approx(before[0], abs=FOOT / 1000)  # the first point stayed
    (record,) = session.job.all(Background)
    assert str(record.distance) == "40 ft"
    session.undo()
    assert [page.on_stage(0, 0), page.on_stage(400, 0)] == pytest.approx(before)
    session.redo()
    assert abs(page.on_stage(400, 0) - page.on_stage(0, 0)) == pytest.approx(40 * FOOT)


def test_points_mean_the_file_wherever_it_lies(session: Session) -> None:
    """Scaled, turned and moved, the same two spots of the picture give the same scale again."""
    page = Browser(session)
    page.of_it("turn")
    page.of_it("shift", x=1.5, y=-2.0)
    for wanted in ("20 ft", "33 ft"):
        assert page.scale([[100, 50], [100, 250]], wanted)["ok"]
        span = abs(page.on_stage(100, 250) - page.on_stage(100, 50))
        assert span == pytest.approx(float(wanted[:2]) * FOOT, rel=1e-4)


def test_both_places_turn_it_and_a_turn_by_hand_is_refused_then(session: Session) -> None:
    page = Browser(session)
    assert page.scale([[0, 0], [400, 0]], "", ("0", "0"), ("0", "40"))["ok"]
    assert page.on_stage(400, 0) == pytest.approx(40j * FOOT)
    answer = page.of_it("turn")
    assert not answer["ok"] and "turn the background; empty the second" in answer["say"]
    page.of_it("shift", x=FOOT, y=0.0)  # both places go along
    assert page.on_stage(400, 0) == pytest.approx(FOOT + 40j * FOOT)


def test_it_is_moved_and_turned(session: Session) -> None:
    page = Browser(session)
    middle = page.on_stage(200, 150)
    assert page.of_it("shift", x=2 * FOOT, y=-FOOT)["ok"]
    assert page.on_stage(200, 150) == pytest.approx(middle + 2 * FOOT - 1j * FOOT, abs=FOOT / 1000)
    right = page.on_stage(201, 150) - page.on_stage(200, 150)
    assert page.of_it("turn")["ok"]
    turned = page.on_stage(201, 150) - page.on_stage(200, 150)
    assert turned / abs(turned) == pytest.approx(1j * right / abs(right))
    for _ in range(3):
        page.of_it("turn")
    assert shown(session.job).turn == 0


@pytest.mark.parametrize(("points", "typed", "words"), [
    ([[0, 0], [90, 0]], {"distance": "52 x"}, "Between the two points: 'x' in '52 x' is not a unit of length"),
    ([[0, 0], [90, 0]], {}, "Type what lies between the two points"),
    ([[0, 0], [90, 0]], {"distance": "0"}, "Nothing lies between the two points then"),
    ([[0, 0], [90, 0]], {"distance": "-3 m"}, "less than nothing"),
    ([[0, 0], [2, 0]], {"distance": "3 m"}, "lie on each other"),
    ([[0, 0], [90, 0]], {"first": ("1", "")}, "First point up is empty"),
    ([[0, 0], [90, 0]], {"second": ("1", "2")}, "Type where the first point lies too"),
    ([[0, 0], [90, 0]], {"first": ("1", "2"), "second": ("1", "2")}, "Nothing lies between"),
    ([[0, 0], [90, 0]], {"first": ("1", "2"), "second": ("here", "2")}, "Second point across: 'here' is not a length"),
    ([[0, 0], ["a", 0]], {"distance": "3 m"}, "no two points"),
    ([[0, 0]], {"distance": "3 m"}, "no two points"),
])
def test_what_scales_nothing_is_refused_and_nothing_changes(session: Session, points, typed, words) -> None:
    page = Browser(session)
    before = session.path.read_bytes(), page.stage.plan.scene["background"]
    answer = page.scale(points, **typed)
    assert not answer["ok"] and words in answer["say"]
    assert (session.path.read_bytes(), page.stage.plan.scene["background"]) == before


def test_a_move_that_is_refused_is_taken_back_on_screen(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    page = Browser(session)
    before = page.stage.plan.scene["background"]

    def full(*_: object) -> None:
        raise Problem("No room on the disk.")

    monkeypatch.setattr(session, "edit", full)
    answer = page.of_it("shift", x=1.0, y=1.0)
    assert (answer["ok"], answer["say"], answer["base"]["background"]) == (False, "No room on the disk.", before)


def test_the_picture_travels_once_and_not_with_an_edit(session: Session) -> None:
    page = Browser(session)
    page.stage.plan._receive(page.stage.plan, {"do": "hello"}, [])
    assert page.pictures == 1  # a page that is opened asks for it
    item = next(i for i in page.stage.plan.scene["items"] if i["draggable"])
    for n in range(5):
        assert page.tell("move", id=item["id"], x=item["x"] + n / 10, y=item["y"])["ok"]
    assert page.of_it("shift", x=1.0, y=1.0)["ok"]
    assert page.pictures == 1
    take_in(session, "other.png", (500, 300))
    assert page.pictures == 2
    assert page.stage.plan.scene["background"]["size"] == [500, 300]


def test_its_layer_can_be_switched_off_and_a_lost_file_is_a_sentence(session: Session) -> None:
    page = Browser(session)
    scene = page.stage.plan.scene
    assert {"key": "background", "label": "Background", "on": True} in scene["layers"]
    shutil.rmtree(session.path.parent / FOLDER)
    session.edit("a remark", lambda job: edit.add(job, "remark", [{"words": "x"}])[0])
    scene = page.stage.plan.scene
    assert "is not in the folder 'backgrounds'" in scene["background"]["problem"]
    assert "Background" not in [layer["label"] for layer in scene["layers"]]
    assert scene["items"]
    answer = page.of_it("turn")
    assert not answer["ok"] and "is not in the folder" in answer["say"]
    assert "Background" not in [layer["label"] for layer in StagePlan(session, "Again").plan.scene["layers"]]


def test_one_of_several_is_chosen_by_name(session: Session) -> None:
    take_in(session, "sheet.png", (500, 300))  # another drawing of the same name
    choose = _choice(session).children[0]
    assert [label for label, _ in choose.options] == ["sheet.png", "sheet.png (2)", "none"]
    assert choose.label == "sheet.png (2)"
    choose.label = "sheet.png"
    assert [b.shown for b in session.job.all(Background)] == [True, False]
    assert edits(session.path)[-1].name == "Behind the plan: sheet.png"
    session.undo()
    assert choose.label == "sheet.png (2)"
    assert shown(_line(shown(session.job), "turn").write(session.job, "180")).turn == 180
    choose.label = "none"
    assert shown(session.job) is None
    with pytest.raises(Problem, match="No background lies behind the plan"):
        _line(shown(session.job), "turn").write(session.job, "180")


def test_a_page_of_a_pdf_is_chosen_before_it_is_taken_in(session: Session) -> None:
    out = io.BytesIO()
    first, second = Image.new("RGB", (300, 200), "white"), Image.new("RGB", (200, 300), "white")
    first.save(out, "PDF", save_all=True, append_images=[second])
    entry = BackgroundIn(session)
    entry.intake._take_file("plans.pdf", out.getvalue())
    assert (entry.page.max, entry.page.layout.display) == (2, "")
    entry.page.value = 2
    assert "plans.pdf, page 2" in entry.intake.preview.value
    entry.intake._agree()
    now = shown(session.job)
    assert now is not None and now.label == "plans.pdf, page 2"
    with pytest.raises(Problem, match="is no PDF that can be read"):  # the field says so
        entry.intake._take_file("plans.pdf", b"%PDF-1.4 nothing")
    assert len(session.job.all(Background)) == 2


def test_an_edge_that_nobody_entered_is_drawn_as_assumed(tmp_path: Path) -> None:
    session = Session(create(tmp_path / "job", {"units": "m"}))
    plan = StagePlan(session, "Stage", points=True).plan
    assert plan.scene["shapes"] == []  # nothing has a place yet
    session.edit("point", lambda job: edit.add(job, "point", [{"label": "P1", "x": "1 m", "y": "2 m"}])[0])
    roles = [s["role"] for s in plan.scene["shapes"] if s["layer"] == "stage"]
    assert roles == ["stage_assumed"] * 4
    assert [s["label"] for s in plan.scene["shapes"] if s["label"]] == ["Stage edge (assumed)"]
    texts = {"stage_left": "5 m", "stage_right": "-5 m", "stage_down": "0 m"}
    session.edit("edges", lambda job: edit.set_fields(job, "settings", "job", texts))
    known = [s for s in plan.scene["shapes"] if s["role"] == "stage"]
    assert [s["points"][0][1] for s in known if s["points"][0][1] == s["points"][1][1]] == [0.0]
    assert [s["role"] for s in plan.scene["shapes"]].count("stage_assumed") == 1
    session.edit("wall", lambda job: edit.set_fields(job, "settings", "job", {"stage_up": "8 m"}))
    assert [(s["role"], s["kind"]) for s in plan.scene["shapes"] if s["layer"] == "stage"] == [("stage", "polygon")]


def test_two_points_are_of_the_drawing_on_which_they_were_pressed(session: Session) -> None:
    """Pressed on one drawing while another one is put behind the plan elsewhere: neither is scaled, moved or turned."""
    page = Browser(session)
    pressed = page.stage.plan.scene["background"]["file"]
    take_in(session, "other.png", (500, 300))
    before = session.path.read_bytes()
    two = {"points": [[0, 0], [400, 0]], "distance": "40 ft", "first": ["", ""], "second": ["", ""]}
    for do, more in (("scale", two), ("shift", {"x": 1.0, "y": 1.0}), ("turn", {})):
        answer = page.tell(do, file=pressed, **more)
        assert not answer["ok"]
        assert answer["say"].startswith("Another drawing lies behind the plan by now, so nothing was done")
    assert session.path.read_bytes() == before


def test_a_scale_that_is_sent_twice_scales_once(session: Session) -> None:
    page = Browser(session)
    for _ in range(2):
        assert page.scale([[0, 0], [400, 0]], "40 ft")["ok"]
        assert abs(page.on_stage(400, 0) - page.on_stage(0, 0)) == pytest.approx(40 * FOOT)


def test_a_figure_is_of_the_drawing_for_which_it_was_typed(session: Session) -> None:
    form = Figures(session, (), "Background of the plan")
    row = form.grid.rows[0]["id"]
    out = store_elsewhere(session, "other.png")  # this session has not looked since
    answer = form.grid._answer({"do": "set", "changes": [[row, "value", "12 ft"]]})
    assert answer["ok"]
    assert {b.label: str(b.distance) for b in session.job.all(Background)} == {"sheet.png": "12 ft", "other.png": "None"}
    session.look()
    assert shown(session.job).label == out
    answer = form.grid._answer({"do": "set", "changes": [[row, "value", "14 ft"]]})
    assert "'14 ft' was not saved" in answer["say"]
    assert {str(b.distance) for b in session.job.all(Background)} == {"12 ft", "None"}


def store_elsewhere(session: Session, name: str) -> str:
    """Another kernel takes a drawing in; its name."""
    take_in(Session(session.path), name, (500, 300))
    return name
