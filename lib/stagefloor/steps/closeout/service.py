"""The call five years later: a label leads to its line, the way, the tests, the photos, and who closed it."""

from collections.abc import Sequence
from dataclasses import dataclass

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import length_text
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Circuit
from stagefloor.job.closeout import AsBuilt, Punch
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.job.record import Record
from stagefloor.job.sheet import OldOutlet
from stagefloor.steps.cables import Line
from stagefloor.steps.closeout.readings import ReadingJudged


@dataclass(frozen=True)
class ServiceRecord:
    """All that is known of one line. `way`: its legs in order, from the rack; `closed_by`: who made the last good tests;
    `pictures`: ids of the pictures of the line, its box, and their defects.
    """

    label: str
    kind: str
    box: str
    openings: tuple[str, ...]
    rack: str
    cable: str
    length: str
    way: tuple[str, ...]
    tests: tuple[ReadingJudged, ...]
    defects: tuple[str, ...]
    photos: tuple[str, ...]
    closed_by: tuple[str, ...]
    old_line: str = ""
    pictures: tuple[str, ...] = ()


def labels(job: Job) -> list[str]:
    """Every label that can be asked for: lines, openings and boxes."""
    found = [c.name for c in job.circuits()] + [b.label for b in job.boxes()]
    found += [o.label for b in job.boxes() for o in job.openings(b.id)]
    return sorted({f for f in found if f.strip()})


def service(job: Job, lines: Sequence[Line], judged: Sequence[ReadingJudged], label: str) -> list[ServiceRecord]:
    """The lines that a label means: of the line itself, of an opening, or all of a box. A Problem if it means none."""
    word = label.strip().lower()
    boxes = {b.id: b for b in job.boxes()}
    openings = {o.id: o for b in boxes for o in job.openings(b)}
    found = [c for c in job.circuits() if c.name.lower() == word] or [
        c for c in job.circuits() if any(openings[i].label.lower() == word for i in c.openings if i in openings)] or [
        c for c in job.circuits()
        if any(boxes[openings[i].box].label.lower() == word for i in c.openings if i in openings)]
    if not found:
        known = labels(job)
        near = nearest(word, [k.lower() for k in known])
        tip = next((f"; is it {k}?" for k in known if k.lower() == near), ".") if near else "."
        raise Problem(f"Nothing is labelled '{label.strip()[:40]}'{tip}")
    by_circuit = {line.circuit.id: line for line in lines}
    return [_record(job, c, by_circuit.get(c.id), judged, openings, boxes) for c in found]


def _record(job: Job, circuit: Circuit, line: Line | None, judged: Sequence[ReadingJudged],
            openings: dict[str, Opening], boxes: dict[str, Box]) -> ServiceRecord:
    held = [openings[i] for i in circuit.openings if i in openings]
    box = boxes.get(held[0].box) if held else None
    tests = tuple(j for j in judged if j.circuit == circuit.id)
    named = {circuit.name.lower(), *((box.label.lower(),) if box else ())}
    defects = [p for p in job.all(Punch) if p.about.strip().lower() in named]
    built = [e for e in job.all(AsBuilt) if box and e.box == box.id]
    old = job.find(OldOutlet, circuit.reused) if circuit.reused else None
    length, cable = "not known", ""
    way: tuple[str, ...] = ()
    if line is not None:
        length = length_text(line.metres, job.settings.units) + (
            ", measured on the cable" if line.typed else ", of a typical path" if line.way.rough else ", of the drawn way")
        cable = " ".join(x for x in (line.cable.name if line.cable else "", line.type.name if line.type else "") if x)
        way = tuple(leg.what for leg in line.way.legs)
    elif circuit.what == "mains":
        length = "the licensed electrician's"
    return ServiceRecord(
        circuit.name, circuit.what, box.title if box else "", tuple(o.label for o in held), circuit.rack, cable, length,
        way, tests,
        tuple(f"{p.name}: " + (f"closed {p.closed}" + (f" by {p.closed_by}" if p.closed_by else "") if p.closed.strip()
                               else f"open, {p.owner or 'nobody named yet'}") for p in defects),
        tuple(dict.fromkeys(x for x in (*(e.photo for e in built), *(p.photo for p in defects)) if x.strip())),
        tuple(dict.fromkeys(j.by for j in tests if j.good and j.by.strip())), old.name if old else "",
        _pictures(job, circuit, box, (*built, *defects)))


def _pictures(job: Job, circuit: Circuit, box: Box | None, records: Sequence[Record]) -> tuple[str, ...]:
    homes = [(r.kind, r.id) for r in (circuit, box, *records) if r is not None]
    return tuple(p.id for p in job.all(Picture) if (p.on, p.to) in homes)
