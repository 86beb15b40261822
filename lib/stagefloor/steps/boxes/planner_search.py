"""Heuristics of the box planner: a layout is who plugs in where; what to build follows from it.

Builds a layout in clusters around candidates that pay at given prices, trims it, and improves it by emptying one or two
boxes and serving what they served elsewhere or from a neighbouring candidate (drop, move, merge). Proves nothing.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from time import monotonic

import numpy as np

from stagefloor.steps.boxes.planner_arrays import Arrays
from stagefloor.steps.boxes.planner_bound import Relaxation

BETTER = 1e-6
CLUSTER_SHARE = 0.7  # a candidate joins a round if this much of what it would serve is still unserved


class Layout:
    """Flows `at[j][row]`, and the openings, room and cost that follow. Every change is kept in a journal for undo."""

    def __init__(self, arrays: Arrays, arcs: list[dict[int, float]]) -> None:
        self.arrays, self.arcs = arrays, arcs
        self.at: list[dict[int, int]] = [{} for _ in range(arrays.cols)]
        self.load: list[dict[int, int]] = [defaultdict(int) for _ in range(arrays.cols)]
        self.use: list[list[int]] = [[0] * len(arrays.kinds) for _ in range(arrays.cols)]
        self.signal, self.mains = [0] * arrays.cols, [0] * arrays.cols
        self.left = arrays.row_need.tolist()
        self.where: list[dict[int, float]] = [{} for _ in range(arrays.rows)]
        self.kind, self.case = arrays.row_kind.tolist(), arrays.row_case.tolist()
        self.price = arrays.row_price.tolist()
        self.arc_cost = arcs
        self.most: list[list[int]] = arrays.most.tolist()
        self.opens: list[list[int]] = [o.tolist() for o in arrays.openings_for]
        self.box: list[list[list[float]]] = arrays.box_cost.tolist()
        self.opening: list[list[float]] = arrays.opening_cost.tolist()
        self.cases_of: list[list[int]] = [[] for _ in arrays.kinds]
        for case, kind in enumerate(arrays.case_kind.tolist()):
            self.cases_of[kind].append(case)
        self.pinned = arrays.pinned.tolist()
        self.cost = sum(b[0][0] for b in self.box) + sum(p * n for p, n in zip(self.price, self.left, strict=True))
        self.open_count = sum(self.pinned)
        self.journal: list[tuple[int, int, int]] = []

    def is_open(self, j: int) -> bool:
        return self.pinned[j] or bool(self.at[j])

    def open_boxes(self) -> list[int]:
        return [j for j in range(self.arrays.cols) if self.is_open(j)]

    def _grown(self, j: int, k: int, use: int) -> float:
        """Change of box and opening cost if the need of kind k at j becomes `use`; inf if there is no room."""
        opens, old = self.opens[k], self.opens[k][self.use[j][k]]
        if use > self.most[j][k]:
            return np.inf
        more = opens[use] - old
        signal, mains = self.signal[j], self.mains[j]
        before = self.box[j][signal][mains]
        if self.arrays.is_mains[k]:
            mains += more
        else:
            signal += more
        table = self.box[j]
        if signal >= len(table) or mains >= len(table[0]):
            return np.inf
        return table[signal][mains] - before + more * self.opening[j][k]

    def offer(self, row: int, j: int, most: int) -> tuple[int, float]:
        """The most units (up to `most`) that j can still take of a row, and the change of cost."""
        if not self.is_open(j) and self.open_count >= self.arrays.max_boxes:
            return 0, np.inf
        k = self.kind[row]
        load, use = self.load[j][self.case[row]], self.use[j][k]
        for n in range(most, 0, -1):
            change = 0.0 if load + n <= use else self._grown(j, k, load + n)
            if change < np.inf:
                return n, change + n * self.arc_cost[row][j]
        return 0, np.inf

    def add(self, row: int, j: int, n: int) -> None:
        """Serve n more units (negative: fewer) of a row from j, which must have room."""
        self._change(row, j, n)
        self.journal.append((row, j, n))

    def _change(self, row: int, j: int, n: int) -> None:
        k, case, was_open = self.kind[row], self.case[row], self.is_open(j)
        at = self.at[j]
        at[row] = at.get(row, 0) + n
        if at[row] == 0:
            del at[row]
            del self.where[row][j]
        else:
            self.where[row][j] = self.arc_cost[row][j]
        self.left[row] -= n
        load = self.load[j]
        load[case] += n
        use = self.use[j][k]
        new = max(use, load[case]) if n > 0 else (
            use if load[case] - n < use else max(load.get(c, 0) for c in self.cases_of[k]))
        if new != use:
            self.cost += self._grown(j, k, new)
            more = self.opens[k][new] - self.opens[k][use]
            if self.arrays.is_mains[k]:
                self.mains[j] += more
            else:
                self.signal[j] += more
            self.use[j][k] = new
        self.cost += n * (self.arc_cost[row][j] - self.price[row])
        self.open_count += self.is_open(j) - was_open

    def undo(self, mark: int) -> None:
        """Take back every change after `mark`, a length of the journal."""
        while len(self.journal) > mark:
            row, j, n = self.journal.pop()
            self._change(row, j, -n)

    def empty(self, j: int) -> list[int]:
        """Take everything off j; returns the rows that lost units."""
        rows = list(self.at[j])
        for row in rows:
            self.add(row, j, -self.at[j][row])
        return rows

    def serve(self, rows: Iterable[int], shut: frozenset[int] = frozenset(), first: int = -1,
              only_open: bool = False) -> None:
        """Serve what the rows still need, cheapest unit first; `first` is preferred while it has room."""
        order = sorted(rows, key=lambda r: (-self.left[r] * len(self.arcs[r]) ** -0.5, r))
        for row in order:
            while self.left[row] > 0:
                if first >= 0 and first in self.arc_cost[row]:
                    n, change = self.offer(row, first, self.left[row])
                    if n and (self.is_open(first) or change < np.inf):
                        self.add(row, first, n)
                        continue
                best, choice = self.price[row], (-1, 0)
                for j in self.arcs[row]:
                    if j in shut or (only_open and not self.is_open(j)):
                        continue
                    n, change = self.offer(row, j, self.left[row])
                    if n and change / n < best - BETTER:
                        best, choice = change / n, (j, n)
                if choice[0] < 0:
                    break
                self.add(row, *choice)

    def snapshot(self) -> dict[tuple[int, int], int]:
        """Units by (row, candidate)."""
        return {(row, j): n for j, rows in enumerate(self.at) for row, n in rows.items()}


def arcs_by_row(arrays: Arrays) -> list[dict[int, float]]:
    """For each row the candidates that reach it with the price of a unit, nearest first."""
    arcs: list[dict[int, float]] = [{} for _ in range(arrays.rows)]
    order = np.lexsort((arrays.arc_col, arrays.arc_cost, arrays.arc_row))
    rows, cols, costs = arrays.arc_row[order], arrays.arc_col[order], arrays.arc_cost[order]
    for row, col, cost in zip(rows.tolist(), cols.tolist(), costs.tolist(), strict=True):
        arcs[row][col] = cost
    return arcs


def layout_of(arrays: Arrays, arcs: list[dict[int, float]], flows: dict[tuple[int, int], int]) -> Layout:
    """The layout with these units by (row, candidate); units without room or way are left out."""
    layout = Layout(arrays, arcs)
    for (row, j), n in flows.items():
        if j in layout.arc_cost[row]:
            fits, _ = layout.offer(row, j, min(n, layout.left[row]))
            if fits:
                layout.add(row, j, fits)
    layout.journal.clear()
    return layout


def clustered(arrays: Arrays, arcs: list[dict[int, float]], relaxation: Relaxation) -> Layout:
    """A first layout: in rounds, the candidates that pay most at the relaxation's prices take what is near them."""
    layout = Layout(arrays, arcs)
    prices = np.minimum(relaxation.best_prices * 1.05, arrays.row_price)
    while True:
        need = np.array(layout.left, dtype=float)
        found = relaxation.pricing(prices, need)
        taken: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        for arc in found.chosen.tolist():
            taken[int(arrays.arc_col[arc])][int(arrays.arc_row[arc])] += 1
        progress = False
        for j in sorted(taken, key=lambda c: float(found.value[c])):
            units = {row: min(n, layout.left[row]) for row, n in taken[j].items()}
            if sum(units.values()) < CLUSTER_SHARE * sum(taken[j].values()):
                continue
            for row, n in units.items():
                fits, _ = layout.offer(row, j, n) if n else (0, 0.0)
                if fits:
                    layout.add(row, j, fits)
                    progress = True
        if not progress:
            break
    layout.serve([r for r in range(arrays.rows) if layout.left[r] > 0])
    layout.journal.clear()
    return layout


