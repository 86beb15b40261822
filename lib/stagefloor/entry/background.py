"""The folded entry of the inventory step for a drawing behind the plan: taken in, chosen, its figures corrected, removed."""

from base64 import b64encode
from html import escape
from typing import Any

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.file_in import Intake, Planned
from stagefloor.entry.folds import folds
from stagefloor.entry.session import Session, here
from stagefloor.entry.tables import Form, FormLine
from stagefloor.job import edit
from stagefloor.job.background import Background
from stagefloor.job.exchange.apart import MOST_BYTES, Drawing, read_drawing
from stagefloor.job.exchange.background_file import FOLDER, planned, shown, stored
from stagefloor.job.exchange.background_file import show as put_behind
from stagefloor.job.model import Job
from stagefloor.job.typed import cell_text
from stagefloor.results import Results
from stagefloor.steps.background import HELP, names, placed, workings

TITLE = "A drawing or picture behind the plan"
ENDINGS = ".png,.jpg,.jpeg,.pdf,.dxf,.svg"
NONE = "none"
HOW = ("Choose a photo or scan (PNG, JPEG), one page of a PDF, or a DXF or SVG drawing. It lies under everything on the "
       "plans of this workbook. Then press 'Set two points' under the plan above: two points that are far apart, and what "
       "lies between them.")
INSIDE = "It stays in this workbook: no page for the client or the crew shows it."
FIGURES = ("distance", "at_x", "at_y", "to_x", "to_y", "turn")


def background() -> widgets.Widget:
    """Folded; made when it is opened."""
    return folds([(TITLE, lambda: _content(here()))])


def _content(session: Session) -> widgets.Widget:
    intro = show.Html(session, f'<div class="sf">{show.paragraph(HOW)}{show.paragraph(f"{HELP} {INSIDE}", "quiet")}</div>')
    form = Figures(session, (), "Background of the plan").grid
    form.add_class("sf-background-form")
    about = show.view(session, lambda results: _about(session, results), "background")
    box = show.stack(_choice(session), form, about, _removal(session))

    def fold() -> None:
        box.layout.display = "" if session.job.all(Background) else "none"

    session.listen(fold)
    fold()
    return show.stack(intro, BackgroundIn(session).box, box)


class BackgroundIn:
    """Takes a drawing in: its file, the page of a PDF, a look at it, and the question whether to do it."""

    def __init__(self, session: Session) -> None:
        self._name, self._data, self._reading = "", b"", False
        self.page = widgets.BoundedIntText(1, min=1, max=1, description="Page", layout=widgets.Layout(width="180px"))
        self.look = widgets.HTML(layout=widgets.Layout(width="100%"))
        self.intake = Intake(session, "Take in a drawing or picture", ENDINGS, MOST_BYTES, self._read,
                             "Background taken in", self._forget)
        self.page.observe(lambda _: self._other_page(), "value")
        self._forget()
        field, *rest = self.intake.box.children
        self.box = show.stack(field, self.page, self.look, *rest)
        self.box.add_class("sf-background-in")

    def _read(self, name: str, data: bytes) -> Planned:
        drawing = read_drawing(data, name)
        self._name, self._data = name, data
        self._reading = True
        self.page.max, self.page.value = max(1, drawing.pages), 1
        self._reading = False
        return self._offered(drawing)

    def _offered(self, drawing: Drawing) -> Planned:
        self.page.layout.display = "" if drawing.pages > 1 else "none"
        self.page.description = f"Page of {drawing.pages}"
        self.look.value = _thumbnail(drawing.data, drawing.end, drawing.name)
        return lambda job: planned(job, drawing, self.intake.session.path.parent)

    def _other_page(self) -> None:
        if self._reading or not self._data:
            return
        try:
            self.intake.offer(self._offered(read_drawing(self._data, self._name, self.page.value)))
        except Problem as problem:
            self.intake.tell(problem.sentence)

    def _forget(self) -> None:
        self._name, self._data = "", b""
        self.page.layout.display = "none"
        self.look.value = ""


def _thumbnail(data: bytes, end: str, name: str) -> str:
    if end == "json":
        return '<div class="sf"><p>Outlines only: texts, hatching and pictures are left out.</p></div>'
    kind = "png" if end == "png" else "jpeg"
    return (f'<img alt="{escape(name)}" style="max-width:min(100%,420px);max-height:300px;border:1px solid #d5dade" '
            f'src="data:image/{kind};base64,{b64encode(data).decode()}">')


def _choice(session: Session) -> widgets.Widget:
    """A list of the backgrounds that were taken in: one lies behind the plan, or none."""
    choose = widgets.Dropdown(description="Behind it", layout=widgets.Layout(width="min(100%, 520px)"))
    choose.add_class("sf-background-choice")
    said = show.Html(session)
    drawing = [False]

    def refresh() -> None:
        now = shown(session.job)
        drawing[0] = True
        choose.options = [*((label, i) for i, label in names(session.job).items()), (NONE, "")]
        choose.value = now.id if now is not None else ""
        drawing[0] = False

    def chosen(change: dict[str, str]) -> None:
        if drawing[0]:
            return
        words = names(session.job).get(change["new"], NONE)
        said.value = ""
        try:
            session.edit(f"Behind the plan: {words}", lambda job: put_behind(job, change["new"]))
        except Problem as problem:  # such as a full disk: the list shows again what is so
            said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'
            refresh()

    choose.observe(chosen, "value")
    session.listen(refresh)
    refresh()
    return show.stack(choose, said)


class Figures(Form):
    """The figures of the background that is shown. Each line is of one background: a text typed for it goes to no other."""

    def _rows(self) -> list[dict[str, Any]]:
        now = shown(self.session.job)
        self.lines = {line.key: line for line in (_line(now, name) for name in FIGURES)}
        return super()._rows()


def _line(now: Background | None, name: str) -> FormLine:
    """One figure of this background."""
    info = Background.model_fields[name]

    def read(job: Job) -> tuple[str, bool]:
        return (cell_text(job, job.get(Background, now.id), name) if now is not None else ""), False

    def write(job: Job, text: str) -> Job:
        if now is None:
            raise Problem("No background lies behind the plan; choose one first.")
        return edit.set_fields(job, now.kind, now.id, {name: text})

    unit = " (degrees)" if name == "turn" else ""
    key = f"{name} of {now.id}" if now is not None else name
    return FormLine(key, f"{info.title}{unit}", info.description or "", read, write)


def _about(session: Session, results: Results) -> str:
    now = shown(results.job)
    if now is None:
        return show.paragraph("No background lies behind the plan.")
    file = stored(session.path.parent, now)
    return show.paragraph(f"{now.name}: {placed(results.job, now, file).words}") + show.workings(
        workings(now, results.job.settings.units, file))


def _removal(session: Session) -> widgets.Widget:
    layout = widgets.Layout(width="auto", align_self="flex-start")
    button = widgets.Button(description="Remove this background", layout=layout)
    button.add_class("sf-background-remove")
    said = show.Html(session)

    def press(_: object) -> None:
        now = shown(session.job)
        try:
            if now is None:
                raise Problem("No background lies behind the plan; choose the one to be removed first.")
            session.edit(f"Background {now.name} removed", lambda job: edit.delete(job, now.kind, [now.id]))
            words = f"{now.name} was removed; Undo in a table of this page brings it back. Its file stays in '{FOLDER}'."
        except Problem as problem:
            words = problem.sentence
        said.value = f'<div class="sf">{show.paragraph(words)}</div>'

    button.on_click(press)
    return show.stack(button, said)
