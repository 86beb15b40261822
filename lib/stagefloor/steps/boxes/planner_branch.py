"""Proof by dividing the stage: how many boxes in all, how many in each half, down to which candidate.

A node says for each region of the stage how many of its candidates are used. The relaxation bounds each node; a node
whose bound passes the best plan's cost is closed. The lowest open node is the bound of the whole. Best node first.
"""

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from stagefloor.steps.boxes.planner_arrays import Arrays, Floats
from stagefloor.steps.boxes.planner_bound import Region, Relaxation

STEPS = 45
FIRST_STEP = 0.15


@dataclass(order=True)
class Node:
    """An open part of the question."""

    bound: float
    number: int
    regions: tuple[Region, ...] = field(compare=False)
    prices: Floats = field(compare=False)


class Division:
    """The open nodes. `best` is asked for the cost of the best plan before each node."""

    def __init__(self, arrays: Arrays, spots: Floats) -> None:
        self.arrays, self.spots = arrays, spots
        self.count = 0
        self.nodes: list[Node] = []
        self.lost = np.inf  # the lowest bound among nodes given up without proof

    @property
    def bound(self) -> float:
        """No plan outside what is known costs less than this."""
        return min(self.lost, self.nodes[0].bound if self.nodes else np.inf)

    def _push(self, bound: float, regions: tuple[Region, ...], prices: Floats) -> None:
        self.count += 1
        heapq.heappush(self.nodes, Node(bound, self.count, regions, prices))

    def advance(self, best: float, stop: Callable[[], bool]) -> Relaxation | None:
        """Bound the lowest node and divide it. Returns its relaxation if it stays open and is decided or divided."""
        node = heapq.heappop(self.nodes)
        if node.bound >= best:
            self.nodes = []
            return None
        relaxation = Relaxation(self.arrays, node.regions, node.prices, FIRST_STEP)
        for number in range(STEPS):
            relaxation.step(best)
            if relaxation.proven_bound >= best:
                return None
            if number % 15 == 14:
                relaxation.keep(best)
                if any(len(r.cols) < r.least for r in relaxation.regions):
                    return None
            if stop():
                self._push(max(node.bound, relaxation.proven_bound), relaxation.regions, relaxation.best_prices)
                return None
        relaxation.keep(best)
        if any(len(r.cols) < r.least for r in relaxation.regions):
            return None
        relaxation.bound = max(relaxation.bound, node.bound)
        return relaxation

    def divide(self, relaxation: Relaxation) -> bool:
        """Put the parts of a node back; False if which candidates are used is decided."""
        often, regions = relaxation.often, relaxation.regions
        bound, prices = relaxation.proven_bound, relaxation.best_prices

        def push(number: int, parts: tuple[Region, ...]) -> None:
            rest = tuple(r for n, r in enumerate(regions) if n != number and r.most > 0)
            self._push(bound, rest + tuple(p for p in parts if p.most > 0), prices)

        for number, r in enumerate(regions):
            if r.least < r.most and len(r.cols) > r.least:
                most = min(r.most, len(r.cols))
                cut = min(max(int(np.floor(often[r.cols].sum())), r.least), most - 1)
                push(number, (Region(r.cols, r.least, cut),))
                push(number, (Region(r.cols, cut + 1, most),))
                return True
        choice, parts = -1, (np.array([], dtype=np.int64),) * 2
        score = -1.0
        for number, r in enumerate(regions):
            if r.most == 0 or len(r.cols) <= r.least:
                continue
            first, second, value = self._halves(r, often)
            if value > score:
                score, choice, parts = value, number, (first, second)
        if choice < 0:
            return False
        r = regions[choice]
        for n in range(r.most + 1):
            if n <= len(parts[0]) and r.most - n <= len(parts[1]):
                push(choice, (Region(parts[0], n, n), Region(parts[1], r.most - n, r.most - n)))
        return True

    def _halves(self, region: Region, often: Floats) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]],
                                                              np.ndarray[tuple[int], np.dtype[np.int64]], float]:
        """The straight cut that leaves the count of boxes on each side least certain."""
        cols = region.cols
        weight = often[cols] + 1e-3 / len(cols)
        weight = weight * region.most / weight.sum()
        best = (cols[:1], cols[1:], -1.0)
        for axis in range(self.spots.shape[1]):
            order = np.argsort(self.spots[cols, axis], kind="stable")
            run = np.cumsum(weight[order])[:-1]
            doubt = np.minimum(run - np.floor(run), np.ceil(run) - run) + 0.02 * np.minimum(run, region.most - run)
            at = int(np.argmax(doubt))
            if doubt[at] > best[2]:
                best = (cols[order[:at + 1]], cols[order[at + 1:]], float(doubt[at]))
        return best
