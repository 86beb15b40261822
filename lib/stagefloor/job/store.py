"""The one file that holds a job: read, write in transactions, never overwrite what can't be read.

A transaction is: lock, read again, apply, validate, note the edit, write beside, flush, replace, unlock.
Several processes may edit one job at once; a lock dies with its process. Where locks do not hold (some network shares),
a file that changed since it was read is not replaced: the edit is refused instead.
"""

import errno
import json
import os
import shutil
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path

from filelock import FileLock, Timeout
from pydantic import ValidationError

from stagefloor.core.problems import Problem
from stagefloor.job import disk
from stagefloor.job.edit import build, plain_errors, reorder
from stagefloor.job.model import RECORDS, Job, R, references
from stagefloor.job.record import Record
from stagefloor.job.sheet import Settings
from stagefloor.job.upgrade import FORMAT, upgraded

FILE = "job.json"
VERSIONS_KEPT = 30
LOCK_SECONDS = 20.0
ORDER = "order"  # among the changes of an edit: the ids of one kind in the user's order
LATEST = 1e11  # seconds since 1970: in the year 5138
LONGEST_ID = 200  # characters
LONGEST_NUMBER = 15  # digits of a number in an id that is counted on; a longer one was never given by us
Fields = dict[str, object]
Changes = tuple[tuple[str, str, Fields | None, Fields | None], ...]


@dataclass(frozen=True)
class Edit:
    """One entry of the job-wide sequence: what was done and each record before and after (None: not there).

    `changes`: (kind, id, fields before, fields after); (ORDER, kind, ...) where an undo could not find the order.
    """

    sequence: int
    name: str
    by: str
    when: float
    changes: Changes


@dataclass(frozen=True)
class Opened:
    """A job as read, with the values in it that could not be read, each in one sentence."""

    job: Job
    faults: tuple[str, ...] = field(default=())


def job_file(path: Path | str) -> Path:
    """The job's file for a job folder, or for the file itself; a Problem if there is none."""
    path = Path(path)
    found = path if path.suffix == ".json" else path / FILE
    try:
        there = found.is_file()
        if there and found.is_symlink():
            found = found.resolve()  # replacing the link would leave two jobs that drift apart
    except OSError as error:
        raise Problem(f"There is no job at {path}: {error.strerror}.") from None
    if not there:
        raise Problem(f"There is no job at {path}: no {FILE} is there; name a job's folder, "
                      "or make a new job with: python3 lib new FOLDER")
    return found


def create(folder: Path | str, settings: Mapping[str, object] | None = None) -> Path:
    """Make a new, empty job in a folder that has none; returns the file."""
    folder = Path(folder)
    target = folder / FILE
    new = Job(settings=build(Settings, {"id": "job", **(settings or {})}))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _lock(target):
            if target.exists() or target.is_symlink():
                raise Problem(f"{folder} already holds a job; choose another folder, or open that job.")
            disk.replace_whole(target, to_text(new).encode(), disk.beside(target))
    except Timeout:
        raise Problem(f"Someone else is making a job in {folder} now; open that one.") from None
    except OSError as error:
        raise Problem(f"{folder} can't be written: {error.strerror}; choose another folder.") from None
    return target


def read(path: Path | str) -> Opened:
    """Read a job. A single value that can't be read is named and kept; a damaged file is a Problem."""
    target = job_file(path)
    now = stamp(target)
    if now is not None and target in _seen and _seen[target][0] == now:
        return _seen[target][2]
    data = _bytes(target)
    opened = _opened(target, data)
    _remember(target, now, data, opened)
    return opened


# The last reading of a few files: every save makes a new file, so that inode, time and size tell a changed one well
# enough to be shown. Before a save the bytes themselves are compared: a clock may go back, and a number be given again.
_seen: dict[Path, tuple[tuple[int, int, int], bytes, "Opened"]] = {}
FILES_REMEMBERED = 4


def stamp(target: Path) -> tuple[int, int, int] | None:
    """What tells a changed file from the one that was read; None if there is none."""
    try:
        status = target.stat()
    except OSError:
        return None
    return status.st_ino, status.st_mtime_ns, status.st_size


def _remember(target: Path, now: tuple[int, int, int] | None, data: bytes, opened: Opened) -> None:
    _seen.pop(target, None)
    if now is not None and not opened.faults and not opened.job.unread:
        _seen[target] = (now, data, opened)
    while len(_seen) > FILES_REMEMBERED:
        del _seen[next(iter(_seen))]


