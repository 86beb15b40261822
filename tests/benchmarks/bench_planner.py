"""How fast the box planner is on three generated sizes, beside the plain formulation given cold to the same solver.

Not a timed test: start it by hand with `python tests/benchmarks/bench_planner.py small medium large`.
"""

import argparse
import random
import sys
from math import inf
from os import getloadavg
from pathlib import Path
from time import monotonic, process_time

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "lib"))

from stagefloor.steps.boxes.planner import solve
from stagefloor.steps.boxes.planner_arrays import arrays_of
from stagefloor.steps.boxes.planner_model import BoxModel
from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Policy, Problem, read_problem
from stagefloor.steps.boxes.planner_search import arcs_by_row, layout_of

SIZES = {"small": (40, 60, 6, 12.0, 9.0), "medium": (150, 200, 12, 22.0, 14.0), "large": (600, 800, 25, 42.0, 26.0)}
REACH = {"microphone": 5.0, "line": 5.0, "loudspeaker": 6.0, "intercom": 6.0, "video": 5.0, "data": 5.0, "mains": 4.0}
SPARE = {"microphone": 0.2, "line": 0.1, "data": 0.25, "mains": 0.0}
MODELS = (Model("2 bays", 2, 1, 4, 2, 210.0), Model("3 bays", 3, 1, 4, 2, 290.0), Model("4 bays", 4, 1, 4, 2, 380.0),
          Model("6 bays", 6, 2, 4, 2, 560.0), Model("8 bays", 8, 3, 4, 2, 790.0))


def generated(size: str, seed: int) -> Problem:
    """An invented stage of the given size, the same for the same seed."""
    points, positions, events, wide, deep = SIZES[size]
    rng = random.Random(f"{size} {seed}")
    names = tuple(f"event {n + 1}" for n in range(events))
    demands = []
    for n in range(points):
        needs = {kind: rng.choice((1, 1, 2, 2, 4)) for kind in rng.sample(sorted(REACH), rng.choice((1, 1, 2, 3)))}
        present = tuple(e for e in names if rng.random() < 0.3) or (rng.choice(names),)
        demands.append(Demand(f"p{n}", round(rng.uniform(0, wide), 2), round(rng.uniform(0, deep), 2), needs, present))
    candidates = []
    for n in range(positions):
        x, y = round(rng.uniform(0, wide), 1), round(rng.uniform(0, deep), 1)
        run = 8.0 + x + (deep - y)
        cut = rng.choice((350.0, 450.0, 600.0))
        candidates.append(Candidate(
            f"c{n}", x, y, fixed_cost={m.id: round(cut + 25.0 * m.bays, 2) for m in MODELS},
            opening_cost={k: round(22.0 + 1.9 * run * (2.5 if k == "mains" else 1.0), 2) for k in REACH}))
    together = (frozenset(names[:2]),) if events > 6 else ()
    return Problem(tuple(demands), tuple(candidates), MODELS,
                   Policy(reach=REACH, spare=SPARE, loose_cable_weight=0.8), names, together)


def plain(problem: Problem, seconds: float) -> list[tuple[float, float, float]]:
    """(seconds, best cost, bound) as the plain formulation goes, given cold to the same solver."""
    arrays = arrays_of(read_problem(problem)[0])
    told: list[tuple[float, float, float]] = []
    begun = monotonic()
    model = BoxModel(arrays, arcs_by_row(arrays), dict(enumerate(arrays.row_need.tolist())), set(range(arrays.cols)),
                     tight=False)
    answer = model.solve(seconds, report=lambda cost, bound: told.append((monotonic() - begun, cost, bound)),
                         stop=lambda: monotonic() - begun > seconds)
    cost = told[-1][1] if told else inf
    if answer.flows is not None:
        cost = layout_of(arrays, arcs_by_row(arrays), answer.flows).cost
    told.append((monotonic() - begun, cost, answer.bound))
    return told


def planned(problem: Problem, seconds: float) -> list[tuple[float, float, float]]:
    """(seconds, best cost, bound) as the planner goes."""
    told: list[tuple[float, float, float]] = []
    plan = solve(problem, seconds, lambda *now: told.append(now))
    told.append((plan.seconds, plan.costs.total, plan.bound))
    return told


def line(told: list[tuple[float, float, float]], everything_unserved: float) -> str:
    """Time to a usable plan (at most a tenth of the price of serving nothing), gaps and time to proof."""

    def gap_at(seconds: float) -> str:
        upto = [t for t in told if t[0] <= seconds]
        if not upto:
            return "-"
        _, cost, bound = upto[-1]
        return f"{100 * max(0.0, cost - bound) / cost:.2f} %" if 0 < cost < inf else "-"

    usable = next((f"{t:.1f} s" for t, cost, _ in told if cost < 0.1 * everything_unserved), "-")
    proof = next((f"{t:.1f} s" for t, cost, bound in told if cost < inf and cost - bound <= 1e-5 * cost), "-")
    return (f"usable plan {usable:>8}  gap at 10 s {gap_at(10):>8}  at 60 s {gap_at(60):>8}  "
            f"at the end ({told[-1][0]:.0f} s) {gap_at(told[-1][0]):>8}  proven {proof:>7}  cost {told[-1][1]:.0f}  "
            f"bound {told[-1][2]:.0f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("sizes", nargs="*", choices=sorted(SIZES), default=["small"])
    parser.add_argument("--seeds", type=int, nargs="*", default=[1])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--plain-seconds", type=float, help="for the plain formulation; 0 leaves it out")
    chosen = parser.parse_args()
    for size in chosen.sizes:
        for seed in chosen.seeds:
            problem = generated(size, seed)
            arrays = arrays_of(read_problem(problem)[0])
            nothing = float(arrays.row_price @ arrays.row_need)
            print(f"{size}, seed {seed}: {len(problem.demands)} points, {len(problem.candidates)} positions, "
                  f"{len(problem.events)} events; load of the machine {getloadavg()[0]:.1f}", flush=True)
            others = chosen.seconds if chosen.plain_seconds is None else chosen.plain_seconds
            for name, way, seconds in (("planner", planned, chosen.seconds), ("plain", plain, others)):
                if seconds > 0:
                    busy = process_time()
                    print(f"  {name:8}{line(way(problem, seconds), nothing)}  "
                          f"processor {process_time() - busy:.0f} s", flush=True)


if __name__ == "__main__":
    main()
