"""What the box planner is asked and what it answers: plain frozen records, SI metres, costs in one currency.

Knows no job, no solver and no drawing. `read_problem` sorts usable from unusable input and says what it left out.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import ceil, dist, inf, isfinite
from typing import TypeVar

ROUNDING = 1e-9  # keeps 0.2 x 5 from rounding up to 2
NO_EVENT = "any event"
Cover = tuple[float, float, float, float]


@dataclass(frozen=True)
class Demand:
    """A place where something plugs in: position in m, connections needed by kind, events (empty: every event)."""

    id: str
    x: float
    y: float
    needs: Mapping[str, int]
    events: tuple[str, ...] = ()
    z: float = 0.0


@dataclass(frozen=True)
class Candidate:
    """A position where a box may go, in m.

    `models` are the ids that may stand here (None: all). `fixed_cost` by model is cutting, frame and finish;
    `opening_cost` by kind is one opening's home run and its two terminations. A missing cost counts as nothing.
    `pinned`: must be used. `forbidden`: must not. `existing`: is there already, so box and fixed cost count as nothing.
    `openings` by kind are all that it may have, such as those of a box that is built: no spare is asked of them (None:
    what its model takes). `held` by kind are openings that it has besides, for something that is not asked about.

    By model: `covers` is the rectangle (x0, y0, x1, y1 in m) that it takes on the floor, which no other may meet;
    `closed` the events in which something stands on it, so that nothing plugs in; `refuses` the kinds that it does not
    take here. `turned` are the models that stand turned a quarter.
    """

    id: str
    x: float
    y: float
    z: float = 0.0
    surface: str = "floor"
    models: tuple[str, ...] | None = None
    fixed_cost: Mapping[str, float] = field(default_factory=dict)
    opening_cost: Mapping[str, float] = field(default_factory=dict)
    pinned: bool = False
    forbidden: bool = False
    existing: bool = False
    openings: Mapping[str, int] | None = None
    held: Mapping[str, int] = field(default_factory=dict)
    covers: Mapping[str, Cover] = field(default_factory=dict)
    closed: Mapping[str, frozenset[str]] = field(default_factory=dict)
    refuses: Mapping[str, frozenset[str]] = field(default_factory=dict)
    turned: frozenset[str] = frozenset()

    def most(self, kind: str) -> float:
        """The most openings of a kind that it may have."""
        return inf if self.openings is None else self.openings.get(kind, 0)

    def opening_price(self, kind: str) -> float:
        """Cost of one opening of a kind; what is there already costs nothing more."""
        return 0.0 if self.openings is not None else self.opening_cost.get(kind, 0.0)

    def box_price(self, model: "Model") -> float:
        """Cost of a model here, bought and set."""
        return 0.0 if self.existing else model.cost + self.fixed_cost.get(model.id, 0.0)

    def to_build(self, need: int, spare: float) -> int:
        """Openings of a kind to have here for `need` connections in use at once."""
        return with_spare(need, spare) if self.openings is None else need

    def holds(self, kinds: frozenset[str], among: bool) -> int:
        """How many of the openings that it has besides are of these kinds, or of all others."""
        return sum(n for kind, n in self.held.items() if (kind in kinds) == among)


@dataclass(frozen=True)
class Model:
    """A box that can be bought: one module a bay, mains modules only in the first `mains_bays`, behind the barrier.

    `openings` in a signal module (kinds may be mixed), `outlets` in a mains module, `cost` of the box with its modules.
    """

    id: str
    bays: int
    mains_bays: int = 0
    openings: int = 4
    outlets: int = 2
    cost: float = 0.0

    def top(self, mains: bool) -> int:
        """The most openings it can hold of mains, or of everything else."""
        return self.mains_bays * self.outlets if mains else self.bays * self.openings

    def takes(self, signal: int, mains: int) -> bool:
        """Whether it has modules and bays for these counts of signal openings and mains outlets."""
        if (signal and not self.openings) or (mains and not self.outlets):
            return False
        behind = ceil(mains / self.outlets) if mains else 0
        return behind <= self.mains_bays and behind + (ceil(signal / self.openings) if signal else 0) <= self.bays


@dataclass(frozen=True)
class Policy:
    """What the plan must keep.

    `reach` by kind in m, straight from point to box; a kind without a reach can go any distance. `spare`
    by kind is a fraction of the need, rounded up in each box. `loose_cable_weight` is the price put on each metre of
    cable on the floor, each time it is laid (once for each set of events that run together). `blocked` holds (demand,
    candidate) pairs, `blocked_in_event` (demand, candidate, event). `unserved_cost` is the price put on one
    connection that stays unserved in one set of events; None takes twice the dearest box with its dearest opening.
    """

    reach: Mapping[str, float] = field(default_factory=dict)
    spare: Mapping[str, float] = field(default_factory=dict)
    max_boxes: int | None = None
    loose_cable_weight: float = 0.0
    blocked: frozenset[tuple[str, str]] = frozenset()
    blocked_in_event: frozenset[tuple[str, str, str]] = frozenset()
    mains_kinds: frozenset[str] = frozenset({"mains"})
    unserved_cost: float | None = None


@dataclass(frozen=True)
class Problem:
    """One question to the planner. `together` lists sets of events that can run at the same time."""

    demands: tuple[Demand, ...]
    candidates: tuple[Candidate, ...]
    models: tuple[Model, ...]
    policy: Policy = Policy()
    events: tuple[str, ...] = ()
    together: tuple[frozenset[str], ...] = ()


@dataclass(frozen=True)
class PlannedBox:
    """A chosen box: `need` is the most connections in use at once by kind, `openings` adds the spare."""

    candidate: str
    model: str
    need: Mapping[str, int]
    openings: Mapping[str, int]
    signal_modules: int
    mains_modules: int
    box_cost: float
    opening_cost: float


@dataclass(frozen=True)
class Service:
    """`count` connections of `kind` at `demand` plug into the box at `candidate` while `events` run together."""

    demand: str
    kind: str
    events: tuple[str, ...]
    candidate: str
    count: int


@dataclass(frozen=True)
class Unserved:
    """`count` connections that no box serves in `event`, with the reason as a sentence."""

    demand: str
    kind: str
    event: str
    count: int
    reason: str


@dataclass(frozen=True)
class Costs:
    """Where the plan's cost lies; `unserved` is the price put on what is not served, no money."""

    boxes: float
    openings: float
    loose_cable: float
    unserved: float

    @property
    def total(self) -> float:
        return self.served + self.unserved

    @property
    def installed(self) -> float:
        return self.boxes + self.openings

    @property
    def served(self) -> float:
        """Installed cost and cable on the floor together: what is weighed of the part that is served."""
        return self.installed + self.loose_cable


