"""What fit says about a floor box at its place: joists, bearings, zones, edges, reach, and what is not known."""

import random
from pathlib import Path

import pytest
from shapely.geometry import LineString

from stagefloor.core.open_items import CHECK, ENGINEER, MEND, STOP, TO_DO, OpenItem
from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import Joists
from stagefloor.steps.boxes import fit
from stagefloor.steps.boxes.fit_wood import joist_clash

FOOT, INCH = 0.3048, 0.0254
DEMO = Path(__file__).resolve().parents[3] / "demo_projects" / "quillhaven_playhouse" / "job.json"
HALF = 0.5 * INCH
# 2x10 joists: 1.5 in wide (actual size of 2-by lumber), 16 in on centre, one centred on 0.5 ft
FIELD = Joists(id="j", offset="0.5 ft", spacing="16 in", width="1.5 in")


def stage(**settings: str) -> Job:
    """A wooden stage 40 by 30 ft with the joists above, a 2-bay model of 12 x 8 in, one point at FB-1."""
    job = set_fields(Job(), "settings", "job", {"floor_type": "wood on joists", **settings})
    job, _ = add(job, "joists", [{"offset": "0.5 ft", "spacing": "16 in", "width": "1.5 in"}])
    job, _ = add(job, "boxmodel", [{"label": "M", "across": "12 in", "along": "8 in", "flange": "0.5 in", "bays": "2"}])
    job, _ = add(job, "event", [{"label": "Play"}, {"label": "Talk"}])
    job, _ = add(job, "point", [{"label": "P", "x": "0", "y": "3", "microphone": "1"}])
    return add(job, "box", [{"label": "FB-1", "x": "-0.17", "y": "3", "points": "P"}])[0]


def at(job: Job, x: str, y: str, **fields: str) -> Job:
    return set_fields(job, "box", job.all(Box)[0].id, {"x": x, "y": y, **fields})


def found(job: Job, code: str = "") -> list[OpenItem]:
    items = fit.box_items(job, job.all(Box)[0])
    return [i for i in items if i.code == code] if code else items


# --- joists


def test_the_worked_numbers_of_a_twelve_inch_cutout_on_the_centre_line() -> None:
    # joist faces at 0.5 ft -+ 0.75 in: 0.4375 and 0.5625 ft; cutout -0.5 .. 0.5 ft: cuts 0.5 - 0.4375 = 0.0625 ft
    # the bay to stage right: from the joist at 0.5 ft - 16 in = -0.8333 ft, face -0.7708, to 0.4375: 14.5 in clear
    # barely: -0.0625; with 1/2 in to the face: -0.0625 - 0.0417 = -0.1042; middle of the bay -0.1667
    clash = joist_clash(FIELD, -0.5 * FOOT, 0.5 * FOOT, HALF)
    assert clash is not None
    assert clash.centred is not None
    assert [round(v / FOOT, 4) for v in (clash.cut, clash.barely, clash.with_gap, clash.centred)] == [
        0.0625, -0.0625, -0.1042, -0.1667]


def test_the_sentence_of_the_demo_names_all_three_shifts() -> None:
    job = store.read(DEMO).job
    (item,) = [i for i in fit.open_items(job) if i.code == "box-on-joist"]
    assert (item.subject, item.amount, item.state) == ("Floor box FB-A8", '3/4"', MEND)
    for words in ('3/4" to stage right to clear it', '1 1/4" to stage right with 1/2" to the joist face',
                  '2" to stage right to centre it in the bay', "a cut joist goes to the engineer"):
        assert words in item.cure
    assert item.workings[0].result.amount == pytest.approx(0.0625)


@pytest.mark.parametrize(("middle", "what"), [
    (-2 / 12, None),  # middle of the bay: (14.5 - 12) / 2 = 1.25 in to each face
    (-2 / 12 + 0.75 / 12, None),  # 0.5 in to the joist face is as the policy wants it
    (-2 / 12 + 0.8 / 12, "near"),  # 0.45 in
    (-2 / 12 + 1.25 / 12, "near"),  # touches the joist: 0 in
    (-2 / 12 + 1.3 / 12, "cut"),
    (0.5, "cut")])
def test_clear_near_or_cut(middle: float, what: str | None) -> None:
    clash = joist_clash(FIELD, (middle - 0.5) * FOOT, (middle + 0.5) * FOOT, HALF)
    assert (None if clash is None else "cut" if clash.cut > 1e-9 else "near") == what


