"""How fast the box planner is on three generated sizes, beside the plain formulation given cold to the same solver.

Not a timed test: start it by hand with `python tests/benchmarks/bench_planner.py small medium large`.
"""

import random

from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Policy, Problem

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