@dataclass(frozen=True)
class Plan:
    """The answer. `bound`: no plan can cost less; `gap` = (total - bound) / total; `notes`: sentences on the input."""

    boxes: tuple[PlannedBox, ...]
    services: tuple[Service, ...]
    unserved: tuple[Unserved, ...]
    costs: Costs
    bound: float
    gap: float
    proven: bool
    stopped_early: bool
    seconds: float
    notes: tuple[str, ...] = ()

    @property
    def least_served(self) -> float:
        """No plan that serves as much has less installed cost and cable on the floor together."""
        return max(0.0, self.bound - self.costs.unserved)


def with_spare(need: int, spare: float) -> int:
    """Openings to build for `need` connections in use at once: the spare fraction is rounded up."""
    return need + ceil(spare * need - ROUNDING)


def simultaneous(problem: Problem) -> tuple[tuple[str, ...], ...]:
    """The largest sets of events that run together, each sorted; an event that no set holds stands alone."""
    events = problem.events or (NO_EVENT,)
    sets = {frozenset(group) & frozenset(events) for group in problem.together}
    sets |= {frozenset((event,)) for event in events}
    largest = [s for s in sets if s and not any(s < other for other in sets)]
    rank = {event: number for number, event in enumerate(events)}
    return tuple(sorted((tuple(sorted(s, key=rank.__getitem__)) for s in largest),
                        key=lambda s: [rank[e] for e in s]))


def distance(demand: Demand, candidate: Candidate) -> float:
    """Straight distance in m."""
    return dist((demand.x, demand.y, demand.z), (candidate.x, candidate.y, candidate.z))


def _repeated(ids: list[str]) -> set[str]:
    return {i for i in ids if ids.count(i) > 1} if len(set(ids)) < len(ids) else set()


def read_problem(problem: Problem) -> tuple[Problem, tuple[str, ...]]:
    """The usable part of the problem, and a sentence for each thing left out or changed."""
    notes: list[str] = []
    for noun, ids in (("connection point", [d.id for d in problem.demands]),
                      ("position", [c.id for c in problem.candidates]), ("model", [m.id for m in problem.models])):
        for twice in sorted(_repeated(ids)):
            notes.append(f"The {noun} '{twice}' is listed more than once; only the first counts. "
                         "Give each its own name.")
    models = tuple(m for m in {m.id: m for m in reversed(problem.models)}.values() if _model_fits(m, notes))[::-1]
    known = {m.id for m in models}
    if not known:
        notes.append("There is no usable floor box model, so nothing can be planned. "
                     "Add a model with its bays and cost.")
    demands = tuple(d for d in (_demand(d, problem, notes) for d in _first(problem.demands)) if d is not None)
    candidates = tuple(_full(c, models, problem.policy, notes) for c in (
        _candidate(c, known, notes) for c in _first(problem.candidates)) if c is not None)
    return replace(problem, demands=demands, candidates=candidates, models=models,
                   policy=_policy(problem.policy, candidates, notes)), tuple(notes)


Placed = TypeVar("Placed", Demand, Candidate)


