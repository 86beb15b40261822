"""Lines follow the openings: circuits and cables, with their labels; one that is not needed rests until it is again."""

from collections import Counter
from collections.abc import Mapping
from typing import TypeVar

from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Cable, CableType, Circuit, RestingCable
from stagefloor.job.inventory import KINDS
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet

LONGEST_STEM = 200  # characters
FOLLOWED = (Opening, Box, Circuit, OldOutlet, Cable, RestingCable, CableType)  # all that lines_follow looks at

Woken = TypeVar("Woken", Opening, Circuit)


def short_name(box: Box) -> str:
    """The part of a box's label that its openings and circuits begin with."""
    return box.label.rsplit("-", 1)[-1][:LONGEST_STEM]


def next_label(stem: str, used: set[str]) -> str:
    """The first free label of a stem, and marks it used."""
    stem = stem[:LONGEST_STEM]  # a label must stay one that can be stored
    number = 1
    while f"{stem}{number}" in used:
        number += 1
    used.add(f"{stem}{number}")
    return f"{stem}{number}"


def woken(record: Woken, **now: object) -> Woken:
    """An opening or circuit as it is when it no longer rests."""
    fields = record.model_dump(exclude_unset=True) | now
    fields.pop("was", None)
    return type(record).model_validate(fields)


def lines_follow(job: Job) -> Job:
    """One circuit for each signal opening in use, one mains request a box; one cable for each new signal circuit.

    A circuit whose opening comes back is the one that it was, with its label, its tests and its cable.
    """
    boxes = {b.id: b for b in job.boxes()}
    live = {o.id: o for o in job.all(Opening) if o.state == "in use" and o.box in boxes}
    held: set[str] = set()
    changed: list[Circuit | Opening] = []
    resting: dict[str, Circuit] = {}
    for circuit in job.all(Circuit):
        if circuit.state == "retired":
            if circuit.was:
                resting |= dict.fromkeys(circuit.openings, circuit)
            continue
        left = tuple(i for i in circuit.openings if i in live)
        if not left and circuit.openings:
            changed.append(circuit.model_copy(update={"state": "retired", "was": circuit.state}))
        elif left != circuit.openings or circuit.was:
            changed.append(woken(circuit, openings=left))
            changed += [o.model_copy(update={"line": circuit.id}) for i in circuit.openings if i not in left
                        and circuit.what != "mains" and (o := job.find(Opening, i)) is not None]
        held.update(left)
    job = job.with_records(changed) if changed else job
    job = _shared_again(_circuits_wake(job, live, held, resting), live, held)
    orphans = [o for o in live.values() if o.id not in held]
    signals = [o for o in orphans if o.what != "mains"]
    mains: dict[str, list[str]] = {}
    for o in orphans:
        if o.what == "mains":
            mains.setdefault(o.box, []).append(o.id)
    joined = []
    for box_id, ids in list(mains.items()):
        known = next((c for c in job.circuits() if c.what == "mains" and any(
            live[i].box == box_id for i in c.openings if i in live)), None)
        if known:
            joined.append(known.model_copy(update={"openings": (*known.openings, *ids)}))
            del mains[box_id]
    job = job.with_records(joined)
    job, ids = job.new_ids(Circuit, len(signals) + len(mains))
    used = {c.label for c in job.all(Circuit) if c.state != "retired" or c.was}  # a resting line keeps its label
    new: list[Circuit] = []
    for o, new_id in zip(signals, ids, strict=False):
        label = o.label if o.label not in used else next_label(o.label.rstrip("0123456789"), used)
        used.add(label)
        new.append(Circuit(id=new_id, label=label, what=o.what, openings=(o.id,)))
    for (box_id, opening_ids), new_id in zip(mains.items(), ids[len(signals):], strict=True):
        short = short_name(boxes[box_id])
        label = f"{short}-P" if f"{short}-P" not in used else next_label(f"{short}-P", used)
        new.append(Circuit(id=new_id, label=label, what="mains", openings=tuple(opening_ids)))
    job = _reuse_old_lines(job.with_records(new))
    return _cables_follow(job)


def _shared_again(job: Job, live: dict[str, Opening], held: set[str]) -> Job:
    """Openings that are in use again go back to the lines that they shared; what they hold is added to `held`."""
    lines = {c.id: c for c in job.circuits()}
    for o in [o for o in live.values() if o.line and o.id not in held and o.line in lines]:
        lines[o.line] = lines[o.line].model_copy(update={"openings": (*lines[o.line].openings, o.id)})
        held.add(o.id)
        job = job.with_records([lines[o.line], o.model_copy(update={"line": ""})])
    return job


