"""What each box costs installed, as the planner counts it, and the cable that lies on the floor in each event."""

from collections.abc import Mapping
from dataclasses import dataclass

from stagefloor.core.workings import ARITHMETIC, JOB, Basis, Value, Working
from stagefloor.job.boxes import Box
from stagefloor.job.cables import CLASS_OF
from stagefloor.job.inventory import Event
from stagefloor.job.model import Job
from stagefloor.steps.boxes.choice import UnitCosts, opening_costs
from stagefloor.steps.boxes.fit import loose_cables
from stagefloor.steps.boxes.schedule import layout
from stagefloor.steps.inventory import in_use
from stagefloor.steps.paths import Routes, routes


@dataclass(frozen=True)
class FloorCable:
    """Loose cables in one event, one a connection, straight on the plan: how many, and their length in the job's unit."""

    event: str
    cables: int
    working: Working

    @property
    def length(self) -> float:
        return float(self.working.result.amount)


def all_routes(job: Job) -> dict[str, Routes]:
    """The ways of each signal class to the rack, to be asked for many boxes."""
    return {c: routes(job, c) for c in set(CLASS_OF.values())}


def box_cost(job: Job, box: Box, costs: UnitCosts, currency: str, known: Mapping[str, Routes] | None = None) -> Working:
    """Box, setting, and each opening with its two terminations and its home run, in the job's currency.

    Without the electrician, and without labour rates in weights for comparing plans, no money.
    """
    plan = layout(job, box)
    ready = box.state == "built"
    price = 0.0 if plan is None or ready else float(plan.model.cost or 0)
    set_cost = 0.0 if ready else costs.floor_box if box.surface == "floor" else costs.wall_panel
    each = opening_costs(job, box, costs, known or all_routes(job))
    openings: dict[str, int] = {}
    for o in job.openings(box.id):
        openings[o.what] = openings.get(o.what, 0) + 1
    values = [Value("B", "box as bought", price, currency), Value("S", "set in place", set_cost, currency)]
    for i, (kind, n) in enumerate(sorted(openings.items()), 1):
        values += [Value(f"n{i}", f"{kind} openings", n), Value(f"c{i}", f"one {kind} opening with its line", each[kind],
                                                               currency)]
    total = price + set_cost + sum(n * each[kind] for kind, n in openings.items())
    return Working(f"Installed cost of {box.title}, as the planner counts", "C = B + S + n1 c1 + n2 c2 + ...", tuple(values),
                   Value("C", "without the electrician", total, currency),
                   (Basis("unit costs from the shop's hours and prices, home run by the shortest way", JOB),))


def floor_cables(job: Job) -> list[FloorCable]:
    """The loose cable on the floor in each event, from the boxes as they stand; a point that two boxes serve has one."""
    feet = job.settings.units == "ft-in"
    unit, per = ("ft", 0.3048) if feet else ("m", 1.0)
    found = []
    placed = loose_cables(job)
    for event in job.all(Event):
        laid = [(p, box, d) for p, box, d in placed if in_use(p, event.id)]
        values: list[Value] = []
        for i, (p, box, d) in enumerate(laid, 1):
            values += [Value(f"n{i}", f"connections at {p.name}", sum(p.counts().values())),
                       Value(f"d{i}", f"from {box.label}", d / per, unit)]
        total = sum(sum(p.counts().values()) * d for p, _, d in laid)
        found.append(FloorCable(event.name, sum(sum(p.counts().values()) for p, _, _ in laid), Working(
            f"Cable on the floor, {event.name}", "L = n1 d1 + n2 d2 + ...", tuple(values),
            Value("L", "one cable a connection", total / per, unit), (Basis("straight distance", ARITHMETIC),),
            notes=("straight lines: allow more for the way round things and up to the plug",))))
    return found
