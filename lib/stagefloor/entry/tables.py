"""A grid for one kind of record: columns from the record's own fields, edits as typed, refusals beside their cell."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import zip_longest
from typing import Any

from pydantic.fields import FieldInfo

from stagefloor.core.problems import Problem
from stagefloor.core.units import Quantity
from stagefloor.core.words import local
from stagefloor.entry.grid import Grid
from stagefloor.entry.link import Answer, Message
from stagefloor.entry.session import Session
from stagefloor.job import edit
from stagefloor.job.boxes import Box
from stagefloor.job.fields import extra_of, shape_of
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.pictures import Picture
from stagefloor.job.record import Record
from stagefloor.job.sheet import Settings
from stagefloor.job.subjects import counts
from stagefloor.job.typed import cell_text

GRID_KIND = {"length": "length", "count": "number", "number": "number", "choice": "choice", "ref": "choice",
             "flag": "flag", "money": "money", "note": "note"}
WIDTHS = {"count": 126, "number": 84, "flag": 104, "length": 110, "money": 100, "note": 260, "choice": 150, "ref": 170}
NOT_KNOWN = "–"
BACK = ("undo", "redo")
PICTURES = "pictures"  # the column that counts them
Refused = dict[str, dict[str, str]]  # row -> column -> the sentence beside a text that was not taken


class Table:
    """A grid on one kind of record.

    Parameters
    ----------
    session : the open job; kind : a key of RECORDS; fields : the columns in order
    flags : (field, kind) shows a column of ticks for each record of that kind, for a field of references
    where : only records for which this holds; new rows get `fixed`
    pictures : a column with the number of pictures that each record has
    listens : follows every edit by itself; else its owner calls for a refresh
    marked : {id: {field: word}} of the job as it is, words that stand beside values, such as 'overdue'
    """

    def __init__(self, session: Session, kind: str, fields: Sequence[str], *, name: str = "",
                 flags: tuple[str, str] | None = None, fixed: Mapping[str, object] | None = None,
                 empty_hint: str = "", readonly: Sequence[str] = (), pictures: bool = False, listens: bool = True,
                 marked: Callable[[Job], Mapping[str, Mapping[str, str]]] | None = None) -> None:
        self.session, self.kind, self.fields, self.pictures, self.marked = session, kind, list(fields), pictures, marked
        self.cls: type[Record] = RECORDS[kind]
        self.flags, self.fixed, self.readonly = flags, dict(fixed or {}), set(readonly)
        named = [extra_of(self.cls.model_fields[f], "ref") for f in self.fields]
        # kinds that the rows tell of, besides their own
        self._named = [str(n) for n in [*named, flags and flags[1], pictures and Picture.kind] if n]
        self._around: list[object] = []  # their tables, when the rows were made
        self._unread: Mapping[tuple[str, str], Mapping[str, object]] = {}
        self._made: dict[str, tuple[Record, dict[str, Any]]] = {}
        self._counts: Counter[tuple[str, str]] = Counter()
        noun = self.cls.noun
        own = session.words.text
        self.grid = Grid(own(name or self.cls.several().capitalize()), self._columns(), self._rows(), self._change,
                         empty_hint=own(empty_hint or f"Nothing here yet. Press 'Add row' and type the first {noun}."),
                         keep_under=f"{session.path}:{kind}:{name}")
        if listens:
            session.listen(self._refresh)

    def _columns(self) -> list[dict[str, Any]]:
        columns = [_column(self.session.job, self.cls, f, f in self.readonly) for f in self.fields]
        if self.flags:
            columns += [{"key": f"{self.flags[0]}:{r.id}", "label": r.name, "kind": "flag", "width": 92,
                         "hint": "ticked: used then"} for r in self.session.job.tables.get(self.flags[1], {}).values()]
        if self.pictures:
            columns.append({"key": PICTURES, "label": "Pictures", "kind": "number", "width": 92, "readonly": True,
                            "hint": "add and see them under 'Pictures'"})
        return columns

    def _rows(self) -> list[dict[str, Any]]:
        table = self.session.job.tables.get(self.kind, {})
        return self._rows_of([r for r in table.values() if all(getattr(r, k) == v for k, v in self.fixed.items())])

    def _rows_of(self, records: Iterable[Record]) -> list[dict[str, Any]]:
        """The rows of records; the same objects as before where nothing changed, since a record never does in place."""
        job = self.session.job
        around: list[object] = [job.tables.get(n) for n in self._named]
        if self._unread != job.unread or any(a is not b for a, b in zip_longest(around, self._around)):
            self._around, self._unread, self._made = around, job.unread, {}
            self._counts = counts(job)
        rows = []
        for record in records:
            held = self._made.get(record.id)
            if held is None or held[0] is not record or self.marked:  # a mark may hang on the day
                held = self._made[record.id] = (record, self._row(job, record))
            rows.append(held[1])
        return rows

    def _row(self, job: Job, record: Record) -> dict[str, Any]:
        cells = {f: cell_text(job, record, f) for f in self.fields}
        unread = job.unread.get((self.kind, record.id), {})
        problems = {f: "This value of the file can't be read; type it again." for f in unread if f in cells}
        cells.update({f: str(v) for f, v in unread.items() if f in cells})
        if self.flags:
            # nothing ticked means all: what is shown says so
            ticked = getattr(record, self.flags[0]) or tuple(job.tables.get(self.flags[1], {}))
            cells.update({f"{self.flags[0]}:{i}": "yes" if i in ticked else "no"
                          for i in job.tables.get(self.flags[1], {})})
        marks = {f: "assumed" for f in self.fields
                 if f not in record.model_fields_set and _is_value(getattr(record, f)) and f not in problems}
        if self.marked:
            marks.update(self.marked(job).get(record.id, {}))
        told = (f for f in self.fields if cells[f] and f not in problems)
        sort = {f: v for f in told if (v := _figure(getattr(record, f))) is not None}
        if self.pictures:
            sort[PICTURES] = number = self._counts[self.kind, record.id]
            cells[PICTURES] = str(number or "")
        return {"id": record.id, "cells": cells, "problems": problems, "marks": marks, "sort": sort}

    def _refresh(self) -> None:
        columns = self._columns()
        if columns != self.grid.columns:
            self.grid.columns = columns
        self.grid.update(self._rows(), self.session.elsewhere)

    def _change(self, message: Message) -> Answer:
        do = message["do"]
        noun = self.cls.noun
        try:
            if do in BACK:
                return {"say": _gone_back(self.session, do), **self._whole()}
            if do == "set":
                return self._set(message["changes"])
            if do == "add":
                return self._add([], [message.get("cells") or {}], message.get("after"))
            if do == "paste":
                return self._add(message.get("changes", []), message.get("new_rows", []), message.get("after"))
            if do == "duplicate":
                self.session.edit(f"{noun.capitalize()} duplicated",
                                  lambda j: edit.duplicate(j, self.kind, message["rows"])[0])
                return {**self._whole(), "say": self._left_behind(message["rows"])}
            self.session.edit(f"{noun.capitalize()} deleted", lambda j: edit.delete(j, self.kind, message["rows"]))
            return {"ok": True, "removed": list(message["rows"])}
        except Problem as problem:
            return {"ok": False, "say": self.session.words.text(problem.sentence)}

    def _left_behind(self, ids: Sequence[str]) -> str:
        """What copies did not take along, and from which record."""
        if self.kind != "box":
            return ""
        kept = [b.name for b in self.session.job.all(Box) if b.id in ids and b.points]
        return (f"A point is served by one floor box: the points stay with {', '.join(kept)}. The copy lies in the same "
                "place until you move it.") if kept else "The copy lies in the same place until you move it."

    def _whole(self) -> Answer:
        rows = self._rows()
        known = {r["id"] for r in rows}
        shown = {r["id"] for r in self.grid.rows}
        return {"ok": True, "rows": rows, "removed": sorted(shown - known), "order": [r["id"] for r in rows]}

    def _set(self, changes: Sequence[Sequence[str]]) -> Answer:
        problems: Refused = {}
        names = []
        for row, key, text in changes:
            record = self.session.job.tables.get(self.kind, {}).get(row)
            names.append(f"{record.name if record else row}: {self._label(key)} {self._said(key, text)}")

        def change(job: Job) -> Job:
            problems.clear()
            return _with_cells(self.session, job, changes, self._written, problems)

        self.session.edit(names[0] + (f" and {len(names) - 1} more" if len(names) > 1 else ""), change)
        return self._after(problems, (c[0] for c in changes))

    def _after(self, problems: Refused, touched: Iterable[str]) -> Answer:
        """The answer to an edit of cells: the rows that it touched, without those deleted elsewhere meanwhile."""
        table = self.session.job.tables.get(self.kind, {})
        ids = dict.fromkeys(touched)
        return {"ok": not any(problems.values()), "problems": problems, "removed": [i for i in ids if i not in table],
                "rows": self._rows_of([table[i] for i in ids if i in table])}

    def _written(self, job: Job, row: str, key: str, text: str) -> Job:
        """The job with one cell as typed; a Problem if it can't be taken."""
        name, value = self._meant(job, row, key, text)
        return edit.set_fields(job, self.kind, row, {name: value})

    def _meant(self, job: Job, row: str, key: str, text: str) -> tuple[str, object]:
        """Field and value for a cell; a tick adds to or takes from a list of references."""
        if ":" not in key:
            return key, "" if text == NOT_KNOWN else text
        field, ref_id = key.split(":", 1)
        record = job.tables.get(self.kind, {}).get(row)
        known = list(job.tables.get(self.flags[1] if self.flags else "", {}))
        held = [i for i in (getattr(record, field, ()) or known) if i != ref_id] if record is not None else []
        # a column that was deleted elsewhere may still be on screen
        if ref_id in known and _ticked(text):
            held = sorted([*held, ref_id], key=known.index)
        if record is not None and known and not held:
            raise Problem(f"None ticked would mean all of them: tick another first, or delete the {self.cls.noun}.")
        return field, [] if held == known else held

    def _add(self, changes: Sequence[Sequence[str]], new_rows: Sequence[Mapping[str, str]],
             after: str | None) -> Answer:
        """New rows with their cells, and cells of known rows, as one edit; a bad cell stays beside its sentence."""
        problems: Refused = {}
        made: list[str] = []

        def change(job: Job) -> Job:
            problems.clear()
            job = _with_cells(self.session, job, changes, self._written, problems)
            job, ids = edit.add(job, self.kind, [self.fixed for _ in new_rows], after)
            made[:] = ids
            new = [(row, key, text) for row, cells in zip(ids, new_rows, strict=True) for key, text in cells.items()]
            return _with_cells(self.session, job, new, self._written, problems)

        self.session.edit(f"{len(new_rows)} {self.cls.several() if len(new_rows) > 1 else self.cls.noun} added", change)
        answer = self._after(problems, [*(c[0] for c in changes), *made])
        return {**answer, "order": list(self.session.job.tables[self.kind])}

    def _said(self, key: str, text: str) -> str:
        """A cell's text in the history."""
        return text

    def _label(self, key: str) -> str:
        info = self.cls.model_fields.get(key)
        return local((info.title or key).lower(), self.session.job.settings.basis) if info else key


