"""Every signal line: its box, way and length, and what the calculation at its own length says. Lengths in metres."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stagefloor.calculations.copper import loop_resistance
from stagefloor.calculations.data import permanent_link_length
from stagefloor.calculations.loudspeaker import loudspeaker_loss
from stagefloor.calculations.video import coax_loss
from stagefloor.core.problems import Problem
from stagefloor.core.units import FOOT
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import CLASS_OF, Cable, CableType, Circuit
from stagefloor.job.inventory import KINDS
from stagefloor.job.model import Job
from stagefloor.steps.cables.loads import load_for_loss
from stagefloor.steps.paths import Routes, Way, routes, way

PICTURE_FORMAT = "3G"  # assumed until the venue says otherwise


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


def lines(job: Job) -> list[Line]:
    """Every signal circuit that is not retired, in the order of boxes and labels."""
    known: dict[str, Routes] = {}
    count: Counter[tuple[str, str]] = Counter()
    ways: dict[tuple[str, str], Way] = {}
    openings = {o.id: o for o in job.all(Opening)}
    boxes = {b.id: b for b in job.boxes()}
    cable_of = {c: cable for cable in job.all(Cable) for c in cable.circuits}
    held_lines: list[tuple[Circuit, Box, str]] = []
    for circuit in job.circuits():
        held = [openings[i] for i in circuit.openings if i in openings and openings[i].box in boxes]
        if circuit.what == "mains" or not held:
            continue
        box = boxes[held[0].box]
        signal_class = CLASS_OF[circuit.what]
        key = (box.id, signal_class)
        if key not in ways:
            if signal_class not in known:
                known[signal_class] = routes(job, signal_class)
            ways[key] = way(job, box, signal_class, known[signal_class])
        count[key] += 1
        held_lines.append((circuit, box, signal_class))
    ways = spread(ways, count, known)
    checked: dict[tuple[object, ...], Working | None] = {}  # lines of one box are alike, most of them
    found = []
    for circuit, box, signal_class in held_lines:
        key = (box.id, signal_class)
        cable = cable_of.get(circuit.id)
        kind = job.find(CableType, cable.type) if cable and cable.type else None
        typed = cable is not None and cable.typed_length is not None
        metres = cable.typed_length.si if cable and cable.typed_length else ways[key].metres
        alike = (circuit.what, kind.id if kind else "", metres, circuit.load_line, circuit.load_ohm, circuit.load_w)
        if alike not in checked:
            checked[alike] = check(circuit.what, kind, metres, circuit)
        found.append(Line(circuit, box, cable, kind, ways[key], metres, typed, checked[alike]))
    order = {b: i for i, b in enumerate(boxes)}
    return sorted(found, key=lambda x: (order[x.box.id], KINDS.index(x.circuit.what)))


def spread(ways: Mapping[tuple[str, str], Way], count: Mapping[tuple[str, str], int],
           known: Mapping[str, Routes]) -> dict[tuple[str, str], Way]:
    """The same ways with pulls shared out over raceways of one class side by side, the fullest pull first.

    A pull stays together; each goes to the raceway that has the fewest lines so far, or the first entered.
    """
    alike = {i: e["alike"] for r in known.values() for *_, e in r.raceways.edges(data=True) if len(e["alike"]) > 1
             for i in e["alike"]}
    if not alike:
        return dict(ways)
    load: Counter[str] = Counter()
    found = dict(ways)
    for key in sorted(ways, key=lambda k: -count[k]):
        legs = []
        for leg in ways[key].legs:
            segment = min(alike.get(leg.segment, (leg.segment,)), key=lambda i: load[i])
            load[segment] += count[key] if segment else 0
            legs.append(replace(leg, segment=segment))
        found[key] = replace(ways[key], legs=tuple(legs))
    return found


def check(kind: str, cable: CableType | None, metres: float, circuit: Circuit | None = None) -> Working | None:
    """What the calculation for this kind says at this length; None if the cable's figures are not known.

    `circuit`: the line, whose load the loss of a loudspeaker line goes by. A ready-made assembly is neither bulk coax
    nor a permanent link: its maker says how long it may be.
    """
    if metres <= 0:
        return None
    made_up = cable is not None and cable.assembly
    try:
        if kind == "data":
            return None if made_up else permanent_link_length(metres)
        if kind == "video":
            return None if made_up else coax_loss(metres, PICTURE_FORMAT)
        if kind == "loudspeaker" and cable and cable.awg:
            return _loudspeaker(metres, cable.awg, circuit or Circuit(what=kind))
        if kind in ("microphone", "line", "intercom") and cable and cable.resistance:
            return loop_resistance(metres, cable.resistance.si)
    except Problem:
        return None  # outside the range of the source: there is nothing honest to show
    return None


def _loudspeaker(metres: float, awg: int, circuit: Circuit) -> Working | None:
    load = load_for_loss(circuit)
    if load is None:
        return None
    found = loudspeaker_loss(metres, awg, load.ohm)
    told = f"A load of {load.ohm:g} ohm is assumed: enter what hangs on the line." if load.assumed else \
        f"Z = U² / P = {load.volts:g}² / {load.watts:.4g}, a {circuit.load_line} line." if load.volts else ""
    return replace(found, notes=(told, *found.notes)) if told else found


def one_a_cable(known: Sequence[Line]) -> list[Line]:
    """One line for each new cable, the longest that it carries: what is pulled and bought, however many lines share it."""
    found: dict[str, Line] = {}
    for line in known:
        if line.cable is not None and (line.cable.id not in found or line.metres > found[line.cable.id].metres):
            found[line.cable.id] = line
    return list(found.values())


def cable_totals(known: list[Line]) -> dict[str, float]:
    """Metres of new cable by kind."""
    total: dict[str, float] = defaultdict(float)
    for line in one_a_cable(known):
        total[line.circuit.what] += line.metres
    return dict(total)


def total_working(metres: Mapping[str, float], display: str) -> Working:
    """All cable of the job as one sum."""
    unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
    values = tuple(Value(k[:2], k, v * per, unit, 5) for k, v in metres.items())
    return Working("Cable in all, without waste and reel rounding", "L = sum over kinds",
                   values, Value("L", "cable", sum(metres.values()) * per, unit, 5), (Basis("routed lengths", JOB),))
