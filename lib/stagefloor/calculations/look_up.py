"""A look-up of one published fact or table row, with its source and how it was read."""

from stagefloor.calculations.inputs import choice
from stagefloor.core.problems import Problem
from stagefloor.core.workings import Value, Working
from stagefloor.reference import tables


def table_row(table: str, key: str) -> Working:
    """One row of a reference table with its source.

    Parameters
    ----------
    table : name of the table, such as analogue, fibre or nec_ch9_table4_raceways
    key : key of the row; parts of a longer key with | between them, such as EMT|3/4

    Returns the first number of the row as printed, in its own unit; further numbers stand under 'also'.
    Raises Problem if there is no such table or row, or the row holds words only; then the sentence gives them.
    Source: on the row.
    """
    choice("table", table, tables.names())
    found = tables.load(table)
    row = found.row(*(part.strip() for part in key.split("|")))
    names = {n: n if n != "value" else row.text("what") for n in row.numbers}
    if not names:
        words = "; ".join(text for name, text in row.cells.items() if text and name not in found.keys)
        raise Problem(f"{key} in {table} has no number; it says: {words} ({row.basis().line()}).", "key")
    values = [row.shown("", label, name) for name, label in names.items()]
    notes = tuple(
        f"{name.replace('_', ' ')}: {text}"
        for name, text in row.cells.items()
        if text and name not in row.numbers and name not in found.keys and name not in ("what", "unit")
    )
    first = values[0]
    label = f"{table}, {key}: {first.name}"
    return Working(
        label,
        "table look-up",
        (),
        Value("", first.name, first.amount, first.unit, 6),
        (row.basis(),),
        notes=notes,
        also=tuple(values[1:]),
    )
