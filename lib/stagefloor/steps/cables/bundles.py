"""Open items about who shares what: lines in one cable, openings on one line, ready-made assemblies and couplers."""

from collections.abc import Sequence

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.core.units import length_text
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.boxes import Opening
from stagefloor.job.cables import Cable, CableType
from stagefloor.job.model import Job
from stagefloor.reference.connections import connections
from stagefloor.steps.cables.dates import PANELS, STRINGS
from stagefloor.steps.cables.lines import Line

ANALOGUE = ("microphone", "line", "intercom")  # kinds that may share one screened four-pair cable


def bundle_items(job: Job, known: Sequence[Line]) -> list[OpenItem]:
    """All open items of this module."""
    by_cable: dict[str, list[Line]] = {}
    for line in known:
        if line.cable is not None:
            by_cable.setdefault(line.cable.id, []).append(line)
    return [*(i for lines in by_cable.values() for i in _cable_items(job, lines)), *_opening_items(job)]


def _cable_items(job: Job, lines: Sequence[Line]) -> list[OpenItem]:
    cable, kind = lines[0].cable, lines[0].type
    assert cable is not None
    items, where, subject = [], ("cable", cable.id), f"Cable {cable.name}"
    if kind is not None and len(lines) > max(1, kind.lines):
        items.append(OpenItem("cable-overfull", "cables", subject, f"carries more lines than {kind.name} has room for",
                              f"{len(lines)} lines of {max(1, kind.lines)}", "lines in one cable, by your cable types",
                              "a larger cable, or a second one", MEND, STRINGS, where))
    boxes = sorted({line.box.label for line in lines})
    if len(boxes) > 1:
        items.append(OpenItem("cable-two-boxes", "cables", subject, f"carries lines of {' and '.join(boxes)}",
                              f"{len(boxes)} boxes", "a home run goes from one box to the rack without a splice",
                              "a cable for each box, or a box to split it in that can be reached", MEND, STRINGS, where))
    kinds = sorted({line.circuit.what for line in lines})
    if len(kinds) > 1 and not set(kinds) <= set(ANALOGUE):
        items.append(OpenItem("cable-mixed", "cables", subject, f"carries {' and '.join(kinds)} together",
                              f"{len(kinds)} kinds", "common practice, no source: only analogue lines of one level share a "
                              "screened multipair cable; a loudspeaker line has a cable of its own",
                              "a cable for each kind", MEND, STRINGS, where))
    if kind is not None and kind.assembly:
        items += _assembly_items(job, cable, kind, lines)
    return items


def _assembly_items(job: Job, cable: Cable, kind: CableType, lines: Sequence[Line]) -> list[OpenItem]:
    """A ready-made assembly is bought in a length and never cut: it must reach, and its head must be known."""
    items, where, subject = [], ("cable", cable.id), f"Cable {cable.name}"
    need = max(line.way.metres for line in lines)
    if cable.typed_length is None:
        items.append(OpenItem("assembly-length", "cables", subject, "is a ready-made assembly, its length is not chosen",
                              f"{length_text(need, job.settings.units)} needed", "the way with its slack",
                              "choose the next longer one that is sold, and type it as its length", TO_DO, STRINGS, where))
    elif cable.typed_length.si < need - 1e-9:
        values = (Value("L", "way with its slack", need, "m"), Value("l", "the assembly", cable.typed_length.si, "m"))
        working = Working("An assembly that is too short", "s = L - l", values,
                          Value("s", "too short by", need - cable.typed_length.si, "m"),
                          (Basis("an assembly is never cut or joined", JOB),))
        items.append(OpenItem("assembly-short", "cables", subject, "is a ready-made assembly and does not reach",
                              f"{length_text(cable.typed_length.si, job.settings.units)} of "
                              f"{length_text(need, job.settings.units)}", "the way with slack; it is never cut or joined",
                              "the next longer one, or a shorter way", MEND, STRINGS, where, workings=(working,)))
    if kind.head is None:
        items.append(OpenItem("assembly-head", "cables", f"Cable type {kind.name}", "its largest head is not entered",
                              "1 size", "the head has to go through every raceway on the way",
                              "measure it, or take it from the data sheet", TO_DO, STRINGS, ("cabletype", kind.id),
                              f"How large is the largest head of {kind.name}, over all?"))
    return items


def _opening_items(job: Job) -> list[OpenItem]:
    """Lines with more openings than one: fine for loudspeakers, tolerable for microphones, never for data and coax."""
    openings = {o.id: o for o in job.all(Opening) if o.state != "retired"}
    items = []
    for c in job.circuits():
        held = [openings[i] for i in c.openings if i in openings]
        rule = connections()[c.what].duplicate if c.what in connections() else "yes"
        if c.what == "mains" or len(held) < 2 or rule == "yes":
            continue
        never = rule == "never"
        items.append(OpenItem(
            "line-shared", "cables", f"Line {c.label or c.id}", "has two openings or more in parallel"
            + (": that is never done with this kind" if never else ": only one of them may be used at a time"),
            f"{len(held)} openings: {', '.join(o.label for o in held)}", connections()[c.what].basis.line(),
            "a line for each opening" + ("" if never else ", or a note on the panel"), MEND if never else CHECK, PANELS,
            ("circuit", c.id)))
    return items


def link_of(kind: CableType | None, what: str) -> str:
    """How a data line is to be tested, by what its cable ends in; empty for another kind."""
    if what != "data":
        return ""
    if kind is not None and kind.assembly:
        return "as its maker tested it; check that it works"
    return "modular plug terminated link" if kind is not None and kind.coupler else "permanent link"

