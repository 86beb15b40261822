"""Two thousand damaged and strange job files: each opens, or is refused in one sentence; never another error."""

import json
import random
from pathlib import Path
from typing import Any

import pytest
from fuzz_job import ODD, bytewise, run, shortened, structured

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.edit import set_fields
from stagefloor.results import compute

SEED = 20_260_301


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


def test_a_share_of_the_great_run_finds_nothing() -> None:
    """The great run is tests/fuzz_job.py with 100,000 files; here a share of it with seeds of its own."""
    found = run(SEED + 3, 600, every=4)
    assert found.faults == []
    assert min(found.opened, found.refused) > 60
    assert found.slowest < 10