def test_against_stepping_along_the_floor() -> None:
    """Every answer is compared with a search in steps of 0.2 mm over joists laid out one by one."""
    rng = random.Random(5)
    tried = {"clear": 0, "clash": 0, "too wide": 0}
    for _ in range(100):
        spacing, wide = rng.choice([12, 16, 19.2, 24]) * INCH, rng.choice([1.5, 1.75, 2.5]) * INCH
        offset, gap = rng.uniform(-1, 1), rng.choice([0.0, 0.5, 1.0]) * INCH
        width, middle = rng.uniform(4, 22) * INCH, rng.uniform(-3, 3)
        low, high = middle - width / 2, middle + width / 2
        nearest = round((middle - offset) / spacing)
        faces = [(offset + k * spacing - wide / 2, offset + k * spacing + wide / 2)
                 for k in range(nearest - 4, nearest + 5)]
        field = Joists(id="j", offset=f"{offset!r} m", spacing=f"{spacing!r} m", width=f"{wide!r} m")

        def room(shift: float, a: float = low, b: float = high, members: list[tuple[float, float]] = faces) -> float:
            """Least distance to any joist after a shift; minus the deepest cut."""
            return min(max(f0 - (b + shift), (a + shift) - f1) for f0, f1 in members)

        clash = joist_clash(field, low, high, gap)
        if room(0.0) >= gap:
            assert clash is None
            tried["clear"] += 1
            continue
        assert clash is not None
        if room(0.0) > 0:
            assert (clash.cut, clash.gap) == (0.0, pytest.approx(room(0.0), abs=1e-9))
        else:  # how much of one joist lies in the cutout: its points 0.1 mm apart, counted
            points = [low + (i + 0.5) * 1e-4 for i in range(int(width / 1e-4))]
            deepest = max(sum(f0 < x < f1 for x in points) for f0, f1 in faces if f0 < high and f1 > low) * 1e-4
            assert clash.cut == pytest.approx(deepest, abs=2.1e-4)
        steps = sorted((k * 2e-4 for k in range(-int(spacing / 2e-4), int(spacing / 2e-4) + 1)), key=abs)
        # where nothing is cut there is nothing to clear barely
        for answer, keep in ((clash.barely, 0.0), (clash.with_gap, gap)) if clash.cut else ((clash.with_gap, gap),):
            stepped = next((s for s in steps if room(s) >= keep - 1e-9), None)
            if width + 2 * keep > spacing - wide:
                assert answer is None  # no bay is wide enough
                tried["too wide"] += 1
            else:
                assert answer is not None and room(answer) >= keep - 1e-9
                assert abs(answer) <= (abs(stepped) if stepped is not None else spacing) + 1e-9
                assert stepped is None or abs(abs(stepped) - abs(answer)) <= 2e-4
                tried["clash"] += 1
        if width <= spacing - wide:
            assert clash.centred is not None
            best = max(steps, key=lambda s: (round(room(s), 7), -abs(s)))
            assert room(clash.centred) == pytest.approx(room(best), abs=2.1e-4)
        else:
            assert clash.centred is None
    assert min(tried.values()) > 10


def test_no_bay_is_wide_enough() -> None:
    job = set_fields(stage(), "boxmodel", stage().all(Box)[0].model or next(iter(stage().tables["boxmodel"])),
                     {"across": "15 in"})
    (item,) = found(job, "box-on-joist")
    assert "narrower model" in item.cure
    assert "engineer" in item.cure


def test_joists_across_the_stage_are_measured_up_and_down() -> None:
    # 8 in along; joist centred on 0.5 ft, so at y = 6 in: cutout from 2 in to 10 in cuts the full 1.5 in
    job = stage()
    job = set_fields(job, "joists", next(iter(job.tables["joists"])), {"run": "across the stage"})
    (item,) = found(at(job, "9", "0.5"), "box-on-joist")
    assert item.workings[0].result.amount == pytest.approx(0.125)
    # bay middle: 6 in + 8 in = 14 in = 1' 2"
    assert found(at(job, "9", "1' 2\""), "box-on-joist") == []


# --- bearing lines


@pytest.mark.parametrize(("y", "overlap", "shift"), [
    # beam at 7 ft with 3 in kept clear each side: 6.75 .. 7.25 ft; cutout 8 in: y -+ 4 in
    ("7", '6"', '7"'),  # 4 + 3 in: 7 in either way
    ("6.5", '1"', '1" downstage'),  # upper side at 6' 10": 1 in over 6' 9"
    ("7.5", '1"', '1" upstage'),
    ("6' 5\"", "", ""), ("7' 7\"", "", "")])
