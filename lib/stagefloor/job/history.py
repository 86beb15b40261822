"""What a job was at an earlier edit, what differs between two states, and how what was deleted comes back.

Knows the edits as the store notes them, and no widget. Nothing here writes: each way back is a change for a new edit.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.fields import extra_of, shape_of
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.record import Record
from stagefloor.job.sheet import Settings
from stagefloor.job.typed import cell_text

Change = Callable[[Job], Job]
Rows = dict[str, dict[str, dict[str, object]]]  # kind -> id -> fields as in the file


@dataclass(frozen=True)
class Difference:
    """One field of one record that differs: its record and field in words, and both texts. No field: the whole record."""

    record: str
    field: str
    before: str
    after: str


def state_at(path: Path | str, sequence: int) -> Job:
    """The job as it was after edit `sequence` (0: as it was made); a Problem if the history does not reach back so far."""
    target = store.job_file(path)
    now = store.read(target).job
    if sequence >= now.sequence:
        return now
    known = {e.sequence: e for e in store.edits(target)}
    data = json.loads(store.to_text(now))
    rows: Rows = {kind: {r["id"]: r for r in table} for kind, table in data["records"].items()}
    rows["settings"] = {"job": data["settings"]}
    for number in range(now.sequence, sequence, -1):
        if number not in known:
            raise Problem(f"Edit {number} is missing in the history, so that nothing before it can be shown.")
        _backwards(rows, known[number])
    settings = rows.pop("settings")["job"]
    data |= {"sequence": sequence, "settings": settings,
             "records": {kind: list(table.values()) for kind, table in rows.items() if table}}
    return store.from_data(data, target).job


def _backwards(rows: Rows, edit: store.Edit) -> None:
    orders = []
    for kind, record_id, before, _ in edit.changes:
        if kind == store.ORDER:
            orders.append((record_id, [str(i) for i in (before or {}).get("ids", ())]))  # type: ignore[attr-defined]
        elif before is None:
            rows.get(kind, {}).pop(record_id, None)
        else:
            rows.setdefault(kind, {})[record_id] = {"id": record_id, **before}
    for kind, ids in orders:
        table = rows.get(kind, {})
        rows[kind] = {i: table[i] for i in [*(i for i in ids if i in table), *(i for i in table if i not in set(ids))]}


def differences(before: Job, after: Job) -> list[Difference]:
    """What changed from one state to the other, in plain words, in the order of the tables."""
    found = _fields_changed(before, after, before.settings, after.settings, "Job")
    for kind, cls in RECORDS.items():
        old, new = before.tables.get(kind, {}), after.tables.get(kind, {})
        for record_id in dict.fromkeys([*old, *new]):
            a, b = old.get(record_id), new.get(record_id)
            name = f"{cls.noun.capitalize()} {(b or a).name}"  # type: ignore[union-attr]  # one of them is there
            if a is None or b is None:
                found.append(Difference(name, "", "not there" if a is None else "there",
                                        "there" if a is None else "not there"))
            else:
                found += _fields_changed(before, after, a, b, name)
    return found


def _fields_changed(before: Job, after: Job, a: Record, b: Record, name: str) -> list[Difference]:
    if a == b and before.unread.get((a.kind, a.id)) == after.unread.get((b.kind, b.id)):
        return []
    found = []
    for key, info in type(a).model_fields.items():
        if key == "id":
            continue
        old, new = (str(j.unread.get((r.kind, r.id), {}).get(key, "")) or cell_text(j, r, key)
                    for j, r in ((before, a), (after, b)))
        if old != new:
            found.append(Difference(name, info.title or key, old or "empty", new or "empty"))
    return found


def back_to(path: Path | str, sequence: int) -> Change:
    """A change that makes the job what it was after edit `sequence`; ids that were given since are not given again."""
    earlier = state_at(path, sequence)
    return lambda job: replace(earlier, sequence=job.sequence, next_number=job.next_number)


def deleted(edit: store.Edit) -> list[tuple[str, str]]:
    """(kind, id) of what an edit deleted."""
    return [(kind, i) for kind, i, before, after in edit.changes
            if kind != store.ORDER and before is not None and after is None]


def bring_back(edit: store.Edit) -> Change:
    """A change that brings back what an edit deleted, whatever was edited since.

    What the deleted records pointed to and is gone by now is left out; so is a connection point that another floor box
    serves by now. A record that the edit changed beside them (a line that lost an opening) is put back if nobody
    changed it since. A Problem if all of it is there already.
    """
    def change(job: Job) -> Job:
        # a copy of the file's data, so that the records are read as the store reads them
        data = json.loads(store.to_text(job))
        rows: Rows = {kind: {r["id"]: r for r in table} for kind, table in data["records"].items()}
        back = []
        for kind, record_id, before, after in edit.changes:
            if kind in (store.ORDER, "settings") or before is None:
                continue
            table = rows.setdefault(kind, {})
            fields = {"id": record_id, **before}
            if after is None and record_id not in table:
                table[record_id] = fields
                back.append((kind, record_id))
            elif after is not None and table.get(record_id) == {"id": record_id, **after}:
                table[record_id] = fields
        if not back:
            raise Problem(f"Nothing that '{edit.name}' deleted is missing now.")
        served = {p for i, r in rows.get(Box.kind, {}).items() if (Box.kind, i) not in back for p in _ids(r.get("points"))}
        for kind, record_id in back:
            _without_lost(rows, kind, rows[kind][record_id], served if kind == Box.kind else set())
        data["records"] = {kind: list(table.values()) for kind, table in rows.items() if table}
        found = store.from_data(data, Path(store.FILE)).job
        return replace(job, tables=found.tables, unread=found.unread)

    return change


def _ids(value: object) -> list[str]:
    return [str(i) for i in value] if isinstance(value, list | tuple) else []


def _without_lost(rows: Rows, kind: str, fields: dict[str, object], taken: set[str]) -> None:
    cls: type[Record] = Settings if kind == "settings" else RECORDS[kind]
    for name, info in cls.model_fields.items():
        known: Mapping[str, object] = rows.get(str(extra_of(info, "ref")), {})
        if shape_of(info) == "refs" and name in fields:
            fields[name] = [i for i in _ids(fields[name]) if i in known and not (name == "points" and i in taken)]
        elif shape_of(info) == "ref" and fields.get(name) and fields[name] not in known:
            del fields[name]
