"""Joists, notched shear, slabs, levels, loads."""

from collections.abc import Callable, Iterator
from functools import partial

from published.check import Check, also, cell, limit, result, si

from stagefloor.calculations import floor, joists
from stagefloor.core.workings import ARITHMETIC, MEMORY, Working


def floor_checks() -> Iterator[Check]:
    """Joists, notched shear, slabs, levels, loads."""
    inch = 0.0254
    page = "exam-preparation page on IRC floor framing"
    depth = joists.joist_size("2x10")[1]
    notch = joists.joist_notch
    yield Check(
        "joist-notch",
        page,
        "2x10, notch in the outer third, in",
        "1.54",
        lambda: notch(depth, 0, 0.2).limit.amount / 25.4,
    )  # type: ignore[union-attr]
    yield Check(
        "joist-notch",
        page,
        "2x10, notch length, in",
        "3.08",
        lambda: notch(depth, 0, 0.2).also[0].amount / 25.4,
    )
    yield Check(
        "joist-notch", page, "2x10, end notch, in", "2.31", lambda: notch(depth, 0, 0.0).limit.amount / 25.4
    )  # type: ignore[union-attr]
    yield Check("joist-notch", "IRC R502.8.1", "middle third, mm", "0", limit(notch, depth, 0, 0.5))
    yield Check(
        "joist-hole",
        "IRC R502.8.1",
        "2x10, hole, in",
        "3.08",
        lambda: joists.joist_hole(depth, 0.01, 0.1).limit.amount / 25.4,
        None,
        "",
        ARITHMETIC,
    )  # type: ignore[union-attr]
    for edge, most in ((51.0, "78.32"), (50.7, "0.00")):
        yield Check(
            "joist-hole",
            "IRC R502.8.1: a third of 9.25 in, 2 in (51 mm) to the edge",
            f"2x10, {edge} mm from the edge, mm",
            most,
            limit(joists.joist_hole, depth, 0.01, edge / 1000),
            0.005,
            "half of the last digit",
            ARITHMETIC,
        )
    trade = "building-trade page on holes in joists"
    for nominal, figure in (("2x6", "1.8125"), ("2x8", "2.375")):
        yield Check(
            "largest-hole",
            trade,
            f"{nominal}, in",
            figure,
            lambda n=nominal: joists.largest_hole(joists.joist_size(n)[1]).result.amount,
        )
    for nominal, millimetres in (("2x6", "140"), ("2x8", "184"), ("2x10", "235"), ("2x12", "286")):
        yield Check(
            "joist-notch",
            "DOC PS 20, metric sizes",
            f"{nominal}, depth, mm",
            millimetres,
            lambda n=nominal: joists.joist_notch(joists.joist_size(n)[1], 0, 0.2).inputs[1].amount,
            1.0,
            "metric sizes are rounded to 1 mm",
        )
        yield Check(
            "table-row",
            "DOC PS 20, metric sizes",
            f"{nominal}, breadth, mm",
            "38",
            cell("lumber_sizes", nominal, "breadth", 25.4),
        )
    lecture = "university timber-design lecture"
    shear = joists.notched_shear
    yield Check(
        "notched-shear",
        lecture,
        "150 x 350 mm, 250 mm left, kN",
        "15.18",
        result(shear, 0.150, 0.350, 0.250, 0.85e6, "older"),
    )
    yield Check(
        "notched-shear",
        "NDS 3.4.3.2(a) on the data of the lecture",
        "exponent 2, kN",
        "10.842",
        result(shear, 0.150, 0.350, 0.250, 0.85e6),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "notched-shear",
        "NDS 3.4.3.2(a) on the data of the lecture",
        "279.68 mm left carries, kN",
        "15.18",
        result(shear, 0.150, 0.350, 0.27968, 0.85e6),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "notched-shear",
        lecture,
        "without a notch, kN",
        "29.75",
        result(shear, 0.150, 0.350, 0.350, 0.85e6),
        None,
        "",
        ARITHMETIC,
    )
    pound = si("1 lbf", "force")
    for edition, share, pounds in (
        ("2001 and later", 0.75, "702.4"),
        ("older", 0.75, "936.6"),
        ("older", 1.0, "1665"),
    ):
        yield Check(
            "notched-shear",
            "NDS 3.4.3.2(a), 2x10, Fv 180 psi",
            f"{share:g} of the depth left, {edition}, lbf",
            pounds,
            lambda e=edition, s=share: (
                shear(1.5 * inch, 9.25 * inch, s * 9.25 * inch, si("180 psi", "pressure"), e).result.amount
                * 1000
                / pound
            ),
            0.1 if share < 1 else 0.5,
            "half a unit",
            ARITHMETIC,
        )
    theory = "bending theory on R502.8.1"
    yield Check(
        "section-left",
        theory,
        "a sixth cut, section modulus, %",
        "69.44",
        result(joists.section_left, 6, 1),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "section-left",
        theory,
        "a sixth cut, second moment, %",
        "57.87",
        also(0, joists.section_left, 6, 1),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "stress-at-notch",
        theory,
        "a sixth cut at a third of the span",
        "1.28",
        result(joists.stress_at_notch, 1 / 3, 5 / 6),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "stress-at-notch",
        theory,
        "equal to mid-span at 0.2236",
        "1.000",
        result(joists.stress_at_notch, 0.2236, 5 / 6),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "conduit-in-slab",
        "contractor exam question",
        "6 in slab, in",
        "2",
        lambda: floor.conduit_in_slab(0.05, 6 * inch).limit.amount / 25.4,
    )  # type: ignore[union-attr]
    yield Check(
        "code-patch-pressure",
        "ASCE 7 concentrated load over the patch of IBC 1607.4",
        "2000 lbf, psf",
        "320",
        result(floor.code_patch_pressure, 2000 * pound),
    )
    yield Check(
        "contact-pressure",
        "ASCE 7 garage wheel: 3000 lb on 4.5 in",
        "psi",
        "148",
        lambda: (
            floor.contact_pressure(3000 * pound, (4.5 * inch) ** 2).result.amount
            * 1e6
            / si("1 psi", "pressure")
        ),
        None,
        "",
        MEMORY,
    )
    yield Check(
        "contact-pressure",
        "AASHTO LRFD wheel: 16000 lb on 10 x 20 in",
        "psi",
        "80",
        lambda: (
            floor.contact_pressure(16000 * pound, 200 * inch**2).result.amount * 1e6 / si("1 psi", "pressure")
        ),
        None,
        "",
        MEMORY,
    )
    ada = "2010 ADA 303.2 and 303.3"
    level, rounded = floor.change_of_level, "the rule is in inches; millimetres are rounded"
    yield Check("change-of-level", ada, "vertical, mm", "6.4", limit(level, 0), 0.051, rounded)
    yield Check("change-of-level", ada, "bevelled, mm", "13", limit(level, 0, True), 0.31, rounded)
    for bevelled, inches in ((False, "0.25"), (True, "0.5")):
        yield Check(
            "change-of-level",
            ada,
            "in",
            inches,
            partial(_inches, level, 0, bevelled),
            1e-9,
            "stated by the rule",
        )
    gap = floor.gap_in_floor
    yield Check("gap-in-floor", "2010 ADA 302.3", "mm", "13", limit(gap, 0), 0.31, rounded, MEMORY)
    for position, allowed in ((0.333, "39.16"), (0.334, "0")):
        yield Check(
            "joist-notch",
            "IRC R502.8.1: a sixth of 9.25 in, none in the middle third",
            f"2x10 at {position} of the span, mm",
            allowed,
            limit(joists.joist_notch, 0.23495, 0, position),
            0.005,
            "half of the last digit",
            ARITHMETIC,
        )
    for spacing, clear in (("16", "14.5"), ("12", "10.5"), ("19.2", "17.7"), ("24", "22.5")):
        yield Check(
            "clear-bay",
            "plane geometry: 1.5 in joists",
            f"{spacing} in centres, in",
            clear,
            lambda s=spacing: floor.clear_bay(float(s) * inch, 1.5 * inch).result.amount / inch,
            1e-9,
            "exact",
            ARITHMETIC,
        )
    yield Check(
        "opening-framing",
        "IRC R502.10",
        "single header up to, mm",
        "1219",
        lambda: joists.opening_framing(1, 0).limit.amount * 1000,
        None,
        "",
        MEMORY,
    )  # type: ignore[union-attr]


def _inches(function: Callable[..., Working], *given: object) -> float:
    return function(*given).limit.amount / 25.4  # type: ignore[union-attr]
