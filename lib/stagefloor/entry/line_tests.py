"""Readings on screen: a line a row and a test a column, what is expected beside what was read, a tester's file."""

from collections.abc import Sequence
from datetime import date
from html import escape
from typing import Any

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.core.units import number_text
from stagefloor.core.words import counted
from stagefloor.entry import show
from stagefloor.entry.file_in import FileIn
from stagefloor.entry.grid import Grid
from stagefloor.entry.link import Answer, Message
from stagefloor.entry.session import Session
from stagefloor.entry.tables import Table, answer_of_fixed_rows
from stagefloor.job.cables import Circuit
from stagefloor.job.exchange.table_file import MOST_BYTES
from stagefloor.job.inventory import kind_name
from stagefloor.results import Results
from stagefloor.steps import closeout

BAD_SHOWN = 12  # bad rows named before the rest is folded
KEYS = ("instrument", "by", "date")
LOOP = "loop resistance"


def bulk(session: Session) -> widgets.Widget:
    """One kind of line at a time: type what was read into the cell of line and test."""
    return BulkGrid(session).view


class BulkGrid:
    """A grid of lines and tests. What is typed is one more reading, with the instrument, name and date above the grid."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.kind = widgets.Dropdown(description="Lines", options=self._kinds(), layout=widgets.Layout(width="auto"))
        today = date.today().isoformat()
        self.about = {k: widgets.Text(description=k.capitalize(), value=today if k == "date" else "",
                                      layout=widgets.Layout(width="240px")) for k in KEYS}
        for name, field in [("kind", self.kind), *self.about.items()]:
            field.add_class(f"sf-bulk-{name}")
        self.every = widgets.Checkbox(description="Show tests that are seldom made", value=False, indent=False)
        self.grid = Grid("Readings by line", self._columns(), self._rows(), self._change, fixed=True,
                         keep_under=f"{session.path}:bulk", empty_hint="There is no line yet: lines come with the boxes.")
        self.method = show.Html(session)
        for field in (self.kind, self.every):
            field.observe(lambda _: self._refresh(), "value")
        session.listen(self._refresh)
        self._refresh()
        bar = widgets.HBox([self.kind, *self.about.values(), self.every], layout=widgets.Layout(flex_flow="row wrap"))
        self.view = show.stack(bar, self.grid, self.method)

    def _kinds(self) -> list[tuple[str, str]]:
        own = self.session.words.text
        return [(own(kind_name(k)), k) for k in closeout.kinds_with_lines(self.session.job)] or [("none yet", "")]

    def _tests(self) -> list[closeout.RequiredTest]:
        there = {j.test for j in self.session.results().readings}
        return [t for t in closeout.possible_tests(self.kind.value or "")
                if t.needed or self.every.value or t.test in there]

    def _columns(self) -> list[dict[str, Any]]:
        head = [{"key": "line", "label": "Line", "kind": "text", "readonly": True, "width": 96},
                {"key": "expected", "label": "Expected loop", "kind": "text", "readonly": True, "width": 176}]
        own = self.session.words.text
        return head + [{"key": t.test, "label": own(t.test.capitalize()), "kind": "text", "width": 136, "unit": t.reading_in,
                        "hint": own(t.method if t.reading_in else f"pass or fail; {t.method}")} for t in self._tests()]

    def _rows(self) -> list[dict[str, Any]]:
        results = self.session.results()
        text, wrong = closeout.cells(results.readings)
        measured: dict[str, dict[str, float]] = {}
        for j in results.readings:
            if j.measured is not None:
                measured.setdefault(j.circuit, {})[j.test] = j.measured
        rows = []
        for circuit in results.job.circuits():
            if circuit.what != self.kind.value:
                continue
            expected = _band(results.limits_of(circuit.id).get(LOOP)) or self._why_none(results, circuit)
            shown = {"line": circuit.name, "expected": expected}
            shown |= {t.test: text.get((circuit.id, t.test), "") for t in self._tests()}
            rows.append({"id": circuit.id, "cells": shown, "marks": {}, "sort": measured.get(circuit.id, {}),
                         "problems": {t: say for (c, t), say in wrong.items() if c == circuit.id and t in shown}})
        return rows

    def _why_none(self, results: Results, circuit: Circuit) -> str:
        """Why nothing is expected of the loop of a line: unknown is said, never shown as a figure."""
        if LOOP not in {t.test for t in closeout.possible_tests(circuit.what)}:
            return "–"
        length = closeout.line_length(results.job, circuit, results.lengths())
        return closeout.why_no_limit(results.job, circuit, LOOP, length)

    def _refresh(self) -> None:
        kinds = self._kinds()
        if list(self.kind.options) != kinds:
            self.kind.options = kinds
        columns = self._columns()
        if columns != self.grid.columns:
            self.grid.columns = columns
        self.grid.update(self._rows(), self.session.elsewhere)
        how = "".join(f"<li><b>{escape(t.test)}</b>: {escape(t.method)} <small>({escape(t.basis.line())})</small></li>"
                      for t in self._tests())
        self.method.value = f'<div class="sf">{show.folded("How each test is made", f"<ul>{how}</ul>")}</div>' if how else ""

    def _change(self, message: Message) -> Answer:
        about = {k: field.value.strip() for k, field in self.about.items()}
        known = {t.test for t in self._tests()}
        read, _ = closeout.cells(self.session.results().readings)
        # what stands there already is one reading, however often its cell is entered
        changes = [c for c in message.get("changes", []) if c[1] in known and c[2].strip() != read.get((c[0], c[1]), "")]

        def name() -> str:
            return f"{len(changes)} readings" if len(changes) > 1 else f"Reading: {changes[0][1]} {changes[0][2]}"

        return answer_of_fixed_rows(
            self.session, {**message, "changes": changes}, self._rows,
            lambda job, row, test, text: closeout.entered(job, row, test, text, about), name,
            "The lines are given by the boxes; type into the columns of the tests.")


def _band(limit: closeout.Limit | None) -> str:
    if limit is None or limit.expected is None:
        return ""
    ends = f" ({number_text(limit.low or 0.0, 3)} to {number_text(limit.high, 3)})" if limit.high is not None else ""
    return f"{number_text(limit.expected, 3)}{ends} {limit.unit}"


def single(session: Session) -> widgets.Widget:
    """Every reading that was ever made, one a row: to mend or delete one."""
    grid = Table(session, "reading", ("circuit", "test", "result", "value", "instrument", "by", "date", "time"),
                 name="Test readings", empty_hint="No reading yet: type into the table above, or take a tester's file.").grid
    return widgets.Accordion([grid], titles=("Every reading, one by one",), selected_index=None)


def judged(results: Results) -> str:
    """Each last reading beside what was expected, what does not fit first."""
    rows = [(j.line, j.test, "–" if j.measured is None else f"{j.measured:g} {j.unit}",
             "–" if j.expected is None else f"{number_text(j.expected, 3)} {j.unit}", j.outcome, _history(j.earlier))
            for j in results.readings]
    if not rows:
        return show.paragraph("No reading yet.")
    good, bad, unknown = closeout.parted(results.readings)
    again = sum(bool(j.earlier) for j in results.readings)
    parts = [f"{len(good)} fit{'s its' if len(good) == 1 else ' their'} line" if good else "",
             f"{len(bad)} outside what fits the line" if bad else "",
             f"{len(unknown)} can't be judged yet" if unknown else ""]
    lead = counted(len(rows), "reading") + (": " + ", ".join(p for p in parts if p) + "." if bad or unknown else
                                            "; all fit their line.")
    called = _sentences(bad) + (show.folded("What can't be judged yet", _sentences(unknown)) if unknown else "")
    tested = show.paragraph(f"{again} of them repeat an earlier test; the earlier ones stay listed.") if again else ""
    return show.paragraph(lead, "lead") + called + tested + show.folded("Every reading", show.table(
        ("Line", "Test", "Measured", "Expected", "Outcome", "Before that"), rows)) + show.workings(
        [j.working for j in results.readings if j.working], "Limits from each line's own length")


def _sentences(readings: Sequence[closeout.ReadingJudged]) -> str:
    return "<ul>" + "".join(f"<li>{escape(j.sentence)}</li>" for j in readings) + "</ul>" if readings else ""


def _history(earlier: tuple[closeout.ReadingJudged, ...]) -> str:
    def one(e: closeout.ReadingJudged) -> str:
        when = f"{e.date} {e.time}".strip() or "no date"
        read = f"{e.measured:g} {e.unit}" if e.measured is not None else e.word
        return f"{when}: {read} {'' if e.good else '(' + e.outcome.partition(':')[0] + ')'}".strip()

    return "; ".join(one(e) for e in earlier)


class TesterFileView:
    """A tester's file: choose it, say what its columns mean, read what is wrong with it, agree, take it as one edit."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.file: closeout.TesterFile | None = None
        self.found: closeout.Preview | None = None
        self.chosen: dict[str, tuple[str, str]] = {}
        self.upload = FileIn(self._uploaded, label="Take in a tester's file (CSV)", accept=".csv,.txt,.tsv", most=MOST_BYTES)
        self.upload.add_class("sf-tester-upload")
        self.said = show.Html(session)
        self.said.add_class("sf-tester-said")
        self.take = widgets.Button(description="Take the good rows", disabled=True, layout=widgets.Layout(width="auto"))
        self.take.add_class("sf-tester-take")
        self.leave = widgets.Button(description="Take nothing", layout=widgets.Layout(width="auto"))
        self.columns = widgets.VBox([])
        self.buttons = widgets.HBox([self.take, self.leave], layout=widgets.Layout(flex_flow="row wrap", display="none"))
        self.take.on_click(self._take)
        self.leave.on_click(lambda _: self.clear("Nothing was taken."))
        self.view = show.stack(self.upload, self.columns, self.said, self.buttons)

    def _uploaded(self, name: str, data: bytes) -> str:
        self.look(name, data)
        return ""

    def look(self, name: str, data: bytes) -> None:
        """Read a file and show what it would bring; nothing is taken."""
        self.chosen = {}
        try:
            self.file = closeout.read_file(name, data)
        except Problem as problem:
            self.clear(problem.sentence)
            return
        self._ask_columns(self.file)
        self._preview()

    def _ask_columns(self, file: closeout.TesterFile) -> None:
        found = closeout.columns(self.session.job, file.headings)
        meanings = [{"value": m, "label": m} for m in closeout.meanings()]
        columns = [{"key": "heading", "label": "Column of the file", "kind": "text", "readonly": True, "width": 190},
                   {"key": "sample", "label": "For example", "kind": "text", "readonly": True, "width": 190},
                   {"key": "meaning", "label": "It means", "kind": "choice", "choices": meanings, "width": 240},
                   {"key": "unit", "label": "Unit of its figures", "kind": "text", "width": 140}]
        samples = [next((r.cells[i] for r in file.rows[:50] if i < len(r.cells) and r.cells[i]), "")
                   for i in range(len(file.headings))]
        rows = [{"id": f"column-{i}", "problems": {}, "marks": {},
                 "cells": {"heading": c.heading, "sample": samples[i], "meaning": c.meaning, "unit": c.unit}}
                for i, c in enumerate(found)]
        grid = Grid("What the columns mean", columns, rows, self._column_changed, fixed=True)
        self.columns.children = (grid,)

    def _column_changed(self, message: Message) -> Answer:
        if message["do"] not in ("set", "paste") or self.file is None:
            return {"ok": False, "say": "Choose what a column means; its heading comes from the file."}
        known = {c.heading: (c.meaning, c.unit) for c in self._mapping(self.file)}
        for row, key, text in message.get("changes", []):
            heading = self.file.headings[int(row.removeprefix("column-"))]
            meaning, unit = known[heading]
            known[heading] = (text, unit) if key == "meaning" else (meaning, text.strip())
            self.chosen[heading] = known[heading]
        self._preview()
        return {"ok": True}

    def _mapping(self, file: closeout.TesterFile) -> list[closeout.Column]:
        return closeout.columns(self.session.job, file.headings, self.chosen)

    def _preview(self) -> None:
        assert self.file is not None
        self.found = closeout.preview(self.session.job, self.file, self._mapping(self.file))
        self.said.also = (self.file.name, *(b.sentence for b in self.found.bad), *(r.line for r in self.found.taken))
        self.said.value = f'<div class="sf">{told(self.found)}</div>'
        n, bad = len(self.found.taken), len(self.found.bad)
        self.take.description = f"Take {counted(n, 'reading')}" + (f", leave out {counted(bad, 'bad row')}" if bad else "")
        self.take.disabled = not self.found.usable
        self.buttons.layout.display = "flex"

    def _take(self, _: object) -> None:
        if self.found is None:
            return
        found = self.found
        try:
            self.session.edit(f"{len(found.taken)} readings from {found.file.name}", lambda j: closeout.taken(j, found))
        except Problem as problem:
            self.said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'
            return
        bad = len(found.bad)
        left = f"; {counted(bad, 'bad row')} {'was' if bad == 1 else 'were'} left out" if bad else ""
        self.clear(f"{counted(len(found.taken), 'reading')} taken{left}. What the columns mean is remembered.")

    def clear(self, words: str) -> None:
        """Forget the file and say what was done."""
        self.file = self.found = None
        self.columns.children = ()
        self.buttons.layout.display = "none"
        self.said.value = f'<div class="sf">{show.paragraph(words)}</div>'


