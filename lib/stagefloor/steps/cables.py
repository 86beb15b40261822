"""Which way each line goes, how long it is, what the raceways hold, and the takeoff. Lengths in metres."""

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from stagefloor.calculations.copper import loop_resistance
from stagefloor.calculations.data import permanent_link_length
from stagefloor.calculations.loudspeaker import loudspeaker_loss
from stagefloor.calculations.raceways import raceway_fill, smallest_trade_size
from stagefloor.calculations.separation import separations
from stagefloor.calculations.video import coax_loss
from stagefloor.core.open_items import CHECK, MEND, STOP, TO_DO, OpenItem
from stagefloor.core.problems import Problem
from stagefloor.core.units import FOOT, length_text
from stagefloor.core.workings import JOB, PRACTICE, Basis, Value, Working
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import CLASS_OF, CLASSES, Cable, CableType, Circuit, Node, Segment
from stagefloor.job.inventory import KINDS
from stagefloor.job.model import Job
from stagefloor.job.sheet import KeepClear, OldOutlet, Service
from stagefloor.reference import tables
from stagefloor.steps.boxes.geometry import Rect, segment_meets_rect
from stagefloor.steps.paths import Way, graph, place_of, segment_length, way

STRINGS = "raceways in, strings proved"
PANELS = "panels ordered"
# A raceway that goes round an obstacle keeps this much from it.
DETOUR_CLEARANCE = 1.0 * FOOT  # common practice, no source
# Shorter stretches side by side are taken as a crossing.
PARALLEL_FROM = 1.0 * FOOT  # common practice, no source
LOAD_OHM = 8.0  # assumed loudspeaker load until the venue says otherwise
PICTURE_FORMAT = "3G"  # assumed until the venue says otherwise
# The fill rule depends on the system: mandatory for power and fixed audio, a design rule for communications.
SYSTEM_OF = {"microphone": "fixed audio", "line and intercom": "fixed audio", "loudspeaker": "fixed audio",
             "video and data": "communications", "control": "communications", "mains": "power", "any": "fixed audio"}


@dataclass(frozen=True)
class Line:
    """One circuit with its box, way, length and what the calculation at its own length says."""

    circuit: Circuit
    box: Box
    cable: Cable | None
    type: CableType | None
    way: Way
    metres: float
    typed: bool
    check: Working | None

    @property
    def signal_class(self) -> str:
        return CLASS_OF[self.circuit.what]


@dataclass(frozen=True)
class Raceway:
    """One raceway with the cables in it. `size` is the one drawn or, if none is, the smallest that also takes growth."""

    segment: Segment
    metres: float | None
    diameters: tuple[float, ...]
    size: str
    size_now: str
    size_grown: str
    fill: Working | None
    problem: str = ""

    @property
    def area(self) -> float:
        return sum(math.pi / 4 * d * d for d in self.diameters)


def lines(job: Job) -> list[Line]:
    """Every signal circuit that is not retired, in the order of boxes and labels."""
    graphs = {c: graph(job, c) for c in CLASSES[1:]}
    ways: dict[tuple[str, str], Way] = {}
    openings = {o.id: o for o in job.all(Opening)}
    boxes = {b.id: b for b in job.boxes()}
    cable_of = {c: cable for cable in job.all(Cable) for c in cable.circuits}
    found = []
    for circuit in job.circuits():
        held = [openings[i] for i in circuit.openings if i in openings and openings[i].box in boxes]
        if circuit.what == "mains" or not held:
            continue
        box = boxes[held[0].box]
        signal_class = CLASS_OF[circuit.what]
        key = (box.id, signal_class)
        if key not in ways:
            ways[key] = way(job, box, signal_class, graphs[signal_class])
        cable = cable_of.get(circuit.id)
        kind = job.find(CableType, cable.type) if cable and cable.type else None
        typed = cable is not None and cable.typed_length is not None
        metres = cable.typed_length.si if cable and cable.typed_length else ways[key].metres
        found.append(Line(circuit, box, cable, kind, ways[key], metres, typed, check(circuit.what, kind, metres)))
    order = {b: i for i, b in enumerate(boxes)}
    return sorted(found, key=lambda x: (order[x.box.id], KINDS.index(x.circuit.what)))


