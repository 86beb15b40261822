"""A great many damaged and strange job files, each through reading, upgrade and results: it opens, or is refused in one
sentence; never another error, never slow, never large.

Run: .venv/bin/python tests/fuzz_job.py --count 100000 --seed 1 --processes 2
"""

import argparse
import copy
import json
import multiprocessing
import random
import resource
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

TOP = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TOP / "lib")]

from stagefloor.core.problems import Problem  # noqa: E402
from stagefloor.job import store  # noqa: E402
from stagefloor.results import compute  # noqa: E402

DEMOS = ("one_box", "quillhaven_playhouse", "ondry_hall")
SLOWEST = 10.0  # seconds for one file
MOST_MEMORY = 1000  # megabytes of one process

ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 10**6, 10**30, 1e308, -1e308, float("nan"), float("inf"), "", " ", "\0", "\ud800", "²", "١٢",
    "12", "12 ft", "-3 m", "1e999 ft", "9" * 400 + "/1 in", "0 in", "1/0 in", "1'", "'", "x" * 5000, "box-1", "event-999",
    "'; --", "=1+1", "<b>", "yes", [], ["event-1"], [1, None], [[]], {}, {"a": {"b": []}}, "1_000", "NaN", "−5", "½")


def shortened(path: Path) -> str:
    """A demo with a few lines of the kinds that have many: they would take all the hits."""
    data = json.loads(path.read_text(encoding="utf-8"))
    for kind in ("reading", "survey", "cable", "hourunit", "document", "cabletype"):
        data["records"][kind] = data["records"].get(kind, [])[:3]
    return json.dumps(data, indent=1)


def mutated(data: dict[str, Any], rng: random.Random) -> None:
    """One change somewhere in the structure: a value, a key, a line or a table."""
    records = data["records"]
    if not isinstance(records, dict) or not records:
        return
    kind = rng.choice(list(records))
    rows = records[kind] if isinstance(records[kind], list) else []
    row = rng.choice(rows) if rows and rng.random() < 0.9 else data.get("settings")
    roll = rng.random()
    if roll < 0.6 and isinstance(row, dict) and row:
        row[rng.choice(list(row))] = copy.deepcopy(rng.choice(ODD))
    elif roll < 0.7 and isinstance(row, dict) and row:
        row.pop(rng.choice(list(row)))
    elif roll < 0.76 and isinstance(row, dict):
        row[rng.choice(["", "x", "label", "\ud800", "id", "model_config", "__class__", "what"])] = rng.choice(ODD)
    elif roll < 0.82 and rows:
        rows.insert(rng.randrange(len(rows) + 1), copy.deepcopy(rng.choice([*ODD, rng.choice(rows)])))
    elif roll < 0.88 and rows:
        rows.pop(rng.randrange(len(rows)))
    elif roll < 0.92:
        records[kind] = copy.deepcopy(rng.choice(ODD))
    elif roll < 0.95:
        records[rng.choice([*records, "spaceship", "settings"])] = records.pop(kind)
    else:
        data[rng.choice(["format", "sequence", "next_number", "settings", "records", "more"])] = rng.choice(ODD)


def structured(text: str, rng: random.Random) -> bytes:
    data = json.loads(text)
    for _ in range(rng.choice((1, 1, 1, 2, 5))):
        mutated(data, rng)
        if not isinstance(data.get("records"), dict):
            break
    return json.dumps(data).encode()


def bytewise(text: str, rng: random.Random) -> bytes:
    raw = bytearray(text.encode())
    for _ in range(rng.choice((1, 1, 3, 10))):
        at = rng.randrange(len(raw))
        roll = rng.random()
        if roll < 0.4:
            raw[at] = rng.randrange(256)
        elif roll < 0.6:
            del raw[at:at + rng.randrange(1, 60)]
        elif roll < 0.8:
            raw[at:at] = bytes(rng.choice(b'{}[]",:0\\u') for _ in range(rng.randrange(1, 5)))
        elif roll < 0.9:
            raw[at:at] = raw[at:at + rng.randrange(1, 200)]
        else:
            del raw[at:]
        if not raw:
            return b""
    return bytes(raw)