def _first(items: tuple[Placed, ...]) -> tuple[Placed, ...]:
    found: dict[str, Placed] = {}
    for item in items:
        found.setdefault(item.id, item)
    return tuple(found.values())


def _model_fits(model: Model, notes: list[str]) -> bool:
    numbers = (model.bays, model.mains_bays, model.openings, model.outlets)
    if min(numbers) < 0 or model.bays < 1 or not (isfinite(model.cost) and model.cost >= 0):
        notes.append(f"The model '{model.id}' is left out: bays, openings, outlets and cost must not be negative "
                     "and it needs at least one bay. Correct its row.")
        return False
    return True


def _demand(demand: Demand, problem: Problem, notes: list[str]) -> Demand | None:
    if not all(isfinite(v) for v in (demand.x, demand.y, demand.z)):
        notes.append(f"The connection point '{demand.id}' has no usable position, so no floor box can serve it. "
                     "Give its position on the stage.")
        return None
    bad = {kind: n for kind, n in demand.needs.items() if not isfinite(n) or n < 0 or n != int(n)}
    for kind, n in bad.items():
        notes.append(f"The connection point '{demand.id}' asks for {n} {kind}; a count must be a whole number from 0 "
                     "up. It is left out until corrected.")
    needs = {kind: int(n) for kind, n in demand.needs.items() if n and kind not in bad}
    unknown = [e for e in demand.events if e not in problem.events]
    events = tuple(e for e in demand.events if e in problem.events)
    if unknown:
        notes.append(f"The connection point '{demand.id}' names the event '{unknown[0]}', which is not on the list of "
                     "events; add the event or take it off the point.")
        if not events:
            return None
    return replace(demand, needs=needs, events=events) if needs else None


def _candidate(candidate: Candidate, known: set[str], notes: list[str]) -> Candidate | None:
    costs = [*candidate.fixed_cost.values(), *candidate.opening_cost.values()]
    if not all(isfinite(v) for v in (candidate.x, candidate.y, candidate.z, *costs)) or min(costs, default=0) < 0:
        notes.append(f"The position '{candidate.id}' is left out: its place and costs must be known and not negative.")
        return None
    if candidate.forbidden:
        if candidate.pinned:
            notes.append(f"The position '{candidate.id}' is marked both as must be used and as forbidden; it is taken "
                         "as forbidden. Take one of the marks off.")
        return None
    if candidate.models is None:
        return candidate
    models = tuple(m for m in candidate.models if m in known)
    if not models:
        if candidate.pinned or candidate.models:
            notes.append(f"No usable model may stand at the position '{candidate.id}', so it is left out. "
                         "Allow a model there.")
        return None
    return replace(candidate, models=models)


def _full(candidate: Candidate, models: tuple[Model, ...], policy: Policy, notes: list[str]) -> Candidate:
    """The candidate, with no opening more if none of its models takes what it holds already."""
    signal, mains = (candidate.holds(policy.mains_kinds, among) for among in (False, True))
    if not models or candidate.openings is not None or any(m.takes(signal, mains) for m in models
                                             if candidate.models is None or m.id in candidate.models):
        return candidate
    notes.append(f"The position '{candidate.id}' holds more than a model that may stand there takes, so nothing more "
                 "plugs in there. Allow a larger model there.")
    return replace(candidate, openings={}, held={})


def _policy(policy: Policy, candidates: tuple[Candidate, ...], notes: list[str]) -> Policy:
    weight = policy.loose_cable_weight
    if not (isfinite(weight) and weight >= 0):
        notes.append(f"The price of {weight} for a metre of cable on the floor can't be used; 0 is taken instead.")
        weight = 0.0
    price = policy.unserved_cost
    if price is not None and not (isfinite(price) and price >= 0):
        notes.append(f"The price of {price} for an unserved connection can't be used; the usual one is taken instead.")
        price = None
    spare = {kind: s for kind, s in policy.spare.items() if isfinite(s) and s >= 0}
    for kind in sorted(set(policy.spare) - set(spare)):
        notes.append(f"The spare of {policy.spare[kind]} for {kind} can't be used; no spare is taken instead.")
    reach = {kind: r for kind, r in policy.reach.items() if r >= 0}
    for kind in sorted(set(policy.reach) - set(reach)):
        notes.append(f"The reach of {policy.reach[kind]} m for {kind} can't be used; it must be 0 or more. "
                     "No limit is taken instead.")
    limit = None if policy.max_boxes is None else max(0, policy.max_boxes)
    pinned = sum(c.pinned for c in candidates)
    if limit is not None and pinned > limit:
        notes.append(f"{pinned} positions must be used but at most {limit} floor boxes are allowed; the {pinned} "
                     "marked ones are kept. Raise the limit or take marks off.")
        limit = pinned
    return replace(policy, loose_cable_weight=weight, spare=spare, reach=reach, max_boxes=limit,
                   unserved_cost=price)
