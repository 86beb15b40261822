"""Taking in a file: chosen, read, shown line by line, and done only when the user agrees. Knows no file format."""

import logging
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as widgets
import traitlets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.session import Session
from stagefloor.job.exchange.preview import ADD, CHANGE, REFUSE, SAME, Line, Plan, carry_out
from stagefloor.job.model import Job

HERE = Path(__file__).parent
Planned = Callable[[Job], Plan]
FIRST = 8  # lines of a kind that are shown before the rest is folded
PATIENCE = 20_000  # milliseconds without an answer before the field says so
FAULT = "This file could not be read because of a fault in the program; nothing was taken in."

log = logging.getLogger(__name__)


class FileIn(anywidget.AnyWidget):
    """A field to choose a file; its bytes arrive in parts. `on_file` gets name and bytes and answers with a sentence.

    `several`: more than one may be chosen together; each goes to `on_file`, and then `on_all` answers for all of them.
    """

    _esm = (HERE / "file_in.js").read_text("utf-8")
    _css = (HERE / "file_in.css").read_text("utf-8")
    label = traitlets.Unicode("").tag(sync=True)
    accept = traitlets.Unicode("").tag(sync=True)
    most = traitlets.Int(0).tag(sync=True)
    several = traitlets.Bool(False).tag(sync=True)
    patience = traitlets.Int(PATIENCE).tag(sync=True)

    def __init__(self, on_file: Callable[[str, bytes], str], *, on_first: Callable[[], None] = lambda: None,
                 on_all: Callable[[], str] | None = None, **traits: Any) -> None:
        super().__init__(several=on_all is not None, **traits)
        self._on_file, self._on_first, self._on_all = on_file, on_first, on_all
        self._name, self._parts, self._more, self._upload = "", bytearray(), False, 0
        self.on_msg(self._receive)

    def _receive(self, _widget: Any, message: dict[str, Any], buffers: Any) -> None:
        if message.get("do") == "begin":
            self._name, self._parts, self._upload = str(message.get("name", "")), bytearray(), message.get("upload", 0)
            self._more = bool(message.get("more"))
            if message.get("first"):
                self._on_first()
            return
        if message.get("upload", 0) != self._upload:
            return  # of a file that was left for another one
        for part in buffers or ():
            self._parts += bytes(part)
        if len(self._parts) > self.most:
            self._parts = bytearray()
            self.send({"do": "said", "upload": self._upload, "say": "This file is too large."})
        elif not message.get("last"):
            self.send({"do": "next", "upload": self._upload})
        else:
            data, self._parts = bytes(self._parts), bytearray()
            try:
                say = self._on_file(self._name, data)
                if self._on_all and not self._more:
                    say = self._on_all()
            except Problem as problem:
                say = problem.sentence
            except Exception:
                log.exception("a file could not be read")
                say = FAULT
            self.send({"do": "said", "upload": self._upload, "say": say})


class Intake:
    """A file field with a preview and the question whether to do it.

    Parameters
    ----------
    session : the open job; label : what to choose; accept : endings of the file; most : bytes
    read : name and bytes of the file -> what it does to a job; raises Problem
    done : what the edit is called in the history; finished : called when the file is taken in or left
    """

    def __init__(self, session: Session, label: str, accept: str, most: int, read: Callable[[str, bytes], Planned],
                 done: str, finished: Callable[[], None] = lambda: None) -> None:
        self.session, self.done, self._read, self._finished = session, done, read, finished
        self._planned: Planned | None = None
        self._plan: Plan | None = None
        self._name = ""
        self.field = FileIn(self._take_file, label=label, accept=accept, most=most)
        self.preview = show.Html(session)
        self.preview.add_class("sf-preview")
        self._yes = widgets.Button(description="Take it in", button_style="")
        self._yes.add_class("sf-take")
        self._no = widgets.Button(description="Leave it")
        self._yes.on_click(lambda _: self._agree())
        self._no.on_click(lambda _: self.leave("Nothing was taken in."))
        self._buttons = widgets.HBox([self._yes, self._no])
        self._buttons.layout.display = "none"
        self.box = show.stack(self.field, self.preview, self._buttons)

    def _take_file(self, name: str, data: bytes) -> str:
        self.leave()
        self._name = name
        planned = self._read(name, data)
        try:
            self.offer(planned)
        except Problem as problem:
            self.tell(problem.sentence)
        return ""

    def offer(self, planned: Planned) -> None:
        """Show what it would do, and ask."""
        self._planned, self._plan = planned, planned(self.session.job)
        useful = bool(self._plan.of(ADD) or self._plan.of(CHANGE))
        self.preview.also = (self._name, *self._plan.typed())
        self.preview.value = preview(self._plan, self._name)
        self._buttons.layout.display = "" if useful else "none"

    def _agree(self) -> None:
        if self._planned is None or self._plan is None:
            return
        before = self.session.job.sequence
        try:
            plan = carry_out(self.session.path.parent, self.session.edit, f"{self.done}: {self._name[:80]}", self._planned,
                             self._plan.lines)
        except Problem as problem:
            try:
                self.offer(self._planned)
            except Problem as again:
                self.tell(again.sentence)
                return
            self.preview.value = show.paragraph(problem.sentence, "lead") + self.preview.value
            return
        undo = " Undo in a table of this page takes all of it back." if self.session.job.sequence != before else ""
        self.leave(f"Taken in: {plan.sentence()}{undo}")

    def leave(self, words: str = "") -> None:
        """Forget the file, and say so."""
        self._planned = self._plan = None
        self._finished()
        self.tell(words)

    def tell(self, words: str) -> None:
        """A sentence in place of the preview."""
        self._buttons.layout.display = "none"
        self.preview.value = f'<div class="sf">{show.paragraph(words)}</div>' if words else ""


def preview(plan: Plan, name: str) -> str:
    """What a file would do, as HTML: what is refused first, with the reasons."""
    parts = [show.paragraph(f"{name}: {plan.sentence()}" + (
        "" if plan.of(ADD) or plan.of(CHANGE) else " There is nothing to take in."), "lead")]
    heads = {REFUSE: "Refused, and left out", CHANGE: "Changed", ADD: "Added"}
    for state, title in heads.items():
        parts.append(_lines(title, plan.of(state), "Why" if state == REFUSE else "What"))
    if plan.of(SAME):
        parts.append(show.folded(f"There already: {len(plan.of(SAME))}", "<ul>" + "".join(
            f"<li>{escape(line.subject)}</li>" for line in plan.of(SAME)) + "</ul>"))
    return f'<div class="sf">{"".join(parts)}</div>'


def _lines(title: str, lines: list[Line], second: str) -> str:
    if not lines:
        return ""
    rows = [(line.subject, line.words) for line in lines]
    body = show.table(("Line", second), rows[:FIRST])
    rest = show.folded(f"{len(rows) - FIRST} more", show.table(("Line", second), rows[FIRST:])) if rows[FIRST:] else ""
    return f"<h3>{escape(title)}: {len(rows)}</h3>{body}{rest}"
