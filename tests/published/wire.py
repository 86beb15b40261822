"""Wire tables of a university and of two standards."""

from collections.abc import Iterator

from published.check import Check, result, rows, si

from stagefloor.calculations import copper, mains


def copper_checks() -> Iterator[Check]:
    """Wire tables of a university and of two standards."""
    for r in rows("awg_physics_table"):
        yield Check(
            "gauge-resistance",
            r["source"],
            f"{r['awg']} AWG, ohm/kft",
            r["ohm_per_kft_20C"],
            lambda g=r["awg"]: copper.gauge_resistance(g).result.amount * 0.3048,
        )
        yield Check(
            "loop-resistance",
            r["source"],
            f"{r['awg']} AWG, loop of 500 ft, ohm",
            r["ohm_per_kft_20C"],
            lambda g=r["awg"]: copper.loop_resistance(152.4, copper.gauge_ohm_per_m(g)).result.amount,
        )
    for r in rows("table_8_metric_column"):

        def printed(g: str = r["awg"], s: str = r["stranding"]) -> float:
            return mains.voltage_drop_dc(500.0, 1.0, g, s).result.amount

        allowed = {"6.34": 0.011, "3.984": 0.016, "0.634": 0.003}.get(r["ohm_per_km"])
        yield Check(
            "voltage-drop-dc",
            r["source"],
            f"{r['awg']} AWG {r['stranding']}, 1 A over 1 km of wire",
            r["ohm_per_km"],
            printed,
            allowed if allowed else 0.0035 * float(r["ohm_per_km"]),
            "both columns are rounded to three or four digits, the metric one from another value",
        )
        if r["strands"] == "1":
            yield Check(
                "resistance-at-temperature",
                "NFPA 70 chapter 9 Table 8, 75 C, from the university table at 20 C",
                f"{r['awg']} AWG, ohm/km",
                r["ohm_per_km"],
                lambda g=r["awg"]: (
                    copper.resistance_at_temperature(copper.gauge_ohm_per_m(g) * 1000, 75.0).result.amount
                ),
                0.006 * float(r["ohm_per_km"]),
                "the two sources differ by up to 0.6 % (coefficient, conductivity, rounding)",
            )
        yield Check(
            "gauge-diameter",
            "NFPA 70 chapter 9 Table 8, circular mils",
            f"{r['awg']} AWG, cmil",
            str(_cmil(r["awg"])),
            lambda g=r["awg"]: (copper.gauge_diameter(g).result.amount / 0.0254) ** 2,
            0.003 * _cmil(r["awg"]),
            "the table rounds circular mils to three or four digits and diameters before",
        )
    for mm2, conductor, figure in (
        ("1.5", "class1 2 plain", "12.1"),
        ("2.5", "class5 plain", "7.98"),
        ("4", "class1 2 tinned", "4.70"),
    ):
        yield Check(
            "metric-resistance",
            "IEC 60228 Tables 1 to 3",
            f"{mm2} mm2 {conductor}, ohm/km",
            figure,
            result(copper.metric_resistance, mm2, conductor),
        )
    yield Check(
        "gauge-for-resistance",
        "university physics table of wire gauges, 20 C",
        "thinnest gauge below 6.4 ohm/kft",
        "18",
        result(copper.gauge_for_resistance, si("6.4 ohm/kft", "resistance_per_length")),
        0.0,
        "a gauge",
    )


# Circular mils as printed in chapter 9 Table 8.
CIRCULAR_MILS = {
    "18": 1620,
    "16": 2580,
    "14": 4110,
    "12": 6530,
    "10": 10380,
    "8": 16510,
    "6": 26240,
    "4": 41740,
    "3": 52620,
    "2": 66360,
}


def _cmil(awg: str) -> int:
    return CIRCULAR_MILS[awg]
