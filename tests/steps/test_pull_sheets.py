"""Pull sheets: every cable in every raceway of its way, from the far end to the rack, each from the reel of the cut list."""

from collections import Counter
from pathlib import Path

import pytest

from stagefloor.job import store
from stagefloor.job.cables import CableType, Segment
from stagefloor.job.edit import set_fields
from stagefloor.results import Results, compute
from stagefloor.steps.cables import one_a_cable
from stagefloor.steps.pull_sheets import string_words

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"


@pytest.fixture(scope="module", params=["quillhaven_playhouse", "ondry_hall"])
def results(request: pytest.FixtureRequest) -> Results:
    return compute(store.read(DEMOS / request.param).job)


def test_every_cable_stands_on_the_sheet_of_each_raceway_it_runs_in(results: Results) -> None:
    there = Counter((s.segment, c.id) for s in results.pull_sheets for c in (*s.cables, *s.already))
    wanted = Counter((segment, line.cable.id) for line in one_a_cable(results.lines) if line.cable
                     for segment in line.way.segments)
    assert there == wanted


def test_sheets_lead_from_the_far_end_to_the_rack(results: Results) -> None:
    """Each cable's sheets, in their order, make a chain: the near end of one is the far end of the next, the last is the
    rack. So all cables of a raceway lie ready at its far end when it is pulled."""
    assert [s.number for s in results.pull_sheets] == list(range(1, len(results.pull_sheets) + 1))
    racks = {n.name for n in results.job.tables["node"].values() if getattr(n, "what", "") == "rack"}
    for cable in {c.id for s in results.pull_sheets for c in s.cables}:
        mine = [s for s in results.pull_sheets if any(c.id == cable for c in s.cables)]
        assert [s.near for s in mine[:-1]] == [s.far for s in mine[1:]]
        assert mine[-1].near in racks


def test_a_cable_comes_from_the_reel_of_the_cut_list(results: Results) -> None:
    reel = {i: r.name for one in results.cut_lists if one.plan for r in one.plan.reels for i, _ in r.cuts}
    for sheet in results.pull_sheets:
        for c in sheet.cables:
            assert c.reel.startswith(reel[c.id])
            assert c.box_end.startswith(c.box)


def test_the_first_sheets_of_the_playhouse_by_hand() -> None:
    """FB-A9 is fed from U1: 6 microphones, line and intercom 2, loudspeaker 1, 2 video and 3 data; T2 to U1 is 16 ft."""
    sheets = compute(store.read(DEMOS / "quillhaven_playhouse").job).pull_sheets[:4]
    assert {s.signal_class: len(s.cables) for s in sheets} == {
        "line and intercom": 2, "microphone": 6, "loudspeaker": 1, "video and data": 5}
    assert {(s.far, s.near, round((s.metres or 0) / 0.3048, 6)) for s in sheets} == {("U1", "T2", 16.0)}
    # 3 + 10 slack, 1 and 9 ft and so on: the length by the scenario's raceways, worked in test_paths_lengths
    data = next(s for s in sheets if s.signal_class == "video and data")
    # TIA-568 series, as the table says
    assert any(h.startswith("No more than 110 N (25 lbf) on each four-pair cable (TIA-568") for h in data.hints)
    assert "leave it, tied off at both ends" in data.string


def test_a_pulled_cable_is_on_the_sheet_as_there_already() -> None:
    job = store.read(DEMOS / "ondry_hall").job
    circuit = next(c for c in job.circuits() if c.label == "B7-M1")
    before = compute(job).pull_sheets
    after = compute(set_fields(job, "circuit", circuit.id, {"state": "pulled"})).pull_sheets
    for a, b in zip(before, after, strict=True):
        moved = any(c.label == "B7-M1" for c in a.cables)
        assert len(a.cables) - len(b.cables) == moved
        assert len(b.already) == moved
        assert any("in it already" in h for h in b.hints) == moved


def test_a_box_without_a_drawn_way_gets_a_sheet_of_its_own() -> None:
    job = store.read(DEMOS / "ondry_hall").job
    job = set_fields(job, "settings", "job", {"rack_distance": "20 m"})
    for s in job.all(Segment):
        job = set_fields(job, "segment", s.id, {"blocked": "yes"})
    sheets = compute(job).pull_sheets
    assert [s.name for s in sheets] == [f"Way to {b.label}, not drawn" for b in job.boxes() if any(
        line.box.id == b.id for line in compute(job).lines)]
    assert all("Measure the way" in s.hints[0] for s in sheets)


def test_what_is_pulled_in_one_go_and_how_hard_is_said() -> None:
    """W1 is a wall opening: nobody can pull there, so rack to T1 is one pull. The tension is that of the pull's working."""
    job = store.read(DEMOS / "quillhaven_playhouse").job
    for kind in job.all(CableType):
        job = set_fields(job, "cabletype", kind.id, {"mass": "40 kg/km"})
    results = compute(job)
    for sheet in results.pull_sheets:
        (pull,) = [p for p in results.pulls if sheet.segment in p.segments]
        assert pull.tension is not None
        assert any(pull.tension.result.text() in h and f"Pull at {pull.pull_at}" in h for h in sheet.hints)
        one_go = any("in one go through" in h for h in sheet.hints)
        assert one_go == (sheet.name.startswith(("RK-W1", "W1-T1")))
    for kind in job.all(CableType):
        job = set_fields(job, "cabletype", kind.id, {"mass": ""})
    assert not any("Pull at" in h for s in compute(job).pull_sheets for h in s.hints)


@pytest.mark.parametrize(("fields", "words"), [
    ({"way": "EMT"}, "Pull a new string in"),
    ({"way": "trunking"}, "laid in"),
    ({"way": "EMT", "existing": True, "string": "unknown"}, "Prove it"),
    ({"way": "free path"}, "can't be reached again"),
    ({"way": "fished through"}, "can't be reached again"),
])
def test_what_is_done_about_the_string(fields: dict[str, object], words: str) -> None:
    assert words in string_words(Segment.model_validate({"id": "s", **fields}))
