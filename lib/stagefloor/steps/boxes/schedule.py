"""What is in each box: openings from the need, modules in bays with mains behind the barrier, the smallest model.

Adopted openings and circuits keep their ids: a changed need adds or retires, never renumbers.
"""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.boxes import Box, BoxModel, Opening
from stagefloor.job.cables import Cable, CableType, Circuit
from stagefloor.job.inventory import KINDS, Event, Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.reference.connections import connections
from stagefloor.steps.inventory import Peak, peaks

FIXED_STATES = ("built",)
LONGEST_STEM = 200  # characters


@dataclass(frozen=True)
class Contents:
    """What a box must hold: openings of each kind (need plus spare), and the events that drive each."""

    need: dict[str, Peak]
    openings: dict[str, int]

    @property
    def signal(self) -> int:
        return sum(n for k, n in self.openings.items() if k != "mains")

    @property
    def mains(self) -> int:
        return self.openings.get("mains", 0)


@dataclass(frozen=True)
class Layout:
    """A model with its modules: which bays hold signal and which mains, places in all and used."""

    model: BoxModel
    signal_bays: int
    mains_bays: int
    contents: Contents

    @property
    def signal_places(self) -> int:
        return self.signal_bays * self.model.openings

    @property
    def spare_places(self) -> int:
        return self.signal_places - self.contents.signal

    @property
    def mains_places(self) -> int:
        return self.mains_bays * self.model.mains_outlets

    def working(self, subject: str) -> Working:
        m, c = self.model, self.contents
        return Working(
            f"Bays needed in {subject}", "B = ceil(S / o) + ceil(P / q)",
            (Value("S", "signal openings with spare", c.signal), Value("o", "openings in a module", m.openings),
             Value("P", "mains outlets", c.mains), Value("q", "outlets in a mains module", m.mains_outlets)),
            Value("B", "bays", math.ceil(c.signal / m.openings) + math.ceil(c.mains / max(1, m.mains_outlets))),
            (Basis(f"box model {m.label}: one module a bay, mains only behind the barrier", JOB),),
            limit=Value("", "bays of the model", m.bays))


def contents(job: Job, points: Sequence[Point]) -> Contents:
    """Need over the points of a box, with the job's spare share rounded up for each kind."""
    need = peaks(job, points)
    share = (job.settings.spare_percent or 0.0) / 100
    return Contents(need, {k: p.count + math.ceil(p.count * share - 1e-9) for k, p in need.items()})


def points_of(job: Job, box: Box) -> list[Point]:
    """The points a box serves."""
    return [p for i in box.points if (p := job.find(Point, i)) is not None]


def layout_in(model: BoxModel, c: Contents) -> Layout | None:
    """The contents in this model, or None if it has too few bays."""
    if model.openings < 1 or (c.mains and model.mains_outlets < 1):
        return None
    signal, mains = math.ceil(c.signal / model.openings), math.ceil(c.mains / max(1, model.mains_outlets))
    if mains > model.mains_bays or signal + mains > model.bays:
        return None
    # bays that mains does not take hold signal modules with blank plates: that is where spare places come from
    return Layout(model, max(signal, model.bays - mains), mains, c)


def size_key(model: BoxModel) -> tuple[float, float, int]:
    """Smaller first: by cutout area, then price, then bays."""
    area = model.across.si * model.along.si if model.across and model.along else math.inf
    return area, float(model.cost) if model.cost is not None else math.inf, model.bays


def smallest(job: Job, c: Contents, surface: str) -> Layout | None:
    """The smallest model for this surface that takes the contents, or None."""
    for model in sorted((m for m in job.all(BoxModel) if m.surface == surface), key=size_key):
        found = layout_in(model, c)
        if found is not None:
            return found
    return None


def layout(job: Job, box: Box) -> Layout | None:
    """The layout of a box: in its chosen model, or in the smallest that takes it; None if nothing does."""
    return layout_of(job, box, contents(job, points_of(job, box)))


def layout_of(job: Job, box: Box, c: Contents) -> Layout | None:
    """As `layout`, for contents that are known."""
    chosen = job.find(BoxModel, box.model) if box.model else None
    return layout_in(chosen, c) if chosen is not None else smallest(job, c, box.surface)


def reconciled(job: Job) -> Job:
    """The job with openings, circuits and cables that follow the need of every box that is not built yet."""
    job = _only_box_serves(job)
    # in the order in which they were made, so that a smaller need retires the newest
    have: dict[str, list[Opening]] = {}
    for opening in job.all(Opening):
        if opening.state != "retired":
            have.setdefault(opening.box, []).append(opening)
    shared = (job.settings, job.tables.get(Event.kind), job.tables.get(BoxModel.kind))
    for box in job.boxes():
        if box.state not in FIXED_STATES:
            held = have.get(box.id, [])
            job = _followed(box.id, job, (*shared, box, *points_of(job, box), None, *held),
                            lambda job, box=box, held=held: _openings_follow(job, box, held))  # type: ignore[misc]
    kinds = (Opening, Box, Circuit, OldOutlet, Cable, CableType)
    return _followed("lines", job, [job.tables.get(kind.kind) for kind in kinds], _lines_follow)


