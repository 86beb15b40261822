"""Every place where text leaves, for jobs of both families of codes: none of the other side's words.

What users typed is set aside. The words are those of NFPA 70 (2023) article 100 on one side, of BS 7671:2018 part 2 and
IEC 60050-826 on the other, and the spelling that goes with them (common practice, no source).
"""

import contextlib
import io
import json
import re
import shutil
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import ipywidgets as widgets
import nbformat
import pytest
from browser import TOP

from stagefloor import __main__ as command
from stagefloor.entry import session as sessions
from stagefloor.job import store
from stagefloor.job.edit import set_fields
from stagefloor.job.exchange.tables import TABLES, notes, table
from stagefloor.job.fields import shape_of
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.package import build
from stagefloor.package.label_files import write
from stagefloor.package.sheets import make_sheet
from stagefloor.results import compute

FOREIGN = {
    "US": r"mains|socket-outlets?|earth|earthed|earthing|residual[- ]current|distribution board|consumer unit|coloured|"
          r"colours?|labour|fibres?|centres?|centred|metres?|millimetres?|grey|aluminium|licence|unlabelled|labelled|labelling",
    "IEC/UK": r"branch (?:power|circuits?)|receptacles?|ground(?:ed|ing)|equipment ground|panelboards?|GFCI|colors?|labor|"
              r"fibers?|centers?|centered|gray|aluminum|trade sizes?|duplex"}
DEMOS = TOP / "demo_projects"
TYPED = "grey organ, on a mains outlet of its own, earthed"  # what a user of a US job may well type
READ_OUT = re.compile(r'\b(?:title|alt|aria-label|placeholder|data-label)="([^"]*)"')
UNREAD = re.compile(r"<(style|script)\b.*?</\1>", re.DOTALL)
LANGUAGE = {"US": "en-US", "IEC/UK": "en-GB"}
NOT_SHOWN = {"id", "test", "sheet", "on"}  # names by which a phone sheet and the workbook know a thing


class Reader:
    """Reads texts of one job for words of the other side; what was typed, and what is quoted, is set aside."""

    def __init__(self, job: Job) -> None:
        self.basis = job.settings.basis
        self.foreign = re.compile(rf"(?<![\w-])(?:{FOREIGN[self.basis]})(?![\w-])", re.IGNORECASE)
        records = [job.settings, *(r for t in job.tables.values() for r in t.values())]
        typed = {str(getattr(r, n)).strip() for r in records for n, info in type(r).model_fields.items()
                 if shape_of(info) in ("text", "note")}
        self.typed = sorted((t for t in typed if self.foreign.search(t)), key=len, reverse=True)
        self.found: dict[str, str] = {}
        self.read = 0

    def text(self, where: str, words: str) -> None:
        self.read += len(words)
        for typed in self.typed:
            words = words.replace(typed, "…")
        words = re.sub(r"(?<!\w)'[^']*'(?!\w)", "…", words)
        for match in self.foreign.finditer(words):
            around = words[max(0, match.start() - 60):match.end() + 60]
            self.found.setdefault(f"{where}: {match[0].lower()}: {' '.join(around.split())}", "")

    def html(self, where: str, page: str) -> None:
        for attribute in READ_OUT.findall(page):
            self.text(where, unescape(attribute))
        for part in re.split(r"<[^>]*>", UNREAD.sub(" ", page)):
            if part.strip():
                self.text(where, unescape(part))


