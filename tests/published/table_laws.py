"""Laws that whole published tables obey: one wrong figure breaks them. Not counted among the outside checks."""

from collections.abc import Iterator
from functools import partial
from math import pi

import numpy as np
import pint
from published.check import Check

from stagefloor.core.workings import ARITHMETIC
from stagefloor.reference.tables import load

UREG = pint.UnitRegistry()
CONDUITS = ("16", "20", "25", "32")


def _cell(table: str, key: tuple[str, ...], column: str) -> float:
    return load(table).row(*key)[column]


def _half_digit(text: str) -> float:
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


def conduit_capacity() -> Iterator[Check]:
    """UK conduit factors: 1/f grows linearly with length, and each bend doubles the slope. Found in the table."""
    keys = [row.key for row in load("uk_conduit_capacity")]
    steps = np.array([float(length) * 2.0 ** int(bends) for length, bends in keys])
    for size in CONDUITS:
        inverse = np.array([1 / _cell("uk_conduit_capacity", key, size) for key in keys])
        slope, start = np.polyfit(steps, inverse, 1, w=1 / inverse)
        for key, step in zip(keys, steps, strict=True):
            yield Check(
                "conduit-factors", "law of the table of UK conduit factors", f"{size} mm, {' m, '.join(key)} bends",
                f"{1 / (start + slope * step):.3f}", partial(_cell, "uk_conduit_capacity", key, size),
                0.008 / (start + slope * step), "the law fits the printed table within 0.8 %", ARITHMETIC,
            )  # fmt: skip


def trunking_sizes() -> Iterator[Check]:
    """UK trunking: width and height stand in the name; the factor is 45 % of a slightly smaller inside."""
    for row in load("uk_trunking_capacity"):
        width, height = (float(part) for part in row.key[0].split("x"))
        for column, side in (("width", width), ("height", height)):
            yield Check(
                "trunking-factors", "name of the trunking", f"{row.key[0]}, {column}, mm", f"{side:g}",
                partial(_cell, "uk_trunking_capacity", row.key, column), None, "", ARITHMETIC,
            )  # fmt: skip


def areas_of_diameters() -> Iterator[Check]:
    """Chapter 9: the printed area is that of the printed diameter."""
    for table, area, diameter in (
        ("nec_ch9_table4_raceways", "area_100", "id"),
        ("nec_ch9_table5_conductors", "area", "diameter"),
    ):
        for row in load(table):
            found = pi / 4 * row[diameter] ** 2
            yield Check(
                "raceway-fill", "area of the printed diameter", f"{table} {' '.join(row.key)}", f"{found:.5f}",
                partial(_cell, table, row.key, area), 0.007 * found, "diameters are printed to 0.001 in", ARITHMETIC,
            )  # fmt: skip


def power_loops() -> Iterator[Check]:
    """Power over data: four pairs see half of the loop of two, which is half of a pair's 25 ohm."""
    for number, pairs in (("4", 1), ("5", 2), ("6", 2), ("7", 2), ("8", 2)):
        yield Check(
            "power-class", "half of the pair loop for two pairs, a quarter for four", f"class {number}, ohm",
            f"{12.5 / pairs}", partial(_cell, "power_over_data_classes", (number,), "loop"), None, "", ARITHMETIC,
        )  # fmt: skip


def three_phase_drop() -> Iterator[Check]:
    """BS 7671: where resistance rules, the three-phase drop is half the root of three of the single-phase one."""
    for row in load("bs7671_voltage_drop"):
        found = row["single_phase"] * 3**0.5 / 2
        yield Check(
            "voltage-drop-uk", "three-phase circuit theory", f"{' '.join(row.key)}, mV/A/m", f"{found:.3f}",
            partial(_cell, "bs7671_voltage_drop", row.key, "three_phase"),
            _half_digit(row.text("single_phase")) * 3**0.5 / 2 + _half_digit(row.text("three_phase")),
            "half of the last printed digit of both columns", ARITHMETIC,
        )  # fmt: skip


def inches_and_pounds() -> Iterator[Check]:
    """Figures that their sources state in inches, psf or pounds, converted by pint."""
    for table, key, column, printed, unit in (
        ("separation_rules", "one foot", "distance", "1 foot", "mm"),
        ("separation_rules", "five inches", "distance", "5 inch", "mm"),
        ("separation_rules", "two and a half inches", "distance", "2.5 inch", "mm"),
        ("live_loads", "assembly, fixed seats (fastened to floor)", "uniform", "60 lbf/foot**2", "kN/m**2"),
        ("live_loads", "assembly, no fixed seats", "uniform", "100 lbf/foot**2", "kN/m**2"),
        ("live_loads", "lobbies and first-floor corridors, offices", "uniform", "100 lbf/foot**2", "kN/m**2"),
        ("live_loads", "lobbies and first-floor corridors, offices", "concentrated", "2000 lbf", "N"),
    ):
        found = UREG.Quantity(printed).to(unit).magnitude
        yield Check(
            "table-row", "pint, from the imperial figure of the source", f"{table} {key}, {column}, {unit}",
            f"{found:.4f}", partial(_cell, table, (key,), column), 0.002 * found,
            "the metric figure is printed to three digits", ARITHMETIC,
        )  # fmt: skip


PARTS = (
    conduit_capacity,
    trunking_sizes,
    areas_of_diameters,
    power_loops,
    three_phase_drop,
    inches_and_pounds,
)
LAWS = [check for part in PARTS for check in part()]