# What was looked at when nothing had to follow, by box: records and tables never change in place, so that the same
# objects need no second look.
_settled: dict[str, Sequence[object]] = {}
MOST_SETTLED = 1000


def _followed(name: str, job: Job, seen: Sequence[object], follow: Callable[[Job], Job]) -> Job:
    """`follow(job)`, unless `seen`, all that it looks at, is what it was when nothing had to follow."""
    before = _settled.get(name, ())
    if len(before) == len(seen) and all(a is b for a, b in zip(before, seen, strict=True)):
        return job
    after = follow(job)
    if all(after.tables.get(kind) is table for kind, table in job.tables.items()) and len(after.tables) == len(job.tables):
        if len(_settled) >= MOST_SETTLED:
            _settled.clear()
        _settled[name] = seen
    return after


def _only_box_serves(job: Job) -> Job:
    """In a job with one box, points whose place nobody has entered plug into it: the smallest job needs no more.

    A row just begun has neither a place nor a need, and waits for its place.
    """
    boxes = job.boxes()
    if len(boxes) != 1 or boxes[0].state in FIXED_STATES:
        return job
    more = [p.id for p in job.all(Point) if p.x is None and p.y is None and p.counts() and p.id not in boxes[0].points]
    return job.with_records([boxes[0].model_copy(update={"points": (*boxes[0].points, *more)})]) if more else job


def _openings_follow(job: Job, box: Box, have: Sequence[Opening]) -> Job:
    """`have`: the box's openings that are not retired."""
    needed = contents(job, points_of(job, box))
    plan, wanted = layout_of(job, box, needed), needed.openings
    changed: list[Opening] = []
    kept: list[Opening] = []
    for kind in KINDS:
        of_kind = [o for o in have if o.what == kind]
        kept += of_kind[:wanted.get(kind, 0)]
        changed += [o.model_copy(update={"state": "retired"}) for o in of_kind[wanted.get(kind, 0):]]
    bays = plan.model.bays if plan else 10**6
    mains_bays = plan.mains_bays if plan else 0
    per = {True: plan.model.mains_outlets if plan else 2, False: plan.model.openings if plan else 4}
    taken: set[tuple[int, int]] = set()
    placed: list[Opening] = []
    for o in kept:
        mains = o.what == "mains"
        fits = 1 <= o.bay <= bays and 1 <= o.slot <= per[mains] and (o.bay > bays - mains_bays) == mains
        if fits and (o.bay, o.slot) not in taken:
            taken.add((o.bay, o.slot))
            placed.append(o)
    housed = {o.id for o in placed}
    homeless = [o for o in kept if o.id not in housed]
    short = _short(box)
    missing = [k for k in KINDS for _ in range(wanted.get(k, 0) - sum(o.what == k for o in kept))]
    job, ids = job.new_ids(Opening, len(missing))
    gone = {o.id for o in changed}
    used_labels = {o.label for o in job.all(Opening) if o.state != "retired" and o.id not in gone} if missing else set()
    fresh = []
    for kind, new_id in zip(missing, ids, strict=True):
        label = next_label(f"{short}-{connections()[kind].letter}", used_labels)
        fresh.append(Opening(id=new_id, box=box.id, what=kind, label=label))
    for o in [*homeless, *fresh]:
        spots = _free_places(o.what, bays, mains_bays, per, taken) if plan else None
        bay, slot = spots if spots else (0, 0)
        if (bay, slot) != (0, 0):
            taken.add((bay, slot))
        if (o.bay, o.slot) != (bay, slot) or o.id in ids:
            changed.append(o.model_copy(update={"bay": bay, "slot": slot}))
    return job.with_records(changed) if changed else job


def _short(box: Box) -> str:
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


def _free_places(kind: str, bays: int, mains_bays: int, per: dict[bool, int],
                 taken: set[tuple[int, int]]) -> tuple[int, int] | None:
    """First free place: mains in the last bays; loudspeakers from the far end of the signal bays, away from microphones."""
    if kind == "mains":
        places = [(b, s) for b in range(bays - mains_bays + 1, bays + 1) for s in range(1, per[True] + 1)]
    else:
        places = [(b, s) for b in range(1, bays - mains_bays + 1) for s in range(1, per[False] + 1)]
        if kind == "loudspeaker":
            places.reverse()
    return next((p for p in places if p not in taken), None)


