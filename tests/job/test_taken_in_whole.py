"""Files taken in at a bad moment: while another takes in the same, with a picture half written, with the power gone."""

import errno
import json
import os
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from faulty_disk import Crash, Disk
from fuzz_inputs import house, phone_files, photo

from stagefloor.core.problems import Problem
from stagefloor.job import disk as files
from stagefloor.job import edit, store
from stagefloor.job.boxes import Opening
from stagefloor.job.cables import Cable
from stagefloor.job.exchange import taking
from stagefloor.job.exchange.heads import matched
from stagefloor.job.exchange.picture_file import clean_picture
from stagefloor.job.exchange.preview import ADD, REFUSE, Plan, carry_out
from stagefloor.job.exchange.sheet_file import MOST_MARKS, read_sheet
from stagefloor.job.exchange.table_file import read_table
from stagefloor.job.exchange.tables import planned
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.steps import closeout
from stagefloor.steps.boxes.schedule import reconciled

CRASHES = 150


@pytest.fixture
def started(folder: Path) -> Path:
    """A job folder with something of each kind that a file can name."""
    store.transact(folder, lambda _job: house(), "start")
    return folder


def saving(folder: Path) -> Callable[[str, Callable[[Job], Job]], object]:
    return lambda name, change: store.transact(folder, change, name)


def survey() -> Callable[[Job], Plan]:
    file = read_sheet(json.dumps(phone_files()[0]).encode())
    return lambda job: taking.planned(job, file)


def pictures(folder: Path) -> list[str]:
    place = folder / "pictures"
    return sorted(p.name for p in place.iterdir()) if place.exists() else []


def whole(folder: Path) -> bool:
    """Every picture that the job names is there, byte for byte."""
    named = store.read(folder).job.all(Picture)
    for picture in named:
        data = (folder / "pictures" / picture.file).read_bytes()
        assert data == clean_picture(photo()).data if picture.what == "photo" else data.endswith(b"</svg>\n")
    return bool(named)


