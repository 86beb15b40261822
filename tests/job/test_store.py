"""The one file of a job: transactions, history, undo, versions, damage, and disks that refuse."""

import builtins
import errno
import json
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job import store, upgrade
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, delete, duplicate, reorder, set_fields
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job


def adding(kind: str, **fields: object) -> Callable[[Job], Job]:
    return lambda job: add(job, kind, [fields])[0]


def setting(kind: str, record_id: str, **fields: object) -> Callable[[Job], Job]:
    return lambda job: set_fields(job, kind, record_id, fields)


def rewrite(folder: Path, change: Callable[[dict[str, Any]], object]) -> Path:
    """Change the data of the file by hand."""
    target = folder / store.FILE
    data = json.loads(target.read_text(encoding="utf-8"))
    change(data)
    target.write_text(json.dumps(data), encoding="utf-8")
    return target


def labels(folder: Path) -> list[str]:
    return [e.label for e in store.read(folder).job.all(Event)]


def test_every_edit_is_on_disk_before_the_call_returns(folder: Path) -> None:
    for number in range(1, 4):
        job = store.transact(folder, adding("event", label=f"E{number}"), f"Event E{number}")
        assert job.sequence == number
        assert store.read(folder).job == job
    assert [(e.sequence, e.name) for e in store.edits(folder)] == [(1, "Event E1"), (2, "Event E2"), (3, "Event E3")]


def test_the_file_is_one_record_a_line_and_readable(folder: Path) -> None:
    store.transact(folder, adding("event", label="Fête – 演劇"), "add")
    lines = (folder / store.FILE).read_text(encoding="utf-8").splitlines()
    assert '   {"id": "event-1", "label": "Fête – 演劇"}' in lines


def test_a_change_of_nothing_writes_nothing(folder: Path) -> None:
    store.transact(folder, adding("event", label="a"), "add")
    before = (folder / store.FILE).read_bytes()
    job = store.transact(folder, setting("event", "event-1", label="a"), "the same again")
    assert job.sequence == 1
    assert (folder / store.FILE).read_bytes() == before


def test_a_refused_change_leaves_file_and_history_alone(folder: Path) -> None:
    store.transact(folder, adding("event", label="a"), "add")
    before = (folder / store.FILE).read_bytes()
    with pytest.raises(Problem, match="not a number"):
        store.transact(folder, setting("event", "event-1", per_year="often"), "bad")
    assert (folder / store.FILE).read_bytes() == before
    assert len(store.edits(folder)) == 1


def test_an_order_of_the_users_own_is_kept_and_undone(folder: Path) -> None:
    for word in "abc":
        store.transact(folder, adding("event", label=word), "add")
    store.transact(folder, lambda j: reorder(j, "event", ["event-3", "event-1", "event-2"]), "order")
    assert labels(folder) == ["c", "a", "b"]
    store.undo(folder, 4)
    assert labels(folder) == ["a", "b", "c"]


# --- undo


def test_undo_and_redo_bring_every_kind_of_edit_back(folder: Path) -> None:
    for word in "abc":
        store.transact(folder, adding("event", label=word, per_year="3"), "add")
    changes: dict[str, Callable[[Job], Job]] = {
        "field": setting("event", "event-1", label="z"), "settings": setting("settings", "job", venue="Hall"),
        "delete in the middle": lambda j: delete(j, "event", ["event-2"]),
        "add in the middle": lambda j: add(j, "event", [{"label": "n"}], after="event-1")[0],
        "copy": lambda j: duplicate(j, "event", ["event-1"])[0]}
    for name, change in changes.items():
        before = store.read(folder).job
        after = store.transact(folder, change, name)
        undone = store.undo(folder, after.sequence)
        assert (undone.tables, undone.settings) == (before.tables, before.settings), name
        assert list(undone.tables["event"]) == list(before.tables["event"]), name
        redone = store.undo(folder, undone.sequence, word="Redo")
        assert list(redone.tables["event"]) == list(after.tables["event"]), name
        assert (redone.tables, redone.settings) == (after.tables, after.settings), name
        store.undo(folder, redone.sequence)
    names = [e.name for e in store.edits(folder)]
    assert names[3:7] == ["field", "Undo: field", "Redo: Undo: field", "Undo: Redo: Undo: field"]


