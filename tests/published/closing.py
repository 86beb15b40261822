"""Limits of line tests; hours and money."""

from collections.abc import Iterator

from published.check import Check, accepts, also, limit, remarks, result

from stagefloor.calculations import labour, tests_limits
from stagefloor.core.workings import ARITHMETIC


def test_and_money_checks() -> Iterator[Check]:
    """Limits of line tests, hours and money."""
    yield Check(
        "gfci-trip-time",
        "UL 943 formula (20/I)^1.43 as a code forum cites it, by hand",
        "6 mA, s",
        "5.59",
        result(tests_limits.gfci_trip_time, 0.006),
        status=ARITHMETIC,
    )
    for test, figure in (
        ("general, 1x", "300"),
        ("general, 5x", "40"),
        ("type S, 1x", "500"),
        ("type S, 5x", "150"),
    ):
        yield Check(
            "rcd-trip-time",
            "RCD tester manual (IEC 61008/61009)",
            f"{test}, ms",
            figure,
            limit(tests_limits.rcd_trip_time, 0.01, test),
        )
    for circuit, megohm in (("up to 500 V", "1.0"), ("SELV and PELV", "0.5"), ("above 500 V", "1.0")):
        yield Check(
            "insulation",
            "rail-authority table of IEC 60364-6",
            f"{circuit}, Mohm",
            megohm,
            limit(tests_limits.insulation, 1e6, circuit),
        )
    yield Check(
        "insulation",
        "meter manual, older edition",
        "Mohm",
        "0.5",
        limit(tests_limits.insulation, 1e6, "older edition, up to 500 V"),
    )
    yield Check(
        "phantom-range",
        "sound-recording institute page (IEC 61938)",
        "tolerance, V",
        "4",
        limit(tests_limits.phantom_range, 48, 48),
    )
    yield Check(
        "phantom-range",
        "sound-recording institute page (IEC 61938)",
        "44 V from nominal, V",
        "4",
        result(tests_limits.phantom_range, 44, 48),
    )
    gfci = "UL 943: the formula covers 6 to 264 mA (code forum)"
    for milliamperes, taken in ((6, "1"), (5.9, "0"), (264, "1"), (265, "0")):
        value = accepts(tests_limits.gfci_trip_time, milliamperes / 1000)
        yield Check("gfci-trip-time", gfci, f"{milliamperes} mA", taken, value, 0.0, "taken or refused")
    slow = "RCD tester manual: type S, least times 130 and 50 ms"
    for seconds, test, notes in ((0.1299, "type S, 1x", "1"), (0.130, "type S, 1x", "0"), (0.0499, "type S, 5x", "1"),
                                 (0.050, "type S, 5x", "0")):  # fmt: skip
        value = remarks(tests_limits.rcd_trip_time, seconds, test)
        yield Check("rcd-trip-time", slow, f"{seconds} s, {test}", notes, value, 0.0, "a note or none")
    yield Check("beta", "project-management article", "14, 22, 26", "21.33", result(labour.beta, 14, 22, 26))
    book = "project-management textbook"
    for (a, m, b), mean in zip(
        ((5, 8, 17), (7, 10, 13), (3, 5, 7), (1, 3, 5), (4, 6, 8), (3, 3, 3), (3, 4, 5)),
        ("9", "10", "5", "3", "6", "3", "4"),
        strict=True,
    ):
        yield Check(
            "beta", book, f"{a}, {m}, {b}", mean, result(labour.beta, a, m, b), 1e-9, "exact in the book"
        )
    path = [(5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5)]
    deviations = [labour.beta(*p).also[0].amount for p in path]
    yield Check(
        "path-sum",
        book,
        "variance of the critical path",
        "5.0",
        lambda: labour.path_sum([9, 5, 6, 4], deviations).also[0].amount ** 2,
    )
    yield Check(
        "path-sum",
        book,
        "length of the critical path",
        "24",
        result(labour.path_sum, [9, 5, 6, 4], deviations),
    )
    yield Check(
        "chance-within",
        book,
        "28 or less, %",
        "96.33",
        result(labour.chance_within, 24, 5**0.5, 28),
        0.02,
        "the book reads a table at z = 1.79",
    )
    yield Check(
        "chance-within",
        "operations-management exercise",
        "224 or more of 214, variance 100, %",
        "15.87",
        lambda: 100 - labour.chance_within(214, 10, 224).result.amount,
    )
    industrial = "industrial-engineering exercise"
    yield Check(
        "path-sum", industrial, "mean of 3, 8, 6", "17", result(labour.path_sum, [3, 8, 6], [1, 2, 2])
    )
    yield Check(
        "path-sum",
        industrial,
        "standard deviation of 1, 2, 2",
        "3",
        also(0, labour.path_sum, [3, 8, 6], [1, 2, 2]),
    )
    yield Check(
        "chance-within", industrial, "20 or less, %", "84.13", result(labour.chance_within, 17, 3, 20)
    )
    article = "contractor-pricing article"
    yield Check("price-from-markup", article, "500 at 40 %", "700", result(labour.price_from_markup, 500, 40))
    yield Check("price-from-markup", article, "margin, %", "28.6", also(0, labour.price_from_markup, 500, 40))
    yield Check("margin", article, "of 500 sold at 700, %", "28.6", result(labour.margin, 500, 700))
    yield Check(
        "price-from-margin",
        article,
        "28.5714 % on 500",
        "700",
        result(labour.price_from_margin, 500, 100 * 2 / 7),
    )
    accounting = "accounting article on markup and margin"
    yield Check(
        "price-from-markup", accounting, "100 at 33 %", "133", result(labour.price_from_markup, 100, 33)
    )
    yield Check(
        "price-from-markup", accounting, "margin, %", "25", also(0, labour.price_from_markup, 100, 33)
    )
    magazine = "remodelling trade magazine, labour-burden list"
    burdens = [7.65, 1, 10, 12, 4, 2, 2, 1, 2.5]
    yield Check("burdened-rate", magazine, "sum, %", "42.15", also(0, labour.burdened_rate, 20, burdens))
    yield Check(
        "burdened-rate", magazine, "20.00 an hour becomes", "28.43", result(labour.burdened_rate, 20, burdens)
    )
    yield Check("productive-hours", magazine, "h", "1912", result(labour.productive_hours))
    wright = "cost-estimating textbook page, cumulative average curve"
    for units, average, total in (
        (1, "100", "100"),
        (2, "80", "160"),
        (4, "64", "256"),
        (8, "51.2", "409.6"),
        (16, "40.96", "655.36"),
    ):
        yield Check(
            "wright", wright, f"{units} units, average, h", average, also(0, labour.wright, 100, units, 80)
        )
        yield Check(
            "wright", wright, f"{units} units, total, h", total, result(labour.wright, 100, units, 80)
        )
    yield Check(
        "wright",
        "operations-management exercise",
        "600 h, 80 %, 8 units, average, h",
        "307.2",
        also(0, labour.wright, 600, 8, 80),
    )
    library = "documentation of a statistics library for learning curves"
    for rate, hours in ((80, "21.13225"), (85, "32.23647"), (90, "48.00243"), (95, "69.95640")):
        yield Check(
            "crawford", library, f"125th unit at {rate} %, h", hours, also(0, labour.crawford, 100, 125, rate)
        )
    yield Check(
        "crawford",
        library,
        "total of 125 units at 85 %, h",
        "5201.085",
        result(labour.crawford, 100, 125, 85),
    )
    exercise = "operations-management exercise, unit curve"
    yield Check(
        "crawford",
        exercise,
        "90 %, first 12.346: 4th unit, min",
        "10.000",
        also(0, labour.crawford, 12.346, 4, 90),
        0.001,
        "the exercise rounds the first unit",
    )
    yield Check(
        "crawford",
        exercise,
        "average of 8, min",
        "10.145",
        also(1, labour.crawford, 12.346, 8, 90),
        0.001,
        "the exercise rounds the first unit",
    )
    yield Check(
        "crawford",
        "published contrast of the two curves",
        "80 %, 8 units, 100 h, total, h",
        "534.6",
        result(labour.crawford, 100, 8, 80),
        None,
        "",
        ARITHMETIC,
    )
    owner = "state building commission supplement"
    yield Check(
        "change-cap",
        owner,
        "own work on 10 000",
        "11500",
        result(labour.change_cap, 10_000),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "change-cap",
        owner,
        "with a subcontractor on 10 000",
        "12500",
        result(labour.change_cap, 10_000, True),
        None,
        "",
        ARITHMETIC,
    )
    form = "application-for-payment form, lines 4 to 8"
    due = (26_000, 13_500, 40_000)
    yield Check("payment-due", form, "due", "9900", result(labour.payment_due, *due), None, "", ARITHMETIC)
    yield Check(
        "payment-due",
        form,
        "earned less retainage",
        "23400",
        also(0, labour.payment_due, *due),
        None,
        "",
        ARITHMETIC,
    )
    yield Check(
        "payment-due",
        form,
        "balance with retainage",
        "16600",
        also(1, labour.payment_due, *due),
        None,
        "",
        ARITHMETIC,
    )
