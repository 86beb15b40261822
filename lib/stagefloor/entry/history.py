"""The history of a job on screen: who did what when, what changed between two states, and the ways back."""

import time
from collections.abc import Callable
from functools import partial
from html import escape

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.own_name import keep_name, own_name
from stagefloor.entry.session import Session
from stagefloor.job import history, store

SHOWN = 25  # edits in the table at first
MOST_LINES = 200  # of one comparison
WIDE = widgets.Layout(width="min(100%, 640px)")
START = "as it was made"


def when(seconds: float) -> str:
    """A moment in local time, such as Wed 25 Nov 2026, 23:08."""
    return time.strftime("%a %d %b %Y, %H:%M", time.localtime(seconds))


def who(by: str) -> str:
    return by if by and not by.isdigit() else "–"  # early jobs noted the number of a process


class History:
    """The edits, newest first; two states to compare; back to one of them, or only what one edit deleted."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.open = self._button("Show the history", self._turn, "sf-history-open")
        self.name = widgets.Text(value=own_name(), description="Your name", continuous_update=False, layout=WIDE)
        self.name.observe(self._named, "value")
        self.table = widgets.HTML(layout=widgets.Layout(width="100%"))
        self.table.add_class("sf-history")
        self.first = widgets.Dropdown(description="State after", layout=WIDE)
        self.second = widgets.Dropdown(description="and after", layout=WIDE)
        self.first.add_class("sf-history-first")
        self.said = widgets.HTML(layout=widgets.Layout(width="100%"))
        self.said.add_class("sf-history-said")
        buttons = [self._button("Compare the two", self._compare, "sf-history-compare"),
                   self._button("Make the job as it was after the first", self._restore, "sf-history-restore"),
                   self._button("Bring back what the first deleted", self._bring, "sf-history-bring")]
        self.body = show.stack(self.name, self.table, self.first, self.second, widgets.HBox(
            buttons, layout=widgets.Layout(flex_flow="row wrap")), self.said)
        self.body.layout.display = "none"
        self.open.layout.align_self = "flex-start"
        self.widget = show.stack(self.open, self.body)
        session.listen(self._refresh)

    def _button(self, text: str, act: Callable[[], str], css: str) -> widgets.Button:
        button = widgets.Button(description=text, layout=widgets.Layout(width="auto"))
        button.add_class(css)
        button.on_click(partial(self._pressed, act))
        return button

    def _pressed(self, act: Callable[[], str], _button: widgets.Button) -> None:
        try:
            said = act()
        except Problem as problem:
            said = show.paragraph(problem.sentence)
        self.said.value = f'<div class="sf">{said}</div>'

    def _turn(self) -> str:
        hidden = self.body.layout.display == "none"
        self.body.layout.display = "" if hidden else "none"
        self.open.description = "Hide the history" if hidden else "Show the history"
        self._refresh()
        return ""

    def _named(self, change: dict[str, str]) -> None:
        try:
            self.name.value = keep_name(change["new"])
        except Problem as problem:
            self.said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'

    def _refresh(self) -> None:
        if self.body.layout.display == "none":
            return  # nobody looks: nothing is read
        edits = store.edits(self.session.path)[::-1]
        rows = [(e.sequence, when(e.when), who(e.by), e.name) for e in edits]
        heads = ("Edit", "When", "Who", "What")
        self.table.value = '<div class="sf">' + (
            show.table(heads, rows[:SHOWN], (0,)) + (show.folded(f"{len(rows) - SHOWN} earlier edits", show.table(
                heads, rows[SHOWN:], (0,))) if len(rows) > SHOWN else "")
            if rows else show.paragraph("Nothing was edited yet. Each edit appears here with its time and name.")) + "</div>"
        options = [(f"{n}  {what[:60]}  ({moment}, {name})", n) for n, moment, name, what in rows] + [(START, 0)]
        for field, fallback in ((self.first, options[min(1, len(options) - 1)][1]), (self.second, options[0][1])):
            kept = field.value if field.value is not None and field is self.first else fallback
            field.options = options
            field.value = kept if kept in {v for _, v in options} else fallback

    def _edit(self, number: int) -> store.Edit:
        found = next((e for e in store.edits(self.session.path) if e.sequence == number), None)
        if found is None:
            raise Problem("Choose an edit first.")
        return found

    def _compare(self) -> str:
        a, b = sorted((int(self.first.value or 0), int(self.second.value or 0)))
        found = history.differences(history.state_at(self.session.path, a), history.state_at(self.session.path, b))
        lead = f"From edit {a or START} to edit {b}: {len(found)} {'difference' if len(found) == 1 else 'differences'}."
        rows = [(d.record, d.field or "the whole of it", d.before, d.after) for d in found[:MOST_LINES]]
        more = f"{len(found) - MOST_LINES} more are not shown." if len(found) > MOST_LINES else ""
        return show.paragraph(lead, "lead") + (show.table(("What", "Field", "From", "To"), rows) if rows else "") + (
            show.paragraph(more) if more else "")

    def _restore(self) -> str:
        number, before = int(self.first.value or 0), store.read(self.session.path).job.sequence
        job = self.session.edit(f"Back to the state after edit {number}" if number else f"Back to the job {START}",
                                history.back_to(self.session.path, number))
        if job.sequence == before:
            return show.paragraph("The job is so already; nothing was changed.")
        return show.paragraph(f"The job is as it was after edit {number or START}. This is a new edit: Undo takes it back, "
                              "and nothing in between is lost.")

    def _bring(self) -> str:
        edit = self._edit(int(self.first.value or 0))
        gone = history.deleted(edit)
        if not gone:
            return show.paragraph(f"'{edit.name}' deleted nothing; choose the edit that did.")
        self.session.edit(f"Brought back: {edit.name}", history.bring_back(edit))
        job = self.session.job
        names = [job.tables[kind][i].name for kind, i in gone if i in job.tables.get(kind, {})]
        return f"<p>Back again: {escape(', '.join(names[:6]))}{' and more' if len(names) > 6 else ''}.</p>"