def test_undo_is_refused_if_a_later_edit_touched_the_record(folder: Path) -> None:
    store.transact(folder, adding("event", label="a"), "add a")
    store.transact(folder, setting("event", "event-1", label="b"), "rename")
    store.transact(folder, adding("event", label="other"), "add other")
    with pytest.raises(Problem, match="'add a' can't be undone: event b was changed again later; undo that first"):
        store.undo(folder, 1)
    assert labels(folder) == ["b", "other"]
    store.undo(folder, 2)
    store.undo(folder, 1)
    assert labels(folder) == ["other"]
    with pytest.raises(Problem, match="can't be undone"):  # redo of the rename: the event is gone by now
        store.undo(folder, 4, word="Redo")


def test_undo_is_refused_if_later_edits_count_on_the_record(folder: Path) -> None:
    store.transact(folder, adding("event", label="Play"), "add Play")
    store.transact(folder, adding("point", label="A01", events="Play"), "add A01")
    with pytest.raises(Problem, match="'add Play' can't be undone: later edits count on it. Connection point A01"):
        store.undo(folder, 1)
    assert store.read(folder).faults == ()


def test_ids_are_never_used_again_across_undo(folder: Path) -> None:
    store.transact(folder, adding("event", label="a"), "add")
    store.undo(folder, 1)
    store.transact(folder, adding("event", label="b"), "add")
    assert list(store.read(folder).job.tables["event"]) == ["event-2"]


def test_an_edit_that_is_not_in_the_history_is_said(folder: Path) -> None:
    with pytest.raises(Problem, match="Edit 7 is not in this job's history"):
        store.undo(folder, 7)


# --- values that can't be read


def test_a_value_that_cannot_be_read_is_named_and_kept_until_it_is_changed(folder: Path) -> None:
    store.transact(folder, adding("point", label="A01", microphone="2"), "add")
    rewrite(folder, lambda d: d["records"]["point"][0].update(x="over there", sparkle=7))
    opened = store.read(folder)
    assert len(opened.faults) == 2
    assert any("Connection point point-1, x: 'over there' is not a length" in f for f in opened.faults)
    assert any("sparkle" in f for f in opened.faults)
    assert opened.job.all(Point)[0].microphone == 2
    store.transact(folder, setting("point", "point-1", microphone="3"), "other field")
    row = json.loads((folder / store.FILE).read_text())["records"]["point"][0]
    assert (row["x"], row["sparkle"], row["microphone"]) == ("over there", 7, 3)
    store.transact(folder, setting("point", "point-1", x="4 ft"), "mended")
    row = json.loads((folder / store.FILE).read_text())["records"]["point"][0]
    assert row["x"] == "4 ft"
    store.undo(folder, 3)
    assert json.loads((folder / store.FILE).read_text())["records"]["point"][0]["x"] == "over there"


def test_a_value_that_cannot_be_read_can_be_emptied(folder: Path) -> None:
    store.transact(folder, adding("point", label="A01"), "add")
    rewrite(folder, lambda d: d["records"]["point"][0].update(x="over there"))
    store.transact(folder, setting("point", "point-1", x=""), "emptied")
    assert store.read(folder).faults == ()
    store.undo(folder, 2)
    assert len(store.read(folder).faults) == 1


def test_a_value_with_strange_characters_does_not_lose_its_record(folder: Path) -> None:
    store.transact(folder, adding("point", label="A01", microphone="2"), "add")
    rewrite(folder, lambda d: d["records"]["point"][0].update(data="\0bad", video="\ud800"))
    opened = store.read(folder)
    assert opened.job.all(Point)[0].microphone == 2
    assert len(opened.faults) == 2
    store.transact(folder, setting("point", "point-1", microphone="3"), "other field")
    row = json.loads((folder / store.FILE).read_text())["records"]["point"][0]
    assert (row["data"], row["video"]) == ("\0bad", "\ud800")


