"""The nearest clear place against a plain search of the whole square of steps."""

import random
import re
from math import hypot

import pytest
from shapely.geometry import LineString, box

from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps.boxes.fit import box_items
from stagefloor.steps.boxes.fit_outline import outlines
from stagefloor.steps.boxes.fit_shift import Surroundings

HALF, FLANGE, GAP, EDGE = 0.15, 0.01, 0.0127, 0.45


def wooden(x: float, y: float, zones: list[dict[str, str]]) -> Job:
    """A wooden stage, joists every 0.4 m up and down, a bearing line at y = 2, edge at y = 0, one 300 mm floor box."""
    job = set_fields(Job(), "settings", "job", {"units": "m", "floor_type": "wood on joists"})
    job = set_fields(job, "settings", "job", {"stage_down": "0", "edge_gap": "450 mm", "joist_gap": "12.7 mm"})
    job, _ = add(job, "joists", [{"offset": "0.1", "spacing": "400 mm", "width": "45 mm"}])
    job, _ = add(job, "bearing", [{"label": "beam", "at": "2", "half_width": "75 mm"}])
    job, _ = add(job, "keepclear", zones)
    job, _ = add(job, "boxmodel", [{"label": "model", "across": "300 mm", "along": "300 mm", "flange": "10 mm",
                                    "depth": "100 mm", "bays": "2"}])
    return add(job, "box", [{"label": "FB-1", "model": "model", "x": f"{x:.4f}", "y": f"{y:.4f}"}])[0]


def surroundings(job: Job) -> Surroundings:
    spot = job.all(Box)[0]
    shape = outlines(job, spot)
    assert shape is not None
    return Surroundings(job, spot, shape)


def by_plain_search(x: float, y: float, rects: list[tuple[float, float, float, float]],
                    route: tuple[float, float, float, float], width: float) -> float | None:
    """Length of the shortest clear shift, every step of 5 mm in the square tried; written from the rules, not our code."""
    zones = [box(*r) for r in rects]
    lane = LineString([route[:2], route[2:]])
    most = int(0.6096 / 0.005)
    xs = []
    for i in range(-most, most + 1):
        low, high = x + i * 0.005 - HALF, x + i * 0.005 + HALF
        faces = [(0.1 + 0.4 * k - 0.0225 - GAP, 0.1 + 0.4 * k + 0.0225 + GAP) for k in range(-20, 21)]
        if all(high <= a + 1e-9 or low >= b - 1e-9 for a, b in faces):
            xs.append(i)
    ys = [j for j in range(-most, most + 1) if y + j * 0.005 - HALF - FLANGE >= EDGE - 1e-9
          and (y + j * 0.005 + HALF <= 1.925 + 1e-9 or y + j * 0.005 - HALF >= 2.075 - 1e-9)]
    for length, i, j in sorted((hypot(i, j) * 0.005, i, j) for i in xs for j in ys):
        if length > 0.6096:
            return None
        half = HALF + FLANGE
        cover = box(x + i * 0.005 - half, y + j * 0.005 - half, x + i * 0.005 + half, y + j * 0.005 + half)
        if all(cover.intersection(z).area < 1e-9 for z in zones) and cover.distance(lane) >= width / 2 - 1e-9:
            return length
    return None


def test_the_nearest_place_is_the_nearest_of_all() -> None:
    rng = random.Random(11)
    none = some = 0
    for case in range(15):
        size = 0.9 if case % 3 == 0 else 0.4  # every third zone is too large to leave
        x, y = rng.uniform(-0.5, 0.5), rng.uniform(0.4, 2.2)
        rect = tuple(v + way * (rng.uniform(0, 0.4) + size - 0.4) for v, way in ((x, -1), (y, -1), (x, 1), (y, 1)))
        route = (x - 2, y + rng.uniform(0.2, 0.8), x + 2, y + rng.uniform(0.2, 0.8))
        x, y, rect, route = round(x, 4), round(y, 4), tuple(round(v, 4) for v in rect), tuple(round(v, 4) for v in route)
        job = wooden(x, y, [
            {"label": "trap", "x0": str(rect[0]), "y0": str(rect[1]), "x1": str(rect[2]), "y1": str(rect[3])},
            {"label": "lane", "what": "rolling route", "x0": str(route[0]), "y0": str(route[1]), "x1": str(route[2]),
             "y1": str(route[3]), "width": "0.3"}])
        expected = by_plain_search(x, y, [rect], route, 0.3)
        found = surroundings(job).nearest()
        assert (found is None) == (expected is None)
        if found is not None and expected is not None:
            assert hypot(*found) == pytest.approx(expected, abs=1e-9)
            assert surroundings(job).clear(*found)
        none, some = none + (found is None), some + (found is not None)
    assert none and some > 3  # both answers were tried


def test_a_shift_in_both_directions_is_said_where_no_simple_one_clears_all() -> None:
    # Box at (0.1, 2.0): joist faces at 0.0775 and 0.1225, middle of the bays at -0.1 and 0.3; with the gap the middle may
    # stand from 0.1225 + 0.0127 + 0.15 = 0.2852 m on: 0.1852 m, in steps of 5 mm 190 mm. The bearing is kept clear from
    # 1.925 to 2.075: 1.925 - 2.15 = -0.225 m. Neither alone is enough.
    job = wooden(0.1, 2.0, [])
    items = [i for i in box_items(job, job.all(Box)[0]) if i.code in ("box-on-joist", "box-on-bearing")]
    assert len(items) == 2
    assert re.search(r"other floor boxes: 190 mm to stage (left|right) and 225 mm (up|down)stage$", items[0].cure)
    assert "nearest place" not in items[1].cure


def test_a_simple_shift_that_clears_all_is_left_as_it_is() -> None:
    job = wooden(0.1, 1.2, [])
    items = {i.code: i for i in box_items(job, job.all(Box)[0])}
    assert "nearest place" not in items["box-on-joist"].cure


def test_a_zone_of_one_event_is_not_permanent() -> None:
    job = wooden(0.1, 2.0, [])
    job, _ = add(job, "event", [{"label": "Play"}])
    job, _ = add(job, "keepclear", [{"label": "set", "x0": "-3", "y0": "0", "x1": "3", "y1": "4", "events": "Play"}])
    assert surroundings(job).nearest() is not None


def test_it_stays_on_its_own_floor() -> None:
    # the floor changes 0.1 m downstage of the box, so only upstage is left
    job = wooden(0.3, 2.0, [])
    job, _ = add(job, "zone", [{"label": "near", "x0": "-5", "y0": "1.9", "x1": "5", "y1": "5",
                                "floor_type": "wood on joists"},
                               {"label": "far", "x0": "-5", "y0": "0", "x1": "5", "y1": "1.9",
                                "floor_type": "wood on joists"}])
    assert surroundings(job).nearest() == pytest.approx((0.0, 0.225))
