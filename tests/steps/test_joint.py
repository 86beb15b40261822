"""Ways and sizes chosen together: against an independent solver, and against hand arithmetic."""

import random
from dataclasses import replace
from itertools import pairwise, product
from math import pi

import networkx as nx
import pytest
from ortools.sat.python import cp_model

from stagefloor.core.problems import Problem
from stagefloor.job.boxes import Box
from stagefloor.job.cables import CableType, Node, Segment
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.results.joint_ways import joint_ways, ways_taken
from stagefloor.steps.cables import lines
from stagefloor.steps.cables.joint import Joint, joint

# EMT, total inside area in square inches: NFPA 70 chapter 9 Table 4; fill 53, 31 and 40 % (Table 1).
EMT = (("1/2", 0.304), ("3/4", 0.533), ("1", 0.864), ("1-1/4", 1.496), ("1-1/2", 2.036), ("2", 3.356))
PRICE = {"1/2": 3.0, "3/4": 4.0, "1": 6.0, "1-1/4": 8.0, "1-1/2": 10.0, "2": 13.0}
PAIR = pi / 4 * 0.25**2  # cable of 0.25 in
CABLE = 0.6


def size_for(cables: int) -> str:
    share = {1: 0.53, 2: 0.31}.get(cables, 0.40)
    return next(s for s, full in EMT if cables * PAIR <= share * full)


def venue(places: dict[str, tuple[int, int]], edges: list[tuple[str, str]], boxes: dict[str, tuple[str, int]]) -> Job:
    """R is the rack; boxes: name -> (node, lines); no slack, no growth."""
    job = set_fields(Job(), "settings", "job", {"units": "m", "slack_box": "0", "slack_rack": "0", "growth_percent": "0"})
    job, _ = add(job, "node", [{"label": n, "what": "rack" if n == "R" else "pull point", "x": str(x), "y": str(y)}
                               for n, (x, y) in places.items()])
    job, _ = add(job, "segment", [{"label": f"{a}-{b}", "start": a, "end": b, "string": "proved"} for a, b in edges])
    job, _ = add(job, "cabletype", [{"label": "pair", "what": "microphone", "diameter": "0.25 in"}])
    for box, (node, count) in boxes.items():
        x, y = places[node]
        job, _ = add(job, "box", [{"label": box, "x": str(x), "y": str(y), "feed": node}])
        for n in range(count):
            job, _ = add(job, "opening", [{"box": box, "label": f"{box}{n}"}])
            job, _ = add(job, "circuit", [{"label": f"{box}{n}", "openings": f"{box}{n}"}])
            job, _ = add(job, "cable", [{"label": f"{box}{n}", "circuits": f"{box}{n}", "type": "pair"}])
    return job


def best_by_solver(places: dict[str, tuple[int, int]], edges: list[tuple[str, str]],
                   boxes: dict[str, tuple[str, int]]) -> float:
    """The least cost by CP-SAT over all simple paths of each box, in its own model: a table of costs by load."""
    apart = {frozenset(e): sum(abs(p - q) for p, q in zip(places[e[0]], places[e[1]], strict=True)) for e in edges}
    graph = nx.Graph(edges)
    model, picked = cp_model.CpModel(), {}
    for name, (node, _) in boxes.items():
        paths = [[frozenset(e) for e in pairwise(p)] for p in nx.all_simple_paths(graph, "R", node)]
        picked[name] = [(model.new_bool_var(f"{name}{i}"), path) for i, path in enumerate(paths)]
        model.add_exactly_one(v for v, _ in picked[name])
    most = sum(n for _, n in boxes.values())
    costs = []
    for edge, metres in apart.items():
        load = model.new_int_var(0, most, f"load {sorted(edge)}")
        model.add(load == sum(boxes[n][1] * v for n, ways in picked.items() for v, path in ways if edge in path))
        cost = model.new_int_var(0, 10**7, f"cost {sorted(edge)}")
        prices = [n * CABLE + (PRICE[size_for(n)] if n else 0.0) for n in range(most + 1)]
        model.add_allowed_assignments([load, cost], [(n, round(100 * metres * p)) for n, p in enumerate(prices)])
        costs.append(cost)
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    assert solver.solve(model) == cp_model.OPTIMAL
    return solver.objective_value / 100


def ours(job: Job, longest: float = 1.8) -> Joint:
    return joint(job, lines(job), lambda kind: CABLE, lambda size: PRICE[size], "points", longest)


@pytest.mark.parametrize("seed", range(12))
def test_against_an_independent_solver(seed: int) -> None:
    """A small grid with all its edges, four boxes: every simple path is within the ways that are tried."""
    rng = random.Random(seed)
    places = {"R": (0, 0), "A": (rng.randint(4, 9), 0), "B": (0, rng.randint(4, 9)),
              "C": (rng.randint(5, 9), rng.randint(5, 9)), "D": (rng.randint(10, 14), rng.randint(6, 10))}
    edges = [("R", "A"), ("R", "B"), ("A", "C"), ("B", "C"), ("C", "D"), ("A", "D")]
    boxes = {name: (node, rng.randint(1, 6)) for name, node in (("b1", "A"), ("b2", "B"), ("b3", "C"), ("b4", "D"))}
    found = ours(venue(places, edges, boxes), longest=99)
    assert found.proven
    assert found.best == pytest.approx(best_by_solver(places, edges, boxes), abs=0.05)  # its costs are whole hundredths
    assert found.best <= found.rerouted + 1e-9 <= found.shortest + 2e-9