def _bytes(target: Path) -> bytes:
    try:
        size = target.stat().st_size
        if size > disk.MOST_BYTES:
            raise Problem(f"{target} has {size / 1e6:,.0f} MB, more than a job ever has; it was left as it is. "
                          f"{_offer(target)}")
        return target.read_bytes()
    except OSError as error:
        raise Problem(f"{target} can't be read: {error.strerror}.") from None


def _opened(target: Path, data: bytes) -> Opened:
    if target in _seen and _seen[target][1] == data:
        return _seen[target][2]
    try:
        return from_data(disk.parsed(data), target)
    except disk.Doubled as doubled:
        raise Problem(f"{target} has a line that names '{doubled.field[:40]}' twice; it was left as it is. Take one of the "
                      f"two away in a text editor. {_offer(target)}") from None
    except (ValueError, RecursionError, MemoryError):  # a number of thousands of digits is a plain ValueError
        raise Problem(_damaged(target)) from None


def _damaged(target: Path) -> str:
    return f"{target} is damaged and was left as it is. {_offer(target)}"


def _offer(target: Path) -> str:
    good = last_good_version(target)
    return f"The last good version is {good}: copy it over {target.name} to go back to it." if good else \
        "No earlier version was found beside it."


def from_data(data: object, target: Path) -> Opened:
    """A job from the file's data; `target` is named in sentences."""
    if not isinstance(data, dict):
        raise Problem(_damaged(target))
    data = upgraded(data, str(target))
    known, sheet = data.get("records"), data.get("settings", {})
    if not isinstance(known, dict) or not isinstance(sheet, dict):
        raise Problem(_damaged(target))
    strange = [str(k) for k in data if k not in ("format", "sequence", "next_number", "settings", "records")]
    if strange:
        raise Problem(f"{target} holds '{strange[0][:40]}', which this version doesn't know; it was left as it is.")
    faults: list[str] = []
    unread: dict[tuple[str, str], dict[str, object]] = {}
    settings = _record(Settings, {**sheet, "id": "job"}, faults, unread)
    tables: dict[str, dict[str, Record]] = {}
    for kind, rows in known.items():
        if kind not in RECORDS or not isinstance(rows, list):
            raise Problem(f"{target} has records of the kind '{str(kind)[:40]}', which this version doesn't know; "
                          "it was left as it is.")
        table = tables.setdefault(kind, {})
        for row in rows:
            if not isinstance(row, dict) or not _is_id(row.get("id")):
                raise Problem(f"{target} has a line under '{kind}' that is no record with an id; it was left as it "
                              f"is. {_offer(target)}")
            if row["id"] in table:
                raise Problem(f"{target} has two records with the id '{row['id']}'; it was left as it is. "
                              f"{_offer(target)}")
            table[row["id"]] = _record(RECORDS[kind], row, faults, unread)
    job = Job(settings=settings, tables=tables, sequence=_whole(data.get("sequence")),
              next_number=_whole(data.get("next_number"), 1), unread=unread)
    return Opened(_numbers_ahead(job), (*faults, *_dangling(job)))


def _is_id(value: object) -> bool:
    """True for a name that another record can point to as it stands."""
    return isinstance(value, str) and 0 < len(value) <= LONGEST_ID and value.isprintable() and value == value.strip()


def _whole(value: object, least: int = 0) -> int:
    good = isinstance(value, int) and not isinstance(value, bool) and least <= value < 10**LONGEST_NUMBER
    return value if good and isinstance(value, int) else least


def _numbers_ahead(job: Job) -> Job:
    ends = (i.rsplit("-", 1)[1] for t in job.tables.values() for i in t if "-" in i)
    used = [int(e) for e in ends if e.isascii() and e.isdigit() and len(e) <= LONGEST_NUMBER]
    return replace(job, next_number=max(job.next_number, max(used, default=0) + 1))


def _dangling(job: Job) -> list[str]:
    return [_points_nowhere(r, kind, i) for r, kind, i in _lost(job)]


def _lost(job: Job) -> list[tuple[Record, str, str]]:
    """(record, kind, id) of what records point to and is not there."""
    return [(r, kind, i) for table in job.tables.values() for r in table.values()
            for _, kind, i in references(r) if i not in job.tables.get(kind, {})]


def _points_nowhere(record: Record, kind: str, record_id: str) -> str:
    return f"{record.noun.capitalize()} {record.name} points to {RECORDS[kind].noun} '{record_id}', which is not there."


