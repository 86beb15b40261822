"""The box planner: which positions, which models, what in each, at the least installed cost, with an honest bound.

`solve` builds a usable plan at once, improves it, and proves as much as time allows. It may share a point between two
boxes and does not look at covers, at what stands on them and at what fits under a lid: that can only be cheaper, so that
its bound holds for `planner_whole`, which does. Every plan is checked by `check_plan`, which knows nothing of how it was
found, before it is returned. Knows no job.
"""

import random
from collections import defaultdict
from collections.abc import Callable
from time import monotonic

import numpy as np

from stagefloor.steps.boxes.planner_arrays import Arrays, arrays_of
from stagefloor.steps.boxes.planner_bound import Relaxation
from stagefloor.steps.boxes.planner_branch import Division
from stagefloor.steps.boxes.planner_check import check_plan
from stagefloor.steps.boxes.planner_content import planned_box
from stagefloor.steps.boxes.planner_model import Answer, Arcs, BoxModel, Flows
from stagefloor.steps.boxes.planner_problem import (
    Costs,
    Plan,
    PlannedBox,
    Problem,
    Service,
    Unserved,
    read_problem,
)
from stagefloor.steps.boxes.planner_reasons import why_unserved
from stagefloor.steps.boxes.planner_search import Layout, arcs_by_row, clustered, improve, layout_of, refilled

PROVEN_GAP = 1e-5  # of the cost: a plan this close to its bound counts as proven
ROOT_STEPS = 800
FRUITLESS = 2  # tries a box without a better plan after which proving gets most of the time
Progress = Callable[[float, float, float], None]


class PlannerError(RuntimeError):
    """The planner's own answer failed its independent check: a bug, never the user's doing."""


def solve(problem: Problem, seconds: float = 30.0, progress: Progress | None = None,
          stop: Callable[[], bool] | None = None, start: Plan | None = None, seed: int = 1) -> Plan:
    """The cheapest plan found within `seconds`, with its bound.

    Parameters
    ----------
    problem : the question, SI metres, costs in one currency; what can't be used is left out with a sentence in `notes`
    seconds : time allowed, s; the plan comes earlier if it is proven, a little later on a large stage
    progress : called with (seconds so far, best cost so far, bound so far)
    stop : asked often; True ends the search with the best plan found
    start : an earlier plan to begin from; what does not fit any more is left out
    seed : for the order in which neighbourhoods are tried

    Returns
    -------
    Plan : checked; `proven` if the gap is at most 0.001 %, `stopped_early` if time or `stop` ended it before

    Raises
    ------
    PlannerError : the plan breaks a rule of its own check (a bug)
    """
    usable, notes = read_problem(problem)
    search = _Search(usable, seconds, progress, stop, random.Random(seed))
    search.run(start)
    plan = search.plan(notes)
    broken = check_plan(problem, plan, on_the_floor=False)
    if broken:
        raise PlannerError("; ".join(broken[:5]))
    return plan


