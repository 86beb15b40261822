"""Processes that are killed at any moment, or that write at the same time: every edit that was told as saved is there.

The great numbers, which take minutes (kills, processes, edits of each):
PYTHONPATH=lib .venv/bin/python tests/job/test_crash.py 1000 5 400
"""

import json
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.edit import add
from stagefloor.job.inventory import Event

LIB = Path(__file__).resolve().parents[2] / "lib"
KILLS = 60
WRITER = """
import os, sys
sys.path.insert(0, {lib!r})
from stagefloor.job import store
from stagefloor.job.edit import add
folder, name, many = sys.argv[1], sys.argv[2], int(sys.argv[3])
print("ready", flush=True)
sys.stdin.readline()
def work():
    for number in range(many):
        label = f"{{name}}.{{number}}"
        store.transact(folder, lambda job: add(job, "event", [{{"label": label}}])[0], "add " + label)
        os.write(1, (label + "\\n").encode())  # told as saved only after the call has returned
if len(sys.argv) > 4:  # a process for each kill, without paying the imports each time
    for child in range(int(sys.argv[4])):
        name = f"k{{child}}"
        pid = os.fork()
        if pid == 0:
            os.write(1, f"pid {{os.getpid()}}\\n".encode())  # before anything that it tells as saved
            work()
            os._exit(0)
        os.waitpid(pid, 0)
        os.write(1, b"over\\n")
        sys.stdin.readline()
else:
    work()
"""


def writer(folder: Path, name: str, many: int, *more: str) -> "subprocess.Popen[str]":
    code = WRITER.format(lib=str(LIB))
    process = subprocess.Popen([sys.executable, "-c", code, str(folder), name, str(many), *more], text=True, bufsize=1,
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def go(process: "subprocess.Popen[str]") -> None:
    assert process.stdin is not None
    process.stdin.write("\n")
    process.stdin.flush()


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system kills processes in another way")
def test_a_killed_process_loses_no_edit_that_was_told_as_saved(folder: Path) -> None:
    kill_again_and_again(folder, KILLS)


def kill_again_and_again(folder: Path, kills: int, seed: int = 7) -> int:
    """Kill a writing process `kills` times and look at the job after each; returns how many edits were told as saved."""
    rng = random.Random(seed)
    told: list[str] = []
    interrupted = 0
    with writer(folder, "k", 10_000, str(kills)) as parent:
        assert parent.stdout is not None
        for _ in range(kills):
            go(parent)
            child = int(parent.stdout.readline().split()[1])
            for _ in range(rng.randrange(4)):
                told.append(parent.stdout.readline().strip())
            time.sleep(rng.uniform(0.0, 0.03))
            subprocess.run(["kill", "-KILL", str(child)], check=True)
            while (line := parent.stdout.readline()) != "over\n":
                told.append(line.strip())
            opened = store.read(folder)  # the file opens after every kill
            assert opened.faults == ()
            labels = [e.label for e in opened.job.all(Event)]
            assert set(told) <= set(labels)
            # at most the one edit that was under way when the process died may be there without being told
            interrupted += len(labels) > len(told) + interrupted
            assert len(labels) <= len(told) + interrupted
            assert len(set(labels)) == len(labels) == opened.job.sequence
        go(parent)
    assert len(told) >= kills  # the kills came in the middle of work
    assert [e.sequence for e in store.edits(folder)] == list(range(1, len(labels) + 1))
    store.transact(folder, lambda job: add(job, "event", [{"label": "last"}])[0], "add last")
    assert not list(folder.glob("**/.*.new"))  # what the dead left behind is cleared away
    return len(told)


def test_five_processes_at_once_lose_nothing_and_leave_no_gap(folder: Path) -> None:
    write_at_once(folder, 5, 60)


def write_at_once(folder: Path, many: int, each: int) -> None:
    """`many` processes with `each` edits at the same time: all are there, in one sequence without a gap."""
    processes = [writer(folder, f"p{n}", each) for n in range(many)]
    for process in processes:
        go(process)
    told = [line for process in processes for line in process.communicate(timeout=1000)[0].split()]
    assert [p.returncode for p in processes] == [0] * many
    opened = store.read(folder)
    labels = [e.label for e in opened.job.all(Event)]
    assert sorted(labels) == sorted(told) == sorted(f"p{n}.{i}" for n in range(many) for i in range(each))
    assert opened.job.sequence == many * each
    assert [e.sequence for e in store.edits(folder)] == list(range(1, many * each + 1))
    assert len({e.id for e in opened.job.all(Event)}) == many * each
    for n in range(many):  # each process's own edits stand in its own order
        own = [x for x in labels if x.startswith(f"p{n}.")]
        assert own == [f"p{n}.{i}" for i in range(each)]
    assert any(a[:2] != b[:2] for a, b in zip(labels[:-1], labels[1:], strict=True))


HOLDER = """
import sys, time
sys.path.insert(0, {lib!r})
from filelock import FileLock
lock = FileLock(sys.argv[1])
lock.acquire()
print("held", flush=True)
time.sleep(60)
"""


def test_a_lock_blocks_while_its_process_lives_and_not_after(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lock = folder / ".job.lock"
    with subprocess.Popen([sys.executable, "-c", HOLDER.format(lib=str(LIB)), str(lock)], text=True,
                          stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        monkeypatch.setattr(store, "LOCK_SECONDS", 0.3)
        before = (folder / store.FILE).read_bytes()
        with pytest.raises(Problem, match="Someone else has been writing job.json"):
            store.transact(folder, lambda job: add(job, "event", [{"label": "a"}])[0], "add")
        assert (folder / store.FILE).read_bytes() == before
        holder.kill()
    store.transact(folder, lambda job: add(job, "event", [{"label": "a"}])[0], "add")
    assert json.loads((folder / store.FILE).read_text())["sequence"] == 1


def main() -> None:
    kills, many, each = (int(a) for a in sys.argv[1:4])
    done = told = 0
    while done < kills:  # a new job now and then: it stays of a size as in use
        share = min(50, kills - done)
        with tempfile.TemporaryDirectory() as place:
            told += kill_again_and_again(store.create(Path(place) / "job").parent, share, seed=done)
        done += share
    print(f"{done} kills while saving: all of {told} edits that were told as saved are there; the file opened each time")
    with tempfile.TemporaryDirectory() as place:
        started = time.monotonic()
        write_at_once(store.create(Path(place) / "job").parent, many, each)
        print(f"{many} processes, {many * each} edits at once: all there, history without a gap, "
              f"{time.monotonic() - started:.0f} s")


if __name__ == "__main__":
    main()
