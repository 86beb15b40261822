"""A thousand crashes in the middle of saving, half of them with the power gone: every edit told as saved is there."""

import random
from pathlib import Path

import pytest
from faulty_disk import Crash, Disk

from stagefloor.job import history, store
from stagefloor.job.edit import add
from stagefloor.job.inventory import Event

CRASHES = 1000
EDITS = 3  # at most, before each crash
POINTS = 14  # of one edit, about
FRESH = 10  # crashes of one job: it stays small


@pytest.fixture
def disk(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Disk:
    made = Disk(folder, random.Random(11))
    made.into(monkeypatch)
    monkeypatch.setattr(store, "VERSIONS_KEPT", 4)  # fewer copies to look after each time
    return made


def crashed(disk: Disk, told: list[str], tag: str) -> bool:
    """Edit until the process dies, noting what was told as saved; False if it lived."""
    disk.left = disk.rng.randrange(1, EDITS * POINTS)
    try:
        for number in range(EDITS):
            label = f"{tag}.{number}"

            def change(job: store.Job, label: str = label) -> store.Job:
                return add(job, "event", [{"label": label}])[0]

            store.transact(disk.folder, change, f"add {label}")
            told.append(label)
    except Crash:
        return True
    finally:
        disk.left = -1
    return False


def test_every_edit_told_as_saved_outlives_a_thousand_crashes(disk: Disk) -> None:
    told: list[str] = []
    crashes = cuts = unfinished = number = 0
    while crashes < CRASHES:
        number += 1
        if number % FRESH == 0:
            for path in [p for p in disk.folder.rglob("*") if p.is_file()]:
                path.unlink()
            store.create(disk.folder)
            told, unfinished = [], 0
            disk.start()
        if not crashed(disk, told, str(number)):
            continue
        crashes += 1
        if disk.rng.random() < 0.5:
            disk.power_cut()
            cuts += 1
        disk.start()
        opened = store.read(disk.folder)
        assert opened.faults == ()
        labels = [e.label for e in opened.job.all(Event)]
        assert set(told) <= set(labels), f"lost after crash {crashes}"
        # the one edit that was under way may be there, whole, without having been told
        unfinished = len(labels) - len(told)
        assert unfinished in (0, 1)
        told[:] = labels
        assert [e.sequence for e in store.edits(disk.folder)] == list(range(1, opened.job.sequence + 1)), crashes
        assert opened.job.sequence == len(labels)
    assert 400 < cuts < 600


def test_a_crash_while_going_back_leaves_the_one_state_or_the_other(disk: Disk) -> None:
    """Going back, and the undo of it, killed at every point and half of the times with the power gone."""
    for label in "abc":
        store.transact(disk.folder, lambda job, label=label: add(job, "event", [{"label": label}])[0], label)  # type: ignore[misc]
    start = {p: p.read_bytes() for p in disk.folder.rglob("*") if p.is_file()}
    ends = set()
    for point in range(1, 80):
        for path in [p for p in disk.folder.rglob("*") if p.is_file() and p.name != ".job.lock"]:
            path.unlink()
        for path, data in start.items():
            path.write_bytes(data)
        disk.start()
        disk.left = point
        told = 0
        try:
            back = store.transact(disk.folder, history.back_to(disk.folder, 1), "back")
            told = 1
            store.undo(disk.folder, back.sequence)
            told = 2
        except Crash:
            pass
        disk.left = -1
        if disk.rng.random() < 0.5:
            disk.power_cut()
        disk.start()
        job = store.read(disk.folder).job
        done = job.sequence - 3
        ends.add(done)
        assert told <= done <= told + 1
        assert [e.label for e in job.all(Event)] == (["a"] if done == 1 else ["a", "b", "c"])
        assert [e.sequence for e in store.edits(disk.folder)] == list(range(1, job.sequence + 1))
        for number in range(3):
            assert len(history.state_at(disk.folder, number + 1).all(Event)) == number + 1
    assert ends == {0, 1, 2}


def test_a_disk_that_lies_about_flushing_would_be_noticed(disk: Disk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The test above can fail: without flushing, edits that were told are lost."""
    monkeypatch.setattr(store.os, "fsync", lambda _handle: None)
    lost = 0
    for number in range(40):
        told: list[str] = []
        crashed(disk, told, str(number))
        disk.power_cut()
        disk.start()
        try:
            labels = [e.label for e in store.read(disk.folder).job.all(Event)]
            lost += not set(told) <= set(labels)
        except store.Problem:
            lost += 1
            for path in [p for p in disk.folder.rglob("*") if p.is_file()]:
                path.unlink()
            store.create(disk.folder)
            disk.start()
    assert lost > 5
