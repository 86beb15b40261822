"""The plan and the lid disagree which way a cutout lies, where it matters to a joist.

By hand: joists up and down stage, 1.5 in wide, 16 in on centre, one centred on 8 in: the bay round the centre line is clear
from -7.25 to 7.25 in. A side of 12 in across the stage has 1.25 in to each face; one
of 20 in takes each joist in whole, 1.5 in.
"""

import pytest

from stagefloor.core.open_items import CHECK, OpenItem
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps.boxes import fit


def stage(along: str = "20 in", floor: str = "wood on joists", **box: str) -> Job:
    job = set_fields(Job(), "settings", "job", {"floor_type": floor, "joist_gap": "1/2 in"})
    job, _ = add(job, "joists", [{"offset": "8 in", "spacing": "16 in", "width": "1.5 in"}])
    job, _ = add(job, "boxmodel", [{"label": "M", "across": "12 in", "along": along, "bays": "2"}])
    job, _ = add(job, "point", [{"label": "P", "x": "0", "y": "3", "microphone": "1"}])
    return add(job, "box", [{"label": "FB-1", "x": "0", "y": "3 ft", "points": "P", **box}])[0]


def said(job: Job) -> list[OpenItem]:
    return [i for i in fit.box_items(job, job.all(Box)[0]) if i.code == "hinge-against-plan"]


@pytest.mark.parametrize("hinge", ["downstage", "upstage"])
def test_a_hinge_that_lays_the_long_side_across_the_joists_is_said(hinge: str) -> None:
    (item,) = said(stage(hinge=hinge))
    assert item.state == CHECK
    assert item.what.startswith(f"the lid hinges {hinge}, so that the 1' 8\" side lies across the stage")
    assert item.what.endswith("the cutout cuts into a joist")
    sides, joist = item.workings
    assert [round(v.amount, 4) for v in (*sides.inputs, sides.result)] == [1.0, 1.6667]
    assert round(joist.result.amount * 12, 3) == 1.5


@pytest.mark.parametrize("change", [
    {"hinge": "stage left"},                    # the short side is square to the hinge, and across the stage
    {"hinge": "downstage", "turned": "yes"},    # the plan has the long side there too, and says that it cuts
    {}])                                        # nobody has said where the hinge is
def test_where_they_agree_or_no_hinge_was_entered_nothing_is_said(change: dict[str, str]) -> None:
    assert said(stage(**change)) == []


def test_a_side_hinge_against_a_turned_box_is_said() -> None:
    job = stage(along="8 in", hinge="stage right", turned="yes", x="2 in")  # 8 in: -2 .. 6; 12 in: -4 .. 8
    (item,) = said(job)
    assert "the lid hinges towards stage right" in item.what


@pytest.mark.parametrize(("along", "floor"), [("12 in", "wood on joists"), ("8 in", "wood on joists"),
                                              ("20 in", "suspended concrete slab")])
def test_where_it_makes_no_difference_nothing_is_said(along: str, floor: str) -> None:
    assert said(stage(along=along, floor=floor, hinge="downstage")) == []
