"""Two thousand damaged and strange job files: each opens, or is refused in one sentence; never another error."""

import copy
import json
import random
from pathlib import Path
from typing import Any

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.edit import set_fields
from stagefloor.results import compute

SEED = 20_260_301
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


@pytest.mark.parametrize("how", [structured, bytewise])
def test_a_strange_file_opens_or_is_refused_in_one_sentence(demo: dict[str, Path], tmp_path: Path, how: Any) -> None:
    rng = random.Random(SEED)
    text = shortened(demo["one_box"])
    target = tmp_path / store.FILE
    opened = refused = 0
    for number in range(1000):
        content = how(text, rng)
        target.write_bytes(content)
        try:
            found = store.read(tmp_path)
        except Problem as problem:
            refused += 1
            assert problem.sentence, number
            assert "\n" not in problem.sentence, number
            assert target.read_bytes() == content
            continue
        opened += 1
        # what was read can be written, and reads the same again: nothing that was typed is lost on the way
        written = store.to_text(found.job)
        again = store.from_data(json.loads(written), target)
        assert store.to_text(again.job) == written, number
        assert sorted(again.faults) == sorted(found.faults), number
    assert opened > 100  # the damage is not so heavy that nothing is tested
    assert refused > 100


def test_what_is_computed_from_a_strange_file_never_fails(demo: dict[str, Path], tmp_path: Path) -> None:
    rng = random.Random(SEED + 1)
    texts = [shortened(demo["one_box"]), shortened(demo["quillhaven_playhouse"])]
    done = 0
    for number in range(200):
        (tmp_path / store.FILE).write_bytes(structured(texts[number % 2], rng))
        try:
            found = store.read(tmp_path)
        except Problem:
            continue
        results = compute(found.job, found.faults)
        results.workings()
        results.order_list()
        done += 1
    assert done > 50


def test_strange_texts_typed_into_any_field_are_read_or_refused(demo: dict[str, Path]) -> None:
    rng = random.Random(SEED + 2)
    job = store.read(demo["quillhaven_playhouse"]).job
    kinds = [k for k, t in job.tables.items() if t]
    for number in range(600):
        kind = rng.choice(kinds)
        record = rng.choice(list(job.tables[kind].values()))
        field = rng.choice(list(type(record).model_fields))
        try:
            changed = set_fields(job, kind, record.id, {field: rng.choice(ODD)})
        except Problem as problem:
            assert problem.sentence, number
            continue
        store.to_text(changed).encode()
