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
SETTLED = 0.01  # step length below which the bound moved by less than 0.1 % in trials
SMOOTH = 0.6


@dataclass(frozen=True)
class Pricing:
    """What one set of prices says: the bound, each candidate's value (negative: it would pay), what it would serve;
    `chosen` holds one arc for each unit served."""

    bound: float
    value: Floats
    open: NDArray[np.bool_]
    served: Floats
    chosen: Ints


Stage = tuple[int, bool, Floats, Floats]  # kind, is mains, best before it, profit by need


@dataclass(frozen=True)
class Region:
    """Some candidates of which at least `least` and at most `most` are used."""

    cols: Ints
    least: int
    most: int


def whole_stage(arrays: Arrays) -> tuple[Region, ...]:
    """One region for all free candidates and one for those that must be used."""
    pinned, free = np.flatnonzero(arrays.pinned), np.flatnonzero(~arrays.pinned)
    most = min(len(free), max(0, arrays.max_boxes - len(pinned)))
    return Region(free, 0, most), Region(pinned, len(pinned), len(pinned))


class Relaxation:
    """Keeps prices and the best bound; `keep` drops candidates that can't be in a better plan."""

    def __init__(self, arrays: Arrays, regions: tuple[Region, ...] | None = None, prices: Floats | None = None,
                 step: float = 1.0) -> None:
        self.arrays = arrays
        self.regions = whole_stage(arrays) if regions is None else regions
        self.alive = np.zeros(arrays.cols, dtype=bool)
        for region in self.regions:
            self.alive[region.cols] = region.most > 0
        self.bound = -np.inf
        self.prices = self._first_prices() if prices is None else prices
        self.best_prices = self.prices
        self.best_value = np.zeros(arrays.cols)
        self.often = np.zeros(arrays.cols)
        self._step, self._stale = step, 0
        self._direction = np.zeros(arrays.rows)
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
        new = np.diff(place, prepend=-1) > 0
        self.unit_place = np.cumsum(new) - 1
        place_start = np.flatnonzero(new)
        self.unit_row = a.arc_row[self.unit_arc]
        self.unit_col = a.arc_col[self.unit_arc]
        self.unit_kind = a.row_kind[self.unit_row]
        self.unit_cost = a.arc_cost[self.unit_arc]
        self.live = np.flatnonzero(self.alive)
        self.box_cost = np.ascontiguousarray(a.box_cost[self.live].transpose(1, 2, 0))
        if len(self.live):
            self.box_cost[0, 0] = a.model_cost[self.live].min(axis=1, initial=np.inf)
        slot = np.full(a.cols, -1, dtype=np.int64)
        slot[self.live] = np.arange(len(self.live))
        self.unit_slot = slot[self.unit_col]
        # Units of a place lie together, so after sorting by falling profit within each place the rank is fixed.
        rank = np.arange(len(place)) - place_start[self.unit_place]
        self.top = max((len(o) for o in a.openings_for), default=1)
        self.ranked_in = rank < self.top - 1
        cell = (self.unit_kind * self.top + np.minimum(rank + 1, self.top - 1)) * len(self.live) + self.unit_slot
        self.ranked_cell = cell[self.ranked_in]

    def pricing(self, prices: Floats, need: Floats | None = None) -> Pricing:
        """The bound for these prices; with `need` (a heuristic's remaining need), rows without need don't bid."""
        a = self.arrays
        profit = prices[self.unit_row] - self.unit_cost
        if need is not None:
            profit = np.where(need[self.unit_row] > 0, profit, -1.0)
        span = 2.0 * (float(np.abs(profit).max(initial=0.0)) + 1.0)
        start = self.unit_place * span
        ranked = np.maximum(start - np.sort(start - profit), 0.0)[self.ranked_in]
        n, kinds = len(self.live), len(a.kinds)
        won = np.bincount(self.ranked_cell, weights=ranked, minlength=kinds * self.top * n)
        gain = np.cumsum(won.reshape(kinds, self.top, n).astype(np.float64), axis=1)
        value, stages = self._best_content(gain)
        full = np.full(a.cols, np.inf)
        full[self.live] = value
        is_open = self.opened(full)
        opened = is_open[self.live]
        count = np.zeros((n, kinds), dtype=np.int64)
        picked = np.flatnonzero(opened)
        count[picked] = self._content(picked, stages)
        asked = np.flatnonzero(opened[self.unit_slot] & (profit > 0))
        asked = asked[np.argsort(start[asked] - profit[asked], kind="stable")]
        place = self.unit_place[asked]
        first = np.searchsorted(place, place)
        chosen = asked[np.arange(len(asked)) - first < count[self.unit_slot[asked], self.unit_kind[asked]]]
        served = np.bincount(self.unit_row[chosen], minlength=a.rows).astype(float)
        bound = float(prices @ a.row_need) + float(value[opened].sum())
        return Pricing(bound, full, is_open, served, self.unit_arc[chosen])

    def opened(self, value: Floats) -> NDArray[np.bool_]:
        """The candidates to open at the least value (all candidates), within the counts of each region."""
        opened = np.zeros(self.arrays.cols, dtype=bool)
        for region in self.regions:
            cols = region.cols[self.alive[region.cols]]
            order = cols[np.argsort(value[cols], kind="stable")]
            paying = int(np.count_nonzero(value[order] < -1e-12))
            opened[order[:min(max(paying, region.least), region.most)]] = True
        return opened

    def _best_content(self, gain: Floats) -> tuple[Floats, list[Stage]]:
        """Least (cost - profit) of each live candidate, and the stages that lead back to its content."""
        a, live = self.arrays, self.live
        totals: dict[bool, Floats] = {}
        stages: list[Stage] = []
        for mains, top in ((False, a.box_cost.shape[1]), (True, a.box_cost.shape[2])):
            total = np.full((top, len(live)), -np.inf)
            total[0] = 0.0
            for k in np.flatnonzero(np.array(a.is_mains) == mains).tolist():
                opens = a.openings_for[k]
                useful = gain[k, :len(opens)] - opens[:, None] * a.opening_cost[live, k][None, :]
                if a.built[live].any():
                    useful = np.where(np.arange(len(opens))[:, None] > a.most[live, k][None, :], -np.inf, useful)
                # Gains fall with each unit, so nothing past the largest pays anywhere.
                useful = useful[:int(useful.argmax(axis=0).max(initial=0)) + 1]
                best = total.copy()
                for u in range(1, len(useful)):
                    o = int(opens[u])
                    np.maximum(best[o:], total[:top - o] + useful[u], out=best[o:])
                stages.append((k, mains, total, useful))
                total = best
            totals[mains] = total
        value = self.box_cost - totals[False][:, None, :] - totals[True][None, :, :]
        self._value = value.reshape(value.shape[0] * value.shape[1], len(live))
        at = self._value.argmin(axis=0)
        return self._value[at, np.arange(len(live))], stages

    def _content(self, picked: Ints, stages: list[Stage]) -> Ints:
        """Need by kind of the picked candidates."""
        a = self.arrays
        at = self._value[:, picked].argmin(axis=0)
        place = {False: at // a.box_cost.shape[2], True: at % a.box_cost.shape[2]}
        count = np.zeros((len(picked), len(a.kinds)), dtype=np.int64)
        for k, mains, before, useful in reversed(stages):
            opens = a.openings_for[k][:len(useful)]
            back = place[mains][None, :] - opens[:, None]
            offer = np.where(back >= 0, before[np.maximum(back, 0), picked[None, :]] + useful[:, picked], -np.inf)
            count[:, k] = offer.argmax(axis=0)
            place[mains] = place[mains] - opens[count[:, k]]
        return count

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
        self.often = 0.9 * self.often + 0.1 * found.open
        slope = a.row_need - found.served
        slope = np.where(((self.prices >= a.row_price) & (slope > 0)) | ((self.prices <= 0) & (slope < 0)), 0.0, slope)
        self._direction = SMOOTH * self._direction + (1 - SMOOTH) * slope
        size = float(self._direction @ self._direction)
        if size > 0:
            length = self._step * max(upper - found.bound, 1e-6 * abs(upper)) / size
            self.prices = np.clip(self.prices + length * self._direction, 0.0, a.row_price)
        return found

    @property
    def settled(self) -> bool:
        """Whether further steps hardly help."""
        return self._step < SETTLED

    @property
    def proven_bound(self) -> float:
        """The best bound, lowered against rounding."""
        return self.bound - SLACK * (abs(self.bound) + 1.0)

    def keep(self, upper: float) -> int:
        """Drop candidates whose use would cost more than `upper`; returns how many remain."""
        opened = self.opened(self.best_value)
        for region in self.regions:
            cols = region.cols[self.alive[region.cols]]
            out, used = cols[~opened[cols]], self.best_value[cols[opened[cols]]]
            instead = 0.0
            if len(used):
                instead = float(used.max()) if len(used) >= region.most else max(0.0, float(used.max()))
            self.alive[out[self.proven_bound + self.best_value[out] - instead > upper]] = False
        if int(self.alive.sum()) < len(self.live):
            self.regions = tuple(Region(r.cols[self.alive[r.cols]], r.least, r.most) for r in self.regions)
            self._units()
        return len(self.live)
