"""Where a background lies on the stage. Expected values: shapely's affine transforms, numpy's solver, hand arithmetic."""

from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point

from stagefloor.calculations.similarity import Similarity, by_scale, by_two_points
from stagefloor.job.background import Background
from stagefloor.job.edit import add, build, set_fields
from stagefloor.job.exchange.background_file import Stored
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps.background import FRAME, placed, workings

FOOT = 0.3048  # metres; international yard and pound agreement, 1959
FILE = Stored(b"", "image/png", 1600, 1200)
coordinate = st.floats(-1000, 1000).map(lambda v: round(v, 3))
spot = st.builds(complex, coordinate, coordinate)


@given(a=spot, b=spot, at=spot, to=spot, other=spot)
def test_two_points_fix_it_as_a_solver_finds_it(a: complex, b: complex, at: complex, to: complex, other: complex) -> None:
    """x' = p x - q y + e, y' = q x + p y + f, solved for p, q, e, f by numpy.linalg.solve from the two points."""
    if abs(a - b) < 1 or abs(at - to) < 1:
        return
    rows, right = [], []
    for z, w in ((a, at), (b, to)):
        rows += [[z.real, -z.imag, 1, 0], [z.imag, z.real, 0, 1]]
        right += [w.real, w.imag]
    p, q, e, f = np.linalg.solve(np.array(rows), np.array(right))
    found = by_two_points(a, b, at, to)(other)
    assert found.real == pytest.approx(p * other.real - q * other.imag + e, abs=1e-5)
    assert found.imag == pytest.approx(q * other.real + p * other.imag + f, abs=1e-5)


@given(scale=st.floats(0.001, 100), turn=st.floats(-179, 180), a=spot, at=spot, z=spot)
def test_scale_and_turn_as_shapely_does_them(scale: float, turn: float, a: complex, at: complex, z: complex) -> None:
    """shapely.affinity: scale and rotate about the point, then translate."""
    origin = (a.real, a.imag)
    moved = affinity.scale(Point(z.real, z.imag), scale, scale, origin=origin)
    moved = affinity.rotate(moved, turn, origin=origin)
    moved = affinity.translate(moved, at.real - a.real, at.imag - a.imag)
    way = by_scale(scale, turn, a, at)
    found = way(z)
    assert (found.real, found.imag) == pytest.approx((moved.x, moved.y), abs=1e-6 * max(1, scale) * 1000)
    assert way.scale == pytest.approx(scale)


def test_points_that_are_one_give_no_similarity() -> None:
    for a, b, at, to in ((1, 1, 2, 3), (1, 2, 3, 3), (1, complex("nan"), 2, 3)):
        with pytest.raises(ValueError):
            by_two_points(complex(a), complex(b), complex(at), complex(to))


def background(**texts: str) -> Background:
    return build(Background, {"id": "background-1", "label": "sheet", "file": "x", "shown": True, **texts})


POINTS = {"ax": "200", "ay": "200", "bx": "1400", "by": "200"}


def at(way: Similarity, x: float, y: float) -> tuple[float, float]:
    found = way(complex(x, y))
    return found.real, found.imag


def test_a_distance_scales_it_about_the_first_point() -> None:
    """By hand: 52 ft are 15.8496 m, over 1200 points 13.208 mm a point; 850 points up are 11.2268 m."""
    one = background(**POINTS, distance="52 ft", at_x="-24 ft", at_y="-6 ft")
    found = placed(Job(), one, FILE)
    assert not found.assumed
    assert at(found.way, 200, 200) == pytest.approx((-7.3152, -1.8288))
    assert at(found.way, 1400, 1050) == pytest.approx((-7.3152 + 15.8496, -1.8288 + 11.2268))
    (working,) = workings(one, "ft-in", FILE)
    assert working.result.amount == pytest.approx(13.208)
    # 1600 points of 13.208 mm are 21.1328 m, 69.333 ft; 1200 are 52 ft; a point more or less in 1200 is 0.0833 %
    assert [round(v.amount, 4) for v in working.also] == [0.0833, 69.3333, 52.0]
    assert working.inputs[0].amount == pytest.approx(15.8496)


