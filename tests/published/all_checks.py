"""All outside checks, the list that `calc` shows, and the record of figures as their sources print them."""

import csv
from collections.abc import Iterator

from published import (
    audio,
    closing,
    fill,
    library_checks,
    line_limits,
    networks,
    power,
    pulls,
    second_printings,
    structure,
    wire,
)
from published.check import Check, rows

from stagefloor.calculations.catalogue import CHECKS as SHOWN
from stagefloor.reference.tables import load

PARTS = (
    fill.raceway_tables,
    fill.raceway_examples,
    fill.areas_in_metric,
    pulls.pulling_checks,
    wire.copper_checks,
    audio.audio_checks,
    audio.loudspeaker_checks,
    networks.data_checks,
    networks.video_control_fibre,
    power.mains_checks,
    structure.floor_checks,
    closing.test_and_money_checks,
    line_limits.line_limit_checks,
    second_printings.other_printings,
    second_printings.separation_products,
    library_checks.library_checks,
)


def _all() -> Iterator[Check]:
    for part in PARTS:
        yield from part()


CHECKS = list(_all())


def transcription_slips() -> list[str]:
    """Rows that differ from the figures as their sources print them: against slips, no outside check."""
    slips = []
    for r in rows("as_printed"):
        row = load(r["table"]).rows.get(tuple(r["key"].split("|")))
        if row is None or row.numbers.get(r["column"]) != float(r["printed"]):
            slips.append(f"{r['table']}: {r['key']}, {r['column']}")
    return slips


def outside_rows() -> list[list[str]]:
    """What `calc --checks` must list: calculation, source, number of values, status."""
    counts: dict[tuple[str, str, str], int] = {}
    for c in CHECKS:
        key = (c.calculation, c.source, c.status)
        counts[key] = counts.get(key, 0) + 1
    return [[name, source, str(n), status] for (name, source, status), n in counts.items()]


def write_outside_rows() -> None:
    """Write the list that the `calc` command shows; run after adding checks."""
    with SHOWN.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(
            [["calculation", "source", "values", "status"], *outside_rows()]
        )


if __name__ == "__main__":
    write_outside_rows()
