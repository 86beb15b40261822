"""Ways chosen together with the sizes they need: route, size, route again, and for small jobs the least cost of all.

The shortest way of each line is not always the cheapest: two boxes that share a trunk may need one larger raceway instead
of two. Knows costs only as coefficients a metre.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product
from math import prod

import networkx as nx

from stagefloor.core.problems import Problem
from stagefloor.core.workings import SHOP, Basis, Value, Working
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Node, Segment
from stagefloor.job.model import Job
from stagefloor.steps.cables.lines import Line, one_a_cable
from stagefloor.steps.cables.raceways import BY_SPACE, NOT_SIZED, needed_size
from stagefloor.steps.paths import graph

WAYS_A_BOX = 6  # the shortest ones that are tried
LONGEST = 1.8  # times the shortest: a longer detour is not tried
MOST = 20_000  # combinations that are tried one by one; beyond it the answer is not proven


@dataclass(frozen=True)
class Joint:
    """The ways that cost least together.

    Attributes
    ----------
    shortest : cost if each line goes the shortest way; rerouted : after routing again by the sizes; best : the least found
    via : box id -> the points its lines go by, for the boxes that leave the shortest way
    proven : every combination of the ways tried was looked at; tried : how many ways there are in all
    working : the saving
    """

    shortest: float
    rerouted: float
    best: float
    via: Mapping[str, tuple[str, ...]]
    proven: bool
    tried: int
    working: Working


def joint(job: Job, known: Sequence[Line], cable_cost: Callable[[str], float], raceway_cost: Callable[[str], float],
          unit: str, longest: float = LONGEST) -> Joint:
    """The least cost of new raceways and cable together.

    Parameters
    ----------
    cable_cost : kind -> cost a metre; raceway_cost : trade size -> cost a metre; unit : of both, such as USD
    longest : detours of more than this many times the shortest way are not tried

    Raises
    ------
    Problem : no box has more than one way, so there is nothing to choose
    """
    held: dict[str, list[Line]] = {}
    for line in one_a_cable(known):
        if line.way.feed and not line.typed:
            held.setdefault(line.box.id, []).append(line)
    graphs = {c: graph(job, c) for c in {line.signal_class for lines in held.values() for line in lines}}
    racks = [n.id for n in job.all(Node) if n.what == "rack"]
    boxes = [job.get(Box, b) for b in held]
    options = [_options(held[b.id], graphs, racks, longest) for b in boxes]
    if not any(len(o) > 1 for o in options):
        raise Problem("Each box has only one way to the rack, so there is nothing to choose; draw a second raceway first.")

    loads = [[_load(held[b.id], path, graphs, cable_cost) for path in o] for b, o in zip(boxes, options, strict=True)]
    price = _prices(job, graphs, raceway_cost)

    def cost(chosen: Sequence[int]) -> float:
        return _cost([o[i] for o, i in zip(loads, chosen, strict=True)], price)

    start = [0] * len(boxes)
    shortest = cost(start)
    routed = _route_again(start, options, cost)
    rerouted = cost(routed)
    number = prod(len(o) for o in options)
    best, choice = rerouted, routed
    if number <= MOST:
        for combination in product(*(range(len(o)) for o in options)):
            if (total := cost(combination)) < best - 1e-9:
                best, choice = total, list(combination)
    via = {b.id: tuple(o[i][1:-1]) for b, o, i in zip(boxes, options, choice, strict=True) if i}
    working = Working(
        "Saved by choosing ways and sizes together", "s = C_0 - C",
        (Value("C_0", "cable and new raceways, each line by its shortest way", shortest, unit, 7),
         Value("C", "cable and new raceways, chosen together", best, unit, 7)),
        Value("s", "saved", shortest - best, unit, 5), (Basis("the shop's hours and prices for this job", SHOP),),
        notes=(f"All {number:,} combinations of {sum(len(o) for o in options)} ways were tried." if number <= MOST else
               f"{number:,} combinations are too many to try each: a better one may exist.",))
    return Joint(shortest, rerouted, best, via, number <= MOST, sum(len(o) for o in options), working)


def _options(lines: Sequence[Line], graphs: Mapping[str, "nx.Graph[str]"], racks: Sequence[str],
             longest: float) -> list[list[str]]:
    """Ways from a rack to the feed that every class of the box can take, the one taken now first."""
    classes = list(dict.fromkeys(line.signal_class for line in lines))
    common = graphs[classes[0]].copy()
    for c in classes[1:]:
        common.remove_edges_from([e for e in common.edges if not graphs[c].has_edge(*e)])
    feed = lines[0].way.feed
    if any(line.way.feed != feed for line in lines):
        return [[]]  # its classes are fed from several points: each keeps its way
    found: list[list[str]] = []
    for r in racks:
        if r in common and feed in common and nx.has_path(common, r, feed):
            found += islice(nx.shortest_simple_paths(common, r, feed, weight="weight"), WAYS_A_BOX)

    def length(path: Sequence[str]) -> float:
        return float(sum(common[a][b]["weight"] for a, b in zip(path, path[1:], strict=False)))

    found.sort(key=length)
    return [p for p in found if length(p) <= longest * length(found[0])][:WAYS_A_BOX] or [[]]


Inside = tuple[tuple[float, ...], tuple[float, ...]]  # diameters of cut cables, heads of assemblies
EMPTY: Inside = ((), ())


@dataclass(frozen=True)
class _Load:
    """What one way of one box costs in cable, and the diameters and heads that it puts into each raceway, m."""

    cable: float
    through: Mapping[str, Inside]


def _load(lines: Sequence[Line], path: Sequence[str], graphs: Mapping[str, "nx.Graph[str]"],
          cable_cost: Callable[[str], float]) -> _Load:
    cable = 0.0
    through: dict[str, Inside] = {}
    for line in lines:
        edges = [graphs[line.signal_class][a][b] for a, b in zip(path, path[1:], strict=False)]
        cable += sum(e["weight"] for e in edges) * cable_cost(line.circuit.what)
        kind = line.type
        size = None if kind is None else kind.head if kind.assembly else kind.diameter
        if kind is not None and size is not None and size.si:
            one: Inside = ((), (size.si,)) if kind.assembly else ((size.si,), ())
            for e in edges:
                through[e["segment"]] = _both(through.get(e["segment"], EMPTY), one)
    return _Load(cable, through)


def _both(a: Inside, b: Inside) -> Inside:
    return a[0] + b[0], a[1] + b[1]


def _prices(job: Job, graphs: Mapping[str, "nx.Graph[str]"],
            raceway_cost: Callable[[str], float]) -> Callable[[str, Inside], float]:
    """Cost of a raceway for what is in it; none for one that is there, or that no trade size is asked of."""
    metres = {d["segment"]: d["weight"] for g in graphs.values() for *_, d in g.edges(data=True)}
    segments = {s.id: s for s in job.all(Segment)}
    known: dict[tuple[str, Inside], float] = {}

    def price(segment: str, held: Inside) -> float:
        s, key = segments[segment], (segment, (tuple(sorted(held[0])), tuple(sorted(held[1]))))
        if s.existing or s.way in (*NOT_SIZED, *BY_SPACE):
            return 0.0
        if key not in known:
            known[key] = metres[segment] * raceway_cost(needed_size(job, s, *key[1]))
        return known[key]

    return price


def _cost(loads: Sequence[_Load], price: Callable[[str, Inside], float]) -> float:
    """Cable along the ways, and each new raceway by the size that its cables need with growth."""
    through: dict[str, Inside] = {}
    for one in loads:
        for segment, held in one.through.items():
            through[segment] = _both(through.get(segment, EMPTY), held)
    return sum(one.cable for one in loads) + sum(price(s, held) for s, held in through.items())


def _route_again(start: Sequence[int], options: Sequence[Sequence[object]],
                 cost: Callable[[Sequence[int]], float]) -> list[int]:
    """Box by box the way that costs least while the others stay, until none moves."""
    now, best = list(start), cost(start)
    while True:
        before = best
        for k, ways in enumerate(options):
            for i in range(len(ways)):
                trial = [*now[:k], i, *now[k + 1:]]
                if (total := cost(trial)) < best - 1e-9:
                    now, best = trial, total
        if best >= before - 1e-9:
            return now
