"""From a job to the planner's question and back: what may stand where, what is fixed, what an adopted plan changes."""

import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.boxes import Box, BoxModel, Opening, PlanAdopted
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import KINDS, Point
from stagefloor.job.labour import HourUnit, PriceRow, Pricing
from stagefloor.job.model import Job
from stagefloor.results.unit_costs import unit_costs
from stagefloor.steps.boxes.choice import UnitCosts, adopted, digest, question
from stagefloor.steps.boxes.choice_places import MOST_CANDIDATES, places
from stagefloor.steps.boxes.planner import solve
from stagefloor.steps.boxes.schedule import contents, open_items, points_of, reconciled

FOOT = 0.3048
DEMO = Path(__file__).resolve().parents[3] / "demo_projects" / "quillhaven_playhouse" / "job.json"
COSTS = UnitCosts(100.0, 50.0, dict.fromkeys(KINDS, 10.0), dict.fromkeys(KINDS, 5.0), dict.fromkeys(KINDS, 2.0), 0.1)


def stage() -> Job:
    """A stage of wood with joists at 0, 2, 4 ... ft, one model of 12 x 8 in, two points 4 ft apart."""
    job = set_fields(Job(), "settings", "job", {"floor_type": "wood on joists", "rack_x": "20", "rack_y": "0",
                                                "stage_right": "-20", "stage_left": "20", "stage_down": "-10",
                                                "stage_up": "10"})
    job, _ = add(job, "joists", [{"offset": "0 ft", "spacing": "2 ft", "width": "1.5 in"}])
    job, _ = add(job, "boxmodel", [{"label": "M", "across": "12 in", "along": "8 in", "flange": "0.5 in", "bays": "2",
                                    "cost": "300"}])
    return add(job, "point", [{"label": "P", "x": "-2", "y": "0", "microphone": "2"},
                              {"label": "Q", "x": "2", "y": "0", "data": "1"}])[0]


def grid(job: Job) -> set[tuple[float, float]]:
    return {(round(c.x / FOOT, 3), round(c.y / FOOT, 3)) for c in question(job, COSTS).candidates
            if c.id.startswith("grid")}


def test_positions_are_tried_in_the_middle_of_bays_and_on_the_stage() -> None:
    spots = grid(stage())
    assert (1.0, 0.0) in spots  # between P and Q, moved to the middle of the bay from 0 to 2 ft
    assert all(x % 2 == 1 for x, _ in spots)  # bays: ... -1, 1, 3 ...
    assert all(-20 < x < 20 and -10 < y < 10 for x, y in spots)
    assert len(places(store.read(DEMO).job)) <= MOST_CANDIDATES


def test_a_spot_marked_as_forbidden_or_in_a_zone_is_not_tried() -> None:
    assert (1.0, 0.0) in grid(stage())
    marked, _ = add(stage(), "position", [{"label": "no", "x": "1.2", "y": "0.1", "use": "forbidden"}])
    assert grid(stage()) - grid(marked) == {(1.0, 0.0)}  # cover 13 x 9 in: the mark lies in it
    zoned, _ = add(stage(), "keepclear", [{"label": "pit", "x0": "0.9", "y0": "-1", "x1": "1.1", "y1": "1"}])
    assert (1.0, 0.0) not in grid(zoned)
    seldom, _ = add(stage(), "event", [{"label": "Play"}])
    seldom, _ = add(seldom, "keepclear", [{"label": "set", "x0": "0.9", "y0": "-1", "x1": "1.1", "y1": "1",
                                           "events": "Play"}])
    asked = question(seldom, COSTS)
    assert (1.0, 0.0) in grid(seldom)  # it may stand there, but not serve in that event
    middle = next(c.id for c in asked.candidates if abs(c.x / FOOT - 1) < 1e-6 and abs(c.y) < 1e-6)
    play = seldom.all(Point)[0].id
    assert any(key[:2] == (play, middle) for key in asked.policy.blocked_in_event)


def test_a_spot_marked_as_possible_is_tried_where_it_is() -> None:
    job, _ = add(stage(), "position", [{"label": "yes", "x": "5", "y": "5"}])
    assert any(c.id.startswith("mark") and (round(c.x / FOOT, 6), round(c.y / FOOT, 6)) == (5, 5)
               for c in question(job, COSTS).candidates)