class _Search:
    """One search: the best layout, the best bound, the clock."""

    def __init__(self, problem: Problem, seconds: float, progress: Progress | None, stop: Callable[[], bool] | None,
                 rng: random.Random) -> None:
        self.begun = monotonic()
        self.until = self.begun + seconds
        self.problem, self.progress, self.asked, self.rng = problem, progress, stop, rng
        self.arrays: Arrays = arrays_of(problem)
        self.arcs: Arcs = arcs_by_row(self.arrays)
        self.best = Layout(self.arrays, self.arcs)
        self.bound = 0.0
        self.told = self.begun
        self.halted = False
        self.tried: set[frozenset[int]] = set()

    def stop(self) -> bool:
        """Whether to end now; also tells the progress, at most five times a second."""
        now = monotonic()
        if self.progress is not None and now - self.told > 0.2:
            self.told = now
            self.progress(now - self.begun, self.best.cost, min(self.bound, self.best.cost))
        if now > self.until or (self.asked is not None and self.asked()):
            self.halted = True
        return self.halted

    @property
    def closed(self) -> bool:
        return bool(self.best.cost - self.bound <= PROVEN_GAP * max(1.0, self.best.cost))

    @property
    def goal(self) -> float:
        """Only plans below this cost are worth looking for."""
        return float(self.best.cost - 0.5 * PROVEN_GAP * max(1.0, self.best.cost))

    def left(self) -> float:
        return self.until - monotonic()

    def offer(self, flows: Flows) -> bool:
        """Take a plan if it is cheaper than the best."""
        found = layout_of(self.arrays, self.arcs, flows)
        return self.offer_layout(found)

    def offer_layout(self, found: Layout) -> bool:
        if found.cost < self.best.cost - 1e-6:
            self.best = found
            return True
        return False

    def run(self, start: Plan | None) -> None:
        if self.arrays.rows == 0:
            self.bound = self.best.cost
            return
        if start is not None:
            self.offer(self._flows_of(start))
        relaxation = Relaxation(self.arrays)
        relaxation.best_value = relaxation.pricing(relaxation.prices).value
        self._construct(relaxation, 0.05)
        self._root(relaxation)
        if self.closed or self.stop():
            return
        spots = np.array([(c.x, c.y, c.z) for c in self.problem.candidates], dtype=float)
        self._divide(Division(self.arrays, spots), relaxation)

    def _construct(self, relaxation: Relaxation, share: float) -> None:
        layout = clustered(self.arrays, self.arcs, relaxation)
        self.offer_layout(layout)
        improve(layout, min(self.until, monotonic() + share * max(0.0, self.left())), self.stop)
        self.offer_layout(layout)

    def _root(self, relaxation: Relaxation) -> None:
        """Prices for the whole stage, and a layout from them."""
        begun, allowed = monotonic(), 0.3 * self.left()
        for _ in range(ROOT_STEPS):
            relaxation.step(self.best.cost)
            self.bound = max(self.bound, relaxation.proven_bound)
            if self.closed or self.stop() or monotonic() - begun > allowed:
                break
            if relaxation.settled:
                break
        if not self.stop():
            self._construct(relaxation, 0.05)
        relaxation.keep(self.goal)

    def _divide(self, division: Division, root: Relaxation) -> None:
        """Alternate between raising the bound and lowering the cost until they meet or time is up."""
        bounding, searching, fruitless = 0.0, 0.0, 0
        latest = root
        if not division.divide(root):
            self._decided(division, root)
        while division.nodes and not self.stop():
            now = monotonic()
            if searching <= bounding * (2.0 if fruitless < FRUITLESS * self.best.open_count else 0.15):
                better = self._neighbourhood(root)
                better = self._round(latest) or better
                fruitless = 0 if better else fruitless + 1
                searching += monotonic() - now
                continue
            found = division.advance(self.goal, self.stop)
            if found is not None:
                latest = found
                if not division.divide(found):
                    self._decided(division, found)
            bounding += monotonic() - now
            self.bound = max(self.bound, min(division.bound, self.best.cost))
            if self.closed:
                return
        self.bound = max(self.bound, min(division.bound, self.best.cost))

    def _decided(self, division: Division, found: Relaxation) -> None:
        """Solve a node exactly in which only the contents of the boxes are open."""
        answer = self._among({int(j) for r in found.regions if r.most for j in r.cols}, 10.0 + 0.1 * self.left())
        if not answer.finished:
            division.lost = min(division.lost, max(answer.bound, found.proven_bound))

    def _among(self, cols: set[int], seconds: float) -> Answer:
        """The best plan that uses only these candidates, if it beats the best known."""
        everything = dict(enumerate(self.arrays.row_need.tolist()))
        model = BoxModel(self.arrays, self.arcs, everything, cols | set(np.flatnonzero(self.arrays.pinned).tolist()))
        answer = model.solve(min(self.left(), seconds), cutoff=self.goal, stop=self.stop)
        if answer.flows is not None:
            self.offer(answer.flows)
        return answer

    def _round(self, found: Relaxation) -> bool:
        """Try the candidates that a node's prices like best, once each set; True if that lowered the cost."""
        cols = frozenset(np.flatnonzero(found.opened(found.best_value)).tolist())
        if not cols or cols in self.tried:
            return False
        self.tried.add(cols)
        before = self.best.cost
        self._among(set(cols), 2.0)
        return bool(self.best.cost < before)

    def _neighbourhood(self, root: Relaxation) -> bool:
        """Solve the surroundings of a few boxes exactly, the rest held; True if that lowered the cost."""
        layout = self.best
        boxes = [j for j in layout.open_boxes() if layout.at[j]]
        if not boxes:
            return False
        centre = self.rng.choice(boxes)
        place = self.problem.candidates
        freed = sorted(boxes, key=lambda j: (place[j].x - place[centre].x) ** 2
                       + (place[j].y - place[centre].y) ** 2)[:self.rng.choice((1, 2, 2, 3))]
        need: dict[int, int] = defaultdict(int)
        for j in freed:
            for row, n in layout.at[j].items():
                need[row] += n
        for row, n in enumerate(layout.left):
            if n and any(j in freed for j in self.arcs[row]):
                need[row] += n
        share: dict[int, float] = defaultdict(float)
        for row, n in need.items():
            for j in self.arcs[row]:
                if not layout.is_open(j):
                    share[j] += n
        liking = {j: root.best_value[j] * self.rng.uniform(0.6, 1.4) - n for j, n in share.items()}
        near = sorted(liking, key=liking.__getitem__)[:3 * len(freed) + 1]
        room = {}
        for row in need:
            case, k = layout.case[row], layout.kind[row]
            for j in self.arcs[row]:
                if layout.is_open(j) and j not in freed:
                    room[j, case] = layout.use[j][k] - layout.load[j].get(case, 0)
        room = {key: n for key, n in room.items() if n > 0}
        start = {(row, j): n for j in freed for row, n in layout.at[j].items()}
        others = layout.open_count - len(freed)
        model = BoxModel(self.arrays, self.arcs, dict(need), {*freed, *near}, room,
                         boxes=max(0, self.arrays.max_boxes - others))
        answer = model.solve(min(self.left(), 2.0), start, stop=self.stop, rel_gap=1e-4)
        if answer.flows is None:
            return False
        return refilled(layout, freed, answer.flows)

    def _flows_of(self, plan: Plan) -> Flows:
        """Units by (row, candidate) of an earlier plan."""
        a = self.arrays
        index = {c.id: j for j, c in enumerate(self.problem.candidates)}
        served: dict[tuple[int, str, tuple[str, ...], str], int] = {}
        number = {d.id: i for i, d in enumerate(self.problem.demands)}
        for s in plan.services:
            if s.demand in number and s.candidate in index:
                served[number[s.demand], s.kind, s.events, s.candidate] = s.count
        flows: Flows = defaultdict(int)
        for row, members in enumerate(a.row_members):
            kind, group = a.kinds[int(a.row_kind[row])], a.groups[a.case_groups[int(a.row_case[row])][0]]
            for i, _ in members:
                for name, j in index.items():
                    n = served.get((i, kind, group, name), 0)
                    if n:
                        flows[row, j] += n
        return dict(flows)

    def plan(self, notes: tuple[str, ...]) -> Plan:
        """The best layout as a plan in the user's terms."""
        a, problem, layout = self.arrays, self.problem, self.best
        services: list[Service] = []
        short: dict[tuple[int, int, int], int] = {}
        for row, members in enumerate(a.row_members):
            k = int(a.row_kind[row])
            queue = [[i, n] for i, n in members]
            for j in sorted(layout.where[row]):
                n = layout.at[j][row]
                while n:
                    take = min(n, queue[0][1])
                    for g in a.case_groups[int(a.row_case[row])]:
                        services.append(Service(problem.demands[queue[0][0]].id, a.kinds[k], a.groups[g],
                                                problem.candidates[j].id, take))
                    queue[0][1] -= take
                    n -= take
                    if not queue[0][1]:
                        queue.pop(0)
            for i, n in queue:
                for g in a.case_groups[int(a.row_case[row])]:
                    if n:
                        short[i, k, g] = n
        boxes = tuple(self._box(j) for j in layout.open_boxes())
        costs = Costs(sum(b.box_cost for b in boxes), sum(b.opening_cost for b in boxes),
                      sum(n * layout.arc_cost[row][j] for j, rows in enumerate(layout.at) for row, n in rows.items()),
                      sum(a.unserved_price * n for n in short.values()))
        bound = min(self.bound, costs.total)
        gap = (costs.total - bound) / costs.total if costs.total > 0 else 0.0
        return Plan(boxes, tuple(services), self._unserved(short), costs, bound, gap, self.closed,
                    self.halted and not self.closed, monotonic() - self.begun, notes)

    def _box(self, j: int) -> PlannedBox:
        a, layout, candidate = self.arrays, self.best, self.problem.candidates[j]
        n = int(a.box_model[j, layout.signal[j], layout.mains[j]])
        need = {kind: layout.use[j][k] for k, kind in enumerate(a.kinds) if layout.use[j][k]}
        return planned_box(candidate, self.problem.models[n], need, self.problem.policy)

    def _unserved(self, short: dict[tuple[int, int, int], int]) -> tuple[Unserved, ...]:
        a = self.arrays
        found: dict[tuple[str, str, str], Unserved] = {}
        beyond = {(i, a.kinds.index(kind), g): n for i, kind, g, n in a.unreachable}
        for (i, k, g), n in sorted({**short, **beyond}.items()):
            demand, kind = self.problem.demands[i], a.kinds[k]
            for event in a.groups[g]:
                if demand.events and event not in demand.events:
                    continue
                key = (demand.id, kind, event)
                if key not in found or found[key].count < n:
                    found[key] = Unserved(demand.id, kind, event, n, why_unserved(
                        self.problem, demand, kind, a.groups[g], self.best.open_count))
        return tuple(found.values())
