"""Plans in which each point plugs into one box: what people mean by 'the lectern is at FB-3'.

The planner itself may share a point between two boxes, which can only be cheaper: its bound holds here too. Here each
point is given to one box of one model by an exact model of its own, which serves as much as it can at the least cost.
It alone asks that boxes do not overlap, that nothing stands on them and that what plugs in fits under the lid.
"""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from time import monotonic

import highspy
import numpy as np

from stagefloor.steps.boxes import planner
from stagefloor.steps.boxes.planner import PROVEN_GAP
from stagefloor.steps.boxes.planner_arrays import arrays_of
from stagefloor.steps.boxes.planner_check import check_plan
from stagefloor.steps.boxes.planner_content import content, meet, planned_box
from stagefloor.steps.boxes.planner_model import Matrix
from stagefloor.steps.boxes.planner_problem import (
    Candidate,
    Costs,
    Demand,
    Model,
    Plan,
    Problem,
    Service,
    Unserved,
    distance,
    read_problem,
    simultaneous,
)
from stagefloor.steps.boxes.planner_reasons import METRE_ROUNDING, models_at, why_unserved

SHARE = 0.5  # of the time goes to the exact model
SPARE_ROUNDING = 1e-6
FEW_SECONDS = 3.0  # for a plan on the boxes of the plan with shared points, also when asked to stop
Group = tuple[str, ...]


@dataclass(frozen=True)
class Way:
    """One point at one model at one position: connections by kind that it takes, and the sets of events in which."""

    demand: Demand
    candidate: Candidate
    model: Model
    takes: dict[str, int]
    groups: tuple[Group, ...]

    @property
    def served(self) -> int:
        return len(self.groups) * sum(self.takes.values())


@dataclass(frozen=True)
class Choice:
    """Which model stands where, and the way of each point that has one."""

    models: dict[str, str]
    ways: tuple[Way, ...]


def solve_whole(problem: Problem, seconds: float = 30.0, progress: planner.Progress | None = None,
                stop: Callable[[], bool] | None = None) -> Plan:
    """The plan found that serves most at the least cost, no point shared between boxes, with an honest bound.

    Parameters as `planner.solve`. What no single box can take stays unserved, with the reason as a sentence. The exact
    model comes first; where it does not finish, the plan with shared points says what is possible at the least, and a
    plan on its boxes alone is there whenever the user stops.
    """
    begun = monotonic()
    usable, notes = read_problem(problem)
    whole = _Assignment(usable)
    choice, bound = whole.solved(seconds * SHARE, stop, progress)
    plan = _plan(usable, choice)
    least = whole.least(plan, choice, bound)
    if plan.costs.total - least > PROVEN_GAP * max(1.0, plan.costs.total):
        left = max(0.25 * seconds, seconds - FEW_SECONDS - (monotonic() - begun))
        shared = planner.solve(problem, left, progress, stop)
        few = {b.candidate for b in shared.boxes}
        other, _ = _Assignment(replace(usable, candidates=tuple(
            c for c in usable.candidates if c.pinned or c.id in few))).solved(FEW_SECONDS)
        rival = _plan(usable, other)
        if (whole.lost(other), rival.costs.total) < (whole.lost(choice), plan.costs.total):
            plan, least = rival, whole.least(rival, other, bound)
        least = max(least, shared.bound)
    total = plan.costs.total
    least = min(least, total)
    gap = (total - least) / total if total > 0 else 0.0
    plan = replace(plan, bound=least, gap=gap, proven=gap <= PROVEN_GAP, stopped_early=gap > PROVEN_GAP,
                   seconds=monotonic() - begun, notes=notes)
    broken = check_plan(problem, plan)
    if broken:
        raise planner.PlannerError("; ".join(broken[:5]))
    return plan


def _present(demand: Demand, groups: tuple[Group, ...]) -> tuple[Group, ...]:
    return tuple(g for g in groups if not demand.events or set(demand.events) & set(g))


def _ways(problem: Problem) -> list[Way]:
    """Every way to plug a point into one box that serves something."""
    policy, groups, found = problem.policy, simultaneous(problem), []
    barred: dict[tuple[str, str], set[str]] = defaultdict(set)
    for demand, candidate, event in policy.blocked_in_event:
        barred[demand, candidate].add(event)
    for d in problem.demands:
        present = _present(d, groups)
        for c in problem.candidates:
            metres = distance(d, c) - METRE_ROUNDING
            needs = {k: n for k, n in d.needs.items() if metres <= policy.reach.get(k, np.inf)}
            if not needs or c.forbidden or (d.id, c.id) in policy.blocked:
                continue
            for m in models_at(problem, c):
                shut = barred[d.id, c.id] | c.closed.get(m.id, frozenset())
                on = tuple(g for g in present if not shut & set(g))
                takes = content(c, m, needs, policy) if on else {}
                if takes:
                    found.append(Way(d, c, m, takes, on))
    return found


