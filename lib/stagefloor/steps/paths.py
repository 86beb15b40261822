"""Ways from a box to the rack: along the raceway graph, every rise and drop counted, or a typical path until one is drawn.

Lengths are right-angled (across + up + height), as raceways run; metres.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import dist

import networkx as nx

from stagefloor.core.units import FOOT, Quantity, length_text
from stagefloor.core.workings import ARITHMETIC, JOB, Basis, Value, Working
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Node, Segment
from stagefloor.job.model import Job
from stagefloor.steps.nearest import Nearest, Place, right_angled

# Waste between a straight right-angled guess and a drawn way, until a way is drawn.
TYPICAL_DETOUR = 1.15  # common practice, no source: 15 % on a plan-scaled route

SAME_LENGTH = 0.0005  # m; raceways side by side with less between them are alike



@dataclass(frozen=True)
class Leg:
    """One part of a way: what it is, its length, the raceway it runs in (empty for the last bit to the box)."""

    what: str
    metres: float
    segment: str = ""
    kept: bool = False  # slack at an end


@dataclass(frozen=True)
class Way:
    """A way from a box to the rack for one signal class; `rough` if no raceway is drawn for it yet."""

    box: str
    signal_class: str
    legs: tuple[Leg, ...]
    rough: bool = False
    problem: str = ""
    straight: float | None = None  # from the box to the rack through the air, m
    through: tuple[str, ...] = ()  # names of the points it passes, from the rack
    feed: str = ""  # the node from which the box is fed

    @property
    def metres(self) -> float:
        return sum(leg.metres for leg in self.legs)

    @property
    def slack(self) -> float:
        """What is kept at both ends, m."""
        return sum(leg.metres for leg in self.legs if leg.kept)

    @property
    def ratio(self) -> float | None:
        """The way without slack against the straight distance; None while one of them is not known."""
        return (self.metres - self.slack) / self.straight if self.legs and self.straight else None

    @property
    def segments(self) -> tuple[str, ...]:
        return tuple(leg.segment for leg in self.legs if leg.segment)

    def detour(self, subject: str, display: str) -> Working | None:
        """The ratio with its working; None while one of the two lengths is not known."""
        if self.ratio is None or self.straight is None:
            return None
        unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
        return Working(f"Way against the straight distance, {subject}", "k = (L - s) / d",
                       (Value("L", "cut length", self.metres * per, unit), Value("s", "slack in it", self.slack * per, unit),
                        Value("d", "straight to the rack, through the air", self.straight * per, unit)),
                       Value("k", "way / straight", self.ratio, "", 3),
                       (Basis("right-angled routing: in plan at most sqrt(2) of the straight line", ARITHMETIC),),
                       also=(Value("w", "way without slack", (self.metres - self.slack) * per, unit),
                             Value("r", "most that right angles in plan make of a straight line", 2 ** 0.5, "", 3)))

    def working(self, subject: str, display: str) -> Working:
        unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
        values = tuple(Value(f"l{i}", leg.what, leg.metres * per, unit) for i, leg in enumerate(self.legs, 1))
        notes = ("rough: no raceway is drawn for this yet",) if self.rough else ()
        return Working(f"Length of one line, {subject}", "L = l1 + l2 + ... ; each l = |dx| + |dy| + |dz|", values,
                       Value("L", "cut length", self.metres * per, unit),
                       (Basis("right-angled routing on the job's raceways, slack by the job's policy",
                              JOB if not self.rough else ARITHMETIC),), notes=notes)


def place_of(record: Node | Box) -> Place | None:
    """(x, y, z) in metres, or None while it is not known."""
    if record.x is None or record.y is None:
        return None
    return record.x.si, record.y.si, record.z.si if record.z else 0.0


def rack_place(job: Job) -> Place | None:
    """Where cables enter the rack."""
    s = job.settings
    if s.rack_x is None or s.rack_y is None:
        racks = [n for n in job.all(Node) if n.what == "rack"]
        return place_of(racks[0]) if racks else None
    return s.rack_x.si, s.rack_y.si, s.rack_z.si if s.rack_z else 0.0


def serves_class(segment: Segment, signal_class: str) -> bool:
    """Whether a raceway may carry this class; mains only goes where a raceway is entered for mains."""
    classes = ("mains",) if signal_class == "mains" else ("any", signal_class)
    return not segment.blocked and not segment.full and segment.signal_class in classes


def segment_length(job: Job, segment: Segment) -> float | None:
    """Length of a raceway in metres: as measured if typed, else between its ends; None while an end has no place."""
    if segment.typed_length is not None:
        return float(segment.typed_length.si)
    a, b = job.find(Node, segment.start), job.find(Node, segment.end)
    pa, pb = (place_of(a) if a else None), (place_of(b) if b else None)
    return right_angled(pa, pb) if pa and pb else None


def graph(job: Job, signal_class: str) -> "nx.Graph[str]":
    """The raceways that may carry a class, nodes by id, weight in metres; `alike`: raceways side by side that share."""
    found: nx.Graph[str] = nx.Graph()
    for s in job.all(Segment):
        if not serves_class(s, signal_class) or (length := segment_length(job, s)) is None:
            continue
        own = s.signal_class == signal_class
        old = found.get_edge_data(s.start, s.end)
        if old is None or length < old["weight"] - SAME_LENGTH or (
                length < old["weight"] + SAME_LENGTH and own and not old["own"]):
            found.add_edge(s.start, s.end, weight=length, segment=s.id, own=own, alike=(s.id,))
        elif length < old["weight"] + SAME_LENGTH and own == old["own"]:
            old["alike"] += (s.id,)
    return found


@dataclass(frozen=True)
class Routes:
    """The shortest ways of one class from every node to its nearest rack, searched once for all boxes.

    Attributes
    ----------
    raceways : the graph; metres : node -> way to the rack, m; before : node -> the node before it, from the rack
    feeds : the nodes that a box may be fed from, in the user's order; near : finds one by its place
    rack : where cables enter it; names : node -> what people call it
    """

    signal_class: str
    raceways: "nx.Graph[str]"
    metres: Mapping[str, float]
    before: Mapping[str, str]
    feeds: Sequence[Node]
    near: Nearest
    rack: Place | None = None
    names: Mapping[str, str] = field(default_factory=dict)

    def nearest(self, here: Place) -> Node | None:
        """The node nearest to a place, right-angled; of two alike the first in the user's order."""
        found = self.near.find(here)
        return None if found is None else self.feeds[found]

    def by_way_of(self, via: Sequence[str], node_id: str) -> list[str]:
        """The nodes from the rack to a node by way of others, each stretch the shortest; those out of reach are left out."""
        stops = [v for v in via if v in self.metres and v != node_id]
        if not stops:
            return self.trail(node_id)
        found = self.trail(stops[0])
        for stop in (*stops[1:], node_id):
            found += nx.dijkstra_path(self.raceways, found[-1], stop)[1:]
        return found

    def trail(self, node_id: str) -> list[str]:
        """The nodes from the rack to this one."""
        found = [node_id]
        while (previous := self.before.get(found[-1])) is not None:
            found.append(previous)
        return found[::-1]


