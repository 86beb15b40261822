"""Tables of a job from and to files: columns matched to fields, rows added or changed by their name, all shown first."""

from collections.abc import Mapping, Sequence

from stagefloor.core.problems import Problem
from stagefloor.core.words import local
from stagefloor.job import edit
from stagefloor.job.cables import Cable
from stagefloor.job.exchange.csv_text import check_width
from stagefloor.job.exchange.heads import Column, ReadIn, cell_as_typed, fields_of, read_in, title_of
from stagefloor.job.exchange.preview import ADD, CHANGE, REFUSE, SAME, Line, Plan
from stagefloor.job.exchange.sheet_file import shown
from stagefloor.job.exchange.table_file import TableFile
from stagefloor.job.fields import extra_of, shape_of
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.record import Record
from stagefloor.job.typed import cell_text

# not for people to fill in: what the workbook keeps about sheets, pictures, backgrounds and its own plans
OWN = ("sheet", "taken", "picture", "background", "planadopted", "pricing", "restingcable")
MANY_ALIKE = ("layer", "changeline", "remark", "actual")  # one text stands for several: two layers of plywood in a floor
NAMELESS = ("reel",)  # a reel that is sold has no mark of its own
TABLES = tuple(kind for kind in RECORDS if kind not in OWN)


def planned(job: Job, kind: str, file: TableFile, columns: Sequence[Column]) -> Plan:
    """What the file does to a table: a row whose name is known changes that record, another one is added."""
    cls = RECORDS[kind]
    if not any(c.field for c in columns):
        raise Problem(f"No column of {file.name} is a column of the table; its first row must hold the heads, such as "
                      f"{', '.join(title_of(kind, n) for n in fields_of(kind)[:3])}.")
    chosen = [c.field for c in columns if c.field]
    if twice := next((f for f in chosen if chosen.count(f) > 1), ""):
        raise Problem(f"Two columns are read as '{title_of(kind, twice)}': leave one of them out.")
    by_name = _known_by_name(kind)
    if by_name and not any(c.field == cls.name_field for c in columns):
        raise Problem(f"No column of {file.name} is the column '{title_of(kind, cls.name_field)}', by which a row is known; "
                      "name it so in the first row, or choose it below.")
    lines: list[Line] = []
    seen: dict[str, int] = {}
    known: dict[str, list[str]] = {}
    contents = set()
    for record in job.tables.get(kind, {}).values():
        known.setdefault(record.name.lower(), []).append(record.id)
        contents.add(_content(record))
    how = [read_in(job, kind, c) if c.field else ReadIn() for c in columns]
    at_name = next((i for i, c in enumerate(columns) if c.field == cls.name_field), None)
    for number, cells in file.rows:
        name = cells[at_name] if at_name is not None else ""
        subject = f"Row {number}, {shown(name) or cls.noun}"
        try:
            check_width(cells, len(file.heads))
            fields = {c.field: _value(job, kind, c, h, text)
                      for c, h, text in zip(columns, how, cells, strict=True) if c.field and text}
            called = by_name and (bool(name) or kind not in NAMELESS)
            same = known.get(name.lower(), []) if called else []
            if (len(same) > 1 or not called) and _content(made := _made(job, kind, fields)[1]) in contents:
                lines.append(Line(SAME, subject))
                continue
            if called:
                _check_name(cls, name, number, seen, same)
            else:
                contents.add(_content(made))
            job, line = _changed(job, kind, same[0], fields, subject) if same else _added(job, kind, fields, subject)
            lines.append(line)
        except Problem as problem:
            where = f"{title_of(kind, problem.where)}: " if problem.where in cls.model_fields else ""
            lines.append(Line(REFUSE, subject, where + problem.sentence))
    return Plan(job, tuple(lines))


def _known_by_name(kind: str) -> bool:
    """Whether a row is known by a text of its own, and not only by all that stands in it."""
    return kind not in MANY_ALIKE and shape_of(RECORDS[kind].model_fields[RECORDS[kind].name_field]) == "text"


def _content(record: Record) -> str:
    return repr(record.model_dump(exclude={"id"}))


def _check_name(cls: type[Record], name: str, number: int, seen: dict[str, int], same: Sequence[str]) -> None:
    if not name:
        raise Problem(f"it has no {(cls.model_fields[cls.name_field].title or 'name').lower()}, by which it would be known")
    if name.lower() in seen:
        raise Problem(f"row {seen[name.lower()]} has the same name; the first was read")
    seen[name.lower()] = number
    if len(same) > 1:
        raise Problem(f"{len(same)} rows of the table have this name; give each its own first")


