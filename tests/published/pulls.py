"""Pulling: bend multipliers and the worked pulls of manuals."""

from collections.abc import Iterator

from published.check import Check, also, limit, result, rows, si

from stagefloor.calculations import pulling
from stagefloor.core.workings import ARITHMETIC


def pulling_checks() -> Iterator[Check]:
    """Bend multipliers and the worked pulls of manuals."""
    for r in rows("bend_multipliers"):
        yield Check(
            "tension-bend",
            r["source"],
            f"{r['angle_deg']} degrees, friction {r['friction']}",
            r["printed"],
            result(pulling.tension_bend, 1.0, float(r["angle_deg"]), float(r["friction"])),
            0.0085 if r["printed"] == "1.68" else None,
            "the table cuts 1.688 to 1.68" if r["printed"] == "1.68" else "",
        )
    w, pound = si("0.144 lb/ft", "mass_per_length"), si("1 lbf", "force")
    manual = "conduit pulling manual, straight pull and bend examples"
    straight, bend = pulling.tension_straight, pulling.tension_bend
    yield Check(
        "tension-straight",
        manual,
        "500 ft, 0.144 lb/ft, friction 0.5, lbf",
        "36",
        lambda: straight(si("500 ft", "length"), w, 0.5).result.amount / pound,
    )
    yield Check(
        "tension-bend",
        manual,
        "then 90 degrees, lbf",
        "79",
        lambda: bend(36 * pound, 90).result.amount / pound,
    )
    yield Check(
        "longest-straight",
        manual,
        "340 lbf, ft",
        "4722",
        lambda: pulling.longest_straight(340 * pound, w, 0.5).result.amount / 0.3048,
    )
    yield Check(
        "pull-run",
        manual,
        "500 ft and a bend at its end, lbf, from the far end",
        "79",
        lambda: _worse_end([pulling.Straight(152.4), pulling.Bend(90)], w) / pound,
    )
    # 36 lbf through the bend is 36 e^(0.5 pi/2) = 78.96, and another 36 behind it
    yield Check(
        "pull-run",
        "the same pull with 500 ft behind the bend, by hand",
        "lbf from either end",
        "115",
        lambda: (
            pulling.pull_run([pulling.Straight(152.4), pulling.Bend(90), pulling.Straight(152.4)], w).result.amount
            / pound
        ),
        status=ARITHMETIC,
    )
    page = "straight-pull worked examples"
    yield Check(
        "tension-straight",
        page,
        "500 m, 2.5 kg/m, friction 0.4, N",
        "4905",
        result(straight, 500, 2.5, 0.4),
        4.0,
        "the page takes g = 9.81",
    )
    yield Check(
        "tension-straight",
        page,
        "300 ft, 0.5 lb/ft, friction 0.25, lbf",
        "37.5",
        lambda: (
            straight(si("300 ft", "length"), si("0.5 lb/ft", "mass_per_length"), 0.25).result.amount / pound
        ),
    )
    yield Check(
        "copper-tension",
        "cable manuals, metric form of 0.008 lbf a circular mil",
        "1 mm2 of copper, N",
        "70",
        result(pulling.copper_tension, 1e-6),
    )
    yield Check(
        "data-cable-tension",
        "TIA-568 series and cabling guides",
        "25 lbf in N",
        "110",
        limit(pulling.data_cable_tension, 1.0),
        1.3,
        "25 lbf is 111.2 N; the guides print 110 N",
    )
    yield Check(
        "data-cable-tension",
        "cabling guides, in pounds",
        "lbf",
        "25",
        lambda: pulling.data_cable_tension(1.0).limit.amount / pound,
    )  # type: ignore[union-attr]
    yield Check(
        "sidewall-pressure",
        "cable guides (ICEA-based)",
        "default limit, lbf/ft",
        "300",
        lambda: pulling.sidewall_pressure(1.0, 1.0).limit.amount * 0.3048 / pound,
    )  # type: ignore[union-attr]
    yield Check(
        "grip-tension",
        "cable distributor guide",
        "basket grip, lbf",
        "1000",
        lambda: pulling.grip_tension(1.0).limit.amount / pound,
    )  # type: ignore[union-attr]
    whole = (
        "IEEE 1185-2019 annex C, equation C.1, against the straight and bend formulae of the pulling manual"
    )
    yield Check(
        "run-tension",
        whole,
        "500 ft and 90 degrees, lbf",
        "79",
        lambda: pulling.run_tension(si("500 ft", "length"), w, [90.0], 0.5).result.amount / pound,
    )
    mils = si("1000 cmil", "area")
    for conductors, pounds in ((1, "8.0"), (3, "24.0"), (4, "25.6")):
        yield Check(
            "copper-tension",
            "cable manuals: 0.008 lbf a circular mil, 80 % beyond three conductors",
            f"{conductors} of 1000 cmil, lbf",
            pounds,
            also(0, pulling.copper_tension, mils, conductors),
        )


def _worse_end(run: list[pulling.Straight | pulling.Bend], mass_kg_m: float) -> float:
    """What the same run takes from its worse end, N: the note says it."""
    note = pulling.pull_run(run, mass_kg_m).notes[0]
    return float(note.rpartition("it takes ")[2].removesuffix(" N."))
