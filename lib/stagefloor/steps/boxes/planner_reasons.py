"""Why connections stay without a box, as a sentence: the first thing in the way, from the question alone."""

from collections.abc import Sequence

from stagefloor.steps.boxes.planner_content import content
from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Problem, distance

METRE_ROUNDING = 1e-9


def models_at(problem: Problem, candidate: Candidate) -> list[Model]:
    """The models that may stand at a position."""
    return [m for m in problem.models if candidate.models is None or m.id in candidate.models]


def why_unserved(problem: Problem, demand: Demand, kind: str, group: Sequence[str], boxes: int,
                 whole: bool = False) -> str:
    """Why this kind at this point is not served, or not in full, while the events of `group` run.

    `boxes` is how many the plan has; `whole`: each point plugs into one box.
    """
    policy = problem.policy
    if not problem.models:
        return "There is no model to choose from; add one."
    if not problem.candidates:
        return ("There is no position to choose from: nothing was found where one of the models may stand; add a position, "
                "or a model that fits.")
    mains, one = kind in policy.mains_kinds, {kind: 1}
    if not any(content(Candidate("", 0, 0), m, one, policy) for m in problem.models):
        where = "bays behind the barrier" if mains else "openings"
        return f"No model has {where} enough for {kind} with its spare; add a model that has."
    reach = policy.reach.get(kind)
    metres = min(distance(demand, c) for c in problem.candidates)
    if reach is not None and metres > reach + METRE_ROUNDING:
        return (f"'{demand.id}' is {metres:.2f} m from the nearest position, beyond the reach of {reach:.2f} m for {kind}; "
                "add a position nearer or raise the reach.")
    near = [c for c in problem.candidates if reach is None or distance(demand, c) <= reach + METRE_ROUNDING]
    near = [c for c in near if (demand.id, c.id) not in policy.blocked]
    if not near:
        return (f"Each position within reach of '{demand.id}' is across a keep-clear path or on another level; add a "
                "position on its side.")
    near = [c for c in near if not any((demand.id, c.id, e) in policy.blocked_in_event for e in group)]
    if not near:
        return (f"Something stands on each position within reach of '{demand.id}'; add a position clear of it.")
    here = [(c, m) for c in near for m in models_at(problem, c) if not c.closed.get(m.id, frozenset()) & set(group)]
    able = [(c, m) for c, m in here if content(c, m, one, policy)]
    if not able:
        places = "bays behind the barrier" if mains else "openings"
        return (f"No position within reach of '{demand.id}' can hold {kind}: no model that may stand there has {places} "
                "for it; allow another model there, or add a position.")
    if whole:
        most = max((content(c, m, demand.needs, policy) for c, m in able), key=lambda found: sum(found.values()))
        if most.get(kind, 0) < demand.needs[kind]:
            among = ", mains among them," if set(demand.needs) & policy.mains_kinds else ""
            spare = " with their spare" if any(policy.spare.get(k) for k in demand.needs) else ""
            return (f"'{demand.id}' needs {sum(demand.needs.values())} openings{spare}{among} and the largest floor box "
                    f"that may stand within its reach takes {sum(most.values())}: split the point, or add a larger model.")
    limit = policy.max_boxes
    if limit is not None and boxes >= limit:
        return (f"No more than {limit} floor box{'' if limit == 1 else 'es'} may be used and those within reach of "
                f"'{demand.id}' have no room for more {kind}; allow another or a larger model.")
    if any(c.openings is not None for c in near):
        return (f"The positions within reach of '{demand.id}' have no room left for more {kind}, as a box that is "
                "built has only the openings that are in it; allow a larger model or add a position.")
    return (f"The positions within reach of '{demand.id}' have no room left for more {kind}, or it would cost more than "
            "it is worth to the plan; allow a larger model or add a position.")