def check(kind: str, cable: CableType | None, metres: float) -> Working | None:
    """What the calculation for this kind says at this length; None if the cable's figures are not known."""
    if metres <= 0:
        return None
    try:
        if kind == "data":
            return permanent_link_length(metres)
        if kind == "video":
            return coax_loss(metres, PICTURE_FORMAT)
        if kind == "loudspeaker" and cable and cable.awg:
            return loudspeaker_loss(metres, cable.awg, LOAD_OHM)
        if kind in ("microphone", "line", "intercom") and cable and cable.resistance:
            return loop_resistance(metres, cable.resistance.si)
    except Problem:
        return None  # outside the range of the source: there is nothing honest to show
    return None


def one_a_cable(known: Sequence[Line]) -> list[Line]:
    """One line for each new cable, the longest that it carries: what is pulled and bought, however many lines share it."""
    found: dict[str, Line] = {}
    for line in known:
        if line.cable is not None and (line.cable.id not in found or line.metres > found[line.cable.id].metres):
            found[line.cable.id] = line
    return list(found.values())


def raceways(job: Job, known: list[Line] | None = None) -> list[Raceway]:
    """Every raceway of the job with what is in it."""
    through: dict[str, list[float]] = {}
    for line in one_a_cable(lines(job) if known is None else known):
        if line.type is None or line.type.diameter is None or not line.type.diameter.si:
            continue
        for segment in line.way.segments:
            through.setdefault(segment, []).append(line.type.diameter.si)
    return [_raceway(job, s, tuple(through.get(s.id, ()))) for s in job.all(Segment)]


def _raceway(job: Job, segment: Segment, diameters: tuple[float, ...]) -> Raceway:
    metres = segment_length(job, segment)
    if not diameters or segment.way in ("free path", "cable tray", "trunking", "flexible metal conduit"):
        return Raceway(segment, metres, diameters, segment.size, "", "", None)
    system = SYSTEM_OF[segment.signal_class]
    growth = (job.settings.growth_percent or 0.0) / 100
    try:
        now = _smallest(diameters, segment.way, 0.0, system)
        grown = _smallest(diameters, segment.way, growth, system)
        fill = raceway_fill(diameters, segment.way, segment.size or grown, system=system)
        if segment.existing and segment.used_percent:
            fill = _with_found(fill, segment.used_percent)
        return Raceway(segment, metres, diameters, segment.size or grown, now, grown, fill)
    except Problem as problem:
        return Raceway(segment, metres, diameters, segment.size, "", "", None, problem.sentence)


@lru_cache(maxsize=1000)
def _smallest(diameters: tuple[float, ...], raceway: str, growth: float, system: str) -> str:
    return smallest_trade_size(diameters, raceway, growth=growth, system=system)[0]


def _with_found(fill: Working, percent: int) -> Working:
    """The fill with what was found in the raceway already; many cables by then, so that row of the table rules."""
    row = tables.load("nec_ch9_table1_fill").row("over 2")
    return replace(fill, formula=f"{fill.formula} + F_0", limit=row.shown("", "limit", "max_fill"),
                   basis=(row.basis(), *fill.basis[1:]),
                   inputs=(*fill.inputs, Value("F_0", "filled already, as found on site", percent, "%")),
                   result=replace(fill.result, amount=fill.result.amount + percent))


