"""Edits of a job: each takes a job and texts as typed and returns a new job, or raises a Problem.

Knows no file and no widget.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from stagefloor.calculations.joists import joist_size
from stagefloor.core.dates import as_kept
from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import INCH
from stagefloor.core.units import KINDS as UNIT_KINDS
from stagefloor.core.words import own_word
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Circuit, RestingCable
from stagefloor.job.closeout import Reading
from stagefloor.job.fields import extra_of, quantity, shape_of
from stagefloor.job.measured import kept
from stagefloor.job.model import RECORDS, Job, R, references, users_of
from stagefloor.job.record import Record
from stagefloor.job.sheet import Settings

NOMINAL = re.compile(r"[0-9]{1,2} ?[x×] ?[0-9]{1,2}", re.IGNORECASE)  # of lumber, as it is called
_BETWEEN = re.compile("([,;])")  # names of several records in one text
# Records of the electrician's list: kind -> field that names circuits. They outlive the circuits that they name.
MAINS = {"branchcircuit": "feeds", "mainsload": "at"}
# What a copy does not take along: a point is served by one box, and nothing of a copy is built or agreed yet.
COPY_WITHOUT = {"box": ("points", "state", "pinned", "scan"), "opening": ("was", "line"), "circuit": ("was",),
                "change": ("state", "price", "tax", "agreed_for")}
# Records that live and die with another one: kind -> field that names the owner.
OWNED_BY = {"opening": "box", "asbuilt": "box", "reading": "circuit", "changeline": "change"}


def default_unit(job: Job, shape: str, fine: bool = False) -> str:
    """The unit of a bare number in this job; `fine` of a length that is measured in inches or millimetres."""
    if shape == "length" and fine:
        return "in" if job.settings.units == "ft-in" else "mm"
    if shape == "length":
        return "ft" if job.settings.units == "ft-in" else "m"
    return {"mass": "lb" if job.settings.units == "ft-in" else "kg",
            "force": "lbf" if job.settings.units == "ft-in" else "N",
            "resistance_per_length": "ohm/km",
            "mass_per_length": "lb/kft" if job.settings.units == "ft-in" else "kg/km"}.get(shape, "")


def unit_of(job: Job, info: FieldInfo) -> str:
    """The unit in which a bare number of this field is read and told; empty if it has none or several."""
    shape = shape_of(info)
    return default_unit(job, shape, bool(extra_of(info, "fine"))) if shape == "length" else str(extra_of(info, "unit") or "")


def find_named(job: Job, kind: str, word: str) -> str:
    """The id of the record of `kind` that a typed word means: its id, or its name in any letter case.

    A record that is retired is not meant by its name: another one may have it by now.
    """
    table = job.tables.get(kind, {})
    if word in table:
        return word
    noun = RECORDS[kind].noun
    live = [r for r in table.values() if getattr(r, "state", "") != "retired"]
    named = {r.name.lower(): r.id for r in live}
    if word.lower() in named:
        same = [r for r in live if r.name.lower() == word.lower()]
        if len(same) > 1:
            raise Problem(f"{len(same)} records of the kind {noun} are called '{word[:40]}'; "
                          "give each its own name first.")
        return named[word.lower()]
    if any(r.name.lower() == word.lower() for r in table.values()):
        raise Problem(f"The {noun} '{word[:40]}' is retired; change its state first, or choose another one.")
    near = nearest(word.lower(), list(named))
    tip = f"did you mean '{table[named[near]].name}'?" if near else f"enter that {noun} first."
    raise Problem(f"There is no {noun} called '{word[:40]}'; {tip}")


def find_all_named(job: Job, kind: str, text: str) -> tuple[str, ...]:
    """The ids of the records of `kind` that a text names, with commas or semicolons between; a name may hold such itself.

    At each place the longest name is taken: with a play 'Concert, large' in the job, 'Concert, large, Talk' are two.
    """
    table = job.tables.get(kind, {})
    named = Counter(r.name.lower() for r in table.values())
    most = 1 + max((len(_BETWEEN.findall(name)) for name in named), default=0)
    cut = _BETWEEN.split(text)  # words and the marks between them in turn
    found: list[str] = []
    at = 0
    while at < len(cut):
        for end in range(min(at + 2 * most - 1, len(cut)), at, -2):
            word = "".join(cut[at:end]).strip()
            if word.lower() in named:
                break
        if word:
            found.append(by_name_first(job, kind, word))
        at = end + 1
    return tuple(found)


def by_name_first(job: Job, kind: str, word: str) -> str:
    """As `find_named`, for a word from outside: a name goes before an id, which may be another record's there."""
    same = [r.id for r in job.tables.get(kind, {}).values() if r.name.lower() == word.lower()]
    return same[0] if len(same) == 1 else find_named(job, kind, word)


