"""A few hundred damaged and strange files of each kind; the great run of them is tests/fuzz.py with 100,000."""

import os
import random
import time
from collections.abc import Callable
from pathlib import Path

import fuzz
import pytest
from fuzz_job import ODD

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.edit import add, set_fields
from stagefloor.job.exchange import dxf_file, outlines, pdf_file
from stagefloor.job.model import Job

SEED = 20_260_301


@pytest.mark.parametrize(("kind", "count", "least"), [
    ("job files", 200, {"job files: opened": 60, "job files: refused": 60}),
    ("sheets", 300, {"sheets: phone: taken": 30, "sheets: phone: refused": 15, "sheets: table: taken": 15,
                     "sheets: table: refused": 15, "sheets: xlsx: taken": 3, "sheets: xlsx: refused": 15,
                     "sheets: tester: taken": 5, "sheets: tester: refused": 5}),
    ("drawings", 300, {"drawings: dxf: taken": 20, "drawings: dxf: refused": 20, "drawings: svg: taken": 15,
                       "drawings: svg: refused": 20, "drawings: pdf: taken": 10, "drawings: pdf: refused": 4,
                       "drawings: picture: taken": 10, "drawings: picture: refused": 10, "drawings: attached: taken": 6,
                       "drawings: attached: refused": 6, "drawings: kept: shown": 5, "drawings: kept: refused": 10}),
    ("histories", 150, {"histories: done": 60, "histories: refused": 30, "histories: damaged": 2}),
])  # fmt: skip
def test_a_share_of_the_great_run_finds_nothing(kind: str, count: int, least: dict[str, int]) -> None:
    found = fuzz.run(kind, count, SEED)
    assert found.faults == []
    assert {k: n for k, n in least.items() if found.kinds[k] < n} == {}, "too few of a kind: little is tested"
    assert found.slowest[0] < fuzz.SECONDS


def test_a_fault_is_found_and_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """The run above can fail: a file that brings more than was shown, a reader that falls, one that never ends."""
    transact = store.transact

    def more(path: Path, change: Callable[[Job], Job], name: str) -> Job:
        return transact(path, lambda job: add(change(job), "event", [{"label": "more"}])[0], name)

    with monkeypatch.context() as patch:
        patch.setattr(store, "transact", more)
        assert any("something else was taken in" in f for f in fuzz.run("sheets", 30, SEED).faults)

    def falls(*_given: object) -> None:
        raise KeyError("x")

    with monkeypatch.context() as patch:
        patch.setattr(dxf_file, "_lines", falls)  # a foreign reader may fall: that is a sentence
        patch.setattr(dxf_file, "on_grid", falls)
        assert fuzz.run("drawings", 30, SEED).faults == []
        patch.setattr(outlines, "to_bytes", falls)
        assert any("KeyError" in f for f in fuzz.run("drawings", 30, SEED).faults)

    with monkeypatch.context() as patch:
        patch.setattr(pdf_file, "plain_picture", lambda *_given, **_how: os._exit(9))  # pages are drawn in a fork
        told = fuzz.run("drawings", 60, SEED)
        assert told.faults == []
        assert told.kinds["drawings: pdf: taken"] == 0
        assert told.kinds["drawings: pdf: refused"] > 3

    with monkeypatch.context() as patch:
        patch.setattr(store, "from_data", falls)
        faults = fuzz.run("job files", 5, SEED).faults
    assert faults
    assert "KeyError" in faults[0]
    assert f"seed {SEED}, job files " in faults[0]

    def endless(*_given: object) -> None:
        while True:
            pass

    with monkeypatch.context() as patch:
        patch.setattr(store, "from_data", endless)
        patch.setattr(fuzz, "SECONDS", 0.05)
        assert any("longer than 0.05 s" in f for f in fuzz.run("job files", 5, SEED).faults)


def test_a_process_that_dies_or_hangs_does_not_stop_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    class Deadly:
        def __init__(self, _folder: Path) -> None: ...

        name = "deadly"

        def one(self, rng: random.Random) -> str:
            if rng.random() < 0.2:
                os._exit(9)
            if rng.random() < 0.1:
                time.sleep(60)
            return "lived"

    monkeypatch.setitem(fuzz.KINDS, "deadly", Deadly)
    monkeypatch.setattr(fuzz, "WAIT", 0.3)
    total = fuzz.Found()
    fuzz.watched("deadly", 3, 0, 20, total)
    died = [f for f in total.faults if "the process died" in f]
    hung = [f for f in total.faults if "no answer" in f]
    assert total.files == 20
    assert min(len(died), len(hung), total.kinds["deadly: lived"]) > 0


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