def _circuits_wake(job: Job, live: dict[str, Opening], held: set[str], resting: dict[str, Circuit]) -> Job:
    """The circuits that rested with openings which are in use again; what they hold is added to `held`."""
    again: list[Circuit] = []
    used: set[str] = set()
    for circuit in {c.id: c for i, c in resting.items() if i in live and i not in held}.values():
        used = used or {c.label for c in job.circuits()}
        back = tuple(i for i in circuit.openings if i in live and i not in held)
        label = circuit.label if circuit.label not in used else next_label(circuit.label.rstrip("0123456789"), used)
        used.add(label)
        held.update(back)
        again.append(woken(circuit, state=circuit.was, openings=back, label=label))
    return job.with_records(again) if again else job


def _reuse_old_lines(job: Job) -> Job:
    """Old lines that shall be reused take over circuits of their kind in their box, as many as they are."""
    box_of = {o.id: o.box for o in job.all(Opening)}
    circuits = {c.id: c for c in job.circuits()}
    known = {o.id: o for o in job.all(OldOutlet) if o.reuse and o.tested != "failed"}
    taken: Counter[str] = Counter()
    for c in list(circuits.values()):
        old = known.get(c.reused)
        there = old is not None and (not old.box or any(box_of.get(i) == old.box for i in c.openings))
        if old is not None and there and c.what == old.what and taken[old.id] < max(1, old.count):
            taken[old.id] += 1
        elif c.reused:
            circuits[c.id] = c.model_copy(update={"reused": ""})
    for old in job.all(OldOutlet):
        if old.id not in known or not old.box:
            continue
        left = max(1, old.count) - taken[old.id]
        for c in circuits.values():
            if left > 0 and c.what == old.what and not c.reused and any(box_of.get(i) == old.box for i in c.openings):
                circuits[c.id] = c.model_copy(update={"reused": old.id})
                left -= 1
    return job.with_records(c for c in circuits.values() if c is not job.find(Circuit, c.id))


def _cables_follow(job: Job) -> Job:
    """A cable for each signal circuit that has none and reuses no old line; one left with nothing rests."""
    circuits = {c.id: c for c in job.circuits()}
    cables = {c.id: c for c in job.all(Cable)}
    rest = {r.id: r for r in job.all(RestingCable)}
    carried: set[str] = set()
    for cable in list(cables.values()):
        left = tuple(i for i in cable.circuits if i in circuits and not circuits[i].reused)
        carried.update(left)
        if left == cable.circuits and left:
            continue
        idle = (*(rest[cable.id].circuits if cable.id in rest else ()), *(i for i in cable.circuits if i not in left))
        if idle:
            rest[cable.id] = RestingCable.model_validate(cable.model_dump(exclude_unset=True) | {"circuits": idle})
        if left:
            cables[cable.id] = cable.model_copy(update={"circuits": left})
        else:
            del cables[cable.id]
    need = {c.id: c for c in circuits.values() if c.what != "mains" and not c.reused and c.id not in carried}
    for resting in list(rest.values()):
        back = tuple(i for i in resting.circuits if i in need)
        if back:
            there = cables.get(resting.id)
            fields = (there or resting).model_dump(exclude_unset=True)
            cables[resting.id] = Cable.model_validate(fields | {"circuits": (*(there.circuits if there else ()), *back)})
        for i in back:
            del need[i]
        left = tuple(i for i in resting.circuits if i not in back and i not in carried)
        if not left:
            del rest[resting.id]
        elif left != resting.circuits:
            rest[resting.id] = resting.model_copy(update={"circuits": left})
    job = _table(_table(job, Cable, cables), RestingCable, rest)
    types = {k: next((t.id for t in job.all(CableType) if t.what == k), "") for k in KINDS} if need else {}
    job, ids = job.new_ids(Cable, len(need))
    return job.with_records(Cable(id=i, label=c.label, circuits=(c.id,), type=types[c.what])
                            for c, i in zip(need.values(), ids, strict=True))


def _table(job: Job, cls: type[Cable], wanted: Mapping[str, Cable]) -> Job:
    """The job with these records of a kind, in which what stays as it was stays where it was."""
    have = {c.id: c for c in job.all(cls)}
    gone = [i for i in have if i not in wanted]
    new = [c for i, c in wanted.items() if c is not have.get(i)]
    job = job.without(cls, gone) if gone else job
    return job.with_records(new) if new else job
