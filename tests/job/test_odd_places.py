"""Where a job's file may lie and what may have happened to it: it opens, or one sentence says what to do; nothing is lost.

Beside this: names of folders, files of a newer or older format, doubled ids (test_store), two kernels and a killed one
(entry/test_nothing_lost_live), a job opened twice (entry/test_open_once), a dead process's lock (test_crash).
"""

import errno
import fcntl
import json
import os
import pickle
import resource
import shutil
import signal
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job import disk, history, store, versions
from stagefloor.job.edit import add, set_fields
from stagefloor.job.fields import shape_of
from stagefloor.job.inventory import Event
from stagefloor.job.model import RECORDS, Job

NOBODY = 65534


def adding(label: str) -> Callable[[Job], Job]:
    return lambda job: add(job, "event", [{"label": label}])[0]


def labels(folder: Path) -> list[str]:
    return [e.label for e in store.read(folder).job.all(Event)]


def apart(work: Callable[[], object]) -> object:
    """What `work` returns or its Problem's sentence, done in a process of its own; any other error is raised here."""
    here, there = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            answer: tuple[str, object] = ("", work())
        except Problem as problem:
            answer = ("", problem.sentence)
        except BaseException:
            answer = (traceback.format_exc(), None)
        os.write(there, pickle.dumps(answer))
        os._exit(0)
    os.close(there)
    with open(here, "rb") as said:
        error, found = pickle.loads(said.read())
    os.waitpid(child, 0)
    assert not error, error
    return found


def as_someone_else(work: Callable[[], object]) -> object:
    """`work` without the rights of root, who may write everywhere."""
    def lowered() -> object:
        if os.geteuid() == 0:
            os.setgroups([])
            os.setresgid(NOBODY, NOBODY, NOBODY)
            os.setresuid(NOBODY, NOBODY, NOBODY)
        return work()
    return apart(lowered)


@pytest.fixture
def shared() -> Iterator[Path]:
    """A job with two events in a folder that every user can reach."""
    place = Path(tempfile.mkdtemp())
    place.chmod(0o755)
    store.create(place / "job")
    for label in "ab":
        store.transact(place / "job", adding(label), "add " + label)
    yield place / "job"
    for path in [place / "job", place / "job" / "history"]:
        path.chmod(0o755)
    shutil.rmtree(place)


# --- places


def test_a_very_long_path(tmp_path: Path) -> None:
    folder = tmp_path
    while len(str(folder)) < 3700:
        folder = folder / ("stage " * 33)
    store.create(folder / "job")
    store.transact(folder / "job", adding("a"), "add")
    assert labels(folder / "job") == ["a"]
    for too_long in (folder / ("x" * 250) / ("y" * 250), folder / ("z" * 300)):
        with pytest.raises(Problem, match="can't be written: File name too long"):
            store.create(too_long)
        with pytest.raises(Problem, match="There is no job at"):
            store.read(too_long)


def test_a_file_that_nobody_may_write_is_not_replaced(folder: Path) -> None:
    """Also for root and the folder's owner: who takes the right away means it."""
    store.transact(folder, adding("a"), "add")
    (folder / store.FILE).chmod(0o444)
    before = (folder / store.FILE).read_bytes()
    with pytest.raises(Problem, match="is read-only; nothing was changed"):
        store.transact(folder, adding("b"), "add")
    assert (folder / store.FILE).read_bytes() == before
    assert labels(folder) == ["a"]
    (folder / store.FILE).chmod(0o644)
    store.transact(folder, adding("b"), "add")
    assert labels(folder) == ["a", "b"]


def test_a_private_file_stays_private(folder: Path) -> None:
    (folder / store.FILE).chmod(0o600)
    store.transact(folder, adding("a"), "add")
    assert (folder / store.FILE).stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("locked", ["", "history"])