def told(found: closeout.Preview) -> str:
    """What a file would bring, in sentences, every bad row by its number and reason."""
    if found.faults:
        return show.paragraph(f"{found.file.name}: {len(found.file.rows):,} rows. Nothing can be read yet.", "lead") + \
            "<ul>" + "".join(f"<li>{escape(f)}</li>" for f in found.faults) + "</ul>"
    words = [f"{found.file.name}: {counted(len(found.taken), 'reading')} from {counted(len(found.file.rows), 'row')}."]
    if found.known:
        words.append(f"{len(found.known):,} are in the job already and are not taken again." + (
            "" if all(r.time for r in found.known) else " Without a time, equal readings of a day can't be told apart."))
    if found.retests:
        words.append(f"{found.retests:,} repeat a test within the file; they are kept as its history.")
    if found.empty:
        words.append(f"{found.empty:,} rows hold no reading.")
    lead = show.paragraph(words[0], "lead") + "".join(show.paragraph(w) for w in words[1:])
    bad = [f"<li>{escape(b.sentence)}</li>" for b in found.bad]
    listed = ""
    if bad:
        listed = show.paragraph(f"{counted(len(bad), 'bad row')}. Nothing of {'it' if len(bad) == 1 else 'them'} is taken:")
        listed += f"<ul>{''.join(bad[:BAD_SHOWN])}</ul>"
        if bad[BAD_SHOWN:]:
            listed += show.folded(f"{len(bad) - BAD_SHOWN} more", f"<ul>{''.join(bad[BAD_SHOWN:])}</ul>")
    first = [(r.number, r.line, r.test, number_text(r.value) if r.value is not None else r.result,
              f"{r.date} {r.time}".strip()) for r in found.taken[:8]]
    sample = show.folded("The first readings as they would be taken", show.table(
        ("Row", "Line", "Test", "Reading", "Date"), first, (0,))) if first else ""
    return lead + listed + sample
