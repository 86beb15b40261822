"""Data, video, control and fibre."""

from collections.abc import Iterator
from functools import partial

from published.check import Check, also, limit, remarks, result, rows

from stagefloor.calculations import control, copper, data, fibre, video
from stagefloor.core.workings import ARITHMETIC, MEMORY


def data_checks() -> Iterator[Check]:
    """Cord tables, power classes, insertion loss, temperature."""
    for r in rows("cord_lengths"):
        other, older = float(r["other_cords_m"]), r["table"] == "TSB-75"

        def cord(r: dict[str, str] = r, other: float = other) -> float:
            return data.cords_allowed(float(r["fixed_m"]), r["cord_awg"]).result.amount - other

        reason = (
            "the table gives whole metres, rounded down or to nearest"
            if float(r["fixed_m"]) < 90
            else "exact in the table"
        )
        yield Check(
            "cords-allowed",
            r["source"],
            f"{r['fixed_m']} m fixed, {r['cord_awg']} AWG, cord at the outlet, m",
            r["work_cord_m"],
            cord,
            0.7 if float(r["fixed_m"]) < 90 else 0.01,
            reason,
            r["status"],
        )
        if not older:
            yield Check(
                "fixed-for-long-cord",
                r["source"],
                f"{r['work_cord_m']} m cord, {r['cord_awg']} AWG, fixed cable, m",
                r["fixed_m"],
                result(data.fixed_for_long_cord, float(r["work_cord_m"]), r["cord_awg"]),
                1.0,
                "cords in the table are whole metres: up to 1 m of fixed cable",
                r["status"],
            )
        yield Check(
            "channel-length",
            r["source"],
            f"{r['fixed_m']} m fixed and its cords, m",
            r["channel_m"],
            result(data.channel_length, float(r["fixed_m"]), other + float(r["work_cord_m"])),
            0.01,
            "a sum of printed figures",
            r["status"],
        )
    yield Check(
        "cords-allowed",
        "TSB-75 summary: (93.6 - B)/1.2",
        "90 m fixed, work-area cord, m",
        "3.0",
        lambda: data.cords_allowed(90.0).result.amount - 7,
    )
    yield Check(
        "cords-allowed",
        "cabling standards page",
        "longest cord at an outlet, 24 AWG, m",
        "22",
        also(0, data.cords_allowed, 60.0),
    )
    for r in rows("power_classes"):
        given = (float(r["device_W"]), float(r["source_V"]), float(r["loop_ohm"]))
        yield Check(
            "power-over-data",
            r["source"],
            f"class {r['class']}: power of the source, W",
            r["source_W"],
            also(1, data.power_over_data, *given),
        )
        yield Check(
            "power-class",
            r["source"],
            f"class {r['class']}: power of the source, W",
            r["source_W"],
            also(0, data.power_class, r["class"]),
        )
    loss = "power-over-data loss note"
    for what, printed, function in (
        ("type 1, mA", "350", lambda: data.power_over_data(12.95, 44, 20).result.amount * 1000),
        ("type 1, V at the device", "37", also(0, data.power_over_data, 12.95, 44, 20)),
        ("type 2, mA", "600", lambda: data.power_over_data(25.5, 50, 12.5).result.amount * 1000),
        ("type 2, V at the device", "42.5", also(0, data.power_over_data, 25.5, 50, 12.5)),
        ("class 3, V at the device", "37", result(data.power_class, "3")),
        ("class 4, V at the device", "42.5", result(data.power_class, "4")),
    ):
        yield Check("power-class" if "class" in what else "power-over-data", loss, what, printed, function)
    article = "power-over-data article"
    yield Check(
        "power-over-data",
        article,
        "52 V, 71.3 W, 6.25 ohm: V at the device",
        "41.1",
        also(0, data.power_over_data, 71.3, 52, 6.25),
        0.1,
        "the article rounds 41.18 down",
    )
    yield Check(
        "power-class",
        article,
        "class 8, V at the device",
        "41.1",
        result(data.power_class, "8"),
        0.1,
        "the article rounds 41.18 down",
    )
    for number, volts in (
        ("0", "44"),
        ("1", "44"),
        ("2", "44"),
        ("3", "44"),
        ("4", "50"),
        ("5", "50"),
        ("6", "50"),
        ("7", "52"),
        ("8", "52"),
    ):
        yield Check(
            "power-class",
            "injector manual and loss note: least source voltage by type",
            f"class {number}, V",
            volts,
            lambda n=number: data.power_class(n).inputs[0].amount,
        )
    for number, volts in (("0", "37"), ("3", "37"), ("4", "42.5"), ("6", "42.5"), ("8", "41.1")):
        yield Check(
            "power-class",
            "injector manual and loss note: least device voltage by type",
            f"class {number}, V",
            volts,
            limit(data.power_class, number),
        )
    yield Check("power-loop", loss, "two pairs, limit, ohm", "12.5", limit(data.power_loop, 1, 0.1))
    yield Check(
        "power-loop",
        "tester training page: 25 ohm pair loop is 12.5 ohm for two pairs",
        "ohm",
        "12.5",
        result(data.power_loop, 100, 0.125),
        None,
    )
    yield Check(
        "data-loop",
        "tester training page: 25 ohm pair loop is 12.5 ohm for two pairs",
        "pair loop, ohm",
        "25",
        result(data.data_loop, 100, 0.125, "channel"),
    )
    yield Check(
        "data-loop",
        "tester training page: loop of a permanent link",
        "limit, ohm",
        "21",
        limit(data.data_loop, 90, 0.09),
    )
    for category, printed in (("5e", "24.0"), ("6", "21.3")):
        table = "comparison table of TIA-568-B.2 categories"
        yield Check(
            "insertion-loss",
            table,
            f"category {category} channel limit, dB",
            printed,
            limit(data.insertion_loss, category),
        )
        given_loss = Check(
            "insertion-loss",
            table,
            f"category {category}, cable and four connectors, dB",
            printed,
            result(data.insertion_loss, category),
            0.05 if category == "5e" else 0.3,
            "half of the last digit" if category == "5e" else "the standard adds a deviation of 0.3 dB",
        )
        yield given_loss
    yield Check(
        "insertion-loss",
        "comparison table of TIA-568-B.2 categories",
        "100 m of category 5e cable alone, dB",
        "22.0",
        result(data.insertion_loss, "5e", 100, 0, 0),
    )
    yield Check(
        "insertion-loss",
        "comparison table of TIA-568-B.2-1, category 6 cable alone",
        "dB",
        "19.8",
        result(data.insertion_loss, "6", 100, 0, 0),
    )
    yield Check(
        "insertion-loss",
        "comparison table of TIA-568-B.2-1, four category 6 connectors",
        "dB",
        "0.8",
        result(data.insertion_loss, "6", 0, 4, 0),
    )
    yield Check(
        "insertion-loss",
        "comparison table of TIA-568-B.2, four category 5e connectors",
        "dB",
        "1.6",
        result(data.insertion_loss, "5e", 0, 4, 0),
    )
    yield Check(
        "length-when-warm",
        "tester knowledge base: unscreened cable at 40 C",
        "m",
        "84",
        result(data.length_when_warm, 40.0),
    )
    yield Check(
        "length-when-warm",
        "ANSI/TIA-568.2-D annex",
        "60 C, m",
        "75",
        result(data.length_when_warm, 60.0),
        None,
        "",
        MEMORY,
    )
    yield Check(
        "channel-length",
        "tester glossary: ANSI/TIA-568, ISO/IEC 11801",
        "channel, m",
        "100",
        limit(data.channel_length, 90, 10),
    )
    yield Check(
        "permanent-link-length",
        "tester glossary: ANSI/TIA-568, ISO/IEC 11801",
        "fixed cable, m",
        "90",
        limit(data.permanent_link_length, 90),
    )


