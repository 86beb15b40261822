"""Tables in and out of files: columns matched, every row shown before anything is taken in; export and sample sheets."""

from base64 import b64encode
from html import escape

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.file_in import Intake, Planned
from stagefloor.entry.session import Session, here
from stagefloor.job.exchange.heads import Column, fields_of, matched, said_of, title_of
from stagefloor.job.exchange.table_file import MOST_BYTES, TableFile, read_table, to_csv, to_xlsx
from stagefloor.job.exchange.tables import TABLES, notes, planned, table
from stagefloor.job.model import RECORDS

LEFT_OUT = "left out"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def files(first: str = "point") -> widgets.Widget:
    """One table at a time, `first` at the beginning: take a file in, export it, get a sample sheet."""
    return TableFiles(here(), first).box


class TableFiles:
    """The widget behind `files`."""

    def __init__(self, session: Session, first: str) -> None:
        self.session = session
        own = session.words.text
        self.kind = widgets.Dropdown(options=[(own(_name(k)), k) for k in TABLES], value=first, description="Table")
        self.kind.add_class("sf-table-kind")
        self.out = widgets.HTML(layout=widgets.Layout(width="100%"))
        self.out.add_class("sf-table-out")
        buttons = [_button("Export as XLSX", lambda: self._export("xlsx")),
                   _button("Export as CSV", lambda: self._export("csv")), _button("Sample sheet", self._sample)]
        self.columns = widgets.VBox([])
        self.columns.add_class("sf-table-columns")
        self._file: TableFile | None = None
        self._choosers: list[widgets.Dropdown] = []
        self._said: list[widgets.HTML] = []  # beside each chooser: in which unit its bare numbers are read
        self.intake = Intake(session, "Take in a CSV or XLSX file", ".csv,.tsv,.txt,.xlsx", MOST_BYTES, self._read,
                             "Table taken in", self._finished)
        self.intake.box.children = (self.intake.field, self.columns, *self.intake.box.children[1:])
        self.intake.box.add_class("sf-table-in")
        self.kind.observe(lambda _: self._other_table(), "value")
        row = widgets.Layout(flex_flow="row wrap")
        self.box = show.stack(widgets.HBox([self.kind, *buttons], layout=row), self.out, self.intake.box)

    def _other_table(self) -> None:
        self.out.value = ""
        self.intake.leave()

    def _finished(self) -> None:
        self._file, self.columns.children = None, ()

    def _read(self, name: str, data: bytes) -> Planned:
        file = read_table(data, name)
        found = matched(self.kind.value, file.heads)
        self._file = file
        self._choosers = [self._chooser(c) for c in found]
        self._said = [widgets.HTML() for _ in found]
        self._tell_units(found)
        head = widgets.HTML(f'<div class="sf">{show.paragraph("Columns of the file, and what they are read as:")}</div>')
        row = widgets.Layout(flex_flow="row wrap", align_items="baseline")
        self.columns.children = (head, *(widgets.HBox(pair, layout=row)
                                         for pair in zip(self._choosers, self._said, strict=True)))
        return self._planned(found)

    def _planned(self, columns: tuple[Column, ...]) -> Planned:
        file, kind = self._file, self.kind.value
        assert file is not None
        return lambda job: planned(job, kind, file, columns)

    def _chooser(self, column: Column) -> widgets.Dropdown:
        own = self.session.words.text
        options = [(LEFT_OUT, "")] + [(own(title_of(self.kind.value, n)), n) for n in fields_of(self.kind.value)]
        words = (column.head or "(no head)") if len(column.head) <= 40 else column.head[:37] + "..."
        choose = widgets.Dropdown(options=options, value=column.field, description=words,
                                  style={"description_width": "200px"}, layout=widgets.Layout(width="min(100%, 460px)"))
        choose.observe(lambda _: self._again(), "value")
        return choose

    def _tell_units(self, columns: tuple[Column, ...]) -> None:
        for place, column in zip(self._said, columns, strict=True):
            said = self.session.words.text(said_of(self.session.job, self.kind.value, column))
            place.value = f'<div class="sf"><small>{escape(said)}</small></div>' if said else ""

    def _again(self) -> None:
        """Another column was chosen: show what it would do now."""
        if self._file is None:
            return
        fields = [c.value for c in self._choosers]
        columns = tuple(Column(h, f) for h, f in zip(self._file.heads, fields, strict=True))
        self._tell_units(columns)
        try:
            self.intake.offer(self._planned(columns))
        except Problem as problem:
            self.intake.tell(problem.sentence)

    def _export(self, end: str) -> None:
        heads, rows = table(self.session.job, self.kind.value)
        data = to_csv(heads, rows) if end == "csv" else to_xlsx(self.session.words.text(_name(self.kind.value)), heads, rows)
        self.out.value = _link(f"{self._file_name()}.{end}", data, f"{len(rows)} rows are in it")

    def _file_name(self) -> str:
        return self.session.words.text(_name(self.kind.value)).lower().replace(" ", "-")

    def _sample(self) -> None:
        heads, _ = table(self.session.job, self.kind.value)
        data = to_xlsx(self.session.words.text(_name(self.kind.value)), heads, [], notes(self.session.job, self.kind.value))
        self.out.value = _link(f"{self._file_name()}-sample.xlsx", data, "heads, and how to fill it in")


def _name(kind: str) -> str:
    return RECORDS[kind].several().capitalize()


def _button(words: str, act: object) -> widgets.Button:
    button = widgets.Button(description=words, layout=widgets.Layout(width="auto"))
    button.on_click(lambda _: act())  # type: ignore[operator]
    return button


def _link(name: str, data: bytes, words: str) -> str:
    kind = "text/csv" if name.endswith(".csv") else XLSX_TYPE
    return (f'<div class="sf"><p><a download="{escape(name)}" href="data:{kind};base64,{b64encode(data).decode()}">Save '
            f"{escape(name)}</a> <small>{escape(words)}</small></p></div>")