def test_pinned_and_built_boxes_must_be_used() -> None:
    job, _ = add(stage(), "box", [{"label": "FB-1", "x": "0", "y": "0", "pinned": "yes"},
                                  {"label": "FB-2", "x": "3", "y": "0", "state": "built"},
                                  {"label": "FB-3", "x": "7", "y": "0"}])
    fixed = {c.id: (c.pinned, c.existing) for c in question(job, COSTS).candidates if c.id.startswith("box")}
    one, two, three = (f"box:{b.id}" for b in job.all(Box))
    assert fixed == {one: (True, False), two: (True, True), three: (False, False)}


@pytest.mark.parametrize("state", ["roughed in", "built"])
def test_a_box_that_is_set_offers_its_own_model_and_is_never_retired_or_changed(state: str) -> None:
    job, _ = add(stage(), "boxmodel", [{"label": "Large", "across": "12 in", "along": "20 in", "bays": "6", "cost": "100"}])
    job, _ = add(job, "box", [{"label": "FB-1", "x": "3", "y": "0", "points": "P", "model": "M"}])
    job = reconciled(set_fields(reconciled(job), "box", job.all(Box)[0].id, {"state": state}))
    job = set_fields(job, "point", job.all(Point)[0].id, {"microphone": "9"})
    asked = question(job, COSTS)
    here = next(c for c in asked.candidates if c.id.startswith("box"))
    own = job.all(Box)[0].model
    assert (here.models, here.pinned, here.existing) == ((own,), True, state == "built")
    assert here.openings == ({"microphone": 2} if state == "built" else None)
    plan = solve(asked, seconds=10)
    if state == "built":
        assert sum(n for b in plan.boxes if b.candidate == here.id for n in b.openings.values()) <= 2
    after = adopted(job, asked, plan, "2026-03-04").get(Box, job.all(Box)[0].id)
    assert (after.state, after.model, after.x) == (state, own, job.all(Box)[0].x)


def test_a_model_that_fits_only_turned_is_turned() -> None:
    job, _ = add(stage(), "box", [{"label": "FB-1", "x": "1", "y": "0"}])
    job = set_fields(job, "boxmodel", job.all(BoxModel)[0].id, {"across": "30 in"})  # a bay is 22.5 in clear, turned 8 in
    box, model = f"box:{job.all(Box)[0].id}", job.all(BoxModel)[0].id
    for as_drawn in ("no", "yes"):
        turned = set_fields(job, "box", job.all(Box)[0].id, {"turned": as_drawn})
        asked = question(turned, COSTS)
        assert {c.turned for c in asked.candidates} == {frozenset({model})}  # new places too
        assert any(c.id == box for c in asked.candidates)
        assert all(b.turned for b in adopted(turned, asked, solve(asked, seconds=10), "2026-03-04").boxes())
    # a zone that only the turned cover meets: 8 x 30 in reaches 15 in up, 30 x 8 in only 4 in
    zoned, _ = add(turned, "keepclear", [{"label": "set", "x0": "0.9", "y0": "1", "x1": "1.1", "y1": "2"}])
    assert not any(c.id == box for c in question(zoned, COSTS).candidates)


def test_a_point_without_a_place_stays_with_its_box_and_keeps_it() -> None:
    job, _ = add(stage(), "point", [{"label": "R", "intercom": "2"}, {"label": "S", "microphone": "6"}])
    job, _ = add(job, "box", [{"label": "FB-1", "x": "15", "y": "5", "points": "R"},
                              {"label": "FB-2", "x": "1", "y": "0", "points": "P, S", "pinned": "yes"}])
    job = reconciled(job)
    asked = question(job, COSTS)
    after = adopted(job, asked, solve(asked, seconds=10), "2026-03-04")
    first, second = (after.get(Box, b.id) for b in job.all(Box))
    assert first.state == "planned"  # the plan was not asked about R
    assert [p.label for p in points_of(after, first)] == ["R"]
    assert "S" in [p.label for p in points_of(after, second)]
    assert sorted(p.label for b in after.boxes() for p in points_of(after, b)) == ["P", "Q", "R", "S"]
    assert not [i for i in open_items(after) if i.code == "point-unserved"]


def test_the_cost_of_an_opening_is_its_home_run_and_two_ends() -> None:
    job, _ = add(stage(), "box", [{"label": "FB-1", "x": "1", "y": "0"}])
    here = next(c for c in question(job, COSTS).candidates if c.id.startswith("box"))
    # typical path: 19 ft * 1.15 + 3 + 10 ft slack = 34.85 ft; 2 a metre, 5 an end, 10 an opening
    assert here.opening_cost["microphone"] == pytest.approx(10 + 2 * 5 + 34.85 * FOOT * 2)
    assert here.opening_cost["mains"] == 10  # the electrician's run is not ours to price
    assert set(here.fixed_cost.values()) == {100.0}


