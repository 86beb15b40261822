"""What a tester's file would bring into a job: rows to take, rows that are there already, bad rows with their reason.

Nothing is taken here but as a whole, and only by `taken`: one change of the job, for one transaction.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from stagefloor.core.dates import day_and_time, in_order, read_date, read_time, time_of
from stagefloor.core.problems import Problem, nearest
from stagefloor.job.cables import Cable, Circuit
from stagefloor.job.closeout import TESTS, ColumnMeaning, Reading
from stagefloor.job.edit import add, set_fields
from stagefloor.job.exchange.csv_text import check_width
from stagefloor.job.fields import LONGEST_TEXT
from stagefloor.job.model import Job
from stagefloor.steps.closeout.line_tests import possible_tests
from stagefloor.steps.closeout.reading_text import SHOWN, figure, graver, word
from stagefloor.steps.closeout.tester_columns import RESULT_OF, Column, TesterFile, mapping_faults

CLOCK_ONLY = (1899, 1900, 1904)  # years of the days that spreadsheets write before a time alone
SOME_DAY = "2000-01-01"


@dataclass(frozen=True)
class BadRow:
    """A row that is not taken: its number in the file, what stands in it, why."""

    number: int
    line: str
    reason: str

    @property
    def sentence(self) -> str:
        return f"Row {self.number}" + (f" ({self.line[:SHOWN]})" if self.line else "") + f": {self.reason}"


@dataclass(frozen=True)
class NewReading:
    """One reading that would be taken, with the row it comes from."""

    number: int
    circuit: str
    line: str
    test: str
    value: float | None
    result: str
    instrument: str
    by: str
    date: str
    time: str = ""

    @property
    def key(self) -> tuple[object, ...]:
        """By what two readings are one and the same."""
        return (self.circuit, self.test, self.value, self.result, self.date, self.instrument, self.by)

    def fields(self) -> dict[str, object]:
        """As a new record."""
        return {"circuit": self.circuit, "test": self.test, "result": self.result, "instrument": self.instrument,
                "by": self.by, "date": self.date, "time": self.time} | ({} if self.value is None else {"value": self.value})


@dataclass(frozen=True)
class Preview:
    """What a file would bring. `known`: readings that are in the job already. `faults` of the mapping: nothing is read."""

    file: TesterFile
    columns: tuple[Column, ...]
    taken: tuple[NewReading, ...]
    known: tuple[NewReading, ...]
    bad: tuple[BadRow, ...]
    faults: tuple[str, ...] = ()
    empty: int = 0

    @property
    def retests(self) -> int:
        """How many of the readings follow an earlier one of the same test on the same line within the file."""
        return len(self.taken) - len({(r.circuit, r.test) for r in self.taken})

    @property
    def usable(self) -> bool:
        return bool(self.taken) and not self.faults


def preview(job: Job, file: TesterFile, columns: Sequence[Column]) -> Preview:
    """What the file would bring with these columns. A row with several readings is taken whole or not at all."""
    faults = tuple(mapping_faults(columns))
    if faults:
        return Preview(file, tuple(columns), (), (), (), faults)
    reader = _Reader(job, file, columns)
    read: list[NewReading] = []
    bad: list[BadRow] = []
    twice = _Twice()
    empty = 0
    for row in file.rows:
        label = reader.cell(row.cells, "line")
        try:
            found = reader.readings(row.number, row.cells, last=row is file.rows[-1])
        except Problem as problem:
            bad.append(BadRow(row.number, label, problem.sentence))
            continue
        before = [twice.row(r) for r in found]
        if found and all(before):
            bad.append(BadRow(row.number, label, f"the same as row {before[0]}."))
            continue
        empty += not found
        twice.add(found)
        read += found
    there = _There(job)
    known: list[NewReading] = []
    new: list[NewReading] = []
    for r in _as_made(read):
        (known if there.holds(r) else new).append(r)
    return Preview(file, tuple(columns), tuple(new), tuple(known), tuple(bad), (), empty)


def _as_made(read: Sequence[NewReading]) -> list[NewReading]:
    """The readings in the order in which they were made, line by line and test by test. A file without days: one day."""
    groups: dict[tuple[str, str], list[NewReading]] = {}
    for r in read:
        groups.setdefault((r.circuit, r.test), []).append(r)
    one_day = not any(r.date for r in read)
    return [r for group in groups.values()
            for r in in_order(group, lambda r: (SOME_DAY if one_day else r.date, r.time))]


class _Twice:
    """Rows of one file that say the same: of one line, test and moment, with no other reading of that moment between.

    A clock without seconds, or none, has many tests in one moment, and a failure after a pass is another test.
    """

    def __init__(self) -> None:
        self.last: dict[tuple[str, ...], NewReading] = {}

    def row(self, r: NewReading) -> int:
        """The number of the row that says the same; 0: none does."""
        last = self.last.get((r.circuit, r.test, r.date, r.time))
        return last.number if last is not None and last.key == r.key else 0

    def add(self, found: Sequence[NewReading]) -> None:
        for r in found:
            self.last[r.circuit, r.test, r.date, r.time] = r


class _There:
    """The readings of a job, each to be found once: what comes again more often than it is there is another test."""

    def __init__(self, job: Job) -> None:
        self.times: dict[tuple[object, ...], list[str]] = {}
        for r in job.all(Reading):
            self.times.setdefault(_key(r), []).append(time_of(r.time))

    def holds(self, r: NewReading) -> bool:
        """Whether the job holds this reading; a time that one of the two does not know is not held against it."""
        times = self.times.get(r.key, [])
        found = next((t for t in (r.time, "") if t in times), None) if r.time else next(iter(sorted(times)), None)
        if found is None:
            return False
        times.remove(found)
        return True


def taken(job: Job, found: Preview) -> Job:
    """The job with the readings of a preview and with what its columns mean; a Problem if it can't be used as it stands."""
    if found.faults:
        raise Problem(found.faults[0])
    if not found.taken:
        raise Problem("The file brings nothing new.")
    again = preview(job, found.file, found.columns)
    if again.taken != found.taken:
        raise Problem("The job changed since the file was looked at; look at it again, then take it.")
    job, _ = add(job, Reading.kind, [r.fields() for r in found.taken])
    return remembered(job, found.columns)