def two_trunks() -> Job:
    """Two boxes at C: 10 m by A or 10.2 m by B for one of them; together in one trunk they cost less."""
    places = {"R": (0, 0), "A": (10, 0), "B": (10, 2), "D": (10, 1)}
    return venue(places, [("R", "A"), ("R", "B"), ("A", "D"), ("B", "D")], {"b1": ("A", 3), "b2": ("B", 1)})


def test_two_boxes_share_a_trunk_by_hand() -> None:
    # Shortest: b1 R-A 10 m, b2 R-B 12 m. Cable 3 x 10 + 1 x 12 = 42 m at 0.6 = 25.20. Three cables of 0.0491 in2: 0.147 of
    # 0.4 x 0.533: 3/4 (4.0); one: 0.0491 of 0.53 x 0.304: 1/2 (3.0). Raceways 10 x 4 + 12 x 3 = 76. In all 101.20.
    # Together by A: b2 goes R-A-D-B, 12 m as well: cable the same 25.20; four cables 0.196 of 0.4 x 0.533: 3/4;
    # raceways 10 x 4 + 2 x 3 = 46: 71.20. Saved 30.
    found = ours(two_trunks())
    assert (found.shortest, found.best, found.proven) == (pytest.approx(101.2), pytest.approx(71.2), True)
    assert found.working.result.amount == pytest.approx(30.0)
    job = two_trunks()
    names = {n.id: n.label for n in job.all(Node)}
    assert {job.get(Box, b).label: [names[v] for v in via] for b, via in found.via.items()} == {"b2": ["A", "D"]}


def test_the_choice_is_an_edit_and_its_lengths_follow() -> None:
    job = two_trunks()
    taken = ways_taken(job, ours(job))
    way = next(line.way for line in lines(taken) if line.box.label == "b2")
    assert way.through == ("R", "A", "D", "B")
    assert way.metres == pytest.approx(12.0)
    assert len([r for r in compute(taken).raceways if r.diameters]) == 3
    back = ways_taken(taken, replace(ours(job), via={}))
    assert [b.via for b in back.boxes()] == [(), ()]


def test_a_tree_has_nothing_to_choose() -> None:
    job = venue({"R": (0, 0), "A": (10, 0)}, [("R", "A")], {"b1": ("A", 2)})
    with pytest.raises(Problem, match="only one way"):
        joint_ways(compute(job))


def test_without_prices_it_compares_by_weights() -> None:
    found = joint_ways(compute(two_trunks()))
    assert found.working.result.unit == "points of comparison"
    assert found.best < found.shortest


def test_no_combination_is_better_than_the_proven_one() -> None:
    """Every pair of simple paths of the two boxes, priced here."""
    edges = {("R", "A"): 10, ("R", "B"): 12, ("A", "D"): 1, ("B", "D"): 1}
    graph = nx.Graph(list(edges))
    totals = []
    for p, q in product(nx.all_simple_paths(graph, "R", "A"), nx.all_simple_paths(graph, "R", "B")):
        total = 0.0
        for (a, b), metres in edges.items():
            n = 3 * ({a, b} in [set(e) for e in pairwise(p)]) + ({a, b} in [set(e) for e in pairwise(q)])
            total += metres * (n * CABLE + (PRICE[size_for(n)] if n else 0.0))
        totals.append(total)
    assert ours(two_trunks()).best == pytest.approx(min(totals))


def test_a_ready_made_assembly_costs_the_raceway_that_its_head_goes_through() -> None:
    # EMT inside diameters, Table 4: 1 1.049 in, 1-1/4 1.380 in; a head of 1.1 in needs 1-1/4; 20 m either way
    job = venue({"R": (0, 0), "A": (10, 0), "B": (0, 10), "C": (10, 10)},
                [("R", "A"), ("A", "C"), ("R", "B"), ("B", "C")], {"X": ("C", 1)})
    job = set_fields(job, "cabletype", job.all(CableType)[0].id, {"assembly": "yes", "head": "1.1 in"})
    found = joint(job, lines(job), lambda kind: CABLE, PRICE.__getitem__, "u")
    assert found.shortest == found.best == pytest.approx(20 * (CABLE + PRICE["1-1/4"]))
    there = set_fields(job, "segment", job.all(Segment)[0].id, {"existing": "yes"})  # what is there costs nothing
    assert joint(there, lines(there), lambda kind: CABLE, PRICE.__getitem__, "u").best == pytest.approx(
        20 * CABLE + 10 * PRICE["1-1/4"])
