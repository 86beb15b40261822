"""The box planner against a constraint solver fed from the data, against full enumeration, and on wrong input."""

import random
from dataclasses import replace
from itertools import product
from math import ceil, dist

import pytest
from ortools.sat.python import cp_model

from stagefloor.steps.boxes.planner import solve
from stagefloor.steps.boxes.planner_arrays import arrays_of
from stagefloor.steps.boxes.planner_bound import Region, Relaxation
from stagefloor.steps.boxes.planner_check import check_plan
from stagefloor.steps.boxes.planner_problem import (
    Candidate,
    Demand,
    Model,
    Policy,
    Problem,
    read_problem,
    with_spare,
)

MODELS = (Model("small", 2, 1, 2, 1, 90), Model("middle", 3, 1, 2, 2, 140), Model("large", 5, 2, 3, 2, 260))
SCALE = 10_000


def random_problem(seed: int, points: int = 6, positions: int = 6) -> Problem:
    """A small stage with everything in it: spare, mains, events together, blocked ways, pins, limits."""
    rng = random.Random(seed)
    events = ("play", "talk", "band")[:rng.choice((1, 2, 3))]
    kinds = ("microphone", "mains", "data")[:rng.choice((1, 2, 3))]
    demands = tuple(
        Demand(f"d{i}", rng.randint(0, 9), rng.randint(0, 6),
               {k: rng.randint(1, 3) for k in rng.sample(kinds, rng.randint(1, len(kinds)))},
               tuple(e for e in events if rng.random() < 0.6)) for i in range(points))
    candidates = tuple(
        Candidate(f"c{j}", rng.randint(0, 9), rng.randint(0, 6),
                  models=None if rng.random() < 0.7 else tuple(rng.sample(("small", "middle", "large"), 2)),
                  fixed_cost={m.id: rng.randint(20, 120) for m in MODELS},
                  opening_cost={k: rng.randint(5, 30) for k in kinds},
                  pinned=rng.random() < 0.08, forbidden=rng.random() < 0.08, existing=rng.random() < 0.1)
        for j in range(positions))
    pairs = [(d.id, c.id) for d in demands for c in candidates]
    policy = Policy(
        reach={k: rng.choice((4.0, 5.0, 7.0)) for k in kinds}, spare={"microphone": rng.choice((0, 0.2, 0.34, 0.5))},
        max_boxes=rng.choice((None, None, 2, 3)), loose_cable_weight=rng.choice((0, 1, 2.5)),
        blocked=frozenset(rng.sample(pairs, 2)),
        blocked_in_event=frozenset((d, c, rng.choice(events)) for d, c in rng.sample(pairs, 3)), unserved_cost=900.0)
    together = (frozenset(events[:2]),) if rng.random() < 0.5 else ()
    return Problem(demands, candidates, MODELS, policy, events, together)


def sets_of_events(problem: Problem) -> list[set[str]]:
    """The rule in words: every event alone or in the sets given; a set inside another one adds nothing."""
    sets = [set(s) for s in problem.together] + [{e} for e in problem.events]
    return [s for i, s in enumerate(sets) if not any(s < t or (s == t and i > k) for k, t in enumerate(sets))]


def usable(problem: Problem, d: Demand, c: Candidate, kind: str, group: set[str]) -> bool:
    near = dist((d.x, d.y), (c.x, c.y)) <= problem.policy.reach[kind] + 1e-9
    barred = (d.id, c.id) in problem.policy.blocked or any(
        (d.id, c.id, e) in problem.policy.blocked_in_event for e in group)
    return near and not barred and not c.forbidden


def present(d: Demand, group: set[str]) -> bool:
    return not d.events or bool(set(d.events) & group)


def one_fits(c: Candidate, n: Model, kind: str, policy: Policy) -> bool:
    """Whether one connection with its spare fits this model beside what it holds."""
    more = 1 + ceil(policy.spare.get(kind, 0) - 1e-9)
    mains = c.held.get("mains", 0) + more * (kind == "mains")
    signal = sum(c.held.values()) - c.held.get("mains", 0) + more * (kind != "mains")
    bays = ceil(mains / n.outlets)
    return bays <= n.mains_bays and bays + ceil(signal / n.openings) <= n.bays


