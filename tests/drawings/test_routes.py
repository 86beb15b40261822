"""Route plan and line diagram: everything of the job is on them, nothing lies over anything else that is read."""

from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

import pytest

from stagefloor.drawings.line_diagram import MOST_ROWS, line_diagrams
from stagefloor.drawings.plan import overlap
from stagefloor.drawings.route_plan import RoutePlan, route_plan
from stagefloor.drawings.shapes import Drawing, Shape, text_width
from stagefloor.drawings.svg import LOOKS, render
from stagefloor.job import store
from stagefloor.results import Results, compute
from stagefloor.results.cable_drawings import line_diagram_record, route_plan_record

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"


@pytest.fixture(scope="module", params=["quillhaven_playhouse", "ondry_hall", "one_box"])
def results(request: pytest.FixtureRequest) -> Results:
    return compute(store.read(DEMOS / request.param).job)


def rects(drawing: Drawing) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Where each text lies on paper, in pixels, x to the right and y down."""
    found = []
    for s in drawing.shapes:
        if s.kind == "text" and s.text:
            found.append((s.text, _rect(s, drawing)))
    return found


def _rect(s: Shape, drawing: Drawing) -> tuple[float, float, float, float]:
    x = (s.points[0][0] - drawing.extent[0]) * drawing.scale + s.offset[0]
    y = (drawing.extent[3] - s.points[0][1]) * drawing.scale + s.offset[1]
    wide = text_width(s.text, s.size)
    left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[s.anchor]
    return left, y - s.size * 0.72, left + wide, y


def test_every_line_is_on_the_diagram_once(results: Results) -> None:
    sheets = line_diagrams(line_diagram_record(results))
    shown = Counter(s.text for sheet in sheets for s in sheet.shapes if s.kind == "text")
    for label, n in Counter(line.circuit.label for line in results.lines).items():
        assert shown[label] == n
    dots = sum(s.role == "dot" for sheet in sheets for s in sheet.shapes)
    assert dots == len(results.lines)
    counted = sum(int(t.split()[0]) * n for t, n in shown.items() if t.endswith(" lines"))
    assert counted == len(results.lines)


def test_no_text_of_the_diagram_lies_over_another_or_leaves_the_sheet(results: Results) -> None:
    for sheet in line_diagrams(line_diagram_record(results)):
        assert sum(s.role == "dot" for s in sheet.shapes) <= MOST_ROWS
        placed = rects(sheet)
        high = (sheet.extent[3] - sheet.extent[1]) * sheet.scale
        for i, (words, a) in enumerate(placed):
            assert a[0] >= 0 and a[2] <= sheet.width and a[1] >= 0 and a[3] <= high, words
            assert not [w for w, b in placed[:i] if overlap(a, b) > 1.0], words


def test_each_row_ends_on_the_bus_of_its_class(results: Results) -> None:
    """A line and its bus have the same look, and the bus passes the line's height."""
    for sheet in line_diagrams(line_diagram_record(results)):
        buses = {s.role: s.points for s in sheet.shapes if s.kind == "line" and s.label.startswith("bus:")}
        assert len({p[0][0] for p in buses.values()}) == len(buses)
        for s in sheet.shapes:
            if s.kind == "line" and s.role in buses and not s.label.startswith("bus:"):
                bus = buses[s.role]
                ends = [x for x, _ in s.points]
                assert bus[0][0] in ends
                assert bus[0][1] <= s.points[0][1] <= bus[1][1]


def test_the_route_plan_has_every_raceway_and_box(results: Results) -> None:
    record = route_plan_record(results)
    drawing = route_plan(record)
    with_ends = [r for r in results.raceways if r.metres is not None]
    if not with_ends:
        assert drawing is None
        return
    assert drawing is not None
    root = ElementTree.fromstring(render(drawing, "q"))
    assert {e.tag for e in root.iter()} <= {"svg", "title", "desc", "defs", "pattern", "rect", "path", "circle", "polygon",
                                            "polyline", "text"}
    ways = [s for s in drawing.shapes if s.kind == "line" and s.label.startswith("raceway ")]
    assert len(ways) == len(with_ends)
    assert {b.label for b in results.job.boxes() if b.x and b.y} <= {s.text for s in drawing.shapes}
    for s in drawing.shapes:  # an empty raceway that leads far away is cut at the edge
        for x, y in s.points:
            assert drawing.extent[0] - 1e-6 <= x <= drawing.extent[2] + 1e-6
            assert drawing.extent[1] - 1e-6 <= y <= drawing.extent[3] + 1e-6
    assert sum(run.cables for run in record.runs) == sum(len(r.diameters) for r in results.raceways)


def test_names_on_the_route_plan_do_not_hide_each_other(results: Results) -> None:
    drawing = route_plan(route_plan_record(results))
    if drawing is None:
        return
    placed = [(t, r) for t, r in rects(drawing) if t not in ("audience", "upstage", "stage left", "stage right")]
    hidden = [(a, b) for i, (a, ra) in enumerate(placed) for b, rb in placed[:i]
              if overlap(ra, rb) > 0.25 * min((r[2] - r[0]) * (r[3] - r[1]) for r in (ra, rb))]
    assert hidden == []


def test_without_raceways_there_is_no_route_plan() -> None:
    assert route_plan(RoutePlan()) is None


def test_classes_differ_without_colour() -> None:
    bare = {LOOKS[f"class {i}"].split("stroke-width")[1] for i in range(1, 7)}
    assert len(bare) == 6