def video_control_fibre() -> Iterator[Check]:
    """Coax points and distances, control lines, fibre budgets."""
    for r in rows("series_6_attenuation"):
        printed = float(r["db_per_100ft"])
        yield Check(
            "coax-attenuation",
            r["source"],
            f"{r['mhz']} MHz, dB/100 ft",
            r["db_per_100ft"],
            result(video.coax_attenuation, float(r["mhz"]) * 1e6),
            0.15 if printed < 6 else 0.05,
            "two coefficients fit six points within 0.15 dB" if printed < 6 else "half of the last digit",
        )
    yield Check(
        "coax-length",
        "glossary: HD on standard series 6",
        "m",
        "100",
        result(video.coax_length, "HD"),
        13.0,
        "two sources: 100 and 113 m",
    )
    yield Check(
        "coax-length",
        "trade article on coax distances",
        "HD, m",
        "113",
        result(video.coax_length, "HD"),
        6.0,
        "the article is for a precision coax, ours for a drop cable: 5 % less",
    )
    yield Check(
        "coax-length",
        "trade article on coax distances",
        "3G, m",
        "78",
        result(video.coax_length, "3G"),
        2.5,
        "the article is for a precision coax, ours for a drop cable: 3 % less",
    )
    for name, decibels, source in (
        ("HD", "20", "SMPTE 292M-1996 scope"),
        ("6G", "40", "distance-chart note citing ST 2081-1 and ST 2082-1"),
        ("12G", "40", "distance-chart note citing ST 2081-1 and ST 2082-1"),
    ):
        yield Check(
            "coax-loss", source, f"{name}, dB at half clock", decibels, limit(video.coax_loss, 1.0, name)
        )
    for name, megahertz in (
        ("270M", "135"),
        ("HD", "742.5"),
        ("3G", "1485"),
        ("6G", "2970"),
        ("12G", "5940"),
    ):
        yield Check(
            "coax-loss",
            "half of the bit rates in an installer article",
            f"{name}: half of the clock, MHz",
            megahertz,
            partial(_half_clock, name),
            status=ARITHMETIC,
        )
    yield Check(
        "display-cable",
        "cabling guide: passive display cable at 18 Gb/s",
        "m",
        "5",
        limit(video.display_cable, 1.0),
    )
    rs485 = "encyclopedia mirror and router manual: 10^8 bit/s m"
    yield Check("rs485-length", rs485, "250 kb/s, m", "400", result(control.rs485_length, 250e3))
    yield Check("rs485-length", rs485, "100 kb/s, m", "1000", result(control.rs485_length, 100e3))
    yield Check(
        "rs485-length",
        "installation instructions: 4000 ft",
        "slow, m",
        "1200",
        result(control.rs485_length, 9600),
    )
    yield Check(
        "receivers", "tutorial: 32 receivers of 12 kohm", "ohm", "375", also(0, control.receivers, 32)
    )
    yield Check("receivers", "data-radio note", "unit loads", "32", limit(control.receivers, 1))
    yield Check(
        "receiver-voltage",
        "lighting network article",
        "2 V, 120 ohm, 200 ohm a wire: V",
        "0.46",
        result(control.receiver_voltage, 200),
    )
    yield Check(
        "receiver-voltage",
        "lighting network article",
        "threshold, V",
        "0.2",
        limit(control.receiver_voltage, 200),
    )
    yield Check(
        "dmx-length",
        "lighting reference guide: original recommendation",
        "24 AWG, m",
        "300",
        limit(control.dmx_length, 1.0, "24 AWG"),
    )
    yield Check(
        "dmx-length",
        "lighting reference guide: original recommendation",
        "22 AWG, m",
        "500",
        limit(control.dmx_length, 1.0, "22 AWG"),
    )
    yield Check(
        "dmx-length",
        "encyclopedia mirror: DMX512-A",
        "m",
        "400",
        limit(control.dmx_length, 1.0, "encyclopedia"),
    )
    yield Check(
        "contact-loop",
        "university physics table of wire gauges, 20 C",
        "1 km of 22 AWG pair, ohm",
        "106",
        lambda: (
            control.contact_loop(
                copper.loop_resistance(1000, copper.gauge_ohm_per_m("22")).result.amount, 0, 24, 0.01
            ).result.amount
        ),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "power-margin",
        "router manual example",
        "13 dB less 2, 2.5, 1 and 0.5",
        "7",
        result(fibre.power_margin, 13, [2, 2.5, 1, 0.5]),
    )
    yield Check(
        "power-margin",
        "switch manual example",
        "losses of 7.85 dB from 10 dB",
        "2.15",
        result(fibre.power_margin, 10, [1.75, 3, 0.3, 0.6, 2.2]),
    )
    for grade, reach in (("OM3", 300), ("OM4", 400)):
        for metres, notes in ((reach, "0"), (reach + 1, "1")):
            value = remarks(fibre.ten_gigabit, metres, grade)
            source = "industry-alliance article: reach of 10GBASE-SR"
            yield Check("ten-gigabit", source, f"{grade}, {metres} m", notes, value, 0.0, "a note or none")
    for megahertz, notes in ((54.9, "1"), (55, "0"), (2150, "0"), (2151, "1")):
        value = remarks(video.coax_attenuation, megahertz * 1e6)
        source = "antenna note: the points run from 55 to 2150 MHz"
        yield Check("coax-attenuation", source, f"{megahertz} MHz", notes, value, 0.0, "a note or none")
    for cords, notes in ((10, "0"), (10.1, "1")):
        value = remarks(data.channel_length, 80, cords)
        source = "tester glossary: 10 m of cords"
        yield Check("channel-length", source, f"{cords} m of cords", notes, value, 0.0, "a note or none")
    yield Check(
        "ten-gigabit", "loss-budget article", "OM4, 400 m, dB", "2.9", result(fibre.ten_gigabit, 400, "OM4")
    )
    yield Check(
        "ten-gigabit", "loss-budget article", "OM4 limit, dB", "2.9", limit(fibre.ten_gigabit, 400, "OM4")
    )
    yield Check(
        "ten-gigabit",
        "IEEE 802.3 composition: 0.3 km x 3.5 + 1.5",
        "OM3, 300 m, dB",
        "2.55",
        result(fibre.ten_gigabit, 300, "OM3"),
        status=ARITHMETIC,
    )
    yield Check(
        "loss-budget",
        "page quoting TIA-568: connector 0.75 dB",
        "two connectors, dB",
        "1.5",
        result(fibre.loss_budget, 0, "multimode 850 nm"),
    )
    yield Check(
        "loss-budget",
        "ANSI/TIA-568.3-D: 3.0 dB/km, 0.75 and 0.3 dB",
        "1 km, two connectors, one splice, dB",
        "4.8",
        result(fibre.loss_budget, 1000, "multimode 850 nm", 2, 1),
        None,
        "",
        MEMORY,
    )


def _half_clock(name: str) -> float:
    """The frequency, MHz, at which the loss of a line is worked: it stands beside its attenuation."""
    return float(video.coax_loss(1.0, name).inputs[0].name.removeprefix("attenuation at ").removesuffix(" MHz"))
