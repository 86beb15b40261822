"""A great many damaged and strange files in one run: job files opened and edited, jobs with strange values, sheets, tables,
drawings and pictures taken in, histories gone back in.

Each file has a limit of time, kept by a watch in the same process and by a kill from outside, and each process a limit of
memory. Ctrl-C stops the run and tells what was found until then. A fault names its number; `--only` runs that one again.

Run:  .venv/bin/python tests/fuzz.py --workers 2 --seed 1
Again: .venv/bin/python tests/fuzz.py --seed 1 --only "sheets" 1234
"""

import argparse
import multiprocessing
import os
import random
import resource
import signal
import sys
import tempfile
import threading
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # each thread of it takes room in the memory that is allowed
TOP = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TOP / "lib"), str(TOP / "tests")]

from fuzz_drawings import Drawings  # noqa: E402
from fuzz_history import Histories  # noqa: E402
from fuzz_job import JobFiles  # noqa: E402
from fuzz_sheets import Sheets  # noqa: E402
from fuzz_values import Values  # noqa: E402

KINDS = {k.name: k for k in (JobFiles, Values, Sheets, Drawings, Histories)}
SECONDS = 5.0  # of the processor, for one file
WAIT = 60.0  # seconds by the clock until a process that does not even answer its watch is killed
MEMORY = 1000  # megabytes of one process
SHARE = 500  # files of one process: the next begins with clean memory
PROGRESS = 5.0  # seconds between two lines
LINUX = Path("/proc/self/clear_refs").exists()
NEVER = threading.Event()
LOCK = threading.Lock()  # what was found is added by one at a time
PLACE = "/dev/shm" if Path("/dev/shm").is_dir() else None  # files in memory: a flush costs nothing there


class TooSlow(BaseException):
    """A file took longer than is allowed. No `except Exception` catches it."""


@dataclass
class Found:
    """What became of the files, the slowest and the hungriest of them, and what went wrong."""

    kinds: Counter[str] = field(default_factory=Counter)
    slowest: tuple[float, str] = (0.0, "")
    hungriest: tuple[float, str] = (0.0, "")
    largest: float = 0.0
    faults: list[str] = field(default_factory=list)

    def add(self, other: "Found") -> None:
        self.kinds += other.kinds
        self.slowest, self.hungriest = max(self.slowest, other.slowest), max(self.hungriest, other.hungriest)
        self.largest = max(self.largest, other.largest)
        self.faults += other.faults

    @property
    def files(self) -> int:
        return sum(self.kinds.values()) + len(self.faults)

    def distinct(self) -> list[str]:
        """One fault of each kind whole, and the numbers of the others that ended on the same line."""
        alike: dict[str, list[str]] = {}
        for fault in self.faults:
            end = [line for line in fault.splitlines() if line.startswith("  File")][-1:]
            alike.setdefault(str(end), []).append(fault.encode("utf-8", "backslashreplace").decode())
        return [f"{same[0]}({len(same)} times: {', '.join(f.split(':')[0] for f in same[:6])})" for same in alike.values()]

    def told(self) -> str:
        what = ", ".join(f"{name} {number:,}" for name, number in sorted(self.kinds.items()))
        return (f"{self.files:,} files: {what or 'none'}; {len(self.faults)} faults\n"
                f"slowest {self.slowest[0]:.2f} s of {SECONDS:g} s allowed ({self.slowest[1]}); "
                f"most memory of one file {self.hungriest[0]:.0f} MB ({self.hungriest[1]}), "
                f"of one process {self.largest:.0f} MB of {MEMORY} MB allowed")


def memory() -> tuple[float, float]:
    """Megabytes of this process: now, and the most since `forget`."""
    if not LINUX:
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
        return most, most
    said = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
    return int(said["VmRSS"].split()[0]) / 1e3, int(said["VmHWM"].split()[0]) / 1e3


def forget() -> None:
    """Let the most memory be counted from now on."""
    if LINUX:
        Path("/proc/self/clear_refs").write_text("5")


def _ring(_number: int, _frame: object) -> None:
    raise TooSlow


def one(kind: Any, seed: int, number: int, found: Found) -> None:
    """File `number` of a kind, under its limit of time; what becomes of it is noted in `found`."""
    name = f"{kind.name} {number}"
    forget()
    had, started = memory()[0], time.process_time()
    signal.signal(signal.SIGPROF, _ring)
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        found.kinds[f"{kind.name}: {kind.one(random.Random(f'{seed}/{name}'))}"] += 1
    except TooSlow:
        found.faults.append(f"seed {seed}, {name}: longer than {SECONDS:g} s\n{traceback.format_exc(limit=-6)}")
    except Exception:
        found.faults.append(f"seed {seed}, {name}: {traceback.format_exc(limit=-6)}")
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    found.slowest = max(found.slowest, (time.process_time() - started, name))
    most = memory()[1]
    found.hungriest = max(found.hungriest, (most - had, name))
    found.largest = max(found.largest, most)


