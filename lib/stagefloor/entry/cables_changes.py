"""What if the rack moves or a raceway is out, and what changed since an earlier state; nothing is changed unasked."""

import asyncio
import datetime
import time
from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.session import Session, here
from stagefloor.job import edit, versions
from stagefloor.job.cables import Segment
from stagefloor.job.closeout import Revision
from stagefloor.job.fields import quantity
from stagefloor.job.model import Job
from stagefloor.job.wording import typed_texts
from stagefloor.results import compute
from stagefloor.results.change_words import summary
from stagefloor.results.changes import KINDS, Change, changes
from stagefloor.results.what_if import between_same_nodes, raceway_out, rack_moved
from stagefloor.steps.cables.raceways import name_between

NONE = ""
HOW = (("out of use", "blocked"), ("full", "full"))
HEADS = {"line": "Lines", "raceway": "Raceways", "pull": "Pulls", "label": "Labels", "box": "Boxes and panels",
         "quantity": "Quantities", "order": "Order list", "purchase": "What to buy", "hours": "Hours",
         "cost": "Costs", "price": "Price",
         "open item": "Open items"}
Edit = Callable[[Job], Job]


def what_if() -> widgets.Widget:
    """Ask what would change; take it or leave it."""
    session = here()
    unit = edit.default_unit(session.job, "length")
    left = _text(f"Rack to stage left, {unit}", "sf-if-left")
    up = _text(f"Rack upstage, {unit}", "sf-if-up")
    run = widgets.Dropdown(options=_runs(session.job), description="Raceway", **_WIDE)
    run.add_class("sf-if-run")
    how = widgets.Dropdown(options=HOW, description="is", layout={"width": "min(220px, 100%)"},
                           style={"description_width": "40px"})
    ask = _button("See what would change", "sf-if-ask")
    take = _button("Adopt it", "sf-if-take", disabled=True)
    note = widgets.Checkbox(value=True, description="and write it down as a revision", indent=False,
                            layout=widgets.Layout(width="auto"))
    said = _answer(session, "sf-if-answer")
    state: dict[str, Any] = {}

    def question() -> tuple[str, Edit]:
        dx, dy = (quantity(t.value, "length", unit).si if t.value.strip() else 0.0 for t in (left, up))
        if not dx and not dy and not run.value:
            raise Problem("Say how far the rack moves, or choose a raceway; then ask again. A minus means stage right, "
                          "or downstage.")
        words = []
        if dx or dy:
            words.append("the rack moves " + ", ".join(f"{t.value.strip()} {w}" for t, w, d in (
                (left, "to stage left", dx), (up, "upstage", dy)) if d))
        if run.value:
            named = next(n for n, v in run.options if v == run.value)
            words.append(f"{named} {'are' if ' all ' in named else 'is'} {next(n for n, v in HOW if v == how.value)}")
        ids, means = tuple(run.value.split()), how.value

        def change(job: Job) -> Job:
            job = rack_moved(job, dx, dy) if dx or dy else job
            return raceway_out(job, ids, means) if ids else job

        return " and ".join(words), change

    async def work() -> None:
        ask.disabled, take.disabled, said.value = True, True, "Working it out ..."
        try:
            name, change = question()
            before = session.results()
            after = compute(change(session.job))
            found = await asyncio.to_thread(changes, before, after)
            state.update(name=name, change=change, found=found)
            lead = f"If {name}:" if found else f"If {name}, nothing that is worked out here changes."
            said.value = f'<div class="sf">{show.paragraph(lead, "lead")}{listed(found, session.job.settings.units)}</div>'
            take.disabled = not found
        except Problem as problem:
            said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'
        finally:
            ask.disabled = False

    def adopt(_: object) -> None:
        words = tuple(map(session.words.text, summary(state["found"], session.job.settings.units, office=False).sentences))
        today = datetime.date.today().isoformat()

        def whole(job: Job) -> Job:
            job = state["change"](job)
            return revised(job, state["name"], words, today) if note.value else job

        try:
            session.edit(f"What if adopted: {state['name']}", whole)
            said.value = f'<div class="sf">{show.paragraph("Adopted. Undo in the table of raceways takes it back.")}</div>'
            take.disabled = True
        except Problem as problem:
            said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'

    def refresh() -> None:
        options = _runs(session.job)
        if tuple(options) != tuple(run.options):
            run.options = options

    session.listen(refresh)
    ask.on_click(lambda _: session.start(work()))
    take.on_click(adopt)
    return show.stack(_row(left, up), _row(run, how), _row(ask, take, note), said)


