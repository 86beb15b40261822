"""Each point plugs into one box: the least cost equals full enumeration of who plugs in where, written from the data."""

import itertools
import math
import random
from dataclasses import replace

import pytest

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