def test_without_models_or_points_there_is_a_sentence() -> None:
    job = stage()
    with pytest.raises(Problem, match="no box model in the list"):
        question(replace(job, tables={**job.tables, "boxmodel": {}}), COSTS)
    with pytest.raises(Problem, match="No connection point has a place"):
        question(replace(job, tables={**job.tables, "point": {}}), COSTS)


def test_the_digest_follows_the_inputs() -> None:
    job = stage()
    assert digest(question(job, COSTS)) == digest(question(stage(), COSTS))
    other = set_fields(job, "point", job.all(Point)[0].id, {"microphone": "3"})
    assert digest(question(job, COSTS)) != digest(question(other, COSTS))


def test_an_adopted_plan_places_boxes_with_openings_and_is_recorded() -> None:
    job, _ = add(stage(), "box", [{"label": "FB-1", "x": "15", "y": "5", "remark": "far off"}])
    asked = question(job, COSTS)
    found = solve(asked, seconds=20)
    job = adopted(job, asked, found, "2026-03-04")
    live = job.boxes()
    assert {p.label for b in live for p in points_of(job, b)} == {"P", "Q"}
    assert sum(len(points_of(job, b)) for b in live) == 2  # each point at one box
    for b in live:
        held = [o for o in job.all(Opening) if o.box == b.id and o.state == "in use"]
        assert len(held) == sum(contents(job, points_of(job, b)).openings.values())
    assert len({b.label for b in job.all(Box)}) == len(job.all(Box))
    assert [b.state for b in job.all(Box) if b.label == "FB-1"] == ["retired"]  # nothing is in its reach
    (decision,) = job.all(PlanAdopted)
    assert decision.digest == digest(asked)
    assert decision.cost is not None
    assert decision.bound is not None
    assert decision.bound <= decision.cost + Decimal("0.01") + Decimal(str(COSTS.loose_metre)) * 100


def test_unit_costs_by_hand() -> None:
    job = replace(Job(), tables={
        "pricing": {"p": Pricing(id="p", rate="40")},
        "hourunit": {
            "a": HourUnit(id="a", quantity="floor boxes", likely=3),
            "b": HourUnit(id="b", quantity="wall panels", likely=1.5),
            "c": HourUnit(id="c", quantity="openings:", likely=0.05),
            "d": HourUnit(id="d", quantity="cable ends: data", likely=0.1),
            "e": HourUnit(id="e", quantity="added cables m", per=30, likely=0.12)},
        "pricerow": {"f": PriceRow(id="f", quantity="cable m: data", per=30, cost="24"),
                     "g": PriceRow(id="g", quantity="openings: microphone", cost="6.5")}})
    found = unit_costs(job)
    assert (found.floor_box, found.wall_panel) == (120, 60)  # 3 h and 1.5 h at 40
    assert found.opening["microphone"] == pytest.approx(0.05 * 40 + 6.5)
    assert found.opening["video"] == pytest.approx(0.05 * 40)  # no price for a video opening: only its hours
    assert found.end["data"] == pytest.approx(4)
    assert found.metre["data"] == pytest.approx(24 / 30 + 0.12 / 30 * 40)
    assert found.metre["video"] == pytest.approx(0.12 / 30 * 40)


def test_without_money_the_weights_are_even() -> None:
    found = unit_costs(Job())
    assert set(found.end.values()) == {8.0}
    assert found.wall_panel < found.floor_box


def test_the_digest_of_a_plan_is_the_same_in_every_process() -> None:
    """Sets come in another order in each process; the digest must not."""
    look = ("from stagefloor.job import store; from stagefloor.results.unit_costs import unit_costs;"
            "from stagefloor.steps.boxes import choice; import sys;"
            "j = store.read(sys.argv[1]).job; print(choice.digest(choice.question(j, unit_costs(j))))")
    top = Path(__file__).resolve().parents[3]
    said = {subprocess.run([sys.executable, "-c", look, str(top / "demo_projects" / "quillhaven_playhouse")],
                           env={"PYTHONPATH": str(top / "lib"), "PYTHONHASHSEED": seed}, capture_output=True, text=True,
                           check=True).stdout for seed in ("1", "2", "3")}
    assert len(said) == 1
    assert len(said.pop().strip()) == 16
