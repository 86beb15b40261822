"""Tables of a job from and to files: columns matched to fields, rows added or changed by their name, all shown first."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import KINDS as UNIT_KINDS
from stagefloor.core.words import local
from stagefloor.job import edit
from stagefloor.job.cables import Cable
from stagefloor.job.exchange.preview import ADD, CHANGE, REFUSE, SAME, Line, Plan
from stagefloor.job.exchange.sheet_file import shown
from stagefloor.job.exchange.table_file import TableFile
from stagefloor.job.fields import extra_of, shape_of
from stagefloor.job.inventory import ALSO
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.record import Record
from stagefloor.job.typed import cell_text

# not for people to fill in: what the workbook keeps about sheets, pictures, backgrounds and its own plans
OWN = ("sheet", "taken", "picture", "background", "planadopted", "pricing", "restingcable")
TABLES = tuple(kind for kind in RECORDS if kind not in OWN)
HEAD = re.compile(r"^(?P<words>.*?)\s*[\[(](?P<unit>[^\])]{1,12})[\])]\s*$")
BARE = re.compile(r"^[+-−]?[\d.,/ ]+$")


@dataclass(frozen=True)
class Column:
    """A column of the file: the field it is read as (empty: left out), and the unit of its bare numbers."""

    head: str
    field: str
    unit: str = ""


def fields_of(kind: str) -> list[str]:
    """The fields of a kind of record that stand in its table."""
    return [name for name in RECORDS[kind].model_fields if name != "id"
            and (kind, name) not in (("opening", "was"), ("opening", "line"), ("circuit", "was"))]


def title_of(kind: str, name: str) -> str:
    """The head of a column."""
    return RECORDS[kind].model_fields[name].title or name


def matched(kind: str, heads: Sequence[str]) -> tuple[Column, ...]:
    """Columns by their heads: the field's own words first, then a word that means it, then the nearest that is close."""
    words = {_plain(w): n for n in fields_of(kind) for basis in ("US", "") for w in (local(title_of(kind, n), basis), n,
                                                                                      title_of(kind, n))}
    also = {_plain(w + plural): n for w, n in ALSO.items() if n in words.values() for plural in ("", "s")} | \
        dict.fromkeys(("name", "id", "label"), RECORDS[kind].name_field)
    plain = [_plain(_words(head)) for head in heads]
    found: dict[int, str] = {}

    def claim(field_of: Callable[[str], str]) -> None:
        for i, head in enumerate(plain):
            field = field_of(head) if i not in found else ""
            if field and field not in found.values():
                found[i] = field

    claim(lambda head: words.get(head, ""))
    claim(lambda head: also.get(head, ""))
    claim(lambda head: words.get(_close(head, list(words)), ""))
    return tuple(Column(head, found.get(i, ""), _unit(head)) for i, head in enumerate(heads))


def _close(word: str, known: list[str]) -> str:
    """The known word that is all but the same: same first letter, about as long; a looser guess would mislead."""
    near = nearest(word, known) if len(word) > 3 else ""
    return near if near and near[0] == word[0] and abs(len(near) - len(word)) <= 3 else ""


def _plain(text: str) -> str:
    return "".join(c for c in text.lower() if c.isalnum())


def _words(head: str) -> str:
    found = HEAD.match(head)
    return found["words"] if found else head


def _unit(head: str) -> str:
    found = HEAD.match(head)
    unit = found["unit"].strip() if found else ""
    return unit if any(unit in units for _, units in UNIT_KINDS.values()) else ""


def planned(job: Job, kind: str, file: TableFile, columns: Sequence[Column]) -> Plan:
    """What the file does to a table: a row whose name is known changes that record, another one is added."""
    cls = RECORDS[kind]
    if not any(c.field for c in columns):
        raise Problem(f"No column of {file.name} is a column of the table; its first row must hold the heads, such as "
                      f"{', '.join(title_of(kind, n) for n in fields_of(kind)[:3])}.")
    by_name = shape_of(cls.model_fields[cls.name_field]) == "text"
    if by_name and not any(c.field == cls.name_field for c in columns):
        raise Problem(f"No column of {file.name} is the column '{title_of(kind, cls.name_field)}', by which a row is known; "
                      "name it so in the first row, or choose it below.")
    lines: list[Line] = []
    seen: dict[str, int] = {}
    known: dict[str, list[str]] = {}
    for record in job.tables.get(kind, {}).values():
        known.setdefault(record.name.lower(), []).append(record.id)
    for number, cells in file.rows:
        fields = {c.field: _typed(kind, c, text) for c, text in zip(columns, cells, strict=True) if c.field and text}
        name = fields.get(cls.name_field, "")
        subject = f"Row {number}, {shown(name) or cls.noun}"
        try:
            if by_name:
                _check_name(cls, name, number, seen, known)
            job, line = _row(job, kind, fields, known.get(name.lower(), []) if by_name else [], subject)
            lines.append(line)
        except Problem as problem:
            where = f"{title_of(kind, problem.where)}: " if problem.where in cls.model_fields else ""
            lines.append(Line(REFUSE, subject, where + problem.sentence))
    return Plan(job, tuple(lines))