def routes(job: Job, signal_class: str) -> Routes:
    """One search from all racks for a class (Dijkstra); empty if no raceway of it leads to a rack."""
    raceways = graph(job, signal_class)
    nodes = job.all(Node)
    racks = [n.id for n in nodes if n.what == "rack" and n.id in raceways]
    metres: dict[str, float] = {}
    before: dict[str, str] = {}
    if racks:
        # one more node before all racks, with no way between, makes it a search from a single place
        search = raceways.copy()
        search.add_weighted_edges_from((_START, r, 0.0) for r in racks)
        found, metres = nx.dijkstra_predecessor_and_distance(search, _START)
        before = {node: of[0] for node, of in found.items() if of and of[0] != _START}
        del metres[_START]
    spots = [(n, p) for n in nodes if n.what != "rack" and n.id in metres and (p := place_of(n))]
    near = Nearest([p for _, p in spots])
    return Routes(signal_class, raceways, metres, before, [n for n, _ in spots], near, rack_place(job),
                  {n.id: n.name for n in nodes})


_START = ""  # no record has an empty id


def way(job: Job, box: Box, signal_class: str, known: Routes | None = None) -> Way:
    """The shortest way from a box to the rack for one class, with slack at both ends."""
    s = job.settings
    found = routes(job, signal_class) if known is None else known
    here, rack = place_of(box), found.rack
    slack = (Leg("slack at the box", _metres(s.slack_box), kept=True),
             Leg("slack at the rack", _metres(s.slack_rack), kept=True))
    straight = dist(here, rack) if here and rack else None
    fault = ""
    if here is not None and found.metres:
        node = job.find(Node, box.feed) if box.feed else found.nearest(here)
        if node is not None and node.id in found.metres:
            spot = place_of(node)
            if spot is None:
                return Way(box.id, signal_class, (), True, f"the place of {node.name}, from which {box.label} is fed, is "
                           "not known, so neither is its way", straight)
            trail, names = found.by_way_of(box.via, node.id), found.names
            end = place_of(job.get(Node, trail[0]))
            legs = [Leg(f"{names.get(a, a)} to {names.get(b, b)}", found.raceways[a][b]["weight"],
                        found.raceways[a][b]["segment"]) for a, b in zip(trail, trail[1:], strict=False)]
            legs.append(Leg(f"{node.name} to {box.label}", right_angled(spot, here)))
            return Way(box.id, signal_class, (*legs, *slack), straight=dist(here, end) if end else straight,
                       through=tuple(names.get(i, i) for i in trail), feed=node.id)
    if here is not None and found.raceways:  # raceways of this class are drawn, and none of them serves this box
        fault = f"no raceway for {signal_class} leads from {box.label} to the rack"
    if s.rack_distance is not None:
        rough = Leg("way to the rack, as entered", s.rack_distance.si)
    elif here is not None and rack is not None:
        rough = Leg(f"typical path: right-angled way plus {TYPICAL_DETOUR - 1:.0%}",
                    right_angled(here, rack) * TYPICAL_DETOUR)
    else:
        return Way(box.id, signal_class, (), True, fault or f"neither the way to the rack nor its place is known "
                                                            f"for {box.label}")
    return Way(box.id, signal_class, (rough, *slack), True, fault, straight)


def _metres(quantity: Quantity | None) -> float:
    return quantity.si if quantity is not None else 0.0


def where_text(x: float, y: float, display: str) -> str:
    """A place in stage terms, such as 9' 6" stage right, 3' downstage of the origin."""
    across = "on centre" if abs(x) < 0.0005 else \
        f"{length_text(abs(x), display)} stage {'left' if x > 0 else 'right'}"
    along = "at the origin line" if abs(y) < 0.0005 else \
        f"{length_text(abs(y), display)} {'upstage' if y > 0 else 'downstage'}"
    return f"{across}, {along}"
