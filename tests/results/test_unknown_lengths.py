"""A length that nobody knows yet is never a figure: no limit of a test rests on it, and it is asked for once."""

import pytest

from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import Results, compute
from stagefloor.steps.boxes.schedule import reconciled


def job(**settings: str) -> Results:
    """One box with a microphone, a loudspeaker and two data lines; nothing is said of the rack unless in `settings`."""
    found = set_fields(Job(), "settings", "job", {"units": "ft-in", "floor_type": "wood on joists", **settings})
    found, _ = add(found, "boxmodel", [{"label": "model", "across": "12", "along": "14", "depth": "5", "bays": "4"}])
    found, _ = add(found, "cabletype", [{"label": "pair", "what": "microphone", "diameter": "0.14", "awg": "22"},
                                        {"label": "two", "what": "loudspeaker", "diameter": "0.36", "awg": "12"},
                                        {"label": "four pairs", "what": "data", "diameter": "0.25"}])
    found, _ = add(found, "point", [{"label": "P1", "microphone": "1", "loudspeaker": "1", "data": "2"}])
    found, _ = add(found, "box", [{"label": "FB-1", "x": "9", "y": "-3", "points": "P1"}])
    return compute(reconciled(found))


def test_without_a_length_no_limit_rests_on_it() -> None:
    results = job()
    assert results.job.circuits()
    assert results.lengths() == {}
    for circuit in results.job.circuits():
        assert not {"loop resistance", "continuity", "leg match", "level"} & set(results.limits_of(circuit.id))


def test_with_a_length_the_loop_is_expected() -> None:
    results = job(rack_distance="100")
    microphone = next(c for c in results.job.circuits() if c.what == "microphone")
    # 22 AWG solid copper, 16.14 ohm in 1000 ft at 20 degrees C (NBS Handbook 100, table 6), two conductors; 13 ft of slack
    expected = results.limits_of(microphone.id)["loop resistance"].expected
    assert expected == pytest.approx(2 * 113 * 16.14 / 1000, rel=0.01)


def test_a_way_that_is_missing_for_one_reason_is_asked_for_once() -> None:
    asked = [i for i in job().items_of("cables") if i.code == "no-way"]
    assert len(asked) == 1
    assert not [i for i in job(rack_distance="100").items_of("cables") if i.code == "no-way"]


def test_what_is_unknown_is_said_once() -> None:
    said = [i.said for i in job().items]
    assert "where the joists are is not known" in said
    assert not [s for s in said if s.endswith((": unknown", ".:"))]
