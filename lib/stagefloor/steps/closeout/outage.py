"""A box, a line or a raceway out of service: which events still run, what is lost, and where to patch.

Patching moves what plugs in at a point to a free opening of the same kind in another box within reach. The greatest
number is moved, over the least loose cable: a flow of least cost, solved for each kind and each set of events that run at
the same time: what one of them takes is not free for another.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import networkx as nx

from stagefloor.core.problems import Problem
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Circuit, Segment
from stagefloor.job.inventory import KINDS, Event, Point
from stagefloor.job.model import Job
from stagefloor.steps.boxes.fit import loose_length
from stagefloor.steps.boxes.schedule import points_of
from stagefloor.steps.cables import Line, lines
from stagefloor.steps.inventory import in_use, together

CENTIMETRES = 100
RUNS, PATCHED, PARTLY = "runs as it is", "runs when patched", "runs in part"
_LOST = "lost"


@dataclass(frozen=True)
class Patch:
    """So many connections of a kind at a point, plugged in at another box over so much loose cable, m."""

    point: str
    kind: str
    count: int
    box: str
    metres: float


@dataclass(frozen=True)
class EventOutage:
    """What becomes of one event. `lost`: (point, kind, how many) that nothing can take.

    `along`: the events that run at the same time, where it makes a difference which of them do; there is an entry for each.
    """

    event: str
    state: str
    patches: tuple[Patch, ...]
    lost: tuple[tuple[str, str, int], ...]
    along: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """The event, and what runs at the same time where that makes a difference."""
        if not self.along:
            return self.event
        return f"{self.event} (while {' and '.join(self.along)} run{'s' if len(self.along) == 1 else ''})"


@dataclass(frozen=True)
class Outage:
    """What is out, the lines that go with it, each event, and lines that could be pulled another way, with metres more."""

    what: str
    lines: tuple[str, ...]
    events: tuple[EventOutage, ...]
    other_way: tuple[tuple[str, float], ...] = ()


def out_of_service(job: Job, known: Sequence[Line], kind: str, record_id: str) -> Outage:
    """What a fault takes away.

    Parameters
    ----------
    known : every signal line with its way
    kind : box, circuit or segment; record_id : which one
    """
    gone, shut, name, other = _gone(job, known, kind, record_id)
    left = _openings_left(job, gone, shut)
    events = _events(job, left)
    names = tuple(c.name for c in job.circuits() if c.id in gone)
    return Outage(name, names, events, other)


Other = tuple[tuple[str, float], ...]
Patches = tuple[Patch, ...]
Lost = tuple[tuple[str, str, int], ...]
Spread = tuple[list[tuple[str, Patch]], list[tuple[str, tuple[str, str, int]]]]


def _gone(job: Job, known: Sequence[Line], kind: str, record_id: str) -> tuple[set[str], str, str, Other]:
    """Circuits that are lost, the box that is shut if it is one, its name, other ways."""
    if kind == "box":
        box = job.get(Box, record_id)
        held = {o.id for o in job.openings(box.id)}
        return {c.id for c in job.circuits() if held.intersection(c.openings)}, box.id, box.title, ()
    if kind == "circuit":
        circuit = job.get(Circuit, record_id)
        return {circuit.id}, "", f"Line {circuit.name}", ()
    if kind != "segment":
        raise Problem("Choose a box, a line or a raceway.")
    segment = job.get(Segment, record_id)
    lost = {x.circuit.id: x for x in known if segment.id in x.way.segments}
    without = job.with_records([segment.model_copy(update={"blocked": True})])
    again = {x.circuit.id: x for x in lines(without) if x.circuit.id in lost} if lost else {}
    other = tuple((x.circuit.name, again[c].way.metres - x.way.metres) for c, x in lost.items()
                  if c in again and not again[c].way.rough)
    return set(lost), "", f"Raceway {segment.name}", other


def _openings_left(job: Job, gone: set[str], shut: str) -> dict[tuple[str, str], int]:
    """(box, kind) -> openings that still work. An opening without a line of its own counts only for mains."""
    works = {o for c in job.circuits() if c.id not in gone for o in c.openings}
    lined = {o for c in job.circuits() for o in c.openings}
    left: Counter[tuple[str, str]] = Counter()
    for box in job.boxes():
        for o in job.openings(box.id):
            if box.id != shut and (o.id in works or (o.what == "mains" and o.id not in lined)):
                left[box.id, o.what] += 1
    return dict(left)


def _events(job: Job, left: dict[tuple[str, str], int]) -> tuple[EventOutage, ...]:
    """Each event in the user's order, once for each set in which something else becomes of it."""
    home = {p.id: b for b in job.boxes() for p in points_of(job, b)}
    points = [p for p in job.all(Point) if p.id in home and p.counts()]
    names = {e.id: e.name for e in job.all(Event)}
    told: dict[str, dict[tuple[Patches, Lost], tuple[str, ...]]] = {e: {} for e in names}
    for group in together(job):
        taking = [p for p in points if any(in_use(p, e) for e in group)]
        moved, missing = _patched(job, taking, home, left)
        for event in group:
            own = {p.id for p in taking if in_use(p, event)}
            becomes = tuple(x for p, x in moved if p in own), tuple(x for p, x in missing if p in own)
            told[event].setdefault(becomes, tuple(names[e] for e in group if e != event))
    return tuple(
        EventOutage(names[event], PARTLY if lost else PATCHED if patches else RUNS, patches, lost,
                    along if len(found) > 1 else ())
        for event, found in told.items() for (patches, lost), along in found.items())


