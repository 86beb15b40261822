"""How full raceways get: counts, limit columns, UK factors."""

from collections.abc import Iterator
from functools import partial

from published.check import Check, also, cell, limit, result, rows, si

from stagefloor.calculations import raceways
from stagefloor.core.workings import ARITHMETIC


def _annex_c(row: dict[str, str]) -> float:
    area = raceways.conductor_area(row["type"], row["awg"]).si("area")
    return raceways.conductor_count(row["raceway"], row["trade_size"], area).result.amount


def raceway_tables() -> Iterator[Check]:
    """Annex C counts; every printed limit column of chapter 9 Table 4 from the 100 % column and Table 1."""
    for r in rows("annex_c_emt_thhn"):
        yield Check(
            "conductor-count",
            "NFPA 70 Annex C Table C.1",
            f"{r['awg']} AWG in EMT {r['trade_size']}",
            r["count"],
            partial(_annex_c, r),
            0.0,
            "a count",
        )
    one = 0.2 * 0.0254  # a cable small enough never to matter; only the limit is read
    for r in rows("table_4_limit_columns"):
        size = (r["raceway"], r["trade_size"])
        for column, cables, nipple in (
            ("in2_53", 1, False),
            ("in2_31", 2, False),
            ("in2_40", 3, False),
            ("in2_60", 3, True),
        ):

            def area(size: tuple[str, str] = size, cables: int = cables, nipple: bool = nipple) -> float:
                working = raceways.raceway_fill([one] * cables, *size, nipple=nipple)
                return working.limit.amount / 100 * working.inputs[2].amount  # type: ignore[union-attr]

            yield Check(
                "raceway-fill",
                f"NFPA 70 chapter 9 Table 4, {column[4:]} % column",
                " ".join(size),
                r[column],
                area,
                0.00101,
                "the table rounds each column by itself; 14 of 240 cells are one unit of the last digit off",
            )
        yield Check(
            "table-row",
            "NFPA 70 chapter 9 Table 4, inside diameters in mm",
            " ".join(size),
            r["id_mm"],
            cell("nec_ch9_table4_raceways", "|".join(size), "id", 25.4),
            0.1,
            "both columns are rounded: 0.001 in and 0.1 mm",
        )
        yield Check(
            "cable-area",
            "NFPA 70 chapter 9 Table 4, area from the printed diameter",
            " ".join(size),
            r["in2_100"],
            partial(_circle, size),
            0.0041,
            "the diameter is printed to 0.001 in: at 4 in that is 0.006 in2",
        )


def _circle(size: tuple[str, str]) -> float:
    return raceways.area_of([raceways.raceway_row(*size).si("id")]).result.amount / 645.16