def test_what_points_to_nothing_is_named(folder: Path) -> None:
    store.transact(folder, adding("point", label="A01"), "add")
    rewrite(folder, lambda d: d["records"]["point"][0].update(events=["event-77"]))
    assert store.read(folder).faults == ("Connection point A01 points to event 'event-77', which is not there.",)


# --- files that can't be read


REFUSED: dict[str, tuple[Callable[[dict[str, Any]], object], str]] = {
    "duplicate ids": (lambda d: d["records"]["event"].append(dict(d["records"]["event"][0])), "two records with the id"),
    "a newer format": (lambda d: d.update(format=99), "written by a newer version .format 99, this one reads"),
    "no format": (lambda d: d.pop("format"), "does not say which format"),
    "a format that is no number": (lambda d: d.update(format=True), "does not say which format"),
    "an unknown kind": (lambda d: d["records"].update(spaceship=[]), "kind 'spaceship'"),
    "no records": (lambda d: d.pop("records"), "is damaged"),
    "records that are a list": (lambda d: d.update(records=[]), "is damaged"),
    "settings that are a list": (lambda d: d.update(settings=[1]), "is damaged"),
    "a line that is no record": (lambda d: d["records"]["event"].append("x"), "no record with an id"),
    "a line without an id": (lambda d: d["records"]["event"].append({"label": "x"}), "no record with an id"),
    "an id too long to point to": (lambda d: d["records"]["event"].append({"id": "x" * 5000}), "no record with an id"),
    "an id with a space at its end": (lambda d: d["records"]["event"].append({"id": "event-2 "}), "no record with an id"),
    "a key of the future": (lambda d: d.update(extras={"a": 1}), "holds 'extras'"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_cannot_be_read_in_full_is_refused_and_never_overwritten(folder: Path, name: str) -> None:
    store.transact(folder, adding("event", label="a"), "add")
    change, words = REFUSED[name]
    before = rewrite(folder, change).read_bytes()
    with pytest.raises(Problem, match=words):
        store.read(folder)
    with pytest.raises(Problem, match=words):
        store.transact(folder, adding("event", label="b"), "add")
    assert (folder / store.FILE).read_bytes() == before


@pytest.mark.parametrize("content", [b"", b"{", b"null", b"[1, 2]", b"\xff\xfe\x00", b'{"format": 1, "records": {',
                                     b"[" * 100_000, b'{"format": ' + b"9" * 5000 + b"}"])
def test_a_damaged_file_offers_the_last_good_version_which_opens(folder: Path, content: bytes) -> None:
    store.transact(folder, adding("event", label="a"), "add")
    store.transact(folder, adding("event", label="b"), "add")
    good = (folder / store.FILE).read_bytes()
    (folder / store.FILE).write_bytes(content)
    offered = folder / "history" / "job-000002.json"
    with pytest.raises(Problem) as told:
        store.transact(folder, adding("event", label="c"), "add")
    assert str(offered) in told.value.sentence
    assert (folder / store.FILE).read_bytes() == content
    assert offered.read_bytes() == good
    (folder / store.FILE).write_bytes(offered.read_bytes())
    assert labels(folder) == ["a", "b"]


def test_a_damaged_version_is_not_offered(folder: Path) -> None:
    for word in "ab":
        store.transact(folder, adding("event", label=word), "add")
    (folder / "history" / "job-000002.json").write_text("{")
    (folder / store.FILE).write_text("{")
    with pytest.raises(Problem, match="job-000001.json"):
        store.read(folder)


def test_an_older_file_is_upgraded_by_its_named_step(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store.transact(folder, adding("event", label="Play"), "add")
    rewrite(folder, lambda d: d["records"].update(show=d["records"].pop("event")))  # as if an old version wrote it

    def shows_become_events(data: dict[str, object]) -> dict[str, object]:
        records = dict(data["records"])  # type: ignore[call-overload]
        if "show" in records:
            records["event"] = records.pop("show")
        return {**data, "records": records}

    for module in (upgrade, store):
        monkeypatch.setattr(module, "FORMAT", 2)
    monkeypatch.setitem(upgrade.STEPS, 1, ("shows become events", shows_become_events))
    assert labels(folder) == ["Play"]
    assert json.loads((folder / store.FILE).read_text())["format"] == 1  # reading alone rewrites nothing
    store.transact(folder, adding("event", label="Talk"), "add")
    data = json.loads((folder / store.FILE).read_text())
    assert data["format"] == 2
    assert [e["label"] for e in data["records"]["event"]] == ["Play", "Talk"]
    assert "show" not in data["records"]


# --- disks


def failing(monkeypatch: pytest.MonkeyPatch, number: int, fits: Callable[[str], bool]) -> None:
    """Every opening for writing of a path that fits fails with this error of the operating system."""
    real = builtins.open

    def refuse(file: Any, mode: str = "r", *args: Any, **more: Any) -> Any:
        if set(mode) & set("wax+") and fits(str(file)):
            raise OSError(number, os.strerror(number), str(file))
        return real(file, mode, *args, **more)

    monkeypatch.setattr(builtins, "open", refuse)


@pytest.mark.parametrize("where", ["edits.jsonl", ".job.json."])
def test_a_full_disk_is_said_and_the_file_is_as_it_was(folder: Path, monkeypatch: pytest.MonkeyPatch,
                                                       where: str) -> None:
    store.transact(folder, adding("event", label="a"), "add")
    before = (folder / store.FILE).read_bytes()
    with monkeypatch.context() as full:
        failing(full, errno.ENOSPC, lambda path: where in path)
        with pytest.raises(Problem, match="could not be saved .No space left on device.; the file on disk is as it was"):
            store.transact(folder, adding("event", label="b"), "add")
    assert (folder / store.FILE).read_bytes() == before
    assert labels(folder) == ["a"]
    store.transact(folder, adding("event", label="b"), "add again")
    assert labels(folder) == ["a", "b"]
    assert [e.name for e in store.edits(folder)] == ["add", "add again"]
    assert not list(folder.glob("**/.*.new"))


def test_a_disk_that_fills_in_the_middle_of_writing_leaves_the_file(folder: Path,
                                                                    monkeypatch: pytest.MonkeyPatch) -> None:
    store.transact(folder, adding("event", label="a"), "add")
    before = (folder / store.FILE).read_bytes()

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(Problem, match="No space left"):
            store.transact(folder, adding("event", label="b"), "add")
    assert (folder / store.FILE).read_bytes() == before
    assert not list(folder.glob("**/.*.new"))


def test_a_saved_edit_is_not_told_as_lost_if_only_its_copy_fails(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as full:
        failing(full, errno.ENOSPC, lambda path: "history" in path and path.endswith(".new"))
        job = store.transact(folder, adding("event", label="a"), "add")
    assert job.sequence == 1
    assert labels(folder) == ["a"]


def test_a_read_only_job_is_said_by_a_refusing_disk(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store.transact(folder, adding("event", label="a"), "add")
    before = (folder / store.FILE).read_bytes()
    failing(monkeypatch, errno.EACCES, lambda path: str(folder) in path)
    with pytest.raises(Problem, match="is read-only here; nothing was changed"):
        store.transact(folder, adding("event", label="b"), "add")
    assert (folder / store.FILE).read_bytes() == before


@pytest.mark.parametrize("name", ["Bühne 3", "舞台 の 床", "мой театр", "a'b \"c\" & d", "100 % sure.d"])
def test_any_name_of_a_folder_works(tmp_path: Path, name: str) -> None:
    folder = tmp_path / name / "the job"
    store.create(folder, {"venue": name})
    store.transact(folder, adding("event", label="a"), "add")
    assert store.read(folder).job.settings.venue == name
    (folder / store.FILE).write_text("{")
    with pytest.raises(Problem, match="last good version"):
        store.read(folder)


def test_where_no_job_is_and_where_one_is_already(tmp_path: Path, folder: Path) -> None:
    with pytest.raises(Problem, match="There is no job at"):
        store.read(tmp_path / "nowhere")
    with pytest.raises(Problem, match="already holds a job"):
        store.create(folder)
    (tmp_path / "file").write_text("x")
    with pytest.raises(Problem, match="can't be written"):
        store.create(tmp_path / "file" / "job")
    with pytest.raises(Problem, match="is not a choice for units"):
        store.create(tmp_path / "other", {"units": "furlongs"})
    assert not (tmp_path / "other" / store.FILE).exists()


# --- history


def test_history_keeps_the_last_versions_and_all_edits(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "VERSIONS_KEPT", 5)
    for number in range(9):
        store.transact(folder, adding("event", label=f"E{number}"), "add")
    kept = sorted(p.name for p in (folder / "history").glob("job-*.json"))
    assert kept == [f"job-00000{n}.json" for n in (5, 6, 7, 8, 9)]
    assert [e.sequence for e in store.edits(folder)] == list(range(1, 10))
    assert (folder / "history" / "job-000009.json").read_bytes() == (folder / store.FILE).read_bytes()


@pytest.mark.parametrize("torn", [b'\n{"sequence": 3, "name": "tor', b"\n\xff\xfe", b'\n{"sequence": "x"}\n', b"\n[]\n",
                                  b'\n{"sequence": [1], "name": 1, "by": 1, "when": 1, "changes": []}\n'])
def test_a_torn_last_line_of_the_history_swallows_nothing(folder: Path, torn: bytes) -> None:
    for word in "ab":
        store.transact(folder, adding("event", label=word), "add " + word)
    with open(folder / "history" / "edits.jsonl", "ab") as log:
        log.write(torn)
    assert [e.name for e in store.edits(folder)] == ["add a", "add b"]
    store.transact(folder, adding("event", label="c"), "add c")
    assert [e.name for e in store.edits(folder)] == ["add a", "add b", "add c"]
    store.undo(folder, 3)
    assert labels(folder) == ["a", "b"]


def test_an_edit_noted_before_a_crash_and_never_saved_is_no_edit(folder: Path) -> None:
    store.transact(folder, adding("event", label="a"), "add a")
    entry = {"sequence": 2, "name": "lost", "by": "", "when": 0.0, "changes": []}
    with open(folder / "history" / "edits.jsonl", "a") as log:
        log.write(json.dumps(entry) + "\n")
    assert [e.name for e in store.edits(folder)] == ["add a"]
    store.transact(folder, adding("event", label="b"), "add b")
    assert [e.name for e in store.edits(folder)] == ["add a", "add b"]


def test_a_demo_is_written_as_it_was_read(demo: Mapping[str, Path]) -> None:
    for path in demo.values():
        opened = store.read(path)
        assert opened.faults == ()
        assert store.to_text(opened.job) == path.read_text(encoding="utf-8")


def test_a_box_deleted_from_a_demo_comes_back_whole(demo: Mapping[str, Path], tmp_path: Path) -> None:
    (tmp_path / store.FILE).write_bytes(demo["quillhaven_playhouse"].read_bytes())
    before = store.read(tmp_path).job
    box = next(b for b in before.all(Box) if b.label == "FB-A1")
    store.transact(tmp_path, lambda j: delete(j, "box", [box.id]), "delete")
    back = store.undo(tmp_path, before.sequence + 1)
    assert back.tables == before.tables
    assert [list(t) for t in back.tables.values()] == [list(t) for t in before.tables.values()]
