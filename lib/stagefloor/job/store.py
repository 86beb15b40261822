"""The one file that holds a job: read, write in transactions, never overwrite what can't be read.

A transaction is: lock, read again, apply, validate, note the edit, write beside, flush, replace, unlock.
Several processes may edit one job at once; a lock dies with its process.
"""

import json
import os
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from filelock import FileLock, Timeout
from pydantic import ValidationError

from stagefloor.core.problems import Problem
from stagefloor.job.edit import plain_errors
from stagefloor.job.model import RECORDS, Job, R, references
from stagefloor.job.record import Record
from stagefloor.job.sheet import Settings
from stagefloor.job.upgrade import FORMAT, upgraded

FILE = "job.json"
VERSIONS_KEPT = 30
LOCK_SECONDS = 20.0


@dataclass(frozen=True)
class Edit:
    """One entry of the job-wide sequence: what was done and each record before and after (None: not there)."""

    sequence: int
    name: str
    by: str
    when: float
    changes: tuple[tuple[str, str, dict[str, object] | None, dict[str, object] | None], ...]


@dataclass(frozen=True)
class Opened:
    """A job as read, with the values in it that could not be read, each in one sentence."""

    job: Job
    faults: tuple[str, ...] = field(default=())


def job_file(path: Path | str) -> Path:
    """The job's file for a job folder, or for the file itself; a Problem if there is none."""
    path = Path(path)
    found = path if path.suffix == ".json" else path / FILE
    if not found.is_file():
        raise Problem(f"There is no job at {path}: no {FILE} is there; name a job's folder, "
                      "or make a new job with: python3 lib new FOLDER")
    return found


