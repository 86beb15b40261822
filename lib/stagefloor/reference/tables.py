"""The one loader of reference tables: CSV in, rows by key out, with the source of each row.

Column heads: ``name`` is text, ``name [unit]`` a number in that unit, a ``*`` after the name marks a key
column.
A table with the columns ``value`` and ``unit`` holds single facts, each with its own unit.
'read in a published table' means read in a public copy, or in a public page that quotes the standard, and
almost never in the standard itself: a person who owns the standard compares once before relying on it.
"""

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite
from pathlib import Path

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import KINDS
from stagefloor.core.workings import SHOP, STATUSES, Basis, Value

FOLDER = Path(__file__).parent

# Units that the printed tables use and nobody types, with the factor to SI (None where there is none).
_TABLE_UNITS: dict[str, float | None] = {
    "1": 1.0,
    "count": 1.0,
    "W/m2": 1.0,
    "mV/A/m": 1e-3,
    "ohm mm2/m": 1e-6,
    "MS/m": 1e6,
    "1/degC": 1.0,
    "dB/km": 1e-3,
    "dB/100ft": 1 / 30.48,
    "MHz km": None,
    "lbf/cmil": None,
    "bit/s m": 1.0,
    "mohm/m": 1e-3,
    "year": None,
    "%/m": 1.0,
    "s mA": None,
    "m/s2": 1.0,
    "J/K": 1.0,
    "K": 1.0,
    "psf": None,
    "dBu": 1.0,
    "1/m": 1.0,
}
_SHOWN = {
    "1": "",
    "count": "",
    "in2": "in²",
    "mm2": "mm²",
    "in3": "in³",
    "degC": "°C",
    "1/degC": "/°C",
    "ohm mm2/m": "ohm mm²/m",
}
_BOOKKEEPING = ("source", "status")

# One file that stands in for every look-up of a block, and the tables that the block looked at.
_SHOP: ContextVar[tuple[Path, set[str]] | None] = ContextVar("shop's file", default=None)


def _factor(unit: str) -> float | None:
    """Factor from a printed unit to SI, None where there is none; KeyError for an unknown unit."""
    for _, units in KINDS.values():
        if unit in units:
            return units[unit]
    return _TABLE_UNITS[unit]


@dataclass(frozen=True)
class Row:
    """One row: numbers as printed by ``row["name"]``, in SI by ``row.si()``, text by ``row.text()``.

    `overridden` is empty, or says whose value stands here instead of the published one.
    """

    table: str
    key: tuple[str, ...]
    cells: dict[str, str]
    numbers: dict[str, float]
    units: dict[str, str]
    source: str
    status: str
    overridden: str = ""

    def __getitem__(self, name: str) -> float:
        if name not in self.numbers:
            label = ", ".join(self.key)
            raise Problem(
                f"The table {self.table} has no {name} for {label}; choose another row or type the value.",
                self.table,
            )
        return self.numbers[name]

    def has(self, name: str) -> bool:
        """Whether the cell is filled with a number."""
        return name in self.numbers

    def si(self, name: str = "value") -> float:
        """The number in SI units (temperatures in degrees Celsius, percentages as printed)."""
        factor = _factor(self.units[name])
        if factor is None:
            raise ValueError(f"{self.table}: {self.units[name]} has no SI factor")
        return self[name] * factor

    def text(self, name: str) -> str:
        """The cell as printed."""
        return self.cells[name]

    def basis(self) -> Basis:
        """Source line of this row, with whose value it is if a shop's file overrides it."""
        where = self.source if "key" in self.cells else f"{self.source}; row {', '.join(self.key)}"
        if self.overridden:
            return Basis(f"{where}; the published value is overridden by {self.overridden}", SHOP)
        return Basis(where, self.status)

    def shown(self, symbol: str, name: str, column: str = "value") -> Value:
        """The number as printed, as one value of a working."""
        unit = self.units[column]
        return Value(symbol, name, self[column], _SHOWN.get(unit, unit))