def share(kind: str, seed: int, first: int, count: int, tell: Connection) -> None:
    """Some files in a process of their own; the number of each is told before it begins, what was found at the end."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY * 10**6, MEMORY * 10**6))
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent stops the run
    with tempfile.TemporaryDirectory(dir=PLACE) as place:
        runs = KINDS[kind](Path(place))
        for number in range(first, first + count):
            tell.send(number)
            found = Found()
            one(runs, seed, number, found)
            tell.send(found)
    tell.send(None)


def watched(kind: str, seed: int, first: int, count: int, total: Found, stopped: threading.Event = NEVER) -> None:
    """A share run to its end, and past a file on which its process is killed or dies."""
    end = first + count
    while first < end and not stopped.is_set():
        with LOCK:  # a process that is made in between would hold this pipe open
            here, there = multiprocessing.Pipe(False)
            process = multiprocessing.get_context("fork").Process(target=share, args=(kind, seed, first, end - first, there))
            process.start()
            there.close()
        running = first
        try:
            while here.poll(WAIT):
                told = here.recv()
                if told is None or stopped.is_set():
                    return
                if isinstance(told, Found):
                    with LOCK:
                        total.add(told)
                    first = running + 1
                else:
                    running = told
            total.faults.append(f"seed {seed}, {kind} {running}: killed, no answer for {WAIT:g} s")
        except EOFError:
            total.faults.append(f"seed {seed}, {kind} {running}: the process died")
        finally:
            process.kill() if process.exitcode is None and first < end else None
            process.join()
            here.close()
        first = running + 1


def run(kind: str, count: int, seed: int) -> Found:
    """`count` files of a kind in this process, for a test."""
    found = Found()
    with tempfile.TemporaryDirectory(dir=PLACE) as place:
        runs = KINDS[kind](Path(place))
        for number in range(count):
            one(runs, seed, number, found)
    return found


def all_of(shares: list[tuple[str, int, int]], seed: int, workers: int, total: Found, tell: Callable[[], None]) -> None:
    """Every share, `workers` processes side by side; `tell` is called after each. What was found stays if it is stopped."""
    left = iter(shares)
    stopped = threading.Event()

    def work() -> None:
        while not stopped.is_set():
            with LOCK:
                one = next(left, None)
            if one is None:
                return
            watched(one[0], seed, one[1], one[2], total, stopped)
            with LOCK:
                tell()

    threads = [threading.Thread(target=work) for _ in range(workers)]
    for thread in threads:
        thread.start()
    try:
        for thread in threads:
            thread.join()
    except KeyboardInterrupt:
        stopped.set()
        for thread in threads:
            thread.join()
        raise


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--jobs", type=int, default=28_000)
    options.add_argument("--values", type=int, default=4_000)
    options.add_argument("--sheets", type=int, default=25_000)
    options.add_argument("--drawings", type=int, default=33_000)
    options.add_argument("--histories", type=int, default=10_000)
    options.add_argument("--workers", type=int, default=1, help="processes side by side")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", nargs=2, metavar=("KIND", "NUMBER"), help="one file again, such as: sheets 1234")
    given = options.parse_args()
    total, started, last = Found(), time.monotonic(), 0.0
    if given.only:
        watched(given.only[0], given.seed, int(given.only[1]), 1, total)
        print(*total.distinct(), total.told(), sep="\n")
        return 1 if total.faults else 0
    counts = {JobFiles: given.jobs, Values: given.values, Sheets: given.sheets, Drawings: given.drawings,
              Histories: given.histories}
    shares = [(kind.name, n, min(SHARE, count - n)) for kind, count in counts.items() for n in range(0, count, SHARE)]
    random.Random(given.seed).shuffle(shares)  # all kinds from the beginning, for whoever stops it early

    known = 0

    def tell() -> None:
        nonlocal last, known
        for fault in total.faults[known:]:
            print(fault.encode("utf-8", "backslashreplace").decode(), flush=True)
        known = len(total.faults)
        if time.monotonic() - last > PROGRESS:
            last = time.monotonic()
            print(f"{total.files:,} of {sum(counts.values()):,} files, {len(total.faults)} faults, "
                  f"slowest {total.slowest[0]:.2f} s, {last - started:.0f} s", flush=True)

    try:
        all_of(shares, given.seed, given.workers, total, tell)
    except KeyboardInterrupt:
        print("Stopped.")
    for fault in total.distinct():
        print(fault)
    print(f"seed {given.seed}, {time.monotonic() - started:.0f} s: {total.told()}")
    return 1 if total.faults else 0


if __name__ == "__main__":
    sys.exit(main())
