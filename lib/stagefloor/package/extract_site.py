"""From a job to the site sheet's file: every field that a crew may see is named here, one by one, as words.

Hours, costs, prices, risks, suppliers and remarks for the office are never read here.
"""

from collections.abc import Callable, Sequence

from stagefloor.core.units import length_text, long_length_text, number_text
from stagefloor.drawings.face import place_name
from stagefloor.job import edit
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Cable, CableType, Circuit, Segment
from stagefloor.job.closeout import AsBuilt, Punch, Remark
from stagefloor.job.exchange.sheet_file import LIMITS
from stagefloor.job.inventory import kind_name
from stagefloor.job.model import Job
from stagefloor.job.reading_text import OVER, units_for
from stagefloor.job.sheet import OldOutlet
from stagefloor.job.typed import cell_text
from stagefloor.readers import site
from stagefloor.reference.connections import connections
from stagefloor.reference.tables import load
from stagefloor.results import Results
from stagefloor.steps.boxes.fit_slab import uncut
from stagefloor.steps.cables import Line
from stagefloor.steps.closeout import Limit, ReadingJudged, line_limits, required_tests
from stagefloor.steps.closeout.readings import TOO_LOW
from stagefloor.steps.paths import where_text

Own = Callable[[str], str]  # a text of ours in the job's words
CREW = "crew"  # whose remarks and defects a crew may read
CAUTIONS = (
    "Mains: only the licensed electrician opens, wires and tests it; breaker off, locked, proved dead.",
    "No cutting, drilling or coring that is not on the released drawing: joists, beams and slabs wait for the engineer.",
    "Cut and drill with extraction or water and the mask that the dust asks for; suspected asbestos or lead: stop.",
    "An opening in the floor is guarded or covered, marked and secured before you turn away.",
    "Never a high test voltage on a line with equipment attached.",
)


def site_sheet(results: Results, sheet: str, made: str, crew: str, boxes: Sequence[str] = ()) -> site.SiteSheet:
    """The site sheet of one crew. `boxes`: ids of the floor boxes it works on; empty: all of them."""
    job, own = results.job, results.words.text
    wanted = [b for b in job.boxes() if not boxes or b.id in boxes]
    ids = {b.id for b in wanted}
    lines = {line.circuit.id: line for line in results.lines}
    readings: dict[str, list[ReadingJudged]] = {}
    for r in results.readings:
        readings.setdefault(r.circuit, []).append(r)
    return site.SiteSheet(
        sheet=sheet, made=made, venue=job.settings.venue or "the venue", crew=crew or "the crew",
        origin=job.settings.origin, unit=edit.default_unit(job, "length"),
        lines=tuple(_line(job, own, c, box, lines.get(c.id), readings.get(c.id, [])) for box in wanted
                    for c in sorted(_circuits(job, box), key=lambda c: c.label)),
        boxes=tuple(_box(job, own, b) for b in wanted),
        punch=tuple(site.Punch(label=p.label, owner=p.owner, due=p.due, closed=p.closed) for p in job.all(Punch)
                    if p.audience == CREW),
        remarks=tuple(f"{r.about}: {r.words}" if r.about else r.words for r in job.all(Remark)
                      if r.audience == CREW and r.words and (not boxes or not _other_box(job, r.about, ids))),
        units={unit: units_for(unit) for unit in sorted({r.text("reading_in") for r in load("line_tests")} - {""})},
        over=OVER.pattern, limits=LIMITS,
        cautions=tuple(map(own, CAUTIONS)))


def _other_box(job: Job, about: str, ids: set[str]) -> bool:
    return any(b.label == about and b.id not in ids for b in job.boxes())


def _circuits(job: Job, box: Box) -> list[Circuit]:
    """The lines that start at a box: each belongs to the box of its first opening."""
    openings = {o.id: o for o in job.all(Opening)}
    found = []
    for circuit in job.circuits():
        held = [openings[i] for i in circuit.openings if i in openings]
        if held and held[0].box == box.id:
            found.append(circuit)
    return found