def takeoff(job: Job, known: list[Line] | None = None, in_raceways: list[Raceway] | None = None) -> dict[str, float]:
    """Quantities by name, in pieces or metres; the names that hours and prices count by."""
    found: dict[str, float] = defaultdict(float)
    all_lines = lines(job) if known is None else known
    for box in job.boxes():
        found["floor boxes" if box.surface == "floor" else "wall panels"] += 1
        for o in job.openings(box.id):
            found[f"openings: {o.what}"] += 1
        mains = sum(o.what == "mains" for o in job.openings(box.id))
        found["mains requests"] += 1 if mains else 0
    for line in all_lines:
        kind = line.circuit.what
        found[f"circuits: {kind}"] += 1
        found[f"tests: {kind}"] += 1
        found["labels"] += 1
        found[f"cable ends: {kind}"] += 2 if line.cable else 1
    pulls: set[tuple[str, str]] = set()
    for line in one_a_cable(all_lines):
        key = (line.box.id, line.signal_class)
        found[f"cable m: {line.circuit.what}"] += line.metres
        found["added cables m" if key in pulls else "first cables m"] += line.metres
        pulls.add(key)
    found["pulls"] = len(pulls)
    for r in raceways(job, all_lines) if in_raceways is None else in_raceways:
        if r.metres is not None and not r.segment.existing and r.diameters:
            found[f"raceway m: {r.size or 'size not known'}"] += r.metres
            found["pull strings"] += 1
    for old in job.all(OldOutlet):
        found["old outlets removed" if old.after == "removed" else "old outlets blanked"] += 1
        if old.reuse and old.what != "mains":
            found["old lines tested"] += max(1, old.count)
    return {k: v for k, v in found.items() if v}


def cable_totals(known: list[Line]) -> dict[str, float]:
    """Metres of new cable by kind."""
    total: dict[str, float] = defaultdict(float)
    for line in one_a_cable(known):
        total[line.circuit.what] += line.metres
    return dict(total)


def _name_between(job: Job, segment: Segment) -> str:
    a, b = job.find(Node, segment.start), job.find(Node, segment.end)
    return f"{a.name if a else '?'}–{b.name if b else '?'}"


def _lines_through(known: list[Line], segment_id: str) -> list[Line]:
    return [line for line in known if segment_id in line.way.segments]


def _size_items(job: Job, found: list[Raceway]) -> list[OpenItem]:
    items = []
    order = _trade_order()
    for r in found:
        s, subject = r.segment, f"Raceway {r.segment.name}"
        if r.problem and s.size and s.size not in order:
            items.append(OpenItem("raceway-size-unknown", "cables", subject,
                                  f"'{s.size[:20]}' is not a trade size of the table", f"{len(r.diameters)} cables",
                                  r.problem, "type it as the table has it, for example 1-1/4, or leave it empty", MEND,
                                  STRINGS, ("segment", s.id)))
        elif r.problem:
            items.append(OpenItem("raceway-no-size", "cables", subject, "no size of this kind takes the cables in it",
                                  f"{len(r.diameters)} cables", r.problem, "add a raceway beside it", MEND, STRINGS,
                                  ("segment", s.id)))
        elif s.size and r.size_now and order.get(s.size, 99) < order.get(r.size_now, 0):
            items.append(OpenItem(
                "raceway-too-small", "cables", subject,
                f"{s.size_source or 'the size entered'} gives {s.size} in, {len(r.diameters)} cables need "
                f"{r.size_now} in" + (f" ({r.size_grown} in with growth)" if r.size_grown != r.size_now else ""),
                f"{r.fill.result.text() if r.fill else ''} filled, {r.fill.limit.text() if r.fill and r.fill.limit else ''}"
                " allowed", "; ".join(b.line() for b in r.fill.basis[:2]) if r.fill else "",
                f"{r.size_grown or r.size_now} in, or a second raceway; tell the electrician before it goes in", MEND,
                STRINGS, ("segment", s.id), workings=(r.fill,) if r.fill else ()))
        elif r.fill is not None and r.fill.holds is False:
            items.append(OpenItem("raceway-too-full", "cables", subject,
                                  f"{len(r.diameters)} more cables are too many for what is free in it",
                                  f"{r.fill.result.text()} filled, {r.fill.limit.text() if r.fill.limit else ''} allowed",
                                  "; ".join(b.line() for b in r.fill.basis[:2]), "another raceway for some of them",
                                  MEND, STRINGS, ("segment", s.id), workings=(r.fill,)))
        elif s.size and r.size_grown and order.get(s.size, 99) < order.get(r.size_grown, 0):
            items.append(OpenItem("raceway-no-growth", "cables", subject, f"{s.size} in takes the cables but not the "
                                  "growth of the job's policy", f"{r.size_grown} in with growth",
                                  "this job's growth policy", f"{r.size_grown} in, or accept it", CHECK, STRINGS,
                                  ("segment", s.id), workings=(r.fill,) if r.fill else ()))
    return items