def _record(cls: type[R], row: Mapping[str, object], faults: list[str],
            unread: dict[tuple[str, str], dict[str, object]]) -> R:
    """A record from one line of the file, whose id is a text; a field that can't be read is set aside and named."""
    fields = dict(row)
    record_id = str(fields["id"])
    set_aside: dict[str, object] = {}
    for name in [n for n, v in fields.items() if not _whole_characters(n, v)] if not _whole_characters(fields) else ():
        set_aside[name] = fields.pop(name)
        faults.append(f"{cls.noun.capitalize()} {record_id}: a value has half a character in it. "
                      "The rest was read; the value is kept until you change it.")
    while True:
        try:
            record = cls.model_validate(fields)
            break
        except ValidationError as error:
            bad = [(name, sentence) for name, sentence in plain_errors(error) if name in fields and name != "id"]
            if not bad:
                raise
            for name, sentence in bad:
                if name in set_aside:
                    continue
                set_aside[name] = fields.pop(name)
                faults.append(f"{cls.noun.capitalize()} {record_id}, {name[:40]}: {sentence} "
                              "The rest was read; the value is kept until you change it.")
    if set_aside:
        unread[(cls.kind, record_id)] = set_aside
    return record


def _fields(job: Job, record: Record) -> dict[str, object]:
    """A record's fields as the file has them, with the ones that could not be read."""
    return record.model_dump(mode="json", exclude_unset=True) | dict(job.unread.get((record.kind, record.id), {}))


def to_text(job: Job) -> str:
    """The file's text: human-readable, one record a line."""
    tables = [f'  "{kind}": [\n{_block(job, kind, rows)}\n  ]'
              for kind in RECORDS if (rows := job.tables.get(kind, {}))]
    return (f'{{\n "format": {FORMAT},\n "sequence": {job.sequence},\n "next_number": {job.next_number},\n'
            f' "settings": {_line(job, job.settings)},\n "records": {{\n' + ",\n".join(tables) + "\n }\n}\n")


# The text of each table as written last, with the line of each record: records and tables never change in place, so
# that an edit of one record writes one line anew.
_written: dict[str, tuple[Mapping[str, Record], str, dict[str, tuple[Record, str]]]] = {}


def _block(job: Job, kind: str, rows: Mapping[str, Record]) -> str:
    if job.unread:  # a rare state of the file: nothing is taken from memory
        return ",\n".join("   " + _line(job, r) for r in rows.values())
    before, text, lines = _written.get(kind, (None, "", {}))
    if before is rows:
        return text
    found: dict[str, tuple[Record, str]] = {}
    for record in rows.values():
        held = lines.get(record.id)
        found[record.id] = held if held is not None and held[0] is record else (record, "   " + _line(job, record))
    text = ",\n".join(line for _, line in found.values())
    _written[kind] = rows, text, found
    return text


def _line(job: Job, record: Record) -> str:
    return _json({"id": record.id, **{k: v for k, v in _fields(job, record).items() if k != "id"}})


def _json(data: object) -> str:
    # half a character in a value that could not be read is kept, but escaped
    return json.dumps(data, ensure_ascii=not _whole_characters(data))


