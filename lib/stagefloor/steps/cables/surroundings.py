"""Open items about what lies round a raceway: zones to keep clear, power beside it, seals, mains compartments."""

import math

from stagefloor.calculations.separation import separations
from stagefloor.core.open_items import CHECK, MEND, OpenItem
from stagefloor.core.units import FOOT, length_text
from stagefloor.core.workings import PRACTICE, Basis, Value, Working
from stagefloor.job.cables import Node, Segment
from stagefloor.job.model import Job
from stagefloor.job.sheet import KeepClear, Service
from stagefloor.steps.boxes.geometry import Rect, segment_meets_rect
from stagefloor.steps.cables.dates import STRINGS
from stagefloor.steps.cables.lines import Line
from stagefloor.steps.cables.raceways import between, lines_through, name_between
from stagefloor.steps.paths import place_of

# A raceway that goes round an obstacle keeps this much from it.
DETOUR_CLEARANCE = 1.0 * FOOT  # common practice, no source
# Shorter stretches side by side are taken as a crossing.
PARALLEL_FROM = 1.0 * FOOT  # common practice, no source
# Heights count from the stage floor; a hair above it is still on it.
ON_FLOOR = 1e-6


def under_items(job: Job, known: list[Line]) -> list[OpenItem]:
    """Raceways below a zone under which nothing may run, once for each pair of nodes; none that is overhead."""
    items, seen = [], set()
    for s in job.all(Segment):
        a, b = job.find(Node, s.start), job.find(Node, s.end)
        pa, pb = (place_of(a) if a else None), (place_of(b) if b else None)
        if pa is None or pb is None or s.blocked or min(pa[2], pb[2]) > ON_FLOOR:
            continue  # overhead: it passes above the zone
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
            touched = {line.circuit.id: line.box.label for t in twins for line in lines_through(known, t)}
            who = ", ".join(sorted(set(touched.values())))
            display = job.settings.units
            unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
            working = Working("Way round the zone", "m = 2 (a + c)",
                              (Value("a", "from the raceway to the nearer side of the zone", aside * per, unit),
                               Value("c", "kept from it", DETOUR_CLEARANCE * per, unit)),
                              Value("m", "more length for each line", more * per, unit),
                              (Basis("going round an obstacle", PRACTICE),))
            items.append(OpenItem(
                "raceway-under-zone", "cables", f"Raceway {name_between(job, s)}", f"passes under {z.name}",
                f"about {length_text(more, display)} more on each of {len(touched)} lines"
                + (f" of {who}" if who else ""), "keep-clear zones of the job sheet: nothing under it",
                f"route it round {z.name}; every length through it changes", MEND, STRINGS, ("segment", s.id),
                workings=(working,)))
    return items


def beside_items(job: Job) -> list[OpenItem]:
    """Signal raceways beside other services, once for each pair of nodes and service."""
    items, limit = [], job.settings.power_gap
    for found in between(job).values():
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
                "beside-power", "cables", f"Raceway {name_between(job, group[0])} ({classes})",
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


def trunking_items(job: Job) -> list[OpenItem]:
    """Sleeves that let sound through, and mains compartments beside signal without a known barrier."""
    items, bare, absent = [], [], False
    for group in between(job).values():
        first = group[0]
        if any(s.seal == "needed, open" for s in group):
            items.append(OpenItem(
                "sleeve-open", "cables", f"Raceway {name_between(job, first)}", "its seal is open: sound and air pass "
                "along it from room to room", "1 seal open", "this job's own seals; common practice: one open gap undoes "
                "a sound-rated wall", "seal it after the last pull with a seal that can be opened again; a fire-rated wall "
                "asks for a tested firestop", MEND, STRINGS, ("segment", first.id)))
        trunking = [s for s in group if s.way == "trunking"]
        signal = [s for s in trunking if s.signal_class != "mains"]
        if signal and len(signal) < len(trunking) and any(s.barrier != "fixed and bonded" for s in signal):
            bare.append((name_between(job, first), first.id))
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
