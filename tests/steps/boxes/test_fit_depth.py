"""The depth of a floor box against what is clear below, and what is said where that is not known.

The question is a field of the minimum survey sheet of the trade: "clear depth below".
"""

import pytest

from stagefloor.core.open_items import MEND, TO_DO, OpenItem
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.job.sheet import FloorZone, Joists
from stagefloor.results import compute
from stagefloor.steps.boxes.fit import open_items

ZONE = {"label": "Stage", "x0": "-9", "y0": "0", "x1": "9", "y1": "9"}


def stage(floor: str = "wood on joists", depth: str = "30 in") -> Job:
    """Two floor boxes of one model on a floor without a zone."""
    job = set_fields(Job(), "settings", "job", {"floor_type": floor})
    job, _ = add(job, "joists", [{"offset": "0", "spacing": "24 in", "width": "1.5 in"}])
    job, _ = add(job, "boxmodel", [{"label": "M", "across": "12 in", "along": "8 in", "bays": "2", "depth": depth,
                                    "front": "4 in", "behind": "3 in", "listed": "yes"}])
    job, _ = add(job, "point", [{"label": "P", "x": "1", "y": "3", "microphone": "1"}])
    return add(job, "box", [{"label": "FB-1", "x": "1", "y": "3", "points": "P"}, {"label": "FB-2", "x": "5", "y": "3"}])[0]


def said(job: Job, code: str) -> list[OpenItem]:
    return [i for i in open_items(job) if i.code == code]


def test_a_box_thirty_inches_deep_does_not_pass_in_silence() -> None:
    (item,) = said(stage(), "clear-below-unknown")
    assert item.state == TO_DO
    assert item.amount == "2 floor boxes: FB-1, FB-2"
    assert item.question.startswith("How much is clear below the finish under FB-1, FB-2")
    # the cure, followed: a floor zone round them with what is clear below
    assert "of a floor zone round them" in item.cure
    job, _ = add(stage(), "zone", [{**ZONE, "clear_below": "28 in"}])
    assert said(job, "clear-below-unknown") == []
    deep = said(job, "box-too-deep")
    assert [(i.subject, i.amount, i.state) for i in deep] == [
        (f"Floor box FB-{n}", "2' 6\" of 2' 4\"", MEND) for n in (1, 2)]


def test_a_zone_that_does_not_say_it_is_named() -> None:
    job, _ = add(stage(), "zone", [{**ZONE, "x1": "4"}])
    by_zone, by_none = said(job, "clear-below-unknown")
    assert (by_zone.subject, by_none.subject) == ("Floor Stage", "Floor")
    assert "of this floor zone" in by_zone.cure
    job = set_fields(job, "zone", job.all(FloorZone)[0].id, {"clear_below": "28 in"})
    assert [i.amount for i in said(job, "clear-below-unknown")] == ["1 floor box: FB-2"]


@pytest.mark.parametrize(("floor", "asked"), [("wood on joists", 1), ("raised access floor", 1), ("other", 1), ("", 1),
                                              ("post-tensioned slab", 0)])
def test_over_a_slab_the_build_up_and_the_slab_are_asked_instead(floor: str, asked: int) -> None:
    assert len(said(stage(floor), "clear-below-unknown")) == asked


def test_the_question_is_one_for_the_site() -> None:
    assert any("clear below the finish under FB-1, FB-2" in q for i in compute(stage()).items for q in [i.question])


def test_wall_panels_and_boxes_without_a_place_ask_nothing() -> None:
    job = stage()
    one, two = job.all(Box)
    job = set_fields(set_fields(job, "box", one.id, {"surface": "wall"}), "box", two.id, {"x": ""})
    assert said(job, "clear-below-unknown") == []


def test_a_model_whose_depth_or_free_depth_nobody_entered() -> None:
    job = stage(depth="")
    (item,) = said(job, "depth-unknown")
    assert item.state == TO_DO and item.question
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"depth": "5 in", "front": ""})
    assert said(job, "depth-unknown") == []
    assert len(said(job, "front-unknown")) == 1
    assert said(stage(), "front-unknown") == said(stage(), "behind-unknown") == []


def test_a_model_without_the_size_of_its_cutout_is_checked_against_nothing_and_says_so() -> None:
    job = stage(depth="5 in")
    assert said(job, "size-unknown") == []
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"across": ""})
    assert [i.state for i in said(job, "size-unknown")] == [TO_DO]


@pytest.mark.parametrize("wrong", [{"spacing": "0"}, {"width": "0"}, {"offset": ""}, {"spacing": ""}])
def test_joists_of_no_spacing_or_no_width_are_not_known(wrong: dict[str, str]) -> None:
    job = stage()
    job = set_fields(job, "joists", job.all(Joists)[0].id, wrong)
    assert [i.subject for i in said(job, "joists-unknown")] == ["Floor box FB-1", "Floor box FB-2"]


@pytest.mark.parametrize(("kind", "fields", "place"), [
    ("keepclear", {"label": "trap", "what": "trap"}, {"x0": "0", "y0": "5", "x1": "2", "y1": "7"}),
    ("zone", {"label": "Apron"}, {"x0": "0", "y0": "-5", "x1": "2", "y1": "-2"}),
    ("bearing", {"label": "beam"}, {"at": "7"}), ("tendon", {"label": "T1"}, {"at": "7"})])
def test_what_was_entered_without_a_place_is_asked_for(kind: str, fields: dict[str, str], place: dict[str, str]) -> None:
    # a survey sheet takes in a trap by its name alone
    job, (one,) = add(stage(), kind, [fields])
    (item,) = said(job, "no-place-yet")
    assert (item.state, item.record) == (TO_DO, (kind, one))
    assert fields["label"] in item.what
    assert item.question.startswith("Where is each ")
    assert said(set_fields(job, kind, one, place), "no-place-yet") == []
    assert len(said(set_fields(job, kind, one, dict([*place.items()][1:])), "no-place-yet")) == 1