def oracle(problem: Problem) -> float:
    """Least cost by CP-SAT. Units that nobody can reach are not priced, as in the plan."""
    m, policy = cp_model.CpModel(), problem.policy
    groups = sets_of_events(problem)
    kinds = sorted({k for d in problem.demands for k in d.needs})
    terms: list[tuple[float, cp_model.IntVar]] = []
    y = {(c.id, n.id): m.new_bool_var("") for c in problem.candidates if not c.forbidden for n in problem.models
         if c.models is None or n.id in c.models}
    limit = policy.max_boxes
    pinned = [c for c in problem.candidates if c.pinned and not c.forbidden]
    if limit is not None:
        m.add(sum(y.values()) <= max(limit, len(pinned)))
    load: dict[tuple[str, str, int], list[cp_model.IntVar]] = {}
    for d in problem.demands:
        for kind, need in d.needs.items():
            for g, group in enumerate(groups):
                if not present(d, group):
                    continue
                ways = [c for c in problem.candidates if usable(problem, d, c, kind, group)
                        and (c.openings.get(kind, 0) if c.openings is not None else
                             any((c.id, n.id) in y and one_fits(c, n, kind, policy) for n in problem.models))]
                if not ways:
                    continue
                flows = [m.new_int_var(0, need, "") for _ in ways]
                short = m.new_int_var(0, need, "")
                m.add(sum(flows) + short == need)
                terms.append((policy.unserved_cost or 0, short))
                for c, x in zip(ways, flows, strict=True):
                    terms.append((policy.loose_cable_weight * dist((d.x, d.y), (c.x, c.y)), x))
                    load.setdefault((c.id, kind, g), []).append(x)
    for c in problem.candidates:
        if c.forbidden:
            continue
        mine = [(n, y[c.id, n.id]) for n in problem.models if (c.id, n.id) in y]
        m.add(sum(v for _, v in mine) == 1) if c.pinned else m.add(sum(v for _, v in mine) <= 1)
        for n, v in mine:
            terms.append((0.0 if c.existing else n.cost + c.fixed_cost[n.id], v))
        built = {}
        for kind in kinds:
            table = [u + (ceil(policy.spare.get(kind, 0) * u - 1e-9) if c.openings is None else 0) for u in range(41)]
            use, built[kind] = m.new_int_var(0, 40, ""), m.new_int_var(0, 80, "")
            m.add_element(use, table, built[kind])
            for g in range(len(groups)):
                m.add(sum(load.get((c.id, kind, g), [])) <= use)
            terms.append((c.opening_cost[kind] if c.openings is None else 0, built[kind]))
            if c.openings is not None:
                m.add(built[kind] <= c.openings.get(kind, 0))
        mains_bays = m.new_int_var(0, 9, "")
        signal = sum(built[k] for k in kinds if k != "mains") + sum(n for k, n in c.held.items() if k != "mains")
        for n, v in mine if c.openings is None else ():
            m.add(mains_bays <= n.mains_bays).only_enforce_if(v)
            m.add(built.get("mains", 0) + c.held.get("mains", 0) <= n.outlets * mains_bays).only_enforce_if(v)
            m.add(signal <= n.openings * (n.bays - mains_bays)).only_enforce_if(v)
        m.add(sum(built.values()) <= 200 * sum(v for _, v in mine))
    m.minimize(sum(round(cost * SCALE) * v for cost, v in terms))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers, solver.parameters.max_time_in_seconds = 1, 30
    assert solver.solve(m) == cp_model.OPTIMAL
    return solver.objective_value / SCALE


@pytest.mark.parametrize("seed", range(32))
def test_least_cost_equals_a_constraint_solver_fed_from_the_data(seed: int) -> None:
    """Source: OR-tools CP-SAT, a general-purpose solver, on a model written here from the rules."""
    problem = random_problem(seed)
    plan = solve(problem, 20)
    assert plan.proven
    assert not plan.stopped_early
    assert plan.costs.total == pytest.approx(oracle(problem), abs=0.02)
    assert check_plan(problem, plan) == []


