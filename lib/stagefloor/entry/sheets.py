"""Phone sheets in the workbook: made here, and the files that they export taken in."""

from base64 import b64encode
from html import escape
from pathlib import Path

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.file_in import Intake, Planned
from stagefloor.entry.session import Session, here
from stagefloor.job.boxes import Box
from stagefloor.job.exchange.sheet_file import MOST_BYTES, read_sheet
from stagefloor.job.exchange.taking import planned
from stagefloor.job.model import Job
from stagefloor.job.sheets import SITE, SURVEY
from stagefloor.package.sheets import make_sheet


def survey() -> widgets.Widget:
    """The survey sheet: made for a phone, its file taken in."""
    session = here()
    return show.stack(_make(session, SURVEY, "Make the survey sheet"), _take_in(session, SURVEY))


def site() -> widgets.Widget:
    """The site sheet of a crew: made for their phone, its file taken in."""
    session = here()
    return show.stack(_make(session, SITE, "Make the site sheet"), _take_in(session, SITE))


def _make(session: Session, kind: str, words: str) -> widgets.Widget:
    button = widgets.Button(description=words, layout=widgets.Layout(width="auto", align_self="flex-start"))
    button.add_class(f"sf-make-{kind}")
    said = show.Html(session)
    said.add_class(f"sf-made-{kind}")
    crew = widgets.Text(description="Crew", placeholder="for example Crew A")
    boxes = widgets.SelectMultiple(description="Boxes", options=_options(session.job), rows=4)

    def refresh() -> None:
        options = _options(session.job)
        if tuple(boxes.options) != tuple(options):
            boxes.options = options

    def press(_: object) -> None:
        try:
            if kind == SITE:
                file = make_sheet(session.path, kind, crew.value.strip(), boxes.value, edited=session.edit)
            else:
                file = make_sheet(session.path, kind, edited=session.edit)
            said.value = f'<div class="sf">{_made(file)}</div>'
        except Problem as problem:
            said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'

    button.on_click(press)
    if kind != SITE:
        return show.stack(button, said)
    session.listen(refresh)
    hint = widgets.HTML('<div class="sf"><p class="quiet">None chosen: all boxes are on the sheet.</p></div>')
    return show.stack(widgets.HBox([crew, boxes, hint], layout=widgets.Layout(flex_flow="row wrap")), button, said)


def _options(job: Job) -> list[tuple[str, str]]:
    return [(b.title, b.id) for b in job.all(Box) if b.state != "retired"]


def _made(file: Path) -> str:
    data = b64encode(file.read_bytes()).decode()
    return (show.paragraph(f"The sheet is in {file}. Send it to the phone (mail, cable, memory card) and open it there with "
                           "the browser; it needs no network.")
            + f'<p><a download="{escape(file.name)}" href="data:text/html;base64,{data}">Save a copy of it</a></p>')


def _take_in(session: Session, kind: str) -> widgets.Widget:
    def read(name: str, data: bytes) -> Planned:
        file = read_sheet(data, name)
        return lambda job: planned(job, file)

    intake = Intake(session, f"Take in a file of a {kind} sheet", ".json", MOST_BYTES, read,
                    f"{kind.capitalize()} sheet taken in")
    intake.box.add_class(f"sf-take-{kind}")
    return intake.box
