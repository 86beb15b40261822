"""Mains: voltage drop, loads, outlet boxes, separation."""

from collections.abc import Iterator
from functools import partial

from published.check import Check, also, cell, limit, result, rows, si

from stagefloor.calculations import mains, outlet_boxes, separation
from stagefloor.core.workings import ARITHMETIC


def mains_checks() -> Iterator[Check]:
    """Voltage drop by rival methods, loads, boxes, separation."""
    lesson = "licence-exam lesson: voltage drop worked example"
    for mils, volts, share in (("6530 cmil", "7.9", "6.6"), ("16510 cmil", "3.1", "2.6")):
        given = (si("100 ft", "length"), 20.0, si(mils, "area"))
        yield Check("voltage-drop-k", lesson, f"{mils}, V", volts, result(mains.voltage_drop_k, *given))
        yield Check("voltage-drop-k", lesson, f"{mils}, %", share, also(0, mains.voltage_drop_k, *given))
    yield Check(
        "voltage-drop-dc",
        "two temperatures of one circuit: 12 AWG solid, 20 A, 100 ft at 20 C",
        "V",
        "6.4",
        result(mains.voltage_drop_dc, 30.48, 20, "12", "solid", 20.0),
        0.06,
        "6.35 V by one table, 6.349 V by the other",
        ARITHMETIC,
    )
    yield Check(
        "effective-impedance",
        "Table 9 effective impedance worked value",
        "250 kcmil in steel, ohm/kft",
        "0.073",
        result(mains.effective_impedance, 0.054, 0.052),
    )
    for r in rows("table_9_effective_impedance"):
        yield Check(
            "voltage-drop-impedance",
            r["source"],
            f"{r['awg']} AWG in {r['material']}, ohm/kft",
            r["printed"],
            lambda g=r["awg"], m=r["material"]: mains.voltage_drop_impedance(152.4, 1.0, g, m).result.amount,
            0.062 if float(r["printed"]) > 1 else 0.011,
            "resistance is printed to two digits: one unit of the last",
        )
    for r in rows("table_9_metric_columns"):
        for column in ("resistance", "reactance"):
            printed = r[f"{column}_ohm_km"]
            yield Check(
                "table-row",
                r["source"],
                f"{r['awg']} AWG in {r['material']}, {column}, ohm/km",
                printed,
                cell("nec_ch9_table9_ac_75C", f"{r['awg']}|{r['material']}", column, 1 / 0.3048),
                0.012 * float(printed),
                "both columns are rounded, the metric one to two or three digits",
            )
    uk = "UK 3 % and 5 % and formula, worked example"
    yield Check(
        "voltage-drop-uk", uk, "2.5 mm2, 16 A, 18 m, V", "5.18", result(mains.voltage_drop_uk, 18, 16, "2.5")
    )
    yield Check("voltage-drop-uk", uk, "5 % of 230 V", "11.5", limit(mains.voltage_drop_uk, 18, 16, "2.5"))
    ratios = {"thermoplastic 70 C": 50, "thermosetting 90 C": 70}
    resistance = {"1": 18.1, "1.5": 12.1, "2.5": 7.41, "4": 4.61, "6": 3.08, "10": 1.83, "16": 1.15}
    for mm2, ohm_km in resistance.items():
        for insulation, warmer in ratios.items():
            each = ohm_km * (1 + 0.00393 * warmer)
            for phases, factor in (("single", 2.0), ("three", 3**0.5)):
                yield Check(
                    "voltage-drop-uk",
                    "BS 7671 appendix 4 against IEC 60228 resistances at working temperature",
                    f"{mm2} mm2, {insulation}, {phases} phase, mV/A/m",
                    f"{factor * each:.3f}",
                    lambda a=mm2, i=insulation, p=phases: (
                        1000 * mains.voltage_drop_uk(1, 1, a, i, phases=p).result.amount
                    ),
                    (0.51 if factor * each >= 10 else 0.076) * (1.5 if mm2 == "1" else 1),
                    "printed to two digits; the smallest sizes are rounded up",
                )
    # the table prints 3 and 5 %, 0.005 % a metre beyond 100 m and at most 0.5 %; of 230 V that is, by hand
    rule = "IEC 60364-5-52:2009 Table G.52.1, of 230 V by hand"
    for use, metres, printed in (
        ("lighting", 50, "6.9"),
        ("other", 50, "11.5"),
        ("other", 150, "12.075"),
        ("other", 200, "12.65"),
        ("other", 500, "12.65"),
    ):
        yield Check(
            "voltage-drop-uk",
            rule,
            f"{use}, {metres} m, limit of 230 V, V",
            printed,
            limit(mains.voltage_drop_uk, metres, 1, "2.5", use=use),
            status=ARITHMETIC,
        )
    yield Check(
        "voltage-drop-iec",
        "IEC 60364-5-52:2009, formula and 0.0225 ohm mm2/m, by hand",
        "2.5 mm2, unity power factor, 30 m, 16 A, V",
        "8.64",
        result(mains.voltage_drop_iec, 30, 16, 2.5e-6, 1.0),
        status=ARITHMETIC,
    )
    yield Check(
        "voltage-drop-iec",
        "IEC 60364-5-52:2009, formula and 0.0225 ohm mm2/m, by hand",
        "the same, three phase to neutral, V",
        "4.32",
        result(mains.voltage_drop_iec, 30, 16, 2.5e-6, 1.0, phases="three"),
        status=ARITHMETIC,
    )
    book = "electrical textbook problem on receptacle count"
    yield Check(
        "receptacles-on-circuit", book, "20 A", "13", result(mains.receptacles_on_circuit, 20), 0.0, "a count"
    )
    yield Check(
        "receptacles-on-circuit", book, "15 A", "10", result(mains.receptacles_on_circuit, 15), 0.0, "a count"
    )
    page = "receptacle outlet examples, 220.14(I)"
    yield Check("receptacle-load", page, "8 outlets, VA", "1440", result(mains.receptacle_load, 8))
    yield Check(
        "receptacles-on-circuit",
        page,
        "continuous, 20 A",
        "10",
        result(mains.receptacles_on_circuit, 20, continuous=True),
        0.0,
        "a count",
    )
    code = "NFPA 70 articles 210, 220 and 215 notes"
    yield Check("receptacle-load", code, "one device of four, VA", "360", result(mains.receptacle_load, 0, 4))
    yield Check(
        "multioutlet-load", code, "5 ft, not simultaneous, VA", "180", result(mains.multioutlet_load, 1.524)
    )
    yield Check(
        "multioutlet-load", code, "5 ft, simultaneous, VA", "900", result(mains.multioutlet_load, 1.524, True)
    )
    for feet, together, load_va in (
        (5.05, False, "360"),
        (4.95, False, "180"),
        (2.01, True, "540"),
        (1.99, True, "360"),
    ):
        value = result(mains.multioutlet_load, feet * 0.3048, together)
        yield Check(
            "multioutlet-load",
            "NFPA 70 220.14(H), a part of a step counts whole",
            f"{feet} ft, VA",
            load_va,
            value,
        )
    yield Check("circuit-load", code, "16 A continuous needs, A", "20", result(mains.circuit_load, 16, 0, 20))
    yield Check(
        "circuit-load",
        code,
        "the same, listed for 100 %, A",
        "16",
        result(mains.circuit_load, 16, 0, 20, True),
    )
    yield Check("plugged-load", code, "one load on 20 A, A", "16", limit(mains.plugged_load, 1, 20))
    yield Check(
        "plugged-load",
        code,
        "fixed beside others on 20 A, A",
        "10",
        limit(mains.plugged_load, 1, 20, "fixed equipment beside others"),
    )
    yield Check("plugged-load", code, "one load on 30 A, A", "24", limit(mains.plugged_load, 1, 30))
    yield Check("voltage-drop-k", code, "3 % of 120 V", "3.6", limit(mains.voltage_drop_k, 1, 1, 1e-6))
    fill = outlet_boxes.box_fill
    yield Check(
        "box-fill",
        "box fill exam-prep worked example",
        "two 14/2 and one 12/2, clamps, duplex, in3",
        "21.5",
        result(fill, {"14": 4, "12": 2}, yokes=["12"], clamps=True, grounds=3, largest_ground="12"),
    )
    yield Check(
        "box-fill",
        "box fill worked example",
        "four 14 AWG, device, grounds, in3",
        "14",
        result(fill, {"14": 4}, yokes=["14"], grounds=2, largest_ground="14"),
    )
    yield Check(
        "box-fill",
        "box fill count in a forum post",
        "two 12/2, duplex, grounds, clamps, in3",
        "18.0",
        result(fill, {"12": 4}, yokes=["12"], clamps=True, grounds=2, largest_ground="12"),
    )
    yield Check(
        "box-fill",
        "NFPA 70 314.16(B)(5), since 2020",
        "six grounds of 12 AWG alone, in3",
        "3.375",
        result(fill, {}, grounds=6, largest_ground="12"),
        None,
        "",
        ARITHMETIC,
    )
    for r in rows("box_volumes_metric"):
        if r["kind"] == "allowance":
            yield Check(
                "box-fill",
                r["source"],
                f"{r['key']} AWG, cm3",
                r["cm3"],
                lambda g=r["key"]: fill({g: 1}).result.amount * 16.387064,
            )
            continue
        size, shape = r["key"].split("|")
        yield Check(
            "outlet-box",
            r["source"],
            r["key"],
            r["cm3"],
            lambda a=size, b=shape: outlet_boxes.outlet_box(a, b).result.amount * 16.387064,
            2.5,
            "cubic inches are printed to 0.1 or 0.5",
        )
        for gauge in ("14", "12", "10"):
            yield Check(
                "box-fill",
                r["source"],
                f"{r['key']}: most {gauge} AWG",
                r[f"max_{gauge}"],
                partial(_most, size, shape, gauge),
                0.0,
                "a count",
            )
    table = "EN 50174-2 separation tables (electricians' pocket book)"
    yield Check(
        "separation-iec",
        table,
        "class b, no barrier, 10 to 12 circuits, mm",
        "80",
        limit(separation.separation_iec, 1, "b", 11),
    )
    yield Check(
        "separation-iec",
        table,
        "class c, open metal, 31 to 45 circuits, mm",
        "114",
        limit(separation.separation_iec, 1, "c", 40, "open_metal"),
    )
    for rule, inches, source in (
        ("one foot", 12.0, "military telecom handbook quoting EIA/TIA-569"),
        ("five inches", 5.0, "trade letter quoting TIA-569 10.4-1"),
        ("two and a half inches", 2.5, "trade letter quoting TIA-569 10.4-1"),
    ):
        yield Check(
            "separation",
            source,
            f"{rule}, in",
            f"{inches:g}",
            lambda r=rule: separation.separation(1, r).limit.amount / 25.4,
            1e-9,
            "exact",
        )  # type: ignore[union-attr]
    yield Check(
        "separation",
        "NFPA 70 725.136(I)",
        "open conductors, mm",
        "50",
        limit(separation.separation, 1, "class 2/3, open conductors"),
    )
    yield Check(
        "separation",
        "NFPA 70 800.133",
        "open conductors, mm",
        "50",
        limit(separation.separation, 1, "communications, open conductors"),
    )
    yield Check(
        "separation",
        "NFPA 70 725.136(D)(1)",
        "same equipment, mm",
        "6",
        limit(separation.separation, 1, "same equipment"),
    )


def _most(size: str, shape: str, gauge: str) -> float:
    volume = outlet_boxes.outlet_box(size, shape).result.amount
    count = 0
    while outlet_boxes.box_fill({gauge: count + 1}).result.amount <= volume:
        count += 1
    return count