@pytest.mark.parametrize("seed", range(200, 208))
def test_a_box_that_is_built_offers_its_openings_and_no_more(seed: int) -> None:
    """Source: as above. What is there costs nothing more, needs no further spare and is not asked to fit a model."""
    problem, rng = random_problem(seed), random.Random(seed)
    kinds = sorted({k for d in problem.demands for k in d.needs})
    problem = replace(problem, candidates=tuple(
        replace(c, models=("large",), pinned=True, existing=True, forbidden=False,
                openings={k: rng.randint(0, 3) for k in kinds if rng.random() < 0.8})
        if rng.random() < 0.5 else c for c in problem.candidates))
    plan = solve(problem, 20)
    assert plan.proven
    assert plan.costs.total == pytest.approx(oracle(problem), abs=0.02)
    assert check_plan(problem, plan) == []
    for b in plan.boxes:
        held = next(c.openings for c in problem.candidates if c.id == b.candidate)
        assert held is None or all(n <= held.get(k, 0) for k, n in b.openings.items())


@pytest.mark.parametrize("seed", [300, *range(302, 306)])
def test_what_a_box_holds_besides_takes_its_room(seed: int) -> None:
    """Source: as above."""
    problem, rng = random_problem(seed), random.Random(seed)
    problem = replace(problem, candidates=tuple(
        replace(c, held={"data": rng.randint(0, 3), "mains": rng.randint(0, 1)}) if rng.random() < 0.6 else c
        for c in problem.candidates))
    plan = solve(problem, 20)
    assert plan.proven
    assert plan.costs.total == pytest.approx(oracle(problem), abs=0.02)
    assert check_plan(problem, plan) == []


def enumerated(problem: Problem) -> float:
    """Least cost over every way to plug every unit in (or leave it), each box in its cheapest model."""
    groups, policy = sets_of_events(problem), problem.policy
    units = [(d, kind, g) for d in problem.demands for kind, n in d.needs.items() for g, group in enumerate(groups)
             if present(d, group) for _ in range(n)]
    ways = [[c for c in problem.candidates if usable(problem, d, c, kind, groups[g])] for d, kind, g in units]
    kept = [(u, w) for u, w in zip(units, ways, strict=True) if w]
    best = float("inf")
    for choice in product(*[[*w, None] for _, w in kept]):
        cost, use = 0.0, {}
        for ((d, kind, g), _), c in zip(kept, choice, strict=True):
            if c is None:
                cost += policy.unserved_cost or 0
                continue
            cost += policy.loose_cable_weight * dist((d.x, d.y), (c.x, c.y))
            use.setdefault(c.id, {}).setdefault(kind, [0] * len(groups))[g] += 1
        for c in problem.candidates:
            if c.id not in use and not c.pinned:
                continue
            opens = {k: max(n) + ceil(policy.spare.get(k, 0) * max(n) - 1e-9) for k, n in use.get(c.id, {}).items()}
            mains, signal = opens.get("mains", 0), sum(n for k, n in opens.items() if k != "mains")
            prices = [0.0 if c.existing else n.cost + c.fixed_cost[n.id] for n in problem.models
                      if (c.models is None or n.id in c.models) and ceil(mains / n.outlets) <= n.mains_bays
                      and ceil(mains / n.outlets) + ceil(signal / n.openings) <= n.bays]
            cost += min(prices, default=float("inf")) + sum(n * c.opening_cost[k] for k, n in opens.items())
        if cost < best and (policy.max_boxes is None or len(use) <= policy.max_boxes):
            best = cost
    return best


@pytest.mark.parametrize("seed", range(40, 44))
def test_with_every_position_marked_as_must_be_used_the_contents_are_still_chosen_best(seed: int) -> None:
    """Source: as above."""
    problem = random_problem(seed)
    problem = replace(problem, candidates=tuple(replace(c, pinned=True) for c in problem.candidates))
    assert solve(problem, 20).costs.total == pytest.approx(oracle(problem), abs=0.02)


@pytest.mark.parametrize("seed", range(8))
def test_least_cost_equals_full_enumeration(seed: int) -> None:
    """Source: full enumeration, written here from the rules."""
    problem = random_problem(seed + 100, points=3, positions=3)
    demands = tuple(replace(d, needs=dict.fromkeys(d.needs, 1)) for d in problem.demands)
    problem = replace(problem, demands=demands, candidates=tuple(replace(c, pinned=False) for c in problem.candidates))
    assert solve(problem, 20).costs.total == pytest.approx(enumerated(problem), abs=0.01)