def test_two_places_turn_it() -> None:
    """By hand: 1200 points across the sheet lie 12 m up the stage: 10 mm a point, a quarter counter-clockwise."""
    one = background(**POINTS, at_x="1 m", at_y="2 m", to_x="1 m", to_y="14 m")
    found = placed(Job(), one, FILE)
    assert found.way.turn == pytest.approx(90)
    assert at(found.way, 200, 300) == pytest.approx((0.0, 2.0))  # up the sheet is to stage right
    scale, turn = workings(one, "m")
    assert (scale.result.amount, turn.result.amount) == pytest.approx((10.0, 90.0))
    assert not scale.notes
    told = workings(one.model_copy(update={"distance": background(distance="11.5 m").distance}), "m")[0]
    assert "12 m apart, 11.5 m was typed" in told.notes[0]


def test_a_turn_that_was_chosen_is_about_the_first_point() -> None:
    one = background(**POINTS, distance="12 m", at_x="0 m", at_y="0 m", turn="180")
    found = placed(Job(), one, FILE)
    assert at(found.way, 1400, 200) == pytest.approx((-12.0, 0.0))
    tilted = background(**POINTS, distance="12 m", at_x="0 m", at_y="0 m", turn="30")
    assert at(placed(Job(), tilted, FILE).way, 1400, 200) == pytest.approx((12 * cos(radians(30)), 12 * sin(radians(30))))


def test_until_then_its_own_unit_or_the_stage_gives_the_scale_and_it_says_assumed() -> None:
    drawing = Stored(b"", "application/json", 40_000, 20_000, 0.0003, "millimetres")
    found = placed(Job(), background(), drawing)
    assert found.assumed and "assumed" in found.words and "millimetres" in found.words
    (x0, y0), (x1, y1) = at(found.way, 0, 0), at(found.way, 40_000, 20_000)
    assert (x1 - x0, y1 - y0) == pytest.approx((12.0, 6.0))  # 40,000 and 20,000 times 0.3 mm
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx(((FRAME[0] + FRAME[2]) / 2, (FRAME[1] + FRAME[3]) / 2))
    fitted = placed(Job(), background(), FILE)
    assert fitted.assumed and "assumed" in fitted.words
    assert workings(background(), "m") == []


@given(turn=st.sampled_from(["0", "90", "180", "270"]), wide=st.integers(8, 3000), high=st.integers(8, 3000))
def test_a_picture_without_a_scale_is_fitted_into_the_stage(turn: str, wide: int, high: int) -> None:
    """A law: all of it lies within the frame, and touches two sides of it."""
    job = set_fields(Job(), "settings", "job", {"stage_left": "7 m", "stage_right": "-7 m", "stage_down": "-1 m",
                                               "stage_up": "8 m"})
    way = placed(job, background(turn=turn), Stored(b"", "image/png", wide, high)).way
    corners = [at(way, x, y) for x in (0, wide) for y in (0, high)]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    assert min(xs) >= -7 - 1e-9 and max(xs) <= 7 + 1e-9 and min(ys) >= -1 - 1e-9 and max(ys) <= 8 + 1e-9
    assert max(xs) - min(xs) == pytest.approx(14) or max(ys) - min(ys) == pytest.approx(9)


def test_points_that_lie_on_each_other_or_a_distance_of_nothing_scale_nothing() -> None:
    for texts in ({**POINTS, "bx": "200", "distance": "3 m"}, {**POINTS, "distance": "0 m"}, {"distance": "3 m"},
                  {**POINTS, "at_x": "1 m", "at_y": "1 m", "to_x": "1 m", "to_y": "1 m"}):
        one = background(**texts)
        assert placed(Job(), one, FILE).assumed
        assert workings(one, "m") == []
    far = background(**POINTS, distance="3 m").model_copy(update={"bx": 1e300})
    assert placed(Job(), far, FILE).assumed
    assert workings(far, "m") == []


def test_its_scale_is_among_the_workings_of_the_job() -> None:
    job, _ = add(Job(), "background", [{"label": "sheet", "file": "x", "shown": "yes", **POINTS, "distance": "12 m"}])
    assert "Scale of the background sheet" in [w.name for w in compute(job).workings()]
    hidden = job.with_records([b.model_copy(update={"shown": False}) for b in job.all(Background)])
    assert "Scale of the background sheet" not in [w.name for w in compute(hidden).workings()]
