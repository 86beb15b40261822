"""Limits of line tests against printed values: loops by length and gauge, impedance, insulation, links, trip times."""

from collections.abc import Iterator

from published.check import Check, also, cell, limit, result, rows

from stagefloor.calculations import copper, data, tests_limits
from stagefloor.core.workings import ARITHMETIC, MEMORY, PRACTICE

SHARE = 0.02  # stranded cable and makers' rounding differ by up to 2 % from solid copper


def line_limit_checks() -> Iterator[Check]:
    """Limits that a reading of a line is held against."""
    yield from _loops()
    dictionary = "loudspeaker dictionary: lowest impedance 80 % of nominal"
    for nominal, least in ((8, "6.4"), (4, "3.2")):
        yield Check("loudspeaker-impedance", dictionary, f"{nominal} ohm, least, ohm", least,
                    limit(tests_limits.loudspeaker_impedance, nominal))  # fmt: skip
    yield Check("insulation", "rail-authority table: older editions of IEC 60364-6", "SELV and PELV, Mohm", "0.25",
                limit(tests_limits.insulation, 1e6, "older edition, SELV and PELV"))  # fmt: skip
    yield Check("link-length", "tester glossary", "permanent link, m", "90", limit(tests_limits.link_length, 40))
    yield Check("link-length", "project specification: 90 m + 10 %", "50 m, most, m", "55",
                also(1, tests_limits.link_length, 50), status=ARITHMETIC)  # fmt: skip
    # the specification allows too much only; that a tester reads as much too little is a habit, no rule
    yield Check("link-length", "the same 10 % the other way", "50 m, least, m", "45",
                also(0, tests_limits.link_length, 50), status=PRACTICE)  # fmt: skip
    yield Check("data-loop", "tester training page", "permanent link, ohm", "21", limit(data.data_loop, 90, 0.1))
    yield Check("data-loop", "ANSI/TIA-568.2-D", "channel, ohm", "25", limit(data.data_loop, 90, 0.1, "channel"),
                status=MEMORY)  # fmt: skip
    # the forum prints the formula alone; its values at two currents are worked on a calculator
    formula = "UL 943 formula (20/I)^1.43 as a code forum cites it, by hand"
    for milliamperes, seconds in ((20, "1.0"), (200, "0.037")):
        yield Check("gfci-trip-time", formula, f"{milliamperes} mA, s", seconds,
                    result(tests_limits.gfci_trip_time, milliamperes / 1000), status=ARITHMETIC)  # fmt: skip
    short = "question-and-answer page citing IEC 61938: 48 V, 4 V either way"
    for volts, away in ((44, "4"), (52, "4"), (48, "0")):
        yield Check("phantom-range", short, f"{volts} V on both legs, from nominal", away,
                    result(tests_limits.phantom_range, volts, volts))  # fmt: skip
    yield Check("loop-resistance", "circuit theory and a wire table: 1 km of 22 AWG pair", "loop, ohm", "106",
                lambda: copper.loop_resistance(1000, copper.gauge_ohm_per_m("22")).result.amount, 0.5,
                "printed to a whole ohm", status=ARITHMETIC)  # fmt: skip
    yield Check("table-row", "encyclopedia mirror: RS-485 is ended with 120 ohm", "terminator, ohm", "120",
                cell("control", "termination", "value"))  # fmt: skip


def _loops() -> Iterator[Check]:
    """What a line should read, by length and gauge, against two amplifier manuals and a university's wire table."""
    for r in rows("loudspeaker_tables"):
        if "loop ohm" not in r["quantity"]:
            continue
        metres, gauge, printed = float(r["length_m"]), r["awg"], float(r["printed"])
        half = 0.5 * 10.0 ** -len(r["printed"].partition(".")[2])
        yield Check(
            "expected-loop", r["source"], f"{r['length_m']} m, {gauge} AWG, expected, ohm", r["printed"],
            lambda m=metres, g=gauge: tests_limits.expected_loop(m, copper.gauge_ohm_per_m(g), "loudspeaker").result.amount,
            SHARE * printed + half, "stranded cable and makers' rounding differ by up to 2 % from solid copper",
        )  # fmt: skip
    for r in rows("awg_physics_table"):
        # 500 ft out and 500 ft back: 1,000 ft, so the figure per 1,000 ft is the loop
        yield Check(
            "expected-loop", r["source"], f"{r['awg']} AWG, 500 ft, expected, ohm", r["ohm_per_kft_20C"],
            lambda g=r["awg"]: tests_limits.expected_loop(152.4, copper.gauge_ohm_per_m(g)).result.amount,
        )  # fmt: skip
