"""From the results of a job to what is drawn of its cables: route plan, line diagram, raceway sections. Knows no money."""

from collections import defaultdict

from stagefloor.core.problems import Problem
from stagefloor.core.units import long_length_text
from stagefloor.drawings.face import place_name
from stagefloor.drawings.line_diagram import DiagramBox, DiagramGroup, DiagramLine, LineDiagram
from stagefloor.drawings.plain import XY
from stagefloor.drawings.route_plan import RouteClass, RouteNode, RoutePlan, RouteRun
from stagefloor.drawings.scene import Display
from stagefloor.drawings.section import RacewaySection, SectionCable
from stagefloor.job.boxes import Opening
from stagefloor.job.cables import CLASSES, Node, Segment
from stagefloor.reference import tables
from stagefloor.results.compute import Results
from stagefloor.results.scenes import stage_scene
from stagefloor.steps.cables import Line, Raceway, one_a_cable
from stagefloor.steps.cables.raceways import compartments, inside_of_size
from stagefloor.steps.cut_list import cable_name
from stagefloor.steps.pull_sheets import from_rack


def display_of(results: Results) -> Display:
    return "ft-in" if results.job.settings.units == "ft-in" else "m"


def route_plan_record(results: Results) -> RoutePlan:
    """The stage with its raceways by class."""
    job = results.job
    by_pair: dict[tuple[str, str], list[Raceway]] = defaultdict(list)
    for r in results.raceways:
        by_pair[min(r.segment.start, r.segment.end), max(r.segment.start, r.segment.end)].append(r)
    runs = []
    for held in by_pair.values():
        first = held[0].segment
        points = _points(results, first)
        if points is None:
            continue
        classes = sorted(held, key=lambda r: CLASSES.index(r.segment.signal_class))
        runs.append(RouteRun(label=_between(results, first), points=points, cables=sum(r.cables for r in held),
                             classes=tuple(RouteClass(signal_class=r.segment.signal_class,
                                                      size=r.size or r.segment.way,
                                                      there=r.segment.existing, closed=r.segment.blocked) for r in classes)))
    used = {i for r in results.raceways for i in (r.segment.start, r.segment.end)}
    nodes = tuple(RouteNode(label=n.name, what=n.what, x=n.x.si, y=n.y.si) for n in job.all(Node)
                  if n.x and n.y and n.id in used)
    scene = stage_scene(job, ways=True).model_copy(update={"zones": (), "points": (), "replay": (), "raceways": ()})
    return RoutePlan(scene=scene, runs=tuple(runs), nodes=nodes, feeds=tuple(_feeds(results)))


def size_words(raceway: Raceway) -> str:
    """Kind and size of a raceway in words."""
    way = raceway.segment.way
    inches = " in" if raceway.size and way in ("EMT", "RMC", "PVC40") else ""
    return f"{way} {raceway.size}{inches}".strip()


def _between(results: Results, segment: Segment) -> str:
    a, b = results.job.find(Node, segment.start), results.job.find(Node, segment.end)
    return f"{a.name if a else '?'}–{b.name if b else '?'}"


def _points(results: Results, segment: Segment) -> tuple[XY, ...] | None:
    a, b = results.job.find(Node, segment.start), results.job.find(Node, segment.end)
    if not (a and b and a.x and a.y and b.x and b.y):
        return None
    corner: tuple[XY, ...] = () if a.x.si == b.x.si or a.y.si == b.y.si else ((b.x.si, a.y.si),)
    return (a.x.si, a.y.si), *corner, (b.x.si, b.y.si)


def _feeds(results: Results) -> list[tuple[XY, ...]]:
    found = []
    for box, feed in dict.fromkeys((line.box, line.way.feed) for line in results.lines if line.way.feed):
        node = results.job.find(Node, feed)
        if node is None or not (node.x and node.y and box.x and box.y):
            continue
        corner: tuple[XY, ...] = () if node.x.si == box.x.si or node.y.si == box.y.si else ((box.x.si, node.y.si),)
        found.append(((node.x.si, node.y.si), *corner, (box.x.si, box.y.si)))
    return found