def _trade_order() -> dict[str, int]:
    sizes = [r.key[1] for r in tables.load("nec_ch9_table4_raceways") if r.key[0] == "EMT"]
    return {s: i for i, s in enumerate(sizes)}


def _under_items(job: Job, known: list[Line]) -> list[OpenItem]:
    """Raceways below a zone under which nothing may run, once for each pair of nodes."""
    items, seen = [], set()
    for s in job.all(Segment):
        a, b = job.find(Node, s.start), job.find(Node, s.end)
        pa, pb = (place_of(a) if a else None), (place_of(b) if b else None)
        if pa is None or pb is None or s.blocked:
            continue
        for z in job.all(KeepClear):
            if not z.under or not (z.x0 and z.y0 and z.x1 and z.y1):
                continue
            rect = Rect.between(z.x0.si, z.y0.si, z.x1.si, z.y1.si)
            key = (min(s.start, s.end), max(s.start, s.end), z.id)
            if key in seen or not segment_meets_rect((pa[0], pa[1], pb[0], pb[1]), rect):
                continue
            seen.add(key)
            along_y = abs(pb[1] - pa[1]) >= abs(pb[0] - pa[0])
            aside = (min(pa[0] - rect.x0, rect.x1 - pa[0]) if along_y else min(pa[1] - rect.y0, rect.y1 - pa[1]))
            more = 2 * (aside + DETOUR_CLEARANCE)
            twins = [t.id for t in job.all(Segment) if {t.start, t.end} == {s.start, s.end}]
            touched = {line.circuit.id: line.box.label for t in twins for line in _lines_through(known, t)}
            who = ", ".join(sorted(set(touched.values())))
            display = job.settings.units
            unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
            working = Working("Way round the zone", "m = 2 (a + c)",
                              (Value("a", "from the raceway to the nearer side of the zone", aside * per, unit),
                               Value("c", "kept from it", DETOUR_CLEARANCE * per, unit)),
                              Value("m", "more length for each line", more * per, unit),
                              (Basis("going round an obstacle", PRACTICE),))
            items.append(OpenItem(
                "raceway-under-zone", "cables", f"Raceway {_name_between(job, s)}", f"passes under {z.name}",
                f"about {length_text(more, display)} more on each of {len(touched)} lines"
                + (f" of {who}" if who else ""), "keep-clear zones of the job sheet: nothing under it",
                f"route it round {z.name}; every length through it changes", MEND, STRINGS, ("segment", s.id),
                workings=(working,)))
    return items


def _beside_items(job: Job) -> list[OpenItem]:
    """Signal raceways beside other services, once for each pair of nodes and service."""
    items, limit = [], job.settings.power_gap
    for found in _between(job).values():
        group = [s for s in found if s.signal_class != "mains"]
        if not group:
            continue
        a, b = job.find(Node, group[0].start), job.find(Node, group[0].end)
        pa, pb = (place_of(a) if a else None), (place_of(b) if b else None)
        if pa is None or pb is None or limit is None:
            continue
        for service in job.all(Service):
            if not (service.x0 and service.y0 and service.x1 and service.y1) or service.what in ("pipe", "duct"):
                continue
            qa = (service.x0.si, service.y0.si, service.z0.si if service.z0 else 0.0)
            qb = (service.x1.si, service.y1.si, service.z1.si if service.z1 else 0.0)
            beside = _side_by_side(pa, pb, qa, qb)
            if beside is None or beside[1] < PARALLEL_FROM or beside[0] >= limit.si - 1e-9:
                continue
            apart, stretch = beside
            display = job.settings.units
            classes = "; ".join(s.signal_class for s in group)
            items.append(OpenItem(
                "beside-power", "cables", f"Raceway {_name_between(job, group[0])} ({classes})",
                f"runs beside {service.name} for {length_text(stretch, display)}",
                f"{length_text(apart, display)} apart, {length_text(limit.si, display)} by the job's policy",
                "sources differ (see the working); the job's policy: " + length_text(limit.si, display),
                "move one of them, cross at right angles, or agree on metal raceway with the electrician", MEND,
                STRINGS, ("segment", group[0].id), workings=tuple(separations(apart))))
    return items


