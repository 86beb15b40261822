"""What a phone sheet's file would do to a job: each entry added, changed, refused or there already. Writes nothing.

A later export changes what was changed on the phone since; what was changed here meanwhile stays, and is named.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256

from stagefloor.core.problems import Problem
from stagefloor.job import edit
from stagefloor.job.exchange.picture_file import content_name
from stagefloor.job.exchange.picture_folder import FOLDER
from stagefloor.job.exchange.preview import ADD, CHANGE, REFUSE, SAME, Line, Plan
from stagefloor.job.exchange.sheet_file import Entry, PictureIn, SheetFile, cleaned, shown
from stagefloor.job.exchange.sketch import drawing
from stagefloor.job.exchange.targets import Target, target_of
from stagefloor.job.fields import extra_of
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.pictures import Picture
from stagefloor.job.record import Record
from stagefloor.job.sheet import LOOKED, Settings
from stagefloor.job.sheets import Sheet, Taken
from stagefloor.job.subjects import named
from stagefloor.job.typed import cell_text

MOST_PHONES = 100  # of one sheet
ONE_OF_ITS_KIND = ("survey", "asbuilt")  # two phones that enter one of these mean the same record
ALONG = ("by", "date")  # who and when: they go with what else is changed
UNTOUCHED = {"looked": LOOKED[0], "modified": "no"}  # how a field stands on the phone before anybody touches it
NOT_TOLD = ("about", "on", "to", "circuit", "box")
LONGEST = 60  # characters of a text that a line repeats


def planned(job: Job, file: SheetFile) -> Plan:
    """What the file does to the job; a Problem if the sheet was not made from it, or the file is an older export."""
    sheet = next((s for s in job.all(Sheet) if s.key == file.sheet and s.what == file.kind), None)
    if sheet is None:
        raise Problem(f"{file.name} comes from a {file.kind} sheet that was not made from this job; open the job it was "
                      "made from, and take it in there.")
    exported = {word: int(number) for word, _, number in (w.partition("=") for w in sheet.phones.split())}
    last = exported.get(file.phone, 0) if file.phone else sheet.exported
    if file.export < last:
        raise Problem(f"{file.name} is export {file.export} of its sheet, and export {last} of the same phone was taken in "
                      "already; nothing in it is newer. Take in the latest file.")
    if file.phone and len(exported) >= MOST_PHONES and file.phone not in exported:
        raise Problem(f"{file.name} comes from one more phone, and {MOST_PHONES} are the most for one sheet; make a new "
                      "sheet.")
    work = _Taking(job, sheet, file)
    for entry in file.entries:
        work.entry(entry)
    for picture in file.pictures:
        work.picture(picture)
    if file.export != last and not file.phone:
        work.job = work.job.with_records([sheet.model_copy(update={"exported": file.export})])
    elif file.export != last:
        phones = " ".join(f"{word}={number}" for word, number in (exported | {file.phone: file.export}).items())
        work.job = work.job.with_records([sheet.model_copy(update={"phones": phones})])
    return Plan(work.job, (*file.refused, *work.lines), work.files)


def digest(text: str) -> str:
    """A short digest of a field's text, as it is when it comes from a phone."""
    return sha256(cleaned(text).encode()).hexdigest()[:10]


def _meant(cls: type[Record], name: str, text: str) -> str:
    """What a field's text means: of a choice the word that is kept, whatever it is called in the job's country."""
    info = cls.model_fields.get(name)
    also = extra_of(info, "also") if info is not None else None
    return str((also or {}).get(text.lower(), text))


@dataclass(frozen=True)
class _Known:
    """Digests of one field when it was last taken in, or given to the phone."""

    typed: str
    stored: str