def test_a_folder_that_this_user_may_not_write(shared: Path, locked: str) -> None:
    before = (shared / store.FILE).read_bytes()
    for path in shared.rglob("*"):
        path.chmod(0o777 if path.is_dir() else 0o666)
    shared.chmod(0o777)
    (shared / locked).chmod(0o555)
    for file in (shared / locked).iterdir():
        if file.is_file():
            file.chmod(0o444)
    (shared / store.FILE).chmod(0o666)
    assert as_someone_else(lambda: labels(shared)) == ["a", "b"]
    assert len(as_someone_else(lambda: [e.name for e in store.edits(shared)])) == 2  # type: ignore[arg-type]
    said = as_someone_else(lambda: store.transact(shared, adding("c"), "add").sequence)
    assert isinstance(said, str)
    assert f"{'history' if locked else 'job'}" in said.split(" is read-only here; nothing was changed")[0]
    assert (shared / store.FILE).read_bytes() == before


def test_a_file_and_a_history_that_this_user_may_not_read(shared: Path) -> None:
    (shared / "history" / "edits.jsonl").chmod(0)
    assert "can't be read: Permission denied" in str(as_someone_else(lambda: store.edits(shared)))
    (shared / store.FILE).chmod(0)
    store._seen.clear()
    assert "can't be read: Permission denied" in str(as_someone_else(lambda: labels(shared)))


def test_a_disk_that_is_full_at_any_byte(folder: Path, tmp_path: Path) -> None:
    """The system itself refuses to let any file grow beyond a size: writing fails at every place, for root too."""
    for label in "ab":
        store.transact(folder, adding(label), "add " + label)
    before = (folder / store.FILE).read_bytes()
    size = max(p.stat().st_size for p in folder.rglob("*") if p.is_file())
    refused = saved = 0
    for most in range(0, 2 * size, 13):
        copy = shutil.copytree(folder, tmp_path / f"full at {most}")

        def full(copy: Path = copy, most: int = most) -> int:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
            return store.transact(copy, adding("c"), "add c").sequence

        said = apart(full)
        if isinstance(said, str):
            refused += 1
            assert "could not be saved (File too large)" in said
            assert (copy / store.FILE).read_bytes() == before
            assert [e.name for e in store.edits(copy)] == ["add a", "add b"]
            store.transact(copy, adding("d"), "add d")  # there is room again
        else:
            saved += 1
            assert labels(copy) == ["a", "b", "c"]
        assert [e.sequence for e in store.edits(copy)] == [1, 2, 3]
        assert len(history.state_at(copy, 2).all(Event)) == 2
        assert not list(copy.glob("**/.*.new"))
    assert min(refused, saved) > 10


def test_a_file_behind_a_link_is_the_one_that_is_changed(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "linked").mkdir()
    (tmp_path / "linked" / store.FILE).symlink_to(folder / store.FILE)
    store.transact(tmp_path / "linked", adding("a"), "add")
    assert labels(folder) == labels(tmp_path / "linked") == ["a"]
    assert (tmp_path / "linked" / store.FILE).is_symlink()


# --- network shares


def test_a_share_without_locks_is_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = (folder / store.FILE).read_bytes()

    def none(*_given: object) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(fcntl, "flock", none)
    with pytest.raises(Problem, match="gives no locks .No locks available.*disk of this computer"):
        store.transact(folder, adding("a"), "add")
    assert (folder / store.FILE).read_bytes() == before


