"""The reel plan against a model written from the data for an independent solver, and laws that must hold."""

import random
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from stagefloor.core.problems import Problem
from stagefloor.steps.reels import CutPlan, cut

REEL, LOSS = 100, 2


def independent(pieces: list[int], shop: list[int]) -> tuple[int, int]:
    """(full reels, reels cut) of the best plan: one variable a piece and reel, 100 m reels bought at will."""
    model = cp_model.CpModel()
    bins = [*shop, *([REEL] * len(pieces))]
    used = [model.new_bool_var("") for _ in bins]
    at = [[model.new_bool_var("") for _ in bins] for _ in pieces]
    for row in at:
        model.add_exactly_one(row)
    for b, metres in enumerate(bins):
        model.add(
            sum(p * row[b] for p, row in zip(pieces, at, strict=True)) <= max(0, metres - LOSS) * used[b]
        )
    full = sum(used[len(shop) :])
    model.minimize(1000 * full + sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = 5
    assert solver.solve(model) == cp_model.OPTIMAL
    return sum(solver.value(u) for u in used[len(shop) :]), sum(solver.value(u) for u in used)


def ours(pieces: list[int], shop: list[int], seconds: float = 3.0) -> CutPlan:
    return cut(
        [(f"c{i}", float(p)) for i, p in enumerate(pieces)],
        [*((f"left {i}", float(m), 1) for i, m in enumerate(shop)), ("full", float(REEL), None)],
        float(LOSS),
        seconds,
    )


@pytest.mark.parametrize("seed", range(40))
def test_as_good_as_an_independent_solver(seed: int) -> None:
    rng = random.Random(seed)
    pieces = [rng.randint(12, 70) for _ in range(rng.randint(4, 9))]
    shop = [rng.randint(20, 80) for _ in range(rng.randint(0, 3))]
    plan = ours(pieces, shop)
    full, used = independent(pieces, shop)
    assert (sum(r.bought for r in plan.reels), len(plan.reels)) == (full, used)


def independent_sizes(pieces: list[int], shop: list[int], sold: list[int]) -> tuple[int, int]:
    """(metres bought, reels cut) of the best plan where reels of several sizes are sold."""
    model = cp_model.CpModel()
    bins = [(m, 0) for m in shop] + [(m, m) for m in sold for _ in pieces]
    used = [model.new_bool_var("") for _ in bins]
    at = [[model.new_bool_var("") for _ in bins] for _ in pieces]
    for row in at:
        model.add_exactly_one(row)
    for b, (metres, _) in enumerate(bins):
        model.add(sum(p * row[b] for p, row in zip(pieces, at, strict=True)) <= max(0, metres - LOSS) * used[b])
    model.minimize(sum((1000 * bought + 1) * u for u, (_, bought) in zip(used, bins, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = 5
    assert solver.solve(model) == cp_model.OPTIMAL
    return (sum(b * solver.value(u) for u, (_, b) in zip(used, bins, strict=True)), sum(solver.value(u) for u in used))


@pytest.mark.parametrize("seed", range(15))
def test_two_sizes_sold_and_leftovers_against_an_independent_solver(seed: int) -> None:
    rng = random.Random(100 + seed)
    pieces = [rng.randint(12, 70) for _ in range(rng.randint(3, 6))]
    shop = [rng.randint(20, 90) for _ in range(rng.randint(0, 2))]
    sold = [100, rng.choice((50, 75, 150))]
    plan = cut([(f"c{i}", float(p)) for i, p in enumerate(pieces)],
               [*((f"left {i}", float(m), 1) for i, m in enumerate(shop)), *((f"sold {m}", float(m), None) for m in sold)],
               float(LOSS), 3.0)
    assert (round(plan.bought), len(plan.reels)) == independent_sizes(pieces, shop, sold)


def plain_first_fit(pieces: list[int], shop: list[int]) -> tuple[int, int]:
    rooms = [m - LOSS for m in shop]
    start = list(rooms)
    for p in sorted(pieces, reverse=True):
        b = next((b for b, room in enumerate(rooms) if room >= p), None)
        if b is None:
            b = len(rooms)
            rooms.append(REEL - LOSS)
            start.append(REEL - LOSS)
        rooms[b] -= p
    return len(rooms) - len(shop), sum(a != b for a, b in zip(rooms, start, strict=True))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 98), min_size=1, max_size=40), st.lists(st.integers(3, 99), max_size=3))
def test_every_cable_once_no_reel_overdrawn_never_worse_than_first_fit(
    pieces: list[int], shop: list[int]
) -> None:
    plan = ours(pieces, shop, 0.2)
    cuts = [c for r in plan.reels for c in r.cuts]
    assert Counter(cuts) == Counter((f"c{i}", float(p)) for i, p in enumerate(pieces))
    for r in plan.reels:
        assert sum(m for _, m in r.cuts) + LOSS + r.left == pytest.approx(r.metres)
        assert r.left >= 0
        assert [m for _, m in r.cuts] == sorted((m for _, m in r.cuts), reverse=True)
    assert max(Counter(r.name for r in plan.reels if not r.bought).values(), default=0) <= 1
    assert (sum(r.bought for r in plan.reels), len(plan.reels)) <= plain_first_fit(pieces, shop)


def test_a_cable_longer_than_every_reel_is_named_and_the_rest_is_cut() -> None:
    plan = cut([("long", 99.0), ("short", 10.0)], [("full", 100.0, None)], 2.0)
    assert plan.uncut == ("long",) and "long" in plan.problems[0] and "longer reel" in plan.problems[0]
    assert [c for r in plan.reels for c in r.cuts] == [("short", 10.0)]


def test_reels_of_the_shop_that_do_not_suffice_are_said_so() -> None:
    plan = cut([("a", 40.0), ("b", 40.0)], [("left over", 50.0, 1)], 2.0)
    assert len(plan.reels) == 2 and "1 more of 50 m" in plan.problems[0]


def test_a_cable_that_only_a_reel_of_the_shop_takes_comes_from_it() -> None:
    plan = cut([("a", 90.0), ("b", 40.0)], [("long", 100.0, 1), ("sold", 50.0, None)], 2.0)
    assert [(r.name, r.cuts) for r in plan.reels] == [("long", (("a", 90.0),)), ("sold", (("b", 40.0),))]


@pytest.mark.parametrize(
    ("pieces", "reels", "loss", "words"),
    [
        ([("a", 0.0)], [("r", 10.0, None)], 2.0, "Cable a"),
        ([("a", 1.0), ("a", 2.0)], [("r", 10.0, None)], 2.0, "there twice"),
        ([("a", 1.0)], [], 2.0, "No reel"),
        ([("a", 1.0)], [("r", float("nan"), None)], 2.0, "Reel r"),
        ([("a", 1.0)], [("r", 10.0, None)], -1.0, "loss"),
    ],
)
def test_bad_input_is_said_in_a_sentence(
    pieces: list[tuple[str, float]], reels: list[tuple[str, float, int | None]], loss: float, words: str
) -> None:
    with pytest.raises(Problem, match=words):
        cut(pieces, reels, loss)