def test_a_bearing_line(y: str, overlap: str, shift: str) -> None:
    job, _ = add(stage(), "bearing", [{"label": "beam A", "at": "7"}])
    items = found(at(job, "-0.17", y), "box-on-bearing")
    assert [i.amount for i in items] == ([f"overlap {overlap}"] if overlap else [])
    for item in items:
        assert item.state == MEND
        assert f"move it {shift}" in item.cure
        assert "beam A with blocking" in item.what


# --- keep-clear zones


def zone(job: Job, **fields: str) -> Job:
    place = {"label": "the steps", "what": "step unit", "x0": "-2", "y0": "2", "x1": "2", "y1": "6"}
    return add(job, "keepclear", [{**place, **fields}])[0]


def test_a_zone_counts_in_the_events_in_which_it_stands() -> None:
    job = stage()
    point = next(iter(job.tables["point"]))
    always = found(zone(job), "box-in-zone")
    assert [i.state for i in always] == [MEND]
    same = found(set_fields(zone(job, events="Play"), "point", point, {"events": "Play, Talk"}), "box-in-zone")
    assert [i.state for i in same] == [MEND]
    assert "in the event Play, in which it is needed (points P)" in same[0].what
    other = found(set_fields(zone(job, events="Play"), "point", point, {"events": "Talk"}), "box-in-zone")
    assert [i.state for i in other] == [CHECK]
    assert "in which nothing plugs in here" in other[0].what


def test_how_deep_a_cover_lies_in_a_zone() -> None:
    # cover 13 x 9 in about (-0.17 ft, 3 ft): up to y = 3 ft + 4.5 in; the zone begins at 3 ft: 4.5 in
    (item,) = found(zone(stage(), y0="3"), "box-in-zone")
    assert item.amount == 'overlap 4 1/2"'
    assert found(zone(stage(), y0="3' 4 1/2\"", what="other"), "box-in-zone") == []  # they touch


def test_near_a_nosing() -> None:
    # the cover ends at 3' 4.5", the steps begin at 4 ft: 7.5 in, 12 in by the job's policy
    (item,) = found(zone(stage(), y0="4"), "cover-near-step")
    assert (item.amount, item.state) == ('7 1/2" of 1\'', CHECK)
    assert found(zone(stage(), y0="4", what="furniture"), "cover-near-step") == []
    assert found(zone(stage(), y0="4' 4 1/2\""), "cover-near-step") == []


def test_a_route_with_a_width() -> None:
    # middle line at y = 6 ft, 4 ft wide: from 4 ft; the cover ends at 3' 4.5"
    route = {"label": "the way", "what": "other", "x0": "-9", "y0": "6", "x1": "9", "y1": "6", "width": "4"}
    assert found(zone(stage(), **route), "box-in-zone") == []
    (item,) = found(zone(stage(), **{**route, "width": "6"}), "box-in-zone")  # from 3 ft: 4.5 in
    assert item.amount == 'overlap 4 1/2"'


def rolled(load: str = "", lid: str = "") -> Job:
    job = zone(stage(), what="rolling route", label="the piano", load=load)
    return set_fields(job, "boxmodel", next(iter(job.tables["boxmodel"])), {"lid_load": lid})


def test_a_rolling_route() -> None:
    # 330 lb on a wheel: 330 * 0.45359237 * 9.80665 = 1468 N
    (weak,) = found(rolled("330 lb", "1 kN"), "box-on-route")
    assert weak.state == MEND
    assert weak.amount.startswith("1.47 kN a wheel or leg, lid 1.00 kN")
    for job in (rolled("330 lb"), rolled("", "9 kN"), rolled()):
        (item,) = found(job, "box-on-route")
        assert item.state == STOP
        assert item.question
    (deck,) = found(rolled("330 lb", "20 kN"), "deck-on-route")
    assert deck.state == ENGINEER


# --- edges, walls, reach


def test_the_edge_and_the_walls_each_with_its_own_rule() -> None:
    job = stage(stage_down="0 ft", stage_right="0 ft", stage_left="20 ft", stage_up="15 ft")
    # cover 13 x 9 in. Stage right wall at 0 ft: 7 in off it is fine, there is no 18 in there
    assert [i.code for i in found(at(job, "13.5 in", "5")) if "edge" in i.code or "outside" in i.code] == []
    (near,) = found(at(job, "9.83", "1.5"), "cover-near-edge")  # 18 - 4.5 = 13.5 in
    assert (near.amount, near.state) == ('1\' 1 1/2" of 1\' 6"', CHECK)
    assert found(at(job, "9.83", "22.5 in"), "cover-near-edge") == []  # 22.5 - 4.5 = 18 in
    for x, y, name in (("3 in", "5", "the wall stage right"), ("19.8", "5", "the wall stage left"),
                       ("9.83", "14.9", "the back wall"), ("9.83", "0", "the stage edge")):
        (out,) = found(at(job, x, y), "outside-stage")
        assert name in out.what
        assert out.state == MEND