@dataclass(frozen=True)
class FormLine:
    """One line of a form: `read` gives the text as typed and whether it is assumed, `write` takes a text."""

    key: str
    label: str
    hint: str
    read: Callable[[Job], tuple[str, bool]]
    write: Callable[[Job, str], Job]
    cell: Mapping[str, Any] = field(default_factory=dict)  # what the grid is told of this one cell: kind, choices
    unit: Callable[[Job], str] = lambda job: ""


def settings_line(name: str) -> FormLine:
    """A line for one field of the job's settings."""
    info = Settings.model_fields[name]
    shape = shape_of(info)
    cell: dict[str, Any] = {"kind": shape} if shape in ("flag", "note") else {}
    if shape == "choice":
        cell = {"kind": "choice", "choices": _choices(info)}

    def read(job: Job) -> tuple[str, bool]:
        assumed = name not in job.settings.model_fields_set and _is_value(getattr(job.settings, name))
        return cell_text(job, job.settings, name), assumed

    return FormLine(name, info.title or name, info.description or "", read,
                    lambda job, text: edit.set_fields(job, "settings", "job", {name: text}), cell,
                    lambda job: edit.unit_of(job, info))


def _choices(info: FieldInfo) -> list[dict[str, str]]:
    shown = extra_of(info, "shown") or {}
    return [{"value": c, "label": shown.get(c, c) or "not known"} for c in extra_of(info, "choices")]


