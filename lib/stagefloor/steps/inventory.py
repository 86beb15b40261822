"""What must be connected: the need of each kind as the most that is on at the same time, with the event that drives it.

Events that never run together are not added; the ones that do are, and a point used by two of them counts once.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import networkx as nx

from stagefloor.core.open_items import CHECK, TO_DO, OpenItem
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.job.inventory import KINDS, Event, Point
from stagefloor.job.model import Job


@dataclass(frozen=True)
class Peak:
    """The need of one kind: how many, in which event or events that run together, and the plain sum for comparison."""

    kind: str
    count: int
    drivers: tuple[str, ...]
    plain_sum: int

    def working(self, labels: dict[str, str], subject: str) -> Working:
        names = " and ".join(labels.get(d, d) for d in self.drivers) or "all events"
        return Working(
            f"{self.kind.capitalize()} needed at {subject}", "N = max over events e of the sum over points p in e of n_p",
            (Value("n", f"sum over the points in use in: {names}", self.count),
             Value("S", "sum over all points, events never told apart", self.plain_sum)),
            Value("N", "needed", self.count), (Basis("the job's own points and events", ARITHMETIC),),
            notes=(f"driven by: {names}",))


def together(job: Job) -> list[tuple[str, ...]]:
    """The largest sets of events that run at the same time; an event that runs alone is a set of its own."""
    events = job.all(Event)
    if not any(e.together for e in events):
        return [(e.id,) for e in events]
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(e.id for e in events)
    known = {e.id for e in events}
    graph.add_edges_from((e.id, o) for e in events for o in e.together if o in known and o != e.id)
    order = {e.id: i for i, e in enumerate(events)}
    return sorted((tuple(sorted(c, key=order.__getitem__)) for c in nx.find_cliques(graph)),
                  key=lambda c: [order[e] for e in c])


def in_use(point: Point, event: str) -> bool:
    """Whether something plugs in at this point in this event; a point without events is used in all."""
    return not point.events or event in point.events


def peaks(job: Job, points: Sequence[Point] | None = None) -> dict[str, Peak]:
    """The need of each kind over `points` (all if None); kinds that nobody needs are left out."""
    chosen = job.all(Point) if points is None else list(points)
    groups: list[tuple[str, ...]] = together(job) or [()]
    used = [(g, [p for p in chosen if not g or any(in_use(p, e) for e in g)]) for g in groups]
    found: dict[str, Peak] = {}
    for kind in KINDS:
        best = Peak(kind, 0, (), sum(getattr(p, kind) for p in chosen))
        for group, points in used if best.plain_sum else ():
            total = sum(getattr(p, kind) for p in points)
            if total > best.count:
                best = Peak(kind, total, group, best.plain_sum)
        if best.count:
            found[kind] = best
    return found


def event_totals(job: Job) -> dict[str, dict[str, int]]:
    """Event id -> kind -> how many are connected in it."""
    totals = {e.id: dict.fromkeys(KINDS, 0) for e in job.all(Event)}
    for point in job.all(Point):
        counts = point.counts().items()
        for event in (e for e in totals if in_use(point, e)):
            for kind, count in counts:
                totals[event][kind] += count
    return totals


@dataclass(frozen=True)
class Shares:
    """Pairs of points that are never in use at the same time and so can share openings: how many, and the first few."""

    pairs: int
    first: tuple[tuple[Point, Point], ...]


def shares(job: Job, most: int = 12) -> Shares:
    """Points that can share openings; `most`: how many pairs are named, in the job's order.

    Points that are used in the same sets of events are counted together, so that a thousand points take no longer
    than the few ways in which they are used.
    """
    groups = together(job)
    alike: dict[frozenset[int], list[int]] = {}
    points = job.all(Point) if groups else []
    ways = [frozenset(i for i, g in enumerate(groups) if any(in_use(p, e) for e in g)) for p in points]
    for number, way in enumerate(ways):
        if way:  # a point that no event uses shares with nobody
            alike.setdefault(way, []).append(number)
    apart = {way: [other for other in alike if not way & other] for way in alike}
    pairs = sum(len(alike[way]) * len(alike[other]) for way in alike for other in apart[way]) // 2
    first: list[tuple[Point, Point]] = []
    for number, way in enumerate(ways):
        if len(first) >= most:
            break
        later = sorted(n for other in apart.get(way, ()) for n in alike[other] if n > number)
        first += [(points[number], points[n]) for n in later[:most - len(first)]]
    return Shares(pairs, tuple(first))


def open_items(job: Job) -> list[OpenItem]:
    """Points with nothing to connect or no place, events that no point uses, expectations the user has stated."""
    items = []
    for p in job.all(Point):
        if not p.counts():
            items.append(OpenItem("point-empty", "inventory", f"Point {p.name}", "nothing is to be connected here",
                                  "0 connections", "the inventory", "enter what plugs in, or delete the point",
                                  TO_DO, record=("point", p.id)))
        if (p.x is None or p.y is None) and len(job.boxes()) != 1:
            items.append(OpenItem("point-no-place", "inventory", f"Point {p.name}", "its place is not entered",
                                  "unknown", "the inventory", "enter across and up, or place it on the plan", TO_DO,
                                  "positions frozen", ("point", p.id), f"Where does {p.what or p.name} stand?"))
        if job.settings.streaming_needs_microphone and not p.microphone and (
                "camera" in p.what.lower() or "streaming" in p.what.lower()):
            items.append(OpenItem("camera-without-microphone", "inventory", f"Point {p.name}",
                                  "a camera position has no microphone line", "0 of at least 1",
                                  "this job's own rule", "add a microphone line, or switch the rule off", CHECK,
                                  record=("point", p.id)))
    for e in job.all(Event):
        if job.all(Point) and not any(in_use(p, e.id) for p in job.all(Point)):
            items.append(OpenItem("event-unused", "inventory", f"Event {e.name}", "no point is in use in it",
                                  "0 points", "the inventory", "tick it at the points it needs, or delete it", CHECK,
                                  record=("event", e.id)))
    return items
