"""Who follows a cure is rid of its item: each shift that is advised is made, as it is said, and the job is asked again.

Beside our own second answer, shapely judges the cutout and the body, moved as told, against the joists laid out one by one.
"""

import re
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import box as rect

from stagefloor.core.open_items import OpenItem
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.job.sheet import Joists
from stagefloor.steps.boxes.fit import box_items, open_items

INCH = 0.0254
SHIFT = r"((?:\d+')? ?(?:\d+)?(?: ?\d+/\d+)?\"?|[\d.]+ m?m) (to stage left|to stage right|upstage|downstage)"
WAY = SHIFT + r"( to clear it| with [^;]* to the joist face| to centre it in the bay)?"
NEAREST = "nearest place clear of structure, edges, zones in its way and other floor boxes: "
LAID_OUT = 1e-4  # metres: less than any tape lays out
FIT = {"box-on-joist", "box-near-joist", "box-on-bearing", "pocket-on-tendon", "pocket-near-tendon", "outside-stage",
       "cover-near-edge", "box-in-zone", "cover-near-step"}


def metres(text: str) -> float:
    """A length as it is written on the page, in metres: 1' 2 3/4", 3/4", 76 mm, 1.25 m."""
    if text.endswith("m"):
        number, unit = text.split()
        return float(number) * (0.001 if unit == "mm" else 1.0)
    feet, _, inches = text.rpartition("'")
    parts = inches.strip(' "').split()
    return (12 * int(feet or 0) + float(sum(map(Fraction, parts)))) * INCH


def shift(size: str, way: str) -> tuple[float, float]:
    by = metres(size) * (1 if way in ("to stage left", "upstage") else -1)
    return (by, 0.0) if way.startswith("to ") else (0.0, by)


def moved(job: Job, *shifts: tuple[str, str], turn: bool = False) -> Job:
    """The job with its floor box moved as told."""
    one = job.all(Box)[0]
    assert one.x is not None
    assert one.y is not None
    by = [shift(*s) for s in shifts]
    return set_fields(job, "box", one.id, {
        "x": f"{one.x.si + sum(x for x, _ in by)!r} m", "y": f"{one.y.si + sum(y for _, y in by)!r} m",
        "turned": "yes" if turn != one.turned else "no"})


def said(job: Job) -> list[OpenItem]:
    return [i for i in box_items(job, job.all(Box)[0]) if i.code in FIT]


def codes(job: Job) -> set[str]:
    return {i.code for i in said(job)}


def to_joists(job: Job) -> tuple[float, float]:
    """(most that the body or cutout cuts into a joist, least distance of the cutout to one) by shapely, metres."""
    one, model, field = job.all(Box)[0], job.all(BoxModel)[0], job.all(Joists)[0]
    body = model.body_across or model.across
    x, y, across, along, wide = (q.si for q in (one.x, one.y, model.across, model.along, body) if q)
    half = (along / 2, across / 2) if one.turned else (across / 2, along / 2)
    below = (along / 2, wide / 2) if one.turned else (wide / 2, along / 2)
    cutout = rect(x - half[0], y - half[1], x + half[0], y + half[1])
    hole = rect(x - below[0], y - below[1], x + below[0], y + below[1]).union(cutout)
    offset, spacing, width = (q.si for q in (field.offset, field.spacing, field.width) if q)
    up = field.run == "up and down stage"
    cut, gap = 0.0, 9.0
    for k in range(-20, 21):
        low, high = offset + k * spacing - width / 2, offset + k * spacing + width / 2
        joist = rect(low, -9, high, 9) if up else rect(-9, low, 9, high)
        west, south, east, north = joist.intersection(hole).bounds or (0.0, 0.0, 0.0, 0.0)
        cut, gap = max(cut, east - west if up else north - south), min(gap, joist.distance(cutout))
    return cut, gap


