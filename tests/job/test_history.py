"""The history: any earlier state comes back as it was, two states differ in plain words, what was deleted comes back."""

import json
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job import history, store
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, delete, duplicate, reorder, set_fields
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job


def records(job: Job) -> object:
    """All that a state says, in its order; the counters of the file left out."""
    data = json.loads(store.to_text(job))
    return [data["settings"], data["records"]]


def some_edit(rng: random.Random, number: int) -> Callable[[Job], Job]:
    def change(job: Job) -> Job:
        points = list(job.tables.get("point", {}))
        roll = rng.random()
        if roll < 0.35 or not points:
            return add(job, "point", [{"label": f"P{number}", "x": str(number)}], rng.choice([None, *points]))[0]
        one = rng.choice(points)
        if roll < 0.5:
            return set_fields(job, "point", one, {"y": f"{number}' 6\"", "microphone": str(number % 9)})
        if roll < 0.6:
            return duplicate(job, "point", [one])[0]
        if roll < 0.75:
            return delete(job, "point", rng.sample(points, rng.randrange(1, len(points) + 1)))
        if roll < 0.85:
            return reorder(job, "point", rng.sample(points, len(points)))
        return set_fields(job, "settings", "job", {"venue": f"Hall {number}", "rack_x": str(number)})
    return change


@pytest.mark.parametrize("seed", range(4))
def test_every_earlier_state_is_what_was_there_then(folder: Path, seed: int) -> None:
    rng = random.Random(seed)
    was = {0: records(store.read(folder).job)}
    for number in range(40):
        job = store.transact(folder, some_edit(rng, number), f"edit {number}")
        was[job.sequence] = records(job)
    for sequence, then in was.items():
        assert records(history.state_at(folder, sequence)) == then, sequence


def test_going_back_is_a_new_edit_and_can_be_undone(folder: Path) -> None:
    store.transact(folder, lambda j: add(j, "point", [{"label": "A"}])[0], "A added")
    before = store.transact(folder, lambda j: add(j, "point", [{"label": "B"}])[0], "B added")
    back = store.transact(folder, history.back_to(folder, 1), "Back", "Ann")
    assert [p.label for p in back.all(Point)] == ["A"]
    assert (back.sequence, store.edits(folder)[-1].by) == (3, "Ann")
    again = store.transact(folder, lambda j: add(j, "point", [{"label": "C"}])[0], "C added")
    assert not set(again.tables["point"]) - set(back.tables["point"]) & set(before.tables["point"])  # no id twice
    store.undo(folder, 4)
    assert [p.label for p in store.undo(folder, 3).all(Point)] == ["A", "B"]


def test_a_state_before_a_gap_in_the_history_is_refused(folder: Path) -> None:
    for label in "AB":
        store.transact(folder, lambda j, label=label: add(j, "point", [{"label": label}])[0], label)  # type: ignore[misc]
    log = folder / "history" / "edits.jsonl"
    log.write_text("\n".join(line for line in log.read_text().splitlines() if '"sequence": 1,' not in line))
    assert [p.label for p in history.state_at(folder, 1).all(Point)] == ["A"]
    with pytest.raises(Problem, match="Edit 1 is missing in the history"):
        history.state_at(folder, 0)


@pytest.mark.parametrize("change", [["order", "point", {"ids": ids}, {"ids": []}] for ids in (3, None, "AB", {})]
                         + [["settings", "job", None, {"venue": "V"}], ["settings", "job", {"venue": "V"}, None]])
def test_a_line_that_no_edit_can_have_made_is_missing(folder: Path, change: list[object]) -> None:
    store.transact(folder, lambda j: add(j, "point", [{"label": "A"}])[0], "A")
    log = folder / "history" / "edits.jsonl"
    log.write_text(json.dumps(json.loads(log.read_text()) | {"changes": [change]}) + "\n")
    with pytest.raises(Problem, match="Edit 1 is missing in the history"):
        history.state_at(folder, 0)


def test_differences_are_in_plain_words(small: Job) -> None:
    point, box = small.all(Point)[0], small.all(Box)[0]
    job = set_fields(small, "point", point.id, {"x": "12' 6\"", "events": "Talk"})
    job = set_fields(job, "settings", "job", {"venue": "Maple Lane Hall"})
    job = delete(add(job, "event", [{"label": "Dance"}])[0], "box", [box.id])
    said = {(d.record, d.field): (d.before, d.after) for d in history.differences(small, job)}
    assert said[("Job", "Venue")] == ("empty", "Maple Lane Hall")
    assert said[("Connection point A01", "Across")] == ("3 ft", "12' 6\"")
    assert said[("Connection point A01", "In which events")] == ("Play", "Talk")
    assert said[("Floor box FB-1", "")] == ("there", "not there")
    assert said[("Event Dance", "")] == ("not there", "there")
    assert history.differences(job, job) == []


def test_a_box_deleted_yesterday_comes_back_though_much_was_edited_since(demo: dict[str, Path], tmp_path: Path) -> None:
    shutil.copy(demo["quillhaven_playhouse"], tmp_path / store.FILE)
    before = store.read(tmp_path).job
    box = next(b for b in before.boxes() if b.points)
    store.transact(tmp_path, lambda j: delete(j, "box", [box.id]), "deleted")
    edit = store.edits(tmp_path)[-1]
    other = next(b for b in before.boxes() if b.id != box.id)
    store.transact(tmp_path, lambda j: set_fields(j, "box", other.id, {"points": [*other.points, box.points[0]]}), "moved")
    store.transact(tmp_path, lambda j: set_fields(j, "settings", "job", {"venue": "Another hall"}), "venue")
    after = store.transact(tmp_path, history.bring_back(edit), "back")
    assert after.settings.venue == "Another hall"  # what was done since stays
    assert after.get(Box, box.id).x == box.x
    assert after.get(Box, box.id).points == box.points[1:]  # the first is served by another one by now
    for kind, record_id in history.deleted(edit):
        assert record_id in after.tables[kind]
    assert store._dangling(after) == []
    with pytest.raises(Problem, match="Nothing that 'deleted' deleted is missing now"):
        store.transact(tmp_path, history.bring_back(edit), "back")


def test_what_came_back_points_to_nothing_that_is_gone(folder: Path, small: Job) -> None:
    store.transact(folder, lambda _job: small, "start")
    box, point = small.all(Box)[0], small.all(Point)[0]
    store.transact(folder, lambda j: delete(j, "box", [box.id]), "box")
    edit = store.edits(folder)[-1]
    store.transact(folder, lambda j: delete(j, "point", [point.id]), "point")
    after = store.transact(folder, history.bring_back(edit), "back")
    assert after.get(Box, box.id).points == ()
    assert store._dangling(after) == []