def remembered(job: Job, columns: Sequence[Column]) -> Job:
    """The job with the meaning of these columns, for the next file with the same headings."""
    known = {c.heading.strip().lower(): c for c in job.all(ColumnMeaning)}
    for column in columns:
        if not column.heading:
            continue
        old = known.get(column.heading.lower())
        if old is None:
            job, _ = add(job, ColumnMeaning.kind,
                         [{"heading": column.heading, "meaning": column.meaning, "unit": column.unit}])
        elif (old.meaning, old.unit) != (column.meaning, column.unit):
            job = set_fields(job, ColumnMeaning.kind, old.id, {"meaning": column.meaning, "unit": column.unit})
    return job


def _key(r: Reading) -> tuple[object, ...]:
    return (r.circuit, r.test, r.value, r.result, r.date, r.instrument, r.by)


class _Reader:
    """Reads rows with one mapping; a Problem is the reason why a row is bad."""

    def __init__(self, job: Job, file: TesterFile, columns: Sequence[Column]) -> None:
        self.job, self.file = job, file
        self.at = {c.meaning: i for i, c in enumerate(columns) if c.meaning != "leave out"}
        self.units = {c.meaning: c.unit for c in columns}
        self.each = [(i, c) for i, c in enumerate(columns) if c.test]
        self.lines: dict[str, list[Circuit]] = {}
        circuits = {c.id: c for c in job.circuits()}
        for circuit in circuits.values():
            self.lines.setdefault(circuit.name.strip().lower(), []).append(circuit)
        for cable in job.all(Cable):  # a cable's own id will do where it carries one line
            held = [circuits[c] for c in cable.circuits if c in circuits]
            if len(held) == 1 and held[0] not in self.lines.get(cable.name.strip().lower(), []):
                self.lines.setdefault(cable.name.strip().lower(), []).extend(held)

    def cell(self, cells: Sequence[str], meaning: str) -> str:
        i = self.at.get(meaning)
        return cells[i] if i is not None and i < len(cells) else ""

    def readings(self, number: int, cells: Sequence[str], last: bool) -> list[NewReading]:
        if len(cells) < len(self.file.headings) and last and self.file.cut_off:
            raise Problem("the file ends within this row; export it again.")
        check_width(cells, len(self.file.headings))
        if len(cells) < len(self.file.headings) - 1:
            raise Problem(f"{len(cells)} cells, but {len(self.file.headings)} headings.")
        circuit = self._line(self.cell(cells, "line"))
        date, time = _when(self.cell(cells, "date"), self.cell(cells, "time"))
        about = {"circuit": circuit.id, "line": circuit.name, "date": date, "time": time,
                 "instrument": self.cell(cells, "instrument"), "by": self.cell(cells, "by")}
        long = next((n for n in ("instrument", "by") if len(about[n]) > LONGEST_TEXT), None)
        if long:
            raise Problem(f"its text under '{long}' has {len(about[long]):,} characters; {LONGEST_TEXT:,} are the most.")
        found = []
        if "test" in self.at:
            test = self._test(self.cell(cells, "test"), circuit)
            unit = self.cell(cells, "unit") or self.units.get("reading", "")
            value, result = figure(self.cell(cells, "reading"), unit, test, circuit.what)
            result = graver(word(self.cell(cells, "result")), result)
            if value is None and not result:
                raise Problem("neither a figure nor a result.")
            found.append(NewReading(number, test=test, value=value, result=result, **about))
        by_test: dict[str, tuple[float | None, str]] = {}
        for i, column in self.each:
            text = cells[i] if i < len(cells) else ""
            if not text:
                continue
            test = self._test(column.test, circuit)
            value, result = by_test.get(test, (None, ""))
            if column.meaning.startswith(RESULT_OF):
                result = graver(result, word(text))
            else:
                value, over = figure(text, column.unit, test, circuit.what)
                result = graver(result, over)
            by_test[test] = value, result
        return found + [NewReading(number, test=t, value=v, result=r, **about) for t, (v, r) in by_test.items()]

    def _line(self, label: str) -> Circuit:
        if not label:
            raise Problem("no line is named.")
        hits = self.lines.get(label.lower(), [])
        if len(hits) == 1:
            return hits[0]
        if hits:
            raise Problem(f"{len(hits)} lines are called '{label[:SHOWN]}'; give each its own label first.")
        near = nearest(label.lower(), list(self.lines))
        raise Problem(f"no line is called '{label[:SHOWN]}'"
                      + (f"; is it {self.lines[near][0].name}?" if near else "."))

    def _test(self, text: str, circuit: Circuit) -> str:
        known = {t.lower(): t for t in TESTS}
        test = known.get(text.strip().lower())
        if test is None:
            near = nearest(text.strip().lower(), list(known))
            raise Problem(f"'{text[:SHOWN]}' is no test that is known here" + (f"; is it {near}?" if near else ".")
                          if text else "no test is named.")
        if test not in {t.test for t in possible_tests(circuit.what)}:
            raise Problem(f"{test} is no test of a {circuit.what} line.")
        return test


def _when(day: str, time: str) -> tuple[str, str]:
    """Day, year first, and time of day as 09:05; either cell may hold both. Empty for what is empty."""
    day, clock = day_and_time(day)
    other, own = day_and_time(time)
    if not own:
        other, own = "", time
    found, second = read_date(day), read_date(other)
    if second is not None and second.year not in CLOCK_ONLY:
        if found is not None and found != second:
            raise Problem(f"its date and its time name two days, {found.isoformat()} and {second.isoformat()}.")
        found = second
    return found.isoformat() if found else "", read_time(own or clock)
