"""Are the outside checks sharp? Change each published number by 2 % in turn and see whether a check notices.

Run: PYTHONPATH=lib:tests python tests/mutate_reference.py [--list]
Only the checks that read a number are run for it. Two rates are printed: by the outside checks alone, and with the
second copy of the tables, which notices every change but proves only that nobody slipped.
"""

import sys
from collections import defaultdict

from stagefloor.core.workings import PUBLISHED
from stagefloor.reference import tables

CHANGE = 1.02
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


def survivors() -> tuple[int, list[tuple[Cell, str]]]:
    """(number of cells tried, those that no outside check noticed, each with why)."""
    tables.Row.__getitem__ = _watched
    try:
        from published.all_checks import CHECKS

        readers = defaultdict(list)
        for check in CHECKS:
            _read.clear()
            assert check.kept(), f"{check.what} fails before any change"
            for cell in _read:
                readers[cell].append(check)
        found, cells = [], published_cells()
        for cell in cells:
            if not readers[cell]:
                found.append((cell, "no calculation with an outside check reads it"))
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


def copied(cell: Cell, slips=None) -> bool:
    """Whether the second copy holds this cell, so that a change of it would be noticed."""
    from published.check import rows

    held = {(r["table"], tuple(r["key"].split("|")), r["column"]) for r in rows("as_printed")}
    return cell in held


def main(argv: list[str]) -> int:
    """Print the survivors and the two rates."""
    tried, left = survivors()
    for why in sorted({w for _, w in left}):
        cells = [c for c, w in left if w == why]
        print(f"{len(cells)} survive: {why}")
        by_table = defaultdict(int)
        for table, _, column in cells:
            by_table[f"{table}, {column}"] += 1
        for place, count in sorted(by_table.items()):
            print(f"  {count} in {place}")
        if "--list" in argv:
            print("\n".join(f"    {c}" for c in cells))
    alone = 100 * (tried - len(left)) / tried
    both = 100 * (tried - sum(not copied(c) for c, _ in left)) / tried
    print(f"{tried} published numbers changed by 2 %: {alone:.1f} % noticed by outside checks alone, "
          f"{both:.1f} % with the second copy.")  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