@dataclass(frozen=True)
class Table:
    """A table read once; rows in file order, found by key. Never changed after loading."""

    name: str
    keys: tuple[str, ...]
    rows: dict[tuple[str, ...], Row]

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows.values())

    def __len__(self) -> int:
        return len(self.rows)

    def row(self, *key: object) -> Row:
        """The row of a key; Problem with the nearest valid choice if there is none."""
        wanted = tuple(str(k) for k in key)
        found = self.rows.get(wanted)
        if found is not None:
            return found
        position = next(
            (
                i
                for i in range(len(self.keys))
                if i < len(wanted) and not any(k[: i + 1] == wanted[: i + 1] for k in self.rows)
            ),
            len(self.keys) - 1,
        )
        choices = list(dict.fromkeys(k[position] for k in self.rows if k[:position] == wanted[:position]))
        asked = wanted[position] if position < len(wanted) else ""
        near = nearest(asked, choices)
        listed = ", ".join(choices[:12]) + (", ..." if len(choices) > 12 else "")
        raise Problem(
            f"There is no {self.keys[position].replace('_', ' ')} '{asked}' in the table {self.name}; "
            + (f"did you mean {near}? " if near else "")
            + f"Choose one of: {listed}.",
            self.keys[position],
        )

    def values(self, column: str) -> list[str]:
        """The distinct texts of a column in file order."""
        return list(dict.fromkeys(r.cells[column] for r in self))


def names() -> list[str]:
    """The names of all shipped tables."""
    return sorted(p.stem for p in FOLDER.glob("*.csv"))


def load(name: str, override: Path | None = None) -> Table:
    """A shipped table by name, with the rows of a shop's own CSV in place of the published ones.

    Parameters
    ----------
    name : a name from names()
    override : CSV with the same column heads, any subset of the rows; its `source` column says whose value
        it is

    Returns the Table. Raises Problem if there is no such table, or the override file can't be read or is
    wrong.
    """
    shop = _SHOP.get()
    if shop is not None and override is None:
        shop[1].add(name)
        override = shop[0] if shop[0].stem == name else None
    return _load(
        name,
        str(override) if override else "",
        override.stat().st_mtime_ns if override and override.exists() else 0,
    )


@contextmanager
def shop_file(file: Path) -> Iterator[set[str]]:
    """Within the block, the rows of `file` stand in place of those of the table it is named after.

    Yields the names of the tables that were looked at. Raises Problem if no table bears the file's name,
    or the file can't be read or is wrong.
    """
    if file.stem not in names():
        near = nearest(file.stem, names())
        raise Problem(
            f"The shop's file {file.name} bears the name of no reference table; name it after the table whose rows "
            f"it replaces{f', such as {near}.csv' if near else ', such as bs7671_voltage_drop.csv'}.",
            "--shop",
        )
    load(file.stem, file)
    looked: set[str] = set()
    token = _SHOP.set((file, looked))
    try:
        yield looked
    finally:
        _SHOP.reset(token)


def fact(table: str, key: str, override: Path | None = None) -> Row:
    """One fact (a row with `value` and `unit`) of a table of facts; Problem if there is none."""
    return load(table, override).row(key)


def clause(subject: str, edition: str) -> str:
    """Clause label of a rule of the US electrical code in an edition (2017, 2020, 2023 or 2026)."""
    row = load("nec_edition_map").row(subject)
    if edition not in row.cells:
        editions = [c for c in row.cells if c.isdigit()]
        raise Problem(
            f"'{edition}' is not an edition with known clause numbers; choose one of {', '.join(editions)}.",
            "edition",
        )
    return row.cells[edition] or "clause not looked up"


@lru_cache(maxsize=256)
def _load(name: str, override: str, _stamp: int) -> Table:
    path = FOLDER / f"{name}.csv"
    if not path.is_file():
        near = nearest(name, names())
        raise Problem(
            f"There is no reference table '{name}'" + (f"; did you mean {near}?" if near else "."), name
        )
    table = read(path)
    if not override:
        return table
    own = read(Path(override), whose=f"the shop's file {Path(override).name}", like=table)
    return Table(table.name, table.keys, table.rows | own.rows)


