"""Mains as a request: outlets and loads by circuit, breaker loading, drop, panel. The licensed electrician decides."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stagefloor.calculations.mains import (
    ELECTRICIAN,
    circuit_load,
    plugged_load,
    receptacle_load,
    voltage_drop_dc,
    voltage_drop_uk,
)
from stagefloor.core.open_items import CHECK, TO_DO, OpenItem
from stagefloor.core.problems import Problem
from stagefloor.core.words import counted
from stagefloor.core.workings import JOB, MEMORY, Basis, Value, Working
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Circuit
from stagefloor.job.mains import BranchCircuit, MainsLoad
from stagefloor.job.model import Job
from stagefloor.steps.nearest import right_angled
from stagefloor.steps.paths import TYPICAL_DETOUR, place_of

STRINGS = "raceways in, strings proved"
NAMED = 8  # in one sentence
REQUEST = "a request to the licensed electrician; the local code decides"
VOLTS = {"US": 120.0, "IEC/UK": 230.0}
SHARED = (15.0, 20.0, 30.0)  # ratings for which a share of one plugged-in load is published, A


@dataclass(frozen=True)
class Branch:
    """One mains circuit with what is on it.

    Attributes
    ----------
    boxes : labels of what it feeds; outlets : how many; loads : what plugs in
    amps : the loads' current, A, or of the outlets counted at their published load where none is entered (`assumed`)
    load, drop : breaker loading and voltage drop; None while a figure for them is missing
    metres : one-way length to the farthest box, None if unknown; rough : nobody measured it
    """

    record: BranchCircuit
    boxes: tuple[str, ...]
    outlets: int
    loads: tuple[MainsLoad, ...]
    amps: float
    assumed: bool
    volts: float
    metres: float | None
    rough: bool
    load: Working | None
    drop: Working | None


def branches(job: Job) -> list[Branch]:
    """Every mains circuit that was entered."""
    boxes = {b.id: b for b in job.boxes()}
    openings = _outlets(job)
    circuits = _in_use(job, openings)
    loads: dict[str, list[MainsLoad]] = {}
    for load in job.all(MainsLoad):
        loads.setdefault(load.at, []).append(load)
    return [_branch(job, b, circuits, boxes, openings, loads) for b in job.all(BranchCircuit)]


def _outlets(job: Job) -> dict[str, Opening]:
    boxes = {b.id for b in job.boxes()}
    return {o.id: o for o in job.all(Opening) if o.state != "retired" and o.box in boxes}


def _in_use(job: Job, outlets: Mapping[str, Opening]) -> dict[str, Circuit]:
    """The mains of boxes that something can be plugged into: those all of whose outlets are retired are none."""
    return {c.id: c for c in job.circuits() if c.what == "mains"
            and (not c.openings or any(i in outlets for i in c.openings))}


def _branch(job: Job, record: BranchCircuit, circuits: dict[str, Circuit], boxes: dict[str, Box],
            openings: dict[str, Opening], loads: dict[str, list[MainsLoad]]) -> Branch:
    held = [openings[i] for c in record.feeds if c in circuits for i in circuits[c].openings if i in openings]
    fed = [boxes[i] for i in dict.fromkeys(o.box for o in held)]
    mine = tuple(x for c in record.feeds if c in circuits for x in loads.get(c, ()))
    volts = record.voltage or VOLTS[job.settings.basis]
    known = [x for x in mine if x.amps is not None]
    assumed = not known
    amps = sum(x.amps or 0.0 for x in known)
    if assumed and held:
        amps = receptacle_load(len(held)).result.amount / volts
    metres, rough = _length(job, record, fed)
    load = drop = None
    if record.rating and record.rating > 0 and amps:
        load = _loading(job, record, known, amps, volts)
        if metres is not None and record.conductor.strip():
            drop = _drop(job, metres, amps, record.conductor.strip(), volts)
    return Branch(record, tuple(b.label for b in fed), len(held), mine, amps, assumed, volts, metres, rough, load, drop)


def _length(job: Job, record: BranchCircuit, fed: Sequence[Box]) -> tuple[float | None, bool]:
    """(one-way length to the farthest box in metres, whether it is a guess)."""
    if record.way is not None:
        return float(record.way.si), False
    s = job.settings
    if s.panel_x is None or s.panel_y is None:
        return None, True
    panel = (s.panel_x.si, s.panel_y.si, 0.0)
    spots = [p for b in fed if (p := place_of(b)) is not None]
    return (max(right_angled(panel, p) for p in spots) * TYPICAL_DETOUR if spots else None), True


def _loading(job: Job, record: BranchCircuit, known: Sequence[MainsLoad], amps: float, volts: float) -> Working:
    """Breaker loading: 125 % of what runs on and the rest by the US rule, the sum of currents by the other."""
    rating = record.rating or 0.0
    lasting = sum(x.amps or 0.0 for x in known if x.continuous)
    if job.settings.basis == "US":
        return circuit_load(lasting, amps - lasting, rating)
    return Working("Load of a mains circuit", "I_b = sum of the currents", (Value("n", "loads", max(1, len(known))),),
                   Value("I_b", "design current", amps, "A"),
                   (Basis("IEC 60364-4-43 433.1: the design current is not above the rating of the device", MEMORY),),
                   Value("", "rating", rating, "A"), notes=(ELECTRICIAN,))


def _drop(job: Job, metres: float, amps: float, conductor: str, volts: float) -> Working | None:
    try:
        if job.settings.basis == "US":
            return voltage_drop_dc(metres, amps, conductor, voltage_v=volts)
        return voltage_drop_uk(metres, amps, conductor, voltage_v=volts)
    except Problem:
        return None  # a size that the table has not: said as an open item


def open_items(job: Job, known: Sequence[Branch] | None = None) -> list[OpenItem]:
    """What the licensed electrician has to be asked."""
    found = branches(job) if known is None else known
    items = [*_without_circuit(job), *_fed_twice(job), *_nowhere(job), *_panel(job, found)]
    for b in found:
        items += _of_branch(job, b)
    return items + _loads(job, found)


def _item(code: str, subject: str, what: str, amount: str, cure: str, state: str, *, basis: str = "",
          record: tuple[str, str] | None = None, question: str = "", workings: tuple[Working, ...] = ()) -> OpenItem:
    return OpenItem(code, "cables", subject, what, amount, f"{basis}; {REQUEST}" if basis else REQUEST, cure, state, STRINGS,
                    record, question, workings)


def _without_circuit(job: Job) -> list[OpenItem]:
    fed = {c for b in job.all(BranchCircuit) for c in b.feeds}
    openings = {o.id for o in job.all(Opening) if o.state != "retired"}
    bare = [(c, n) for c in job.circuits() if c.what == "mains" and c.id not in fed
            and (n := sum(i in openings for i in c.openings))]
    if not bare:
        return []
    names = ", ".join(c.label for c, _ in bare[:8]) + (" ..." if len(bare) > 8 else "")
    return [_item("mains-no-circuit", "Mains outlets", f"are on no circuit yet: {names}",
                  f"{(many := sum(n for _, n in bare))} mains outlet{'' if many == 1 else 's'} in {len(bare)} "
                  f"box{'' if len(bare) == 1 else 'es'}",
                  "hand outlets and loads to the licensed electrician, and enter the circuits that come back", TO_DO,
                  record=("circuit", bare[0][0].id),
                  question="Which circuits shall feed the mains outlets, from which panel, with which breakers?")]


def _fed_twice(job: Job) -> list[OpenItem]:
    feeding: dict[str, list[str]] = {}
    records = job.all(BranchCircuit)
    for b in records:
        for c in dict.fromkeys(b.feeds):
            feeding.setdefault(c, []).append(b.name)
    known = _in_use(job, _outlets(job))
    twice = [(known[c], names) for c, names in feeding.items() if c in known and len(names) > 1]
    if not twice:
        return []
    told = "; ".join(f"{c.label}: {', '.join(names)}" for c, names in twice[:NAMED]) + (" ..." if len(twice) > NAMED else "")
    return [_item("mains-fed-twice", "Mains outlets", "are fed by more than one circuit; their loads count on each", told,
                  "ask the licensed electrician which one feeds them, and take the others off; outlets of one box on "
                  "two circuits are two lines", CHECK, record=("circuit", twice[0][0].id))]


def _nowhere(job: Job) -> list[OpenItem]:
    """Loads that are on no breaker, because no outlet is entered for them or theirs was retired."""
    known = _in_use(job, _outlets(job))
    lost = [x for x in job.all(MainsLoad) if x.at not in known]
    if not lost:
        return []
    amps = sum(x.amps or 0.0 for x in lost)
    names = ", ".join(x.name for x in lost[:NAMED]) + (" ..." if len(lost) > NAMED else "")
    return [_item("mains-load-nowhere", "Mains loads", f"are plugged in nowhere, so that they are on no circuit: {names}",
                  counted(len(lost), "load") + (f", {amps:g} A" if amps else ""),
                  "choose the outlets that they plug into, or delete them", TO_DO, basis="the outlets in use",
                  record=("mainsload", lost[0].id))]


def _panel(job: Job, found: Sequence[Branch]) -> list[OpenItem]:
    ways = job.settings.panel_ways
    asked = [b for b in found if b.record.feeds]
    if not ways or len(asked) <= ways:
        return []
    values = (Value("n", "circuits", len(asked)), Value("w", "spare ways in the panel", ways))
    working = Working("Ways in the panel", "n <= w", values, Value("n", "circuits", len(asked)),
                      (Basis("the job sheet", JOB),), Value("w", "spare ways", ways))
    return [_item("mains-panel-full", "Mains panel", "has fewer spare ways than circuits are asked for",
                  f"{len(asked)} circuits, {ways} spare ways",
                  "ask the licensed electrician for a sub-panel, or put outlets together", CHECK, workings=(working,))]


def _of_branch(job: Job, b: Branch) -> list[OpenItem]:
    items, where, subject = [], ("branchcircuit", b.record.id), f"Mains circuit {b.record.name}"
    size = b.record.conductor.strip()
    missing = [word for word, there in (("breaker", b.record.rating), ("conductor", size),
                                        ("length, or the place of the panel", b.metres is not None)) if not there]
    if b.outlets and missing:
        items.append(_item("mains-unknown", subject, f"can't be looked at yet, not known: {', '.join(missing)}",
                           f"{len(missing)} figures", "ask the licensed electrician, and enter what comes back", TO_DO,
                           record=where))
    if size and b.amps and not missing and b.drop is None:
        items.append(_item("mains-conductor", subject, f"'{size[:20]}' is not a conductor of the table", "1 size",
                           f"type it as the table has it, for example {'12' if job.settings.basis == 'US' else '2.5'}",
                           TO_DO, basis="the voltage drop tables", record=where))
    for working, code, what, cure in (
            (b.load, "mains-load", "is asked for more than its breaker is for", "fewer loads on it, or one circuit more"),
            (b.drop, "mains-drop", "loses more voltage than the recommendation", "a larger conductor, or a shorter way")):
        if working is not None and working.holds is False and working.limit is not None:
            items.append(_item(code, subject, what + (" (loads assumed)" if b.assumed else ""),
                               f"{working.result.text()} of {working.limit.text()}",
                               f"ask the licensed electrician: {cure}", CHECK, record=where, workings=(working,),
                               basis="; ".join(x.line() for x in working.basis)))
    return items


def _loads(job: Job, found: Sequence[Branch]) -> list[OpenItem]:
    items = []
    unknown = [x for x in job.all(MainsLoad) if x.amps is None]
    if unknown:
        items.append(_item("mains-load-unknown", "Mains loads", "have no current entered: "
                           + ", ".join(x.name for x in unknown[:6]), f"{len(unknown)} loads", "read it off the plate", TO_DO,
                           basis="the plate of the equipment", record=("mainsload", unknown[0].id)))
    for b in found:
        for x in b.loads:
            share = _share(job, b, x)
            if share is not None and share.holds is False and share.limit is not None:
                items.append(_item(
                    "mains-one-load", f"Load {x.name}", f"takes more than one load may of circuit {b.record.name}",
                    f"{share.result.text()} of {share.limit.text()}", "ask the licensed electrician for its own circuit",
                    CHECK, basis="; ".join(w.line() for w in share.basis), record=("mainsload", x.id), workings=(share,)))
    volts = {c: b.volts for b in found for c in b.record.feeds}
    return items + [_shut_in(x, volts.get(x.at, VOLTS[job.settings.basis])) for x in job.all(MainsLoad) if x.shut_in]


def _share(job: Job, b: Branch, x: MainsLoad) -> Working | None:
    """One plugged-in load against its share of a circuit with more outlets; None where no rule is published."""
    if job.settings.basis != "US" or not x.amps or b.record.rating not in SHARED or b.outlets < 2:
        return None
    return plugged_load(x.amps, b.record.rating)


def _shut_in(x: MainsLoad, volts: float) -> OpenItem:
    heat = Working("Heat in a shut box, at most", "P = U * I",
                   (Value("U", "voltage", volts, "V"), Value("I", "current", x.amps or 0.0, "A")),
                   Value("P", "power", volts * (x.amps or 0.0), "W"),
                   (Basis("all of the current turns to heat: on the safe side", JOB),))
    return _item("mains-shut-in", f"Load {x.name}", "runs in a box with its lid shut, where its heat can't leave",
                 f"up to {heat.result.text()}" if x.amps else "power not known",
                 "take it out of the box, or ask the maker of the box and the licensed electrician whether it may stay",
                 CHECK, basis="common practice, no source: chargers and supplies need air", record=("mainsload", x.id),
                 workings=(heat,) if x.amps else ())
