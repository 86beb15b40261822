"""What is in each box: openings from the need, modules in bays with mains behind the barrier, the smallest model.

Adopted openings and circuits keep their ids: a changed need adds or retires, never renumbers, and what it retired comes
back as it was.
"""

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.boxes import Box, BoxModel, Opening
from stagefloor.job.inventory import KINDS, Event, Point
from stagefloor.job.model import Job
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.line_records import FOLLOWED, lines_follow, next_label, short_name, woken
from stagefloor.steps.inventory import Peak, peaks

FIXED_STATES = ("built",)
SET_STATES = ("roughed in", "built")  # the hole is cut for one model


def is_fixed(box: Box) -> bool:
    """Whether a box stays where it is: so marked by hand, or its hole is cut."""
    return box.pinned or box.state in SET_STATES


@dataclass(frozen=True)
class Contents:
    """What a box must hold: openings of each kind (need plus spare), and the events that drive each.

    `aside`: how many of the openings were marked as spare by hand; no line goes to them and they serve no need.
    """

    need: dict[str, Peak]
    openings: dict[str, int]
    aside: Mapping[str, int] = field(default_factory=dict)

    @property
    def in_use(self) -> dict[str, int]:
        """Openings of each kind that take a line."""
        return {k: n - self.aside.get(k, 0) for k, n in self.openings.items()}

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


def contents(job: Job, points: Sequence[Point], aside: Mapping[str, int] | None = None) -> Contents:
    """Need over the points of a box, with the job's spare share rounded up for each kind.

    `aside`: openings by kind that were marked as spare by hand; they are the spare ones, as far as they go.
    """
    need, aside = peaks(job, points), aside or {}
    share = (job.settings.spare_percent or 0.0) / 100
    counts = {k: need[k].count if k in need else 0 for k in KINDS if k in need or k in aside}
    return Contents(need, {k: n + max(math.ceil(n * share - 1e-9), aside.get(k, 0)) for k, n in counts.items()}, aside)


def contents_of(job: Job, box: Box) -> Contents:
    """What a box must hold, with the openings that were marked as spare in it."""
    return contents(job, points_of(job, box), _aside(job).get(box.id))


_counted: tuple[object, dict[str, dict[str, int]]] = (None, {})


def _aside(job: Job) -> dict[str, dict[str, int]]:
    """Box -> kind -> openings marked as spare; counted once for a table of openings, which never changes in place."""
    global _counted
    table = job.tables.get(Opening.kind)
    known, found = _counted
    if known is not table:
        found = {}
        for o in job.all(Opening):
            if o.state == "spare":
                held = found.setdefault(o.box, {})
                held[o.what] = held.get(o.what, 0) + 1
        _counted = (table, found)
    return found


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
    """The layout of a box: in its chosen model, or in the smallest that takes it; None if nothing does.

    What is built stays as it is: its layout holds the openings that are in it if it can't take what is needed by now.
    """
    needed = contents_of(job, box)
    found = layout_of(job, box, needed)
    if found is None and box.state in FIXED_STATES:
        built = Counter(o.what for o in job.openings(box.id))
        return layout_of(job, box, Contents(needed.need, dict(built), needed.aside)) if built else None
    return found


def layout_of(job: Job, box: Box, c: Contents) -> Layout | None:
    """As `layout`, for contents that are known."""
    chosen = job.find(BoxModel, box.model) if box.model else None
    return layout_in(chosen, c) if chosen is not None else smallest(job, c, box.surface)


def reconciled(job: Job) -> Job:
    """The job with openings, circuits and cables that follow the need of every box that is not built yet."""
    job = _models_stay(_only_box_serves(job))
    # in the order in which they were made, so that a smaller need retires the newest
    have: dict[str, list[Opening]] = {}
    resting: dict[str, list[Opening]] = {}
    for opening in job.all(Opening):
        if opening.state != "retired":
            have.setdefault(opening.box, []).append(opening)
        elif opening.was:
            resting.setdefault(opening.box, []).append(opening)
    shared = (job.settings, job.tables.get(Event.kind), job.tables.get(BoxModel.kind))
    for box in job.boxes():
        if box.state not in FIXED_STATES:
            held, rest = have.get(box.id, []), resting.get(box.id, [])
            job = _followed(
                box.id, job, (*shared, box, *points_of(job, box), None, *held, None, *rest),
                lambda job, box=box, held=held, rest=rest: _openings_follow(job, box, held, rest))  # type: ignore[misc]
    return _followed("lines", job, [job.tables.get(kind.kind) for kind in FOLLOWED], lines_follow)


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