def _line(job: Job, own: Own, circuit: Circuit, box: Box, line: Line | None, readings: Sequence[ReadingJudged]) -> site.Line:
    openings = [o for o in job.openings(box.id) if o.id in circuit.openings]
    places = ", ".join(f"{o.label} ({place_name(o.bay, o.slot)})" if o.bay else o.label for o in openings)
    limits = line_limits(job, circuit, line.metres if line else None)
    old = job.find(OldOutlet, circuit.reused) if circuit.reused else None
    return site.Line(
        id=circuit.id, label=circuit.label or circuit.id, kind=own(_kind(circuit)),
        starts=f"{box.title}, {places}" if places else box.title, ends=circuit.rack or "rack",
        cable=_cable(job, line), way=_way(job, line), length=_length(job, line),
        measured=cell_text(job, line.cable, "typed_length") if line and line.cable else "",
        reused=f"uses the old line '{old.label}': test it before it is reused" if old else "",
        tests=tuple(_test(own, t.test, t.method, limits.get(t.test), t.reading_in,
                          [r for r in readings if r.test == t.test]) for t in required_tests(circuit.what)),
        by_electrician=circuit.what == "mains")


def _kind(circuit: Circuit) -> str:
    return f"{kind_name(circuit.what)}, {connections()[circuit.what].connector}"


def _cable(job: Job, line: Line | None) -> str:
    cable: Cable | None = line.cable if line else None
    kind: CableType | None = line.type if line else None
    words = [cable.label if cable else "", kind.label if kind else ""]
    if cable and len(cable.circuits) > 1:
        words.append(f"carries {len(cable.circuits)} lines")
    return ", ".join(w for w in words if w)


def _way(job: Job, line: Line | None) -> str:
    if line is None or line.way.rough:
        return ""
    segments = {s.id: s.label for s in job.all(Segment)}
    return " to ".join(segments[i] or i for i in line.way.segments if i in segments)


def _length(job: Job, line: Line | None) -> str:
    if line is None or line.metres <= 0:
        return "not known"
    text = long_length_text(line.metres, job.settings.units)
    return f"{text}, measured" if line.typed else f"about {text}" + (", no way is drawn yet" if line.way.rough else "")


def _test(own: Own, test: str, method: str, limit: Limit | None, unit: str, readings: Sequence[ReadingJudged]) -> site.Test:
    # without a figure in the record there is none to type: a limit in words still stands
    low, high, expected = (limit.low, limit.high, limit.expected) if limit else (None, None, None)
    shown = limit.unit if limit else unit
    before = tuple(_reading(e) for r in readings for e in (*r.earlier, r))
    return site.Test(test=test, shown=own(test), method=own(method), unit=unit, low=low, high=high, before=before,
                     expected=f"{number_text(expected, 3)} {shown}" if expected is not None else "",
                     limit=_limit(low, high, shown), below=TOO_LOW if limit and limit.low_is_length else "")


def _limit(low: float | None, high: float | None, unit: str) -> str:
    if low is not None and high is not None:
        return f"{number_text(low, 3)} to {number_text(high, 3)} {unit}"
    if high is not None:
        return f"at most {number_text(high, 3)} {unit}"
    return f"at least {number_text(low, 3)} {unit}" if low is not None else ""


def _reading(r: ReadingJudged) -> str:
    figure = f"{number_text(r.measured)} {r.unit}".strip() if r.measured is not None else ""
    return " ".join(w for w in (figure, "" if not r.outcome else f"({r.outcome})", r.date) if w)


def _box(job: Job, own: Own, box: Box) -> site.Box:
    built = next((b for b in reversed(job.all(AsBuilt)) if b.box == box.id), None)
    display = job.settings.units
    place = where_text(box.x.si, box.y.si, display) if box.x and box.y else "not fixed yet"
    if box.z and box.z.si:
        place += f", {length_text(box.z.si, display)} high"
    openings = tuple(f"{o.label}: {own(kind_name(o.what))}{', spare' if o.state == 'spare' else ''}"
                     + (f" ({place_name(o.bay, o.slot)})" if o.bay else "") for o in job.openings(box.id))
    sheet = site.Box(id=box.id, title=box.title, place=own(place), x=cell_text(job, box, "x"), y=cell_text(job, box, "y"),
                     z=cell_text(job, box, "z"), openings=openings,
                     note=" ".join((*map(own, uncut(job, box)), box.remark)).strip())
    if built is None:
        return sheet
    return sheet.model_copy(update={
        "built_id": built.id, "built_x": cell_text(job, built, "x"), "built_y": cell_text(job, built, "y"),
        "built_z": cell_text(job, built, "z"), "modified": built.modified, "built_note": built.note_text})