def revised(job: Job, name: str, words: tuple[str, ...], date: str) -> Job:
    """The job with a revision that lists the changes for the site: no hours and no money."""
    number = len(job.all(Revision)) + 1
    text = f"{name[:1].upper()}{name[1:]}. " + " ".join(words)
    return edit.add(job, "revision", [{"label": f"Revision {number}", "date": date, "words": text[:3900]}])[0]


def since() -> widgets.Widget:
    """What changed since an earlier state of this job."""
    session = here()
    choose = widgets.Dropdown(description="Since", **_WIDE)
    ask = _button("List the changes", "sf-since-ask")
    said = _answer(session, "sf-since-answer")

    def fill() -> None:
        options = [(f"{_when(v)}{v.name}"[:90], v.sequence) for v in versions.kept(session.path)]
        before, chosen = choose.options, choose.value
        if options != list(before):
            choose.options = options
            # a list that was empty chooses nothing by itself, and one that grew keeps what was chosen
            choose.index = next((i for i, (_, n) in enumerate(options) if n == chosen), 0) if options else None
        if options and not before:
            said.value, ask.disabled = "", False
        elif not options:
            ask.disabled = True
            said.value = f'<div class="sf">{show.paragraph("No earlier state is kept yet: each edit keeps one.")}</div>'

    async def work() -> None:
        ask.disabled, said.value = True, "Working it out ..."
        try:
            version = next((v for v in versions.kept(session.path) if v.sequence == choose.value), None)
            if version is None:
                raise Problem("That state is not kept any more; choose a later one.")
            before = compute(versions.job_of(version))
            said.also = tuple(typed_texts(before.job))
            found = await asyncio.to_thread(changes, before, session.results())
            said.value = f'<div class="sf">{listed(found, session.job.settings.units)}</div>'
        except Problem as problem:
            said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'
        finally:
            ask.disabled = False

    fill()
    session.listen(fill)
    ask.on_click(lambda _: session.start(work()))
    return show.stack(_row(choose, ask), said)


def listed(found: list[Change], display: str) -> str:
    """The changes: sentences, then a folded table a kind."""
    told = summary(found, display)
    body = "<ul>" + "".join(f"<li>{escape(s)}</li>" for s in told.sentences) + "</ul>"
    for kind in KINDS:
        rows = [(c.subject, "new" if c.came else "no more" if c.went else c.aspect, c.before or "–", c.after or "–")
                for c in found if c.kind == kind]
        if rows:
            body += show.folded(f"{HEADS[kind]}: {told.counts.get(kind, len(rows))} changed", show.table(
                ("What", "Which part of it", "Before", "After"), rows))
    return body


_WIDE: dict[str, Any] = {"layout": {"width": "min(420px, 100%)"}, "style": {"description_width": "150px"}}


def _text(label: str, css: str) -> widgets.Text:
    box = widgets.Text(description=label, placeholder="0", continuous_update=False, layout={"width": "min(300px, 100%)"},
                       style={"description_width": "150px"})
    box.add_class(css)
    return box


def _button(label: str, css: str, disabled: bool = False) -> widgets.Button:
    button = widgets.Button(description=label, disabled=disabled, layout=widgets.Layout(width="auto"))
    button.add_class(css)
    return button


def _answer(session: Session, css: str) -> show.Html:
    said = show.Html(session)
    said.add_class(css)
    return said


def _row(*parts: widgets.Widget) -> widgets.HBox:
    return widgets.HBox(list(parts), layout=widgets.Layout(flex_flow="row wrap", width="100%"))


def _runs(job: Job) -> list[tuple[str, str]]:
    """(name, ids) of every run between two points with all its raceways, then of each raceway alone."""
    found = [("none", NONE)]
    seen: set[frozenset[str]] = set()
    segments = [s for s in job.all(Segment) if not s.blocked and not s.full]
    for s in segments:
        ends = frozenset((s.start, s.end))
        together = between_same_nodes(job, s.id) if ends not in seen else []
        if len(together) > 1:
            found.append((f"{name_between(job, s)}, all {len(together)} raceways", " ".join(together)))
        seen.add(ends)
    return found + [(s.name, s.id) for s in segments]


def _when(version: versions.Version) -> str:
    return time.strftime("%Y-%m-%d %H:%M, ", time.localtime(version.when)) if version.when else ""

