"""The plan: stage left on the right, audience at the bottom, zones by event, true scale. Figures by hand."""

import pytest

from stagefloor.drawings.plan import band, plan
from stagefloor.drawings.scene import BoxMark, Connection, EventReplay, Line, Place, PointMark, StageScene, Zone

SQUARE = ((-5.0, 0.0), (5.0, 0.0), (5.0, 8.0), (-5.0, 8.0))
POINTS = (PointMark(label="P1", what="lectern", x=2, y=1), PointMark(label="P2", x=-2, y=1))
SHOW = EventReplay(event="Play", connections=(Connection(point="P1", box="B1", kinds="1 microphone", metres=1.0,
                                                         line=((2, 1), (3, 1))),), unserved=("P2 has no line.",))
TALK = EventReplay(event="Talk")
SCENE = StageScene(outline=SQUARE, points=POINTS, boxes=(BoxMark(label="B1", title="Floor box B1", x=3, y=1),),
                   zones=(Zone(label="Trap", points=((0, 3), (1, 3), (1, 4))),
                          Zone(label="Steps", points=((0, 5), (1, 5), (1, 6)), events=("Talk",))),
                   raceways=(Line(label="Trunk", points=((5, 4), (0, 4))),), rack=Place(label="Rack", x=7, y=4),
                   replay=(SHOW, TALK))


def texts(drawing):
    return {s.text: s for s in drawing.shapes if s.kind == "text"}


def test_directions_are_where_the_audience_sees_them():
    words = texts(plan(SCENE))
    assert words["stage left"].points[0][0] > words["stage right"].points[0][0]
    assert words["upstage"].points[0][1] > words["audience"].points[0][1]


def test_a_zone_of_another_event_is_left_out():
    assert "Steps" in texts(plan(SCENE))
    assert "Steps" not in texts(plan(SCENE, SHOW))
    assert {"Steps", "Trap"} <= set(texts(plan(SCENE, TALK)))


def test_points_that_the_event_does_not_use_look_idle():
    roles = {s.label: s.role for s in plan(SCENE, SHOW).shapes if s.kind == "circle"}
    assert roles == {"point P1, lectern": "point", "point P2": "idle point"}
    assert "1 loose cables" in plan(SCENE, SHOW).description
    assert "1 needs are not served" in plan(SCENE, SHOW).description


def test_a_route_is_as_wide_as_it_says():
    """A 3-4-5 triangle: the route (0,0) to (3,4) 1 m wide has corners 0.5 m to its sides, at (-0.4, 0.3)."""
    corners = [c for xy in band((0, 0), (3, 4), 1.0) for c in xy]
    assert corners == pytest.approx([-0.4, 0.3, 2.6, 4.3, 3.4, 3.7, 0.4, -0.3])
    assert len(band((1, 1), (1, 1), 0.5)) == 4


@pytest.mark.parametrize(("display", "metres"), [("ft-in", 1.524), ("m", 2.0)])
def test_scale_bar_is_true(display, metres):
    """5 ft = 1.524 m, by definition of the foot."""
    drawing = plan(SCENE.model_copy(update={"display": display}))
    bar = [p[0] for s in drawing.shapes if s.role in ("scale dark", "scale light") for p in s.points]
    assert max(bar) - min(bar) == pytest.approx(metres)


def test_everything_is_inside_the_extent():
    drawing = plan(SCENE)
    left, low, right, high = drawing.extent
    assert all(left <= x <= right and low <= y <= high for s in drawing.shapes for x, y in s.points)


def test_labels_of_two_boxes_side_by_side_do_not_hide_each_other():
    boxes = tuple(BoxMark(label=f"FB-{n}", title=f"Floor box FB-{n}", x=0.45 * n, y=1) for n in range(4))
    drawing = plan(StageScene(outline=SQUARE, boxes=boxes))
    spots = [(s.points[0], len(s.text) * 0.56 * s.size / drawing.scale, s.size / drawing.scale)
             for s in drawing.shapes if s.role == "box label"]
    assert len(spots) == 4
    assert all(abs(a[0][0] - b[0][0]) >= a[1] or abs(a[0][1] - b[0][1]) >= a[2]
               for n, a in enumerate(spots) for b in spots[n + 1:])


def test_an_empty_scene_has_no_plan_and_a_single_point_has_one():
    assert plan(StageScene()) is None
    assert plan(StageScene(rack=Place(label="Rack", x=1, y=1))) is None
    alone = plan(StageScene(points=POINTS[:1]))
    assert alone.extent[2] - alone.extent[0] >= 2.0
