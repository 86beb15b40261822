"""Are the outside checks sharp? Change each published number by 2 % in turn and see whether a check notices.

Run: PYTHONPATH=lib:tests python tests/mutate_reference.py [--list]
Only the checks that read a number are run for it. Three rates are printed: by outside checks alone, with the laws
that whole tables obey, and with the record of figures as printed, which proves only that nobody slipped.
"""

import sys
from collections import Counter, defaultdict

from published.check import rows

from stagefloor.core.workings import PUBLISHED
from stagefloor.reference import tables

CHANGE = 1.02
# Why a table has numbers that neither a check nor the record of printed figures holds.
UNHELD = {
    "acceptance": "a tolerance that one page names; no second page was looked for",
    "data_limits": "read off a comparison table as its composition, not printed as one number",
    "en50174_2_power_factor": "the lower end of an open range, printed as a sign before 75 or 76",
    "floor_rules": "printed as a fraction or within a sentence",
    "iec_rules": "two guides disagree; both are shown to the user",
    "labour_units": "printed as 15 to 25 minutes, held here in hours",
    "mains_practice": "the voltage of a worked example",
    "pulling": "a count or a default named in a sentence",
    "service_loads": "worked from a printed weight, so not a printed figure",
    "uk_conduit_notes": "a length named in the heading of the table",
}
Cell = tuple[str, tuple[str, ...], str]
_read: set[Cell] = set()
_changed: dict[Cell, float] = {}
_plain = tables.Row.__getitem__


def _watched(row: tables.Row, name: str) -> float:
    cell = (row.table, row.key, name)
    _read.add(cell)
    return _plain(row, name) * _changed.get(cell, 1.0)


def published_cells() -> list[Cell]:
    """Every number of status published in the tables that this project's calculations read."""
    return [(name, row.key, column) for name in tables.names() for row in tables.load(name)
            if row.status == PUBLISHED for column in row.numbers]  # fmt: skip


def survivors(with_laws: bool) -> tuple[int, list[tuple[Cell, str]]]:
    """(number of cells tried, those that no check noticed, each with why)."""
    from published.all_checks import CHECKS
    from published.table_laws import LAWS

    tables.Row.__getitem__ = _watched
    try:
        readers = defaultdict(list)
        for check in CHECKS + (LAWS if with_laws else []):
            _read.clear()
            assert check.kept(), f"{check.what} fails before any change"
            for cell in _read:
                readers[cell].append(check)
        found, cells = [], published_cells()
        for cell in cells:
            if not readers[cell]:
                found.append((cell, "nothing from outside is compared with it"))
                continue
            _changed[cell] = CHANGE
            if all(_kept(check) for check in readers[cell]):
                found.append((cell, "printed with too few digits for 2 % to show"))
            del _changed[cell]
        return len(cells), found
    finally:
        tables.Row.__getitem__ = _plain


def _kept(check) -> bool:
    try:
        return check.kept()
    except Exception:  # a changed table that stops a calculation has been noticed
        return False


def copied() -> set[Cell]:
    """The cells that the record of printed figures holds, so that a change of them would be noticed."""
    return {(r["table"], tuple(r["key"].split("|")), r["column"]) for r in rows("as_printed")}


def main(argv: list[str]) -> int:
    """Print the survivors and the three rates."""
    tried, alone = survivors(with_laws=False)
    _, left = survivors(with_laws=True)
    for why in sorted({w for _, w in left}):
        cells = [c for c, w in left if w == why]
        print(f"{len(cells)} need the record of printed figures: {why}")
        by_table = defaultdict(int)
        for table, _, column in cells:
            by_table[f"{table}, {column}"] += 1
        print("  " + "; ".join(f"{count} in {place}" for place, count in sorted(by_table.items())))
        if "--list" in argv:
            print("\n".join(f"    {c}" for c in cells))
    held = copied()
    unseen = [c for c, _ in left if c not in held]
    rates = (
        ("outside checks alone", alone),
        ("with laws of tables", left),
        ("with the record of printed figures", unseen),
    )
    print("No check and no record:")
    for table, count in sorted(Counter(c[0] for c in unseen).items()):
        print(f"  {count} in {table}: " + ", ".join(c[1][0] for c in unseen if c[0] == table)
              + f" ({UNHELD.get(table, 'not yet explained')})")  # fmt: skip
    for name, missed in rates:
        share = 100 * (tried - len(missed)) / tried
        print(f"{share:.1f} % of {tried} published numbers, changed by 2 %, are noticed: {name}.")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
