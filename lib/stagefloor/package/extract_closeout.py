"""From a job to the closeout part of the client's file: tests, as built, handover, each field named, as words.

Who measured is not told; who released a hold point is: that is its evidence.
"""

from collections import Counter

from stagefloor.core.open_items import OpenItem
from stagefloor.core.units import length_text, number_text
from stagefloor.core.workings import Working
from stagefloor.job.cables import Circuit
from stagefloor.job.closeout import HoldPoint, Punch, Spare, Training
from stagefloor.job.inventory import kind_name
from stagefloor.job.model import Job
from stagefloor.readers.client import record as client
from stagefloor.results import Results
from stagefloor.results.scenes import built_scene
from stagefloor.steps import closeout
from stagefloor.steps.closeout import ReadingJudged
from stagefloor.steps.paths import where_text


def line_tests(results: Results) -> client.LineTests:
    """Every line with its way, every last reading beside what was expected, what does not fit, what is missing."""
    job = results.job
    circuits = {c.id: c for c in job.circuits()}
    homes = _homes(job)
    rows = []
    for r in results.readings:
        rows.append(client.LineTest(
            line=r.line, kind=kind_name(circuits[r.circuit].what), start=homes.get(r.circuit, ""),
            end=_end(circuits[r.circuit]), test=r.test, limit=_limit_words(r.low, r.high, r.unit),
            expected=f"{number_text(r.expected, 3)} {r.unit}" if r.expected is not None else "", reading=_reading(r),
            result="pass" if r.good else "fail" if r.failing else "unknown", date=r.date, instrument=r.instrument,
            before="; ".join(f"{e.date or 'earlier'}: {_reading(e)}{_told(e)}" for e in r.earlier)))
    tests = next((p for p in results.closeout.parts if p.name == "tests"), None)
    summary = f"{tests.done} of {tests.of} tests are done and fit their line." if tests and tests.of else ""
    waiting = Counter(n.who for n in results.closeout.missing if n.part == "tests")
    return client.LineTests(
        summary=summary, rows=tuple(rows), lines=_line_list(results) if results.readings else (),
        not_fitting=tuple(r.sentence for r in results.readings if r.failing),
        missing=tuple(f"{n} tests are still to be done by {who}." for who, n in waiting.items()))


def _told(r: ReadingJudged) -> str:
    return "" if r.good else ", did not fit" if r.failing else ", not judged"


def _reading(r: ReadingJudged) -> str:
    if r.measured is None:
        return r.word
    return f"{r.measured:g} {r.unit}".strip()


def _limit_words(low: float | None, high: float | None, unit: str) -> str:
    if low is not None and high is not None:
        return f"{low:.3g} to {high:.3g} {unit}"
    if high is not None:
        return f"at most {high:.3g} {unit}"
    return f"at least {low:.3g} {unit}" if low is not None else ""


def _line_list(results: Results) -> tuple[client.LineRow, ...]:
    """One row a line; tests as done and fitting of those that its kind needs."""
    job, display = results.job, results.job.settings.units
    known = {line.circuit.id: line for line in results.lines}
    good = Counter(r.circuit for r in results.readings if r.good and r.test in _needed(job, r.circuit))
    homes = _homes(job)
    rows = []
    for c in job.circuits():
        line = known.get(c.id)
        needed = len(closeout.required_tests(c.what))
        rows.append(client.LineRow(
            line=c.name, kind=kind_name(c.what), start=homes.get(c.id, ""), end=_end(c),
            cable=line.type.name if line and line.type else "",
            length=length_text(line.metres, display) + (", measured" if line.typed else ", as drawn") if line else "",
            way=" – ".join(leg.what for leg in line.way.legs if leg.segment) if line else "",
            tests=f"{good[c.id]} of {needed}" if needed else ""))
    return tuple(rows)


def _end(circuit: Circuit) -> str:
    return circuit.rack or ("mains panel" if circuit.what == "mains" else "rack")


def _homes(job: Job) -> dict[str, str]:
    """Circuit id -> the box that it comes from, mains lines too."""
    of = {o.id: b.title for b in job.boxes() for o in job.openings(b.id)}
    return {c.id: next((of[i] for i in c.openings if i in of), "") for c in job.circuits()}


def _needed(job: Job, circuit_id: str) -> set[str]:
    circuit = next((c for c in job.circuits() if c.id == circuit_id), None)
    return {t.test for t in closeout.required_tests(circuit.what)} if circuit else set()


