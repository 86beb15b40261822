"""Prices that went out: what an issue rests on, what differs since, and which changes it holds already."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from stagefloor.job.commercial import CHANGES, Change, ChangeLine, IssuedPrice
from stagefloor.job.measured import in_si
from stagefloor.job.model import Job
from stagefloor.steps.cables.takeoff import NO_LENGTH
from stagefloor.steps.labour import quantities as names

ORDER = CHANGES[1]
MOST_TRIED = 10  # changes of the same quantity that are tried in every combination
ROUNDING, SHARE = 1e-3, 1e-5  # of a quantity; what differs by less is how a number was written


def last_issue(job: Job) -> IssuedPrice | None:
    """The last price that went out; a row without its price or total is none."""
    return next((r for r in reversed(job.all(IssuedPrice)) if r.price is not None and r.total is not None), None)


def issued_quantities(row: IssuedPrice) -> dict[str, float]:
    """The quantities that an issued price rests on, in pieces or metres."""
    return _read(row.quantities)


def _read(text: str) -> dict[str, float]:
    then: dict[str, float] = {}
    for line in text.splitlines():
        name, _, amount = line.rpartition(" = ")
        try:
            then[name] = float(amount)
        except ValueError:
            continue  # a line that someone wrote over says nothing
    return then


def quantities_text(quantities: Mapping[str, float]) -> str:
    """The quantities as an issued price or an accepted change keeps them."""
    return "\n".join(f"{n} = {a:.10g}" for n, a in sorted(quantities.items()))


def alike(a: float, b: float) -> bool:
    """Whether two amounts of a quantity are the same but for the way they were written."""
    return abs(a - b) <= max(ROUNDING, SHARE * max(abs(a), abs(b)))


def since_issue(job: Job, quantities: Mapping[str, float]) -> tuple[IssuedPrice | None, list[tuple[str, float]]]:
    """The last issued price, and how each quantity differs now: (name, more or less), in pieces or metres.

    A length that was found since is a difference of the cable, not of the lines without one.
    """
    issue = last_issue(job)
    if issue is None:
        return None, []
    then = issued_quantities(issue)
    both = ((n, then.get(n, 0.0), quantities.get(n, 0.0)) for n in sorted({*then, *quantities} - {NO_LENGTH}))
    return issue, [(n, b - a) for n, a, b in both if not alike(a, b)]


@dataclass(frozen=True)
class SinceIssue:
    """What is drawn otherwise than issued: (quantity, more or less), in pieces or metres.

    `differences` are all of it, `beyond` what no change order covers, neither accepted nor offered; `waiting` is
    accepted and not, or not wholly, drawn.
    """

    issue: IssuedPrice
    differences: tuple[tuple[str, float], ...]
    beyond: tuple[tuple[str, float], ...]
    waiting: tuple[tuple[str, float], ...]


def beyond_orders(job: Job, quantities: Mapping[str, float]) -> SinceIssue | None:
    """What changed since the last issue, and what of it stands in change orders; None without an issue.

    Nothing tells how far each of the changes on top of an issue is drawn, so that anything counts as covered between all
    that take away without those that add, and all that add without those that take away.
    """
    issue, differences = since_issue(job, quantities)
    if issue is None:
        return None
    agreed = accepted(job)
    offered = [c for c in job.all(Change) if c.state == "offered" and c.what == ORDER and c.id not in issue.holds]
    drawn = {names.plain(n): a for n, a in differences}
    beyond, waiting = [], []
    for name in sorted({*drawn, *(n for c in agreed for n, _ in lines_of(job, c))}):
        have, sure = drawn.get(name, 0.0), _amounts(job, name, agreed)
        left = have - _within(have, [*sure, *_amounts(job, name, offered)])
        if not alike(left, 0.0) and not alike(have, have - left):
            beyond.append((name, left))
        if not alike(sum(sure), have) and (still := sum(sure) - _within(have, sure)):
            waiting.append((name, still))
    return SinceIssue(issue, tuple(differences), tuple(beyond), tuple(waiting))


def _amounts(job: Job, name: str, changes: Sequence[Change]) -> list[float]:
    """How much of a quantity each of the changes adds."""
    return [sum(a for n, a in lines_of(job, c) if n == name) for c in changes]


def _within(have: float, amounts: Sequence[float]) -> float:
    return min(max(have, sum(a for a in amounts if a < 0)), sum(a for a in amounts if a > 0))


def is_agreed(change: Change) -> bool:
    """Whether its price is signed: it stays, whatever becomes of hours, prices and terms."""
    return change.state == "accepted" and change.price is not None


def altered(change: Change, lines: Sequence[tuple[str, float]]) -> tuple[tuple[str, float, float], ...]:
    """Which of its lines an agreed price was not agreed for: (quantity, now, then), in pieces or metres.

    Nothing if it is not known what it was agreed for.
    """
    then = _read(change.agreed_for) if is_agreed(change) else {}
    now = added(lines)
    both = [(n, now.get(n, 0.0), then.get(n, 0.0)) for n in sorted({*now, *then})] if then else []
    return tuple(b for b in both if not alike(b[1], b[2]))


def added(lines: Sequence[tuple[str, float]]) -> dict[str, float]:
    """What lines add up to, quantity by quantity."""
    sums: dict[str, float] = defaultdict(float)
    for name, amount in lines:
        sums[name] += amount
    return dict(sums)


def counts(job: Job, change: Change) -> bool:
    """Whether it moves the price: it has quantities, or a sum that is agreed."""
    return bool(lines_of(job, change)) or is_agreed(change)


def on_top(job: Job) -> list[Change]:
    """The accepted changes that the last issue does not hold."""
    issue = last_issue(job)
    held = () if issue is None else issue.holds
    return [c for c in job.all(Change) if c.state == "accepted" and c.id not in held]


def accepted(job: Job) -> list[Change]:
    """The accepted changes that count on top of the last issue, or of the price as it stands."""
    return [c for c in on_top(job) if counts(job, c)]


def lines_of(job: Job, change: Change) -> tuple[tuple[str, float], ...]:
    """(quantity, amount) of a change, in pieces or metres."""
    return tuple((names.plain(r.quantity), amount) for r in job.all(ChangeLine)
                 if r.change == change.id and r.quantity.strip() and (amount := in_si(job, r.quantity, r.amount)))


def held_by(job: Job, quantities: Mapping[str, float]) -> list[str]:
    """Ids of the accepted changes that an issue of these quantities holds: those of the last one, and those drawn since.

    Changes are drawn if what they add up to is covered by what differs since the last issue; of changes that touch the
    same quantity the most that are. Without an issue before nothing tells whether an accepted change is drawn, so that
    it stays on top, and so does a sum without quantities.
    """
    issue, differences = since_issue(job, quantities)
    if issue is None:
        return []
    drawn = {names.plain(n): a for n, a in differences}
    touching = _touching(job, [c for c in on_top(job) if lines_of(job, c)])
    found = {c.id for group in touching for c in _drawn(job, group, drawn)}
    return [*issue.holds, *(c.id for c in job.all(Change) if c.id in found)]


def _touching(job: Job, changes: Sequence[Change]) -> list[list[Change]]:
    """The changes in groups that share no quantity."""
    groups: list[tuple[set[str], list[Change]]] = []
    for change in changes:
        touched, members = {n for n, _ in lines_of(job, change)}, [change]
        for group in [g for g in groups if g[0] & touched]:
            groups.remove(group)
            touched, members = touched | group[0], [*group[1], *members]
        groups.append((touched, members))
    return [members for _, members in groups]


def _drawn(job: Job, group: Sequence[Change], drawn: Mapping[str, float]) -> tuple[Change, ...]:
    """The most of these changes that make up what differs, else the most that it covers together."""
    sizes = range(len(group), 0, -1) if len(group) <= MOST_TRIED else (len(group), 1)
    covered: tuple[Change, ...] = ()
    for some in (s for n in sizes for s in combinations(group, n)):
        adds = added([line for c in some for line in lines_of(job, c)])
        pairs = [(drawn.get(n, 0.0), a) for n, a in adds.items()]
        if all(alike(have, a) for have, a in pairs):
            return some
        if not covered and all(alike(have, a) or (have * a > 0 and abs(have) > abs(a)) for have, a in pairs):
            covered = some
    return covered
