"""The layouts of the box planner's search: the running cost is the cost, and undo is exact."""

import random
from math import ceil, inf

import pytest

from stagefloor.steps.boxes.planner_arrays import Arrays, arrays_of
from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Policy, Problem
from stagefloor.steps.boxes.planner_search import Layout, arcs_by_row, layout_of

MODELS = (Model("small", 2, 1, 2, 1, 90), Model("large", 5, 2, 3, 2, 260))
SPARE = 0.3


def invented(seed: int) -> Problem:
    rng = random.Random(seed)
    events = ("play", "talk", "band")
    demands = tuple(Demand(f"d{i}", rng.randint(0, 9), 0, {"microphone": rng.randint(1, 3), "mains": 1},
                           tuple(e for e in events if rng.random() < 0.5)) for i in range(8))
    candidates = tuple(Candidate(f"c{j}", rng.randint(0, 9), 0, fixed_cost={"small": 10, "large": 20},
                                 opening_cost={"microphone": 7, "mains": 11}) for j in range(5))
    return Problem(demands, candidates, MODELS, Policy(spare={"microphone": SPARE}, loose_cable_weight=1.5,
                                                       unserved_cost=500), events)


def cost_by_hand(problem: Problem, arrays: Arrays, layout: Layout) -> float:
    """From the units alone: boxes, openings, cable, and what is left."""
    units = layout.snapshot()
    cost = 0.0
    for row, need in enumerate(arrays.row_need.tolist()):
        cost += 500 * int(arrays.row_times[row]) * (need - sum(n for (r, _), n in units.items() if r == row))
    for (row, j), n in units.items():
        point = problem.demands[arrays.row_members[row][0][0]]
        cost += n * 1.5 * int(arrays.row_times[row]) * abs(point.x - problem.candidates[j].x)
    for j in {j for _, j in units}:
        opens = {}
        for k, kind in enumerate(arrays.kinds):
            loads = [sum(n for (r, c), n in units.items() if c == j and arrays.row_case[r] == case)
                     for case in range(len(arrays.case_kind)) if arrays.case_kind[case] == k]
            opens[kind] = max(loads) + ceil((SPARE if kind == "microphone" else 0) * max(loads) - 1e-9)
        small = opens["mains"] <= 1 and opens["mains"] + ceil(opens["microphone"] / 2) <= 2
        cost += (100 if small else 280) + 7 * opens["microphone"] + 11 * opens["mains"]
    return cost


@pytest.mark.parametrize("seed", range(10))
def test_running_cost_is_the_cost_and_undo_is_exact(seed: int) -> None:
    """Source: the cost worked out again from the units, written here from the rules."""
    problem, rng = invented(seed), random.Random(seed)
    arrays = arrays_of(problem)
    layout = Layout(arrays, arcs_by_row(arrays))
    states = [(0, layout.cost, {})]
    for _ in range(40):
        row, j = rng.randrange(arrays.rows), rng.randrange(arrays.cols)
        held = layout.at[j].get(row, 0)
        if held and rng.random() < 0.4:
            layout.add(row, j, -rng.randint(1, held))
        elif layout.left[row]:
            fits, change = layout.offer(row, j, layout.left[row])
            if fits:
                assert change < inf
                layout.add(row, j, fits)
        assert layout.cost == pytest.approx(cost_by_hand(problem, arrays, layout))
        states.append((len(layout.journal), layout.cost, layout.snapshot()))
    copy = layout_of(arrays, arcs_by_row(arrays), layout.snapshot())
    assert copy.cost == pytest.approx(layout.cost)
    for mark, cost, units in reversed(states):
        layout.undo(mark)
        assert layout.cost == pytest.approx(cost)
        assert layout.snapshot() == units


@pytest.mark.parametrize("seed", range(10))
def test_serving_the_rest_never_costs_more(seed: int) -> None:
    arrays = arrays_of(invented(seed))
    layout = Layout(arrays, arcs_by_row(arrays))
    before = layout.cost
    layout.serve(range(arrays.rows))
    assert layout.cost < before
