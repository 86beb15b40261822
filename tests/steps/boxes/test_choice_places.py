"""Plans on small jobs that a practitioner can follow by hand: levels, lids, zones, overlaps, what is built or held."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
from shapely.geometry import box as rectangle

from stagefloor.entry.planning import answer
from stagefloor.job import store
from stagefloor.job.boxes import BoxModel, PlanAdopted
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import KINDS, Point
from stagefloor.job.model import Job
from stagefloor.results.unit_costs import unit_costs
from stagefloor.steps.boxes import fit, schedule
from stagefloor.steps.boxes.box_cost import box_cost
from stagefloor.steps.boxes.choice import UnitCosts, adopted, question
from stagefloor.steps.boxes.choice_input import asks, cannot_use
from stagefloor.steps.boxes.choice_places import MOST_CANDIDATES
from stagefloor.steps.boxes.fit_outline import outlines
from stagefloor.steps.boxes.planner_problem import Plan, Problem
from stagefloor.steps.boxes.planner_whole import solve_whole
from stagefloor.steps.boxes.schedule import points_of, reconciled

Rows = Sequence[Mapping[str, str]]
COSTS = UnitCosts(300.0, 150.0, dict.fromkeys(KINDS, 10.0), dict.fromkeys(KINDS, 8.0), dict.fromkeys(KINDS, 2.0), 1.0)
SMALL = {"label": "Small", "across": "8 in", "along": "8 in", "depth": "4 in", "flange": "0.5 in", "bays": "2",
         "mains_bays": "1", "openings": "4", "mains_outlets": "2", "cost": "200"}
BIG = {**SMALL, "label": "Big", "across": "10 in", "along": "10 in", "bays": "3", "cost": "300"}
DEMOS = Path(__file__).resolve().parents[3] / "demo_projects"


def made(points: Rows, models: Rows = (SMALL,), settings: Mapping[str, str] | None = None, **more: Rows) -> Job:
    """A job of these rows; boxes last, as they point to the others."""
    job = set_fields(Job(), "settings", "job", dict(settings)) if settings else Job()
    for kind in ("event", "boxmodel", "zone", "joists", "keepclear", "position"):
        if more.get(kind):
            job, _ = add(job, kind, more[kind]) if kind != "boxmodel" else (job, ())
        if kind == "boxmodel":
            job, _ = add(job, kind, models)
    job, _ = add(job, "point", points)
    for kind in ("box", "opening"):
        if more.get(kind):
            job, _ = add(reconciled(job), kind, more[kind])
    return reconciled(job)


def built(job: Job) -> Job:
    return reconciled(set_fields(job, "box", job.boxes()[0].id, {"state": "built"}))


def planned(job: Job, seconds: float = 10.0) -> tuple[Problem, Plan, Job]:
    """The question, its plan, and the job with the plan."""
    asked = question(job, COSTS)
    plan = solve_whole(asked, seconds)
    return asked, plan, adopted(job, asked, plan, "2026-03-04")


def codes(job: Job) -> set[str]:
    return {i.code for i in fit.open_items(job) + schedule.open_items(job)}


def served(job: Job) -> dict[str, list[str]]:
    return {b.label: [p.label for p in points_of(job, b)] for b in job.boxes()}


# What is built

def test_what_is_built_costs_nothing_more_so_that_it_is_used() -> None:
    """By hand: four openings there, four needed: nothing to buy. Elsewhere a box costs 500 and its lines 120 ft from the
    rack, far more than a foot of cable."""
    far = {"rack_x": "-120 ft", "rack_y": "5 ft", "rack_z": "0 ft"}
    job = built(made([{"label": "A", "x": "1 ft", "y": "5 ft", "microphone": "4"}], settings=far,
                     box=[{"label": "FB-1", "x": "0", "y": "5", "points": "A"}]))
    _, plan, after = planned(job)
    assert plan.proven
    assert (plan.costs.boxes, plan.costs.openings) == (0.0, 0.0)
    assert served(after) == {"FB-1": ["A"]}
    assert box_cost(after, after.boxes()[0], COSTS, "USD").result.amount == 0.0


def test_a_hall_that_is_built_but_for_one_panel_buys_that_panel_alone() -> None:
    """Ondry Hall: FB-B1 to FB-B9 and WB-B10 are built with what their points need; WB-B11 is planned."""
    job = store.read(DEMOS / "ondry_hall").job
    asked = question(job, unit_costs(job))
    plan = solve_whole(asked, 15)
    assert plan.proven
    assert not plan.unserved
    assert {b.candidate for b in plan.boxes} == {f"box:{b.id}" for b in job.boxes()}
    assert all(b.need for b in plan.boxes)
    after = adopted(job, asked, plan, "2026-03-04")
    assert {b.id: set(b.points) for b in after.boxes()} == {b.id: set(b.points) for b in job.boxes()}


def test_a_built_box_serves_its_need_whatever_spare_is_asked_of_new_ones() -> None:
    """Four openings, four needed; a spare of 25 % asked later is no reason to buy another box."""
    job = built(made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "4"}],
                     box=[{"label": "FB-1", "x": "0", "y": "5", "points": "A"}]))
    _, plan, after = planned(set_fields(job, "settings", "job", {"spare_percent": "25"}))
    assert [b.candidate for b in plan.boxes] == [f"box:{job.boxes()[0].id}"]
    assert served(after) == {"FB-1": ["A"]}


# Overlaps

@pytest.mark.parametrize("apart", ["0 ft", "0.6 ft"])
def test_two_new_boxes_do_not_overlap(apart: str) -> None:
    """Eight openings each, eight in a box, covers of 9 in: 0.6 ft apart they would overlap by 1.8 in."""
    job = made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "8"},
                {"label": "B", "x": apart, "y": "5 ft", "microphone": "8"}])
    _, plan, after = planned(job)
    assert not plan.unserved
    one, two = (rectangle(o.cover.x0, o.cover.y0, o.cover.x1, o.cover.y1) for b in after.boxes()
                if (o := outlines(after, b)) is not None)
    assert one.intersection(two).area < 1e-9
    assert "boxes-overlap" not in codes(after)


def test_no_new_box_lies_on_a_built_one() -> None:
    job = built(made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "4"}],
                     box=[{"label": "FB-1", "x": "0", "y": "5", "points": "A"}]))
    job = reconciled(set_fields(job, "point", job.all(Point)[0].id, {"microphone": "6"}))
    _, plan, after = planned(job)
    assert not plan.unserved
    assert "boxes-overlap" not in codes(after)


# Levels

PIT = {"label": "Pit", "x0": "-15 ft", "y0": "-10 ft", "x1": "15 ft", "y1": "-1 ft", "z": "-5 ft", "floor_type": "other"}
CELLO = {"label": "Cello", "x": "0", "y": "-6 ft", "z": "-5 ft", "microphone": "2"}
EDGES = {"stage_down": "0 ft", "stage_up": "30 ft"}


def test_a_box_on_the_floor_of_the_pit_serves_the_pit() -> None:
    job = made([CELLO], settings=EDGES, zone=[PIT], box=[
        {"label": "FB-1", "x": "0", "y": "-6 ft", "z": "-5 ft", "points": "Cello", "pinned": "yes"}])
    assert cannot_use(job) == []
    _, plan, after = planned(job)
    assert not plan.unserved
    assert served(after) == {"FB-1": ["Cello"]}
    spot = {"label": "Spot", "x": "0", "y": "-6 ft", "z": "-5 ft"}
    assert cannot_use(made([CELLO], settings=EDGES, zone=[PIT], position=[spot])) == []


def test_nothing_is_laid_between_the_pit_and_the_stage() -> None:
    """A box at the stage edge, 2 ft from the cello on the plan, and one in the pit, 2 ft from the singer: neither serves."""
    job = made([{**CELLO, "y": "-2 ft"}, {"label": "Singer", "x": "0", "y": "1 ft", "microphone": "1"}],
               settings=EDGES, zone=[PIT])
    asked, _, after = planned(job)
    for p in job.all(Point):
        open_to = {c.z for c in asked.candidates if (p.id, c.id) not in asked.policy.blocked}
        assert open_to == ({-5 * 0.3048} if p.label == "Cello" else {0.0})
    assert sorted(served(after).values()) == [["Cello"], ["Singer"]]


def test_a_new_box_stands_on_the_level_of_its_floor() -> None:
    job = made([{"label": "Choir", "x": "0", "y": "10 ft", "z": "2 ft", "microphone": "2"}], zone=[
        {"label": "Riser", "x0": "-10 ft", "y0": "5 ft", "x1": "10 ft", "y1": "15 ft", "z": "2 ft", "floor_type": "other"}])
    _, _, after = planned(job)
    assert [b.z.si for b in after.boxes() if b.z] == [pytest.approx(2 * 0.3048)]


@pytest.mark.parametrize(("up", "reached"), [("2 ft", True), ("3 ft", False)])
def test_reach_counts_the_rise_to_a_riser(up: str, reached: bool) -> None:
    """5.5 ft across and 2 ft up are 5.85 ft, 3 ft up 6.26 ft; the reach is 6 ft."""
    job = made([{"label": "Singer", "x": "0", "y": "5 ft", "z": up, "microphone": "1"}], settings={"reach": "6 ft"},
               keepclear=[{"label": "Riser", "x0": "-9 ft", "x1": "5 ft", "y0": "-9 ft", "y1": "19 ft"}],
               box=[{"label": "FB-1", "x": "5.5 ft", "y": "5 ft", "points": "Singer", "pinned": "yes"}])
    _, plan, after = planned(job)
    assert (not plan.unserved) == reached
    assert served(after) == {"FB-1": ["Singer"] if reached else []}


# What one box can't take

def test_a_point_that_is_too_large_for_a_box_is_served_as_far_as_one_goes() -> None:
    """Two bays of four openings take 8 of 12."""
    _, plan, _ = planned(made([{"label": "Drums", "x": "0", "y": "5 ft", "microphone": "12"}]))
    assert [dict(b.openings) for b in plan.boxes] == [{"microphone": 8}]
    (lost,) = plan.unserved
    assert lost.count == 4
    assert "needs 12 openings and the largest floor box that may stand within its reach takes 8: split" in lost.reason


def test_what_no_model_takes_is_named_and_the_rest_is_served() -> None:
    _, plan, after = planned(made([{"label": "Lectern", "x": "0", "y": "5 ft", "microphone": "2", "mains": "1"}],
                                  [{**SMALL, "mains_bays": "0"}]))
    assert [(u.kind, u.count) for u in plan.unserved] == [("mains", 1)]
    assert "bays behind the barrier" in plan.unserved[0].reason
    assert served(after) == {"FB-1": ["Lectern"]}


# Lids, depth, zones

FLAT = {**SMALL, "label": "Flat", "depth": "20 in", "front": "20 mm", "behind": "80 mm"}
RIGHT = {**SMALL, "label": "Right", "depth": "5 in", "front": "120 mm", "behind": "80 mm", "cost": "205"}
SHALLOW = {"label": "Z", "x0": "-9 ft", "x1": "9 ft", "y0": "0", "y1": "9 ft", "clear_below": "12 in", "floor_type": "other"}


@pytest.mark.parametrize("zone", [SHALLOW, {**SHALLOW, "clear_below": ""}], ids=["too deep", "lid"])
def test_a_model_is_chosen_that_fits_below_and_closes(zone: dict[str, str]) -> None:
    """A microphone's connector with its cord stands 65 mm high (reference table): 120 mm do, 20 mm do not; and 20 in do
    not go into 12 in."""
    _, _, after = planned(made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "2"}], [FLAT, RIGHT], zone=[zone]))
    assert [after.get(BoxModel, b.model).label for b in after.boxes()] == ["Right"]
    assert not codes(after) & {"box-too-deep", "lid-wont-close"}


def test_where_no_lid_closes_it_is_said_beside_the_plan() -> None:
    job = made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "2"}], [FLAT])
    _, plan, _ = planned(job)
    assert not plan.unserved
    (said,) = asks(job, plan)
    assert said.startswith("The lid of Flat does not close over a 3-pin XLR")
    assert "right-angle" in said


def test_a_zone_in_some_events_is_measured_with_the_model_that_is_chosen() -> None:
    """The trap begins 6 in from the point. Large reaches 10.5 in from its middle, Tiny 2.5 in: only Tiny, which is too
    small, may stand at the point in the play; 2 ft stage right Large is clear."""
    tiny = {**SMALL, "label": "Tiny", "across": "4 in", "along": "4 in", "bays": "1", "mains_bays": "0", "openings": "2",
            "cost": "50"}
    large = {**SMALL, "label": "Large", "across": "20 in", "along": "20 in", "bays": "4"}
    trap = {"label": "Trap", "what": "trap", "x0": "0.5 ft", "y0": "0", "x1": "4 ft", "y1": "9 ft", "events": "Play"}
    job = made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "8"}], [tiny, large], {"reach": "3 ft"},
               event=[{"label": "Play"}], keepclear=[trap])
    _, plan, after = planned(job)
    assert not plan.unserved
    assert "box-in-zone" not in codes(after)
    (box,) = after.boxes()
    assert box.x is not None
    assert box.x.si == pytest.approx(-2 * 0.3048)


# What a box holds already, and what was chosen by hand

def test_openings_that_were_set_aside_take_their_room() -> None:
    """Four of A, four of B and three set aside are 11: too many for the 8 of Small, not for the 12 of Big."""
    job = made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "4"},
                {"label": "B", "x": "3 ft", "y": "5 ft", "microphone": "4"}],
               [SMALL, BIG], box=[{"label": "FB-1", "x": "0", "y": "5 ft", "points": "A", "pinned": "yes"}],
               opening=[{"box": "FB-1", "what": "microphone", "label": f"S{i}", "state": "spare"} for i in range(3)])
    _, plan, after = planned(job)
    assert served(after) == {"FB-1": ["A", "B"]}
    assert [after.get(BoxModel, b.model).label for b in after.boxes()] == ["Big"]
    assert "box-too-small" not in codes(after)
    # the plan's price holds the three as well: 300 + 300 + 11 x (10 + 2 x 8); the rack has no place, so no run counts
    assert plan.costs.boxes + plan.costs.openings == pytest.approx(
        sum(box_cost(after, b, COSTS, "").result.amount for b in after.boxes()))
    assert plan.costs.boxes + plan.costs.openings == pytest.approx(600 + 11 * 26)


def test_a_model_that_was_chosen_for_a_box_that_stays_is_kept_and_another_is_named() -> None:
    point = [{"label": "A", "x": "0", "y": "5 ft", "microphone": "4"}]
    stays = {"label": "FB-1", "x": "0", "y": "5 ft", "points": "A", "model": "Big", "pinned": "yes"}
    _, _, after = planned(made(point, [SMALL, BIG], box=[stays]))
    assert [after.get(BoxModel, b.model).label for b in after.boxes()] == ["Big"]
    job = made(point, [SMALL, BIG], box=[{**stays, "pinned": "no"}])
    asked = question(job, COSTS)
    only = Problem(asked.demands, tuple(c for c in asked.candidates if c.id.startswith("box")), asked.models, asked.policy,
                   asked.events, asked.together)
    assert any("Floor box FB-1 has the model Big; the plan takes Small." in s
               for s in asks(job, solve_whole(only, 5)))


def test_a_box_that_stays_gets_a_larger_model_when_its_own_is_outgrown() -> None:
    """Nine openings: more than the 8 of Small, so that its model is no reason to leave the box as it is."""
    job = made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "9"}], [SMALL, BIG], box=[
        {"label": "FB-1", "x": "0", "y": "5 ft", "points": "A", "model": "Small", "pinned": "yes"}])
    _, plan, after = planned(job)
    assert [after.get(BoxModel, b.model).label for b in after.boxes()] == ["Big"]
    assert any("which is too small by now; the plan takes Big" in s for s in asks(job, plan))


def test_a_box_that_is_full_already_stays_and_another_serves() -> None:
    """Nine openings set aside are more than Small holds: nothing more goes in, and the plan is still a plan."""
    job = made([{"label": "A", "x": "2 ft", "y": "5 ft", "microphone": "2"}],
               box=[{"label": "FB-1", "x": "0", "y": "5 ft", "pinned": "yes", "model": "Small"}],
               opening=[{"box": "FB-1", "what": "microphone", "label": f"S{i}", "state": "spare"} for i in range(9)])
    _, plan, after = planned(job)
    assert not plan.unserved
    assert served(after) == {"FB-1": [], "FB-2": ["A"]}
    assert any("holds more than a model that may stand there takes" in note for note in plan.notes)


def test_a_box_kept_for_a_point_without_a_place_gets_a_model_that_takes_it() -> None:
    """Twelve openings that nobody can plan for: the cheaper model of eight is no answer for the box that has them."""
    job = made([{"label": "A", "x": "90 ft", "y": "5 ft", "microphone": "2"}, {"label": "Q", "microphone": "12"}],
               [SMALL, BIG], box=[{"label": "FB-1", "x": "0", "y": "5 ft", "points": "Q", "pinned": "yes"}])
    _, plan, after = planned(job)
    assert [after.get(BoxModel, b.model).label for b in after.boxes() if b.label == "FB-1"] == ["Big"]
    assert not any(u.demand == "Q" for u in plan.unserved)


def test_the_bound_that_is_kept_is_of_what_its_words_say() -> None:
    """What is not served is no money: no bound can be above the cost and the cable of the plan that was found."""
    job = made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "62"}])
    _, plan, after = planned(job)
    assert plan.unserved
    (kept,) = after.all(PlanAdopted)
    assert kept.bound <= kept.cost + kept.floor_cable


# Why there is no place

def test_a_model_without_a_size_and_joists_without_a_place_are_named() -> None:
    point = [{"label": "A", "x": "0", "y": "5 ft", "microphone": "2"}]
    job = made(point, [{"label": "NoSize", "bays": "2", "cost": "200"}])
    assert any("The model NoSize has no cutout size" in s for s in cannot_use(job))
    asked, plan, _ = planned(job)
    assert "No floor box or panel can be planned yet." in answer(job, asked, plan)
    job = made(point, settings={"floor_type": "wood on joists"}, joists=[{"label": "J", "run": "up and down stage"}])
    assert any("Where the joists J are is not known" in s for s in cannot_use(job))


def test_a_model_that_is_too_wide_for_a_bay_goes_in_turned() -> None:
    """Bays of 16 in less 1.5 in are 14.5 in clear: 16 in do not go in, the 8 in of the other side do."""
    job = made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "2"}], [{**SMALL, "across": "16 in"}],
               {"floor_type": "wood on joists"},
               joists=[{"label": "J", "run": "up and down stage", "offset": "0", "spacing": "16 in", "width": "1.5 in"}])
    _, plan, after = planned(job)
    assert not plan.unserved
    assert [b.turned for b in after.boxes()] == [True]
    assert not codes(after) & {"box-on-joist", "box-near-joist"}


def test_points_deep_in_a_zone_are_served_from_its_edge() -> None:
    """A revolve of 9 ft across round the point: the first place clear of it is 4 1/2 ft and half a cover off."""
    job = made([{"label": "A", "x": "0", "y": "10 ft", "microphone": "2"}], settings={"reach": "6 ft"}, keepclear=[
        {"label": "Revolve", "x0": "-4.5 ft", "x1": "4.5 ft", "y0": "5.5 ft", "y1": "14.5 ft"}])
    _, plan, after = planned(job)
    assert not plan.unserved
    assert not codes(after) & {"box-in-zone", "out-of-reach"}


def test_every_point_has_a_place_of_its_own_however_many_there_are() -> None:
    """75 points 14 ft apart with a reach of 6 ft: 75 boxes."""
    job = made([{"label": f"P{i}", "x": f"{14 * (i % 10)} ft", "y": f"{14 * (i // 10)} ft", "microphone": "2"}
                for i in range(75)], settings={"reach": "6 ft"})
    asked = question(job, COSTS)
    assert len(asked.candidates) == 75
    assert MOST_CANDIDATES < 75
    plan = solve_whole(asked, 10)
    assert not plan.unserved
    assert len(plan.boxes) == 75


# Money and cable are told apart

def test_installed_cost_and_cable_are_told_apart_and_stored_with_the_bound_on_both() -> None:
    """By hand: two boxes of 320 and 16 openings at 26 are 1,056; one box, 736, lays 16 cables of 5 ft in 20 events, a
    weight of 487.68 at one a metre."""
    job = made([{"label": "L", "x": "0", "y": "10 ft", "microphone": "8"},
                {"label": "R", "x": "10 ft", "y": "10 ft", "microphone": "8"}],
               [{**SMALL, "label": "Big", "bays": "4", "cost": "20"}], {"reach": "6 ft"},
               event=[{"label": f"E{i}"} for i in range(20)])
    asked, plan, after = planned(job)
    assert plan.costs.boxes + plan.costs.openings == pytest.approx(1056)
    said = answer(job, asked, plan)
    assert "1,056 points of comparison (no hours and rate are entered yet) installed" in said
    assert "No other plan on these positions has less of installed cost and cable on the floor together" in said
    assert "costs less" not in said
    (kept,) = after.all(PlanAdopted)
    assert kept.cost is not None
    assert kept.floor_cable is not None
    assert kept.bound is not None
    assert kept.bound <= kept.cost + kept.floor_cable
    assert float(kept.cost + kept.floor_cable) == pytest.approx(plan.costs.total, abs=0.01)


def test_weights_are_not_called_money_while_hours_are_missing() -> None:
    """A rate alone gives no cost: the coefficients are still points of comparison."""
    job = made([{"label": "A", "x": "0", "y": "5 ft", "microphone": "2"}])
    job = job.with_records([job.pricing().model_copy(update={"rate": 44})])
    asked, plan, _ = planned(job)
    assert "points of comparison" in answer(job, asked, plan)
    assert f"{job.settings.currency} installed" not in answer(job, asked, plan)