class _Assignment:
    """The exact model: one way a point, one model a position, openings and modules for what is in use at once."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.ways = problem, _ways(problem)
        self.groups = simultaneous(problem)
        self.matrix = Matrix()
        self.most: dict[str, int] = defaultdict(int)  # that any single way serves of a point
        for w in self.ways:
            self.most[w.demand.id] = max(self.most[w.demand.id], w.served)
        self.price = self._price()
        self.x: dict[tuple[str, str], int] = {}
        self.give: list[int] = []
        self._boxes()
        self._points()
        self._contents()

    def lost(self, choice: Choice) -> int:
        """Connections, counted in each set of events, that a choice serves less than single ways could."""
        return sum(self.most.values()) - sum(w.served for w in choice.ways)

    def least(self, plan: Plan, choice: Choice, bound: float) -> float:
        """What any plan costs that serves as many as this one, by a bound on the model's own cost."""
        return bound - self.price * self.lost(choice) + plan.costs.unserved

    def _price(self) -> float:
        """The price of a lost connection: more than all that serving everything can cost."""
        dearest: dict[str, float] = defaultdict(float)
        for w in self.ways:
            c, spare = w.candidate, self.problem.policy.spare
            cost = c.box_price(w.model) + self._loose(w) + sum(
                c.to_build(n, spare.get(k, 0.0)) * c.opening_price(k) for k, n in w.takes.items())
            dearest[w.demand.id] = max(dearest[w.demand.id], cost)
        fixed = sum(max((c.box_price(m) for m in models_at(self.problem, c)), default=0.0)
                    for c in self.problem.candidates if c.pinned)
        return 1.0 + fixed + sum(dearest.values())

    def _loose(self, way: Way) -> float:
        return self.problem.policy.loose_cable_weight * distance(way.demand, way.candidate) * way.served

    def _boxes(self) -> None:
        """One model at most at a position, none on another, as many as are allowed."""
        m, problem = self.matrix, self.problem
        useful = {w.candidate.id for w in self.ways}
        stand: list[tuple[Candidate, list[Model]]] = []
        for c in problem.candidates:
            models = models_at(problem, c)
            if c.forbidden or not models or (c.id not in useful and not c.pinned):
                continue
            stand.append((c, models))
            for k in models:
                self.x[c.id, k.id] = m.col(c.box_price(k), 0, 1, True)
            m.row(1.0 if c.pinned else 0.0, [(self.x[c.id, k.id], 1.0) for k in models], 1.0)
        for number, (one, models) in enumerate(stand):
            for other, theirs in stand[number + 1:]:
                for k in models:
                    against = [self.x[other.id, t.id] for t in theirs if meet(one, k.id, other, t.id)]
                    if against:
                        m.row(-np.inf, [(i, 1.0) for i in (self.x[one.id, k.id], *against)], 1.0)
        if problem.policy.max_boxes is not None:
            m.row(-np.inf, [(i, 1.0) for i in self.x.values()], float(problem.policy.max_boxes))

    def _points(self) -> None:
        m = self.matrix
        choose: dict[str, list[tuple[int, float]]] = defaultdict(list)
        for w in self.ways:
            missed = self.price * (self.most[w.demand.id] - w.served)
            col = m.col(self._loose(w) + missed, 0, 1, True)
            self.give.append(col)
            choose[w.demand.id].append((col, 1.0))
            m.row(-np.inf, [(col, 1.0), (self.x[w.candidate.id, w.model.id], -1.0)], 0.0)
        for demand, terms in choose.items():
            m.row(1.0, [*terms, (m.col(self.price * self.most[demand], 0, 1, True), 1.0)], 1.0)

    def _contents(self) -> None:
        """Openings for the most in use at once with the spare, and modules for them in the bays."""
        m, problem, policy = self.matrix, self.problem, self.problem.policy
        at: dict[str, list[tuple[int, Way]]] = defaultdict(list)
        for col, w in zip(self.give, self.ways, strict=True):
            at[w.candidate.id].append((col, w))
        for c in problem.candidates:
            openings: dict[str, int] = {}
            for kind in sorted({k for _, w in at[c.id] for k in w.takes}):
                spare = 1.0 + (policy.spare.get(kind, 0.0) if c.openings is None else 0.0)
                openings[kind] = m.col(c.opening_price(kind), 0, c.most(kind), spare > 1.0)
                for g in self.groups:
                    terms = [(col, -(w.takes[kind] * spare - SPARE_ROUNDING)) for col, w in at[c.id]
                             if kind in w.takes and g in w.groups]
                    if terms:
                        m.row(0.0, [(openings[kind], 1.0), *terms], np.inf)
            if c.openings is None and any((c.id, k.id) in self.x for k in models_at(problem, c)):
                self._modules(c, openings)

    def _modules(self, c: Candidate, openings: dict[str, int]) -> None:
        m, policy = self.matrix, self.problem.policy
        models = models_at(self.problem, c)
        signal = {k.id: m.col(0.0, 0, k.bays, True) for k in models}
        mains = {k.id: m.col(0.0, 0, k.mains_bays, True) for k in models}
        for k in models:
            x = self.x[c.id, k.id]
            m.row(-np.inf, [(signal[k.id], 1.0), (mains[k.id], 1.0), (x, -float(k.bays))], 0.0)
            m.row(-np.inf, [(mains[k.id], 1.0), (x, -float(k.mains_bays))], 0.0)
        for modules, size, wanted in ((signal, "openings", False), (mains, "outlets", True)):
            terms = [(i, 1.0) for kind, i in openings.items() if (kind in policy.mains_kinds) == wanted]
            held = float(c.holds(policy.mains_kinds, wanted))
            if held:
                terms += [(self.x[c.id, k.id], held) for k in models]
            if terms:
                m.row(-np.inf, [*terms, *((modules[k.id], -float(getattr(k, size))) for k in models)], SPARE_ROUNDING)

    def solved(self, seconds: float, stop: Callable[[], bool] | None = None,
               progress: planner.Progress | None = None) -> tuple[Choice, float]:
        """The best choice found in time and a bound on the cost of any; without one, only what must stand."""
        solver, begun = self.matrix.highs(), monotonic()
        solver.setOptionValue("time_limit", max(0.1, seconds))
        solver.setOptionValue("mip_rel_gap", PROVEN_GAP)

        def watch(event: highspy.highs.HighsCallbackEvent) -> None:
            best, least = event.data_out.mip_primal_bound, event.data_out.mip_dual_bound
            if progress is not None and best < self.price:  # else something is lost, at a price that is no money
                progress(monotonic() - begun, best, min(best, least))
            if stop is not None and stop():
                event.interrupt()

        solver.cbMipInterrupt.subscribe(watch)
        solver.run()
        info = solver.getInfo()
        bound = float(info.mip_dual_bound) if np.isfinite(info.mip_dual_bound) else 0.0
        pinned = {c.id for c in self.problem.candidates if c.pinned}
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return Choice({c.id: models_at(self.problem, c)[0].id for c in self.problem.candidates if c.pinned}, ()), bound
        values = solver.getSolution().col_value
        ways = tuple(w for i, w in zip(self.give, self.ways, strict=True) if values[i] > 0.5)
        used = {(w.candidate.id, w.model.id) for w in ways}
        stand = {c: k for (c, k), i in self.x.items() if values[i] > 0.5 and ((c, k) in used or c in pinned)}
        return Choice(stand, ways), bound