def _made(job: Job, kind: str, fields: Mapping[str, object]) -> tuple[Job, Record]:
    after, (new_id,) = edit.add(job, kind, [fields])
    _check_carries(after, kind, new_id)
    return after, after.tables[kind][new_id]


def _added(job: Job, kind: str, fields: Mapping[str, object], subject: str) -> tuple[Job, Line]:
    after, made = _made(job, kind, fields)
    stored = {n: _cell(after, made, n) for n in fields if n != RECORDS[kind].name_field}
    return after, Line(ADD, subject, ", ".join(f"{title_of(kind, n).lower()}: {shown(text, 50)}"
                                               for n, text in stored.items() if text))


def _changed(job: Job, kind: str, record_id: str, fields: Mapping[str, object], subject: str) -> tuple[Job, Line]:
    record = job.tables[kind][record_id]
    after = edit.set_fields(job, kind, record.id, fields)
    if "circuits" in fields:
        _check_carries(after, kind, record.id)
    now = after.tables[kind][record.id]
    changes = [f"{title_of(kind, n).lower()}: {shown(_cell(job, record, n)) or 'empty'} → "
               f"{shown(_cell(after, now, n))}" for n in fields if getattr(record, n) != getattr(now, n)]
    return (after, Line(CHANGE, subject, ", ".join(changes))) if changes else (job, Line(SAME, subject))


def _check_carries(job: Job, kind: str, record_id: str) -> None:
    if kind == Cable.kind and not job.get(Cable, record_id).circuits:  # the boxes' plan would take it away
        raise Problem(f"it names no line; enter the lines that it carries under '{title_of(kind, 'circuits')}'")


def _value(job: Job, kind: str, column: Column, how: ReadIn, text: str) -> object:
    """A cell as an edit takes it: a bare number with the unit of its head; for a name the id of what it means here."""
    info = RECORDS[kind].model_fields[column.field]
    if shape_of(info) != "ref":
        return cell_as_typed(kind, column, how, text)
    try:
        return edit.by_name_first(job, str(extra_of(info, "ref")), text.strip())
    except Problem as problem:
        raise Problem(problem.sentence, column.field) from None


def _cell(job: Job, record: Record, name: str) -> str:
    """A field as it was typed; what it points to by name, or by id where the name does not lead back to it."""
    info, value = type(record).model_fields[name], getattr(record, name)
    text = cell_text(job, record, name)
    if shape_of(info) not in ("ref", "refs") or not value:
        return text
    kind = str(extra_of(info, "ref"))
    table = job.tables.get(kind, {})
    if shape_of(info) == "refs":
        return text if _read_back(job, kind, text) == tuple(i for i in value if i in table) else ", ".join(value)
    named = table[value].name if value in table else ""
    return named if named and _read_back(job, kind, named, one=True) == (value,) else value


def _read_back(job: Job, kind: str, text: str, *, one: bool = False) -> tuple[str, ...] | None:
    try:
        return (edit.by_name_first(job, kind, text),) if one else edit.find_all_named(job, kind, text)
    except Problem:
        return None


def table(job: Job, kind: str) -> tuple[list[str], list[list[str]]]:
    """Heads and rows of a table, every cell as it was typed; heads and choices in the words of the job."""
    names, basis = fields_of(kind), job.settings.basis
    chosen = {n for n in names if shape_of(RECORDS[kind].model_fields[n]) == "choice"}

    def cell(record: Record, name: str) -> str:
        text = _cell(job, record, name)
        return local(text, basis) if name in chosen else text

    return ([local(title_of(kind, n), basis) for n in names],
            [[cell(r, n) for n in names] for r in job.tables.get(kind, {}).values()])


def notes(job: Job, kind: str) -> list[str]:
    """How to fill a table in, a line for each column."""
    cls = RECORDS[kind]
    unit = edit.default_unit(job, "length")
    again = f"A row whose '{title_of(kind, cls.name_field)}' is in the job already changes it; empty cells change nothing." \
        if _known_by_name(kind) else "A row that stands in the job just so is left as it is; every other one is added."
    lines = [f"One {cls.noun} a row. {again}",
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
