"""From a job to the planner's question, and from its answer back to boxes: candidates, costs, what is not usable.

Costs come in as plain coefficients; this module knows no hour and no price row.
"""

import hashlib
import json
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal

from stagefloor.core.problems import Problem as Sentence
from stagefloor.core.units import FOOT, typed_length
from stagefloor.job.boxes import Box, BoxModel, Opening, PlanAdopted, Position
from stagefloor.job.cables import CLASS_OF
from stagefloor.job.inventory import KINDS, Event, Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import Joists, KeepClear
from stagefloor.steps.boxes import fit
from stagefloor.steps.boxes.fit_outline import outline_of
from stagefloor.steps.boxes.geometry import Rect, rect_gap, segment_rect_gap
from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Plan, Policy, Problem
from stagefloor.steps.boxes.schedule import SET_STATES, contents, is_fixed, layout_in, points_of, reconciled
from stagefloor.steps.inventory import in_use, together
from stagefloor.steps.nearest import right_angled
from stagefloor.steps.paths import TYPICAL_DETOUR, Routes, rack_place, routes, way

MOST_CANDIDATES = 70   # so that a plan is proven while the user waits
OFFSETS = ((0.0, 0.0), (2 * FOOT, 0.0), (-2 * FOOT, 0.0), (0.0, 2 * FOOT), (0.0, -2 * FOOT))


@dataclass(frozen=True)
class UnitCosts:
    """What things cost, in the job's currency: a box set in a floor or wall, an opening, a cable end, a metre by kind."""

    floor_box: float
    wall_panel: float
    opening: float
    end: Mapping[str, float]
    metre: Mapping[str, float]
    loose_metre: float


def _fits(job: Job, model: BoxModel, x: float, y: float, turned: bool = False) -> bool:
    """Whether nothing permanent stands against this model here: structure, edges, zones, a spot marked as forbidden."""
    box = Box(id="trial", label="trial", model=model.id, x=f"{x:.6f} m", y=f"{y:.6f} m", turned=turned)
    shape = outline_of(model, x, y, turned)
    if shape is None or any(p.use == "forbidden" and p.x and p.y and shape.cover.contains(p.x.si, p.y.si)
                            for p in job.all(Position)):
        return False
    return not fit.structure(job, box, shape) and not any(
        _in_zone(z, shape.cover) for z in job.all(KeepClear) if not z.events)


def _in_zone(zone: KeepClear, cover: Rect) -> bool:
    if not (zone.x0 and zone.y0 and zone.x1 and zone.y1):
        return False
    ends = (zone.x0.si, zone.y0.si, zone.x1.si, zone.y1.si)
    if zone.width is not None:
        return bool(segment_rect_gap(ends, cover) < zone.width.si / 2)
    return rect_gap(cover, Rect.between(*ends)) < 0


def _snapped(job: Job, x: float, y: float) -> tuple[float, float]:
    """The nearest place in the middle of a joist bay."""
    for j in job.all(Joists):
        if j.offset is None or j.spacing is None or j.spacing.si <= 0:
            continue
        at = x if j.run == "up and down stage" else y
        middle = j.offset.si + (math.floor((at - j.offset.si) / j.spacing.si) + 0.5) * j.spacing.si
        return (middle, y) if j.run == "up and down stage" else (x, middle)
    return x, y


def positions(job: Job) -> list[tuple[str, float, float, float, str, Box | None]]:
    """(id, x, y, z, surface, box that stands there) of every position to try. Metres."""
    found: list[tuple[str, float, float, float, str, Box | None]] = []
    for b in job.boxes():
        if b.x and b.y:
            found.append((f"box:{b.id}", b.x.si, b.y.si, b.z.si if b.z else 0.0, b.surface, b))
    for p in job.all(Position):
        if p.x and p.y and p.use == "possible":
            found.append((f"mark:{p.id}", p.x.si, p.y.si, p.z.si if p.z else 0.0, p.surface, None))
    points = [p for p in job.all(Point) if p.x and p.y]
    spots = [(p.x.si + dx, p.y.si + dy) for dx, dy in OFFSETS for p in points if p.x and p.y]
    pairs = [((a.x.si + b.x.si) / 2, (a.y.si + b.y.si) / 2) for i, a in enumerate(points) for b in points[i + 1:]
             if a.x and a.y and b.x and b.y and job.settings.reach
             and math.hypot(a.x.si - b.x.si, a.y.si - b.y.si) <= 2 * job.settings.reach.si]
    seen: set[tuple[int, int]] = set()
    for x, y in [*spots[:len(points)], *pairs, *spots[len(points):]]:
        x, y = _snapped(job, x, y)
        key = (round(x / 0.15), round(y / 0.15))
        if key in seen or len(found) >= MOST_CANDIDATES or not on_stage(job, x, y):
            continue
        seen.add(key)
        found.append((f"grid:{x:.3f},{y:.3f}", x, y, 0.0, "floor", None))
    return found