@pytest.mark.parametrize("seed", range(12))
def test_the_relaxation_never_passes_the_least_cost(seed: int) -> None:
    """Source: CP-SAT as above. Any prices give a bound; regions that together hold every plan give one as well."""
    problem = random_problem(seed)
    arrays = arrays_of(read_problem(problem)[0])
    best = oracle(problem)
    whole = Relaxation(arrays)
    free, pinned = whole.regions
    few = Relaxation(arrays, (Region(free.cols, 0, 1), pinned))
    many = Relaxation(arrays, (Region(free.cols, 2, max(2, free.most)), pinned))
    for _ in range(80):
        for part in (whole, few, many):
            part.step(best)
    assert whole.bound <= best + 0.02
    if free.most >= 2 and len(free.cols) >= 2:
        assert min(few.bound, many.bound) <= best + 0.02


# Laws

def stage(**policy: object) -> Problem:
    """Two groups of players, ten metres apart, two positions beside each."""
    demands = (Demand("left", 0, 0, {"microphone": 4, "mains": 1}, ("band",)),
               Demand("right", 10, 0, {"microphone": 3}, ("band", "talk")))
    candidates = tuple(Candidate(f"at {x}", x, 1, fixed_cost={m.id: 50 for m in MODELS},
                                 opening_cost={"microphone": 10, "mains": 20}) for x in (0, 1, 9, 10))
    return Problem(demands, candidates, MODELS, Policy(reach={"microphone": 4, "mains": 4}, **policy),  # type: ignore[arg-type]
                   ("band", "talk"))


def test_order_of_the_lists_does_not_change_the_cost() -> None:
    problem = random_problem(3)
    turned = replace(problem, demands=problem.demands[::-1], candidates=problem.candidates[::-1],
                     models=problem.models[::-1])
    assert solve(turned, 20).costs.total == pytest.approx(solve(problem, 20).costs.total)


def test_more_reach_never_costs_more() -> None:
    costs = []
    for metres in (2.0, 6.0, 12.0):
        policy = replace(stage().policy, reach={"microphone": metres, "mains": metres})
        costs.append(solve(replace(stage(), policy=policy), 20).costs.total)
    assert costs == sorted(costs, reverse=True)


def test_spare_is_rounded_up_for_each_box_and_kind() -> None:
    """By hand: 4 x 1.2 = 4.8 -> 5 and 3 x 1.2 = 3.6 -> 4; mains without spare."""
    plan = solve(replace(stage(spare={"microphone": 0.2}), models=MODELS[2:]), 20)
    assert sorted(b.openings["microphone"] for b in plan.boxes) == [4, 5]
    assert with_spare(5, 0.2) == 6


def test_a_point_in_two_events_that_run_together_counts_once() -> None:
    """By hand: 3 for 'right', in band and talk, at the box beside it."""
    problem = replace(stage(), together=(frozenset({"band", "talk"}),))
    boxes = {b.candidate: b for b in solve(problem, 20).boxes}
    assert [b.need["microphone"] for name, b in boxes.items() if name in ("at 9", "at 10")] == [3]


def test_an_opening_is_shared_by_events_that_never_run_together() -> None:
    """By hand: the larger of 4 and 3, not the sum."""
    demands = (Demand("a", 0, 0, {"microphone": 4}, ("band",)), Demand("b", 0, 0, {"microphone": 3}, ("talk",)))
    problem = replace(stage(), demands=demands)
    assert [b.need for b in solve(problem, 20).boxes] == [{"microphone": 4}]
    both = replace(problem, together=(frozenset({"band", "talk"}),))
    assert sum(b.need["microphone"] for b in solve(both, 20).boxes) == 7


def test_mains_goes_only_behind_the_barrier() -> None:
    """By hand: one mains bay with one outlet in 'small' can't take two; the next model can."""
    problem = replace(stage(), demands=(Demand("a", 0, 0, {"mains": 2}),), models=MODELS[:2])
    plan = solve(problem, 20)
    assert [(b.model, b.mains_modules, b.signal_modules) for b in plan.boxes] == [("middle", 1, 0)]


def test_progress_and_stop_are_heard_and_the_best_plan_is_kept() -> None:
    told: list[tuple[float, float, float]] = []
    problem = random_problem(5, points=40, positions=40)
    problem = replace(problem, policy=replace(problem.policy, max_boxes=None))
    plan = solve(problem, 30, lambda *now: told.append(now), lambda: len(told) > 2)
    assert plan.stopped_early
    assert plan.boxes
    assert plan.seconds < 20
    assert all(bound <= cost + 1e-6 for _, cost, bound in told)
    assert check_plan(problem, plan) == []