def improve(layout: Layout, until: float, stop: Callable[[], bool]) -> None:
    """Drop, move and merge boxes while that lowers the cost, until the clock `until` or nothing helps."""
    rounds = True
    while rounds:
        rounds = False
        boxes = layout.open_boxes()
        for j in sorted(boxes, key=lambda c: sum(layout.at[c].values())):
            if monotonic() > until or stop():
                return
            if not layout.at[j]:
                continue
            rounds = _try(layout, (j,), -1) or rounds
            near = _neighbours(layout, j)
            for target in [c for c in near if not layout.is_open(c)][:8]:
                if not layout.at[j]:
                    break
                if monotonic() > until:
                    return
                rounds = _try(layout, (j,), target) or rounds
            for other in [c for c in near if layout.at[c]][:3]:
                if not layout.at[j] or not layout.at[other]:
                    continue
                for target in (j, other, *[c for c in near if not layout.is_open(c)][:3]):
                    if monotonic() > until:
                        return
                    if _try(layout, (j, other), target):
                        rounds = True
                        break


def _neighbours(layout: Layout, j: int) -> list[int]:
    """Other candidates, those that could serve most of what j serves first."""
    shared: dict[int, int] = defaultdict(int)
    for row, n in layout.at[j].items():
        for other in layout.arcs[row]:
            shared[other] += n
    shared.pop(j, None)
    return sorted(shared, key=lambda c: (-shared[c], c))


def _try(layout: Layout, emptied: tuple[int, ...], target: int) -> bool:
    """Empty boxes and serve their rows anew, from `target` first; keep it if it costs less."""
    mark, before = len(layout.journal), layout.cost
    rows: set[int] = set()
    for j in emptied:
        rows.update(layout.empty(j))
    layout.serve(rows, shut=frozenset(emptied) - {target}, first=target)
    if layout.cost < before - BETTER:
        layout.journal.clear()
        return True
    layout.undo(mark)
    layout.cost = before
    return False


def refilled(layout: Layout, emptied: list[int], flows: dict[tuple[int, int], int]) -> bool:
    """Empty boxes and serve these units by (row, candidate) instead; kept and True if that costs less."""
    mark, before = len(layout.journal), layout.cost
    for j in emptied:
        layout.empty(j)
    for (row, j), n in flows.items():
        fits, _ = layout.offer(row, j, min(n, layout.left[row]))
        if fits:
            layout.add(row, j, fits)
    if layout.cost < before - BETTER:
        layout.journal.clear()
        return True
    layout.undo(mark)
    layout.cost = before
    return False