def set_fields(job: Job, kind: str, record_id: str, texts: Mapping[str, object]) -> Job:
    """Change fields of one record.

    Parameters
    ----------
    texts : field name -> text as typed; lengths may be bare numbers in the job's units.

    Raises
    ------
    Problem
        The sentence for the first field that can't be read; `where` names the field. The job is unchanged.
    """
    cls: type[Record] = Settings if kind == "settings" else RECORDS[kind]
    record = job.settings if kind == "settings" else job.get(cls, record_id)
    changed = _rebuilt(job, cls, record.model_dump(exclude_unset=True), texts, record_id)
    out = kept(job, job.with_records([changed]))
    left = {k: v for k, v in job.unread.get((kind, record_id), {}).items() if k not in texts}
    return replace(out, unread={**{k: v for k, v in job.unread.items() if k != (kind, record_id)},
                                **({(kind, record_id): left} if left else {})})


def _rebuilt(job: Job, cls: type[Record], base: dict[str, object], texts: Mapping[str, object],
             record_id: str) -> Record:
    fields = dict(base)
    for name, value in texts.items():
        if name not in cls.model_fields or name == "id":
            near = nearest(name, list(cls.model_fields))
            raise Problem(f"A {cls.noun} has no field '{name}'" + (f"; did you mean '{near}'?" if near else "."), name)
        try:
            typed = _typed(job, cls, name, value)
        except Problem as problem:
            raise Problem(problem.sentence, name) from None
        if typed is None:
            fields.pop(name, None)  # an emptied field goes back to its default and counts as assumed
        else:
            fields[name] = typed
    fields["id"] = record_id
    return build(cls, fields)


def build(cls: type[R], fields: Mapping[str, object]) -> R:
    """A record from field values, or a Problem in plain words for its first bad field."""
    try:
        return cls.model_validate(dict(fields))
    except ValidationError as error:
        name, sentence = plain_errors(error)[0]
        raise Problem(sentence, name) from None


def plain_errors(error: ValidationError) -> list[tuple[str, str]]:
    """(field, sentence) for each error of the model library, in plain words."""
    found = []
    for one in error.errors():
        context = one.get("ctx", {}).get("error")
        name = str(one["loc"][0]) if one["loc"] else ""
        sentence = str(context) if context is not None else str(one["msg"])
        if not one["loc"] and "\0" in sentence:  # from the check of the whole record, which names the field
            name, sentence = sentence.split("\0", 1)
        if one["type"] == "extra_forbidden":
            sentence = f"'{name[:40]}' is not a field that this version knows."
        found.append((name, sentence))
    return found


