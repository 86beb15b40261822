"""Optical fibre: loss budget of a link, the limit of an application, the margin of a budget."""

from collections.abc import Sequence

from stagefloor.calculations.inputs import choice, finite, not_negative, positive, whole
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import fact

FIBRES = {
    "multimode 850 nm": "multimode_850",
    "multimode 1300 nm": "multimode_1300",
    "multimode 850 nm, older edition": "multimode_850_older",
    "single-mode indoor": "singlemode_indoor",
    "single-mode outdoor": "singlemode_outdoor",
}
GRADES = {"OM3": ("sr_om3", "sr_loss_om3"), "OM4": ("sr_om4", "sr_loss_om4")}
KILO = 1000.0


def loss_budget(
    length_m: float, fibre: str, connectors: int = 2, splices: int = 0, measured_db: float | None = None
) -> Working:
    """Greatest loss that a fibre link may show, from its own parts; or a reading against it.

    Parameters
    ----------
    length_m : length, m, zero or more
    fibre : multimode 850 nm, multimode 1300 nm, single-mode indoor, single-mode outdoor or multimode 850
        nm, older edition
    connectors : mated pairs, zero or more
    splices : splices, zero or more
    measured_db : reading of a light source and meter, dB, zero or more, if there is one

    Returns dB: the budget, or the reading against it. Source: ANSI/TIA-568.3-D (from memory), connector
    0.75 dB, splice 0.3 dB.
    """
    not_negative("length_m", length_m, "m")
    loss, plug, splice = (
        fact("fibre", FIBRES[choice("fibre", fibre, list(FIBRES))]),
        fact("fibre", "connector"),
        fact("fibre", "splice"),
    )
    n, s = whole("connectors", connectors), whole("splices", splices)
    budget = length_m / KILO * loss["value"] + n * plug["value"] + s * splice["value"]
    inputs = (
        Value("L", "length", length_m, "m"),
        loss.shown("a", fibre),
        Value("n", "connectors", n),
        plug.shown("c", "one mated pair"),
        Value("m", "splices", s),
        splice.shown("p", "one splice"),
    )
    basis = (loss.basis(), plug.basis(), splice.basis())
    if measured_db is None:
        return Working(
            "Loss budget of a fibre link",
            "B = L / 1000 * a + n * c + m * p",
            inputs,
            Value("B", "budget", budget, "dB"),
            basis,
        )
    return Working(
        "Loss of a fibre link",
        "B = L / 1000 * a + n * c + m * p",
        inputs,
        Value("A", "reading", not_negative("measured_db", measured_db, "dB"), "dB"),
        basis,
        Value("B", "budget", budget, "dB"),
        notes=("Both directions, after a look at the end faces.",),
    )


def ten_gigabit(length_m: float, grade: str, connections_db: float = 1.5) -> Working:
    """Loss of a 10GBASE-SR link against the application's limit.

    Parameters
    ----------
    length_m : length, m, zero or more
    grade : OM3 (300 m, 2.6 dB) or OM4 (400 m, 2.9 dB)
    connections_db : loss of all connections, dB, zero or more

    Returns dB. Source: IEEE 802.3 clause 52 as quoted in loss-budget articles, 3.5 dB/km; OM3 loss from
    memory.
    """
    not_negative("length_m", length_m, "m")
    not_negative("connections_db", connections_db, "dB")
    reach, limit = (fact("fibre", k) for k in GRADES[choice("grade", grade, list(GRADES))])
    each = fact("fibre", "multimode_850_older")
    notes = (
        (f"{grade} reaches {reach['value']:g} m; this link is longer.",) if length_m > reach["value"] else ()
    )
    return Working(
        f"10GBASE-SR on {grade}",
        "A = L / 1000 * a + C",
        (
            Value("L", "length", length_m, "m"),
            each.shown("a", "fibre"),
            Value("C", "connections", connections_db, "dB"),
        ),
        Value("A", "loss", length_m / KILO * each["value"] + connections_db, "dB"),
        (reach.basis(), limit.basis(), each.basis()),
        limit.shown("", "limit"),
        notes=notes,
    )


def power_margin(budget_db: float, losses_db: Sequence[float]) -> Working:
    """What is left of an optical budget after its losses.

    Parameters
    ----------
    budget_db : power budget of the equipment, dB, above zero
    losses_db : each loss, dB, zero or more

    Returns dB against zero. Source: subtraction, as in a router manual.
    """
    positive("budget_db", budget_db, "dB")
    total = sum(not_negative("losses_db", x, "dB") for x in losses_db)
    return Working(
        "Optical margin",
        "M = B - A",
        (Value("B", "budget", budget_db, "dB"), Value("A", "losses", total, "dB")),
        Value("M", "margin", finite("losses_db", budget_db - total), "dB"),
        (Basis("subtraction", ARITHMETIC),),
        Value("", "least", 0.0, "dB"),
        ">=",
    )