def test_where_locks_do_not_hold_the_second_edit_is_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two people at the same moment, and a lock that lets both in: the first is saved, the second is told so."""
    store.transact(folder, adding("a"), "add a")
    monkeypatch.setattr(fcntl, "flock", lambda *_given: None)

    def change(job: Job) -> Job:
        store.transact(folder, adding("theirs"), "theirs")  # while ours is under way
        return adding("ours")(job)

    with pytest.raises(Problem, match="locks do not hold; this edit was not saved"):
        store.transact(folder, change, "ours")
    assert labels(folder) == ["a", "theirs"]
    # ours was noted after theirs with the same number: the history tells it apart
    assert (folder / "history" / "edits.jsonl").read_text().count('"sequence": 2,') == 2
    assert [e.name for e in store.edits(folder)] == ["add a", "theirs"]
    store.transact(folder, adding("later"), "later")
    assert [e.name for e in store.edits(folder)] == ["add a", "theirs", "later"]
    assert [e.label for e in history.state_at(folder, 1).all(Event)] == ["a"]
    store.undo(folder, 2)
    assert labels(folder) == ["a", "later"]


def test_a_computer_that_slept_in_the_middle_of_a_save(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It stands still with an edit in hand, its lock is gone when it wakes, and another one has saved meanwhile."""
    store.transact(folder, adding("a"), "add a")
    monkeypatch.setattr(fcntl, "flock", lambda *_given: None)
    here, there = os.pipe()
    child = os.fork()
    if child == 0:
        def slept(job: Job) -> Job:
            os.kill(os.getpid(), signal.SIGSTOP)
            return adding("sleeper")(job)
        try:
            store.transact(folder, slept, "sleeper")
            os.write(there, b"saved")
        except Problem as problem:
            os.write(there, problem.sentence.encode())
        os._exit(0)
    assert os.WIFSTOPPED(os.waitpid(child, os.WUNTRACED)[1])
    store.transact(folder, adding("b"), "add b")
    os.kill(child, signal.SIGCONT)
    os.waitpid(child, 0)
    assert b"this edit was not saved, and nothing of theirs was lost" in os.read(here, 1000)
    assert labels(folder) == ["a", "b"]
    assert [e.name for e in store.edits(folder)] == ["add a", "add b"]


def test_two_who_go_back_at_once(folder: Path) -> None:
    """Both chose an earlier state before either was saved: each is an edit of its own and can be taken back."""
    for label in "abcd":
        store.transact(folder, adding(label), "add " + label)
    first, second = history.back_to(folder, 1), history.back_to(folder, 3)
    store.transact(folder, first, "to 1")
    store.transact(folder, second, "to 3")
    assert labels(folder) == ["a", "b", "c"]
    with pytest.raises(Problem, match="'to 1' can't be undone.*undo that first"):
        store.undo(folder, 5)
    store.undo(folder, 6)
    assert labels(folder) == ["a"]
    store.undo(folder, 5)
    assert labels(folder) == ["a", "b", "c", "d"]
    store.transact(folder, adding("e"), "add e")
    assert list(store.read(folder).job.tables["event"])[-1] == "event-5"


# --- clocks


