"""An independent check of a plan, in plain Python, from the question alone: trusts no solver and no matrix."""

from collections import defaultdict

from stagefloor.steps.boxes.planner_problem import Plan, Problem, distance, read_problem, simultaneous, with_spare

CENT = 0.01
METRE_ROUNDING = 1e-9
CLOSE = 1e-6  # metres: covers that touch do not overlap


def check_plan(problem: Problem, plan: Plan, on_the_floor: bool = True) -> list[str]:
    """A sentence for each rule that the plan breaks; an empty list if it keeps them all.

    `on_the_floor`: also that covers do not meet, nothing stands on them and what plugs in is what the model takes there.
    """
    problem, _ = read_problem(problem)
    policy = problem.policy
    demands = {d.id: d for d in problem.demands}
    candidates = {c.id: c for c in problem.candidates}
    models = {m.id: m for m in problem.models}
    groups = simultaneous(problem)
    found: list[str] = []

    boxes = {b.candidate: b for b in plan.boxes}
    if len(boxes) < len(plan.boxes):
        found.append("Two floor boxes stand at one position.")
    if policy.max_boxes is not None and len(plan.boxes) > policy.max_boxes:
        found.append(f"{len(plan.boxes)} floor boxes are used, more than the {policy.max_boxes} allowed.")
    found += [f"The position '{c.id}' must be used but is not." for c in problem.candidates
              if c.pinned and c.id not in boxes]

    if on_the_floor:
        found += _on_the_floor(problem, plan)

    in_use: dict[tuple[str, str, tuple[str, ...]], int] = defaultdict(int)
    served: dict[tuple[str, str, tuple[str, ...]], int] = defaultdict(int)
    loose = 0.0
    for s in plan.services:
        where = f"{s.kind} of '{s.demand}' at '{s.candidate}' in {', '.join(s.events)}"
        if s.demand not in demands or s.candidate not in boxes or s.candidate not in candidates or s.count < 1:
            found.append(f"{where}: point, floor box or count is unknown.")
            continue
        demand, candidate = demands[s.demand], candidates[s.candidate]
        if s.events not in groups or (demand.events and not set(demand.events) & set(s.events)):
            found.append(f"{where}: the point is not in use then.")
        metres = distance(demand, candidate)
        if metres > policy.reach.get(s.kind, float("inf")) + METRE_ROUNDING:
            found.append(f"{where}: {metres:.2f} m is beyond the reach.")
        if (s.demand, s.candidate) in policy.blocked or any(
                (s.demand, s.candidate, event) in policy.blocked_in_event for event in s.events):
            found.append(f"{where}: the way is blocked.")
        in_use[s.candidate, s.kind, s.events] += s.count
        served[s.demand, s.kind, s.events] += s.count
        loose += s.count * metres * policy.loose_cable_weight

    for box in plan.boxes:
        if box.candidate not in candidates or box.model not in models:
            found.append(f"The floor box at '{box.candidate}' has an unknown position or model.")
            continue
        candidate, model = candidates[box.candidate], models[box.model]
        if candidate.models is not None and box.model not in candidate.models:
            found.append(f"The model '{box.model}' may not stand at '{box.candidate}'.")
        kinds = {k for (c, k, _) in in_use if c == box.candidate}
        for kind in kinds | set(box.openings):
            most = max((in_use[box.candidate, kind, g] for g in groups), default=0)
            spare = 0.0 if candidate.openings is not None else policy.spare.get(kind, 0.0)
            if box.openings.get(kind, 0) < with_spare(most, spare):
                found.append(f"The floor box at '{box.candidate}' has {box.openings.get(kind, 0)} {kind} openings for "
                             f"{most} in use at once and the spare.")
            if box.openings.get(kind, 0) > candidate.most(kind):
                found.append(f"The floor box at '{box.candidate}' has {box.openings[kind]} {kind} openings; it may have "
                             f"{candidate.most(kind)}.")
        every = [*box.openings.items(), *candidate.held.items()]
        signal = sum(n for kind, n in every if kind not in policy.mains_kinds)
        mains = sum(n for kind, n in every if kind in policy.mains_kinds)
        if candidate.openings is None and (
                box.signal_modules * model.openings < signal or box.mains_modules * model.outlets < mains
                or box.mains_modules > model.mains_bays or box.signal_modules + box.mains_modules > model.bays):
            found.append(f"The openings of the floor box at '{box.candidate}' do not fit the bays of '{box.model}'.")
        cost = 0.0 if candidate.existing else model.cost + candidate.fixed_cost.get(box.model, 0.0)
        openings = 0.0 if candidate.openings is not None else sum(
            n * candidate.opening_cost.get(kind, 0.0) for kind, n in box.openings.items())
        if abs(cost - box.box_cost) > CENT or abs(openings - box.opening_cost) > CENT:
            found.append(f"The cost of the floor box at '{box.candidate}' does not add up.")

    missing: dict[tuple[str, str, str], int] = defaultdict(int)
    for demand in problem.demands:
        for kind, need in demand.needs.items():
            for group in groups:
                if demand.events and not set(demand.events) & set(group):
                    continue
                short = need - served[demand.id, kind, group]
                if short < 0:
                    found.append(f"{kind} of '{demand.id}' is served more often than needed in {', '.join(group)}.")
                for event in group:
                    if short > 0 and (not demand.events or event in demand.events):
                        missing[demand.id, kind, event] = max(missing[demand.id, kind, event], short)
    if {k: n for k, n in missing.items() if n} != {(u.demand, u.kind, u.event): u.count for u in plan.unserved}:
        found.append("The list of what is not served does not match what is served.")
    if abs(loose - plan.costs.loose_cable) > CENT + 1e-9 * loose:
        found.append("The price of cable on the floor does not add up.")
    if (abs(sum(b.box_cost for b in plan.boxes) - plan.costs.boxes) > CENT
            or abs(sum(b.opening_cost for b in plan.boxes) - plan.costs.openings) > CENT):
        found.append("The costs of the floor boxes do not add up to the plan's.")
    if plan.bound > plan.costs.total + CENT:
        found.append("The bound lies above the plan's own cost.")
    return found


def _on_the_floor(problem: Problem, plan: Plan) -> list[str]:
    """Covers that meet, what plugs in under something that stands there, and kinds that a model does not take."""
    found, candidates = [], {c.id: c for c in problem.candidates}
    stand = [(candidates[b.candidate], b.model) for b in plan.boxes if b.candidate in candidates]
    for number, (one, model) in enumerate(stand):
        for other, its in stand[number + 1:]:
            a, b = one.covers.get(model), other.covers.get(its)
            if a and b and not (one.pinned and other.pinned) and a[0] < b[2] - CLOSE and b[0] < a[2] - CLOSE \
                    and a[1] < b[3] - CLOSE and b[1] < a[3] - CLOSE:
                found.append(f"The floor boxes at '{one.id}' and '{other.id}' overlap.")
    models = {c.id: m for c, m in stand}
    for s in plan.services:
        c, m = candidates.get(s.candidate), models.get(s.candidate, "")
        if c is not None and (s.kind in c.refuses.get(m, ()) or c.closed.get(m, frozenset()) & set(s.events)):
            found.append(f"{s.kind} of '{s.demand}' at '{s.candidate}' in {', '.join(s.events)}: nothing can be plugged in.")
    return found
