"""A table in a CSV or XLSX file, read as hostile data into rows of texts, and written so that no cell is a formula."""

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import openpyxl

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.csv_text import printable, read_rows
from stagefloor.job.exchange.sheet_file import shown

MOST_BYTES = 20_000_000
MOST_UNPACKED = 50_000_000
MOST_TAGS, OTHER_TAGS = 1_000_000, 50_000  # of a part; 5000 rows of 30 cells have fewer. More take long, and much memory
CELLS = re.compile(r"/(worksheets/|sharedStrings)", re.IGNORECASE)
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 5000, 80, 4000
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet takes as the beginning of a formula
LITERAL = re.compile(r'"[^"]*"|\\.|_.|\*.')  # of a number format: texts, and marks for one sign each
NOT_A_TABLE = "is no table that can be read: save it as CSV (comma separated, UTF-8) or as XLSX, and choose it again."


@dataclass(frozen=True)
class TableFile:
    """Heads of the columns, and rows of texts with their number in the file, as long as the heads, or longer where
    something stands beyond them (`check_width`)."""

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def read_table(data: bytes, name: str) -> TableFile:
    """A table from the bytes of a file; a Problem if it is none, or too large."""
    if len(data) > MOST_BYTES:
        raise Problem(f"{shown(name)} has {len(data) / 1e6:,.0f} MB; {MOST_BYTES / 1e6:.0f} MB are the most.")
    if data[:2] == b"PK":
        found = _xlsx(data, name)
    else:
        found = [(n, [_unmarked(c) for c in row])
                 for n, row in read_rows(data, shown(name), MOST_ROWS, MOST_COLUMNS).rows]
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
    return TableFile(shown(name), tuple(heads), tuple((n, _fitted(row, len(heads))) for n, row in lines[1:]))


def _fitted(row: list[str], wide: int) -> tuple[str, ...]:
    while len(row) > wide and not row[-1]:
        row.pop()
    return tuple(row + [""] * (wide - len(row)))


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
    return printable(str(value)[:LONGEST_CELL + 1])


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
            rows = book.worksheets[0].iter_rows(max_row=MOST_ROWS * 2, max_col=MOST_COLUMNS + 1)
            return [(n, [_shown_value(cell) for cell in row]) for n, row in enumerate(rows, 1)]
    except Problem:
        raise
    except Exception:  # a foreign reader on a foreign file: whatever it stumbles over, the file is no table
        raise Problem(f"{shown(name)} {NOT_A_TABLE}") from None


def _shown_value(cell: Any) -> object:
    """The value of a cell of a workbook; a share as its reader sees it: 0.25 under a percent format is 25 %.

    ECMA-376 part 1, 18.8.31: a percent sign in a number format, outside of quotes, multiplies by 100 (from memory).
    """
    value = cell.value
    if isinstance(value, int | float) and not isinstance(value, bool) and "%" in LITERAL.sub("", cell.number_format):
        return f"{value * 100:.12g}%"
    return value


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
