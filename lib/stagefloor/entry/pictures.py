"""Pictures in the workbook: added to what is chosen, shown, named, moved, removed. Every edit is in the history."""

from collections.abc import Sequence
from html import escape

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.file_in import FileIn
from stagefloor.entry.gallery import Gallery
from stagefloor.entry.own_name import own_name
from stagefloor.entry.picture_table import PictureTable
from stagefloor.entry.session import Session, here
from stagefloor.job.closeout import AUDIENCES
from stagefloor.job.exchange.attaching import attached
from stagefloor.job.exchange.picture_file import MOST_BYTES, CleanPicture, clean_picture
from stagefloor.job.exchange.preview import ADD, SAME, carry_out
from stagefloor.job.model import Job
from stagefloor.job.pictures import HOMES, JOB, Picture
from stagefloor.job.subjects import counts, number_of, pictures_of, subjects, title

ALL = ""
MOST_TOGETHER = 60  # pictures of one choice of files


def pictures(*kinds: str) -> widgets.Widget:
    """The pictures of the job, or of records of these kinds alone."""
    return PicturePanel(here(), kinds or tuple(HOMES)).view


class PicturePanel:
    """One pick list for all: what is shown, and what new pictures belong to."""

    def __init__(self, session: Session, kinds: Sequence[str]) -> None:
        self.session, self.kinds = session, tuple(kinds)
        wide = {"description_width": "initial"}
        self.kind = widgets.Dropdown(description="Pictures of", style=wide, layout=widgets.Layout(width="min(100%, 340px)"))
        self.which = widgets.Dropdown(description="Which", style=wide, layout=widgets.Layout(width="min(100%, 420px)"))
        self.caption = widgets.Text(description="Caption", placeholder="what is to be seen", style=wide,
                                    layout=widgets.Layout(width="min(100%, 420px)"))
        self.date = widgets.Text(description="Taken on", placeholder="empty: as the camera noted", style=wide,
                                 layout=widgets.Layout(width="min(100%, 270px)"))
        self.by = widgets.Text(description="Taken by", value=own_name(), style=wide,
                               layout=widgets.Layout(width="min(100%, 270px)"))
        self.audience = widgets.Dropdown(description="Who may see them", options=AUDIENCES, style=wide,
                                         layout=widgets.Layout(width="min(100%, 250px)"))
        self.file = FileIn(self._take, on_first=self._begin, on_all=self._add, accept=".jpg,.jpeg,.png,image/jpeg,image/png",
                           label="JPEG or PNG files", most=MOST_BYTES)
        for name in ("kind", "which", "caption", "date", "by", "audience", "file"):
            getattr(self, name).add_class(f"sf-picture-{name}")
        self.target = show.Html(session)
        self.about = widgets.HBox([self.caption, self.date, self.by, self.audience], layout=_row())
        self.gallery = Gallery(session.path.parent)
        self.table = PictureTable(session, self.chosen)
        self.table.grid.add_class("sf-picture-table")
        self.table.grid.keep_under += f":{','.join(self.kinds)}"  # several steps have such a table, in one browser tab
        self._taken: list[CleanPicture] = []
        self._refused: list[str] = []
        self._to: tuple[str, str] | None = None
        self._words: dict[str, str] = {}
        self._choosing = False
        self.kind.observe(lambda _: self._choose(), "value")
        self.which.observe(lambda _: self._choose(), "value")
        self._refresh()
        session.listen(self._refresh)
        self.view = show.stack(widgets.HBox([self.kind, self.which], layout=_row()), self.gallery, self.target, self.about,
                               self.file, self.table.grid)
        self.view.add_class("sf-pictures")

    # what is chosen

    def chosen(self, job: Job) -> list[Picture]:
        """The pictures that the pick list asks for."""
        kind, which = str(self.kind.value or ALL), str(self.which.value or "")
        if which:
            return pictures_of(job, kind, which)
        return [p for p in job.all(Picture) if (p.on == kind if kind else p.on in self.kinds)]

    def _home(self) -> tuple[str, str] | None:
        """What new pictures belong to; None until it is chosen."""
        kind = str(self.kind.value or ALL)
        if kind == JOB or (kind == ALL and JOB in self.kinds):
            return JOB, ""
        return (kind, str(self.which.value)) if kind and self.which.value else None

    def _choose(self) -> None:
        if not self._choosing:
            self._refresh()

    def _refresh(self) -> None:
        job, found = self.session.job, counts(self.session.job)
        self._choosing = True
        everything = [("All", ALL)] if len(self.kinds) > 1 else []
        _offer(self.kind, [(_counted(words, number_of(job, self.kinds if k == ALL else (k,))), k)
                           for words, k in [*everything, *((HOMES[k], k) for k in self.kinds)]])
        kind = str(self.kind.value or ALL)
        single = kind in (ALL, JOB)
        _offer(self.which, [("all of them", "")] + ([] if single else [
            (_counted(words, found[kind, record_id]), record_id) for record_id, words in subjects(job, kind)]))
        self.which.layout.display = "none" if single else ""
        self.kind.layout.display = "none" if len(self.kinds) == 1 else ""
        self._choosing = False
        home = self._home()
        for part in (self.about, self.file):
            part.layout.display = "" if home else "none"
        self.target.value = '<div class="sf">' + (
            f"<h3>Add pictures to: {escape(title(job, *home))}</h3>" if home else
            show.paragraph("To add pictures, choose above what they belong to.", "quiet")) + "</div>"
        shown = self.chosen(job)
        self.gallery.show(job, shown, "No picture here yet.")
        self.table.refresh()
        self.table.grid.layout.display = "" if shown else "none"

    # what comes in

    def _begin(self) -> None:
        """Files were chosen: what they belong to and what is said of them is what stands there now, while they travel."""
        self._taken, self._refused, self._to = [], [], self._home()
        self._words = {"caption": self.caption.value.strip(), "by": self.by.value.strip(), "date": self.date.value.strip(),
                       "audience": str(self.audience.value)}

    def _take(self, name: str, data: bytes) -> str:
        try:
            if len(self._taken) >= MOST_TOGETHER:
                raise Problem(f"{name[:40]} was left out: {MOST_TOGETHER} pictures together are the most.")
            self._taken.append(clean_picture(data, name))
        except Problem as problem:
            self._refused.append(problem.sentence)
        return ""

    def _add(self) -> str:
        """All that were chosen together, as one edit; what was refused is said beside."""
        taken, home, words = self._taken, self._to, self._words
        self._taken = []
        if not taken:
            return " ".join(self._refused)
        if home is None:
            return "Choose above what the pictures belong to, then add them again."
        subject = title(self.session.job, *home)
        plan = attached(self.session.job, taken, *home, **words)
        number = len(plan.of(ADD))
        said = f"{_pictures(number)} added to {subject}. Undo takes {'it' if number == 1 else 'them'} away again."
        if number:
            carry_out(self.session.path.parent, self.session.edit, f"{_pictures(number)} added to {subject}",
                      lambda job: attached(job, taken, *home, **words), plan.lines)
            if self.caption.value.strip() == words["caption"]:  # else it is typed for the next ones already
                self.caption.value = ""
        there = f"{_pictures(len(plan.of(SAME)))} there already." if plan.of(SAME) else ""
        return " ".join(x for x in (said if number else "", there, *self._refused) if x)


def _row() -> widgets.Layout:
    return widgets.Layout(flex_flow="row wrap", width="100%", grid_gap="6px 18px")


def _pictures(number: int) -> str:
    return f"{number} picture{'' if number == 1 else 's'}"


def _counted(words: str, number: int) -> str:
    return f"{words} ({number})" if number else words


def _offer(field: widgets.Dropdown, options: list[tuple[str, str]]) -> None:
    """New options; what was chosen stays chosen if it is still offered."""
    if list(field.options) == options:
        return
    kept, known = field.value, [value for _, value in options]
    field.options = options
    field.value = kept if kept in known else known[0]