def raceway_examples() -> Iterator[Check]:
    """Worked examples of fill, of rounding, of the UK factor method."""
    mixed = [("12", 3), ("10", 4), ("8", 8)]
    diameters = [raceways.conductor_area("THHN/THWN-2", g).si("diameter") for g, n in mixed for _ in range(n)]

    def areas() -> float:
        return sum(n * cell("nec_ch9_table5_conductors", f"THHN/THWN-2|{g}", "area")() for g, n in mixed)

    yield Check(
        "table-row",
        "EMT sizing question, mixed conductors (steel tube institute page)",
        "total area, in2",
        "0.4171",
        areas,
    )
    yield Check(
        "trade-size",
        "EMT sizing question, mixed conductors (steel tube institute page)",
        "inside area of the size chosen, in2",
        "1.496",
        lambda: raceways.trade_size(diameters, "EMT", system="power").inputs[2].amount,
    )
    count = raceways.conductor_count
    yield Check(
        "conductor-count",
        "RMC count question (steel tube institute page)",
        "12 AWG THHN in 3/4 RMC",
        "16",
        lambda: count("RMC", "3/4", raceways.conductor_area("THHN/THWN-2", "12").si("area")).result.amount,
        0.0,
        "a count",
    )
    yield Check(
        "conductor-count",
        "code forum: note 7, 2.97 counts as 3",
        "600 kcmil in 3 in PVC schedule 80",
        "3",
        result(count, "PVC80", "3", si("0.8676 in2", "area")),
        0.0,
        "a count",
    )
    yield Check(
        "conductor-count",
        "code forum: note 7, same-size conductors",
        "350 kcmil in 3 in EMT",
        "6",
        result(count, "EMT", "3", si("0.5958 in2", "area")),
        0.0,
        "a count",
    )
    yield Check(
        "raceway-fill",
        "RMC nipple exam item",
        "60 % of 1-1/2 RMC, in2",
        "1.243",
        lambda: (
            (w := raceways.raceway_fill([0.005], "RMC", "1-1/2", nipple=True)).limit.amount
            / 100
            * w.inputs[2].amount
        ),
    )  # type: ignore[union-attr]
    trunking, conduit = raceways.trunking_factors, raceways.conduit_factors
    many = ["35"] * 10 + ["4"] * 16
    uk = "UK trunking factors, capacities and worked example"
    yield Check(
        "trunking-factors",
        uk,
        "10 x 35 mm2 and 16 x 4 mm2",
        "1239.6",
        result(trunking, many, "thermosetting"),
    )
    yield Check(
        "trunking-factors",
        uk,
        "trunking width, mm",
        "75",
        also(0, trunking, many, "thermosetting"),
        0.0,
        "a size",
    )
    yield Check(
        "trunking-factors",
        uk,
        "trunking height, mm",
        "50",
        also(1, trunking, many, "thermosetting"),
        0.0,
        "a size",
    )
    uk = "UK conduit factors and worked example"
    yield Check("conduit-factors", uk, "6 x 4 mm2, 3 m straight", "348", result(conduit, ["4"] * 6, 3.0))
    yield Check("conduit-factors", uk, "conduit, mm", "20", also(0, conduit, ["4"] * 6, 3.0), 0.0, "a size")
    for angles in ([90.0] * 4, [45.0] * 8):
        yield Check(
            "bends-between-pull-points",
            "NFPA 70 358.24(B), 2023",
            f"limit for {len(angles)} bends, degrees",
            "360",
            limit(raceways.bends_between_pull_points, angles),
        )
    # 1 in EMT is 1.049 in inside (Table 4): over 0.36 in that is 2.914, and 1.05 times that in a bend
    for model, ratio in (("NEC note", "2.91"), ("cable manual", "3.06")):
        yield Check(
            "jam-ratio",
            "definition of the jam ratio, by hand",
            f"0.36 in in 1 in EMT, {model}",
            ratio,
            result(raceways.jam_ratio, 1.049 * 0.0254, 0.36 * 0.0254, model),
            status=ARITHMETIC,
        )
    for model, low, high in (("NEC note", 2.8, 3.2), ("cable manual", 2.6, 2.9)):
        for ratio, words in ((low, 1), (high, 1), (low - 0.01, 0), (high + 0.01, 0)):
            yield Check(
                "jam-ratio",
                f"jam band: {'NFPA 70 chapter 9 Table 1 note' if model == 'NEC note' else 'cable manuals'}",
                f"{ratio} at risk",
                str(words),
                partial(_jam, ratio, model),
                0.0,
                "inside or outside",
            )
    yield Check(
        "trunking-fill",
        "UK wiring guidance (On-Site Guide appendix E)",
        "limit, %",
        "45",
        limit(raceways.trunking_fill, [0.006], 0.05, 0.05),
    )


def _jam(ratio: float, model: str) -> float:
    widening = 1.0 if model == "NEC note" else 1.05
    edge = 1e-9 if ratio in (2.8, 2.6) else -1e-9 if ratio in (3.2, 2.9) else 0.0
    return float(raceways.jam_risk(raceways.jam_ratio((ratio + edge) / widening * 0.01, 0.01, model)))


def areas_in_metric() -> Iterator[Check]:
    """Insulated conductors of chapter 9 Table 5 against its metric column."""
    for r in rows("table_5_metric_column"):
        yield Check(
            "table-row",
            r["source"],
            f"{r['type']} {r['awg']} AWG, mm2",
            r["mm2"],
            cell("nec_ch9_table5_conductors", f"{r['type']}|{r['awg']}", "area", 645.16),
            0.05,
            "square inches are printed to four decimals",
        )
        yield Check(
            "cable-area",
            "NFPA 70 chapter 9 Table 5, area of its own diameter",
            f"{r['awg']} AWG, mm2",
            r["mm2"],
            lambda t=r["type"], g=r["awg"]: (
                raceways.area_of([raceways.conductor_area(t, g).si("diameter")]).result.amount
            ),
            0.007 * float(r["mm2"]),
            "the diameter is printed to 0.001 in",
        )