def create(folder: Path | str, settings: Mapping[str, object] | None = None) -> Path:
    """Make a new, empty job in a folder that has none; returns the file."""
    folder = Path(folder)
    target = folder / FILE
    if target.exists():
        raise Problem(f"{folder} already holds a job; choose another folder, or open that job.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _write(target, Job(settings=Settings.model_validate({"id": "job", **(settings or {})})))
    except OSError as error:
        raise Problem(f"{folder} can't be written: {error.strerror}; choose another folder.") from None
    return target


def read(path: Path | str) -> Opened:
    """Read a job. A single value that can't be read is named and kept; a damaged file is a Problem."""
    target = job_file(path)
    try:
        text = target.read_text(encoding="utf-8")
    except OSError as error:
        raise Problem(f"{target} can't be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise Problem(_damaged(target)) from None
    try:
        data = json.loads(text)
    except (json.JSONDecodeError, RecursionError):
        raise Problem(_damaged(target)) from None
    return from_data(data, target)


def _damaged(target: Path) -> str:
    good = last_good_version(target)
    offer = f"the last good version is {good}: copy it over {target.name} to go back to it." if good else \
        "no earlier version was found beside it."
    return f"{target} is damaged and was left as it is; {offer}"


def from_data(data: object, target: Path) -> Opened:
    """A job from the file's data; `target` is named in sentences."""
    if not isinstance(data, dict) or not isinstance(data.get("records", {}), dict):
        raise Problem(_damaged(target))
    data = upgraded(data, str(target))
    faults: list[str] = []
    unread: dict[tuple[str, str], dict[str, object]] = {}
    settings = _record(Settings, data.get("settings"), faults, unread) or Settings(id="job")
    tables: dict[str, dict[str, Record]] = {}
    known = data.get("records")
    for kind, rows in known.items() if isinstance(known, dict) else ():
        if kind not in RECORDS or not isinstance(rows, list):
            raise Problem(f"{target} has records of the kind '{str(kind)[:40]}', which this version doesn't know; "
                          "it was left as it is.")
        for row in rows:
            record = _record(RECORDS[kind], row, faults, unread)
            if record is not None:
                if record.id in tables.setdefault(kind, {}):
                    raise Problem(f"{target} has two records with the id '{record.id}'; it was left as it is.")
                tables[kind][record.id] = record
    job = Job(settings=settings, tables=tables, sequence=_whole(data.get("sequence")),
              next_number=_whole(data.get("next_number"), 1), unread=unread)
    return Opened(_numbers_ahead(job), (*faults, *_dangling(job)))


def _whole(value: object, least: int = 0) -> int:
    return value if isinstance(value, int) and value >= least else least


def _numbers_ahead(job: Job) -> Job:
    used = [int(i.rsplit("-", 1)[1]) for t in job.tables.values() for i in t
            if i.rsplit("-", 1)[-1].isascii() and i.rsplit("-", 1)[-1].isdigit() and "-" in i]
    return replace(job, next_number=max(job.next_number, max(used, default=0) + 1))


def _dangling(job: Job) -> list[str]:
    return [f"{r.noun.capitalize()} {r.name} points to {RECORDS[kind].noun} '{i}', which is not there."
            for table in job.tables.values() for r in table.values()
            for _, kind, i in references(r) if i not in job.tables.get(kind, {})]


def _record(cls: type[R], row: object, faults: list[str],
                       unread: dict[tuple[str, str], dict[str, object]]) -> R | None:
    """A record from one line of the file; a field that can't be read is set aside and named."""
    if not isinstance(row, dict):
        faults.append(f"A {cls.noun} in the file is not a record and was left out.") if row is not None else None
        return None
    fields = {str(k): v for k, v in row.items()}
    record_id = str(fields.get("id", ""))
    set_aside: dict[str, object] = {}
    for _ in range(len(fields) + 1):
        try:
            record = cls.model_validate(fields)
        except ValidationError as error:
            for name, sentence in plain_errors(error):
                if name in fields:
                    set_aside[name] = fields.pop(name)
                    faults.append(f"{cls.noun.capitalize()} {record_id}, {name}: {sentence} "
                                  "The rest was read; the value is kept until you change it.")
            continue
        if set_aside:
            unread[(cls.kind, record_id)] = set_aside
        return record
    return None


def to_text(job: Job) -> str:
    """The file's text: human-readable, one record a line."""
    def line(record: Record) -> str:
        fields = record.model_dump(mode="json", exclude_unset=True)
        fields |= job.unread.get((record.kind, record.id), {})
        fields = {"id": record.id, **{k: v for k, v in fields.items() if k != "id"}}
        return json.dumps(fields, ensure_ascii=False)

    tables = []
    for kind in RECORDS:
        rows = job.tables.get(kind, {})
        if rows:
            tables.append(f'  "{kind}": [\n' + ",\n".join("   " + line(r) for r in rows.values()) + "\n  ]")
    return (f'{{\n "format": {FORMAT},\n "sequence": {job.sequence},\n "next_number": {job.next_number},\n'
            f' "settings": {line(job.settings)},\n "records": {{\n' + ",\n".join(tables) + "\n }\n}\n")


def _write(target: Path, job: Job) -> None:
    beside = target.with_name(f".{target.name}.{os.getpid()}.new")
    try:
        with open(beside, "w", encoding="utf-8", newline="\n") as handle:
            handle.write(to_text(job))
            handle.flush()
            os.fsync(handle.fileno())
        os.replace(beside, target)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    _flush_folder(target.parent)


def _flush_folder(folder: Path) -> None:
    if os.name == "nt":  # a folder can't be flushed there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def transact(path: Path | str, change: Callable[[Job], Job], name: str, by: str = "") -> Job:
    """Apply one change to the job as it is on disk now, and save it before returning.

    Parameters
    ----------
    change : takes the job as read and returns the changed one; a Problem it raises leaves the file alone.
    name : what was done, for the history, such as 'Point A02: microphone 5'.

    Raises
    ------
    Problem
        If the change is refused, the file is damaged, locked by someone for too long, read-only or on a full disk.
    """
    target = job_file(path)
    lock = FileLock(str(target.with_name(".job.lock")), timeout=LOCK_SECONDS)
    try:
        with lock:
            before = read(target).job
            after = change(before)
            changes = difference(before, after)
            if not changes and after.tables == before.tables:
                return before
            after = replace(after, sequence=before.sequence + 1)
            _note(target, Edit(after.sequence, name, by, time.time(), changes))
            _write(target, after)
            _keep_version(target, after)
            return after
    except Timeout:
        raise Problem(f"Someone else has been writing {target.name} for {LOCK_SECONDS:.0f} seconds; "
                      "nothing was lost, try again.") from None
    except PermissionError:
        raise Problem(f"{target} is read-only here; nothing was changed. "
                      "Copy the job's folder to where you may write.") from None
    except OSError as error:
        raise Problem(f"{target} could not be saved ({error.strerror}); the file on disk is as it was before "
                      "this edit. Make room or choose another folder, then repeat the edit.") from None


def difference(before: Job, after: Job) -> tuple[
        tuple[str, str, dict[str, object] | None, dict[str, object] | None], ...]:
    """(kind, id, fields before, fields after) of every record that differs."""
    def data(record: Record | None) -> dict[str, object] | None:
        return None if record is None else record.model_dump(mode="json", exclude_unset=True)

    changes = []
    if before.settings != after.settings:
        changes.append(("settings", "job", data(before.settings), data(after.settings)))
    for kind in RECORDS:
        old, new = before.tables.get(kind, {}), after.tables.get(kind, {})
        if old is new:
            continue
        for record_id in dict.fromkeys([*old, *new]):
            a, b = old.get(record_id), new.get(record_id)
            if a is not b and data(a) != data(b):
                changes.append((kind, record_id, data(a), data(b)))
    return tuple(changes)


def _history(target: Path) -> Path:
    return target.parent / "history"


def _note(target: Path, edit: Edit) -> None:
    """Write the edit ahead of the file, so that no saved state is without its history."""
    folder = _history(target)
    folder.mkdir(exist_ok=True)
    entry = {"sequence": edit.sequence, "name": edit.name, "by": edit.by, "when": edit.when,
             "changes": [list(c) for c in edit.changes]}
    with open(folder / "edits.jsonl", "ab") as handle:
        # a torn last line of a crash must not swallow this one
        handle.write(b"\n" + json.dumps(entry, ensure_ascii=False).encode() + b"\n")
        handle.flush()
        os.fsync(handle.fileno())


def _keep_version(target: Path, job: Job) -> None:
    folder = _history(target)
    _write(folder / f"job-{job.sequence:06d}.json", job)
    for old in sorted(folder.glob("job-*.json"))[:-VERSIONS_KEPT]:
        old.unlink(missing_ok=True)


def last_good_version(target: Path) -> Path | None:
    """The newest kept version that can be read."""
    for path in sorted(_history(target).glob("job-*.json"), reverse=True):
        try:
            data = json.loads(path.read_text(encoding="utf-8"))
            if isinstance(data, dict) and "records" in data:
                return path
        except (OSError, ValueError):
            continue
    return None


def edits(path: Path | str) -> list[Edit]:
    """The edits that are in the file, in order. Entries of a crash before its save are not among them."""
    target = job_file(path)
    log = _history(target) / "edits.jsonl"
    if not log.is_file():
        return []
    found: dict[int, Edit] = {}
    for line in log.read_bytes().splitlines():
        try:
            e = json.loads(line)
            found[e["sequence"]] = Edit(e["sequence"], e["name"], e["by"], e["when"],
                                        tuple((c[0], c[1], c[2], c[3]) for c in e["changes"]))
        except (ValueError, KeyError, TypeError, IndexError):
            continue  # a torn line
    last = read(target).job.sequence
    return [found[s] for s in sorted(found) if s <= last]


def undo(path: Path | str, sequence: int, by: str = "", word: str = "Undo") -> Job:
    """Take one edit back as a new edit; refused with a reason if a later edit touched the same record."""
    known = {e.sequence: e for e in edits(path)}
    if sequence not in known:
        raise Problem(f"Edit {sequence} is not in this job's history any more.")
    edit = known[sequence]

    def change(job: Job) -> Job:
        records: list[Record] = []
        for kind, record_id, before, after in edit.changes:
            cls: type[Record] = Settings if kind == "settings" else RECORDS[kind]
            now = job.settings if kind == "settings" else job.find(cls, record_id)
            data = None if now is None else now.model_dump(mode="json", exclude_unset=True)
            if data != after:
                raise Problem(f"'{edit.name}' can't be undone: {cls.noun} {now.name if now else record_id} "
                              "was changed again later; undo that first.")
            if before is not None:
                records.append(cls.model_validate(before))
            elif kind != "settings":
                job = job.without(cls, [record_id])
        return job.with_records(records)

    return transact(path, change, f"{word}: {edit.name}", by)
