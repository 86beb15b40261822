"""The same tables in another publication, and products that a handbook prints in full."""

from collections.abc import Iterator

from published.check import Check, cell, limit, result, rows

from stagefloor.calculations import copper, separation

CIRCUITS = ((1, 3), (4, 6), (7, 9), (10, 12), (13, 15), (16, 30), (31, 45), (46, 60), (61, 75), (76, 76))
# Least distance in mm as the handbook prints it, by class and barrier, a column a range of circuits.
DISTANCES = (
    ("b", "no_barrier", "20 40 60 80 100 200 300 400 500 600"),
    ("b", "open_metal", "15 30 45 60 75 150 225 300 375 400"),
    ("b", "perforated_metal", "10 20 30 40 50 100 150 200 250 300"),
    ("b", "solid_metal", "0 0 0 0 0 0 0 0 0 0"),
    ("c", "no_barrier", "10 20 30 40 50 100 150 200 250 300"),
    ("c", "open_metal", "8 15 23 30 38 76 114 152 190 228"),
    ("c", "perforated_metal", "5 10 15 20 25 50 75 100 125 150"),
    ("d", "no_barrier", "2 4 6 8 10 20 30 40 50 60"),
    ("d", "open_metal", "2 3 5 6 8 16 24 32 40 48"),
    ("d", "perforated_metal", "1 2 3 4 5 10 15 20 25 30"),
)
MISPRINT = ("b", "open_metal", 76)  # printed 400; its own S x P is 75 x 6 = 450


def other_printings() -> Iterator[Check]:
    """Whole tables of conduit, trunking, voltage drop and resistance, as another publication prints them."""
    for r in rows("second_printings"):
        key = r["key"].split("|")
        if r["table"] == "iec_60228_resistance_20C":
            value = result(copper.metric_resistance, key[0], key[1])
        else:
            value = cell(r["table"], r["key"], r["column"])
        what = f"{r['table']}, {', '.join(key)}, {r['column']}"
        yield Check(r["calculation"], r["source"], what, r["printed"], value, 1e-9, "the same table again")


def separation_products() -> Iterator[Check]:
    """EN 50174-2: every least distance of the handbook, at both ends of each range of circuits."""
    for cable_class, barrier, printed in DISTANCES:
        for ends, figure in zip(CIRCUITS, printed.split(), strict=True):
            for number in sorted(set(ends)):
                if (cable_class, barrier, number) == MISPRINT:
                    continue
                yield Check(
                    "separation-iec", "EN 50174-2 least distances in full (Nordic electricians' handbook)",
                    f"class {cable_class}, {barrier.replace('_', ' ')}, {number} circuits, mm", figure,
                    limit(separation.separation_iec, 1, cable_class, number, barrier),
                    0.5, "printed in whole millimetres",
                )  # fmt: skip