def _typed(job: Job, cls: type[Record], name: str, value: object) -> object | None:
    """The value to store for a text as typed; None empties the field."""
    info = cls.model_fields[name]
    shape = shape_of(info)
    if isinstance(value, str):
        value = value.encode("utf-8", "ignore").decode()  # half a character can't be kept in a file
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if (side := extra_of(info, "lumber")) is not None and isinstance(value, str) and NOMINAL.fullmatch(value.strip()):
        value = f"{joist_size('x'.join(re.findall(r'[0-9]+', value)))[side] / INCH:g} in"
    if shape in UNIT_KINDS and shape != "count" and isinstance(value, str):
        return quantity(value, shape, default_unit(job, shape, bool(extra_of(info, "fine"))))
    if extra_of(info, "day"):
        return as_kept(str(value))
    if extra_of(info, "own"):
        return own_word(str(value))
    if shape == "ref":
        return find_named(job, str(extra_of(info, "ref")), str(value).strip())
    if shape == "refs":
        kind = str(extra_of(info, "ref"))
        if not isinstance(value, list | tuple):
            return find_all_named(job, kind, str(value))
        return tuple(find_named(job, kind, str(w).strip()) for w in value if str(w).strip())
    if shape == "number" and isinstance(value, str) and value.strip().endswith("%") and extra_of(info, "unit") != "%":
        raise Problem(f"'{value.strip()[:30]}' is a share, and a number "
                      + (f"in {extra_of(info, 'unit')} belongs here." if extra_of(info, "unit") else "belongs here."))
    return value


def add(job: Job, kind: str, rows: Sequence[Mapping[str, object]], after: str | None = None) -> tuple[Job, list[str]]:
    """Add records of one kind; returns the new job and the new ids.

    `rows` are texts as typed. With `after`, they stand behind that record; otherwise at the end.
    """
    cls = RECORDS[kind]
    job, ids = job.new_ids(cls, len(rows))
    records = [_rebuilt(job, cls, {}, row, i) for row, i in zip(rows, ids, strict=True)]
    job = kept(job, job.with_records(records))
    if after is not None and after in job.tables[kind]:
        order = [i for i in job.tables[kind] if i not in ids]
        order[order.index(after) + 1:order.index(after) + 1] = ids
        job = reorder(job, kind, order)
    return job, ids


def reorder(job: Job, kind: str, order: Sequence[str]) -> Job:
    """The same records in another order."""
    table = job.tables.get(kind, {})
    kept = [i for i in order if i in table]
    rest = [i for i in table if i not in set(kept)]
    return replace(job, tables={**job.tables, kind: {i: table[i] for i in [*kept, *rest]}})


def duplicate(job: Job, kind: str, ids: Sequence[str]) -> tuple[Job, list[str]]:
    """Copies of records, each behind its original, with a name that says so."""
    cls = RECORDS[kind]
    made: list[str] = []
    for old_id in ids:
        old = job.get(cls, old_id)
        job, (new_id,) = job.new_ids(cls, 1)
        update: dict[str, object] = {"id": new_id}
        if cls.name_field in cls.model_fields and shape_of(cls.model_fields[cls.name_field]) == "text":
            update[cls.name_field] = f"{old.name} copy"
        kept = old.model_dump(exclude_unset=True).items()
        fields = {k: v for k, v in kept if k not in COPY_WITHOUT.get(kind, ())} | update
        job = job.with_records([build(cls, fields)])
        order = [i for i in job.tables[kind] if i != new_id]
        order.insert(order.index(old_id) + 1, new_id)
        job = reorder(job, kind, order)
        made.append(new_id)
    return job, made


def delete(job: Job, kind: str, ids: Sequence[str]) -> Job:
    """Delete records and what lives and dies with them; a Problem if something else still points to one.

    Test readings are not lost with their line: they hinder it, and a box that is roughed in or built.
    """
    _keep_readings(job, kind, ids)
    return _deleted(job, kind, ids)


