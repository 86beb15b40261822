"""Each point plugs into one box: the least cost equals full enumeration of who plugs in where, written from the data."""

import itertools
import math
import random
from dataclasses import replace
from functools import cache

import pytest
from shapely.geometry import box

from stagefloor.steps.boxes.planner_check import check_plan
from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Policy, Problem
from stagefloor.steps.boxes.planner_whole import solve_whole

MODELS = (Model("small", 2, 1, 4, 2, 30.0), Model("large", 4, 2, 4, 2, 45.0))


def invented(seed: int) -> Problem:
    r = random.Random(seed)
    events = ("play", "concert", "film")
    demands = tuple(Demand(f"P{i}", r.uniform(0, 6), r.uniform(0, 4),
                           {k: r.randint(1, 4) for k in r.sample(("microphone", "data", "mains"), r.randint(1, 3))},
                           tuple(r.sample(events, r.randint(0, 2)))) for i in range(5))
    candidates = tuple(Candidate(f"C{i}", r.uniform(0, 6), r.uniform(0, 4), fixed_cost={"small": 10, "large": 12},
                                 opening_cost={"microphone": r.uniform(3, 9), "data": r.uniform(3, 9), "mains": 2.0})
                       for i in range(4))
    return Problem(demands, candidates, MODELS, Policy(
        reach=dict.fromkeys(("microphone", "data", "mains"), 4.0), spare={"microphone": 0.25 * (seed % 2)},
        loose_cable_weight=0.5), events)


def box_cost(problem: Problem, candidate: Candidate, points: list[Demand]) -> float:
    """The cheapest box at a candidate for the points that plug in there; infinite if no model takes them.

    Where the openings are there already, they cost nothing more, need no spare and are not asked to fit a model.
    """
    need: dict[str, int] = {}
    for kind in ("microphone", "data", "mains"):
        most = max(sum(d.needs.get(kind, 0) for d in points if not d.events or e in d.events) for e in problem.events)
        need[kind] = most
    if candidate.openings is not None:
        return math.inf if any(n > candidate.openings.get(k, 0) for k, n in need.items()) else \
            min(m.cost + candidate.fixed_cost[m.id] for m in MODELS)
    need = {k: math.ceil(n * (1 + problem.policy.spare.get(k, 0.0)) - 1e-9) for k, n in need.items()}
    best = math.inf
    for m in problem.models:
        mains = math.ceil(need["mains"] / m.outlets)
        if mains <= m.mains_bays and mains + math.ceil((need["microphone"] + need["data"]) / m.openings) <= m.bays:
            best = min(best, m.cost + candidate.fixed_cost[m.id])
    return best + sum(n * candidate.opening_cost[k] for k, n in need.items())


def enumerated(problem: Problem) -> float:
    """The least cost over every way to give each point one box."""
    best = math.inf
    metres = {(d.id, c.id): math.dist((d.x, d.y), (c.x, c.y)) for d in problem.demands for c in problem.candidates}
    for chosen in itertools.product(problem.candidates, repeat=len(problem.demands)):
        if any(metres[d.id, c.id] > 4.0 for d, c in zip(problem.demands, chosen, strict=True)):
            continue
        cost = sum(0.5 * metres[d.id, c.id] * sum(d.needs.values()) * (len(d.events) or len(problem.events))
                   for d, c in zip(problem.demands, chosen, strict=True))
        for c in {x.id: x for x in chosen}.values():
            cost += box_cost(problem, c, [d for d, x in zip(problem.demands, chosen, strict=True) if x is c])
        best = min(best, cost)
    return best


@pytest.mark.parametrize(("seed", "built"), [*((n, 0) for n in range(12)), *((n, 2) for n in range(12, 16))])
def test_least_cost_equals_full_enumeration(seed: int, built: int) -> None:
    """`built`: how many candidates have only the openings that are in them."""
    problem = invented(seed)
    r = random.Random(seed)
    problem = replace(problem, candidates=tuple(
        replace(c, openings={k: r.randint(2, 6) for k in ("microphone", "data", "mains")}) if n < built else c
        for n, c in enumerate(problem.candidates)))
    wanted = enumerated(problem)
    plan = solve_whole(problem, 10.0)
    assert check_plan(problem, plan) == []
    if wanted == math.inf:
        assert plan.unserved
        return
    assert not plan.unserved
    assert plan.costs.total == pytest.approx(wanted, abs=0.02)
    assert plan.bound <= wanted + 0.02
    given: dict[str, set[str]] = {}
    for s in plan.services:
        given.setdefault(s.demand, set()).add(s.candidate)
    assert all(len(c) == 1 for c in given.values())


def crowded(seed: int) -> Problem:
    """As `invented`, with covers that may meet, things that stand on them, lids that do not close, openings held besides."""
    problem, r = invented(seed), random.Random(1000 + seed)
    at = [(r.uniform(1.5, 4), r.uniform(1, 3)) for _ in problem.candidates]
    half = {"small": 0.35, "large": 0.6}
    return replace(problem, candidates=tuple(
        replace(c, x=x, y=y, covers={m: (x - h, y - h, x + h, y + h) for m, h in half.items()},
                closed={m: frozenset(e for e in problem.events if r.random() < 0.05) for m in half},
                refuses={"small": frozenset(k for k in ("microphone", "data") if r.random() < 0.2)},
                held={"data": r.randint(0, 2), "mains": r.randint(0, 1)} if r.random() < 0.3 else {},
                pinned=r.random() < 0.1)
        for c, (x, y) in zip(problem.candidates, at, strict=True)))


