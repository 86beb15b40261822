"""The text of a CSV file, read as hostile data: its coding, what stands between its cells, its rows. Knows no table."""

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stagefloor.core.problems import Problem

MARKS = "\t;|,"  # between cells; of those that are as many in the head, the rarer one within texts comes first
QUOTED = re.compile(r'"[^"]*"')
EMPTY_A_ROW = 20  # lines for each row that may be: some are empty, some texts have lines
NO_TEXT = "is no text file that can be read; save it as CSV (comma separated, UTF-8), and choose it again."


@dataclass(frozen=True)
class CsvRows:
    """Rows that are not empty, each with its number in the file (of its first line); `whole`: the file ends with a line."""

    rows: tuple[tuple[int, tuple[str, ...]], ...]
    whole: bool


def read_rows(data: bytes, name: str, most_rows: int, most_columns: int) -> CsvRows:
    """The rows of a CSV file.

    Parameters
    ----------
    data : the file; name : how it is called in a sentence; most_rows, most_columns : with the heads; more are a Problem

    Raises
    ------
    Problem : it is no text, or too large
    """
    text = _decoded(data, name)
    if max(text.count("\n"), text.count("\r")) > EMPTY_A_ROW * most_rows:
        raise Problem(f"{name} has more than {most_rows:,} rows; divide it.", name)
    head = QUOTED.sub("", next((line for line in io.StringIO(text, newline="") if line.strip()), ""))
    mark = max(MARKS, key=head.count) if any(m in head for m in MARKS) else ","
    if any(line.count(mark) > EMPTY_A_ROW * most_columns for line in io.StringIO(text, newline="")):
        raise Problem(f"{name} has more than {most_columns:,} columns; leave out what is not needed.", name)
    found = []
    for number, row in _rows(text, mark, name):
        cells = tuple(printable(c) for c in row[:most_columns + 1])
        if any(cells):
            found.append((number, cells))
        if len(found) > most_rows + 1:
            raise Problem(f"{name} has more than {most_rows:,} rows; divide it.", name)
    return CsvRows(tuple(found), text.endswith(("\n", "\r")))


def check_width(cells: Sequence[str], heads: int) -> None:
    """A Problem for a row with something beyond the heads: its cells may stand under the wrong ones (RFC 4180, 2.4)."""
    if any(cells[heads:]):
        raise Problem(f"{len(cells)} cells, but {heads} heads; put quotes around a text or number with a comma in it, and "
                      "a head over every column")


def printable(text: str) -> str:
    """A cell as a record can keep it: without characters that can't be shown."""
    if not text.isprintable():
        text = "".join(c for c in text if (c >= " " or c == "\n") and not "\ud800" <= c <= "\udfff")
    return text.strip()


def _rows(text: str, mark: str, name: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    start = 1
    try:
        for row in reader:
            yield start, row
            start = reader.line_num + 1
    except csv.Error as error:
        raise Problem(f"{name} can't be read from line {start} on ({error}); save it as CSV again, and choose it again.",
                      name) from None


def _decoded(data: bytes, name: str) -> str:
    codes: tuple[str, ...] = ("utf-8-sig", "cp1252")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        codes = ("utf-16",)
    elif b"\0" in data:
        codes = ()
    for code in codes:
        try:
            text = data.decode(code)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
        break
    raise Problem(f"{name} {NO_TEXT}", name)