def test_an_earlier_plan_is_a_start_that_is_never_made_worse() -> None:
    problem = random_problem(7, points=12, positions=12)
    first = solve(problem, 10)
    again = solve(problem, 0.01, start=first)
    assert again.costs.total <= first.costs.total + 1e-6


# Wrong input

def test_a_point_beyond_reach_is_named_and_the_rest_is_served() -> None:
    far = Demand("balcony", 40, 30, {"microphone": 1})
    plan = solve(replace(stage(), demands=(*stage().demands, far)), 20)
    assert {u.demand for u in plan.unserved} == {"balcony"}
    assert "beyond the reach of 4.00 m" in plan.unserved[0].reason
    assert len(plan.boxes) == 2


def test_no_models_and_no_positions_give_sentences() -> None:
    plan = solve(replace(stage(), models=()), 5)
    assert not plan.boxes
    assert "no usable floor box model" in plan.notes[0]
    assert "no model to choose from" in plan.unserved[0].reason
    plan = solve(replace(stage(), candidates=()), 5)
    assert "no position to choose from" in plan.unserved[0].reason


def test_contradictory_marks_give_sentences_and_a_plan_for_the_rest() -> None:
    both = replace(stage().candidates[0], pinned=True, forbidden=True)
    plan = solve(replace(stage(), candidates=(both, *stage().candidates[1:])), 20)
    assert any("both as must be used and as forbidden" in n for n in plan.notes)
    assert not plan.unserved
    pinned = tuple(replace(c, pinned=True) for c in stage().candidates)
    plan = solve(replace(stage(max_boxes=2), candidates=pinned), 20)
    assert len(plan.boxes) == 4
    assert any("at most 2 floor boxes are allowed" in n for n in plan.notes)


def test_too_few_boxes_allowed_is_said() -> None:
    plan = solve(stage(max_boxes=1), 20)
    assert len(plan.boxes) == 1
    assert plan.unserved
    assert all("No more than 1 floor box may be used" in u.reason for u in plan.unserved)


def test_nonsense_numbers_are_left_out_with_a_sentence() -> None:
    nowhere = Demand("lost", float("nan"), 0, {"microphone": 1})
    minus = Demand("minus", 0, 0, {"microphone": -2})
    twice = replace(stage().candidates[0], x=5)
    problem = replace(stage(spare={"mains": -1}), demands=(*stage().demands, nowhere, minus),
                      candidates=(*stage().candidates, twice), models=(*MODELS, Model("none", 0)))
    plan = solve(problem, 20)
    text = " ".join(plan.notes)
    for words in ("'lost' has no usable position", "asks for -2 microphone", "'at 0' is listed more than once",
                  "'none' is left out", "spare of -1 for mains"):
        assert words in text
    assert len(plan.boxes) == 2


def test_nothing_to_serve_is_an_empty_plan() -> None:
    plan = solve(replace(stage(), demands=()), 5)
    assert plan.proven
    assert plan.costs.total == 0


# The check of a plan

def test_the_check_sees_each_broken_rule() -> None:
    problem = stage()
    plan = solve(problem, 20)
    box, service = plan.boxes[0], plan.services[0]
    broken = {
        "openings for": replace(plan, boxes=(replace(box, openings={}), *plan.boxes[1:])),
        "do not fit the bays": replace(plan, boxes=(replace(box, signal_modules=0), *plan.boxes[1:])),
        "point, floor box or count is unknown": replace(
            plan, services=(replace(service, candidate="x"), *plan.services[1:])),
        "what is not served": replace(plan, services=plan.services[1:]),
        "served more often": replace(plan, services=(replace(service, count=9), *plan.services[1:])),
        "bound lies above": replace(plan, bound=plan.costs.total + 1),
        "do not add up to the plan's": replace(plan, costs=replace(plan.costs, boxes=1.0)),
        "Two floor boxes": replace(plan, boxes=(*plan.boxes, box)),
    }
    for words, bad in broken.items():
        assert any(words in line for line in check_plan(problem, bad)), words
    for words, policy in {"beyond the reach": replace(problem.policy, reach={"microphone": 0.1, "mains": 0.1}),
                          "the way is blocked": replace(problem.policy, blocked=frozenset(
                              {(service.demand, service.candidate)})),
                          "more than the 1 allowed": replace(problem.policy, max_boxes=1)}.items():
        assert any(words in line for line in check_plan(replace(problem, policy=policy), plan)), words