def _keep_readings(job: Job, kind: str, ids: Sequence[str]) -> None:
    """A Problem if a line would go that has test readings."""
    if kind not in ("circuit", "opening", "box"):
        return
    gone = set(ids)
    if kind == "box":
        gone = {b.id for b in job.all(Box) if b.id in gone and b.state in ("roughed in", "built")}
    lost = {o.id for o in job.all(Opening) if o.box in gone} if kind == "box" else gone
    lines = {c.id: c for c in job.all(Circuit)
             if (c.id in gone if kind == "circuit" else c.openings and lost.issuperset(c.openings))}
    read = [r.circuit for r in job.all(Reading) if r.circuit in lines] if lines else []
    if not read:
        return
    line = lines[read[0]]
    names = {o.id: o.box for o in job.all(Opening) if o.id in line.openings}
    record = line if kind == "circuit" else \
        job.get(RECORDS[kind], next(i for i in ids if i in names or i in names.values()))
    many = f"{read.count(line.id)} test reading{'s' if read.count(line.id) > 1 else ''}"
    how = "retire it" if kind == "box" else "enter a smaller need"
    raise Problem(f"{record.name} is not deleted: line {line.name} has {many}, which would go with it. Delete the readings "
                  f"in the step Closeout first, or {how}: then they are kept.")


def _deleted(job: Job, kind: str, ids: Sequence[str]) -> Job:
    cls = RECORDS[kind]
    for record_id in ids:
        record = job.get(cls, record_id)
        owned: dict[str, list[str]] = {}
        for user in users_of(job, kind, record_id):
            if user.kind == kind and user.id in ids:
                continue
            if kind in {k for _, k, _ in references(user)} and OWNED_BY.get(user.kind) == kind:
                owned.setdefault(user.kind, []).append(user.id)
                continue
            if (user.kind, kind) in (("circuit", "opening"), ("cable", "circuit"), ("restingcable", "circuit"),
                                     ("opening", "circuit"), ("restingcable", "cabletype"), ("box", "point"),
                                     *((k, "circuit") for k in MAINS)):
                continue  # it loses this opening, circuit, type or point below
            raise Problem(f"{record.name} is still used by {RECORDS[user.kind].noun} {user.name}; "
                          f"change that first, or delete it too.")
        for owned_kind, owned_ids in owned.items():
            job = _released(job, owned_kind, owned_ids)
            job = _deleted(job, owned_kind, owned_ids)
        job = _released(job, kind, [record_id])
        job = job.without(cls, [record_id])
    return job


def _off_mains(job: Job, gone: set[str]) -> Job:
    """Mains circuits and loads without these circuits; they stay, as the electrician's list names them."""
    changed: list[Record] = []
    for kind, field in MAINS.items():
        for record in job.tables.get(kind, {}).values():
            held = getattr(record, field)
            if gone.intersection(held if isinstance(held, tuple) else (held,)):
                left = tuple(i for i in held if i not in gone) if isinstance(held, tuple) else ""
                changed.append(record.model_copy(update={field: left}))
    return job.with_records(changed) if changed else job


def _released(job: Job, kind: str, ids: Sequence[str]) -> Job:
    """Circuits without these openings; a circuit, cable or reading left with nothing is deleted with them.

    A box without these points stays, as it may be given others.
    """
    if kind == "point":
        serving = [b for b in job.all(Box) if set(ids).intersection(b.points)]
        return job.with_records([b.model_copy(update={"points": tuple(p for p in b.points if p not in ids)})
                                 for b in serving]) if serving else job
    if kind == "cable":
        return job.without(RestingCable, ids) if job.all(RestingCable) else job
    if kind == "cabletype":
        return job.with_records([r.model_copy(update={"type": ""}) for r in job.all(RestingCable) if r.type in ids])
    if kind not in ("opening", "circuit"):
        return job
    field = {"opening": "openings", "circuit": "circuits"}[kind]
    gone = set(ids)
    if kind == "circuit":
        job = _off_mains(job, gone)
        sharing = [o.model_copy(update={"line": ""}) for o in job.all(Opening) if o.line in gone]
        job = job.with_records(sharing) if sharing else job
    for holder in ("circuit",) if kind == "opening" else ("cable", "restingcable"):
        for record in list(job.tables.get(holder, {}).values()):
            held = getattr(record, field)
            if not gone.intersection(held):
                continue
            left = tuple(i for i in held if i not in gone)
            job = job.with_records([record.model_copy(update={field: left})])
            if not left:
                job = _deleted(job, holder, [record.id])
    return job
