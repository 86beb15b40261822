"""The mixed-integer model of box choice as one sparse matrix, solved by HiGHS.

Columns: model at a candidate, kind open, need and openings (whole numbers), mains modules, flows, unserved units. The
tight form links each flow to its kind and each kind to its box, adds rounded spare and local cover cuts; the plain form
(for comparison only) has the capacity rows alone. With whole needs the flows of a case are a transport problem, so
whole flows cost no more than fractional ones.
"""

import os
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from math import ceil

import highspy
import numpy as np

from stagefloor.steps.boxes.planner_arrays import Arrays, least_content

WHOLE = 1e-5
Flows = dict[tuple[int, int], int]
Arcs = list[dict[int, float]]


@dataclass
class Matrix:
    """Columns and rows as they are collected."""

    cost: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_low: list[float] = field(default_factory=list)
    row_high: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)
    index: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)

    def col(self, cost: float, low: float, high: float, whole: bool) -> int:
        self.cost.append(cost)
        self.low.append(low)
        self.high.append(high)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, low: float, terms: list[tuple[int, float]], high: float) -> None:
        self.row_low.append(low)
        self.row_high.append(high)
        self.starts.append(len(self.index))
        for col, value in terms:
            self.index.append(col)
            self.value.append(value)

    def highs(self, whole: bool = True) -> highspy.Highs:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.row_low)
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = np.array(self.cost), np.array(self.low), np.array(self.high)
        lp.row_lower_, lp.row_upper_ = np.array(self.row_low), np.array(self.row_high)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array([*self.starts, len(self.index)], dtype=np.int32)
        lp.a_matrix_.index_ = np.array(self.index, dtype=np.int32)
        lp.a_matrix_.value_ = np.array(self.value)
        if whole:
            kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
            lp.integrality_ = [kinds[w] for w in self.whole]
        _licence_line_once()
        solver = highspy.Highs()  # type: ignore[no-untyped-call]
        solver.setOptionValue("output_flag", False)
        solver.passModel(lp)
        return solver


@cache
def _licence_line_once() -> None:
    """The first solver of a process prints its licence line whatever its options say: let it go nowhere, not on a page."""
    shown, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()  # type: ignore[no-untyped-call]
    finally:
        os.dup2(shown, 1)
        os.close(shown)
        os.close(nowhere)


@dataclass(frozen=True)
class Answer:
    """Units by (row, candidate), a bound on the model's optimum, and whether the solver finished."""

    flows: Flows | None
    bound: float
    finished: bool


