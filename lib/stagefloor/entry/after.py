"""After the work: what a label leads to, and what runs while a box, a line or a raceway is out of service."""

from collections.abc import Callable
from html import escape

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.gallery import Gallery
from stagefloor.entry.session import Session
from stagefloor.job.cables import Node, Segment
from stagefloor.job.inventory import Event, kind_name
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.results import Results
from stagefloor.steps import closeout

KINDS = (("A box", "box"), ("A line", "circuit"), ("A raceway", "segment"))


def service(session: Session) -> widgets.Widget:
    """Type a label, read all that is known of its line."""
    ask = widgets.Combobox(description="Label", placeholder="for example the label on the lid", options=[],
                           layout=widgets.Layout(width="340px"), ensure_option=False)
    ask.add_class("sf-service-label")
    view = show.view(session, lambda results: told(results, ask.value), "service")
    gallery = Gallery(session.path.parent)

    def refresh(_: object = None) -> None:
        view.value = f'<div class="sf">{told(session.results(), ask.value)}</div>'
        pictures()

    def pictures() -> None:
        found = _found(session.results(), ask.value)
        shown = dict.fromkeys(i for r in found or () for i in r.pictures)
        gallery.show(session.job, [p for i in shown if (p := session.job.find(Picture, i))],
                     "No picture of this line, its box or its defects." if found else "")

    def options() -> None:
        ask.options = closeout.labels(session.job)

    options()
    session.listen(options)
    session.listen(pictures)
    ask.observe(refresh, "value")
    return show.stack(ask, view, gallery)


def _found(results: Results, label: str) -> list[closeout.ServiceRecord]:
    try:
        return closeout.service(results.job, results.lines, results.readings, label) if label.strip() else []
    except Problem:
        return []


def told(results: Results, label: str) -> str:
    """Line, way, tests, defects, photos of a label."""
    if not label.strip():
        return show.paragraph("Type the label of a line, an opening or a box.")
    try:
        found = closeout.service(results.job, results.lines, results.readings, label)
    except Problem as problem:
        return show.paragraph(problem.sentence)
    return "".join(_record(r) for r in found)


def _record(r: closeout.ServiceRecord) -> str:
    about = [("Kind", kind_name(r.kind)), ("Box", r.box), ("Openings", ", ".join(r.openings)), ("Rack", r.rack or "–"),
             ("Cable", r.cable), ("Length", r.length), ("Way from the rack", " – ".join(r.way)), ("Old line", r.old_line),
             ("Defects", "; ".join(r.defects)), ("Photos", ", ".join(r.photos)), ("Closed by", ", ".join(r.closed_by))]
    rows = [(t.test, "–" if t.measured is None else f"{t.measured:g} {t.unit}", t.outcome, f"{t.date} {t.time}".strip(),
             t.instrument, t.by,
             str(len(t.earlier)) if t.earlier else "") for t in r.tests]
    tests = show.table(("Test", "Reading", "Outcome", "Date", "Instrument", "By", "Earlier"), rows, (6,)) if rows else \
        show.paragraph("No test is recorded.")
    return f"<h3>{escape(r.label)}</h3>" + show.table(("What", "As recorded"), [(k, v) for k, v in about if v]) + tests


def outage(session: Session) -> widgets.Widget:
    """Choose what is out of service, read what becomes of each event."""
    kind = widgets.Dropdown(description="Out", options=KINDS, layout=widgets.Layout(width="220px"))
    which = widgets.Dropdown(description="Which", options=[("choose", "")], layout=widgets.Layout(width="320px"))
    kind.add_class("sf-outage-kind")
    which.add_class("sf-outage-which")
    view = show.view(session, lambda results: told_outage(results, str(kind.value), str(which.value or "")), "outage")

    def refresh(_: object = None) -> None:
        view.value = f'<div class="sf">{told_outage(session.results(), str(kind.value), str(which.value or ""))}</div>'

    def choices(_: object = None) -> None:
        wanted = [("choose", ""), *CHOICES[str(kind.value)](session.job)]
        if list(which.options) != wanted:
            which.options = wanted

    choices()
    session.listen(choices)
    kind.observe(choices, "value")
    which.observe(refresh, "value")
    return show.stack(widgets.HBox([kind, which], layout=widgets.Layout(flex_flow="row wrap")), view)


def _segments(job: Job) -> list[tuple[str, str]]:
    names = {n.id: n.name for n in job.all(Node)}
    return [(s.label or f"{names.get(s.start, '?')} to {names.get(s.end, '?')}", s.id) for s in job.all(Segment)]


CHOICES: dict[str, Callable[[Job], list[tuple[str, str]]]] = {
    "box": lambda job: [(b.title, b.id) for b in job.boxes()],
    "circuit": lambda job: [(c.name, c.id) for c in job.circuits()],
    "segment": _segments,
}


def told_outage(results: Results, kind: str, record_id: str) -> str:
    """Which events run, where to patch, what is lost."""
    job = results.job
    if record_id not in job.tables.get(kind, {}):
        return show.paragraph("Choose what is out of service.")
    found = closeout.out_of_service(job, results.lines, kind, record_id)
    touched = [e for e in found.events if e.state != closeout.RUNS]
    well = [e.title for e in found.events if e.state == closeout.RUNS]
    lead = f"{found.what} out of service takes {len(found.lines)} line{'' if len(found.lines) == 1 else 's'}: " + (
        f"{sum(e.state == closeout.RUNS and not e.along for e in found.events)} of {len(job.all(Event))} events run as they "
        "are.")
    rows = [(e.title, e.state, "; ".join(f"{p.point}: {p.count} {kind_name(p.kind)} in {p.box}" for p in e.patches),
             "; ".join(f"{point}: {n} {kind_name(k)}" for point, k, n in e.lost)) for e in touched]
    body = show.paragraph(lead, "lead")
    if rows:
        body += show.table(("Event", "It", "Plug in instead", "Nothing within reach takes"), rows)
    if well:
        body += show.paragraph("As they are: " + ", ".join(well) + ".")
    if found.lines:
        body += show.folded("Lines that go with it", show.paragraph(", ".join(found.lines)))
    if found.other_way:
        body += show.paragraph(f"{len(found.other_way)} of them could be pulled another way, by raceways that are left.")
    return body