def line_diagram_record(results: Results) -> LineDiagram:
    """Every line from its opening to the rack, by box and class."""
    job = results.job
    groups: dict[str, dict[str, list[Line]]] = defaultdict(lambda: defaultdict(list))
    for line in results.lines:
        groups[line.box.id][line.signal_class].append(line)
    boxes = tuple(DiagramBox(label=b.label, title=b.title, groups=tuple(
        DiagramGroup(signal_class=name, way=_way_words(results, held[0]),
                     lines=tuple(_diagram_line(results, x) for x in held))
        for name, held in groups[b.id].items())) for b in job.boxes() if b.id in groups)
    return LineDiagram(title=f"Line diagram, {job.settings.venue}" if job.settings.venue else "Line diagram", boxes=boxes)


def _way_words(results: Results, line: Line) -> str:
    """The nodes that a line passes, from the box to the rack."""
    way = from_rack(results.job, line.way.segments)
    if not way:
        return "no raceway drawn"
    nodes = [way[0][1], *(far for _, _, far, _ in way)]
    return "by " + " – ".join(n.name if (n := results.job.find(Node, i)) else "?" for i in reversed(nodes))


def _diagram_line(results: Results, line: Line) -> DiagramLine:
    job = results.job
    openings = [o for i in line.circuit.openings if (o := job.find(Opening, i)) is not None]
    places = "+".join(place_name(o.bay, o.slot) if o.bay else "–" for o in openings)
    length = long_length_text(line.metres, job.settings.units) if line.metres > 0 else "length not known"
    cable = "old line reused" if line.cable is None else f"{line.type.label if line.type else 'no type'}, {length}"
    if line.cable is not None and (cable_name(line) != line.circuit.label or len(line.cable.circuits) > 1):
        cable = f"cable {cable_name(line)}, {cable}"
    return DiagramLine(place=places, label=line.circuit.label, cable=cable, rack=line.circuit.rack)


def section_records(results: Results) -> list[RacewaySection]:
    """The section of each raceway whose inside is known and that holds a cable."""
    inside_of: dict[str, list[SectionCable]] = defaultdict(list)
    for line in one_a_cable(results.lines):
        if line.type is not None and line.type.diameter is not None and line.type.diameter.si > 0:
            for segment in line.way.segments:
                inside_of[segment].append(SectionCable(label=cable_name(line), kind=line.circuit.what,
                                                       diameter=line.type.diameter.si))
    found = []
    shared = compartments(results.job)
    drawn: set[tuple[str, ...]] = set()
    for r in results.raceways:
        room = inside(r)
        together = [s.id for s in shared.get(r.segment.id, (r.segment,))]  # one compartment, one section
        held = [c for i in together for c in inside_of[i]]
        if not held or room is None or tuple(together) in drawn:
            continue
        drawn.add(tuple(together))
        name = f"{_between(results, r.segment)}, compartment {r.segment.compartment}" if r.shared else r.segment.name
        filled = f"{r.fill.result.amount:.0f} % filled" if r.fill else f"fill not known: {r.missing}" if r.missing else ""
        found.append(RacewaySection(title=f"{name}, {size_words(r)}", diameter=room[0], width=room[1],
                                    height=room[2], display=display_of(results), filled=filled,
                                    cables=tuple(held)))
    return found


def inside(raceway: Raceway) -> tuple[float, float, float] | None:
    """(inside diameter, width, height) in metres, round or rectangular; None if it is not known.

    Source of diameters: the published table of raceways; a compartment's size as it is entered.
    """
    try:
        row = tables.load("nec_ch9_table4_raceways").row(raceway.segment.way, raceway.size)
        return row.si("id"), 0.0, 0.0
    except Problem:
        pass
    room = inside_of_size(raceway.size)
    if isinstance(room, tuple):
        return 0.0, *room
    return None if room is None else (room, 0.0, 0.0)
