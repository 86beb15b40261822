"""The planner's question as arrays: rows (what needs serving), arcs (who can serve it), cases, costs of a box.

A case is one kind while one set of events runs; sets in which the same points use a kind in the same way are one case
with a multiplicity. Points at one place with the same neighbours are one row. Nothing is lost by either.
"""

from collections import defaultdict
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from stagefloor.steps.boxes.planner_problem import Model, Problem, simultaneous, with_spare

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
METRE_ROUNDING = 1e-9


@dataclass(frozen=True)
class Arrays:
    """Everything the bound, the search and the matrix share. `box_cost[j, s, m]` is the cheapest model at candidate j
    with room for s signal openings and m mains outlets beside what it holds (inf: none), `box_model` its index.
    `most[j, k]` is the largest need of kind k that candidate j may have openings for. `built`: it has them already, at
    whatever count, so that no room is asked of its model."""

    kinds: tuple[str, ...]
    is_mains: tuple[bool, ...]
    groups: tuple[tuple[str, ...], ...]
    row_kind: Ints
    row_case: Ints
    row_need: Ints
    row_times: Ints
    row_members: tuple[tuple[tuple[int, int], ...], ...]
    arc_row: Ints
    arc_col: Ints
    arc_cost: Floats
    case_kind: Ints
    case_groups: tuple[tuple[int, ...], ...]
    opening_cost: Floats
    openings_for: tuple[Ints, ...]
    spare: tuple[float, ...]
    most: Ints
    box_cost: Floats
    box_model: Ints
    fits: NDArray[np.bool_]
    model_cost: Floats
    models: tuple[Model, ...]
    held: Ints
    built: NDArray[np.bool_]
    pinned: NDArray[np.bool_]
    max_boxes: int
    unserved_price: float
    unreachable: tuple[tuple[int, str, int, int], ...]

    @property
    def rows(self) -> int:
        return len(self.row_need)

    @property
    def cols(self) -> int:
        return len(self.pinned)

    @property
    def row_price(self) -> Floats:
        """Price of one unserved unit of each row."""
        return np.asarray(self.unserved_price * self.row_times, dtype=np.float64)


def arrays_of(problem: Problem) -> Arrays:
    """The arrays of a problem that `read_problem` has passed."""
    policy = problem.policy
    kinds = tuple(sorted({k for d in problem.demands for k in d.needs}))
    is_mains = tuple(k in policy.mains_kinds for k in kinds)
    groups = simultaneous(problem)
    opening_cost = np.array([[c.opening_price(k) for k in kinds] for c in problem.candidates],
                            dtype=float).reshape(len(problem.candidates), len(kinds))
    fits, model_cost, box_cost, box_model = _box_costs(problem)
    top_signal, top_mains = box_cost.shape[1] - 1, box_cost.shape[2] - 1
    openings_for = []
    for number, kind in enumerate(kinds):
        spare, top = policy.spare.get(kind, 0.0), top_mains if is_mains[number] else top_signal
        counts = [0]
        while with_spare(len(counts), spare) <= top:
            counts.append(with_spare(len(counts), spare))
        openings_for.append(np.array(counts, dtype=np.int64))
    most = np.array([[min(len(opens) - 1, c.most(kind)) for kind, opens in zip(kinds, openings_for, strict=True)]
                     for c in problem.candidates], dtype=np.int64).reshape(len(problem.candidates), len(kinds))
    rows = _Rows(problem, kinds, groups, box_cost, most)

    limit = len(problem.candidates) if policy.max_boxes is None else policy.max_boxes
    price = policy.unserved_cost
    if price is None:
        dearest = float(np.max(model_cost[np.isfinite(model_cost)], initial=0.0))
        opening = max((float(opening_cost[:, k].max(initial=0.0)) * with_spare(1, policy.spare.get(kind, 0.0))
                       for k, kind in enumerate(kinds)), default=0.0)
        price = 2.0 * (dearest + opening + max((c for c in rows.arc_cost), default=0.0)) + 1.0
    return Arrays(
        kinds=kinds, is_mains=is_mains, groups=groups, row_kind=_ints(rows.row_kind), row_case=_ints(rows.row_case),
        row_need=_ints(rows.row_need), row_times=_ints(rows.row_times), row_members=tuple(rows.row_members),
        arc_row=_ints(rows.arc_row), arc_col=_ints(rows.arc_col), arc_cost=np.array(rows.arc_cost, dtype=float),
        case_kind=_ints(rows.case_kind), case_groups=tuple(rows.case_groups), opening_cost=opening_cost,
        openings_for=tuple(openings_for), spare=tuple(policy.spare.get(k, 0.0) for k in kinds),
        most=most, box_cost=box_cost, box_model=box_model, fits=fits, model_cost=model_cost,
        models=problem.models,
        held=np.array([[c.holds(policy.mains_kinds, mains) for mains in (False, True)] for c in problem.candidates],
                      dtype=np.int64).reshape(len(problem.candidates), 2),
        built=np.array([c.openings is not None for c in problem.candidates], dtype=bool),
        pinned=np.array([c.pinned for c in problem.candidates], dtype=bool), max_boxes=limit, unserved_price=price,
        unreachable=tuple(rows.unreachable))


