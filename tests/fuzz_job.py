"""Damaged and strange job files, each through reading, upgrade, results, an edit and its undo: one is opened, or refused in
one sentence; never another error, never a value lost. `tests/fuzz.py` runs a great many of them.
"""

import copy
import json
import random
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from stagefloor.core.problems import Problem
from stagefloor.job import history, store
from stagefloor.job.edit import delete, duplicate, reorder, set_fields
from stagefloor.job.model import RECORDS, Job
from stagefloor.package import extract_client, extract_crew
from stagefloor.results import compute
from stagefloor.results.scenes import stage_scene
from stagefloor.steps.boxes.schedule import reconciled

TOP = Path(__file__).resolve().parents[1]
DEMOS = ("one_box", "quillhaven_playhouse", "ondry_hall")
# the small job most often: it is where one change goes the farthest
HOW_OFTEN = (0,) * 30 + (1, 2)

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
        records[rng.choice([*records, "spaceship", "settings", "\ud800", "a\nb"])] = records.pop(kind)
    elif roll < 0.98:
        data[rng.choice(["format", "sequence", "next_number", "settings", "records", "more"])] = rng.choice(ODD)
    elif isinstance(row, dict) and row:
        deep: Any = "x"
        for _ in range(rng.choice((3, 60, 400))):
            deep = [deep] if rng.random() < 0.5 else {"x": deep}
        row[rng.choice(list(row))] = deep


def structured(text: str, rng: random.Random) -> bytes:
    """The file with one to five changes in its structure, now and then in another format or line by line."""
    data = json.loads(text)
    for _ in range(rng.choice((1, 1, 1, 2, 5))):
        mutated(data, rng)
        if not isinstance(data.get("records"), dict):
            break
    made = json.dumps(data, indent=rng.choice((None, None, None, 1))).encode()
    roll = rng.random()
    if roll < 0.03:
        other = rng.choice((b"0", b"2", b"-1", b'"1"', b"1.0", b"null", b"99999"))
        made = made.replace(b'"format": 1', b'"format": ' + other)
    elif roll < 0.05:
        made = rng.choice((b"\xef\xbb\xbf", b"\r\n", b"\xff\xfe")) + made
    elif roll < 0.07:
        made += rng.choice((b"\0" * 512, b"\r\n", b"}", b"<<<<<<<", made))
    elif roll < 0.09:
        made = made.replace(b"\n", b"\r\n")
    return made


def bytewise(text: str, rng: random.Random) -> bytes:
    """The file with bytes changed, left out, doubled, or cut off."""
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


def one_sentence(problem: Problem) -> None:
    """A Problem is one line that can be shown."""
    assert problem.sentence.strip(), "no sentence"
    assert problem.sentence.isprintable(), f"a sentence that can't be shown: {problem.sentence!r}"
    problem.sentence.encode()


def content(job: Job) -> str:
    """All that a job holds, without its counters."""
    return store.to_text(Job(job.settings, job.tables, 0, 1, job.unread))


class JobFiles:
    """Job files one after the other in one folder."""

    name = "job files"

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.target = folder / store.FILE
        self.texts = [shortened(TOP / "demo_projects" / name / store.FILE) for name in DEMOS]

    def one(self, rng: random.Random) -> str:
        """'opened' or 'refused' for one file; anything else that happens is raised."""
        text = self.texts[rng.choice(HOW_OFTEN)]
        made = rng.choice((structured, structured, bytewise))(text, rng)
        self.target.write_bytes(made)
        try:
            found = store.read(self.target)
        except Problem as problem:
            one_sentence(problem)
            assert self.target.read_bytes() == made, "a refused file was changed"
            return "refused"
        for fault in found.faults:
            one_sentence(Problem(fault))
        written = store.to_text(found.job)
        again = store.from_data(json.loads(written), self.target)
        assert store.to_text(again.job) == written, "what was read is not what is written"
        assert sorted(again.faults) == sorted(found.faults), "other faults after writing"
        self.computed(found, rng)
        if rng.random() < 0.4:
            self.edited(found.job, rng)
        return "opened"

    def computed(self, found: store.Opened, rng: random.Random) -> None:
        """Everything that is worked out from the job, and now and then what readers would get of it."""
        results = compute(found.job, found.faults)
        results.workings()
        results.order_list()
        json.dumps([i.as_data() for i in results.items])
        if rng.random() < 0.1:
            for extract in (extract_client.extract, extract_crew.extract):
                try:
                    extract(results)
                except Problem as problem:
                    one_sentence(problem)
            stage_scene(found.job, True, True)

    def change(self, job: Job, rng: random.Random) -> Callable[[Job], Job]:
        """Some edit of some record."""
        kind = rng.choice([k for k, table in job.tables.items() if table] or ["settings"])
        one = rng.choice(list(job.tables.get(kind, {})) or ["job"])
        roll = rng.random()
        if kind == "settings" or roll < 0.4:
            return lambda job: set_fields(job, "settings", "job", {"venue": "X"})
        if roll < 0.6:
            field = rng.choice(list(RECORDS[kind].model_fields))
            value = rng.choice([*ODD, "x" * 4000])
            return lambda job: set_fields(job, kind, one, {field: value})
        if roll < 0.75:
            return lambda job: delete(job, kind, [one])
        if roll < 0.9:
            return lambda job: duplicate(job, kind, [one])[0]
        return lambda job: reorder(job, kind, sorted(job.tables[kind]))

    def edited(self, before: Job, rng: random.Random) -> None:
        """One edit as the pages make it, then its undo: all is as it was, and the history says so."""
        shutil.rmtree(self.folder / "history", ignore_errors=True)
        follow = reconciled if rng.random() < 0.5 else lambda job: job
        change = self.change(before, rng)
        try:
            after = store.transact(self.folder, lambda job: follow(change(job)), "edit")
        except Problem as problem:
            one_sentence(problem)
            assert not (self.folder / "history").exists(), "a refused edit is in the history"
            return
        read_again = json.loads(store.to_text(store.read(self.folder).job))
        assert read_again == json.loads(store.to_text(after)), "what was saved is not what is read"
        history.differences(before, after)
        if after.sequence == before.sequence:
            return
        assert [e.sequence for e in store.edits(self.folder)] == [after.sequence]
        assert content(history.state_at(self.folder, before.sequence)) == content(before), "the history tells another state"
        undone = store.undo(self.folder, after.sequence)
        assert content(undone) == content(before), "an undo does not bring all back"
