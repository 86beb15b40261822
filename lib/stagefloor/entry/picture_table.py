"""The table below pictures: caption, what they belong to, when, by whom, who may see them; edited or removed there."""

from collections.abc import Callable, Sequence
from typing import Any

from stagefloor.core.problems import Problem
from stagefloor.entry.link import Answer, Message
from stagefloor.entry.session import Session
from stagefloor.entry.tables import Table
from stagefloor.job import edit
from stagefloor.job.model import Job
from stagefloor.job.pictures import HOMES, Picture
from stagefloor.job.record import Record
from stagefloor.job.subjects import home, is_there, subjects, title

NUMBER = "number"  # the column of the numbers below the pictures
PLACE = "place"  # the column that holds kind and id of the record together


class PictureTable(Table):
    """The pictures that `chosen` names. Rows come with files, so that none is added or copied here."""

    def __init__(self, session: Session, chosen: Callable[[Job], list[Picture]]) -> None:
        self._chosen = chosen
        self._offered: tuple[int, list[dict[str, str]]] = (-1, [])
        super().__init__(session, Picture.kind, ("label", "date", "by", "audience"), name="Captions, places and readers",
                         empty_hint="Add pictures above.", listens=False)
        self.grid.fixed = self.grid.removable = True

    def refresh(self) -> None:
        """Show what is chosen now."""
        self._refresh()

    def _columns(self) -> list[dict[str, Any]]:
        label, *rest = super()._columns()
        number = {"key": NUMBER, "label": "No.", "kind": "number", "width": 62, "readonly": True,
                  "hint": "the number below the picture"}
        place = {"key": PLACE, "label": "Belongs to", "kind": "choice", "width": 250,
                 "hint": "choose another to move the picture", "choices": self._places()}
        return [number, {**label, "width": 260}, place, *rest]

    def _places(self) -> list[dict[str, str]]:
        job = self.session.job
        if self._offered[0] != job.sequence:
            places = [{"value": f"{kind}/{i}", "label": words} for kind in HOMES for i, words in subjects(job, kind)]
            known = {p["value"] for p in places}
            places += [{"value": _place(p), "label": title(job, p.on, p.to)}
                       for p in {_place(p): p for p in job.all(Picture)}.values() if _place(p) not in known]
            self._offered = (job.sequence, places)
        return self._offered[1]

    def _rows(self) -> list[dict[str, Any]]:
        rows = [self._row(self.session.job, p) for p in self._chosen(self.session.job)]
        for number, row in enumerate(rows, 1):
            row["cells"][NUMBER], row["sort"][NUMBER] = str(number), number
        return rows

    def _row(self, job: Job, record: Record) -> dict[str, Any]:
        row = super()._row(job, record)
        assert isinstance(record, Picture)
        row["cells"][PLACE] = _place(record)
        if not is_there(job, record.on, record.to):
            row["problems"][PLACE] = "This is not in the job any more; choose what the picture belongs to."
        return row

    def _change(self, message: Message) -> Answer:
        if message["do"] in ("add", "duplicate") or message.get("new_rows"):
            return {"ok": False, "say": "A row comes with its picture: add the files above."}
        if message["do"] != "delete":
            return super()._change(message)
        rows: Sequence[str] = message["rows"]
        try:
            self.session.edit(f"{len(rows)} picture{'' if len(rows) == 1 else 's'} removed",
                              lambda job: edit.delete(job, self.kind, rows))
        except Problem as problem:
            return {"ok": False, "say": problem.sentence}
        return {**self._whole(), "say": "Removed from the job. The file stays in its folder, so that Undo brings it back."}

    def _written(self, job: Job, row: str, key: str, text: str) -> Job:
        if key != PLACE:
            return super()._written(job, row, key, text)
        kind, _, record_id = text.partition("/")
        kind, record_id = home(job, kind, record_id)
        return edit.set_fields(job, self.kind, row, {"on": kind, "to": record_id})

    def _set(self, changes: Sequence[Sequence[str]]) -> Answer:
        answer = super()._set(changes)
        return {**self._whole(), **{k: answer[k] for k in ("ok", "problems")}}  # a moved picture may leave the table

    def _label(self, key: str) -> str:
        return "belongs to" if key == PLACE else super()._label(key)

    def _said(self, key: str, text: str) -> str:
        kind, _, record_id = text.partition("/")
        return title(self.session.job, kind, record_id) if key == PLACE and kind in HOMES else text


def _place(picture: Picture) -> str:
    return f"{picture.on}/{picture.to}"