@dataclass(frozen=True)
class Cover:
    """What serving `rows` takes at least: openings by kind, bays, boxes; each unserved unit saves at most `relief`."""

    rows: tuple[int, ...]
    openings: dict[int, int]
    bays: int
    boxes: int
    relief: int


def least_content(arrays: Arrays, need: dict[int, int]) -> Cover:
    """The peak of each kind over its cases, with the spare of the whole, in the largest modules there are."""
    by_case: dict[int, list[int]] = defaultdict(list)
    for row in need:
        by_case[int(arrays.row_case[row])].append(row)
    peak: dict[int, tuple[int, int]] = {}
    for case, rows in by_case.items():
        k = int(arrays.case_kind[case])
        peak[k] = max(peak.get(k, (0, -1)), (sum(need[r] for r in rows), case))
    openings = {k: with_spare(n, arrays.spare[k]) for k, (n, _) in peak.items()}
    bays, boxes = 0, 0
    for mains in (False, True):
        total = sum(o for k, o in openings.items() if arrays.is_mains[k] == mains)
        module = max((m.outlets if mains else m.openings for m in arrays.models), default=0)
        top = max((m.top(mains) for m in arrays.models), default=0)
        if module and top:
            bays += ceil(total / module)
            boxes = max(boxes, ceil(total / top))
    boxes = max(boxes, ceil(bays / max((m.bays for m in arrays.models), default=1)))
    relief = max((with_spare(1, arrays.spare[k]) for k in openings), default=1)
    return Cover(tuple(r for _, case in peak.values() for r in by_case[case]), openings, bays, boxes, relief)


def _ints(values: list[int]) -> Ints:
    return np.array(values, dtype=np.int64)


def _box_costs(problem: Problem) -> tuple[NDArray[np.bool_], Floats, Floats, Ints]:
    """Per model what fits; per candidate and model the cost; per candidate and openings the cheapest model."""
    mains_kinds, spare = problem.policy.mains_kinds, problem.policy.spare
    top_signal, top_mains = (max(
        [m.top(mains) for m in problem.models] + [
            sum(with_spare(n, spare.get(k, 0.0)) for k, n in c.openings.items() if (k in mains_kinds) == mains)
            for c in problem.candidates if c.openings is not None], default=0) for mains in (False, True))
    signal, mains = np.arange(top_signal + 1)[:, None], np.arange(top_mains + 1)[None, :]
    shape = (len(problem.candidates), top_signal + 1, top_mains + 1)
    fits = np.zeros((len(problem.models), *shape[1:]), dtype=bool)
    cost = np.full((len(problem.candidates), len(problem.models)), np.inf)
    best, which = np.full(shape, np.inf), np.full(shape, -1, dtype=np.int64)
    for m, model in enumerate(problem.models):
        fits[m] = _room(model, signal, mains)
        offer = np.full(shape, np.inf)
        for j, c in enumerate(problem.candidates):
            if c.models is not None and model.id not in c.models:
                continue
            cost[j, m] = c.box_price(model)
            room = fits[m]
            if c.openings is not None:
                room = np.ones_like(room)
            elif c.held:
                room = _room(model, signal + c.holds(mains_kinds, False), mains + c.holds(mains_kinds, True))
            offer[j] = np.where(room, cost[j, m], np.inf)
        better = offer < best
        best, which = np.where(better, offer, best), np.where(better, m, which)
    for j, c in enumerate(problem.candidates):
        if not c.pinned:
            best[j, 0, 0], which[j, 0, 0] = 0.0, -1
    return fits, cost, best, which


