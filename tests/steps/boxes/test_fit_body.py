"""The body under the floor against joists and bearings: the flange may lap a member, the body may not.

Expected values by hand, from the arithmetic of the bay (trade rule: the body fits the clear bay, 14.5 in at 16 in spacing;
the flange may lap the joist, the body may not; computed). One joist is centred on 6 in, 1.5 in wide, 16 in on centre: the
bay to stage right is clear from -10 + 0.75 = -9.25 in to 6 - 0.75 = 5.25 in, which is 14.5 in, its middle at -2 in.
"""

import pytest

from stagefloor.core.open_items import CHECK, MEND, OpenItem
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps.boxes import fit
from stagefloor.steps.boxes.fit_outline import outlines
from stagefloor.steps.boxes.fit_shift import Surroundings

INCH = 0.0254


def stage(x: str = "-2 in", y: str = "3 ft", **model: str) -> Job:
    job = set_fields(Job(), "settings", "job", {"floor_type": "wood on joists", "joist_gap": "1/2 in"})
    job, _ = add(job, "joists", [{"offset": "6 in", "spacing": "16 in", "width": "1.5 in"}])
    job, _ = add(job, "boxmodel", [{"label": "M", "across": "12 in", "along": "8 in", "bays": "2"} | model])
    job, _ = add(job, "point", [{"label": "P", "x": "0", "y": "3", "microphone": "1"}])
    return add(job, "box", [{"label": "FB-1", "x": x, "y": y, "points": "P"}])[0]


def said(job: Job, code: str) -> list[OpenItem]:
    return [i for i in fit.box_items(job, job.all(Box)[0]) if i.code == code]


def amounts(item: OpenItem) -> dict[str, float]:
    """Values of the item's first working by symbol, in inches."""
    (working, *_) = item.workings
    return {v.symbol: round(v.amount * 12, 3) for v in (*working.inputs, working.result)}


@pytest.mark.parametrize("body", ["", "11.75 in", "14 in", "14.5 in"])
def test_a_body_that_fits_the_clear_bay_is_fine_in_its_middle(body: str) -> None:
    job = stage(body_across=body) if body else stage()
    assert said(job, "box-on-joist") == said(job, "box-near-joist") == []


def test_a_body_that_is_wider_than_the_bay_cuts_both_joists_however_it_lies() -> None:
    (item,) = said(stage(body_across="15 in"), "box-on-joist")  # -9.5 .. 5.5 in: a quarter inch into each
    assert (item.state, item.what, item.amount) == (MEND, "the body cuts into a joist", "1/4\"")
    assert amounts(item) == {"s": 16.0, "w": 1.5, "a": -9.5, "b": 5.5, "c": 0.25}
    assert "the flange may lap a joist, the body may not" in item.basis
    assert any("14.5 in at 16 in spacing" in b.line() for b in item.workings[0].basis)
    assert "turned a quarter it clears the joists" in item.cure  # 8 in


def test_a_flange_may_lap_a_joist() -> None:
    assert said(stage(flange="3 in"), "box-on-joist") == []


def test_where_the_body_cuts_the_shift_is_the_body_s() -> None:
    job = stage(x="-1 in", body_across="14 in")  # -8 .. 6 in: 0.75 in into the joist at 6 in
    (item,) = said(job, "box-on-joist")
    assert amounts(item)["c"] == 0.75
    assert item.cure.startswith('move it 3/4" to stage right to clear it')
    box = job.all(Box)[0]
    shape = outlines(job, box)
    assert shape is not None
    round_it = Surroundings(job, box, shape)
    assert not round_it.clear(-0.5 * INCH, 0.0)
    assert round_it.clear(-0.75 * INCH, 0.0)  # the body touches, the cutout has 1 in to the face


def test_the_cutout_keeps_its_gap_under_a_body_that_is_a_little_wider() -> None:
    # cutout 12 in, body 12.5 in: at -1.5 in the cutout is at 4.5 in, 0.75 in from the face; at -1.1 in 0.35 in of 1/2 in
    assert said(stage(x="-1.5 in", body_across="12.5 in"), "box-near-joist") == []
    (item,) = said(stage(x="-1.1 in", body_across="12.5 in"), "box-near-joist")
    assert item.state == CHECK
    assert amounts(item)["c"] == 0.35


def test_the_body_lies_on_a_bearing_line() -> None:
    job, _ = add(stage(body_along="12 in"), "bearing", [{"label": "B", "at": "3 ft 6 in", "half_width": "0.75 in"}])
    (item,) = said(job, "box-on-bearing")  # body to 3 ft 6 in, line kept clear from 3 ft 5.25 in
    assert item.what.startswith("the body lies on the bearing line B")
    assert amounts(item)["c"] == 0.75
    assert job.all(BoxModel)[0].along is not None
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"body_along": "10.5 in"})
    assert said(job, "box-on-bearing") == []
