"""Distance between signal and power cables: rival rules side by side, never one constant."""

from stagefloor.calculations.inputs import choice, not_negative, whole
from stagefloor.core.workings import Value, Working
from stagefloor.reference.tables import load

BARRIERS = ("no_barrier", "open_metal", "perforated_metal", "solid_metal")
MILLI = 1000.0


def separation_choices() -> list[str]:
    """The names of the rival rules, in the order of the table."""
    return load("separation_rules").values("rule")


def separation(distance_m: float, rule: str) -> Working:
    """A distance between signal and power cables against one of the rival rules.

    Parameters
    ----------
    distance_m : distance between them, m, zero or more
    rule : a name from separation_choices()

    Returns mm against the least distance of the rule. Source: on the row of the rule. The choice is the
    designer's and
    the inspector's; a barrier or raceway may make a distance unnecessary, as the note says.
    """
    not_negative("distance_m", distance_m, "m")
    choice("rule", rule, separation_choices())
    row = load("separation_rules").row(rule)
    relief = row.text("relief")
    return Working(
        f"Distance from power: {rule}",
        "A >= A_min",
        (row.shown("A_min", row.text("what"), "distance"),),
        Value("A", "distance", distance_m * MILLI, "mm"),
        (row.basis(),),
        row.shown("", "least distance", "distance"),
        ">=",
        notes=(relief[0].upper() + relief[1:] + ".",) if relief else (),
    )


def separations(distance_m: float) -> list[Working]:
    """One distance against every rival rule, in the order of the table.

    Parameters
    ----------
    distance_m : distance between them, m, zero or more
    """
    return [separation(distance_m, rule) for rule in separation_choices()]


def separation_iec(
    distance_m: float, cable_class: str, circuits: int, barrier: str = "no_barrier"
) -> Working:
    """A distance between data and power cables against EN 50174-2: A = S x P.

    Parameters
    ----------
    distance_m : distance between them, m, zero or more
    cable_class : a, b, c or d by the coupling of the data cable
    circuits : single-phase power circuits of 20 A at 230 V, 1 or more
    barrier : no_barrier, open_metal, perforated_metal or solid_metal

    Returns mm against S x P. Source: EN 50174-2:2009 and later, tables of S and P. Older pages show a flat
    200 mm.
    """
    not_negative("distance_m", distance_m, "m")
    choice("barrier", barrier, BARRIERS)
    number = whole("circuits", circuits, 1)
    base = load("en50174_2_2009_separation").row(cable_class)
    power = next(
        r
        for r in load("en50174_2_power_factor")
        if number >= r["from"] and (not r.has("to") or number <= r["to"])
    )
    least = base[barrier] * power["factor"]
    return Working(
        "Distance from power, EN 50174-2",
        "A_min = S * P",
        (
            base.shown("S", f"class {cable_class}, {barrier.replace('_', ' ')}", barrier),
            power.shown("P", f"{number} circuits", "factor"),
        ),
        Value("A", "distance", distance_m * MILLI, "mm"),
        (base.basis(), power.basis()),
        Value("A_min", "least distance", least, "mm"),
        ">=",
    )
