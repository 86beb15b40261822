"""Levels, microphone lines, phantom power and loudspeaker lines."""

from collections.abc import Iterator

from published.check import Check, accepts, also, limit, result, rows, si

from stagefloor.calculations import analogue, copper, loudspeaker, tests_limits
from stagefloor.core.workings import ARITHMETIC


def audio_checks() -> Iterator[Check]:
    """Levels, microphone lines, phantom power and loudspeaker lines."""
    trade = "trade definition of audio levels (audio glossary)"
    yield Check("voltage-of-level", trade, "+4 dBu, V", "1.228", result(analogue.voltage_of_level, 4))
    yield Check(
        "voltage-of-level", trade, "-10 dBV, V", "0.316", result(analogue.voltage_of_level, -10, "dBV")
    )
    yield Check(
        "level",
        trade,
        "-10 dBV in dBu",
        "-7.78",
        result(analogue.level, 10**-0.5),
        0.006,
        "0.316 V is printed to three digits",
    )
    yield Check(
        "level",
        trade,
        "1 mW in 600 ohm, dBu",
        "0",
        result(analogue.level, 0.6**0.5),
        0.001,
        "0.7746 V is the root of 0.6 to four digits",
    )
    yield Check(
        "level-gap",
        "glossary: gap of +4 dBu and -10 dBV",
        "dB",
        "11.79",
        result(analogue.level_gap, 1.228, 0.316),
        0.02,
        "with 0.7746 V the arithmetic is 11.78",
    )
    mic = "audio handbook page: microphone sensitivity"
    yield Check(
        "voltage-of-level",
        mic,
        "-60 dBu, mV",
        "0.77",
        lambda: analogue.voltage_of_level(-60).result.amount * 1000,
    )
    yield Check(
        "voltage-of-level",
        mic,
        "-22 dBu, mV",
        "61.5",
        lambda: analogue.voltage_of_level(-22).result.amount * 1000,
    )
    yield Check(
        "level-gap",
        "definition of the decibel: 15 mV below 1.5 V",
        "dB",
        "40",
        result(analogue.level_gap, 1.5, 0.015),
        1e-9,
        "exact",
        ARITHMETIC,
    )
    yield Check(
        "microphone-below-cell",
        "definition of the decibel: 15 mV below 1.5 V",
        "dB",
        "40",
        result(analogue.microphone_below_cell),
        1e-9,
        "exact",
        ARITHMETIC,
    )
    yield Check(
        "corner-frequency",
        "handbook author's worked example",
        "100 ohm, 500 ft, 32 pF/ft, kHz",
        "100",
        result(analogue.corner_frequency, 100, 152.4, si("32 pF/ft", "capacitance_per_length")),
        1.0,
        "the example rounds 99.5 kHz",
    )
    yield Check(
        "differential-capacitance",
        "microphone technical page: 100 pF/m and 200 pF/m",
        "pF/m",
        "200",
        result(analogue.differential_capacitance, 100e-12, 200e-12),
        None,
        "",
        ARITHMETIC,
    )
    noise = "preamp test note"
    yield Check(
        "thermal-noise", noise, "150 ohm, 20 kHz, 300 K, dBu", "-130.82", result(analogue.thermal_noise, 150)
    )
    yield Check(
        "thermal-noise",
        "converter designer, mailing list",
        "150 ohm, 20 kHz, dBu",
        "-130.9",
        result(analogue.thermal_noise, 150, 20e3, 295),
        0.1,
        "temperature not stated; 290 to 300 K",
    )
    yield Check(
        "thermal-noise",
        "converter designer, mailing list",
        "150 ohm, nV in 1 Hz",
        "1.568",
        also(0, analogue.thermal_noise, 150, 1.0, 297),
        0.02,
        "temperature not stated; 290 to 300 K",
    )
    yield Check(
        "roll-off",
        "circuit theory: 20 kHz with a corner of 40 kHz",
        "dB",
        "0.97",
        result(analogue.roll_off, 20e3, 40e3),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "roll-off",
        "first-order low pass at its corner",
        "dB",
        "3.01",
        result(analogue.roll_off, 1e3, 1e3),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "bridging-loss",
        "common practice: a load of ten times the source",
        "dB",
        "0.83",
        result(analogue.bridging_loss, 150, 1500),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "bridging-loss",
        "contact note: 10 ohm in series with 150 ohm into 1.5 kohm",
        "dB",
        "0.05",
        lambda: (
            analogue.bridging_loss(160, 1500).result.amount - analogue.bridging_loss(150, 1500).result.amount
        ),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "phantom-short",
        "question-and-answer page citing IEC 61938",
        "mA",
        "14",
        result(analogue.phantom_short),
        None,
    )
    yield Check(
        "phantom-voltage",
        "IEC 61938: 48 V less 10 mA through 3405 ohm",
        "V",
        "13.95",
        result(analogue.phantom_voltage, 0.01),
        0.0051,
        "half of the last digit, met on its edge",
        ARITHMETIC,
    )
    for milliamperes, taken in ((10, "1"), (10.1, "0")):
        value = accepts(analogue.phantom_voltage, milliamperes / 1000)
        source = "question-and-answer page citing IEC 61938: at most 10 mA"
        yield Check("phantom-voltage", source, f"{milliamperes} mA", taken, value, 0.0, "taken or refused")
    yield Check(
        "balance-lost",
        "circuit theory: 10 kohm and 10 ohm",
        "dB",
        "60",
        result(analogue.balance_lost, 10e3, 10),
        1e-9,
        "exact",
        ARITHMETIC,
    )
    yield Check(
        "balance-lost",
        "circuit theory: 10 kohm and 1 ohm",
        "dB",
        "80",
        result(analogue.balance_lost, 10e3, 1),
        1e-9,
        "exact",
        ARITHMETIC,
    )
    for cable, metres, source in (
        ("110 ohm pair", "100", "cinema-processor manual"),
        ("75 ohm coax", "1000", "cinema-processor manual"),
        ("ordinary microphone pair", "15", "broadcast engineering article"),
    ):
        yield Check(
            "digital-audio-length",
            source,
            f"{cable}, m",
            metres,
            limit(analogue.digital_audio_length, 1.0, cable),
        )