def _whole_characters(*data: object) -> bool:
    try:
        json.dumps(data, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return False
    return True


def _lock(target: Path) -> FileLock:
    return FileLock(str(target.with_name(".job.lock")), timeout=LOCK_SECONDS)


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
    try:
        with _lock(target):
            data = _bytes(target)
            opened = _opened(target, data)
            before = opened.job
            after = change(before)
            changes = difference(before, after)
            if not changes:
                return before
            if disk.write_protected(target):
                raise Problem(f"{target} is read-only; nothing was changed. Allow writing it, or copy the job's folder.")
            after = replace(after, sequence=before.sequence + 1)
            was, text = _mark_of(before), to_text(after).encode()
            if len(text) > disk.MOST_BYTES:
                raise Problem(f"{target.name} would have more than {disk.MOST_BYTES / 1e6:.0f} MB; nothing was changed.")
            now = _mark(text)
            _note(target, Edit(after.sequence, name, by, time.time(), changes), was, now)

            def last_look() -> None:
                if target.read_bytes() != data:
                    raise Problem(f"Someone else changed {target.name} at the same moment, on a disk whose locks do not "
                                  "hold; this edit was not saved, and nothing of theirs was lost. Repeat the edit.")

            disk.replace_whole(target, text, disk.beside(target), last_look)
            # a fault that is left (something that points nowhere) is found again by reading
            _remember(target, None if opened.faults else stamp(target), text, Opened(after))
            _marked[:] = [(after, now)]
            _keep_version(target, after)
            return after
    except Timeout:
        raise Problem(f"Someone else has been writing {target.name} for {LOCK_SECONDS:.0f} seconds; "
                      "nothing was lost, try again.") from None
    except PermissionError as error:
        raise Problem(f"{error.filename or target} is read-only here; nothing was changed. "
                      "Copy the job's folder to where you may write.") from None
    except OSError as error:
        if error.errno in (errno.EEXIST, errno.ENOTDIR, errno.EISDIR):
            raise Problem(f"{error.filename or target} is in the way ({error.strerror}); nothing was changed. Move it "
                          "away, then repeat the edit.") from None
        if error.errno in (errno.ENOLCK, errno.EOPNOTSUPP):
            raise Problem(f"The disk of {target} gives no locks ({error.strerror}), so that two people could overwrite each "
                          "other's work; nothing was changed. Copy the job's folder to a disk of this computer.") from None
        raise Problem(f"{target} could not be saved ({error.strerror}); the file on disk is as it was before "
                      "this edit. Make room or choose another folder, then repeat the edit.") from None


def difference(before: Job, after: Job) -> Changes:
    """(kind, id, fields before, fields after) of every record that differs, and orders that were changed."""
    changes: list[tuple[str, str, Fields | None, Fields | None]] = []

    def compare(kind: str, record_id: str, a: Record | None, b: Record | None) -> None:
        if a is b and before.unread.get((kind, record_id)) == after.unread.get((kind, record_id)):
            return
        was = None if a is None else _fields(before, a)
        now = None if b is None else _fields(after, b)
        if was != now:
            changes.append((kind, record_id, was, now))

    compare("settings", before.settings.id, before.settings, after.settings)
    for kind in RECORDS:
        old, new = before.tables.get(kind, {}), after.tables.get(kind, {})
        if old is new and before.unread == after.unread:
            continue
        for record_id in dict.fromkeys([*old, *new]):
            a, b = old.get(record_id), new.get(record_id)
            if a is not b or before.unread or after.unread:
                compare(kind, record_id, a, b)
        # what an undo of the records alone would leave: the ones still there, then the ones brought back
        ids = list(old)
        if ids != list(new) and ids != [*(i for i in new if i in old), *(i for i in old if i not in new)]:
            changes.append((ORDER, kind, {"ids": list(old)}, {"ids": list(new)}))
    return tuple(changes)


def _history(target: Path) -> Path:
    return target.parent / "history"


def _mark(data: bytes) -> str:
    return sha256(data).hexdigest()[:16]


_marked: list[tuple[Job, str]] = []  # the job as saved last and its mark: the next edit begins with it


def _mark_of(job: Job) -> str:
    return next((mark for known, mark in _marked if known is job), "") or _mark(to_text(job).encode())


def _note(target: Path, edit: Edit, was: str, now: str) -> None:
    """Write the edit ahead of the file, so that no saved state is without its history.

    `was`, `now`: marks of the file's text before and after the edit. An edit may be noted and then not be saved; by its
    marks the next one with its number is told from it.
    """
    folder = _history(target)
    folder.mkdir(exist_ok=True)
    entry = {"sequence": edit.sequence, "name": edit.name, "by": edit.by, "when": edit.when, "was": was, "now": now,
             "changes": [list(c) for c in edit.changes]}
    log = folder / "edits.jsonl"
    new = not log.exists()
    with open(log, "ab") as handle:
        # a torn last line of a crash must not swallow this one
        handle.write(b"\n" + _json(entry).encode() + b"\n")
        handle.flush()
        os.fsync(handle.fileno())
    if new:  # else a power cut could leave the edits in the job and no history of them
        disk.flush_folder(folder)
        disk.flush_folder(folder.parent)


def _keep_version(target: Path, job: Job) -> None:
    """Keep a copy. The edit is saved by now, so that a failure here must not be told as one of the edit."""
    folder = _history(target)
    with suppress(OSError):
        shutil.copyfile(target, folder / f"job-{job.sequence:06d}.json")
    kept = disk.numbered(folder)
    for number, name in kept:
        if number > job.sequence:  # an older file was put in place by hand: what came after it is no version of this one
            with suppress(OSError):
                os.replace(folder / name, folder / f"aside-{name}")
    for _, old in [k for k in kept if k[0] <= job.sequence][VERSIONS_KEPT:]:
        with suppress(OSError):
            (folder / old).unlink(missing_ok=True)
    # what a process that died in the middle left behind; nobody else writes while the lock is held
    with suppress(OSError):
        for left in os.listdir(target.parent):
            if left.startswith(f".{target.name}.") and left.endswith(".new"):
                with suppress(OSError):
                    (target.parent / left).unlink(missing_ok=True)


def last_good_version(target: Path) -> Path | None:
    """The newest kept version that can be read."""
    for _, name in disk.numbered(_history(target)):
        path = _history(target) / name
        with suppress(OSError, Problem):
            if path.stat().st_size <= disk.MOST_BYTES:
                _opened(path, path.read_bytes())
                return path
    return None


def edits(path: Path | str) -> list[Edit]:
    """The edits that are in the file, in order. Those that were noted and never saved are not among them."""
    target = job_file(path)
    log = _history(target) / "edits.jsonl"
    try:
        lines = log.read_bytes().splitlines() if log.is_file() else []
    except OSError as error:
        raise Problem(f"The history {log} can't be read: {error.strerror}.") from None
    noted: dict[int, list[tuple[Edit, object, object]]] = {}
    for line in lines:
        try:
            e = json.loads(line)
            edit = _edit(e)
        except (ValueError, KeyError, TypeError, IndexError, RecursionError):
            continue  # a torn line
        noted.setdefault(edit.sequence, []).append((edit, e.get("was"), e.get("now")))
    job = read(target).job
    found, wanted = [], _mark(to_text(job).encode())
    for number in sorted(noted, reverse=True):
        if number <= job.sequence:
            # the one that led to what comes after it; in an old history, or after a change by hand, the last one
            edit, was, _ = next((n for n in reversed(noted[number]) if n[2] == wanted), noted[number][-1])
            wanted = str(was)
            found.append(edit)
    return found[::-1]


def _edit(entry: dict[str, object]) -> Edit:
    """One line of the history; any of several errors if it is none."""
    sequence, name, by, when = (entry[k] for k in ("sequence", "name", "by", "when"))
    changes = []
    for kind, record_id, before, after in entry["changes"]:  # type: ignore[attr-defined]
        if not isinstance(record_id, str) or not (kind in RECORDS or kind in ("settings", ORDER)):
            raise TypeError(kind)
        if not all(f is None or (isinstance(f, dict) and f.get("id", record_id) == record_id) for f in (before, after)):
            raise TypeError(record_id)
        if kind == "settings" and (before is None or after is None):  # a job always has them
            raise TypeError(record_id)
        if kind == ORDER and not all(isinstance((f or {}).get("ids", []), list) for f in (before, after)):
            raise TypeError(record_id)
        changes.append((kind, record_id, before, after))
    if sequence != (number := _whole(sequence)) or not number or not isinstance(when, int | float):
        raise TypeError(sequence)
    return Edit(number, str(name), str(by), float(when) if 0 <= when < LATEST else 0.0, tuple(changes))


def undo(path: Path | str, sequence: int, by: str = "", word: str = "Undo") -> Job:
    """Take one edit back as a new edit; refused with a reason if a later edit touched the same record."""
    known = {e.sequence: e for e in edits(path)}
    if sequence not in known:
        raise Problem(f"Edit {sequence} is not in this job's history any more.")
    edit = known[sequence]
    deleted = {(kind, i) for e in known.values() if e.sequence > sequence
               for kind, i, before, after in e.changes if before is not None and after is None}

    pointing_nowhere: list[str] = []

    def change(job: Job) -> Job:
        records: list[Record] = []
        unread = {key: dict(fields) for key, fields in job.unread.items()}
        gone: list[tuple[type[Record], str]] = []
        orders: list[tuple[str, list[str]]] = []
        for kind, record_id, before, after in edit.changes:
            if kind == ORDER:
                orders.append((record_id, [str(i) for i in (before or {}).get("ids", ())]))  # type: ignore[attr-defined]
                continue
            cls: type[Record] = Settings if kind == "settings" else RECORDS[kind]
            now = job.settings if kind == "settings" else job.find(cls, record_id)
            if (None if now is None else _fields(job, now)) != after:
                raise Problem(f"'{edit.name}' can't be undone: {cls.noun} {now.name if now else record_id} "
                              "was changed again later; undo that first.")
            unread.pop((kind, record_id), None)
            if before is not None:
                records.append(_record(cls, {"id": record_id, **before}, [], unread))
            elif kind != "settings":
                gone.append((cls, record_id))
        for cls, record_id in gone:
            job = job.without(cls, [record_id])
        job = replace(job.with_records(records), unread=unread)
        for kind, ids in orders:
            job = reorder(job, kind, ids)
        # what pointed nowhere before the edit may do so again: that is how it was
        missing = deleted | {(cls.kind, i) for cls, i in gone}
        for one in _lost(job):
            if one[1:] in missing:
                raise Problem(f"'{edit.name}' can't be undone: later edits count on it. {_points_nowhere(*one)}")
            pointing_nowhere.append(one[2])
        return job

    after = transact(path, change, f"{word}: {edit.name}", by)
    if pointing_nowhere:
        _seen.clear()  # so that the next reading names it
    return after
