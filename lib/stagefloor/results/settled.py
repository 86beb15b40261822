"""What an edit settles in the same transaction: openings and lines follow the need, an accepted change keeps its price,
and a scan of the slab holds for one place."""

from stagefloor.job.boxes import Box
from stagefloor.job.commercial import Change
from stagefloor.job.model import Job
from stagefloor.results.compute import compute
from stagefloor.steps.boxes.schedule import reconciled
from stagefloor.steps.labour.issues import added, is_agreed, lines_of, quantities_text


def settled(before: Job, after: Job) -> Job:
    """The job after an edit, with what follows from it.

    A change that becomes accepted keeps the price that it was offered at, with its tax, if it is wholly priced; one that
    is accepted no more loses it. With a price that is agreed go the quantities that it is agreed for. A scan of the slab
    shows one place: a box that is moved has none until its own is entered.
    """
    return _agreed_for(before, _priced(before, reconciled(_scanned_where_they_stand(before, after))))


def _priced(before: Job, job: Job) -> Job:
    was = {c.id: c for c in before.all(Change)}
    for change in job.all(Change):
        old = was.get(change.id)
        if old is not None and old.state == "accepted" != change.state and old.price == change.price:
            job = job.with_records([_with(change, price=None, tax=None, agreed_for=None)])
    signed = [c for c in job.all(Change) if c.state == "accepted" and c.price is None
              and (c.id not in was or was[c.id].state != "accepted")]
    # as long as it is no more than offered, a change is priced on top of all that was accepted
    job = job.with_records([_with(c, state="offered") for c in signed]) if signed else job
    for change in signed:
        price = next((p for p in compute(job).changes if p.change.id == change.id), None)
        kept = {} if price is None or price.missing else {"price": price.price, "tax": price.tax}
        job = job.with_records([_with(change, **kept)])
    return job


def _agreed_for(before: Job, job: Job) -> Job:
    was = {c.id: c for c in before.all(Change)}
    new = [c for c in job.all(Change) if is_agreed(c) and (
        (old := was.get(c.id)) is None or not is_agreed(old) or (old.price != c.price and old.agreed_for == c.agreed_for))]
    return job.with_records([_with(c, agreed_for=quantities_text(added(lines_of(job, c))) or None) for c in new])


def _scanned_where_they_stand(before: Job, after: Job) -> Job:
    was = {b.id: b for b in before.all(Box) if b.scan}
    moved = [b for b in after.all(Box) if b.id in was and b.scan == was[b.id].scan and _place(b) != _place(was[b.id])]
    return after.with_records([b.model_copy(update={"scan": ""}) for b in moved]) if moved else after


def _place(box: Box) -> list[float | None]:
    """Where it stands, to the tenth of a millimetre: the same place may be typed in another unit."""
    return [None if length is None else round(length.si, 4) for length in (box.x, box.y)]


def _with(change: Change, **fields: object) -> Change:
    kept = {k: v for k, v in {**change.model_dump(exclude_unset=True), **fields}.items() if v is not None}
    return Change.model_validate(kept)
