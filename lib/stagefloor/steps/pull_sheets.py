"""Pull sheets: which cables go through a raceway together, in which order, from which reel, both ends. Knows no money.

The order is common practice, no source: from the far end towards the rack, so that all cables of a raceway lie ready at
its far end before it is pulled, and every raceway is pulled once.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stagefloor.core.units import POUND, STANDARD_GRAVITY
from stagefloor.drawings.face import place_name
from stagefloor.job.boxes import Opening
from stagefloor.job.cables import Circuit, Node, Segment
from stagefloor.job.model import Job
from stagefloor.reference import tables
from stagefloor.steps.cables import Line, Pull, Raceway, one_a_cable
from stagefloor.steps.cables.raceways import LAID
from stagefloor.steps.cut_list import CutList, cable_name, cut_length, is_pulled
from stagefloor.steps.paths import segment_length


@dataclass(frozen=True)
class SheetCable:
    """One cable on a pull sheet; `length` is what is cut, m; `lines`: the designators that it carries."""

    id: str
    label: str
    lines: tuple[str, ...]
    type: str
    length: float
    reel: str
    box: str
    box_end: str
    rack_end: str
    pulled: bool


@dataclass(frozen=True)
class PullSheet:
    """One raceway, or the way to one box where none is drawn.

    Attributes
    ----------
    number : in this order they are pulled; far, near : names of its ends, `near` the one towards the rack
    cables : to be pulled, those of the farthest box first; already : in it already
    string : what to do about the pull string; hints : further sentences for the crew
    """

    number: int
    name: str
    way: str
    size: str
    signal_class: str
    metres: float | None
    far: str
    near: str
    cables: tuple[SheetCable, ...]
    already: tuple[SheetCable, ...]
    string: str
    hints: tuple[str, ...]
    segment: str = ""


def sheet_cables(job: Job, lines: Sequence[Line], cuts: Sequence[CutList]) -> dict[str, SheetCable]:
    """Cable id -> what the crew must know of it: length, reel, both ends."""
    reel_of = {cable: f"{reel.name}, no. {reel.number}" if reel.bought else reel.name
               for one in cuts if one.plan for reel in one.plan.reels for cable, _ in reel.cuts}
    found = {}
    for line in one_a_cable(lines):
        assert line.cable is not None
        circuits = [c for i in line.cable.circuits if (c := job.find(Circuit, i)) is not None and c.state != "retired"]
        openings = [o for c in circuits for i in c.openings if (o := job.find(Opening, i)) is not None]
        places = ", ".join(dict.fromkeys(place_name(o.bay, o.slot) if o.bay else o.label for o in openings))
        racks = ", ".join(dict.fromkeys(c.rack for c in circuits if c.rack))
        reel = "ready-made, not cut" if line.type and line.type.assembly else reel_of.get(line.cable.id, "")
        found[line.cable.id] = SheetCable(
            line.cable.id, cable_name(line), tuple(c.label for c in circuits), line.type.label if line.type else "",
            cut_length(line.metres, job.settings.units), reel, line.box.label, f"{line.box.label} {places}".strip(),
            racks or "rack", is_pulled(job, line))
    return found


def pull_sheets(job: Job, lines: Sequence[Line], cuts: Sequence[CutList], raceways: Sequence[Raceway],
                pulls: Sequence[Pull] = ()) -> list[PullSheet]:
    """The pull sheets of a job in the order of work.

    Parameters
    ----------
    pulls : what is pulled in one go, and how hard; empty: not worked out
    """
    known = sheet_cables(job, lines, cuts)
    through: dict[str, list[Line]] = defaultdict(list)
    no_way: dict[str, list[Line]] = defaultdict(list)
    depth: dict[str, float] = {}
    ends: dict[str, tuple[str, str]] = {}
    names = {n.id: n.name for n in job.all(Node)}
    for line in one_a_cable(lines):
        if not line.way.segments:
            no_way[line.box.id].append(line)
            continue
        for segment, near, far, metres in from_rack(job, line.way.segments):
            through[segment.id].append(line)
            depth[segment.id] = max(depth.get(segment.id, 0.0), metres)
            ends[segment.id] = (names.get(near, near), names.get(far, far))
    sheets = []
    for held in no_way.values():
        box = held[0].box
        sheets.append(_sheet(f"Way to {box.label}, not drawn", None, held, known, ("rack", box.label),
                             "Leave a pull string in every raceway that is used.",
                             ("No raceway is drawn to this box: lengths are rough. Measure the way before cutting.",)))
    drawn = [r for r in raceways if r.segment.id in through]
    for raceway in sorted(drawn, key=lambda r: (-depth[r.segment.id], r.segment.name)):
        segment = raceway.segment
        sheets.append(_sheet(segment.name, raceway, through[segment.id], known, ends[segment.id], string_words(segment),
                             (*_hints(segment, through[segment.id]), *_of_pulls(segment, pulls))))
    return [replace(s, number=i) for i, s in enumerate((s for s in sheets if s.cables or s.already), 1)]


def _sheet(name: str, raceway: Raceway | None, held: Sequence[Line], known: Mapping[str, SheetCable],
           ends: tuple[str, str], string: str, hints: tuple[str, ...]) -> PullSheet:
    farthest: dict[str, float] = defaultdict(float)
    for x in held:
        farthest[x.box.id] = max(farthest[x.box.id], x.metres)
    ordered = sorted(held, key=lambda x: (-farthest[x.box.id], x.box.id, cable_name(x)))
    cables = [known[x.cable.id] for x in ordered if x.cable]
    classes = list(dict.fromkeys(x.signal_class for x in held))
    s = raceway.segment if raceway else None
    if there := sum(c.pulled for c in cables):
        hints = (*hints, f"{there} cable{'s are' if there != 1 else ' is'} in it already: don't burn them with the string.")
    return PullSheet(0, name, s.way if s else "", raceway.size if raceway else "", ", ".join(classes),
                     raceway.metres if raceway else None, ends[1], ends[0], tuple(c for c in cables if not c.pulled),
                     tuple(c for c in cables if c.pulled), string, hints, s.id if s else "")


def from_rack(job: Job, segments: Sequence[str]) -> list[tuple[Segment, str, str, float]]:
    """(raceway, node towards the rack, node at its far end, metres from the rack to it) along a way, from the rack out."""
    chain = [s for i in segments if (s := job.find(Segment, i)) is not None]
    racks = {n.id for n in job.all(Node) if n.what == "rack"}
    if chain and not racks & {chain[0].start, chain[0].end} and racks & {chain[-1].start, chain[-1].end}:
        chain.reverse()
    found, metres = [], 0.0
    node = next((n for n in (chain[0].start, chain[0].end) if n in racks), chain[0].start) if chain else ""
    for segment in chain:
        far = segment.end if segment.start == node else segment.start
        metres += segment_length(job, segment) or 0.0
        found.append((segment, node, far, metres))
        node = far
    return found


def _of_pulls(segment: Segment, pulls: Sequence[Pull]) -> tuple[str, ...]:
    """Through which raceways it is pulled in one go, at which end and how hard, as far as that is known."""
    found = []
    for p in (p for p in pulls if segment.id in p.segments):
        if len(p.segments) > 1:
            found.append(f"Pulled in one go through {p.name}: nobody can reach the cable in between.")
        if p.tension is not None:
            bears = f", the cables bear {p.tension.limit.text()}" if p.tension.limit else ""
            found.append(f"Pull at {p.pull_at}, the better end: about {p.tension.result.text()} in all{bears}."
                         + (" That is too much: ask for a pull point first." if p.tension.holds is False else ""))
    return tuple(dict.fromkeys(found))


def string_words(segment: Segment) -> str:
    """What the crew does about the pull string of a raceway."""
    if segment.way in LAID:
        return "Cables are laid in; no string is needed." if segment.way in ("trunking", "cable tray") else \
            "Leave a string where the path can't be reached again."
    if segment.existing and segment.string in ("unknown", "in, not proved"):
        return "Prove it with a string or rod before anything relies on it. Then pull a new string in with the cables and " \
               "leave it, tied off at both ends."
    return "Pull a new string in with the cables and leave it, tied off at both ends."


def _hints(segment: Segment, held: Sequence[Line]) -> tuple[str, ...]:
    found = []
    if any(x.circuit.what == "data" for x in held) and segment.way not in LAID:
        limit = tables.fact("pulling", "four_pair")
        pounds = limit["value"] / (POUND * STANDARD_GRAVITY)
        found.append(f"No more than {limit['value']:g} N ({pounds:.0f} lbf) on each four-pair cable "
                     f"({limit.basis().line()}).")
    if segment.bends:
        found.append(f"{segment.bends} bend{'s' if segment.bends != 1 else ''} of 90 degrees between its ends.")
    if segment.existing and segment.used_percent:
        found.append(f"{segment.used_percent} % of it was filled when it was found: mind the cables that are in it.")
    if segment.seal != "not needed":
        found.append("Close the seal at the wall after the last pull." if segment.seal == "needed, open" else
                     "Its seal is opened for this pull and closed again.")
    return tuple(found)
