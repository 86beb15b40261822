"""Plans in which each point plugs into one box: what people mean by 'the lectern is at FB-3'.

The planner itself may share a point between two boxes, which can only be cheaper: its bound holds here too. Here each
point is given to one box by an exact model of its own, and the planner then fits out the boxes for that.
"""

from collections.abc import Callable
from dataclasses import replace
from time import monotonic

import highspy
import numpy as np

from stagefloor.steps.boxes import planner
from stagefloor.steps.boxes.planner_model import Matrix
from stagefloor.steps.boxes.planner_problem import (
    Candidate,
    Demand,
    Plan,
    Problem,
    distance,
    read_problem,
    simultaneous,
)

SHARE = 0.35  # of the time goes to the plan with shared points, whose bound is needed
PROVEN_GAP = 1e-5  # as the planner's own
SPARE_ROUNDING = 1e-6


def solve_whole(problem: Problem, seconds: float = 30.0, progress: planner.Progress | None = None,
                stop: Callable[[], bool] | None = None) -> Plan:
    """The cheapest plan found in which no point is shared between boxes, with an honest bound.

    Parameters as `planner.solve`. A point that no single box can serve stays unserved, with the reason as a sentence.
    """
    begun = monotonic()
    shared = planner.solve(problem, seconds * SHARE, progress, stop)
    usable, _ = read_problem(problem)
    given, bound = _assign(usable, max(1.0, seconds - (monotonic() - begun)), stop)
    everywhere = frozenset((d.id, c.id) for d in usable.demands for c in usable.candidates if given.get(d.id) != c.id)
    fixed = replace(problem, policy=replace(problem.policy, blocked=problem.policy.blocked | everywhere))
    whole = planner.solve(fixed, max(2.0, seconds * 0.1), None, stop)
    # with something unserved the two objectives price it differently: only the planner's own bound speaks then
    best = max(shared.bound, bound) if not whole.unserved else shared.bound
    best = min(best, whole.costs.total)
    gap = (whole.costs.total - best) / whole.costs.total if whole.costs.total > 0 else 0.0
    return replace(whole, bound=best, gap=gap, proven=gap <= PROVEN_GAP, stopped_early=gap > PROVEN_GAP,
                   seconds=monotonic() - begun, notes=shared.notes)


def _in_reach(problem: Problem, demand: Demand, candidate: Candidate) -> bool:
    policy = problem.policy
    events = set(demand.events) or set(problem.events)
    return (demand.id, candidate.id) not in policy.blocked and not any(
        (demand.id, candidate.id, e) in policy.blocked_in_event for e in events) and all(
        distance(demand, candidate) <= policy.reach.get(kind, float("inf")) + 1e-9 for kind in demand.needs)


def _assign(problem: Problem, seconds: float, stop: Callable[[], bool] | None) -> tuple[dict[str, str], float]:
    """Point -> candidate, at the least cost found, and a bound on that cost."""
    m, policy = Matrix(), problem.policy
    groups = simultaneous(problem)
    on = {d.id: [g for g in groups if not d.events or set(d.events) & set(g)] for d in problem.demands}
    price = 10.0 * sum(_dearest(c, problem) for c in problem.candidates) + 1.0  # one unserved point outweighs any saving
    give: dict[tuple[str, str], int] = {}
    rows: dict[str, list[tuple[int, float]]] = {d.id: [] for d in problem.demands}
    boxes: list[int] = []
    for c in problem.candidates:
        near = [d for d in problem.demands if _in_reach(problem, d, c)]
        models = [x for x in problem.models if c.models is None or x.id in c.models]
        if c.forbidden or not models or (not near and not c.pinned):
            continue
        x = {k.id: m.col(0.0 if c.existing else k.cost + c.fixed_cost.get(k.id, 0.0), 0, 1, True) for k in models}
        boxes += x.values()
        m.row(1.0 if c.pinned else 0.0, [(i, 1.0) for i in x.values()], 1.0)
        openings: dict[str, int] = {}
        for d in near:
            loose = policy.loose_cable_weight * distance(d, c) * sum(d.needs.values()) * len(on[d.id])
            give[d.id, c.id] = m.col(loose, 0, 1, True)
            rows[d.id].append((give[d.id, c.id], 1.0))
            m.row(-np.inf, [(give[d.id, c.id], 1.0), *((i, -1.0) for i in x.values())], 0.0)
        for kind in sorted({k for d in near for k in d.needs}):
            spare = 1.0 + policy.spare.get(kind, 0.0)
            openings[kind] = m.col(c.opening_cost.get(kind, 0.0), 0, c.most(kind), spare > 1.0)
            for g in groups:
                terms = [(give[d.id, c.id], -(d.needs[kind] * spare - SPARE_ROUNDING)) for d in near
                         if kind in d.needs and g in on[d.id]]
                if terms:
                    m.row(0.0, [(openings[kind], 1.0), *terms], np.inf)
        signal = {k.id: m.col(0.0, 0, k.bays, True) for k in models}
        mains = {k.id: m.col(0.0, 0, k.mains_bays, True) for k in models}
        for k in models:
            m.row(-np.inf, [(signal[k.id], 1.0), (mains[k.id], 1.0), (x[k.id], -float(k.bays))], 0.0)
            m.row(-np.inf, [(mains[k.id], 1.0), (x[k.id], -float(k.mains_bays))], 0.0)
        for held, size, wanted in ((signal, "openings", False), (mains, "outlets", True)):
            terms = [(i, 1.0) for kind, i in openings.items() if (kind in policy.mains_kinds) == wanted]
            if terms:
                m.row(-np.inf, [*terms, *((held[k.id], -float(getattr(k, size))) for k in models)], SPARE_ROUNDING)
    for d in problem.demands:
        m.row(1.0, [*rows[d.id], (m.col(price, 0, 1, True), 1.0)], 1.0)
    if policy.max_boxes is not None:
        m.row(-np.inf, [(i, 1.0) for i in boxes], float(policy.max_boxes))
    return _solved(m, give, seconds, stop)


def _dearest(candidate: Candidate, problem: Problem) -> float:
    return max((k.cost + candidate.fixed_cost.get(k.id, 0.0) for k in problem.models), default=0.0) + sum(
        candidate.opening_cost.values())


def _solved(m: Matrix, give: dict[tuple[str, str], int], seconds: float,
            stop: Callable[[], bool] | None) -> tuple[dict[str, str], float]:
    solver = m.highs()
    solver.setOptionValue("time_limit", seconds)
    solver.setOptionValue("mip_rel_gap", PROVEN_GAP)
    if stop is not None:
        asked = stop

        def watch(event: highspy.highs.HighsCallbackEvent) -> None:
            if asked():
                event.interrupt()

        solver.cbMipInterrupt.subscribe(watch)
    solver.run()
    values = solver.getSolution().col_value
    info = solver.getInfo()
    found = {d: c for (d, c), i in give.items() if len(values) > i and values[i] > 0.5}
    return found, float(info.mip_dual_bound) if np.isfinite(info.mip_dual_bound) else 0.0
