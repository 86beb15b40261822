"""Rectangles, segments and their distances against an independent geometry library, and by hand where they touch."""

import random
from math import hypot

import pytest
from shapely.geometry import LineString, Point, box

from stagefloor.steps.boxes.geometry import (
    Rect,
    overlap,
    point_segment,
    rect_gap,
    segment_gap,
    segment_meets_rect,
    segment_rect_gap,
    segments_cross,
)

CASES = 2000


def numbers(rng: random.Random, many: int) -> list[float]:
    """Half of the time whole numbers, so that sides touch and lie on each other."""
    if rng.random() < 0.5:
        return [float(rng.randrange(-4, 5)) for _ in range(many)]
    return [rng.uniform(-5, 5) for _ in range(many)]


def test_two_thousand_cases_against_the_library() -> None:
    rng = random.Random(3)
    met = missed = 0
    for _ in range(CASES):
        a = Rect.between(*numbers(rng, 4))
        b = Rect.between(*numbers(rng, 4))
        s = tuple(numbers(rng, 4))
        t = tuple(numbers(rng, 4))
        p = numbers(rng, 2)
        shape_a, shape_b = box(a.x0, a.y0, a.x1, a.y1), box(b.x0, b.y0, b.x1, b.y1)
        line_s, line_t = LineString([s[:2], s[2:]]), LineString([t[:2], t[2:]])
        assert max(0.0, rect_gap(a, b)) == pytest.approx(shape_a.distance(shape_b), abs=1e-9)
        if a.x1 > a.x0 and a.y1 > a.y0 and b.x1 > b.x0 and b.y1 > b.y0:
            assert (rect_gap(a, b) < 0) == (shape_a.intersection(shape_b).area > 0)
        assert a.contains(*p) == shape_a.covers(Point(p))
        assert point_segment(*p, *s) == pytest.approx(Point(p).distance(line_s), abs=1e-9)
        # a library that counts the last digit and a tolerance of 1e-9 may differ only within that tolerance
        assert segments_cross(s, t) == (line_s.distance(line_t) < 1e-9)
        assert segment_gap(s, t) == pytest.approx(line_s.distance(line_t), abs=2e-9)
        assert segment_meets_rect(s, a) == (line_s.distance(shape_a) < 1e-9)
        assert segment_rect_gap(s, a) == pytest.approx(line_s.distance(shape_a), abs=2e-9)
        met += segment_meets_rect(s, a)
        missed += not segment_meets_rect(s, a)
    assert min(met, missed) > CASES / 10  # both answers were tried


def test_by_hand() -> None:
    a = Rect.around(1.0, 2.0, 4.0, 2.0)  # 1 - 4/2 .. 1 + 4/2, 2 - 2/2 .. 2 + 2/2
    assert a == Rect(-1.0, 1.0, 3.0, 3.0)
    assert a.grown(0.5) == Rect(-1.5, 0.5, 3.5, 3.5)
    assert Rect.between(3, 3, -1, 1) == a
    assert rect_gap(a, Rect(6.0, 7.0, 8.0, 9.0)) == hypot(3.0, 4.0) == 5.0
    assert rect_gap(a, Rect(2.0, 2.5, 9.0, 9.0)) == -0.5  # overlaps 1 across and 0.5 up: 0.5 is the smaller
    assert rect_gap(a, Rect(3.0, 1.0, 4.0, 3.0)) == 0.0  # touch
    assert overlap(0, 2, 1, 5) == 1
    assert overlap(0, 2, 3, 5) == -1
    assert segment_meets_rect((-5, 2, 9, 2), a)  # through, with both ends outside
    assert segment_rect_gap((-5, 5, 9, 5), a) == 2.0


def test_laws() -> None:
    rng = random.Random(4)
    for _ in range(200):
        a, b = Rect.between(*numbers(rng, 4)), Rect.between(*numbers(rng, 4))
        s = tuple(numbers(rng, 4))
        assert rect_gap(a, b) == rect_gap(b, a)
        assert segment_rect_gap(s, a) == pytest.approx(segment_rect_gap((*s[2:], *s[:2]), a), abs=1e-12)