class _Taking:
    """The job while entries are taken in, one after the other."""

    def __init__(self, job: Job, sheet: Sheet, file: SheetFile) -> None:
        self.job, self.sheet, self.file = job, sheet, file
        self.taken = {t.entry: t for t in job.all(Taken) if t.sheet == sheet.id}
        self.lines: list[Line] = []
        self.files: dict[str, bytes] = {}

    def entry(self, entry: Entry) -> None:
        """Take one entry in, whole or but for a field that can't be read."""
        try:
            target = target_of(self.job, self.file.kind, entry, self._key(entry.id) in self.taken)
        except Problem as problem:
            self._say(REFUSE, _words(entry), problem.sentence)
            return
        for sentence in target.left_out:
            self._say(REFUSE, target.subject, f"{sentence} The rest of it is taken in.")
        self._take(entry.id, target, entry.was)

    def _key(self, entry_id: str) -> str:
        """Under which an entry of this file's phone is remembered."""
        return f"{self.file.phone}/{entry_id}" if self.file.phone else entry_id

    def _take(self, entry_id: str, target: Target, was: Mapping[str, str]) -> None:
        key, cls = self._key(entry_id), Settings if target.kind == "settings" else RECORDS[target.kind]
        typed = {n: _meant(cls, n, t) for n, t in target.typed.items()}
        before = self.taken.get(key)
        if before is not None and before.on != target.kind:
            self._say(REFUSE, target.subject, "it was something else in an earlier export")
            return
        record_id = before.to if before is not None else target.to or self._of_another(entry_id, target)
        if not record_id:
            self._add(key, target, typed)
            return
        record = self.job.settings if target.kind == "settings" else self.job.find(RECORDS[target.kind], record_id)
        if record is None:
            why = "it was deleted here since it was taken in" if before is not None else "it is not in the job any more"
            self._say(REFUSE, target.subject, why)
            return
        known = _read(before.content) if before is not None else \
            {n: _Known(d, d) for n, t in was.items() for d in (digest(_meant(cls, n, t)),)}
        self._change(key, target, typed, record, known)

    def _of_another(self, entry_id: str, target: Target) -> str:
        """The record that another phone's entry for the same thing became, if it is still there."""
        if target.kind not in ONE_OF_ITS_KIND:
            return ""
        return next((t.to for t in self.taken.values() if t.on == target.kind and t.entry.rpartition("/")[2] == entry_id
                     and self.job.find(RECORDS[t.on], t.to) is not None), "")

    def _add(self, key: str, target: Target, typed: Mapping[str, str]) -> None:
        try:
            job, (record_id,) = edit.add(self.job, target.kind, [target.fields])
        except Problem as problem:
            self._say(REFUSE, target.subject, problem.sentence)
            return
        self.job = job
        self._remember(key, target.kind, record_id, typed)
        record = job.get(RECORDS[target.kind], record_id)
        told = {n: t for n, t in target.fields.items() if t and n in typed and n not in target.fixed | {"file", *NOT_TOLD}}
        self._say(ADD, target.subject, ", ".join(f"{_title(record, n)}: {shown(t, LONGEST)}" for n, t in told.items()))

    def _change(self, key: str, target: Target, typed: Mapping[str, str], record: Record,
                known: Mapping[str, _Known]) -> None:
        wanted: dict[str, str] = {}
        along: dict[str, str] = {}
        refused = bool(target.left_out)
        for name, text in typed.items():
            unchanged = known[name].typed if name in known else digest(UNTOUCHED.get(name, ""))
            if name in target.fixed or digest(text) == unchanged:
                continue
            now, stored = cell_text(self.job, record, name), target.fields[name]
            if cleaned(_meant(type(record), name, stored)) == cleaned(now):
                continue
            if digest(now) != (known[name].stored if name in known else unchanged):
                if name in ALONG:
                    along[name] = stored
                    continue
                refused = True
                here, there = shown(now) or "empty", shown(text) or "empty"
                self._say(REFUSE, target.subject, f"{_title(record, name)}: changed here meanwhile to '{here}', so "
                          f"'{there}' was left out; type it here if it is right")
                continue
            wanted[name] = stored
        if wanted.keys() - set(ALONG):
            wanted |= along
        if not wanted:
            if not refused:
                self._say(SAME, target.subject)
            return
        try:
            self.job = edit.set_fields(self.job, target.kind, record.id, wanted)
        except Problem as problem:
            where = f"{_title(record, problem.where)}: " if problem.where in wanted else ""
            self._say(REFUSE, target.subject, where + problem.sentence)
            return
        self._remember(key, target.kind, record.id, {n: t for n, t in typed.items() if n in wanted}, known)
        after = self._record(target.kind, record.id)
        self._say(CHANGE, target.subject, ", ".join(
            f"{_title(record, n)}: " + _from_to(cell_text(self.job, record, n), cell_text(self.job, after, n))
            if n != "file" else "the picture itself" for n in wanted if n not in NOT_TOLD))

    def _record(self, kind: str, record_id: str) -> Record:
        return self.job.settings if kind == "settings" else self.job.get(RECORDS[kind], record_id)

    def _remember(self, key: str, kind: str, record_id: str, typed: Mapping[str, str],
                  known: Mapping[str, _Known] | None = None) -> None:
        record = self._record(kind, record_id)
        fields = {**(known or {}), **{n: _Known(digest(t), digest(cell_text(self.job, record, n)))
                                      for n, t in typed.items() if n in type(record).model_fields}}
        before = self.taken.get(key)
        if before is None:
            self.job, (taken_id,) = self.job.new_ids(Taken, 1)
        else:
            taken_id = before.id
        taken = Taken(id=taken_id, sheet=self.sheet.id, entry=key, on=kind, to=record_id,
                      content=" ".join(f"{n}={k.typed}:{k.stored}" for n, k in fields.items()))
        self.taken[key] = taken
        self.job = self.job.with_records([taken])

    def picture(self, picture: PictureIn) -> None:
        """Take a photo or a sketch in; its file gets a name of its content."""
        if picture.photo is not None:
            data, what, file = picture.photo.data, "photo", picture.photo.name
        else:
            assert picture.sketch is not None  # a picture of a sheet is one of the two
            data, what = drawing(picture.sketch, picture.label or "Sketch"), "sketch"
            file = content_name(data, "svg")
        unit = edit.default_unit(self.job, "length")
        on, to = named(self.job, picture.about)
        fields = {"label": picture.label or f"{what.capitalize()} from the {self.file.kind} sheet", "what": what,
                  "about": picture.about, "file": file, "by": self.file.by, "date": self.file.date,
                  "dimensions": picture.sketch.words(unit) if picture.sketch is not None else "", "on": on, "to": to}
        subject = f"{what.capitalize()} {shown(picture.label)}".strip()
        lines = len(self.lines)
        fixed = frozenset({"what", "by", "date", "on", "to"})
        self._take(f"picture:{picture.id}", Target(Picture.kind, "", fields, subject, fields, fixed), {})
        if any(line.state in (ADD, CHANGE) for line in self.lines[lines:]):
            self.files[f"{FOLDER}/{file}"] = data

    def _say(self, state: str, subject: str, words: str = "") -> None:
        self.lines.append(Line(state, subject, words))


def _read(content: str) -> dict[str, _Known]:
    found = {}
    for part in content.split():
        name, _, digests = part.partition("=")
        typed, _, stored = digests.partition(":")
        found[name] = _Known(typed, stored)
    return found


def _words(entry: Entry) -> str:
    name = entry.fields.get("label") or entry.fields.get("topic") or entry.id
    return f"{entry.on}: {shown(name)}"


def _title(record: Record, name: str) -> str:
    """What a field is called on screen."""
    return (type(record).model_fields[name].title or name).lower()


def _from_to(old: str, new: str) -> str:
    """What a field was and what it becomes; of long texts the part from where they differ."""
    if max(len(old), len(new)) > LONGEST:
        same = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new)))
        if same > LONGEST // 2:
            old, new = (f"...{text[same - 20:]}" if text else "" for text in (old, new))
    return f"{shown(old, LONGEST) or 'empty'} → {shown(new, LONGEST) or 'empty'}"