def _plan(problem: Problem, choice: Choice) -> Plan:
    """The boxes fitted out for a choice, and what stays unserved with its reason. Nothing is proven of it yet."""
    policy, groups = problem.policy, simultaneous(problem)
    load: dict[tuple[str, str, Group], int] = defaultdict(int)
    served: dict[tuple[str, str, Group], int] = defaultdict(int)
    services, loose = [], 0.0
    for w in choice.ways:
        for g in w.groups:
            for kind, n in w.takes.items():
                services.append(Service(w.demand.id, kind, g, w.candidate.id, n))
                load[w.candidate.id, kind, g] += n
                served[w.demand.id, kind, g] = n
                loose += policy.loose_cable_weight * distance(w.demand, w.candidate) * n
    models = {m.id: m for m in problem.models}
    boxes = []
    for c in problem.candidates:
        if c.id in choice.models:
            need: dict[str, int] = {}
            for (where, kind, _), n in load.items():
                if where == c.id:
                    need[kind] = max(n, need.get(kind, 0))
            boxes.append(planned_box(c, models[choice.models[c.id]], dict(sorted(need.items())), policy))
    arrays = arrays_of(problem)
    beyond = {(problem.demands[i].id, kind, arrays.groups[g]) for i, kind, g, _ in arrays.unreachable}
    unserved: dict[tuple[str, str, str], Unserved] = {}
    priced = 0
    for d in problem.demands:
        for kind, need_here in d.needs.items():
            for g in _present(d, groups):
                short = need_here - served[d.id, kind, g]
                if not short:
                    continue
                priced += short if (d.id, kind, g) not in beyond else 0
                for event in g:
                    key = (d.id, kind, event)
                    if (not d.events or event in d.events) and (key not in unserved or unserved[key].count < short):
                        unserved[key] = Unserved(*key, short, why_unserved(problem, d, kind, g, len(boxes), whole=True))
    costs = Costs(sum(b.box_cost for b in boxes), sum(b.opening_cost for b in boxes), loose,
                  arrays.unserved_price * priced)
    return Plan(tuple(boxes), tuple(services), tuple(unserved.values()), costs, 0.0, 1.0, False, False, 0.0)
