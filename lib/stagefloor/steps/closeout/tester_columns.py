"""A tester's file as text: its delimiter, its headings, what each column means. Knows no limit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stagefloor.core.problems import Problem
from stagefloor.job.closeout import TESTS, ColumnMeaning
from stagefloor.job.exchange.csv_text import read_rows
from stagefloor.job.model import Job

LEFT_OUT = "leave out"
MEANINGS = ("line", "test", "reading", "unit", "result", "date", "time", "instrument", "by")
READING_OF = "reading of "
RESULT_OF = "result of "
MOST_BYTES = 20_000_000
MOST_ROWS = 50_000
MOST_COLUMNS = 200
# Words that testers and spreadsheets put over such columns; the longest that is found in a heading decides.
GUESSES = {
    "line": ("line", "label", "cable id", "cable label", "circuit", "cable", "id"),
    "test": ("test", "test name", "measurement", "function"),
    "reading": ("reading", "value", "measured"),
    "unit": ("unit", "units"),
    "result": ("result", "pass/fail", "status"),
    "date": ("date", "date and time", "timestamp"),
    "time": ("time",),
    "instrument": ("instrument", "tester", "serial", "meter"),
    "by": ("by", "operator", "tested by", "user", "technician"),
}


@dataclass(frozen=True)
class Row:
    """One line of the file: its number as an editor counts it, and its cells."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class TesterFile:
    """A file as read: headings, rows below them, and whether its last row looks cut off."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    cut_off: bool


@dataclass(frozen=True)
class Column:
    """What one column means: one of MEANINGS, LEFT_OUT, or 'reading of' or 'result of' a test; `unit` of its figures."""

    heading: str
    meaning: str
    unit: str = ""

    @property
    def test(self) -> str:
        """The test whose reading or result stands in this column, if the column is for one test alone."""
        for start in (READING_OF, RESULT_OF):
            if self.meaning.startswith(start):
                return self.meaning.removeprefix(start)
        return ""


def meanings() -> list[str]:
    """Every meaning that a column may have."""
    return [LEFT_OUT, *MEANINGS, *(READING_OF + t for t in TESTS), *(RESULT_OF + t for t in TESTS)]


def read_file(name: str, data: bytes) -> TesterFile:
    """The rows of a tester's file.

    Raises
    ------
    Problem : it is empty, too large, no text, has no headings or no row below them
    """
    if len(data) > MOST_BYTES:
        raise Problem(f"{name} has {len(data) / 1e6:,.0f} MB, more than {MOST_BYTES / 1e6:,.0f}; split it.", name)
    read = read_rows(data, name, MOST_ROWS, MOST_COLUMNS)
    found = [Row(number, tuple(c.replace("\n", " ") for c in cells)) for number, cells in read.rows]
    if not found:
        raise Problem(f"{name} is empty; export it again.", name)
    if len(found[0].cells) < 2:
        raise Problem(f"{name} has no columns in its first line; save it with commas, semicolons or tabs between.", name)
    if len(found) < 2:
        raise Problem(f"{name} has headings but no row below them; export it again.", name)
    headings = found[0].cells
    doubled = sorted({h for h in headings if h and [x.lower() for x in headings].count(h.lower()) > 1})
    if doubled:
        raise Problem(f"{name} has two columns called '{doubled[0][:40]}'; rename one of them.", name)
    # a file that ends within a row was not written to its end
    cut = not read.whole and len(found[-1].cells) < len(headings)
    return TesterFile(name, headings, tuple(found[1:]), cut)


def columns(job: Job, headings: Sequence[str], chosen: Mapping[str, tuple[str, str]] | None = None) -> list[Column]:
    """What each column means: as chosen now, else as remembered from an earlier file, else as its heading suggests.

    Parameters
    ----------
    chosen : heading -> (meaning, unit)
    """
    known = {c.heading.strip().lower(): (c.meaning, c.unit) for c in job.all(ColumnMeaning)}
    allowed = set(meanings())
    taken: set[str] = set()
    found = []
    for heading in headings:
        meaning, unit = (chosen or {}).get(heading) or known.get(heading.lower()) or ("", "")
        if meaning not in allowed:
            meaning, unit = _guess(heading, taken)
        taken.add(meaning)
        found.append(Column(heading, meaning, unit))
    return found


def _guess(heading: str, taken: set[str]) -> tuple[str, str]:
    name, unit = _parts(heading)
    for test in sorted(TESTS, key=len, reverse=True):
        if test in name:
            return READING_OF + test, unit
    hits = [(len(word), meaning) for meaning, words in GUESSES.items() if meaning not in taken
            for word in words if word == name or (len(word) > 3 and word in name)]
    return (max(hits)[1], unit) if hits else (LEFT_OUT, "")


def _parts(heading: str) -> tuple[str, str]:
    """Name and unit of a heading such as 'Loop resistance (ohm)' or 'Loop resistance [ohm]'."""
    name = heading.strip()
    for opens, closes in ("()", "[]"):
        if name.endswith(closes) and opens in name:
            before, _, unit = name[:-1].rpartition(opens)
            return before.strip().lower(), unit.strip()
    return name.lower(), ""


def mapping_faults(found: Sequence[Column]) -> list[str]:
    """What keeps a mapping from being used, in sentences; none: it can be used."""
    meant = [c.meaning for c in found]
    faults = []
    if "line" not in meant:
        faults.append("No column holds the line: choose 'line' for the one with the labels.")
    each = [c for c in found if c.test]
    if "test" not in meant and not each:
        faults.append("No column says which test a row is: choose 'test', or 'reading of ...' for a column of figures.")
    if "test" in meant and not {"reading", "result"} & set(meant):
        faults.append("No column holds the figures: choose 'reading' or 'result' for one.")
    doubled = sorted({m for m in meant if m != LEFT_OUT and meant.count(m) > 1})
    faults += [f"Two columns are both '{m}'; leave one of them out." for m in doubled]
    return faults
