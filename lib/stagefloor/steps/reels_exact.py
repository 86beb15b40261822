"""Cutting stock in whole millimetres: first fit, patterns by column generation, bound and plan.

Knows sizes, numbers and costs; knows no job, no reel by name.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, inf
from time import monotonic

import highspy
import numpy as np

from stagefloor.steps.boxes.planner_model import Matrix

EPS = 1e-9
FRONT = 20_000  # states kept in one knapsack; what is dropped counts in its upper bound
MOST_PATTERNS, MOST_SIZES = 2_000, 16  # up to which all patterns are written out
Counts = tuple[tuple[int, int], ...]
Pattern = tuple[int, Counts]


@dataclass(frozen=True)
class Stock:
    """Sizes (longest first) with the number needed; reel kinds with room, number (None: any) and cost."""

    size: tuple[int, ...]
    need: tuple[int, ...]
    room: tuple[int, ...]
    most: tuple[int | None, ...]
    cost: tuple[int, ...]


def price(stock: Stock, patterns: list[Pattern]) -> int:
    """Cost of a plan."""
    return sum(stock.cost[kind] for kind, _ in patterns)


def first_fit(stock: Stock, order: list[int], new: int) -> list[Pattern]:
    """Longest first into the first reel that takes it: those in `order`, then new ones of kind `new`."""
    kinds = [k for k in order for _ in range(min(stock.most[k] or 0, sum(stock.need)))]
    room = [stock.room[k] for k in kinds]
    held: list[dict[int, int]] = [{} for _ in kinds]
    for i, (size, need) in enumerate(zip(stock.size, stock.need, strict=True)):
        left = need
        for at in range(len(kinds)):
            take = min(left, room[at] // size)
            if take:
                room[at] -= take * size
                held[at][i] = take
                left -= take
        while left:
            take = min(left, stock.room[new] // size)
            kinds.append(new)
            room.append(stock.room[new] - take * size)
            held.append({i: take})
            left -= take
    return [(kind, tuple(counts.items())) for kind, counts in zip(kinds, held, strict=True) if counts]


def best_pattern(
    size: list[int], value: list[float], need: list[int], room: int
) -> tuple[float, float, dict[int, int]]:
    """(value found, upper bound on the value, counts by index) of the best fill of one reel."""
    order = sorted(
        (i for i in range(len(size)) if value[i] > EPS and size[i] <= room and need[i]),
        key=lambda i: value[i] / size[i],
        reverse=True,
    )
    chunks = []
    for i in order:
        left, n = min(need[i], room // size[i]), 1
        while left:
            n = min(n, left)
            chunks.append((i, n))
            left, n = left - n, 2 * n
    w, v = np.zeros(1, dtype=np.int64), np.zeros(1)
    steps: list[tuple[np.ndarray[tuple[int], np.dtype[np.int64]], int]] = []
    top = 0.0
    for at, (i, n) in enumerate(chunks):
        fits = np.flatnonzero(w + n * size[i] <= room)
        count = len(w)
        w, v = np.concatenate((w, w[fits] + n * size[i])), np.concatenate((v, v[fits] + n * value[i]))
        came = np.concatenate((np.arange(count), fits + count))
        by = np.argsort(w, kind="stable")
        w, v, came = w[by], v[by], came[by]
        peak = np.concatenate(([-1.0], np.maximum.accumulate(v)[:-1]))
        ratio = value[chunks[at + 1][0]] / size[chunks[at + 1][0]] if at + 1 < len(chunks) else 0.0
        reach = v + ratio * (room - w)
        best = int(np.argmax(v))
        keep = (v > peak + 1e-12) & (reach > v[best] + 1e-12)
        keep[best] = True
        kept = np.flatnonzero(keep)
        if len(kept) > FRONT:
            by = kept[np.argsort(-reach[kept], kind="stable")]
            top = max(top, float(reach[by[FRONT]]))
            kept = np.unique(np.append(by[:FRONT], best))
        w, v = w[kept], v[kept]
        steps.append((came[kept], count))
    at, found = int(np.argmax(v)), float(v.max())
    counts: dict[int, int] = {}
    for (i, n), (came, count) in zip(reversed(chunks), reversed(steps), strict=True):
        origin = int(came[at])
        if origin >= count:
            counts[i] = counts.get(i, 0) + n
            origin -= count
        at = origin
    return found, max(found, top), counts


def full_fill(stock: Stock, order: list[int], new: int, done: Callable[[], bool]) -> list[Pattern] | None:
    """Reel after reel filled as full as it goes, each with the longest piece left; None if out of time."""
    left: list[int] = list(stock.need)
    found: list[Pattern] = []
    kinds = [k for k in order for _ in range(min(stock.most[k] or 0, sum(stock.need)))]
    while any(left):
        if done():
            return None
        kind = kinds.pop(0) if kinds else new
        first = next((i for i, n in enumerate(left) if n and stock.size[i] <= stock.room[kind]), None)
        if first is None:
            continue
        left[first] -= 1
        _, _, counts = best_pattern(
            list(stock.size), [float(s) for s in stock.size], left, stock.room[kind] - stock.size[first]
        )
        counts[first] = counts.get(first, 0) + 1
        left[first] += 1
        times = 1 if stock.most[kind] is not None else min(left[i] // n for i, n in counts.items())
        for i, n in counts.items():
            left[i] -= n * times
        found += [(kind, tuple(counts.items()))] * times
    return found


class Master:
    """The program over patterns found so far, and its bound."""

    def __init__(self, stock: Stock, start: list[Pattern]) -> None:
        self.stock, self.columns, self.bound = stock, list(dict.fromkeys(start)), 0.0
        self.complete = False  # whether every pattern that matters is there, so that the whole program is exact
        self.finite = [k for k, most in enumerate(stock.most) if most is not None]

    def _matrix(self, whole: bool) -> Matrix:
        matrix, stock = Matrix(), self.stock
        terms: list[list[tuple[int, float]]] = [[] for _ in stock.size]
        kinds: dict[int, list[tuple[int, float]]] = {k: [] for k in self.finite}
        for kind, counts in self.columns:
            col = matrix.col(float(stock.cost[kind]), 0, sum(stock.need), whole)
            for i, n in counts:
                terms[i].append((col, float(n)))
            if kind in kinds:
                kinds[kind].append((col, 1.0))
        for need, row in zip(stock.need, terms, strict=True):
            matrix.row(float(need), row, inf)
        for kind, row in kinds.items():
            matrix.row(-inf, row, float(stock.most[kind] or 0))
        return matrix

    def generate(self, done: Callable[[], bool], enough: int) -> bool:
        """Add patterns until none helps; True if it came to its end. `enough`: a bound that settles it."""
        stock, known = self.stock, set(self.columns)
        need = list(stock.need)
        while not done():
            solver = self._matrix(False).highs(whole=False)
            solver.run()
            dual = list(solver.getSolution().row_dual)
            pi = [max(0.0, d) for d in dual[: len(need)]]
            mu = dict(zip(self.finite, (max(0.0, -d) for d in dual[len(need) :]), strict=True))
            fresh: list[Pattern] = []
            scale, tops = 1.0, {}
            for kind, room in enumerate(stock.room):
                limit, left, first = stock.cost[kind] + mu.get(kind, 0.0), list(need), True
                while True:
                    found, top, counts = best_pattern(list(stock.size), pi, left, room)
                    if first:
                        tops[kind], first = top, False
                        if kind not in mu and top > stock.cost[kind]:
                            scale = min(scale, stock.cost[kind] / top)
                    if found <= limit + EPS * max(1, limit):
                        break
                    fresh.append((kind, tuple(sorted(counts.items()))))
                    left = [0 if i in counts else n for i, n in enumerate(left)]
            bound = scale * sum(p * n for p, n in zip(pi, need, strict=True))
            for k in self.finite:
                bound -= max(0.0, scale * tops[k] - stock.cost[k]) * (stock.most[k] or 0)
            self.bound = max(self.bound, bound)
            fresh = [p for p in fresh if p not in known]
            if not fresh or self.whole_bound() >= enough:
                return True
            self.columns += fresh
            known.update(fresh)
        return False

    def complete_if_few(self) -> None:
        """Take all patterns if they are few: then the whole program settles what the linear one leaves open."""
        every = every_pattern(self.stock, MOST_PATTERNS)
        if every is not None:
            self.columns, self.complete = list(dict.fromkeys([*self.columns, *every])), True

    def whole_bound(self) -> int:
        """No plan costs less than this."""
        return ceil(self.bound - 1e-7 * max(1.0, self.bound))

    def whole(self, seconds: float) -> list[Pattern] | None:
        """The best plan of whole patterns found in the time, pieces over the number needed taken out."""
        solver = self._matrix(True).highs()
        solver.setOptionValue("time_limit", max(0.05, seconds))
        solver.setOptionValue("mip_rel_gap", 0.0)
        solver.run()
        if solver.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None
        if self.complete:
            self.bound = max(self.bound, solver.getInfo().mip_dual_bound)
        left, plan = list(self.stock.need), []
        for (kind, counts), times in zip(self.columns, solver.getSolution().col_value, strict=True):
            for _ in range(round(times)):
                cut = tuple((i, min(n, left[i])) for i, n in counts if min(n, left[i]))
                for i, n in cut:
                    left[i] -= n
                if cut:
                    plan.append((kind, cut))
        return None if any(left) else plan


def every_pattern(stock: Stock, most: int) -> list[Pattern] | None:
    """Every full pattern of every kind, on which no further piece fits; None if they are more than `most`."""
    found: list[Pattern] = []

    def fill(kind: int, at: int, room: int, counts: Counts) -> bool:
        if at == len(stock.size):
            used = dict(counts)
            if counts and all(s > room or used.get(i, 0) == stock.need[i] for i, s in enumerate(stock.size)):
                found.append((kind, counts))
            return len(found) <= most
        for n in range(min(stock.need[at], room // stock.size[at]), -1, -1):
            if not fill(kind, at + 1, room - n * stock.size[at], (*counts, (at, n)) if n else counts):
                return False
        return True

    if len(stock.size) > MOST_SIZES or not all(fill(k, 0, stock.room[k], ()) for k in range(len(stock.room))):
        return None
    return found


def smaller(stock: Stock, plan: list[Pattern]) -> list[Pattern]:
    """The plan with each reel bought as cheap as its pieces allow."""
    sold = sorted((k for k, most in enumerate(stock.most) if most is None), key=lambda k: stock.cost[k])
    found = []
    for kind, counts in plan:
        need = sum(stock.size[i] * n for i, n in counts)
        fit = next((k for k in sold if stock.room[k] >= need), kind) if stock.most[kind] is None else kind
        found.append((fit, counts))
    return found


def cover_bound(stock: Stock, total: int) -> int:
    """No plan costs less: the cheapest reels that together give `total`, however the pieces lie on them."""
    kinds = sorted(range(len(stock.room)), key=lambda k: stock.cost[k] / stock.room[k])
    best, looked = inf, 0

    def share(at: int, left: float) -> float:
        """The cost of what is left if parts of reels could be had."""
        cost = 0.0
        for k in kinds[at:]:
            if left <= 0:
                break
            most = stock.most[k]
            take = left / stock.room[k] if most is None else min(float(most), left / stock.room[k])
            cost, left = cost + take * stock.cost[k], left - take * stock.room[k]
        return cost if left <= EPS * total else inf

    def look(at: int, left: int, cost: int) -> None:
        nonlocal best, looked
        looked += 1
        if left <= 0:
            best = min(best, cost)
        if left <= 0 or at == len(kinds) or looked > FRONT or cost + share(at, left) > best - 1 + EPS * best:
            return
        k = kinds[at]
        most, enough = stock.most[k], ceil(left / stock.room[k])
        for n in range(enough if most is None else min(most, enough), -1, -1):
            look(at + 1, left - n * stock.room[k], cost + n * stock.cost[k])

    look(0, total, 0)
    plain = share(0, total)
    return ceil(plain - EPS * plain) if looked > FRONT or best == inf else int(best)


def solve(
    stock: Stock, seconds: float, stop: Callable[[], bool] | None = None
) -> tuple[list[Pattern], list[Pattern], int, bool]:
    """(plan, first-fit plan, bound on the cost, stopped early). At least one kind is there in any number."""
    until = monotonic() + seconds

    def done() -> bool:
        return monotonic() > until or (stop is not None and stop())

    there = [k for k, most in enumerate(stock.most) if most is not None]
    sold = [k for k, most in enumerate(stock.most) if most is None]
    new = max(sold, key=lambda k: stock.room[k])
    plain = first_fit(stock, there, new)
    short_first = sorted(there, key=lambda k: stock.room[k])
    wide = [k for k in sold if stock.room[k] >= stock.size[0]]  # takes every piece
    plans = [plain, *(first_fit(stock, o, k) for o in (short_first, short_first[::-1]) for k in wide or [new])]
    plans += [smaller(stock, p) for p in plans]
    total = sum(s * n for s, n in zip(stock.size, stock.need, strict=True))
    bound = cover_bound(stock, total)
    best = min(plans, key=lambda p: price(stock, p))
    if price(stock, best) > bound and not done():
        orders = (short_first[::-1], short_first) if len(there) > 1 else (there,)
        full = [p for o in orders for k in wide or [new] if (p := full_fill(stock, o, k, done)) is not None]
        plans += [*full, *(smaller(stock, p) for p in full)]
        best = min(plans, key=lambda p: price(stock, p))
    early = False
    if price(stock, best) > bound:
        master = Master(stock, [p for plan in plans for p in plan])
        early = not master.generate(done, price(stock, best))
        bound = max(bound, master.whole_bound())
        if price(stock, best) > bound and not done():
            master.complete_if_few()
            found = master.whole(until - monotonic())
            bound = max(bound, master.whole_bound())
            early = early or done()
            if found is not None and price(stock, found) < price(stock, best):
                best = found
    return best, plain, min(bound, price(stock, best)), early