def read(path: Path, whose: str = "", like: Table | None = None) -> Table:
    """Read and check one CSV file.

    Raises Problem if a source is missing, a key is repeated, a unit or status is unknown, a number is no
    number,
    or, for a shop's file (`like`), a column or key is not one of the published table.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            lines = list(csv.reader(file))
    except (OSError, UnicodeDecodeError) as trouble:
        raise Problem(
            f"The table {path.name} can't be read ({trouble.__class__.__name__}); save it as CSV in UTF-8.",
            str(path),
        ) from None
    lines = [line for line in lines if any(c.strip() for c in line)]
    if not lines:
        raise Problem(f"The table {path.name} is empty; give it a line of column heads.", str(path))
    heads, units, keys = _heads(lines[0], path)
    if like is not None and set(heads) != set(_columns(like)):
        raise Problem(
            f"The columns of {path.name} are not those of the table {like.name}: "
            f"{', '.join(_columns(like))}.",
            str(path),
        )
    rows: dict[tuple[str, ...], Row] = {}
    for number, line in enumerate(lines[1:], start=2):
        where = f"{path.name}, line {number}"
        if len(line) != len(heads):
            raise Problem(
                f"{where} has {len(line)} cells where {len(heads)} belong; check its commas.", where
            )
        row = _row(dict(zip(heads, (c.strip() for c in line), strict=True)), units, keys, path, where, whose)
        if row.key in rows:
            raise Problem(f"{where} repeats the key {', '.join(row.key)}; keep one of the two rows.", where)
        if like is not None and row.key not in like.rows:
            like.row(*row.key)
        rows[row.key] = row
    return Table(like.name if like else path.stem, keys, rows)


def _columns(table: Table) -> list[str]:
    return [*next(iter(table)).cells, *_BOOKKEEPING]


def _heads(line: list[str], path: Path) -> tuple[list[str], dict[str, str], tuple[str, ...]]:
    heads, units, keys = [], {}, []
    for head in line:
        name, _, unit = head.strip().partition(" [")
        if name.endswith("*"):
            name = name[:-1]
            keys.append(name)
        if unit:
            units[name] = _known(unit.rstrip("]"), f"{path.name}, column {name}")
        heads.append(name)
    missing = [c for c in _BOOKKEEPING if c not in heads]
    if missing or not keys or len(set(heads)) != len(heads):
        raise Problem(
            f"The table {path.name} needs the columns source and status, at least one key column marked "
            "with *, and no column twice.",
            str(path),
        )
    return heads, units, tuple(keys)


def _known(unit: str, where: str) -> str:
    try:
        _factor(unit)
    except KeyError:
        raise Problem(
            f"The unit '{unit}' in {where} is unknown; use a unit that the other tables use.", where
        ) from None
    return unit


def _row(
    cells: dict[str, str], units: dict[str, str], keys: tuple[str, ...], path: Path, where: str, whose: str
) -> Row:
    source, status = cells.pop("source"), cells.pop("status")
    if not source:
        raise Problem(f"{where} names no source; say where the value comes from.", where)
    if status not in STATUSES:
        raise Problem(f"{where} has the unknown status '{status}'; use one of: {'; '.join(STATUSES)}.", where)
    of_row = dict(units)
    if "unit" in cells and "value" in cells and cells["value"]:
        of_row["value"] = _known(cells["unit"], where)
    numbers = {}
    for name in of_row:
        if cells[name]:
            try:
                numbers[name] = float(cells[name])
            except ValueError:
                numbers[name] = float("nan")
            if not isfinite(numbers[name]):
                raise Problem(f"'{cells[name]}' in {where}, column {name}, is not a number.", where)
    key = tuple(cells[k] for k in keys)
    if not all(key):
        raise Problem(f"{where} has an empty key; fill in {', '.join(keys)}.", where)
    return Row(
        path.stem, key, cells, numbers, of_row, source, status, f"{source} in {whose}" if whose else ""
    )