@pytest.mark.parametrize(("reach", "items"), [("5 ft", 0), ("4.99 ft", 1), ("6 ft", 0)])
def test_reach_is_the_straight_distance(reach: str, items: int) -> None:
    # point at (0, 3), box at (3, -1): 3, 4, 5
    job = at(stage(reach=reach), "3", "-1")
    out = found(job, "out-of-reach")
    assert len(out) == items
    for item in out:
        assert item.subject == "Point P"
        assert item.workings[0].result.amount == pytest.approx(5)
        assert item.workings[0].holds is False


@pytest.mark.parametrize(("z", "items"), [("3 ft", 1), ("2.3 ft", 0), ("-3 ft", 1)])
def test_a_riser_is_farther_than_the_plan_shows(z: str, items: int) -> None:
    # 5.5 ft off on the plan and 3 ft up: sqrt(5.5^2 + 3^2) = 6.265 ft = 6' 3 3/16", reach 6 ft; 2.3 ft up: 5.962 ft
    job = at(stage(reach="6 ft"), "0", "-2.5")
    job = set_fields(job, "point", job.all(Point)[0].id, {"z": z})
    out = found(job, "out-of-reach")
    assert len(out) == items
    assert len(fit.unserved(job, "")) == items
    for item in out:
        assert item.amount == "6' 3 3/16\", 3 3/16\" too far"
        assert [v.symbol for v in item.workings[0].inputs] == ["dx", "dy", "dz"]
        assert item.workings[0].result.amount == pytest.approx(6.265, abs=5e-4)


def test_a_field_of_joists_without_a_width_is_unknown_and_a_bearing_line_is_said_once() -> None:
    job, _ = add(at(stage(), "-0.17", "7"), "bearing", [{"label": "beam A", "at": "7"}])
    job, _ = add(job, "joists", [{"offset": "0.5 ft", "spacing": "16 in"}])
    assert len(found(job, "box-on-bearing")) == 1  # two fields that run the same way


def test_a_loose_cable_across_a_path_that_must_stay_free() -> None:
    job = zone(at(stage(), "-0.17", "1"), what="wagon track", label="the track", y0="2", y1="2.5", crossing="yes")
    (item,) = found(job, "cable-crosses")
    assert (item.subject, item.state) == ("Point P", MEND)
    assert "the track" in item.what
    point = next(iter(job.tables["point"]))
    job = set_fields(job, "keepclear", next(iter(job.tables["keepclear"])), {"events": "Play"})
    assert len(found(set_fields(job, "point", point, {"events": "Play"}), "cable-crosses")) == 1
    assert found(set_fields(job, "point", point, {"events": "Talk"}), "cable-crosses") == []


@pytest.mark.parametrize(("width", "crosses"), [("1 ft 7 in", True), ("1 ft 5 in", False)])
def test_a_loose_cable_beside_a_slanting_path_with_a_width(width: str, crosses: bool) -> None:
    """The cable ends short of the middle line of the path; shapely says by how much."""
    job = zone(at(stage(), "0", "1"), what="wagon track", label="the track", x0="-3", y0="4", x1="9", y1="3", width=width,
               crossing="yes")
    box, point = job.all(Box)[0], job.all(Point)[0]
    cable = LineString([(one.x.si, one.y.si) for one in (box, point) if one.x and one.y])
    middle = LineString([(-3 * 0.3048, 4 * 0.3048), (9 * 0.3048, 3 * 0.3048)])
    lane = float(width.split()[0]) * 0.3048 + float(width.split()[2]) * 0.0254
    assert (cable.distance(middle) <= lane / 2) == crosses
    assert bool(found(job, "cable-crosses")) == crosses


def test_a_spacing_that_is_a_slip_of_the_finger() -> None:
    job = at(stage(), "0", "1")
    job = set_fields(job, "joists", next(iter(job.tables["joists"])), {"spacing": "0.000001 in"})
    (item,) = found(job, "box-on-joist")
    assert "narrower model" in item.cure