def test_a_picture_that_fails_half_way_leaves_nothing(started: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    does = survey()
    lines = does(store.read(started).job).lines
    before = (started / store.FILE).read_bytes()
    real, calls = os.fsync, iter(range(100))

    def full(handle: int) -> None:
        if next(calls) == 1:  # the first picture is there, the second is not
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(handle)

    with monkeypatch.context() as patch:
        patch.setattr(files, "flush_folder", lambda _folder: None)
        patch.setattr(os, "fsync", full)
        with pytest.raises(Problem, match="No space left on device.; nothing was taken in"):
            carry_out(started, saving(started), "sheet", does, lines)
    assert (started / store.FILE).read_bytes() == before
    assert pictures(started) == []
    carry_out(started, saving(started), "sheet", does, lines)
    assert whole(started)


def test_a_failed_save_does_not_take_away_what_another_counts_on(started: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two take in one file: the first can't save, the second finds its pictures there, then the first clears up."""
    does = survey()
    lines = does(store.read(started).job).lines
    fails = True

    def first(name: str, change: Callable[[Job], Job]) -> object:
        nonlocal fails
        if not fails:
            return store.transact(started, change, name)
        fails = False
        with monkeypatch.context() as patch:
            patch.setattr(store, "_note", lambda *_given: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full")))
            try:
                return store.transact(started, change, name)
            except Problem:
                pass
        carry_out(started, saving(started), "sheet", does, lines)  # the second, in between
        raise Problem("The first could not be saved.")

    with pytest.raises(Problem, match="The first could not be saved"):
        carry_out(started, first, "sheet", does, lines)
    assert whole(started)


def test_two_take_in_one_file_and_one_is_refused(started: Path) -> None:
    does = survey()
    lines = does(store.read(started).job).lines
    carry_out(started, saving(started), "sheet", does, lines)
    with pytest.raises(Problem, match="changed meanwhile"):
        carry_out(started, saving(started), "sheet", does, lines)
    assert whole(started)
    undone = store.undo(started, store.read(started).job.sequence)
    assert undone.all(Picture) == []
    store.undo(started, undone.sequence, word="Redo")
    assert whole(started)


def test_a_crash_at_any_moment_of_taking_in_leaves_all_or_nothing(started: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half of the crashes with the power gone: a job that names pictures has every byte of them."""
    does = survey()
    start = {p.relative_to(started): p.read_bytes() for p in started.rglob("*") if p.is_file()}
    drive = Disk(started, random.Random(17))
    drive.into(monkeypatch)
    crashes = taken = 0
    while crashes < CRASHES:
        for path in [p for p in started.rglob("*") if p.is_file()]:
            path.unlink()
        for name, data in start.items():
            (started / name).write_bytes(data)
        drive.start()
        drive.left = drive.rng.randrange(1, 45)
        lines = does(store.read(started).job).lines
        told = False
        try:
            carry_out(started, saving(started), "sheet", does, lines)
            told = True
        except Crash:
            crashes += 1
        drive.left = -1
        if drive.rng.random() < 0.5:
            drive.power_cut()
        drive.start()
        assert store.read(started).faults == ()
        there = whole(started)
        taken += there
        assert there or not told, "told as taken in, and gone"
        assert there == (store.read(started).job.sequence == 2)
    assert taken > 5


# --- files that are swollen, or say what can't be kept


@pytest.mark.parametrize(("data", "words"), [
    (b"Point,Across\n" + b"," * 3_000_000, "more than 80 columns"),
    (b"a" + b"," * 15_000_000, "more than 80 columns"),
    (b"\n" * 15_000_000, "more than 5,000 rows"),
])  # fmt: skip
def test_a_table_that_is_swollen_is_refused_at_once(data: bytes, words: str) -> None:
    with pytest.raises(Problem, match=words):
        read_table(data, "list.csv")


@pytest.mark.parametrize(("data", "words"), [
    (b"a,b\n" + b"," * 3_000_000, "more than 200 columns"), (b"a,b\n" + b"\n" * 10_000_000, "more than 50,000 rows"),
])  # fmt: skip
def test_a_testers_file_that_is_swollen_is_refused_at_once(data: bytes, words: str) -> None:
    with pytest.raises(Problem, match=words):
        closeout.read_file("tester.csv", data)


def test_a_sheet_that_is_swollen_is_refused_at_once() -> None:
    with pytest.raises(Problem, match="more parts than a sheet can hold"):
        read_sheet(b'{"stagefloor_sheet":1,"entries":[' + b"[]," * MOST_MARKS + b"[]]}")
    for filling in (b"\xff" * 3_900_000, b"\xff\xfe\x00\x02" * 900_000):
        with pytest.raises(Problem, match="damaged"):
            clean_picture(b"\xff\xd8" + filling)


def test_a_cable_without_a_line_is_refused_where_it_is_shown() -> None:
    """The plan of the boxes would take it away in the same edit: 'added' would not be true."""
    file = read_table(b"Cable id,Carries\nC-9,\nC-8,M-1\n", "list.csv")
    plan = planned(house(), "cable", file, matched("cable", file.heads))
    assert [line.state for line in plan.lines] == [REFUSE, ADD]
    assert "it names no line" in plan.lines[0].words
    name = house().all(Cable)[0].label
    file = read_table(f'Cable id,Carries\n{name},","\n'.encode(), "list.csv")
    plan = planned(house(), "cable", file, matched("cable", file.heads))
    assert [line.state for line in plan.lines] == [REFUSE]
    assert "it names no line" in plan.lines[0].words


def test_a_testers_file_with_odd_characters_is_taken_once() -> None:
    job = house()
    text = "Cable label,Test,Pass/Fail,Tester\nM-1,continuity,pass,met\x18er\nD-1,continuity,pass," + "x" * 4001
    file = closeout.read_file("a\nb.csv", text.encode())
    found = closeout.preview(job, file, closeout.columns(job, file.headings))
    assert [b.number for b in found.bad] == [3]
    assert "4,000 are the most" in found.bad[0].reason
    done = closeout.taken(job, found)
    again = closeout.preview(done, file, closeout.columns(done, file.headings))
    assert (again.taken, len(again.known)) == ((), 1)
    with pytest.raises(Problem) as told:
        closeout.read_file("a\nb.csv", b"")
    assert told.value.sentence.isprintable()


def test_an_edit_of_what_pointed_nowhere_before_can_be_undone(folder: Path) -> None:
    store.transact(folder, lambda job: edit.add(job, "event", [{"label": "Play"}])[0], "Play")
    store.transact(folder, lambda job: edit.add(job, "point", [{"label": "A01", "events": "Play"}])[0], "A01")
    target = folder / store.FILE
    data: dict[str, Any] = json.loads(target.read_text())
    data["records"]["point"][0]["events"] = ["event-77"]
    target.write_text(json.dumps(data))
    store.transact(folder, lambda job: edit.set_fields(job, "point", "point-2", {"events": "Play"}), "mended")
    store.undo(folder, 3)
    assert store.read(folder).faults == ("Connection point A01 points to event 'event-77', which is not there.",)


def test_a_box_with_a_name_of_four_thousand_characters_can_be_edited() -> None:
    job = edit.set_fields(house(), "box", "box-3", {"label": "x" * 4000, "state": "planned", "points": "A01"})
    for need in ("3", "9"):
        job = reconciled(edit.set_fields(job, "point", "point-13", {"microphone": need, "mains": need}))
    openings = [o for o in job.all(Opening) if o.state == "in use"]
    assert sum(o.what == "microphone" for o in openings) == 9
    assert max(len(o.label) for o in openings) < 300
