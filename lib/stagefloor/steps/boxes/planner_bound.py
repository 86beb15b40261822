"""A lower bound on the cost of any plan: every row pays a price a unit, every candidate keeps its best profit.

Lagrangian relaxation of 'each row is served': for given prices the candidates part, and the best content of each is
found exactly (rounded spare, bays, mains bays, model included), so the bound is at least that of the linear relaxation.
Prices move by subgradient steps. Source: Geoffrion, Lagrangean relaxation for integer programming (1974), from memory.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stagefloor.steps.boxes.planner_arrays import Arrays, Floats, Ints

SLACK = 1e-7  # a bound is reported this fraction lower, against rounding in long sums
PATIENCE = 15
SMOOTH = 0.6


@dataclass(frozen=True)
class Pricing:
    """What one set of prices says: the bound, each candidate's value (negative: it would pay), what it would serve."""

    bound: float
    value: Floats
    open: NDArray[np.bool_]
    served: Floats
    unit_arc: Ints
    chosen: NDArray[np.bool_]


class Relaxation:
    """Keeps prices and the best bound; `keep` drops candidates that can't be in a better plan."""

    def __init__(self, arrays: Arrays, least: int = 0, most: int | None = None) -> None:
        self.arrays = arrays
        self.least, self.most = least, arrays.max_boxes if most is None else min(most, arrays.max_boxes)
        self.alive = np.ones(arrays.cols, dtype=bool)
        self.bound = -np.inf
        self.prices = self._first_prices()
        self.best_prices = self.prices
        self.best_value = np.zeros(arrays.cols)
        self._step, self._stale = 1.0, 0
        self._direction = np.zeros(arrays.rows)
        self.empty = arrays.model_cost.min(axis=1, initial=np.inf)
        self._units()

    def _first_prices(self) -> Floats:
        a = self.arrays
        prices = a.row_price.copy()
        if len(a.arc_row):
            cases = np.bincount(a.case_kind, minlength=len(a.kinds))[a.row_kind[a.arc_row]]
            room = max(1, a.box_cost.shape[1] // 2)
            mid = a.box_cost[:, min(room, a.box_cost.shape[1] - 1), 0]
            share = a.opening_cost[a.arc_col, a.row_kind[a.arc_row]]
            share = share + np.where(np.isfinite(mid), mid, 0.0)[a.arc_col] / room
            guess = a.arc_cost + share / cases
            np.minimum.at(prices, a.arc_row, guess)
        return prices

    def _units(self) -> None:
        """Arcs spread into units, with the place (candidate, case) in which they compete for openings."""
        a = self.arrays
        ok = self.alive[a.arc_col]
        arc = np.flatnonzero(ok)
        top = np.array([len(o) - 1 for o in a.openings_for], dtype=np.int64)
        copies = np.minimum(a.row_need[a.arc_row[arc]], top[a.row_kind[a.arc_row[arc]]]) if len(arc) else arc
        unit = np.repeat(arc, copies)
        place = a.arc_col[unit] * max(1, len(a.case_kind)) + a.row_case[a.arc_row[unit]]
        order = np.argsort(place, kind="stable")
        self.unit_arc, place = unit[order], place[order]
        names, self.unit_place = np.unique(place, return_inverse=True)
        self.place_start = np.searchsorted(place, names)
        self.unit_row = a.arc_row[self.unit_arc]
        self.unit_col = a.arc_col[self.unit_arc]
        self.unit_kind = a.row_kind[self.unit_row]
        self.unit_cost = a.arc_cost[self.unit_arc]
        self.live = np.flatnonzero(self.alive)
        self.slot = np.full(a.cols, -1, dtype=np.int64)
        self.slot[self.live] = np.arange(len(self.live))

    def pricing(self, prices: Floats, need: Floats | None = None) -> Pricing:
        """The bound for these prices; with `need` (a heuristic's remaining need), rows without need don't bid."""
        a = self.arrays
        profit = prices[self.unit_row] - self.unit_cost
        if need is not None:
            profit = np.where(need[self.unit_row] > 0, profit, -1.0)
        span = 2.0 * (float(np.abs(profit).max(initial=0.0)) + 1.0)
        order = np.argsort(self.unit_place * span - profit)
        ranked = profit[order]
        rank = np.empty(len(order), dtype=np.int64)
        rank[order] = np.arange(len(order)) - self.place_start[self.unit_place[order]]
        n, kinds = len(self.live), len(a.kinds)
        top = max((len(o) for o in a.openings_for), default=1)
        unit_slot = self.slot[self.unit_col]
        within = (profit > 0) & (rank < top - 1)
        where = (unit_slot * kinds + self.unit_kind) * top + np.minimum(rank + 1, top - 1)
        gain = np.bincount(where[within], weights=profit[within], minlength=n * kinds * top)
        del ranked
        gain = np.cumsum(gain.reshape(n, kinds, top), axis=2)
        value, count = self._best_content(gain)
        opened = self._opened(value)
        chosen = within & opened[unit_slot] & (rank < count[unit_slot, self.unit_kind])
        served = np.bincount(self.unit_row[chosen], minlength=a.rows).astype(float)
        bound = float(prices @ a.row_need) + float(value[opened].sum())
        full = np.zeros(a.cols)
        full[self.live] = value
        is_open = np.zeros(a.cols, dtype=bool)
        is_open[self.live] = opened
        return Pricing(bound, full, is_open, served, self.unit_arc, chosen)

    def _opened(self, value: Floats) -> NDArray[np.bool_]:
        """The candidates to open at the least value, within the counts allowed."""
        pinned = self.arrays.pinned[self.live]
        order = np.flatnonzero(~pinned)[np.argsort(value[~pinned], kind="stable")]
        fixed = int(pinned.sum())
        paying = int(np.count_nonzero(value[order] < -1e-12))
        count = min(max(paying, self.least - fixed), max(0, self.most - fixed), len(order))
        opened = pinned.copy()
        opened[order[:count]] = True
        return opened

    def _best_content(self, gain: Floats) -> tuple[Floats, Ints]:
        """Least (cost - profit) of each live candidate and the need per kind that gives it."""
        a, live = self.arrays, self.live
        n, signal_top, mains_top = len(live), a.box_cost.shape[1], a.box_cost.shape[2]
        totals: dict[bool, Floats] = {}
        steps: list[tuple[int, bool, Ints]] = []
        for mains, top in ((False, signal_top), (True, mains_top)):
            total = np.full((n, top), -np.inf)
            total[:, 0] = 0.0
            for k in range(len(a.kinds)):
                if a.is_mains[k] != mains:
                    continue
                opens = a.openings_for[k]
                useful = gain[:, k, :len(opens)] - a.opening_cost[live, k][:, None] * opens[None, :]
                best, pick = total + useful[:, :1], np.zeros((n, top), dtype=np.int64)
                grows = np.flatnonzero(np.any(np.diff(gain[:, k, :len(opens)], axis=1) > 0, axis=0)) + 1
                for u in grows:
                    o = int(opens[u])
                    offer = total[:, :top - o] + useful[:, u][:, None]
                    better = offer > best[:, o:]
                    best[:, o:] = np.where(better, offer, best[:, o:])
                    pick[:, o:][better] = u
                total = best
                steps.append((k, mains, pick))
            totals[mains] = total
        value = a.box_cost[live] - totals[False][:, :, None] - totals[True][:, None, :]
        if self.least:
            value[:, 0, 0] = np.where(self.arrays.pinned[live], value[:, 0, 0], self.empty[live])
        flat = value.reshape(n, -1)
        at = flat.argmin(axis=1)
        place = {False: at // mains_top, True: at % mains_top}
        count = np.zeros((n, len(a.kinds)), dtype=np.int64)
        row = np.arange(n)
        for k, mains, pick in reversed(steps):
            count[:, k] = pick[row, place[mains]]
            place[mains] = place[mains] - a.openings_for[k][count[:, k]]
        return flat[row, at], count

    def step(self, upper: float) -> Pricing:
        """One subgradient step towards `upper`, the cost of the best plan known."""
        a = self.arrays
        found = self.pricing(self.prices)
        if found.bound > self.bound + 1e-5 * abs(self.bound if np.isfinite(self.bound) else 0.0):
            self._stale = 0
        else:
            self._stale += 1
        if found.bound > self.bound:
            self.bound, self.best_prices, self.best_value = found.bound, self.prices, found.value
        if self._stale >= PATIENCE:
            self._step, self._stale = max(self._step * 0.7, 0.002), 0
            self.prices, self._direction = self.best_prices, np.zeros(a.rows)
            found = self.pricing(self.prices)
        slope = a.row_need - found.served
        at_top, at_zero = self.prices >= a.row_price, self.prices <= 0
        slope = np.where((at_top & (slope > 0)) | (at_zero & (slope < 0)), 0.0, slope)
        self._direction = SMOOTH * self._direction + (1 - SMOOTH) * slope
        size = float(self._direction @ self._direction)
        if size > 0:
            length = self._step * max(upper - found.bound, 1e-6 * abs(upper)) / size
            self.prices = np.clip(self.prices + length * self._direction, 0.0, a.row_price)
        return found

    @property
    def proven_bound(self) -> float:
        """The best bound, lowered against rounding."""
        return self.bound - SLACK * (abs(self.bound) + 1.0)

    def keep(self, upper: float) -> int:
        """Drop candidates whose use would cost more than `upper`; returns how many remain."""
        value = self.best_value[self.live]
        opened = self._opened(value) & ~self.arrays.pinned[self.live]
        count = int(opened.sum())
        fixed = int(self.arrays.pinned[self.live].sum())
        instead = 0.0
        if opened.any() and (count + fixed >= self.most or (self.least and count + fixed <= self.least)):
            instead = float(value[opened].max())
        hopeless = np.zeros(self.arrays.cols, dtype=bool)
        hopeless[self.live] = ~opened & (self.proven_bound + value - instead > upper)
        hopeless &= ~self.arrays.pinned
        self.alive &= ~hopeless
        if int(self.alive.sum()) < len(self.live):
            self._units()
        return int(self.alive.sum())