def _check_name(cls: type[Record], name: str, number: int, seen: dict[str, int], known: Mapping[str, list[str]]) -> None:
    if not name:
        raise Problem(f"it has no {(cls.model_fields[cls.name_field].title or 'name').lower()}, by which it would be known")
    if name.lower() in seen:
        raise Problem(f"row {seen[name.lower()]} has the same name; the first was read")
    seen[name.lower()] = number
    if len(known.get(name.lower(), [])) > 1:
        raise Problem(f"{len(known[name.lower()])} rows of the table have this name; give each its own first")


def _row(job: Job, kind: str, fields: Mapping[str, str], same_name: Sequence[str], subject: str) -> tuple[Job, Line]:
    if not same_name:
        after, (new_id,) = edit.add(job, kind, [fields])
        _check_carries(after, kind, new_id)
        made = after.tables[kind][new_id].model_dump(exclude={"id"})
        if shape_of(RECORDS[kind].model_fields[RECORDS[kind].name_field]) != "text" and any(
                r.model_dump(exclude={"id"}) == made for r in job.tables.get(kind, {}).values()):
            return job, Line(SAME, subject)
        return after, Line(ADD, subject, _listed(kind, fields))
    record = job.tables[kind][same_name[0]]
    after = edit.set_fields(job, kind, record.id, fields)
    if "circuits" in fields:
        _check_carries(after, kind, record.id)
    now = after.tables[kind][record.id]
    changes = [f"{title_of(kind, n).lower()}: {shown(cell_text(job, record, n)) or 'empty'} → "
               f"{shown(cell_text(after, now, n))}" for n in fields if getattr(record, n) != getattr(now, n)]
    return (after, Line(CHANGE, subject, ", ".join(changes))) if changes else (job, Line(SAME, subject))


def _check_carries(job: Job, kind: str, record_id: str) -> None:
    if kind == Cable.kind and not job.get(Cable, record_id).circuits:  # the boxes' plan would take it away
        raise Problem(f"it names no line; enter the lines that it carries under '{title_of(kind, 'circuits')}'")


def _typed(kind: str, column: Column, text: str) -> str:
    """A cell's text; a bare number in a column with a unit in its head gets that unit."""
    shape = shape_of(RECORDS[kind].model_fields[column.field])
    if shape in UNIT_KINDS and column.unit and BARE.match(text):
        return f"{text} {column.unit}"
    return text


def _listed(kind: str, fields: Mapping[str, str]) -> str:
    return ", ".join(f"{title_of(kind, n).lower()}: {shown(t, 50)}" for n, t in fields.items()
                     if n != RECORDS[kind].name_field)


def table(job: Job, kind: str) -> tuple[list[str], list[list[str]]]:
    """Heads and rows of a table, every cell as it was typed; heads and choices in the words of the job."""
    names, basis = fields_of(kind), job.settings.basis
    chosen = {n for n in names if shape_of(RECORDS[kind].model_fields[n]) == "choice"}

    def cell(record: Record, name: str) -> str:
        text = cell_text(job, record, name)
        return local(text, basis) if name in chosen else text

    return ([local(title_of(kind, n), basis) for n in names],
            [[cell(r, n) for n in names] for r in job.tables.get(kind, {}).values()])


def notes(job: Job, kind: str) -> list[str]:
    """How to fill a table in, a line for each column."""
    cls = RECORDS[kind]
    unit = edit.default_unit(job, "length")
    lines = [f"One {cls.noun} a row. A row whose '{title_of(kind, cls.name_field)}' is in the job already changes it; empty "
             "cells change nothing.",
             f"Lengths as you measure them: 12' 6 1/2\", 3.81 m; a bare number is in {unit} if its column says nothing "
             "else. A unit in the head, such as 'Across [m]', is for the whole column."]
    for name in fields_of(kind):
        info = cls.model_fields[name]
        said = [info.description or "", f"one of: {', '.join(c for c in extra_of(info, 'choices') if c)}"
                if shape_of(info) == "choice" else "", "names, with commas between" if shape_of(info) == "refs" else "",
                "a name" if shape_of(info) == "ref" else "",
                f"a bare number is in {edit.unit_of(job, info)}" if extra_of(info, "fine") else "",
                "yes or no" if shape_of(info) == "flag" else ""]
        lines.append(f"{title_of(kind, name)}: " + ("; ".join(s for s in said if s) or "as typed"))
    return [local(line, job.settings.basis) for line in lines]