Place3 = tuple[float, float, float]


def _side_by_side(pa: Place3, pb: Place3, qa: Place3, qb: Place3) -> tuple[float, float] | None:
    """(distance, stretch) of two runs that are parallel within about 15 degrees; None otherwise. Metres."""
    u = [b - a for a, b in zip(pa, pb, strict=True)]
    v = [b - a for a, b in zip(qa, qb, strict=True)]
    nu, nv = math.hypot(*u), math.hypot(*v)
    if nu == 0 or nv == 0 or abs(sum(x * y for x, y in zip(u, v, strict=True))) / (nu * nv) < math.cos(math.radians(15)):
        return None
    d = [x / nu for x in u]

    def along(q: Place3) -> float:
        return sum((q[i] - pa[i]) * d[i] for i in range(3))

    def off(q: Place3) -> float:
        t = along(q)
        return math.hypot(*(q[i] - pa[i] - t * d[i] for i in range(3)))

    t0, t1 = sorted((along(qa), along(qb)))
    stretch = min(nu, t1) - max(0.0, t0)
    return (min(off(qa), off(qb)), stretch) if stretch > 0 else None


def _between(job: Job) -> dict[tuple[str, str], list[Segment]]:
    """Raceways in use by the pair of nodes they lie between."""
    groups: dict[tuple[str, str], list[Segment]] = {}
    for s in job.all(Segment):
        if not s.blocked:
            groups.setdefault((min(s.start, s.end), max(s.start, s.end)), []).append(s)
    return groups


def _trunking_items(job: Job) -> list[OpenItem]:
    """Sleeves that let sound through, and mains compartments beside signal without a known barrier."""
    items, bare, absent = [], [], False
    for group in _between(job).values():
        first = group[0]
        if any(s.seal == "needed, open" for s in group):
            items.append(OpenItem(
                "sleeve-open", "cables", f"Raceway {_name_between(job, first)}", "its seal is open: sound and air pass "
                "along it from room to room", "1 seal open", "this job's own seals; common practice: one open gap undoes "
                "a sound-rated wall", "seal it after the last pull with a seal that can be opened again; a fire-rated wall "
                "asks for a tested firestop", MEND, STRINGS, ("segment", first.id)))
        trunking = [s for s in group if s.way == "trunking"]
        signal = [s for s in trunking if s.signal_class != "mains"]
        if signal and len(signal) < len(trunking) and any(s.barrier != "fixed and bonded" for s in signal):
            bare.append((_name_between(job, first), first.id))
            absent = absent or any(s.barrier == "not there" for s in signal)
    if bare:
        items.append(OpenItem(
            "trunking-barrier", "cables", "Trunking with a mains compartment", ("a barrier to the mains compartment is not "
            "there: " if absent else "whether the barrier to the mains compartment is fixed and bonded is not known: ")
            + ", ".join(name for name, _ in bare), f"{len(bare)} runs", "a fixed barrier between mains and signal, bonded "
            "if it is metal (NEC 725.136, 800.133; IEC 60364-4-44, from memory)", "have the licensed electrician say and "
            "show that each barrier is fixed and bonded", MEND if absent else CHECK, STRINGS, ("segment", bare[0][1]),
            "" if absent else "Is the barrier beside the mains compartment fixed along its whole length, and bonded?"))
    return items


def _label_items(job: Job) -> list[OpenItem]:
    seen: dict[str, list[Circuit]] = {}
    for c in job.circuits():
        seen.setdefault(c.label.strip().lower(), []).append(c)
    openings, boxes = {o.id: o for o in job.all(Opening)}, {b.id: b for b in job.all(Box)}
    items = []
    for group in seen.values():
        if len(group) > 1 and group[0].label.strip():
            where = [boxes[openings[c.openings[0]].box].label for c in group
                     if c.openings and c.openings[0] in openings and openings[c.openings[0]].box in boxes]
            items.append(OpenItem("label-twice", "cables", f"Line {group[0].label}",
                                  f"{len(group)} lines carry this designator ({', '.join(where)})",
                                  f"{len(group)} of the same", "labels are unique and stand at both ends",
                                  "give one of them another label before labels are printed", MEND, PANELS,
                                  ("circuit", group[0].id)))
        if not group[0].label.strip():
            items.append(OpenItem("label-missing", "cables", f"{len(group)} lines", "have no designator",
                                  f"{len(group)} without", "labels stand at both ends", "label them", TO_DO, PANELS))
    return items


