"""Explaining a plan: sentences, what-ifs with their bounds, adoption of a better plan."""

from dataclasses import replace

import pytest

from stagefloor.steps.boxes.planner import solve
from stagefloor.steps.boxes.planner_check import check_plan
from stagefloor.steps.boxes.planner_explain import _what_if, drivers, explain, one_more_event
from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Plan, Policy, Problem

MODELS = (Model("small", 2, 1, 4, 2, 100), Model("large", 4, 1, 4, 2, 180))


def question(**policy: object) -> Problem:
    """Costs by hand: box 100 + 50, each opening 10, no cable price; two positions reach 'left', one 'right'."""
    demands = (Demand("left", 0, 0, {"microphone": 4}, ("band", "talk")),
               Demand("more", 0, 0, {"microphone": 2}, ("band",)), Demand("right", 20, 0, {"microphone": 3}, ("talk",)))
    candidates = tuple(
        Candidate(name, x, 0, fixed_cost={"small": fixed, "large": fixed}, opening_cost={"microphone": 10})
        for name, x, fixed in (("a", 0, 50), ("b", 1, 53), ("c", 20, 50)))
    return Problem(demands, candidates, MODELS, Policy(reach={"microphone": 3}, **policy),  # type: ignore[arg-type]
                   ("band", "talk"))


def planned(problem: Problem) -> Plan:
    plan = solve(problem, 10)
    assert plan.proven
    return plan


def test_drivers_name_the_event_and_what_would_do_without_it() -> None:
    text = " ".join(drivers(planned(question())))
    assert "'a' has 6 microphone openings: 6 in use at once in band." in text
    assert "Without that, 4 in use would be the most." in text
    assert "'c' has 3 microphone openings: 3 in use at once in talk." in text


def test_what_ifs_have_the_changes_worked_out_by_hand() -> None:
    """By hand: without 'a', 'b' costs 3 more. Without 'c', 3 connections are lost and 100 + 50 + 30 saved. Without
    'band', 2 openings at 10. Without 'talk', all of 'c', 180."""
    found = explain(question(), planned(question()), 20)
    changes = {(w.question, w.subject): (w.most, w.unserved) for w in found.what_ifs}
    assert changes == {("without box", "a"): (pytest.approx(3), 0), ("without box", "c"): (pytest.approx(-180), 3),
                       ("without event", "band"): (pytest.approx(-20), 0),
                       ("without event", "talk"): (pytest.approx(-180), 0)}
    assert all(w.least <= w.most + 1e-6 for w in found.what_ifs)
    assert not found.adopted
    assert [sorted(b.candidate for b in p.boxes) for p in found.alternatives] == [["b", "c"]]
    assert "floor boxes at b instead of a, 3.00 more installed." in found.sentences[-1]


def test_a_what_if_that_beats_the_plan_is_adopted_and_said() -> None:
    """The poor plan is the cheapest with 'a' forbidden: by hand 3 dearer than with it."""
    problem = question()
    poor = planned(replace(problem, candidates=tuple(replace(c, forbidden=c.id == "a") for c in problem.candidates)))
    poor = replace(poor, bound=0.0, gap=1.0, proven=False)
    found = explain(problem, poor, 20)
    assert found.adopted
    assert "not the best" in found.sentences[0]
    assert found.plan.costs.total == pytest.approx(poor.costs.total - 3)
    assert found.plan.bound == 0.0
    assert not found.plan.proven
    assert check_plan(problem, found.plan) == []


def test_the_change_that_serves_more_is_named() -> None:
    limited = question(max_boxes=1)
    found = explain(limited, planned(limited), 20)
    more = [w for w in found.what_ifs if w.question == "serve more"]
    assert [(w.unserved, w.most) for w in more] == [(-3, pytest.approx(180))]
    assert more[0].sentence.startswith(
        "With up to 2 floor boxes allowed, 3 connections more are served: 180.00 more installed.")
    far = replace(question(), demands=(*question().demands, Demand("far", 24, 0, {"microphone": 1}, ("band",))))
    found = explain(far, planned(far), 20)
    assert any("With a reach of 4.00 m for microphone, 1 connection more is served" in s for s in found.sentences)


@pytest.mark.parametrize(("price", "first"), [(7.0, "a multicore fixed on the surface to far, 7.00 more"),
                                              (25.0, "a reach of 4.00 m for microphone, 10.00 more")])
def test_the_cheapest_change_for_an_event_counts_a_surface_multicore_in(price: float, first: str) -> None:
    """By hand: 'far' stands 4 m from 'c', whose one opening more costs 10: in talk its three others are in use."""
    far = replace(question(), demands=(*question().demands, Demand("far", 24, 0, {"microphone": 1}, ("talk",))))
    found = explain(far, planned(far), 20, surface={("far", "microphone"): price})
    said = next(s for s in found.sentences if s.startswith("talk misses 1 connection."))
    assert f"The cheapest change found that serves it whole: {first}" in said
    assert " Else: " in said


def test_an_event_that_nothing_helps_says_so() -> None:
    far = replace(question(), demands=(*question().demands, Demand("far", 24, 0, {"microphone": 1}, ("band",))))
    assert one_more_event(planned(far), [], {}) == [
        "band misses 1 connection, and no single change that was tried serves it whole."]


def test_no_time_asks_nothing_and_says_so() -> None:
    found = explain(question(), planned(question()), 0)
    assert not found.what_ifs
    assert "4 of 4 what-ifs were not asked" in found.sentences[-1]


def test_a_change_tells_money_and_cable_apart_and_a_saving_is_at_least_so() -> None:
    """By hand: cable at 1 a metre and event. 'a' serves 'left' and 'more' from where they stand; 'b', 1 m off, is 3 dearer
    and lays 4 cables in two events and 2 in one, 1 m each: 10."""
    problem = question(loose_cable_weight=1.0)
    plan = planned(problem)
    found = explain(problem, plan, 20)
    without = next(w for w in found.what_ifs if w.subject == "a")
    assert "3.00 more installed and its cable on the floor weighs 10.00 more" in without.sentence
    assert (without.installed, without.most) == (pytest.approx(3), pytest.approx(13))
    open_end = replace(plan, costs=replace(plan.costs, boxes=plan.costs.boxes - 50), proven=False, gap=0.25)
    assert "(at least 50.00 less together; the answer may be up to 25.0 % too dear)" in _what_if(
        "without event", "talk", plan, open_end).sentence
    dearer = replace(open_end, costs=replace(plan.costs, boxes=plan.costs.boxes + 50))
    assert "(at most 50.00 more together;" in _what_if("without event", "talk", plan, dearer).sentence