@dataclass
class Found:
    """What became of the files: how many opened and were refused, the slowest, and what went wrong."""

    opened: int = 0
    refused: int = 0
    slowest: float = 0.0
    faults: list[str] = field(default_factory=list)

    def with_(self, other: "Found") -> "Found":
        return Found(self.opened + other.opened, self.refused + other.refused, max(self.slowest, other.slowest),
                     [*self.faults, *other.faults])


def one(target: Path, content: bytes, results: bool) -> str:
    """'opened' or 'refused' for one file; anything else that happens is raised."""
    target.write_bytes(content)
    try:
        found = store.read(target)
    except Problem as problem:
        assert problem.sentence, "no sentence"
        assert "\n" not in problem.sentence, "a sentence of two lines"
        assert target.read_bytes() == content, "a refused file was changed"
        return "refused"
    written = store.to_text(found.job)
    again = store.from_data(json.loads(written), target)
    assert store.to_text(again.job) == written, "what was read is not what is written"
    if results:
        computed = compute(found.job, found.faults)
        computed.workings()
        computed.order_list()
        json.dumps([i.as_data() for i in computed.items])
    return "opened"


def upgraded(content: bytes, rng: random.Random) -> bytes:
    """The same file with another format, in some of the cases."""
    other = rng.choice((b"0", b"2", b"-1", b'"1"', b"1.0", b"null", b"99999"))
    return content.replace(b'"format": 1', b'"format": ' + other)


def run(seed: int, count: int, every: int = 1) -> Found:
    """`count` files from `seed`; results are worked out for each `every`-th that opens."""
    rng = random.Random(seed)
    texts = [shortened(TOP / "demo_projects" / name / "job.json") for name in DEMOS]
    found = Found()
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / store.FILE
        for number in range(count):
            # the small job most often: it is where one change goes the farthest
            content = rng.choice((structured, structured, bytewise))(texts[rng.choice((0, 0, 0, 0, 0, 0, 0, 1, 2))], rng)
            if rng.random() < 0.03:
                content = upgraded(content, rng)
            started = time.perf_counter()
            try:
                what = one(target, content, number % every == 0)
                found.opened += what == "opened"
                found.refused += what == "refused"
            except Exception:
                found.faults.append(f"seed {seed}, file {number}: {traceback.format_exc(limit=-4)}")
            gone = time.perf_counter() - started
            found.slowest = max(found.slowest, gone)
            if gone > SLOWEST:
                found.faults.append(f"seed {seed}, file {number}: {gone:.1f} s")
    if megabytes() > MOST_MEMORY:
        found.faults.append(f"seed {seed}: {megabytes():.0f} MB")
    return found


def megabytes() -> float:
    """The most memory that this process ever had."""
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1e6 if sys.platform == "darwin" else 1e3)


def _share(given: tuple[int, int, int]) -> tuple[Found, float]:
    return run(*given), megabytes()


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--count", type=int, default=100_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--processes", type=int, default=2)
    options.add_argument("--results-every", type=int, default=1, help="work the results out for each n-th file only")
    given = options.parse_args()
    size = 500
    shares = [(given.seed + n, min(size, given.count - n * size), given.results_every)
              for n in range(-(-given.count // size))]
    total, most, started = Found(), 0.0, time.monotonic()
    with multiprocessing.get_context("spawn").Pool(given.processes) as pool:
        for done, (found, memory) in enumerate(pool.imap_unordered(_share, shares), 1):
            total, most = total.with_(found), max(most, memory)
            if done % 20 == 0:
                print(f"{done * size:,} files, {len(total.faults)} faults, {time.monotonic() - started:.0f} s", flush=True)
    print(f"{given.count:,} files from seed {given.seed}: {total.opened:,} opened, {total.refused:,} refused, "
          f"{len(total.faults)} faults; slowest {total.slowest:.2f} s, most memory {most:.0f} MB, "
          f"{time.monotonic() - started:.0f} s in all")
    for fault in total.faults[:20]:
        print(fault)
    return 1 if total.faults else 0


if __name__ == "__main__":
    sys.exit(main())
