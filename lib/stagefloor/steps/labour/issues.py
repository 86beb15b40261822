"""Prices that went out: what an issue rests on, what differs since, and which changes it holds already."""

from collections.abc import Mapping, Sequence

from stagefloor.core.units import FOOT
from stagefloor.job.commercial import Change, ChangeLine, IssuedPrice
from stagefloor.job.model import Job
from stagefloor.steps.cables.takeoff import NO_LENGTH
from stagefloor.steps.labour import quantities as names

ROUNDING, SHARE = 1e-3, 1e-5  # of a quantity; what differs by less is how a number was written


def last_issue(job: Job) -> IssuedPrice | None:
    """The last price that went out; a row without its price or total is none."""
    return next((r for r in reversed(job.all(IssuedPrice)) if r.price is not None and r.total is not None), None)


def issued_quantities(row: IssuedPrice) -> dict[str, float]:
    """The quantities that an issued price rests on, in pieces or metres."""
    then: dict[str, float] = {}
    for line in row.quantities.splitlines():
        name, _, amount = line.rpartition(" = ")
        try:
            then[name] = float(amount)
        except ValueError:
            continue  # a line that someone wrote over says nothing
    return then


def quantities_text(quantities: Mapping[str, float]) -> str:
    """The quantities as an issued price keeps them."""
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


def lines_of(job: Job, change: Change) -> tuple[tuple[str, float], ...]:
    """(quantity, amount) of a change; lengths are typed in the job's units and given in metres."""
    per = FOOT if job.settings.units == "ft-in" else 1.0
    return tuple((names.plain(r.quantity), r.amount * (per if names.is_length(r.quantity) else 1.0))
                 for r in job.all(ChangeLine) if r.change == change.id and r.quantity.strip() and r.amount)


def held_by(job: Job, quantities: Mapping[str, float]) -> list[str]:
    """Ids of the accepted changes that an issue of these quantities holds: those of the last one, and those drawn since.

    A change is drawn if each of its lines is covered by what differs since the last issue. Without an issue before
    nothing tells whether an accepted change is drawn, so that it stays on top.
    """
    issue, differences = since_issue(job, quantities)
    if issue is None:
        return []
    left, held = {names.plain(n): a for n, a in differences}, [*issue.holds]
    for change in job.all(Change):
        lines = lines_of(job, change)
        if change.state == "accepted" and change.id not in held and lines and _covered(lines, left):
            held.append(change.id)
            for name, amount in lines:
                left[name] -= amount
    return held


def _covered(lines: Sequence[tuple[str, float]], left: Mapping[str, float]) -> bool:
    return all(alike(have := left.get(n, 0.0), a) or (have * a > 0 and abs(have) > abs(a)) for n, a in lines)