def _models_stay(job: Job) -> Job:
    """A box that is roughed in or built keeps the model that it has then, whatever the need or the list says later."""
    named = [box.model_copy(update={"model": plan.model.id}) for box in job.boxes()
             if box.state in SET_STATES and not box.model and (plan := layout(job, box)) is not None]
    return job.with_records(named) if named else job


def _openings_follow(job: Job, box: Box, have: Sequence[Opening], resting: Sequence[Opening]) -> Job:
    """`have`: the box's openings that are not retired; `resting`: those that a smaller need retired."""
    needed = contents_of(job, box)
    plan, wanted = layout_of(job, box, needed), needed.in_use
    changed = [woken(o) for o in have if o.was]  # put in use again by hand
    have = [*({o.id: o for o in have} | {o.id: o for o in changed}).values()]
    kept: list[Opening] = []
    back: list[Opening] = []
    for kind in KINDS:
        most = wanted.get(kind, 0)
        in_use = [o for o in have if o.what == kind and o.state == "in use"]
        kept += [o for o in have if o.what == kind and o.state != "in use"] + in_use[:most]
        changed += [o.model_copy(update={"state": "retired", "was": o.state}) for o in in_use[most:]]
        # the newest was retired first, so that the oldest comes back first
        back += [o for o in resting if o.what == kind][:max(0, most - len(in_use))]
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
    short = short_name(box)
    there = Counter(o.what for o in [*kept, *back] if o.state != "spare")
    missing = [k for k in KINDS for _ in range(wanted.get(k, 0) - there[k])]
    job, ids = job.new_ids(Opening, len(missing))
    labels = Counter(o.label for o in job.all(Opening) if o.state != "retired" or o.was) if missing or back else Counter()
    used_labels = set(labels)  # one that rests keeps its label: it may come back
    fresh = []
    for o in back:
        free = labels[o.label] == 1
        label = o.label if free else next_label(o.label.rstrip("0123456789"), used_labels)
        fresh.append(woken(o, state=o.was, label=label))
    for kind, new_id in zip(missing, ids, strict=True):
        label = next_label(f"{short}-{connections()[kind].letter}", used_labels)
        fresh.append(Opening(id=new_id, box=box.id, what=kind, label=label))
    made = {o.id for o in fresh}
    for o in [*homeless, *fresh]:
        spots = _free_places(o.what, bays, mains_bays, per, taken) if plan else None
        bay, slot = spots if spots else (0, 0)
        if (bay, slot) != (0, 0):
            taken.add((bay, slot))
        if (o.bay, o.slot) != (bay, slot) or o.id in made:
            changed.append(o.model_copy(update={"bay": bay, "slot": slot}))
    return job.with_records(changed) if changed else job


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


def open_items(job: Job) -> list[OpenItem]:
    """Boxes with nothing to do, points without a box, contents that no model takes, built boxes that lack openings."""
    items = []
    served: dict[str, list[Box]] = {}
    for b in job.boxes():
        for i in b.points:
            served.setdefault(i, []).append(b)
    for p in job.all(Point):
        if p.counts() and len(served.get(p.id, ())) > 1:
            names = " and ".join(b.label for b in served[p.id])
            items.append(OpenItem("point-twice", "boxes", f"Point {p.name}", f"is served by {names}",
                                  f"{len(served[p.id])} boxes, each with its own openings and lines", "the box plan",
                                  "take it off all but one, unless it shall have both", CHECK, "positions frozen",
                                  ("point", p.id)))
        if p.counts() and p.id not in served and (job.boxes() or len(job.all(Point)) > 1):
            items.append(OpenItem("point-unserved", "boxes", f"Point {p.name}", "no floor box or panel serves it",
                                  f"{sum(p.counts().values())} connections", "the box plan",
                                  "give it to a box in reach, or place one", MEND, "positions frozen",
                                  ("point", p.id)))
    for box in job.boxes():
        c = contents_of(job, box)
        where = ("box", box.id)
        if not c.need:
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
    have = Counter(o.what for o in job.openings(box.id) if o.state == "in use")
    short = {k: n - have[k] for k, n in c.in_use.items() if n > have[k]}
    if not short:
        return []
    words = ", ".join(f"{n} {k}" for k, n in short.items())
    cure = "use a spare place, another box, or a surface multicore"
    if any(c.aside.get(k) for k in short):
        cure = "put its spare openings in use, " + cure
    return [OpenItem("built-box-short", "boxes", box.title, f"is built and lacks openings that are now needed: {words}",
                     words, "need against what is built", cure, MEND, record=("box", box.id))]