def test_two_covers_on_each_other() -> None:
    job, _ = add(stage(), "box", [{"label": "FB-2", "x": "0.83", "y": "3", "points": "P"}])
    # 12 in apart, covers 13 in across: 1 in
    (item,) = [i for i in fit.open_items(job) if i.code == "boxes-overlap"]
    assert item.amount == '1"'
    apart = set_fields(job, "box", job.all(Box)[1].id, {"x": "11 in"})  # -2.04 + 13 = 10.96 in
    assert [i for i in fit.open_items(apart) if i.code == "boxes-overlap"] == []


# --- what is not known


def test_an_unknown_floor_is_a_stop_with_a_question() -> None:
    (item,) = found(stage(floor_type=""), "floor-unknown")
    assert item.state == STOP
    assert item.must_mend
    assert "What is the floor made of" in item.question


def test_unknown_joists_are_a_stop_with_a_question() -> None:
    job = stage()
    gone = job.without(Joists, list(job.tables["joists"]))
    (item,) = found(gone, "joists-unknown")
    assert (item.state, bool(item.question)) == (STOP, True)
    vague = set_fields(job, "joists", next(iter(job.tables["joists"])), {"offset": ""})
    (item,) = found(vague, "joists-unknown")
    assert (item.state, bool(item.question)) == (STOP, True)


@pytest.mark.parametrize("slab", ["concrete slab on grade", "suspended concrete slab", "post-tensioned slab"])
def test_a_slab_without_a_scan_is_a_stop_with_a_question(slab: str) -> None:
    job = stage(floor_type=slab)
    (item,) = found(job, "slab-not-scanned")
    assert item.state == STOP
    assert "scan" in item.question
    assert ("tendons" in item.what) is True
    job = set_fields(job, "box", job.all(Box)[0].id, {"scan": "report 7"})
    assert found(job, "slab-not-scanned") == []
    # and a scan is still no leave to cut
    assert [i.state for i in found(job) if i.state in (STOP, ENGINEER)]


def test_the_zone_of_the_floor_rules_over_the_job() -> None:
    job, _ = add(stage(), "zone", [{"label": "Apron", "floor_type": "post-tensioned slab", "x0": "-5", "y0": "0", "x1": "5",
                                    "y1": "5"}])
    assert len(found(job, "slab-not-scanned")) == 1
    assert found(at(job, "-0.17", "9"), "slab-not-scanned") == []


def test_a_box_without_a_place() -> None:
    job = at(stage(), "", "3")
    assert [(i.code, i.state) for i in found(job)] == [("box-no-place", TO_DO)]
    assert found(job)[0].question


def test_a_clear_place_raises_nothing_about_the_floor() -> None:
    codes = {i.code for i in found(stage())}
    assert not codes & {"box-on-joist", "box-near-joist", "box-on-bearing", "box-in-zone", "outside-stage",
                        "cover-near-edge", "floor-unknown", "joists-unknown", "slab-not-scanned",
                        "out-of-reach", "cable-crosses"}


# --- depth and lid


def deep(**model: str) -> Job:
    job, _ = add(stage(), "zone", [{"label": "Stage", "x0": "-9", "y0": "0", "x1": "9", "y1": "9", "clear_below": "6 in"}])
    return set_fields(job, "boxmodel", next(iter(job.tables["boxmodel"])), {"depth": "5 in", "front": "3 in", **model})


def test_depth_below_the_floor() -> None:
    (item,) = found(deep(depth="7 in"), "box-too-deep")
    assert (item.amount, item.state) == ('7" of 6"', MEND)
    assert found(deep(), "box-too-deep") == []


def test_a_lid_that_does_not_close_over_the_plug() -> None:
    # a 3-pin XLR with its cord takes 65 mm in front of the plate (common practice, no source): 2 in = 50.8 mm are too few
    (item,) = found(deep(front="2 in"), "lid-wont-close")
    assert item.state == MEND
    assert found(deep(), "lid-wont-close") == []  # 3 in = 76.2 mm


def test_a_floor_outlet_in_a_model_not_known_to_be_listed() -> None:
    job = deep()
    job = set_fields(job, "point", next(iter(job.tables["point"])), {"mains": "1"})
    (item,) = found(job, "floor-listing")
    assert "314.27(B)" in item.basis
    assert item.state == CHECK
    model = next(iter(job.tables["boxmodel"]))
    assert found(set_fields(job, "boxmodel", model, {"listed": "yes"}), "floor-listing") == []
