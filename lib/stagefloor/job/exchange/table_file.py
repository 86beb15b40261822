"""A table in a CSV or XLSX file, read as hostile data into rows of texts, and written so that no cell is a formula."""

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import openpyxl

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.sheet_file import shown

MOST_BYTES = 20_000_000
MOST_UNPACKED = 50_000_000
MOST_TAGS, OTHER_TAGS = 1_000_000, 50_000  # of a part; 5000 rows of 30 cells have fewer. More take long, and much memory
CELLS = re.compile(r"/(worksheets/|sharedStrings)", re.IGNORECASE)
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 5000, 80, 4000
MOST_LINES = 20 * MOST_ROWS  # of the file: some rows may be empty, and some texts have lines
MOST_MARKS = 20 * MOST_COLUMNS  # of a column's end in one line: some may stand in texts
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet takes as the beginning of a formula
NOT_A_TABLE = "is no table that can be read: save it as CSV (comma separated, UTF-8) or as XLSX, and choose it again."


@dataclass(frozen=True)
class TableFile:
    """Heads of the columns, and rows of texts with their number in the file, all as long as the heads."""

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def read_table(data: bytes, name: str) -> TableFile:
    """A table from the bytes of a file; a Problem if it is none, or too large."""
    if len(data) > MOST_BYTES:
        raise Problem(f"{shown(name)} has {len(data) / 1e6:,.0f} MB; {MOST_BYTES / 1e6:.0f} MB are the most.")
    found = _xlsx(data, name) if data[:2] == b"PK" else _csv(data, name)
    lines = [(n, [_cell(c) for c in row]) for n, row in found]
    lines = [(n, row) for n, row in lines if any(row)]
    if not lines:
        raise Problem(f"{shown(name)} is empty: there is no row in it.")
    if len(lines) > MOST_ROWS + 1:
        raise Problem(f"{shown(name)} has more than {MOST_ROWS:,} rows; divide it.")
    heads = lines[0][1]
    while heads and not heads[-1]:
        heads.pop()
    if len(heads) > MOST_COLUMNS:
        raise Problem(f"{shown(name)} has more than {MOST_COLUMNS} columns; leave out what is not needed.")
    wide = len(heads)
    return TableFile(shown(name), tuple(heads), tuple((n, tuple((row + [""] * wide)[:wide])) for n, row in lines[1:]))


def _cell(value: object) -> str:
    """A cell as a person would have typed it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, datetime | date):
        return value.isoformat()[:10]
    text = str(value)[:LONGEST_CELL + 1]
    if not text.isprintable():
        text = "".join(c for c in text if (c >= " " or c == "\n") and not "\ud800" <= c <= "\udfff")
    return text.strip()


def _csv(data: bytes, name: str) -> list[tuple[int, Sequence[object]]]:
    for code in ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            text = data.decode(code)
            break
        except UnicodeDecodeError:
            continue
    else:
        raise Problem(f"{shown(name)} {NOT_A_TABLE}")
    if "\0" in text:
        raise Problem(f"{shown(name)} {NOT_A_TABLE}")
    head = text.split("\n", 1)[0]
    mark = max(",;\t", key=head.count)
    if text.count("\n") > MOST_LINES:
        raise Problem(f"{shown(name)} has more than {MOST_ROWS:,} rows; divide it.")
    if max(line.count(mark) for line in text.split("\n")) > MOST_MARKS:
        raise Problem(f"{shown(name)} has more than {MOST_COLUMNS} columns; leave out what is not needed.")
    found: list[tuple[int, Sequence[object]]] = []
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
        for row in reader:
            found.append((reader.line_num, [_unmarked(c) for c in row[:MOST_COLUMNS + 1]]))
            if len(found) > MOST_ROWS * 2:
                break
    except csv.Error:
        raise Problem(f"{shown(name)} {NOT_A_TABLE}") from None
    return found


def _xlsx(data: bytes, name: str) -> list[tuple[int, Sequence[object]]]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
            if sum(i.file_size for i in parts) > MOST_UNPACKED or any(
                    packed.read(i).count(b"<") > (MOST_TAGS if CELLS.search(i.filename) else OTHER_TAGS) for i in parts):
                raise Problem(f"{shown(name)} is too large when unpacked; leave out what is not needed.")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            rows = book.worksheets[0].iter_rows(max_row=MOST_ROWS * 2, max_col=MOST_COLUMNS + 1, values_only=True)
            return [(n, list(row)) for n, row in enumerate(rows, 1)]
    except Problem:
        raise
    except Exception:  # a foreign reader on a foreign file: whatever it stumbles over, the file is no table
        raise Problem(f"{shown(name)} {NOT_A_TABLE}") from None


def to_csv(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """The table as CSV; a cell that a spreadsheet would take as a formula gets a mark in front."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerows([[_neutral(c) for c in row] for row in (heads, *rows)])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def _neutral(text: str) -> str:
    return f"'{text}" if text.startswith((*FORMULA, "'")) else text


def _unmarked(text: str) -> str:
    return text[1:] if text[:1] == "'" and text[1:].startswith((*FORMULA, "'")) else text


def to_xlsx(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], notes: Sequence[str] = ()) -> bytes:
    """The table as XLSX; every cell is a text by its type, so that none is worked out. `notes`: a second sheet."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "".join(c for c in title if c not in "[]:*?/\\")[:31] or "Table"
    for number, row in enumerate((heads, *rows), 1):
        for column, text in enumerate(row, 1):
            _write(sheet.cell(number, column), text)
    for column, head in enumerate(heads, 1):
        sheet.cell(1, column).font = openpyxl.styles.Font(bold=True)
        sheet.column_dimensions[openpyxl.utils.get_column_letter(column)].width = max(10, min(40, len(head) + 4))
    sheet.freeze_panes = "A2"
    if notes:
        second = book.create_sheet("How to fill it in")
        for number, text in enumerate(notes, 1):
            _write(second.cell(number, 1), text)
        second.column_dimensions["A"].width = 100
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _write(cell: openpyxl.cell.cell.Cell, text: str) -> None:
    cell.value = openpyxl.cell.cell.ILLEGAL_CHARACTERS_RE.sub("", text) or None
    if text:
        cell.data_type = "s"  # after the value: '=1+1' would be made a formula
        cell.quotePrefix = text.startswith(FORMULA)