def follow(job: Job) -> int:
    """Each way that a cure names is gone on its own; how many there were."""
    tried = 0
    for item in said(job):
        own, _, nearest = item.cure.partition(NEAREST)
        tight = {"box-near-joist"} if "no bay leaves" in own or "without the gap" in own else set()
        for size, way, what in re.findall(WAY, own):
            tried += 1
            after = moved(job, (size, way), turn="turn it a quarter" in own)
            gone = {"box-on-joist"} if what == " to clear it" else {"box-on-joist", "box-near-joist"} - tight \
                if what or "turn it" in own else set()
            assert not codes(after) & gone, (item.cure, codes(after))
            if gone:
                cut, gap = to_joists(after)
                assert cut <= LAID_OUT, item.cure
                assert "joist face" not in what or gap >= job.settings.joist_gap.si - LAID_OUT, item.cure
            else:  # a bearing line or a tendon: the same one is not said again
                assert (item.code, item.what) not in {(i.code, i.what) for i in said(after)}, item.cure
                if "tendon" in item.code:
                    name = item.what.split(" than ")[0].split()[-1]
                    assert not [i for i in said(after) if name in i.what.split()], item.cure
        if "turned a quarter it clears" in own:
            tried += 1
            assert not codes(moved(job, turn=True)) & {"box-on-joist", "box-near-joist"}, item.cure
        if nearest:
            tried += 1
            after = moved(job, *re.findall(SHIFT, nearest))
            assert not codes(after) - tight_of(after), (item.cure, codes(after))
            assert not [i for i in open_items(after) if i.code == "boxes-overlap"], item.cure
    return tried


def tight_of(job: Job) -> set[str]:
    """What can't be cured by moving: no bay leaves the gap of the policy."""
    return {i.code for i in said(job) if i.code == "box-near-joist" and "no bay leaves" in i.cure}


def place(low: float = -2.0, high: float = 2.0) -> st.SearchStrategy[float]:
    """Places as they come off a tape, a laser or a dragged drawing."""
    return st.one_of(st.floats(low, high).map(lambda v: round(v, 4)), st.floats(low, high),
                     st.integers(int(low / INCH * 16), int(high / INCH * 16)).map(lambda n: n * INCH / 16))


def sizes(least: float, most: float) -> st.SearchStrategy[float]:
    return st.one_of(st.integers(int(least * 1000), int(most * 1000)).map(lambda n: n / 1000),
                     st.integers(int(least / INCH * 8), int(most / INCH * 8)).map(lambda n: n * INCH / 8))


@st.composite
def wooden(draw: st.DrawFn) -> Job:
    """A floor box on joists of any spacing, with lines, an edge, steps and a trap about it."""
    units = draw(st.sampled_from(["ft-in", "m"]))
    job = set_fields(Job(), "settings", "job", {
        "units": units, "floor_type": draw(st.sampled_from(["wood on joists", ""])),
        "joist_gap": f"{draw(sizes(0.0, 0.03))!r} m", "stage_down": f"{draw(place(-1, 0))!r} m"})
    spacing = draw(sizes(0.3, 0.6))
    job, _ = add(job, "joists", [{"offset": f"{draw(place(-1, 1))!r} m", "spacing": f"{spacing!r} m",
                                  "width": f"{draw(sizes(0.035, 0.09))!r} m",
                                  "run": draw(st.sampled_from(["up and down stage", "across the stage"]))}])
    x, y = draw(place()), draw(place(0.2, 2.0))
    for n in range(draw(st.integers(0, 2))):
        job, _ = add(job, "bearing", [{"label": f"line {n}", "at": f"{draw(place(0, 2))!r} m"}])
    for kind in draw(st.lists(st.sampled_from(["trap", "step unit"]), max_size=2)):
        x0, y0, wide, high = x + draw(place(-1, 1)), y + draw(place(-1, 1)), draw(sizes(0.1, 0.6)), draw(sizes(0.1, 0.6))
        job, _ = add(job, "keepclear", [{"label": kind, "what": kind, "x0": f"{x0!r} m", "y0": f"{y0!r} m",
                                         "x1": f"{x0 + wide!r} m", "y1": f"{y0 + high!r} m"}])
    across, along = draw(sizes(0.1, 0.55)), draw(sizes(0.1, 0.55))
    job, _ = add(job, "boxmodel", [{"label": "M", "across": f"{across!r} m", "along": f"{along!r} m", "bays": "2",
                                    "flange": f"{draw(sizes(0.0, 0.03))!r} m",
                                    "body_across": f"{across + draw(sizes(0.0, 0.04))!r} m"}])
    job, _ = add(job, "box", [{"label": "FB-1", "model": "M", "x": f"{x!r} m", "y": f"{y!r} m",
                               "turned": draw(st.sampled_from(["yes", "no"]))}])
    if draw(st.booleans()):
        job, _ = add(job, "box", [{"label": "FB-2", "model": "M", "x": f"{x + draw(place(-1, 1))!r} m", "y": f"{y!r} m"}])
    return job


