"""The loose cable from a box to what plugs in, by hand: a triangle of 3, 4 and 5."""

import pytest

from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps.boxes import fit


@pytest.mark.parametrize("units", ["m", "ft-in"])
def test_the_loose_cable_of_a_point_by_hand(units: str) -> None:
    """From (-1, 2) to (2, 6), in metres or feet: 3 across, 4 up, 5 straight."""
    job = set_fields(Job(), "settings", "job", {"units": units})
    job, _ = add(job, "point", [{"label": "P", "x": "2", "y": "6", "microphone": "1"}])
    job, _ = add(job, "box", [{"label": "FB-1", "x": "-1", "y": "2", "points": "P"}])
    box, point = job.all(Box)[0], job.all(Point)[0]
    working = fit.loose_working(job, box, point)
    assert working is not None
    assert [(v.symbol, round(v.amount, 9)) for v in (*working.inputs, working.result)] == [("dx", 3), ("dy", 4), ("d", 5)]
    assert {v.unit for v in (*working.inputs, working.result)} == {"m" if units == "m" else "ft"}
    assert working in compute(job).workings()