class Form:
    """Lines of what and value, each typed as text; a refused text stays beside its sentence."""

    def __init__(self, session: Session, lines: Sequence[FormLine | str], name: str) -> None:
        self.session = session
        self.lines = {x.key: x for x in (settings_line(f) if isinstance(f, str) else f for f in lines)}
        columns = [{"key": "what", "label": "What", "kind": "text", "readonly": True, "width": 230},
                   {"key": "value", "label": "Value", "kind": "text", "width": 260},
                   {"key": "hint", "label": "Hint", "kind": "note", "readonly": True, "width": 380}]
        self.grid = Grid(session.words.text(name), columns, self._rows(), self._change,
                         keep_under=f"{session.path}:form:{name}", fixed=True)
        session.listen(lambda: self.grid.update(self._rows(), session.elsewhere))

    def _rows(self) -> list[dict[str, Any]]:
        rows = []
        for line in self.lines.values():
            text, assumed = line.read(self.session.job)
            basis = self.session.job.settings.basis
            what = ", ".join(x for x in (local(line.label, basis), line.unit(self.session.job)) if x)
            rows.append({"id": line.key, "cells": {"what": what, "value": text,
                                                   "hint": local(line.hint, basis)},
                         "problems": {}, "marks": {"value": "assumed"} if assumed else {},
                         "as": {"value": dict(line.cell)} if line.cell else {}})
        return rows

    def _change(self, message: Message) -> Answer:
        changes = [c for c in message.get("changes", []) if c[1] == "value"]
        return answer_of_fixed_rows(
            self.session, {**message, "changes": changes}, self._rows,
            lambda job, key, _, text: self.lines[key].write(job, text),
            lambda: f"{local(self.lines[changes[0][0]].label, self.session.job.settings.basis)}: {changes[0][2]}",
            "These lines are fixed: type into the column Value.")


