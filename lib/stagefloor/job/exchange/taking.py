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
from stagefloor.job.exchange.sheet_file import Entry, PictureIn, SheetFile, shown
from stagefloor.job.exchange.sketch import drawing
from stagefloor.job.exchange.targets import Target, target_of
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.pictures import Picture
from stagefloor.job.record import Record
from stagefloor.job.sheets import Sheet, Taken
from stagefloor.job.subjects import named
from stagefloor.job.typed import cell_text


def planned(job: Job, file: SheetFile) -> Plan:
    """What the file does to the job; a Problem if the sheet was not made from it, or the file is an older export."""
    sheet = next((s for s in job.all(Sheet) if s.key == file.sheet and s.what == file.kind), None)
    if sheet is None:
        raise Problem(f"{file.name} comes from a {file.kind} sheet that was not made from this job; open the job it was "
                      "made from, and take it in there.")
    if file.export < sheet.exported:
        raise Problem(f"{file.name} is export {file.export} of its sheet, and export {sheet.exported} was taken in "
                      "already; nothing in it is newer. Take in the latest file.")
    work = _Taking(job, sheet, file)
    for entry in file.entries:
        work.entry(entry)
    for picture in file.pictures:
        work.picture(picture)
    if file.export != sheet.exported:
        work.job = work.job.with_records([sheet.model_copy(update={"exported": file.export})])
    return Plan(work.job, (*file.refused, *work.lines), work.files)


def digest(text: str) -> str:
    """A short digest of a field's text."""
    return sha256(text.encode()).hexdigest()[:10]


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
        """Take one entry in, whole or not at all."""
        try:
            target = target_of(self.job, self.file.kind, entry)
        except Problem as problem:
            self._say(REFUSE, _words(entry), problem.sentence)
            return
        self._take(entry.id, target, entry.fields, entry.was)

    def _take(self, entry_id: str, target: Target, typed: Mapping[str, str], was: Mapping[str, str]) -> None:
        """`typed`: the texts of the phone under the names of the record's fields; `target.fields`: what is stored."""
        before = self.taken.get(entry_id)
        if before is not None and before.on != target.kind:
            self._say(REFUSE, target.subject, "it was something else in an earlier export")
            return
        record_id = before.to if before is not None else target.to
        if not record_id:
            self._add(entry_id, target, typed)
            return
        record = self.job.settings if target.kind == "settings" else self.job.find(RECORDS[target.kind], record_id)
        if record is None:
            why = "it was deleted here since it was taken in" if before is not None else "it is not in the job any more"
            self._say(REFUSE, target.subject, why)
            return
        known = _read(before.content) if before is not None else \
            {n: _Known(digest(t), digest(t)) for n, t in was.items()}
        self._change(entry_id, target, typed, record, known)

    def _add(self, entry_id: str, target: Target, typed: Mapping[str, str]) -> None:
        try:
            job, (record_id,) = edit.add(self.job, target.kind, [target.fields])
        except Problem as problem:
            self._say(REFUSE, target.subject, problem.sentence)
            return
        self.job = job
        self._remember(entry_id, target.kind, record_id, typed)
        self._say(ADD, target.subject, _listed({n: v for n, v in typed.items() if n not in target.fixed}))

    def _change(self, entry_id: str, target: Target, typed: Mapping[str, str], record: Record,
                known: Mapping[str, _Known]) -> None:
        wanted: dict[str, str] = {}
        for name, text in typed.items():
            if name in target.fixed or (name in known and known[name].typed == digest(text)):
                continue
            now = cell_text(self.job, record, name)
            stored = target.fields[name]
            if stored == now:
                continue
            if known[name].stored != digest(now) if name in known else now:
                self._say(REFUSE, target.subject, f"{name}: changed here meanwhile to '{shown(now)}', so '{shown(text)}' "
                          "was left out; type it here if it is right")
                continue
            wanted[name] = stored
        if not wanted:
            self._say(SAME, target.subject)
            return
        try:
            self.job = edit.set_fields(self.job, target.kind, record.id, wanted)
        except Problem as problem:
            self._say(REFUSE, target.subject, problem.sentence)
            return
        self._remember(entry_id, target.kind, record.id, {n: t for n, t in typed.items() if n in wanted},
                       known)
        self._say(CHANGE, target.subject, _listed(wanted))

    def _remember(self, entry_id: str, kind: str, record_id: str, typed: Mapping[str, str],
                  known: Mapping[str, _Known] | None = None) -> None:
        record = self.job.settings if kind == "settings" else self.job.get(RECORDS[kind], record_id)
        fields = {**(known or {}), **{n: _Known(digest(t), digest(cell_text(self.job, record, n)))
                                      for n, t in typed.items() if n in type(record).model_fields}}
        before = self.taken.get(entry_id)
        if before is None:
            self.job, (taken_id,) = self.job.new_ids(Taken, 1)
        else:
            taken_id = before.id
        taken = Taken(id=taken_id, sheet=self.sheet.id, entry=entry_id, on=kind, to=record_id,
                      content=" ".join(f"{n}={k.typed}:{k.stored}" for n, k in fields.items()))
        self.taken[entry_id] = taken
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
        self._take(f"picture:{picture.id}", Target(Picture.kind, "", fields, subject, fixed), fields, {})
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


def _listed(fields: Mapping[str, str]) -> str:
    return ", ".join(f"{name.replace('_', ' ')}: {shown(text, 60)}" for name, text in fields.items()
                     if text and name not in ("file", "about", "on", "to"))
