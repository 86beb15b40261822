"""Plugs and covers: closing lids, room behind the plate, a cover where the public walks, a cutout turned a quarter."""

import pytest

from stagefloor.core.open_items import CHECK, MEND, STOP, TO_DO, OpenItem
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps.boxes.fit import box_items, open_items


def hall(model: dict[str, str] | None = None, basis: str = "US", public: str = "yes", **counts: str) -> Job:
    """One floor box in a wooden floor, 12 x 8 in with joists far away, and one point with the counts."""
    job = set_fields(Job(), "settings", "job", {"units": "m", "basis": basis})
    job, _ = add(job, "zone", [{"label": "Aisle", "floor_type": "wood on joists", "x0": "-5", "y0": "-5", "x1": "5",
                                "y1": "5", "z": "-0.6", "public": public}])
    job, _ = add(job, "joists", [{"offset": "0", "spacing": "2 m", "width": "45 mm"}])
    job, _ = add(job, "boxmodel", [{"label": "model", "across": "300 mm", "along": "200 mm", "depth": "100 mm",
                                    "bays": "3", "front": "80 mm", "behind": "70 mm", "proud": "0 mm", "listed": "yes",
                                    **(model or {})}])
    job, _ = add(job, "point", [{"label": "P", "x": "1", "y": "0", **(counts or {"microphone": "1"})}])
    return add(job, "box", [{"label": "FB-1", "model": "model", "x": "1", "y": "0", "points": "P"}])[0]


def found(job: Job) -> dict[str, OpenItem]:
    return {i.code: i for i in box_items(job, job.all(Box)[0])}


# Table of connections (common practice, no source): a 3-pin XLR with its cord takes 65 mm in front, 45 mm behind;
# an 8P8C 60 mm in front, 60 mm behind.
@pytest.mark.parametrize(("front", "closes"), [("38 mm", False), ("64 mm", False), ("65 mm", True), ("78 mm", True)])
def test_lid_over_a_straight_connector(front: str, closes: bool) -> None:
    items = found(hall({"front": front}, public="no"))
    assert ("lid-wont-close" not in items) == closes
    if not closes:
        item = items["lid-wont-close"]
        assert item.state == MEND and item.amount == f"{front} free, 65 mm needed"
        assert "right-angle" in item.cure and "sloped" in item.cure and "common practice" in item.basis


def test_depth_behind_each_connector() -> None:
    items = found(hall({"behind": "48 mm"}, public="no", microphone="1", data="1"))
    item = items["behind-too-short"]
    assert item.state == CHECK and item.amount == "48 mm free, 60 mm needed"
    assert "plate for data:" in item.what  # 45 mm of the XLR fits
    assert found(hall({"behind": "60 mm"}, public="no", microphone="1", data="1")) == {}


def test_a_model_without_the_figure_is_asked_for_once() -> None:
    job, _ = add(hall({"behind": ""}), "box", [{"label": "FB-2", "model": "model", "x": "1", "y": "2", "points": ""}])
    asked = [i for i in open_items(job) if i.code == "behind-unknown"]
    assert [(i.state, i.amount) for i in asked] == [(TO_DO, "1 of 1 models in use")]
    assert not [i for i in open_items(hall()) if i.code == "behind-unknown"]


# 2010 ADA 303.2 and 303.3: 1/4 in (6.35 mm) upright, 1/2 in (12.7 mm) in all with a bevel.
# Approved Document M vol. 2 (from memory): 15 mm at most, more than 5 mm chamfered or rounded.
@pytest.mark.parametrize(("basis", "proud", "state"), [
    ("US", "0 mm", ""), ("US", "6.3 mm", ""), ("US", "6.4 mm", CHECK), ("US", "12.7 mm", CHECK), ("US", "12.8 mm", MEND),
    ("IEC/UK", "5 mm", ""), ("IEC/UK", "5.1 mm", CHECK), ("IEC/UK", "15 mm", CHECK), ("IEC/UK", "15.1 mm", MEND)])
def test_covers_where_the_public_walks(basis: str, proud: str, state: str) -> None:
    items = found(hall({"proud": proud}, basis))
    assert items["audience-floor"].state == CHECK
    assert ("ADA" in items["audience-floor"].basis) == (basis == "US")
    assert (items["cover-proud"].state if "cover-proud" in items else "") == state


def test_an_unknown_cover_stops_where_the_public_walks_and_nowhere_else() -> None:
    item = found(hall({"proud": ""}))["cover-level-unknown"]
    assert item.state == STOP and item.question == "How far does the cover of model stand proud of the floor?"
    assert found(hall({"proud": ""}, public="no")) == {}


def turned(across: str, along: str, x: str, offset: str) -> str:
    job = set_fields(Job(), "settings", "job", {"units": "ft-in", "floor_type": "wood on joists"})
    job, _ = add(job, "joists", [{"offset": offset, "spacing": "16 in", "width": "1.5 in"}])
    job, _ = add(job, "boxmodel", [{"label": "model", "across": across, "along": along, "depth": "5 in", "bays": "2"}])
    job, _ = add(job, "box", [{"label": "FB-1", "model": "model", "x": x, "y": "0"}])
    return found(job)["box-on-joist"].cure


def test_a_cutout_too_wide_for_the_bay_is_tried_turned_a_quarter() -> None:
    # bay 16 - 1.5 = 14.5 in; 15 in does not fit it, 8 in does. Joists at 0 and 16 in, box in the middle of the bay:
    assert "turned a quarter it clears the joists" in turned("15 in", "8 in", "8 in", "0 in")
    # middle at 3 in: turned from -1 to 7 in; clear of the joist (0.75 in) by 1/2 in needs 2.25 in = 0.19 ft
    assert "turn it a quarter and move it 2 1/4\" to stage left" in turned("15 in", "8 in", "3 in", "0 in")
    assert "turned or not" in turned("15 in", "15 in", "8 in", "0 in")