def answer_of_fixed_rows(session: Session, message: Message, rows: Callable[[], list[dict[str, Any]]],
                         write: Callable[[Job, str, str, str], Job], name: Callable[[], str], refused: str) -> Answer:
    """What a grid whose rows are given answers: cells are one edit, a refused text stays beside its sentence.

    Parameters
    ----------
    rows : the rows as they stand; write : (job, row, column, text) -> the job with it; name : of the edit, asked only
    if there is one; refused : what is said to adding, copying and deleting
    """
    problems: Refused = {}
    say = ""

    def change(job: Job) -> Job:
        problems.clear()
        return _with_cells(session, job, message.get("changes", []), write, problems)

    try:
        if message["do"] in BACK:
            say = _gone_back(session, message["do"])
        elif message["do"] not in ("set", "paste"):
            return {"ok": False, "say": session.words.text(refused)}
        elif message.get("changes"):
            session.edit(name(), change)
    except Problem as problem:
        return {"ok": False, "say": session.words.text(problem.sentence)}
    return {"ok": not any(problems.values()), "rows": rows(), "problems": problems, "say": say}


def _gone_back(session: Session, do: str) -> str:
    """Undo or redo, which goes by what was done here last in any table, and what it was."""
    return session.words.text(session.undo() if do == "undo" else session.redo())


def _with_cells(session: Session, job: Job, changes: Iterable[Sequence[str]], write: Callable[[Job, str, str, str], Job],
                problems: Refused) -> Job:
    """The job with cells written one by one. A refused one leaves its sentence in `problems`, a later good one clears it.

    Ticks are set before others are taken off, so that the order of a block's columns does not leave none on the way.
    """
    for row, key, text in sorted(changes, key=lambda c: ":" in c[1] and not _ticked(c[2])):
        try:
            job = write(job, row, key, text)
        except Problem as problem:
            problems.setdefault(row, {})[key] = session.words.text(problem.sentence)
        else:
            problems.get(row, {}).pop(key, None)
    return job


def _ticked(text: str) -> bool:
    return text.strip().lower() in ("yes", "y", "true", "1", "x")


def _figure(value: object) -> float | None:
    """What a value is sorted by where its text would be sorted by its letters; a length in metres."""
    if isinstance(value, Quantity):
        return value.si
    return float(value) if isinstance(value, int | float | Decimal) and not isinstance(value, bool) else None


def _is_value(value: object) -> bool:
    return value is not None and value != "" and value != () and value != 0 and value is not False


def _column(job: Job, cls: type[Record], name: str, readonly: bool) -> dict[str, Any]:
    info = cls.model_fields[name]
    shape = shape_of(info)
    basis = job.settings.basis
    column: dict[str, Any] = {"key": name, "label": local(info.title or name, basis), "kind": GRID_KIND.get(shape, "text"),
                              "hint": local(info.description or "", basis), "width": WIDTHS.get(shape, 170)}
    if shape == "choice":
        column["choices"] = [{**c, "label": local(c["label"], basis)} for c in _choices(info)]
    if shape == "ref":
        table = job.tables.get(str(extra_of(info, "ref")), {})
        column["choices"] = [{"value": "", "label": NOT_KNOWN}] + [{"value": r.id, "label": r.name}
                                                                   for r in table.values()]
    if unit := edit.unit_of(job, info):
        column["unit"] = unit
    if readonly:
        column["readonly"] = True
    return column