def as_built_rows(job: Job) -> tuple[client.AsBuiltRow, ...]:
    """Each box with an as-built place: where it was planned, where it is, how far off, what else is not as planned."""
    display, rows = job.settings.units, []
    known = closeout.as_built(job)
    if not any(d.measured for d in known):
        return ()
    for d in known:
        if not d.measured or d.built[0] is None or d.built[1] is None:
            rows.append(client.AsBuiltRow(box=d.title, built="not measured yet"))
            continue
        planned = where_text(d.planned[0], d.planned[1], display) \
            if d.planned[0] is not None and d.planned[1] is not None else ""
        rows.append(client.AsBuiltRow(
            box=d.title, planned=planned, built=where_text(d.built[0], d.built[1], display),
            difference=length_text(d.shift, display) if d.shift is not None else "",
            otherwise="; ".join(d.others), photo=d.photo))
    return tuple(rows)


def closeout_told(results: Results) -> client.Closeout:
    """What is there, what is missing and from whom, and all that goes with the handover."""
    job, c = results.job, results.closeout
    begun = bool(results.readings) or any(d.measured for d in closeout.as_built(job))
    if not begun:
        return client.Closeout(warranties=_warranties(job))
    owed: dict[str, list[str]] = {}
    clients = {p.id for p in job.all(Punch) if p.audience == "client"}
    inside = 0
    for need in c.missing:
        if need.part == "punch items" and need.record and need.record[1] not in clients:
            inside += 1  # counted, but its words and its owner are the office's or the crew's
        else:
            owed.setdefault(need.who, []).append(need.what)
    if inside:
        owed.setdefault(job.settings.shop or "the sound contractor", []).append(
            f"Items of our own punch list that are still open: {inside}.")
    lacking = {n.record[1]: n.what for n in c.missing if n.part == "hold points" and n.record}
    return client.Closeout(
        begun=True, there=f"{c.done} of {c.of}",
        parts=tuple(client.PartRow(name=p.name, there=f"{p.done} of {p.of}") for p in c.parts if p.of),
        owed=tuple(client.OwedBy(who=who, what=tuple(what)) for who, what in owed.items()),
        hold_points=tuple(client.HoldPointRow(
            label=p.name, before=p.when, by=p.by, date=p.date, seen=p.evidence, photo=p.photo,
            missing=lacking.get(p.id, "").partition(": ")[2].rstrip(".")) for p in job.all(HoldPoint)),
        spares=tuple(client.SpareRow(label=s.label, quantity=s.quantity, owed_by=s.owner, handed_to=s.given_to, date=s.date)
                     for s in job.all(Spare)),
        training=tuple(client.TrainingRow(label=t.label, who=t.who, owed_by=t.owner, date=t.date)
                       for t in job.all(Training)),
        warranties=_warranties(job),
        changes=tuple(client.ChangeRow(date=x.date, subject=x.subject, what=x.what, planned=x.planned, built=x.built,
                                       note=x.note, photo=x.photo) for x in closeout.changes(job, results.lines)),
        fit_again=tuple(f"{i.subject}, {i.what}" + (f": {i.amount}" if i.amount else "") + "."
                        for i in _refitted(results)),
        scene=built_scene(job), failures=_failures(results))


def _refitted(results: Results) -> list[OpenItem]:
    """What the fit rules say of the places as built."""
    return [i for i in results.items_of("closeout") if i.code.startswith("built-") and i.code != "built-elsewhere"]


def _warranties(job: Job) -> tuple[client.WarrantyRow, ...]:
    return tuple(client.WarrantyRow(sentence=w.sentence, contact=w.contact) for w in closeout.warranty_terms(job))


def _failures(results: Results) -> tuple[client.FailureRow, ...]:
    """Each box out of service, in the events that it is missed in; events to which the same happens stand together."""
    found: dict[tuple[str, str, str, str], list[str]] = {}
    for box in results.job.boxes():
        for e in closeout.out_of_service(results.job, results.lines, "box", box.id).events:
            if e.state == closeout.RUNS:
                continue
            instead = "; ".join(f"{p.point}: {p.count} {kind_name(p.kind)} in {p.box}" for p in e.patches)
            lost: dict[str, list[str]] = {}
            for point, kind, n in e.lost:
                lost.setdefault(point, []).append(f"{n} {kind_name(kind)}")
            words = "; ".join(f"{point}: {', '.join(kinds)}" for point, kinds in lost.items())
            found.setdefault((box.title, e.state, instead, words), []).append(e.title)
    return tuple(client.FailureRow(box=box, event=", ".join(events), state=state, instead=instead, lost=lost)
                 for (box, state, instead, lost), events in found.items())


def closeout_workings(results: Results) -> list[Working]:
    """The workings behind the figures of tests, lengths and as-built places."""
    found = [w for r in results.readings for x in (r, *r.earlier) if (w := x.working)]
    if results.readings:
        display = results.job.settings.units
        found += [line.way.working(line.circuit.label, display) for line in results.lines if not line.typed]
    found += [d.working for d in closeout.as_built(results.job) if d.working]
    found += [b.working for b in closeout.built_lengths(results.lines)]
    found += [w for i in _refitted(results) for w in i.workings]
    return list(dict.fromkeys(found))