def on_stage(job: Job, x: float, y: float) -> bool:
    """Whether a place (metres) lies inside every edge of the stage that is entered."""
    s = job.settings
    return all(limit is None or (x - limit.si) * sign > 0 for limit, sign in
               ((s.stage_right, 1), (s.stage_left, -1))) and all(
        limit is None or (y - limit.si) * sign > 0 for limit, sign in ((s.stage_down, 1), (s.stage_up, -1)))


def opening_costs(job: Job, box: Box, costs: UnitCosts, known: Mapping[str, Routes]) -> dict[str, float]:
    """Cost by kind of one opening of a box with its two terminations and its home run; mains without its line."""
    found = dict.fromkeys(KINDS, costs.opening)
    for kind in KINDS:
        if kind != "mains":
            home = way(job, box, CLASS_OF[kind], known[CLASS_OF[kind]])
            found[kind] += home.metres * costs.metre.get(kind, 0.0) + 2 * costs.end.get(kind, 0.0)
    return found


def surface_costs(job: Job, costs: UnitCosts) -> dict[tuple[str, str], float]:
    """(point, kind) -> one connection through a multicore fixed on the surface, from the rack to the point.

    The right-angled way with the usual detour, both ends; no mains. Empty while the place of the rack is not known.
    """
    rack = rack_place(job)
    if rack is None:
        return {}
    return {(p.id, kind): right_angled(rack, (p.x.si, p.y.si, p.z.si if p.z else 0.0)) * TYPICAL_DETOUR
            * costs.metre.get(kind, 0.0) + 2 * costs.end.get(kind, 0.0)
            for p in job.all(Point) if p.x and p.y for kind in KINDS if kind != "mains"}


def question(job: Job, costs: UnitCosts) -> Problem:
    """The planner's question for this job."""
    if not job.all(BoxModel):
        raise Sentence("There is no box model in the list: enter what you can buy, then plan.")
    points = [p for p in job.all(Point) if p.counts() and p.x and p.y]
    if not points:
        raise Sentence("No connection point has a place and something to connect: enter one first.")
    known = {c: routes(job, c) for c in set(CLASS_OF.values())}
    candidates, blocked, blocked_event = [], set(), set()
    in_it: dict[str, Counter[str]] = {b.id: Counter() for b in job.boxes()}
    for o in job.all(Opening):
        if o.state == "in use" and o.box in in_it:
            in_it[o.box][o.what] += 1
    for spot, x, y, z, surface, box in positions(job):
        fixed_here, turned = box is not None and is_fixed(box), box is not None and box.turned
        built = box is not None and box.state == "built"
        own = box.model if box is not None and box.state in SET_STATES else ""
        models = [m for m in job.all(BoxModel) if (m.id == own if own else m.surface == surface
                  and (fixed_here or surface != "floor" or _fits(job, m, x, y, turned)))]
        if not models and not fixed_here:
            continue
        here = box or Box(id=spot, label="new", x=f"{x:.6f} m", y=f"{y:.6f} m", z=f"{z:.6f} m", surface=surface)
        set_cost = costs.floor_box if surface == "floor" else costs.wall_panel
        opening = opening_costs(job, here, costs, known)
        candidates.append(Candidate(spot, x, y, z, surface, tuple(m.id for m in models),
                                    {m.id: set_cost for m in models}, opening, pinned=fixed_here,
                                    existing=built, openings=dict(in_it[box.id]) if box is not None and built else None))
        for p in points:
            if fit.loose_crosses(job, here, p):
                blocked.add((p.id, spot))
            if (p.z.si if p.z else 0.0) < -0.5 and surface == "floor":
                blocked.add((p.id, spot))  # from the stage floor no cable is laid down into a pit
            if (p.z.si if p.z else 0.0) >= -0.5 and z < -0.5:
                blocked.add((p.id, spot))
            for zone in job.all(KeepClear):
                for event in zone.events:
                    if surface == "floor" and in_use(p, event) and models and _in_zone(
                            zone, _cover(models[0], x, y, turned)):
                        blocked_event.add((p.id, spot, event))
    reach = job.settings.reach
    spare = (job.settings.spare_percent or 0.0) / 100
    return Problem(
        tuple(Demand(p.id, p.x.si, p.y.si, p.counts(), p.events, p.z.si if p.z else 0.0)
              for p in points if p.x and p.y),
        tuple(candidates),
        tuple(Model(m.id, m.bays, m.mains_bays, m.openings, m.mains_outlets, float(m.cost or 0)) for m in
              job.all(BoxModel)),
        Policy(dict.fromkeys(KINDS, reach.si) if reach else {}, dict.fromkeys(KINDS, spare), None, costs.loose_metre,
               frozenset(blocked), frozenset(blocked_event)),
        tuple(e.id for e in job.all(Event)), tuple(frozenset(g) for g in together(job)))


