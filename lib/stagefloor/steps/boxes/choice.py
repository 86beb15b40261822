"""From a job to the planner's question, and from its answer back to boxes: candidates, costs, adoption.

Costs come in as plain coefficients; this module knows no hour and no price row.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal

from stagefloor.core.problems import Problem as Sentence
from stagefloor.core.units import typed_length
from stagefloor.job.boxes import Box, BoxModel, PlanAdopted
from stagefloor.job.cables import CLASS_OF
from stagefloor.job.inventory import KINDS, Event, Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import KeepClear
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes import fit
from stagefloor.steps.boxes.choice_places import Place, built_openings, in_zone, left_out, level_bars, places, stays
from stagefloor.steps.boxes.planner_problem import Candidate, Demand, Model, Plan, Policy, Problem
from stagefloor.steps.boxes.schedule import SET_STATES, contents_of, is_fixed, layout_in, points_of, reconciled
from stagefloor.steps.inventory import in_use, peaks, together
from stagefloor.steps.nearest import right_angled
from stagefloor.steps.paths import TYPICAL_DETOUR, Routes, rack_place, routes, way


@dataclass(frozen=True)
class UnitCosts:
    """What things cost, in the job's currency: a box set in a floor or wall; an opening, a cable end, a metre by kind."""

    floor_box: float
    wall_panel: float
    opening: Mapping[str, float]
    end: Mapping[str, float]
    metre: Mapping[str, float]
    loose_metre: float


def opening_costs(job: Job, box: Box, costs: UnitCosts, known: Mapping[str, Routes]) -> dict[str, float]:
    """Cost by kind of one opening of a box with its two terminations and its home run; mains without its line."""
    found = {kind: costs.opening.get(kind, 0.0) for kind in KINDS}
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
    candidates, blocked, barred = [], set(), set()
    for place in places(job):
        here = _candidate(job, place, costs, known)
        candidates.append(here)
        blocked |= {(p.id, place.id) for p in points
                    if level_bars(p, place.z, place.surface) or fit.loose_crosses(job, place.trial, p)}
        shut = frozenset.intersection(*here.closed.values()) if here.closed else frozenset()
        barred |= {(p.id, place.id, event) for p in points for event in shut if in_use(p, event)}
    reach = job.settings.reach
    spare = (job.settings.spare_percent or 0.0) / 100
    return Problem(
        tuple(Demand(p.id, p.x.si, p.y.si, p.counts(), p.events, p.z.si if p.z else 0.0)
              for p in points if p.x and p.y),
        tuple(candidates),
        tuple(Model(m.id, m.bays, m.mains_bays, m.openings, m.mains_outlets, float(m.cost or 0)) for m in
              job.all(BoxModel)),
        Policy(dict.fromkeys(KINDS, reach.si) if reach else {}, dict.fromkeys(KINDS, spare), None, costs.loose_metre,
               frozenset(blocked), frozenset(barred)),
        tuple(e.id for e in job.all(Event)), tuple(frozenset(g) for g in together(job)))


def _candidate(job: Job, place: Place, costs: UnitCosts, known: Mapping[str, Routes]) -> Candidate:
    """A place as a position of the planner: its costs, what is in it, and what its models cover, bar and refuse."""
    box, floor = place.box, place.surface == "floor"
    opening = opening_costs(job, place.trial, costs, known)
    held: dict[str, int] = {}
    built = None
    if box is not None:
        besides = left_out(job, box)
        if box.state == "built":
            need = peaks(job, besides)
            built = {k: n - (need[k].count if k in need else 0) for k, n in built_openings(job, box).items()}
        else:
            held = {k: n for k, n in contents_of(job, box.model_copy(
                update={"points": tuple(p.id for p in besides)})).openings.items() if n}
    setting = (costs.floor_box if floor else costs.wall_panel) + sum(n * opening[k] for k, n in held.items())
    shapes = {m.id: shape.cover for m in place.models if floor and (shape := place.outline(m)) is not None}
    closed = {m: frozenset(e for z in job.all(KeepClear) if in_zone(z, cover) for e in z.events)
              for m, cover in shapes.items()}
    return Candidate(
        place.id, place.x, place.y, place.z, place.surface, tuple(m.id for m in place.models),
        {m.id: setting for m in place.models}, opening, pinned=box is not None and stays(job, box),
        existing=built is not None, openings=built, held=held,
        covers={m: (c.x0, c.y0, c.x1, c.y1) for m, c in shapes.items()}, closed=closed if any(closed.values()) else {},
        refuses=_under_the_lid(place.models) if floor else {}, turned=place.turned)


def _under_the_lid(models: Sequence[BoxModel]) -> dict[str, frozenset[str]]:
    """By model the kinds over whose connector its lid does not close, if another of the models closes over it."""
    short = {m.id: frozenset(k for k, c in connections().items()
                             if m.front is not None and c.depth_front > m.front.si + 1e-9) for m in models}
    everywhere = frozenset.intersection(*short.values()) if short else frozenset()
    return {m: kinds - everywhere for m, kinds in short.items() if kinds - everywhere}


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
            box = box.model_copy(update={"points": points})
            if b.model != box.model and box.state not in SET_STATES:
                box = box.model_copy(update={"model": _model_for(job, box, b.model),
                                             "turned": b.model in spots[b.candidate].turned})
            records.append(box)
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
                           x=_typed(job, spot.x), y=_typed(job, spot.y), z=_typed(job, spot.z),
                           turned=b.model in spot.turned))
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
                           cost=Decimal(f"{plan.costs.installed:.2f}"),
                           floor_cable=Decimal(f"{plan.costs.loose_cable:.2f}"),
                           bound=Decimal(f"{plan.least_served:.2f}"))
    return reconciled(job.with_records([*records, decision]))


def _model_for(job: Job, box: Box, model_id: str) -> str:
    """The plan's model, or none (the smallest that takes it) if what the box holds besides does not fit too."""
    return model_id if layout_in(job.get(BoxModel, model_id), contents_of(job, box)) is not None else ""


def _typed(job: Job, metres: float) -> str:
    return typed_length(metres, job.settings.units)
