"""What a hand does to a plan of a job, without a browser: only what was meant is changed, and what is refused is said."""

from pathlib import Path

import pytest
from browser import demo_job

from stagefloor.entry.session import Session
from stagefloor.entry.stage_plan import StagePlan
from stagefloor.job import edit, store
from stagefloor.job.boxes import Box
from stagefloor.job.inventory import Point


class Hand:
    """One plan of the session and edits of it as the browser sends them."""

    def __init__(self, session: Session, **may: bool) -> None:
        self.plan = StagePlan(session, "Stage", **may).plan
        self.plan.send = lambda message, buffers=None: self.answers.append(message)
        self.answers: list[dict] = []
        self.number = 0

    def tell(self, do: str, **more: object) -> dict:
        self.number += 1
        self.plan._receive(self.plan, {"do": do, "client": "c", "edit": self.number, **more}, [])
        return next(a for a in reversed(self.answers) if a.get("ack") == self.number)

    def item(self, role: str) -> dict:
        return next(i for i in self.plan.scene["items"] if i["role"] == role)

    def offered(self) -> dict[str, str]:
        return {one["label"]: one["role"] for one in self.plan.scene["place"]}


@pytest.fixture
def large(tmp_path: Path) -> Session:
    """A demo job with nine boxes, a rack and a panel on its plan."""
    session = Session(demo_job("quillhaven_playhouse", tmp_path))
    session.edit("panel", lambda job: edit.set_fields(job, "settings", "job", {"panel_x": "4", "panel_y": "20"}))
    return session


@pytest.mark.parametrize(("may", "role", "words"), [
    ({"ways": True}, "floor_box", "Floor boxes and panels are placed in the step Boxes."),
    ({"ways": True}, "point", "Connection points are placed in the step Inventory."),
    ({"ways": True}, "rack", "The rack is placed in "),
    ({"ways": True}, "panel", " is placed in the job sheet, under 'Stage, rack, panel and policies'."),
    ({"points": True}, "floor_box", "Floor boxes and panels are placed in the step Boxes."),
    ({"boxes": True}, "point", "Connection points are placed in the step Inventory."),
])
def test_what_only_shows_on_a_plan_is_neither_removed_nor_moved_there(large: Session, may, role, words) -> None:
    hand = Hand(large, **may)
    item, before = hand.item(role), large.path.read_bytes()
    for do, done, place in (("remove", "removed", {}), ("move", "moved", {"x": item["x"] + 1, "y": item["y"]})):
        answer = hand.tell(do, id=item["id"], **place)
        assert (answer["ok"], answer.get("removed", [])) == (False, [])
        assert f"{item['label']} cannot be {done} here. " in answer["say"]
        assert words in answer["say"]
    assert large.path.read_bytes() == before
    assert item["fixed"] and words in item["fixed"]


def test_what_is_not_placed_on_a_plan_is_refused_there(large: Session) -> None:
    before = large.path.read_bytes()
    for role in ("floor_box", "point", "joist"):
        answer = Hand(large, ways=True).tell("place", role=role, x=1.0, y=1.0)
        assert (answer["ok"], answer["say"]) == (False, "This is not placed on this plan; nothing was placed.")
    assert large.path.read_bytes() == before


@pytest.mark.parametrize(("units", "typed"), [("ft-in", "3.815 m"), ("m", "12' 6 1/2\"")])
def test_a_coordinate_that_was_not_moved_stays_as_it_was_typed(tmp_path: Path, units: str, typed: str) -> None:
    session = Session(store.create(tmp_path / "job", {"units": units}))
    session.edit("box", lambda job: edit.add(job, "box", [{"label": "FB-1", "x": typed, "y": typed}])[0])
    hand = Hand(session, boxes=True)
    for moved, kept in (("x", "y"), ("y", "x")):
        item = hand.item("floor_box")
        assert hand.tell("move", id=item["id"], **{moved: item[moved] - 0.5, kept: item[kept]})["ok"]
        (box,) = session.job.all(Box)
        assert str(getattr(box, moved)) != typed
        assert str(getattr(box, kept)) == typed
        session.undo()


def test_what_waits_for_a_place_is_placed_by_what_it_is_not_by_its_turn(tmp_path: Path) -> None:
    """Organ is placed elsewhere, or its press comes twice: Piano, which is next, stays without a place."""
    session = Session(store.create(tmp_path / "job", {"units": "m"}))
    session.edit("points", lambda job: edit.add(job, "point", [{"label": "Organ"}, {"label": "Piano"}])[0])
    hand = Hand(session, points=True)
    organ = hand.offered()["Place Organ"]
    organ_id = next(p.id for p in session.job.all(Point) if p.label == "Organ")
    store.transact(session.path, lambda job: edit.set_fields(job, "point", organ_id, {"x": "1", "y": "2"}), "elsewhere")
    answer = hand.tell("place", role=organ, x=3.0, y=3.0)
    assert not answer["ok"]
    assert "Organ has its place by now" in answer["say"]
    session.look()
    places = {p.label: (str(p.x), str(p.y)) for p in session.job.all(Point)}
    assert places == {"Organ": ("1 m", "2 m"), "Piano": ("None", "None")}
    piano = hand.offered()["Place Piano"]
    assert hand.tell("place", role=piano, x=3.0, y=3.0)["say"] == "Piano placed."
    assert not hand.tell("place", role=piano, x=4.0, y=4.0)["ok"]
    assert next(str(p.x) for p in session.job.all(Point) if p.label == "Piano") == "3 m"
    session.edit("gone", lambda job: edit.delete(job, "point", [organ_id]))
    assert "removed in the meantime" in hand.tell("place", role=organ, x=3.0, y=3.0)["say"]
