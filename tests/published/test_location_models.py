"""The box planner on published location problems."""

from dataclasses import replace

import pytest

from stagefloor.steps.boxes.planner import solve
from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Problem

# CSPLib problem 34, warehouse location (www.csplib.org/Problems/prob034): ten stores, five warehouses, opening 30 each,
# capacities in stores, supply cost by store and warehouse; optimum 383.
SUPPLY = (
    (20, 24, 11, 25, 30),
    (28, 27, 82, 83, 74),
    (74, 97, 71, 96, 70),
    (2, 55, 73, 69, 61),
    (46, 96, 59, 83, 4),
    (42, 22, 29, 67, 59),
    (1, 5, 73, 59, 56),
    (10, 73, 13, 43, 96),
    (93, 35, 63, 85, 46),
    (47, 65, 55, 71, 95),
)
CAPACITY = (1, 4, 2, 1, 3)
OPENING = 30.0
OPTIMUM = 383.0


def warehouses() -> Problem:
    """Each store is a kind of its own, so that its supply cost is the cost of an opening."""
    stores = tuple(Demand(f"store {i}", 0, 0, {f"kind {i}": 1}) for i in range(len(SUPPLY)))
    sites = tuple(
        Candidate(
            f"site {j}",
            0,
            0,
            models=(f"holds {n}",),
            fixed_cost={f"holds {n}": OPENING},
            opening_cost={f"kind {i}": row[j] for i, row in enumerate(SUPPLY)},
        )
        for j, n in enumerate(CAPACITY)
    )
    return Problem(stores, sites, tuple(Model(f"holds {n}", n, 0, 1) for n in sorted(set(CAPACITY))))


def test_warehouse_location_has_its_published_optimum() -> None:
    plan = solve(warehouses(), 20)
    assert plan.proven
    assert plan.costs.total == pytest.approx(OPTIMUM)
    assert not plan.unserved


def test_without_capacities_it_is_the_enumerated_optimum() -> None:
    """Full enumeration over the sets of open sites."""
    best = min(
        OPENING * bin(mask).count("1")
        + sum(min(c for j, c in enumerate(row) if mask >> j & 1) for row in SUPPLY)
        for mask in range(1, 32)
    )
    assert best == 328
    roomy = replace(
        warehouses(),
        models=(Model("roomy", 10, 0, 1),),
        candidates=tuple(
            replace(c, models=("roomy",), fixed_cost={"roomy": OPENING}) for c in warehouses().candidates
        ),
    )
    assert solve(roomy, 20).costs.total == pytest.approx(328.0)