def _lines_follow(job: Job) -> Job:
    """One circuit for each signal opening in use, one mains request a box; one cable for each new signal circuit."""
    live = {o.id: o for o in job.all(Opening) if o.state == "in use"}
    retired_boxes = {b.id for b in job.all(Box) if b.state == "retired"}
    live = {i: o for i, o in live.items() if o.box not in retired_boxes}
    held: set[str] = set()
    changed: list[Circuit] = []
    for circuit in job.circuits():
        left = tuple(i for i in circuit.openings if i in live)
        if not left and circuit.openings:
            changed.append(circuit.model_copy(update={"state": "retired"}))
        elif left != circuit.openings:
            changed.append(circuit.model_copy(update={"openings": left}))
        held.update(left)
    job = job.with_records(changed)
    boxes = {b.id: b for b in job.boxes()}
    orphans = [o for o in live.values() if o.id not in held and o.box in boxes]
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
    used = {c.label for c in job.circuits()}
    new: list[Circuit] = []
    for o, new_id in zip(signals, ids, strict=False):
        label = o.label if o.label not in used else next_label(o.label.rstrip("0123456789"), used)
        used.add(label)
        new.append(Circuit(id=new_id, label=label, what=o.what, openings=(o.id,)))
    for (box_id, opening_ids), new_id in zip(mains.items(), ids[len(signals):], strict=True):
        short = _short(boxes[box_id])
        label = f"{short}-P" if f"{short}-P" not in used else next_label(f"{short}-P", used)
        new.append(Circuit(id=new_id, label=label, what="mains", openings=tuple(opening_ids)))
    job = _reuse_old_lines(job.with_records(new))
    return _cables_follow(job)


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
    """A cable for each signal circuit that has none and reuses no old line; a cable left with nothing goes."""
    circuits = {c.id: c for c in job.circuits()}
    changed: list[Cable] = []
    gone: list[str] = []
    carried: set[str] = set()
    for cable in job.all(Cable):
        left = tuple(i for i in cable.circuits if i in circuits and not circuits[i].reused)
        carried.update(left)
        if not left:
            gone.append(cable.id)
        elif left != cable.circuits:
            changed.append(cable.model_copy(update={"circuits": left}))
    job = job.with_records(changed).without(Cable, gone) if changed or gone else job
    need = [c for c in circuits.values() if c.what != "mains" and not c.reused and c.id not in carried]
    types = {k: next((t.id for t in job.all(CableType) if t.what == k), "") for k in KINDS}
    job, ids = job.new_ids(Cable, len(need))
    return job.with_records(Cable(id=i, label=c.label, circuits=(c.id,), type=types[c.what])
                            for c, i in zip(need, ids, strict=True))


def open_items(job: Job) -> list[OpenItem]:
    """Boxes with nothing to do, points without a box, contents that no model takes, built boxes that lack openings."""
    items = []
    served = {i for b in job.boxes() for i in b.points}
    for p in job.all(Point):
        if p.counts() and p.id not in served and (job.boxes() or len(job.all(Point)) > 1):
            items.append(OpenItem("point-unserved", "boxes", f"Point {p.name}", "no floor box or panel serves it",
                                  f"{sum(p.counts().values())} connections", "the box plan",
                                  "give it to a box in reach, or place one", MEND, "positions frozen",
                                  ("point", p.id)))
    for box in job.boxes():
        c = contents(job, points_of(job, box))
        where = ("box", box.id)
        if not c.openings:
            items.append(OpenItem("box-idle", "boxes", box.title, "no event uses it", "0 openings", "the inventory",
                                  "give it points, or leave it out", CHECK, record=where))
            continue
        if not any(m.surface == box.surface for m in job.all(BoxModel)):
            items.append(OpenItem("no-models", "boxes", box.title,
                                  f"there is no box model for a {box.surface} in the list", "0 models",
                                  "your box models", "add a model that you can buy", TO_DO, "panels ordered", where))
            continue
        if layout(job, box) is None:
            chosen = job.find(BoxModel, box.model) if box.model else None
            best = smallest(job, c, box.surface)
            cure = f"choose {best.model.label}" if best else "split its points over two boxes, or add a larger model"
            who = chosen.label if chosen else "no model in the list"
            items.append(OpenItem("box-too-small", "boxes", box.title,
                                  f"{who} does not take {c.signal} signal openings and {c.mains} mains outlets",
                                  f"{c.signal} + {c.mains}", "bays and openings of the box models", cure, MEND,
                                  "panels ordered", where))
        if box.state in FIXED_STATES:
            items += _built_differs(job, box, c)
    return items


def _built_differs(job: Job, box: Box, c: Contents) -> list[OpenItem]:
    have: dict[str, int] = {}
    for o in job.openings(box.id):
        have[o.what] = have.get(o.what, 0) + 1
    short = {k: n - have.get(k, 0) for k, n in c.openings.items() if n > have.get(k, 0)}
    if not short:
        return []
    words = ", ".join(f"{n} {k}" for k, n in short.items())
    return [OpenItem("built-box-short", "boxes", box.title, f"is built and lacks openings that are now needed: {words}",
                     words, "need against what is built", "use a spare place, another box, or a surface multicore",
                     MEND, record=("box", box.id))]