def _patched(job: Job, points: Sequence[Point], home: dict[str, Box], left: dict[tuple[str, str], int]) -> Spread:
    """What is plugged in elsewhere and what is lost, each with the id of its point, kind by kind."""
    moved: list[tuple[str, Patch]] = []
    missing: list[tuple[str, tuple[str, str, int]]] = []
    for kind in KINDS:
        wanting = [p for p in points if p.counts().get(kind)]
        if wanting:
            patches, lost = _spread(job, kind, wanting, home, left)
            moved += patches
            missing += lost
    return moved, missing


def _spread(job: Job, kind: str, wanting: Sequence[Point], home: dict[str, Box],
            left: dict[tuple[str, str], int]) -> Spread:
    """What of one kind is plugged in elsewhere, and what nothing can take. The own box is free, loose cable costs."""
    reach = job.settings.reach.si if job.settings.reach else None
    boxes = [b for b in job.boxes() if left.get((b.id, kind))]
    total = sum(p.counts()[kind] for p in wanting)
    flow: nx.DiGraph[object] = nx.DiGraph()
    flow.add_node("source", demand=-total)
    flow.add_node("sink", demand=total)
    # a connection that is lost costs more than any patch, so as few as can be are lost
    far = CENTIMETRES * 1000
    flow.add_edge(_LOST, "sink", capacity=total, weight=0)
    for b in boxes:
        flow.add_edge(("box", b.id), "sink", capacity=left[b.id, kind], weight=0)
    metres: dict[tuple[str, str], float] = {}
    for p in wanting:
        flow.add_edge("source", ("point", p.id), capacity=p.counts()[kind], weight=0)
        flow.add_edge(("point", p.id), _LOST, capacity=total, weight=far)
        for b in boxes:
            loose = loose_length(b, p)
            own = home[p.id].id == b.id
            if own or (loose is not None and (reach is None or loose <= reach + 1e-9)):
                metres[p.id, b.id] = loose or 0.0
                weight = 0 if own else CENTIMETRES + round((loose or 0.0) * CENTIMETRES)
                flow.add_edge(("point", p.id), ("box", b.id), capacity=total, weight=weight)
    answer = nx.min_cost_flow(flow)
    patches: list[tuple[str, Patch]] = []
    lost: list[tuple[str, tuple[str, str, int]]] = []
    for p in wanting:
        for end, n in answer[("point", p.id)].items():
            if n and end == _LOST:
                lost.append((p.id, (p.name, kind, n)))
            elif n and end[1] != home[p.id].id:
                box = job.get(Box, end[1])
                patches.append((p.id, Patch(p.name, kind, n, box.title, metres[p.id, box.id])))
    return patches, lost