def _room(model: Model, signal: Ints, mains: Ints) -> NDArray[np.bool_]:
    """Whether a model takes these counts of signal openings and mains outlets."""
    s = np.where(signal > 0, -(-signal // model.openings) if model.openings else model.bays + 1, 0)
    p = np.where(mains > 0, -(-mains // model.outlets) if model.outlets else model.bays + 1, 0)
    return np.asarray((p <= model.mains_bays) & (s + p <= model.bays))


class _Rows:
    """Collects rows, arcs and cases."""

    def __init__(self, problem: Problem, kinds: tuple[str, ...], groups: tuple[tuple[str, ...], ...],
                 box_cost: Floats, most: Ints) -> None:
        self.row_kind: list[int] = []
        self.row_case: list[int] = []
        self.row_need: list[int] = []
        self.row_times: list[int] = []
        self.row_members: list[tuple[tuple[int, int], ...]] = []
        self.arc_row: list[int] = []
        self.arc_col: list[int] = []
        self.arc_cost: list[float] = []
        self.case_kind: list[int] = []
        self.case_groups: list[tuple[int, ...]] = []
        self.unreachable: list[tuple[int, str, int, int]] = []
        policy = problem.policy
        at_demand = np.array([(d.x, d.y, d.z) for d in problem.demands], dtype=float).reshape(-1, 3)
        at_candidate = np.array([(c.x, c.y, c.z) for c in problem.candidates], dtype=float).reshape(-1, 3)
        self.metres = np.sqrt(((at_demand[:, None] - at_candidate[None]) ** 2).sum(axis=2))
        index = {c.id: j for j, c in enumerate(problem.candidates)}
        number = {d.id: i for i, d in enumerate(problem.demands)}
        shut = np.zeros(self.metres.shape, dtype=bool)
        for demand, candidate in policy.blocked:
            if demand in number and candidate in index:
                shut[number[demand], index[candidate]] = True
        shut_in: dict[tuple[int, str], set[int]] = defaultdict(set)
        for demand, candidate, event in policy.blocked_in_event:
            if demand in number and candidate in index:
                shut_in[number[demand], event].add(index[candidate])
        members = [frozenset(group) for group in groups]
        for k, kind in enumerate(kinds):
            has_room = np.isfinite(box_cost[:, 0, 1:] if kind in policy.mains_kinds else box_cost[:, 1:, 0])
            in_reach = self.metres <= policy.reach.get(kind, np.inf) + METRE_ROUNDING
            near = ~shut & in_reach & (np.any(has_room, axis=1) & (most[:, k] > 0))[np.newaxis, :]
            users = [i for i, d in enumerate(problem.demands) if d.needs.get(kind)]
            usable = {i: tuple(np.flatnonzero(near[i]).tolist()) for i in users}
            cases: dict[tuple[tuple[int, frozenset[int]], ...], list[int]] = defaultdict(list)
            for g, group in enumerate(members):
                present = tuple((i, frozenset(j for e in group for j in shut_in.get((i, e), ())))
                                for i in users if not problem.demands[i].events
                                or group & set(problem.demands[i].events))
                if present:
                    cases[present].append(g)
            for present, where in cases.items():
                self._case(problem, k, kind, present, where, usable)

    def _case(self, problem: Problem, k: int, kind: str, present: tuple[tuple[int, frozenset[int]], ...],
              where: list[int], usable: dict[int, tuple[int, ...]]) -> None:
        case, times = len(self.case_kind), len(where)
        merged: dict[tuple[object, ...], list[tuple[int, int]]] = defaultdict(list)
        for i, closed in present:
            cols = tuple(j for j in usable[i] if j not in closed) if closed else usable[i]
            d = problem.demands[i]
            if cols:
                merged[d.x, d.y, d.z, cols].append((i, d.needs[kind]))
            else:
                self.unreachable += [(i, kind, g, d.needs[kind]) for g in where]
        if not merged:
            return
        self.case_kind.append(k)
        self.case_groups.append(tuple(where))
        for key, users in merged.items():
            cols = list(key[3])  # type: ignore[call-overload]
            row = len(self.row_need)
            self.row_kind.append(k)
            self.row_case.append(case)
            self.row_need.append(sum(n for _, n in users))
            self.row_times.append(times)
            self.row_members.append(tuple(users))
            self.arc_row += [row] * len(cols)
            self.arc_col += cols
            price = problem.policy.loose_cable_weight * times
            self.arc_cost += (price * self.metres[users[0][0], cols]).tolist()