def loudspeaker_checks() -> Iterator[Check]:
    """Published loss tables and worked examples of loudspeaker lines."""
    for r in rows("loudspeaker_tables"):
        length, gauge, printed = float(r["length_m"]), r["awg"], float(r["printed"])
        half = 0.5 * 10.0 ** -len(r["printed"].partition(".")[2])
        if r["quantity"] == "loss dB":
            yield Check(
                "loudspeaker-loss",
                r["source"],
                f"{r['length_m']} m, {gauge} AWG, {r['load_ohm']} ohm, dB",
                r["printed"],
                result(loudspeaker.loudspeaker_loss, length, gauge, float(r["load_ohm"])),
                0.04 * printed + half,
                "the table has about 4 % more resistance: stranded and warm",
            )
        else:
            yield Check(
                "loop-resistance",
                r["source"],
                f"{r['length_m']} m, {gauge} AWG, loop, ohm",
                r["printed"],
                lambda m=length, g=gauge: copper.loop_resistance(m, copper.gauge_ohm_per_m(g)).result.amount,
                0.02 * printed + half,
                "stranded cable and makers' rounding differ by up to 2 % from solid copper",
            )
    manual = "amplifier manual example"
    drive = (24.5, 8.0, 160 * 0.00204)
    for index, watts in ((0, "72"), (1, "69")):
        yield Check(
            "power-in-cable",
            manual,
            "160 ft of 10 AWG, 8 ohm, 24.5 V, W",
            watts,
            also(index, loudspeaker.power_in_cable, *drive),
        )
    yield Check("power-in-cable", manual, "in the cable, W", "3", result(loudspeaker.power_in_cable, *drive))
    loop16 = copper.loop_resistance(12 * 0.3048, copper.gauge_ohm_per_m("16")).result.amount
    yield Check(
        "system-damping",
        "reference page with worked example",
        "4 ohm, 500, 12 ft of 16 AWG",
        "38",
        result(loudspeaker.system_damping, 4, 500, loop16),
    )
    article = "installation article on damping"
    yield Check(
        "loop-for-damping",
        article,
        "8 ohm, 400, wanted 25, ohm",
        "0.30",
        result(loudspeaker.loop_for_damping, 8, 400, 25),
    )
    yield Check(
        "loudspeaker-loss",
        article,
        "the same in dB",
        "0.3",
        lambda: _loss_of(loudspeaker.loop_for_damping(8, 400, 25).result.amount, 8),
    )
    yield Check(
        "system-damping",
        article,
        "least damping factor",
        "25",
        limit(loudspeaker.system_damping, 8, 400, 0.1),
    )
    yield Check(
        "longest-for-loss",
        "common practice: 0.5 dB is 0.0593 of the load",
        "line over load",
        "0.0593",
        lambda: (
            2 * copper.gauge_ohm_per_m("12") * loudspeaker.longest_for_loss(0.5, "12", 8).result.amount / 8
        ),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "loudspeaker-loss",
        "common practice: 0.5 dB is 10.9 % less power at the load",
        "%",
        "10.9",
        lambda: (
            loudspeaker.loudspeaker_loss(loudspeaker.longest_for_loss(0.5, "12", 8).result.amount, "12", 8)
            .also[0]
            .amount
        ),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "loudspeaker-loss",
        "note on line loss: 10 % of the amplifier's power is 0.92 dB",
        "dB",
        "0.92",
        lambda: _loss_of(8 / 9, 8),
        None,
        "",
        ARITHMETIC,
    )
    note = "note on line loss"
    yield Check(
        "line-conductor",
        note,
        "300 m, 100 W, 100 V, 10 %, mm2",
        "0.945",
        result(loudspeaker.line_conductor, 300, 100, "100 V", 10),
    )
    yield Check(
        "line-impedance",
        "line-impedance note",
        "100 V, 100 W, ohm",
        "100",
        result(loudspeaker.line_impedance, 100, "100 V"),
    )
    yield Check(
        "line-impedance",
        note,
        "70.7 V, 100 W, ohm",
        "49.98",
        result(loudspeaker.line_impedance, 100, "70 V"),
    )
    yield Check(
        "line-power-band",
        "line-impedance note",
        "100 V over 100 ohm, W",
        "100",
        result(tests_limits.line_power_band, 100, 100, 100),
    )
    dictionary = "loudspeaker dictionary: lowest impedance 80 % of nominal"
    yield Check(
        "parallel-load", dictionary, "8 ohm, lowest", "6.4", also(0, loudspeaker.parallel_load, [8.0])
    )
    yield Check(
        "parallel-load", dictionary, "4 ohm, lowest", "3.2", also(0, loudspeaker.parallel_load, [8.0, 8.0])
    )


def _loss_of(line_ohm: float, load_ohm: float) -> float:
    """The loss calculation on a line of a given loop resistance: 12 AWG of the length that has it."""
    length = line_ohm / (2 * copper.gauge_ohm_per_m("12"))
    return loudspeaker.loudspeaker_loss(length, "12", load_ohm).result.amount
