"""What one box can hold: of one point's needs, with what modules, and whether it can stand beside another."""

from collections.abc import Mapping
from math import ceil

from stagefloor.steps.boxes.planner_problem import Candidate, Model, PlannedBox, Policy

TOUCH = 1e-6  # metres: covers that touch do not meet


def content(candidate: Candidate, model: Model, needs: Mapping[str, int], policy: Policy) -> dict[str, int]:
    """The most connections by kind that this model takes here of some needs if it serves nothing else.

    Of several ways to serve as many, one with the cheaper openings.
    """
    needs = {k: n for k, n in needs.items() if k not in candidate.refuses.get(model.id, ())}
    if candidate.openings is not None:
        return {k: least for k, n in needs.items() if (least := min(n, candidate.openings.get(k, 0)))}
    cheap_first = sorted(needs, key=lambda k: (candidate.opening_price(k), k))
    best: dict[str, int] = {}
    for bays in range(model.mains_bays + 1):
        room = {mains: places - candidate.holds(policy.mains_kinds, mains) for mains, places in (
            (False, (model.bays - bays) * model.openings), (True, bays * model.outlets))}
        if min(room.values()) < 0:
            continue
        found = {}
        for kind in cheap_first:
            mains, spare, n = kind in policy.mains_kinds, policy.spare.get(kind, 0.0), needs[kind]
            while n and candidate.to_build(n, spare) > room[mains]:
                n -= 1
            if n:
                found[kind] = n
                room[mains] -= candidate.to_build(n, spare)
        if sum(found.values()) > sum(best.values()):
            best = found
    return best


def planned_box(candidate: Candidate, model: Model, need: Mapping[str, int], policy: Policy) -> PlannedBox:
    """The box with openings and modules for the most connections in use at once by kind."""
    openings = {kind: candidate.to_build(n, policy.spare.get(kind, 0.0)) for kind, n in need.items()}

    def modules(mains: bool, size: int) -> int:
        count = candidate.holds(policy.mains_kinds, mains) + sum(
            n for kind, n in openings.items() if (kind in policy.mains_kinds) == mains)
        return ceil(count / size) if count and size else 0

    return PlannedBox(candidate.id, model.id, dict(need), openings, modules(False, model.openings),
                      modules(True, model.outlets), candidate.box_price(model),
                      sum(n * candidate.opening_price(kind) for kind, n in openings.items()))


def meet(one: Candidate, model: str, other: Candidate, its: str) -> bool:
    """Whether two boxes would overlap on the floor; two that must stay where they are do not bar each other."""
    a, b = one.covers.get(model), other.covers.get(its)
    return a is not None and b is not None and not (one.pinned and other.pinned) and (
        min(a[2], b[2]) - max(a[0], b[0]) > TOUCH and min(a[3], b[3]) - max(a[1], b[1]) > TOUCH)