def open_items(job: Job, known: list[Line] | None = None, found: list[Raceway] | None = None) -> list[OpenItem]:
    """What is wrong or unknown about raceways, cables and labels."""
    all_lines = lines(job) if known is None else known
    in_raceways = raceways(job, all_lines) if found is None else found
    items = _size_items(job, in_raceways) + _under_items(job, all_lines) + _beside_items(job) + _trunking_items(job) \
        + _label_items(job)
    for s in job.all(Segment):
        if s.existing and s.string == "unknown":
            items.append(OpenItem("string-unknown", "cables", f"Raceway {s.name}",
                                  "is there already, and nobody knows whether it has a pull string",
                                  f"{s.used_percent} % filled, string not known" if s.used_percent
                                  else "string not known",
                                  "a raceway counts as usable when a string or rod went through",
                                  "prove it with a string or rod before anything relies on it", STOP, STRINGS,
                                  ("segment", s.id), f"Is {s.name} open from end to end, with a string in it?",
                                  (_found_fill(s),) if s.used_percent else ()))
    rough: dict[str, str] = {}
    for line in all_lines:
        if line.way.problem and not line.typed:
            rough.setdefault(f"{line.box.id} {line.signal_class}", line.way.problem)
    for problem in rough.values():
        items.append(OpenItem("no-way", "cables", "Ways", problem, "length not known" if "neither" in problem
                              else "rough length", "the raceways entered", "enter the rack and the raceways, or the way "
                              "to the rack", TO_DO, STRINGS, question="Which way can cables take to the rack, and how "
                              "long is it?"))
    waiting = [o for o in job.all(OldOutlet) if o.reuse and o.what != "mains" and o.tested == "not yet"]
    if waiting:
        items.append(OpenItem("old-line-untested", "cables", "Old lines", "shall be reused and are not tested yet: "
                              + ", ".join(o.name for o in waiting), f"{len(waiting)} of "
                              f"{sum(o.reuse for o in job.all(OldOutlet))}", "old lines are tested before they are "
                              "reused", "test them first; a line that fails is replaced", CHECK, STRINGS))
    untyped = Counter(line.circuit.what for line in all_lines if line.cable and line.type is None)
    for kind, count in untyped.items():
        items.append(OpenItem("no-cable-type", "cables", f"{kind.capitalize()} lines", "have no cable type",
                              f"{count} lines", "your cable types", f"add a cable type for {kind}", TO_DO, STRINGS))
    for line in all_lines:
        if line.check is not None and line.check.holds is False:
            items.append(OpenItem("line-limit", "cables", f"Line {line.circuit.label}",
                                  f"{line.check.name.lower()} at its own length misses the limit",
                                  line.check.result.text() + (f" of {line.check.limit.text()}" if line.check.limit
                                                              else ""),
                                  "; ".join(b.line() for b in line.check.basis[:2]),
                                  "a larger gauge, another medium, a shorter way or an extender", MEND, STRINGS,
                                  ("circuit", line.circuit.id), workings=(line.check,)))
    return items


def _found_fill(segment: Segment) -> Working:
    """The fill that was found on site, as entered."""
    found = Value("f", "filled, as found", segment.used_percent, "%")
    return Working(f"Fill of {segment.name}", "f as entered", (found,), found, (Basis("found on site", JOB),))


def total_working(metres: Mapping[str, float], display: str) -> Working:
    """All cable of the job as one sum."""
    unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
    values = tuple(Value(k[:2], k, v * per, unit, 5) for k, v in metres.items())
    return Working("Cable in all, without waste and reel rounding", "L = sum over kinds",
                   values, Value("L", "cable", sum(metres.values()) * per, unit, 5), (Basis("routed lengths", JOB),))