def standing(problem: Problem, candidate: Candidate, model: Model, points: list[Demand]) -> float:
    """The cost of this model here with these points; infinite if it may not be."""
    need: dict[str, int] = {}
    for kind in ("microphone", "data", "mains"):
        most = max(sum(d.needs.get(kind, 0) for d in points if not d.events or e in d.events) for e in problem.events)
        need[kind] = math.ceil(most * (1 + problem.policy.spare.get(kind, 0.0)) - 1e-9)
        if most and kind in candidate.refuses.get(model.id, ()):
            return math.inf
    if any(e in candidate.closed[model.id] for d in points for e in d.events or problem.events):
        return math.inf
    mains = math.ceil((need["mains"] + candidate.held.get("mains", 0)) / model.outlets)
    signal = math.ceil((need["microphone"] + need["data"] + candidate.held.get("data", 0)) / model.openings)
    if mains > model.mains_bays or mains + signal > model.bays:
        return math.inf
    return model.cost + candidate.fixed_cost[model.id] + sum(n * candidate.opening_cost[k] for k, n in need.items())


@cache
def least_crowded(seed: int) -> float:
    """The least cost over every way to give each point one box and every way to choose their models."""
    problem, best = crowded(seed), math.inf
    for chosen in itertools.product(problem.candidates, repeat=len(problem.demands)):
        pairs = list(zip(problem.demands, chosen, strict=True))
        if any(math.dist((d.x, d.y), (c.x, c.y)) > 4.0 for d, c in pairs):
            continue
        loose = sum(0.5 * math.dist((d.x, d.y), (c.x, c.y)) * sum(d.needs.values()) * (len(d.events) or len(problem.events))
                    for d, c in pairs)
        used = [c for c in problem.candidates if c.pinned or c in chosen]
        prices = {(c.id, m.id): standing(problem, c, m, [d for d, x in pairs if x is c]) for c in used for m in MODELS}
        for models in itertools.product(MODELS, repeat=len(used)):
            cost = loose + sum(prices[c.id, m.id] for c, m in zip(used, models, strict=True))
            if cost < best and not any(
                    overlap(a.covers[k.id], b.covers[n.id]) and not (a.pinned and b.pinned)
                    for (a, k), (b, n) in itertools.combinations(list(zip(used, models, strict=True)), 2)):
                best = cost
    return best


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return bool(box(*a).intersection(box(*b)).area > 1e-9)


@pytest.mark.parametrize("seed", range(20, 44))
def test_covers_zones_lids_and_what_is_held_equal_full_enumeration(seed: int) -> None:
    """Overlap by shapely, the rest written here from the rules."""
    problem = crowded(seed)
    wanted = least_crowded(seed)
    plan = solve_whole(problem, 10.0)
    assert check_plan(problem, plan) == []
    if wanted == math.inf:
        assert plan.unserved
        return
    assert not plan.unserved
    assert plan.costs.total == pytest.approx(wanted, abs=0.02)
    assert plan.proven


def test_some_of_the_crowded_stages_can_be_served_and_some_can_not() -> None:
    found = [least_crowded(seed) for seed in range(20, 44)]
    assert 8 <= sum(f < math.inf for f in found) < 24


def test_the_check_sees_what_lies_on_the_floor() -> None:
    problem = next(p for p in map(crowded, range(20, 60)) if not solve_whole(p, 5.0).unserved)
    plan = solve_whole(problem, 5.0)
    first, service = plan.boxes[0], plan.services[0]
    there = next(c for c in problem.candidates if c.id == first.candidate)
    twin = replace(there, id="twin", pinned=False)
    both = replace(problem, candidates=(*problem.candidates, twin))
    assert any("overlap" in line for line in check_plan(both, replace(plan, boxes=(*plan.boxes, replace(
        first, candidate="twin")))))
    for barred in ({"closed": {m.id: frozenset(service.events) for m in MODELS}},
                   {"refuses": {m.id: frozenset({service.kind}) for m in MODELS}}):
        shut = replace(problem, candidates=tuple(
            replace(c, **barred) if c.id == service.candidate else c for c in problem.candidates))  # type: ignore[arg-type]
        assert any("nothing can be plugged in" in line for line in check_plan(shut, plan))


def test_stopped_at_once_there_is_a_plan_with_an_honest_bound() -> None:
    """The bound and the best plan of a search that was not stopped are the measure."""
    r = random.Random(5)
    demands = tuple(Demand(f"P{i}", r.uniform(0, 14), r.uniform(0, 8), {"microphone": r.randint(1, 4)}) for i in range(30))
    spots = tuple(Candidate(f"C{i}", r.uniform(0, 14), r.uniform(0, 8), opening_cost={"microphone": r.uniform(3, 9)})
                  for i in range(40))
    problem = Problem(demands, spots, MODELS, Policy(reach={"microphone": 4.0}, loose_cable_weight=0.5))
    whole = solve_whole(problem, 20.0)
    plan = solve_whole(problem, 20.0, stop=lambda: True)
    assert plan.boxes
    assert not plan.unserved
    assert whole.bound <= plan.costs.total + 0.01
    assert plan.bound <= whole.costs.total + 0.01
    assert plan.proven == (plan.gap <= 1e-5)
    assert plan.gap == pytest.approx((plan.costs.total - plan.bound) / plan.costs.total)


def test_a_point_that_competes_in_vain_is_told_and_priced() -> None:
    """One built box with four openings, two points of three: one is served, and a share of the other is no plan for one
    box a point."""
    demands = tuple(Demand(name, 0, 0, {"microphone": 3}) for name in ("a", "b"))
    there = Candidate("there", 0, 0, pinned=True, existing=True, openings={"microphone": 4})
    plan = solve_whole(Problem(demands, (there,), MODELS), 5.0)
    assert [(u.kind, u.count) for u in plan.unserved] == [("microphone", 3)]
    assert "built has only the openings that are in it" in plan.unserved[0].reason
    assert plan.costs.unserved > 0