@settings(max_examples=100, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(wooden())
def test_on_wood(job: Job) -> None:
    follow(job)


@st.composite
def slabs(draw: st.DrawFn) -> Job:
    """A pocket in a slab with tendons both ways."""
    keep = draw(st.one_of(st.just(0.0), sizes(0.01, 0.1)))
    job = set_fields(Job(), "settings", "job", {"units": draw(st.sampled_from(["ft-in", "m"])), "tendon_gap": f"{keep!r} m",
                                                "stage_down": "-9 m"})
    job, _ = add(job, "zone", [{"label": "Stage", "floor_type": "post-tensioned slab", "x0": "-9 m", "y0": "-9 m",
                                "x1": "9 m", "y1": "9 m", "build_up": "50 mm", "slab": "250 mm"}])
    for n in range(draw(st.integers(1, 4))):
        run = draw(st.sampled_from(["up and down stage", "across the stage"]))
        at, half = draw(place(-1, 1)), draw(sizes(0, 0.1))
        job, _ = add(job, "tendon", [{"label": f"T{n}", "run": run, "at": f"{at!r} m", "half_width": f"{half!r} m"}])
    job, _ = add(job, "boxmodel", [{"label": "M", "across": f"{draw(sizes(0.1, 0.4))!r} m", "depth": "100 mm", "bays": "2",
                                    "along": f"{draw(sizes(0.1, 0.4))!r} m"}])
    x, y = draw(place(-1, 1)), draw(place(-1, 1))
    return add(job, "box", [{"label": "FB-1", "model": "M", "x": f"{x!r} m", "y": f"{y!r} m"}])[0]


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(slabs())
def test_in_a_slab(job: Job) -> None:
    follow(job)


def metric(x: str) -> Job:
    """A 265 mm box between 45 mm joists at 0, 400 mm and so on, of which it keeps 12.7 mm."""
    job = set_fields(Job(), "settings", "job", {"units": "m", "floor_type": "wood on joists", "joist_gap": "12.7 mm"})
    job, _ = add(job, "joists", [{"offset": "0", "spacing": "400 mm", "width": "45 mm"}])
    job, _ = add(job, "boxmodel", [{"label": "M", "across": "265 mm", "along": "265 mm", "bays": "2"}])
    return add(job, "box", [{"label": "FB-1", "model": "M", "x": x, "y": "3"}])[0]


def test_a_metric_shift_is_rounded_up() -> None:
    # by hand: cutout from 0.0926 - 0.1325 = -0.0399 m; to 22.5 + 12.7 = 35.2 mm it is 75.1 mm, so 76; 62.4 to the face: 63
    (item,) = said(metric("0.0926 m"))
    assert item.code == "box-on-joist"
    assert "move it 63 mm to stage left to clear it; 76 mm to stage left with 13 mm to the joist face" in item.cure
    assert said(metric("0.1686 m")) == []


def test_two_lengths_that_read_alike_are_told_finer() -> None:
    # cutout from 0.1676 - 0.1325 = 35.1 mm, face at 22.5: 12.6 of 12.7 mm
    (item,) = said(metric("0.1676 m"))
    assert (item.code, item.amount) == ("box-near-joist", "12.6 mm of 12.7 mm")
    assert item.cure.startswith("move it 1 mm to stage left")
    # in inches: cutout from 5.23 - 4 = 1.23 in, face at 3/4: 0.48 in, 7.68 sixteenths of 8, 15.36 of 16 thirty-seconds
    job = set_fields(metric("0"), "settings", "job", {"units": "ft-in", "joist_gap": "1/2 in"})
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"across": "8 in"})
    job = set_fields(job, "joists", job.all(Joists)[0].id, {"spacing": "16 in", "width": "1 1/2 in"})
    job = set_fields(job, "box", job.all(Box)[0].id, {"x": "5.23 in"})
    (item,) = said(job)
    assert item.amount == "15/32\" of 1/2\""


def test_a_bay_without_room_for_the_gap_says_so_and_centres_once() -> None:
    # bay 400 - 45 = 355 mm; cutout 340: 7.5 mm on each side of its middle at 200 mm, and never 12.7
    job = metric("0.2 m")
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"across": "340 mm"})
    (item,) = said(job)
    assert item.code == "box-near-joist"
    assert item.amount == "8 mm of 13 mm"  # 7.5 and 12.7, which read apart
    assert item.cure.startswith("no bay leaves 13 mm on both sides of it: a narrower model, or the opening framed")


