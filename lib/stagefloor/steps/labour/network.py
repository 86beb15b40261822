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
    crew that does one thing at a time. `total_float`: by how much it may be late by the dependencies alone; `free_float`:
    before another waits; `slip`: by how much without moving the end of the one crew, its order of work kept."""

    name: str
    days: float
    early_start: float
    early_finish: float
    late_start: float
    late_finish: float
    free_float: float
    start: float
    finish: float
    slip: float

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
    slip = _slip(known, order, followers, start)
    found = {}
    for name in order:
        days, finish = known[name].days, early[name] + known[name].days
        free = min((early[f] for f in followers[name]), default=end) - finish
        found[name] = Timed(name, days, early[name], finish, late[name], late[name] + days, free, start[name],
                            start[name] + days, slip[name])
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


def _slip(known: Mapping[str, Activity], order: Sequence[str], followers: Mapping[str, Sequence[str]],
          start: Mapping[str, float]) -> dict[str, float]:
    """How late each may start in the plan of one crew, who goes on in the same order, less its start."""
    crew = sorted((n for n in order if known[n].crew and known[n].days > SMALL), key=lambda n: start[n])
    after_it = dict(zip(crew, crew[1:], strict=False))
    end = max((start[n] + known[n].days for n in order), default=0.0)
    late: dict[str, float] = {}
    place = {n: i for i, n in enumerate(order)}
    for name in sorted(order, key=lambda n: (start[n], place[n]), reverse=True):
        waiting = [*followers[name], *([after_it[name]] if name in after_it else [])]
        late[name] = min((late[n] for n in waiting), default=end) - known[name].days
    return {n: max(late[n] - start[n], 0.0) for n in order}