class BoxModel:
    """The model for the rows with need in `need` and the candidates in `cols`.

    `room[j, case]` lets boxes outside `cols` serve what fits their openings at no cost but the cable's.
    """

    def __init__(self, arrays: Arrays, arcs: Arcs, need: dict[int, int], cols: set[int],
                 room: dict[tuple[int, int], int] | None = None, tight: bool = True, boxes: int | None = None) -> None:
        self.arrays, self.need, self.cols = arrays, need, cols
        self.arcs = [(row, j, cost) for row in sorted(need) for j, cost in arcs[row].items()]
        self.matrix = Matrix()
        self.y: dict[tuple[int, int], int] = {}
        self.z: dict[tuple[int, int], int] = {}
        self.u: dict[tuple[int, int], int] = {}
        self.x: dict[tuple[int, int], int] = {}
        self.t: dict[int, int] = {}
        self.o: dict[tuple[int, int], int] = {}
        self.modules: dict[tuple[int, int], int] = {}
        self.sizes = arrays.models
        self._boxes(tight, arrays.max_boxes if boxes is None else boxes)
        self._flows(room or {}, tight)
        if tight:
            self._cover_cuts()

    def _boxes(self, tight: bool, boxes: int) -> None:
        a, m = self.arrays, self.matrix
        peak: dict[tuple[int, int], dict[int, int]] = defaultdict(lambda: defaultdict(int))
        for row, j, _ in self.arcs:
            peak[j, int(a.row_kind[row])][int(a.row_case[row])] += self.need[row]
        for j in sorted(self.cols):
            usable = [k for k in range(len(a.kinds)) if (j, k) in peak]
            models = [n for n in range(len(a.fits)) if np.isfinite(a.model_cost[j, n])]
            for n in models:
                self.y[j, n] = m.col(float(a.model_cost[j, n]), 0, 1, True)
            one = 1.0 if a.pinned[j] else 0.0
            m.row(one, [(self.y[j, n], 1.0) for n in models], 1.0)
            for k in usable:
                opens = np.arange(int(a.most[j, k]) + 1) if a.built[j] else a.openings_for[k]
                most = min(max(peak[j, k].values()), int(a.most[j, k]))
                spare = bool(np.any(opens != np.arange(len(opens))))
                self.z[j, k] = m.col(0.0, 0, 1, True)
                self.u[j, k] = m.col(0.0 if spare else float(a.opening_cost[j, k]), 0, most, True)
                self.o[j, k] = (m.col(float(a.opening_cost[j, k]), 0, float(opens[most]), True) if spare
                                else self.u[j, k])
                m.row(-np.inf, [(self.u[j, k], 1.0), (self.z[j, k], -float(most))], 0.0)
                m.row(-np.inf, [(self.z[j, k], 1.0), *((self.y[j, n], -1.0) for n in models)], 0.0)
                m.row(-np.inf, [(self.z[j, k], 1.0), (self.u[j, k], -1.0)], 0.0)
                if spare:
                    table = opens[:most + 1].tolist()
                    for slope, base in _lower_hull(table) if tight else [(max_slope(table), 0.0)]:
                        m.row(0.0, [(self.o[j, k], 1.0), (self.u[j, k], -slope), (self.z[j, k], -base)], np.inf)
            if not a.built[j]:
                self._room(j, models, usable, tight)
        if boxes < len(self.cols):
            m.row(-np.inf, [(col, 1.0) for col in self.y.values()], float(boxes))

    def _room(self, j: int, models: list[int], usable: list[int], tight: bool) -> None:
        """Modules fit the bays, mains modules the bays behind the barrier."""
        a, m = self.arrays, self.matrix
        signal = [(self.o[j, k], 1.0) for k in usable if not a.is_mains[k]]
        mains = [(self.o[j, k], 1.0) for k in usable if a.is_mains[k]]
        if not signal and not mains:
            return
        outlets: list[tuple[int, float]] = []
        held_signal, held_mains = a.held[j].tolist()
        for n in models:
            size = self.sizes[n]
            signal.append((self.y[j, n], float(held_signal - size.bays * size.openings)))
            if held_mains:
                outlets.append((self.y[j, n], float(held_mains)))
            if (mains or held_mains) and size.mains_bays:
                col = self.modules[j, n] = m.col(0.0, 0, size.mains_bays, True)
                m.row(-np.inf, [(col, 1.0), (self.y[j, n], -float(size.mains_bays))], 0.0)
                outlets.append((col, -float(size.outlets)))
                signal.append((col, float(size.openings)))
        m.row(-np.inf, signal, 0.0)
        if mains or held_mains:
            m.row(-np.inf, mains + outlets, 0.0)
        for k in usable if tight else ():
            tops = [(self.y[j, n], -float(self.sizes[n].top(a.is_mains[k]))) for n in models]
            m.row(-np.inf, [(self.o[j, k], 1.0), *tops], 0.0)

    def _flows(self, room: dict[tuple[int, int], int], tight: bool) -> None:
        a, m = self.arrays, self.matrix
        into: dict[int, list[tuple[int, float]]] = defaultdict(list)
        out: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
        for row, j, cost in self.arcs:
            kind, case, need = int(a.row_kind[row]), int(a.row_case[row]), self.need[row]
            if j not in self.cols and (j, case) not in room:
                continue
            col = self.x[row, j] = m.col(cost, 0, need, False)
            into[row].append((col, 1.0))
            out[j, case].append((col, 1.0))
            if tight and j in self.cols:
                m.row(-np.inf, [(col, 1.0), (self.z[j, kind], -float(need))], 0.0)
        for row, need in self.need.items():
            self.t[row] = m.col(float(a.row_price[row]), 0, need, False)
            m.row(need, [*into[row], (self.t[row], 1.0)], need)
        for (j, case), terms in out.items():
            if j in self.cols:
                m.row(-np.inf, [*terms, (self.u[j, int(a.case_kind[case])], -1.0)], 0.0)
            else:
                m.row(-np.inf, terms, float(room[j, case]))

    def _cover_cuts(self) -> None:
        """What the candidates that alone can serve some rows must hold at least: openings, bays, boxes."""
        near: dict[int, set[int]] = defaultdict(set)
        for row, j in self.x:
            near[row].add(j)
        if not all(places <= self.cols for places in near.values()):
            return
        for places in {frozenset(n) for n in near.values()} | {frozenset(self.cols)}:
            if any(self.arrays.built[j] for j in places):
                continue  # what is built needs neither spare nor bays
            cover = least_content(self.arrays, {r: self.need[r] for r, n in near.items() if n <= places})
            unserved = [(self.t[r], float(cover.relief)) for r in cover.rows]
            for k, least in cover.openings.items():
                held = [(self.o[j, k], 1.0) for j in places if (j, k) in self.o]
                self.matrix.row(float(least), [*held, *unserved], np.inf)
            y = [(col, n) for (j, n), col in self.y.items() if j in places]
            if cover.bays > 1:
                bays = [(col, float(self.sizes[n].bays)) for col, n in y]
                self.matrix.row(float(cover.bays), bays + unserved, np.inf)
            if cover.boxes > 1:
                self.matrix.row(float(cover.boxes), [(col, 1.0) for col, _ in y] + unserved, np.inf)

    def solve(self, seconds: float, start: Flows | None = None, cutoff: float = np.inf,
              stop: Callable[[], bool] | None = None, report: Callable[[float, float], None] | None = None,
              rel_gap: float = 1e-6) -> Answer:
        """Solve for at most `seconds`; `start` holds units by (row, candidate) of a known plan."""
        if np.isfinite(cutoff):
            self.matrix.row(-np.inf, [(col, c) for col, c in enumerate(self.matrix.cost) if c], cutoff)
        solver = self.matrix.highs()
        solver.setOptionValue("time_limit", max(0.05, seconds))
        solver.setOptionValue("mip_rel_gap", rel_gap)
        solver.setOptionValue("mip_abs_gap", 1e-4)
        if start is not None:
            begin = highspy.HighsSolution()
            begin.col_value = self._values(start)
            solver.setSolution(begin)
        if stop is not None or report is not None:
            def watch(event: highspy.highs.HighsCallbackEvent) -> None:
                if report is not None:
                    report(event.data_out.mip_primal_bound, event.data_out.mip_dual_bound)
                if stop is not None and stop():
                    event.interrupt()
            solver.cbMipInterrupt.subscribe(watch)
        solver.run()
        info, status = solver.getInfo(), solver.getModelStatus()
        finished = status in (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kInfeasible)
        flows = None
        if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
            flows = self._read(np.array(solver.getSolution().col_value))
        return Answer(flows, float(info.mip_dual_bound), finished)

    def _values(self, start: Flows) -> list[float]:
        """Whole columns of a known plan and its flows; what does not belong to this model is left out."""
        a = self.arrays
        values = np.zeros(len(self.matrix.cost))
        load: dict[tuple[int, int], int] = defaultdict(int)
        left = dict(self.need)
        for (row, j), n in start.items():
            if (row, j) in self.x:
                values[self.x[row, j]] = n
                load[j, int(a.row_case[row])] += n
                left[row] -= n
        for row, n in left.items():
            values[self.t[row]] = max(0, n)
        signal: dict[int, int] = defaultdict(int)
        mains: dict[int, int] = defaultdict(int)
        for (j, k), col in self.u.items():
            use = max((load.get((j, c), 0) for c in np.flatnonzero(a.case_kind == k).tolist()), default=0)
            opens = use if a.built[j] else int(a.openings_for[k][use])
            values[col], values[self.o[j, k]], values[self.z[j, k]] = use, opens, float(use > 0)
            (mains if a.is_mains[k] else signal)[j] += int(a.openings_for[k][use])
        for j in self.cols:
            n = int(a.box_model[j, signal[j], mains[j]])
            if n >= 0:
                values[self.y[j, n]] = 1.0
                if (j, n) in self.modules:
                    values[self.modules[j, n]] = ceil((mains[j] + int(a.held[j, 1])) / self.sizes[n].outlets)
        return values.tolist()

    def _read(self, values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> Flows:
        """Whole units; if the solver stopped between corners, the flows are solved again with the openings held."""
        x = {key: values[col] for key, col in self.x.items()}
        if any(abs(v - round(v)) > WHOLE for v in x.values()):
            held = self.matrix.highs(whole=False)
            for col, whole in enumerate(self.matrix.whole):
                if whole:
                    held.changeColBounds(col, float(round(values[col])), float(round(values[col])))
            held.setOptionValue("solver", "simplex")
            held.run()
            again = held.getSolution().col_value
            x = {key: again[col] for key, col in self.x.items()}
        return {key: round(v) for key, v in x.items() if round(v) > 0}


def max_slope(table: list[int]) -> float:
    """The steepest line through the origin that stays on or below the table of openings."""
    return min(o / u for u, o in enumerate(table) if u)


def _lower_hull(table: list[int]) -> list[tuple[float, float]]:
    """Lines (slope, base) of the lower hull of (need, openings) for needs of 1 and more."""
    points = [(u, o) for u, o in enumerate(table) if u]
    hull: list[tuple[int, int]] = []
    for u, o in points:
        while len(hull) > 1 and (hull[-1][1] - hull[-2][1]) * (u - hull[-2][0]) >= (o - hull[-2][1]) * (
                hull[-1][0] - hull[-2][0]):
            hull.pop()
        hull.append((u, o))
    if len(hull) == 1:
        return [(float(hull[0][1]) / hull[0][0], 0.0)]
    lines = []
    for (u, o), (v, p) in pairwise(hull):
        slope = (p - o) / (v - u)
        lines.append((slope, o - slope * u))
    return lines