def test_a_clock_that_goes_back(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now = iter(range(2_000_000_000, 0, -86_400))
    monkeypatch.setattr(time, "time", lambda: float(next(now)))
    for label in "abc":
        store.transact(folder, adding(label), label)
        os.utime(folder / store.FILE, (1.0, 1.0))
    assert [e.name for e in store.edits(folder)] == ["a", "b", "c"]
    assert [v.sequence for v in versions.kept(folder)] == [2, 1]
    assert [e.label for e in history.state_at(folder, 2).all(Event)] == ["a", "b"]
    assert labels(folder) == ["a", "b", "c"]


def test_a_change_that_leaves_time_and_size_as_they_were_is_seen_before_a_save(folder: Path) -> None:
    store.transact(folder, adding("aa"), "add")
    target = folder / store.FILE
    status = target.stat()
    target.write_bytes(target.read_bytes().replace(b'"aa"', b'"zz"'))
    os.utime(target, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert store.stamp(target) == (status.st_ino, status.st_mtime_ns, status.st_size)
    store.transact(folder, adding("b"), "add")
    assert labels(folder) == ["zz", "b"]


# --- files that were changed by hand or on the way


@pytest.mark.parametrize("change", [lambda b: b.replace(b"\n", b"\r\n"), lambda b: b"\xef\xbb\xbf" + b,
                                    lambda b: b + b"\r\n \n", lambda b: json.dumps(json.loads(b)).encode()])
def test_what_an_editor_does_to_a_file_is_no_damage(folder: Path, change: Callable[[bytes], bytes]) -> None:
    store.transact(folder, adding("Fête"), "add")
    target = folder / store.FILE
    target.write_bytes(change(target.read_bytes()))
    assert labels(folder) == ["Fête"]
    store.transact(folder, adding("b"), "add")
    assert labels(folder) == ["Fête", "b"]
    assert [e.sequence for e in store.edits(folder)] == [1, 2]
    store.undo(folder, 1)
    assert labels(folder) == ["b"]


@pytest.mark.parametrize(("change", "words"), [
    (lambda t: t + "x", "is damaged"), (lambda t: t + t, "is damaged"), (lambda t: t + "\0" * 4096, "is damaged"),
    (lambda t: t.replace('"label": "a"', '"label": "a", "label": "b"'), "names 'label' twice.*last good version"),
    (lambda t: t.replace('"records": {', '"records": {}, "records": {'), "names 'records' twice"),
    (lambda t: t.replace('"event": [', '"event": [], "event": ['), "names 'event' twice"),
    (lambda t: "<<<<<<< mine\n" + t, "is damaged"),
])  # fmt: skip
def test_what_would_lose_something_is_refused(folder: Path, change: Callable[[str], str], words: str) -> None:
    store.transact(folder, adding("a"), "add")
    target = folder / store.FILE
    target.write_text(change(target.read_text()))
    before = target.read_bytes()
    for work in (lambda: store.read(folder), lambda: store.transact(folder, adding("b"), "add")):
        with pytest.raises(Problem, match=words):
            work()
    assert target.read_bytes() == before


def test_a_file_that_is_larger_than_any_job_is_not_read(folder: Path) -> None:
    with open(folder / store.FILE, "ab") as handle:
        handle.truncate(disk.MOST_BYTES + 1)
    with pytest.raises(Problem, match="has 64 MB, more than a job ever has"):
        store.read(folder)


WRONG = {"length": "over there", "mass": "heavy", "force": "strong", "resistance_per_length": "some", "number": "many",
         "mass_per_length": "some", "count": "-4", "money": "dear", "flag": "perhaps", "choice": "neither", "refs": 7,
         "text": "x" * 4001, "note": "x" * 4001, "ref": "x" * 4001}


@pytest.mark.parametrize("kind", RECORDS)
def test_one_wrong_value_in_each_kind_of_record_is_named_and_the_rest_kept(folder: Path, kind: str) -> None:
    fields = {n: shape_of(i) for n, i in RECORDS[kind].model_fields.items() if n != "id"}
    bad = next((n for n, s in fields.items() if s not in ("text", "note", "ref")), next(iter(fields)))
    good = next((n for n, s in fields.items() if s in ("text", "note") and n != bad), None)
    row: dict[str, Any] = {"id": f"{kind}-1", bad: WRONG[fields[bad]]} | ({good: "as it was"} if good else {})
    target = folder / store.FILE
    data = json.loads(target.read_text())
    data["records"][kind] = [row]
    target.write_text(json.dumps(data))
    opened = store.read(folder)
    assert len(opened.faults) == 1
    assert f"{kind}-1, {bad}: " in opened.faults[0]
    record = opened.job.tables[kind][f"{kind}-1"]
    assert good is None or getattr(record, good) == "as it was"
    store.transact(folder, lambda job: set_fields(job, "settings", "job", {"venue": "Hall"}), "another edit")
    assert json.loads(target.read_text())["records"][kind] == [row]
    assert store.read(folder).faults == opened.faults  # still told, in the same process too


# --- the history


def mess(folder: Path) -> None:
    """Everything that does not belong there."""
    (folder / "history" / "job-²³.json").write_text("{}")
    (folder / "history" / "job-000099.json").mkdir()
    (folder / "history" / "job-000000000000000000000000000001.json").write_text("null")
    (folder / "history" / "job-.json").write_text("x")
    (folder / "history" / "job-1e9.json").write_text("x")
    (folder / "history" / "job-000098.json").symlink_to("nowhere")
    for number in range(300):
        (folder / "history" / f"junk {number}").write_bytes(os.urandom(20))
    with open(folder / "history" / "edits.jsonl", "ab") as log:
        for line in (b"\0\0\0", b"{}", b'{"sequence": 1}', b"[" * 5000, b'"x"', b"\xff" * 50, b'{"sequence": 1e400}',
                     b'{"sequence": 2, "name": 7, "by": null, "when": "x", "changes": []}',
                     b'{"sequence": 2, "name": "x", "by": "", "when": 1, "changes": [["spaceship", "a", null, null]]}',
                     b'{"sequence": 2, "name": "x", "by": "", "when": 1, "changes": [["event", "a", 7, null]]}',
                     b'{"sequence": 2, "name": "x", "by": "", "when": 1, "changes": 3}',
                     b'{"sequence": 7, "name": "x", "by": "", "when": 1e300, "changes": []}'):
            log.write(b"\n" + line + b"\n")


def test_a_history_full_of_junk(folder: Path) -> None:
    for label in "ab":
        store.transact(folder, adding(label), "add " + label)
    mess(folder)
    assert [e.name for e in store.edits(folder)] == ["add a", "add b"]
    assert [v.sequence for v in versions.kept(folder)] == [1]
    store.transact(folder, adding("c"), "add c")
    assert [e.name for e in store.edits(folder)] == ["add a", "add b", "add c"]
    assert [e.label for e in history.state_at(folder, 1).all(Event)] == ["a"]
    store.undo(folder, 3)
    assert labels(folder) == ["a", "b"]
    (folder / store.FILE).write_text("{")
    with pytest.raises(Problem, match="job-000004.json"):  # the last good one, past all the others
        store.read(folder)


def test_a_history_that_is_missing_begins_again(folder: Path) -> None:
    for label in "ab":
        store.transact(folder, adding(label), "add " + label)
    shutil.rmtree(folder / "history")
    assert store.edits(folder) == []
    assert versions.kept(folder) == []
    with pytest.raises(Problem, match="not in this job's history any more"):
        store.undo(folder, 2)
    store.transact(folder, adding("c"), "add c")
    assert [e.sequence for e in store.edits(folder)] == [3]
    with pytest.raises(Problem, match="Edit 2 is missing in the history"):
        history.state_at(folder, 1)
    assert [e.label for e in history.state_at(folder, 2).all(Event)] == ["a", "b"]


@pytest.mark.parametrize("name", ["history", "history/edits.jsonl"])
def test_something_in_the_way_of_the_history_is_named(folder: Path, name: str) -> None:
    if name == "history":
        (folder / name).write_text("a file")
    else:
        (folder / name).mkdir(parents=True)
    before = (folder / store.FILE).read_bytes()
    with pytest.raises(Problem, match=f"{name} is in the way .*nothing was changed. Move it away"):
        store.transact(folder, adding("a"), "add")
    assert (folder / store.FILE).read_bytes() == before
    assert store.edits(folder) == []


def test_after_an_older_file_was_put_in_place_what_came_after_it_is_not_offered(folder: Path) -> None:
    for label in "abcd":
        store.transact(folder, adding(label), "add " + label)
    shutil.copy(folder / "history" / "job-000002.json", folder / store.FILE)
    store.transact(folder, adding("new"), "add new")
    assert labels(folder) == ["a", "b", "new"]
    assert [e.name for e in store.edits(folder)] == ["add a", "add b", "add new"]
    assert [v.sequence for v in versions.kept(folder)] == [2, 1]
    assert (folder / "history" / "aside-job-000004.json").is_file()  # and nothing was thrown away
    (folder / store.FILE).write_text("{")
    with pytest.raises(Problem, match="job-000003.json"):
        store.read(folder)
    shutil.copy(folder / "history" / "job-000003.json", folder / store.FILE)
    assert labels(folder) == ["a", "b", "new"]


def test_a_sequence_of_fifteen_digits_keeps_the_newest_versions(folder: Path) -> None:
    target = folder / store.FILE
    store.transact(folder, adding("a"), "add")
    target.write_text(target.read_text().replace('"sequence": 1', f'"sequence": {10**14}'))
    store.transact(folder, adding("b"), "add b")
    assert store.last_good_version(target) == folder / "history" / f"job-{10**14 + 1}.json"
    assert [e.name for e in store.edits(folder)][-1] == "add b"
