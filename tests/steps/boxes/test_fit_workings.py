"""What the workings of the fit show, by hand: a loose cable, room at the plate, a cover in a zone.

A 3-pin XLR takes 65 mm in front of the plate and 45 mm behind it with cord and tails (common practice, no source).
"""

import pytest

from stagefloor.core.workings import Working
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps.boxes import fit


def working_of(job: Job, code: str) -> Working:
    (item,) = [i for i in fit.box_items(job, job.all(Box)[0]) if i.code == code]
    return item.workings[0]


def values(working: Working) -> list[float]:
    return [v.amount for v in (*working.inputs, working.result)]


def stage(units: str, **model: str) -> Job:
    """One box of 300 x 200 mm with its middle at (1 m, 0) for one microphone; no flange."""
    job = set_fields(Job(), "settings", "job", {"units": units, "floor_type": "wood on joists"})
    job, _ = add(job, "boxmodel", [{"label": "M", "across": "300 mm", "along": "200 mm", "flange": "0 mm", "bays": "2",
                                    **model}])
    job, _ = add(job, "point", [{"label": "P", "x": "1 m", "y": "0 m", "microphone": "1"}])
    return add(job, "box", [{"label": "FB-1", "model": "M", "x": "1 m", "y": "0 m", "points": "P"}])[0]


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


@pytest.mark.parametrize(("units", "unit", "metre"), [("m", "m", 1.0), ("ft-in", "ft", 1 / 0.3048)])
def test_the_room_at_the_plate_by_hand(units: str, unit: str, metre: float) -> None:
    """60 mm free in front and 40 mm behind, where 65 and 45 mm are needed."""
    job = stage(units, front="60 mm", behind="40 mm")
    for code, needed, free in (("lid-wont-close", 0.065, 0.060), ("behind-too-short", 0.045, 0.040)):
        working = working_of(job, code)
        assert values(working) == pytest.approx([needed * metre] * 2)
        assert working.limit is not None
        assert working.limit.amount == pytest.approx(free * metre)
        assert {v.unit for v in (*working.inputs, working.result, working.limit)} == {unit}


@pytest.mark.parametrize(("units", "metre"), [("m", 1.0), ("ft-in", 1 / 0.3048)])
def test_a_cover_in_a_zone_by_hand(units: str, metre: float) -> None:
    """Cover 0.85 to 1.15 m across, -0.1 to 0.1 m up; the zone from 1.1 m across, from 0.03 m up: 0.05 m is the smaller."""
    job, _ = add(stage(units), "keepclear", [{"label": "Trap", "what": "trap", "x0": "1.1 m", "x1": "3 m", "y0": "0.03 m",
                                              "y1": "2 m"}])
    assert values(working_of(job, "box-in-zone")) == pytest.approx([v * metre for v in (0.85, 1.15, -0.1, 0.1, 0.05)])