@pytest.mark.parametrize("units", ["ft-in", "m"])
def test_the_nearest_place_keeps_off_steps_as_the_policy_has_it(units: str) -> None:
    # a trap under the box from x = -0.31 to 0.3 m: its cover is clear of it 465 mm to stage left, 475 mm to stage right.
    # To stage left it would end 10 mm from the steps at 0.64 m, of which it keeps 12 in (304.8 mm): to stage right then
    job = set_fields(metric("0"), "settings", "job", {"units": units, "floor_type": "other"})
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"across": "300 mm", "along": "300 mm", "flange": "15 mm"})
    job = set_fields(job, "box", job.all(Box)[0].id, {"x": "0 m", "y": "3 m"})
    job, _ = add(job, "keepclear", [
        {"label": "trap", "what": "trap", "x0": "-0.31 m", "y0": "2 m", "x1": "0.3 m", "y1": "4 m"},
        {"label": "steps", "what": "step unit", "x0": "0.64 m", "y0": "2 m", "x1": "2 m", "y1": "4 m"}])
    (item,) = said(job)
    assert {"m": "475 mm to stage right", "ft-in": "1' 6 3/4\" to stage right"}[units] in item.cure  # in steps of 1/4 in
    follow(job)


def test_the_nearest_place_is_not_on_another_box_and_hears_of_its_move() -> None:
    # over a trap from x = -0.31 to 0.3 m: clear of it 465 mm to stage left, where the cover of a box at 0.7 m begins at
    # 0.7 - 0.165 = 0.535 m; this one's would end at 0.465 + 0.165 = 0.63 m. To stage right it is 475 mm
    job = set_fields(metric("0"), "settings", "job", {"floor_type": "other"})
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"across": "300 mm", "along": "300 mm", "flange": "15 mm"})
    job, _ = add(job, "keepclear", [
        {"label": "trap", "what": "trap", "x0": "-0.31 m", "y0": "2 m", "x1": "0.3 m", "y1": "4 m"}])
    job, (other,) = add(job, "box", [{"label": "FB-2", "model": "M", "x": "0.7 m", "y": "3 m"}])

    def cure(job: Job) -> str:
        return next(i.cure for i in open_items(job) if i.code == "box-in-zone")

    assert cure(job).endswith("475 mm to stage right")
    assert cure(set_fields(job, "box", other, {"y": "2.5 m"})).endswith("465 mm to stage left")
    assert cure(set_fields(job, "box", other, {"x": "4 m"})).endswith("465 mm to stage left")


def test_an_edge_tells_how_far() -> None:
    # cover from y = 0.5 - 0.1325 - 0.0127 = 0.3548 m, 450 mm kept from the edge at 0: 95.2 mm, so 96
    job = set_fields(metric("0.2"), "settings", "job", {"floor_type": "other", "stage_down": "0", "edge_gap": "450 mm"})
    job = set_fields(job, "box", job.all(Box)[0].id, {"y": "0.5"})
    (item,) = said(job)
    assert item.code == "cover-near-edge"
    assert item.cure == "move it 96 mm upstage"
    assert said(set_fields(job, "box", job.all(Box)[0].id, {"y": "0.596"})) == []


@pytest.mark.parametrize(("events", "way"), [("Play", "475 mm to stage right"), ("Talk", "465 mm to stage left")])
def test_the_nearest_place_keeps_out_of_what_stands_there_when_the_box_is_used(events: str, way: str) -> None:
    # as above, with a set to stage left from 0.4 m on, in the event in which the box is used, or in another one
    job = set_fields(metric("0"), "settings", "job", {"floor_type": "other"})
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"across": "300 mm", "along": "300 mm", "flange": "15 mm"})
    job, _ = add(job, "event", [{"label": "Play"}, {"label": "Talk"}])
    job, _ = add(job, "point", [{"label": "P", "x": "0", "y": "3", "microphone": "1", "events": "Play"}])
    job = set_fields(job, "box", job.all(Box)[0].id, {"points": "P"})
    job, _ = add(job, "keepclear", [
        {"label": "trap", "what": "trap", "x0": "-0.31 m", "y0": "2 m", "x1": "0.3 m", "y1": "4 m"},
        {"label": "set", "x0": "0.4 m", "y0": "2 m", "x1": "2 m", "y1": "4 m", "events": events}])
    (item,) = said(job)
    assert item.cure.endswith(way)