def strings(value: object) -> Iterator[str]:
    """Every text in plain data, but not names by which things are known."""
    if isinstance(value, dict):
        for key, one in value.items():
            if key not in NOT_SHOWN:
                yield from strings(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from strings(one)
    elif isinstance(value, str):
        yield value


def read_widget(reader: Reader, where: str, one: widgets.Widget) -> None:
    """What a widget of a step shows; cells to type into hold typed texts or choices, whose labels stand in the columns."""
    if isinstance(one, widgets.HTML):
        reader.html(where, one.value)
    for name in ("description", "placeholder", "tooltip", "titles", "_options_labels", "name", "empty_hint", "label"):
        for words in strings(getattr(one, name, None)):
            reader.text(where, words)
    for column in getattr(one, "columns", ()) or ():
        for words in (column["label"], column.get("hint", ""), *(c["label"] for c in column.get("choices", ()))):
            reader.text(where, words)
    kinds = {c["key"]: c for c in getattr(one, "columns", ()) or ()}
    for row in getattr(one, "rows", ()) if kinds else ():
        for key, cell in row["cells"].items():
            if kinds[key]["kind"] != "choice" and not row.get("as", {}).get(key):
                reader.text(where, cell)
        for words in strings(row.get("problems", {})):
            reader.text(where, words)
    for shape in (getattr(one, "scene", None) or {}).get("shapes", ()):
        reader.text(where, shape["label"])
    for item in (getattr(one, "scene", None) or {}).get("items", ()):
        reader.text(where, f"{item['label']} {item['note']}")
    for bar in getattr(one, "data", ()) if type(one).__name__ == "FigureWidget" else ():
        for words in (bar.name or "", *(map(str, bar.y or ()))):
            reader.text(where, words)


def copied(demo: str, folder: Path) -> Path:
    shutil.copy(DEMOS / demo / "job.json", folder)
    return folder


@pytest.mark.notebook
@pytest.mark.parametrize("demo", ["quillhaven_playhouse", "ondry_hall"])
def test_screens_speak_the_words_of_the_job(demo: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job_folder = copied(demo, tmp_path)
    monkeypatch.setenv("STAGEFLOOR_JOB", str(job_folder))
    monkeypatch.setattr(sessions.Session, "start", lambda self, work: work.close())  # no loop, nobody watches
    sessions.here.cache_clear()
    reader = Reader(store.read(job_folder).job)
    made: list[widgets.Widget] = []
    widgets.Widget.on_widget_constructed(made.append)
    try:
        for step in sorted((TOP / "workbook").glob("*.ipynb")):
            if step.stem == "calculations":
                continue  # a lesson: rules of both sides stand side by side, each in the words of its code
            names: dict[str, object] = {}
            for cell in nbformat.read(step, as_version=4).cells:
                if cell.cell_type == "code":
                    exec(compile(cell.source, step.stem, "exec"), names)
                else:
                    reader.text(f"{step.stem} prose", cell.source)
            for one in made:
                read_widget(reader, step.stem, one)
            made.clear()
    finally:
        widgets.Widget.on_widget_constructed(None)
        sessions.here.cache_clear()
    assert reader.read > 20_000
    assert list(reader.found) == [], chr(10).join(reader.found)


@pytest.mark.parametrize("demo", ["quillhaven_playhouse", "one_box", "ondry_hall"])
def test_lists_and_sheets_speak_the_words_of_the_job(demo: str, tmp_path: Path) -> None:
    folder = copied(demo, tmp_path)
    opened = store.read(folder)
    reader, results = Reader(opened.job), compute(opened.job, opened.faults)
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        command.main(["check", str(folder)])
    for line in said.getvalue().splitlines():
        reader.text("check", line)
    for w in results.workings():
        reader.html("working", results.words.html(w.as_html()))
    for kind in TABLES:
        heads, rows = table(opened.job, kind)
        for words in (*heads, *notes(opened.job, kind), *(c for row in rows for c in row)):
            reader.text(f"table {kind}", words)
    for path in write(results, folder / "labels")[0]:
        (reader.html if path.suffix == ".html" else reader.text)(path.name, path.read_text("utf-8"))
    for sheet in ("survey", "site"):
        page = make_sheet(folder, sheet, "Crew A").read_text("utf-8")
        assert f'<html lang="{LANGUAGE[opened.job.settings.basis]}">' in page
        data = re.search(r'<script type="application/json" id="given">(.*?)</script>', page, re.DOTALL)
        assert data
        for words in strings(json.loads(data[1])):
            reader.text(f"{sheet} sheet", words)
        for words in re.findall(r'"([^"\\]*(?:\\.[^"\\]*)*)"', page.rpartition("<script>")[2]):
            if " " in words:  # a single word is a name in the script
                reader.text(f"script of the {sheet} sheet", words)
    assert reader.read > 20_000
    assert list(reader.found) == [], "\n".join(reader.found)


@pytest.mark.parametrize(("demo", "of"), [("one_box", "client"), ("quillhaven_playhouse", "crew"), ("ondry_hall", "client")])
def test_pages_speak_the_words_of_the_job_and_keep_what_was_typed(demo: str, of: str, tmp_path: Path) -> None:
    folder = copied(demo, tmp_path)
    store.transact(folder, lambda j: set_fields(j, "box", j.boxes()[0].id, {"remark": TYPED}), "Typed")
    store.transact(folder, lambda j: set_fields(j, "point", j.all(Point)[0].id, {"what": TYPED}), "Typed")
    reader = Reader(store.read(folder).job)
    pages = [p.read_text("utf-8") for p in build(folder, folder / of, of).folder.rglob("*.html")]
    for page in pages:
        assert f'<html lang="{LANGUAGE[reader.basis]}">' in page
        assert f"@page {{ size: {'letter' if reader.basis == 'US' else 'A4'};" in page
        reader.html(of, page)
    assert any(TYPED in page for page in pages), "what was typed is there as it was typed"
    assert reader.read > 4_000
    assert list(reader.found) == [], "\n".join(reader.found)