def _cover(model: BoxModel, x: float, y: float, turned: bool) -> Rect:
    shape = outline_of(model, x, y, turned)
    return shape.cover if shape else Rect(x, y, x, y)


def digest(problem: Problem) -> str:
    """A short digest of everything the plan was computed from."""
    # sets have no order of their own, and another one in each process
    text = json.dumps(asdict(problem), sort_keys=True, default=sorted)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def adopted(job: Job, problem: Problem, plan: Plan, date: str) -> Job:
    """The job with the plan's boxes: the ones that stand there are kept, others placed, the rest retired.

    What the plan was not asked about, such as a point whose place is not entered, stays with its box.
    """
    share: dict[str, dict[str, int]] = {}
    for s in plan.services:
        share.setdefault(s.demand, {}).setdefault(s.candidate, 0)
        share[s.demand][s.candidate] += s.count
    serves: dict[str, list[str]] = {}
    for demand, counts in share.items():
        # a point belongs to the box that serves most of it
        serves.setdefault(max(counts, key=lambda c: (counts[c], c)), []).append(demand)
    order = [p.id for p in job.all(Point)]
    asked = {d.id for d in problem.demands}
    spots = {c.id: c for c in problem.candidates}
    keep: set[str] = set()
    used = {b.label for b in job.all(Box)}
    records = []
    for b in plan.boxes:
        points = tuple(sorted(serves.get(b.candidate, []), key=order.index))
        if b.candidate.startswith("box:"):
            box = job.get(Box, b.candidate.removeprefix("box:"))
            keep.add(box.id)
            points += tuple(i for i in box.points if i not in asked)
            records.append(box.model_copy(update={"points": points} | (
                {} if box.state in SET_STATES else {"model": _model_for(job, points, b.model)})))
            continue
        spot = spots[b.candidate]
        job, (new_id,) = job.new_ids(Box, 1)
        keep.add(new_id)
        number = 1
        stem = "FB-" if spot.surface == "floor" else "WB-"
        while f"{stem}{number}" in used:
            number += 1
        used.add(f"{stem}{number}")
        records.append(Box(id=new_id, label=f"{stem}{number}", surface=spot.surface, model=b.model, points=points,
                           x=_typed(job, spot.x), y=_typed(job, spot.y), z=_typed(job, spot.z)))
    for box in job.boxes():
        if box.id in keep:
            continue
        left = tuple(i for i in box.points if i not in asked)
        if is_fixed(box) or any(p.counts() for p in points_of(job, box) if p.id in left):
            records.append(box.model_copy(update={"points": left}))
        else:
            records.append(box.model_copy(update={"state": "retired", "points": ()}))
    job, (plan_id,) = job.new_ids(PlanAdopted, 1)
    decision = PlanAdopted(id=plan_id, label="Plan of " + date, how="by the planner", digest=digest(problem), date=date,
                           cost=Decimal(f"{plan.costs.boxes + plan.costs.openings:.2f}"),
                           bound=Decimal(f"{max(0.0, plan.bound):.2f}"))
    return reconciled(job.with_records([*records, decision]))


def _model_for(job: Job, points: Sequence[str], model_id: str) -> str:
    """The plan's model, or none (the smallest that takes it) if what the plan was not asked about does not fit too."""
    held = [p for i in points if (p := job.find(Point, i)) is not None]
    return model_id if layout_in(job.get(BoxModel, model_id), contents(job, held)) is not None else ""


def _typed(job: Job, metres: float) -> str:
    return typed_length(metres, job.settings.units)
