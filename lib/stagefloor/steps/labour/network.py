"""Activities with dependencies: early and late times, float, critical path, and a plan for one crew. Knows no job."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stagefloor.core.problems import Problem

SMALL = 1e-9  # days that floating-point sums may lose


@dataclass(frozen=True)
class Activity:
    """Work of `days` (zero or more) that starts when all of `after` are done; `crew` if it takes the crew's time."""

    name: str
    days: float
    after: tuple[str, ...] = ()
    crew: bool = True


@dataclass(frozen=True)
class Timed:
    """Days from the start: early by the dependencies alone, late without moving the end, `start` and `finish` for one
    crew that does one thing at a time. `total_float`: by how much it may slip; `free_float`: before another waits."""

    name: str
    days: float
    early_start: float
    early_finish: float
    late_start: float
    late_finish: float
    free_float: float
    start: float
    finish: float

    @property
    def total_float(self) -> float:
        return self.late_start - self.early_start

    @property
    def critical(self) -> bool:
        return self.total_float <= SMALL


def times(activities: Sequence[Activity]) -> dict[str, Timed]:
    """The times of every activity, in the order of a possible sequence of the work.

    Raises Problem for days below zero, a name that occurs twice or is not there, or work that waits for itself.
    Source: critical path method, forward and backward pass, project-management textbook.
    """
    known = _known(activities)
    order = _sequence(known)
    early: dict[str, float] = {}
    for name in order:
        early[name] = max((early[p] + known[p].days for p in known[name].after), default=0.0)
    end = max((early[n] + known[n].days for n in order), default=0.0)
    followers: dict[str, list[str]] = {n: [] for n in order}
    for name in order:
        for p in known[name].after:
            followers[p].append(name)
    late: dict[str, float] = {}
    for name in reversed(order):
        late[name] = min((late[f] for f in followers[name]), default=end) - known[name].days
    start = _for_one_crew(known, order, late)
    found = {}
    for name in order:
        days, finish = known[name].days, early[name] + known[name].days
        free = min((early[f] for f in followers[name]), default=end) - finish
        found[name] = Timed(name, days, early[name], finish, late[name], late[name] + days, free, start[name],
                            start[name] + days)
    return found


def _known(activities: Sequence[Activity]) -> dict[str, Activity]:
    known: dict[str, Activity] = {}
    for a in activities:
        if a.name in known:
            raise Problem(f"Two steps of the work are called '{a.name}'; give each its own name.", a.name)
        if a.days < 0:
            raise Problem(f"Step '{a.name}' takes {a.days:g} days; days can't be below zero.", a.name)
        known[a.name] = a
    for a in activities:
        for p in a.after:
            if p not in known:
                raise Problem(f"Step '{a.name}' comes after '{p}', which is not a step of the work.", a.name)
    return known


def _sequence(known: Mapping[str, Activity]) -> list[str]:
    """Names so that each comes after what it waits for, otherwise in the order given."""
    left, done, order = list(known), set[str](), []
    while left:
        ready = next((n for n in left if done.issuperset(known[n].after)), None)
        if ready is None:
            raise Problem(f"These steps wait for each other: {', '.join(left[:6])}; take one 'after' or 'before' out.",
                          left[0])
        left.remove(ready)
        done.add(ready)
        order.append(ready)
    return order


def _for_one_crew(known: Mapping[str, Activity], order: Sequence[str], late: Mapping[str, float]) -> dict[str, float]:
    """Starts if the crew does one thing at a time: of what can start first, the one that may wait least."""
    start: dict[str, float] = {}
    free = 0.0
    left = list(order)
    while left:
        ready = [n for n in left if all(p in start for p in known[n].after)]
        can = {n: max((start[p] + known[p].days for p in known[n].after), default=0.0) for n in ready}
        others = [n for n in ready if not known[n].crew or known[n].days <= SMALL]
        if others:
            name = others[0]
            start[name] = can[name]
        else:
            name = min(ready, key=lambda n: (max(can[n], free), late[n], order.index(n)))
            start[name] = max(can[name], free)
            free = start[name] + known[name].days
        left.remove(name)
    return start
