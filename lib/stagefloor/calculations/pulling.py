"""Pulling cable: tension along straights and bends, sidewall pressure, and what cable and grip bear.

Forces, in newton. Cable data comes first; friction 0.5 and 300 lbf/ft are defaults where nothing is known.
Tensions are carried unrounded from segment to segment.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, exp, radians, sin, sqrt

from stagefloor.calculations.inputs import choice, not_negative, positive, whole, within
from stagefloor.core.problems import Problem
from stagefloor.core.units import KINDS, POUND, STANDARD_GRAVITY
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import Row, fact

MANUALS = Basis("cable manuals")
ARRANGEMENTS = ("one", "cradled", "triangular", "diamond")
THREE_IN_A_CIRCLE = 1 + 2 / sqrt(3)  # diameter of a circle around three equal ones, over theirs: geometry
POUND_FORCE = POUND * STANDARD_GRAVITY


@dataclass(frozen=True)
class Straight:
    """A straight of `length_m` in m, rising by `slope_deg` degrees in the direction of the pull."""

    length_m: float
    slope_deg: float = 0.0


@dataclass(frozen=True)
class Bend:
    """A bend of `angle_deg` degrees with `radius_m` inside radius in m (0: sidewall pressure unknown)."""

    angle_deg: float
    radius_m: float = 0.0


def _default(key: str) -> Row:
    return fact("pulling", key)


def _common(mass_kg_m: float, friction: float, weight_factor: float) -> None:
    positive("mass_kg_m", mass_kg_m, "kg/m")
    within("friction", friction, 0.0, 2.0, "", "coefficients of friction in raceways are well below 2")
    within("weight_factor", weight_factor, 1.0, 3.0, "", "one cable has 1, three more have up to about 2")


def tension_straight(
    length_m: float,
    mass_kg_m: float,
    friction: float = 0.5,
    tension_in_n: float = 0.0,
    slope_deg: float = 0.0,
    weight_factor: float = 1.0,
) -> Working:
    """Tension at the end of a straight.

    Parameters
    ----------
    length_m : length, m, zero or more
    mass_kg_m : mass of all cables per length, kg/m, above zero
    friction : coefficient of friction; 0.5 where nothing is known
    tension_in_n : tension at its beginning, N, zero or more
    slope_deg : rise in the direction of the pull, degrees, -90 to 90
    weight_factor : weight correction factor, 1 for one cable

    Returns N; a fall that needs holding back gives 0, with a note. Source: cable manuals; sloped form from
    a utility manual.
    """
    not_negative("length_m", length_m, "m")
    _common(mass_kg_m, friction, weight_factor)
    not_negative("tension_in_n", tension_in_n, "N")
    within("slope_deg", slope_deg, -90.0, 90.0, "deg", "a slope lies between straight down and straight up")
    g, angle = _default("gravity"), radians(slope_deg)
    value = tension_in_n + mass_kg_m * g["value"] * length_m * (
        sin(angle) + weight_factor * friction * cos(angle)
    )
    notes = ("The cable runs down by itself: hold it back at the feeding end.",) if value < 0 else ()
    return Working(
        "Tension after a straight",
        "T = max(T_in + m * g * L * (sin(t) + W * f * cos(t)), 0)",
        (
            Value("T_in", "tension before", tension_in_n, "N"),
            Value("m", "mass per length", mass_kg_m, "kg/m"),
            g.shown("g", "standard gravity"),
            Value("L", "length", length_m, "m"),
            Value("t", "slope", angle, "rad"),
            Value("W", "weight correction", weight_factor),
            Value("f", "friction", friction),
        ),
        Value("T", "tension after", max(value, 0.0), "N"),
        (MANUALS, _default("friction_default").basis()),
        notes=notes,
    )


def tension_bend(
    tension_in_n: float, angle_deg: float, friction: float = 0.5, weight_factor: float = 1.0
) -> Working:
    """Tension after a bend.

    Parameters
    ----------
    tension_in_n : tension before the bend, N, zero or more
    angle_deg : angle of the bend, degrees, 0 to 360
    friction : coefficient of friction; 0.5 where nothing is known
    weight_factor : weight correction factor, 1 for one cable

    Returns N. Source: cable manuals, T = T_in e^(f W theta). Neglects the weight within the bend.
    """
    not_negative("tension_in_n", tension_in_n, "N")
    within("angle_deg", angle_deg, 0.0, 360.0, "deg", "a bend turns between 0 and 360 degrees")
    _common(1.0, friction, weight_factor)
    theta = radians(angle_deg)
    return Working(
        "Tension after a bend",
        "T = T_in * exp(f * W * b)",
        (
            Value("T_in", "tension before", tension_in_n, "N"),
            Value("f", "friction", friction),
            Value("W", "weight correction", weight_factor),
            Value("b", "angle", theta, "rad"),
        ),
        Value("T", "tension after", tension_in_n * exp(friction * weight_factor * theta), "N"),
        (MANUALS,),
    )


def pull(
    segments: Sequence[Straight | Bend],
    mass_kg_m: float,
    friction: float = 0.5,
    weight_factor: float = 1.0,
    limit_n: float | None = None,
) -> tuple[Working, list[Working]]:
    """Tension along a run of straights and bends, pulled in the order given.

    Parameters
    ----------
    segments : Straight and Bend in the order of the pull, at least one
    mass_kg_m : mass of all cables per length, kg/m, above zero
    friction : coefficient of friction
    weight_factor : weight correction factor, 1 for one cable
    limit_n : what the cables bear, N, above zero, if known

    Returns (Working of the tension at the end, one Working a segment). Source: cable manuals.
    """
    if not segments:
        raise Problem("The run has no segments; give at least one straight.", "segments")
    tension, steps = 0.0, []
    for part in segments:
        step = (
            tension_straight(part.length_m, mass_kg_m, friction, tension, part.slope_deg, weight_factor)
            if isinstance(part, Straight)
            else tension_bend(tension, part.angle_deg, friction, weight_factor)
        )
        tension = step.result.amount
        steps.append(step)
    limit = None if limit_n is None else Value("", "cables bear", positive("limit_n", limit_n, "N"), "N")
    last = Working(
        "Pulling tension at the end",
        "segment by segment",
        (
            Value("n", "segments", len(steps)),
            Value("m", "mass per length", mass_kg_m, "kg/m"),
            Value("f", "friction", friction),
        ),
        Value("T", "tension", tension, "N"),
        (MANUALS,),
        limit,
        notes=tuple(n for s in steps for n in s.notes),
    )
    return last, steps


def either_end(
    segments: Sequence[Straight | Bend], mass_kg_m: float, friction: float = 0.5, weight_factor: float = 1.0
) -> tuple[str, Working]:
    """The better end to pull from: 'far' (in the order given) or 'near' (backwards), with its tension.

    Parameters
    ----------
    segments : Straight and Bend from near to far end, at least one
    mass_kg_m : mass of all cables per length, kg/m, above zero
    friction : coefficient of friction
    weight_factor : weight correction factor, 1 for one cable

    Returns (end to pull at, Working). Slopes are turned over for the backward pull. Source: cable manuals.
    """
    forth = pull(segments, mass_kg_m, friction, weight_factor)[0]
    back = pull(backwards(segments), mass_kg_m, friction, weight_factor)[0]
    return ("near", back) if back.result.amount < forth.result.amount else ("far", forth)


def backwards(segments: Sequence[Straight | Bend]) -> list[Straight | Bend]:
    """The same run from its other end: order reversed, slopes turned over."""
    return [Straight(p.length_m, -p.slope_deg) if isinstance(p, Straight) else p for p in reversed(segments)]


def run_tension(
    length_m: float, mass_kg_m: float, bends_deg: Sequence[float] = (), friction: float = 0.5
) -> Working:
    """Tension of a whole level run if all its bends are at the pulling end: on the safe side.

    Parameters
    ----------
    length_m : length, m, zero or more
    mass_kg_m : mass of all cables per length, kg/m, above zero
    bends_deg : angle of each bend, degrees, 0 to 360
    friction : coefficient of friction; 0.5 where nothing is known

    Returns N. Source: IEEE 1185-2019 annex C, equation C.1, T = L w K e^(K A).
    """
    not_negative("length_m", length_m, "m")
    _common(mass_kg_m, friction, 1.0)
    total = sum(
        within("bends_deg", b, 0.0, 360.0, "deg", "a bend turns between 0 and 360 degrees") for b in bends_deg
    )
    g, angle = _default("gravity"), radians(total)
    value = length_m * mass_kg_m * g["value"] * friction * exp(friction * angle)
    notes = (
        ()
        if total <= _default("bends")["value"]
        else (f"{total:g} degrees are more than the 360 between pull points.",)
    )
    return Working(
        "Tension of a run, bends at the pulling end",
        "T = L * m * g * f * exp(f * A)",
        (
            Value("L", "length", length_m, "m"),
            Value("m", "mass per length", mass_kg_m, "kg/m"),
            g.shown("g", "standard gravity"),
            Value("f", "friction", friction),
            Value("A", "bends", angle, "rad"),
        ),
        Value("T", "tension", value, "N"),
        (Basis("IEEE 1185-2019 annex C, equation C.1"), _default("friction_default").basis()),
        notes=notes,
    )


def longest_straight(tension_n: float, mass_kg_m: float, friction: float = 0.5) -> Working:
    """Longest level straight that a tension pulls.

    Parameters
    ----------
    tension_n : tension allowed, N, above zero
    mass_kg_m : mass of all cables per length, kg/m, above zero
    friction : coefficient of friction, above zero

    Returns m. Source: cable manual, L = T / (w f).
    """
    positive("tension_n", tension_n, "N")
    positive("friction", friction)
    _common(mass_kg_m, friction, 1.0)
    g = _default("gravity")
    return Working(
        "Longest straight pull",
        "L = T / (m * g * f)",
        (
            Value("T", "tension", tension_n, "N"),
            Value("m", "mass per length", mass_kg_m, "kg/m"),
            g.shown("g", "standard gravity"),
            Value("f", "friction", friction),
        ),
        Value("L", "length", tension_n / (mass_kg_m * g["value"] * friction), "m"),
        (MANUALS,),
    )


def sidewall_pressure(
    tension_n: float,
    radius_m: float,
    arrangement: str = "one",
    weight_factor: float = 1.0,
    limit_n_m: float | None = None,
) -> Working:
    """Force per length that presses a cable against the inside of a bend.

    Parameters
    ----------
    tension_n : tension after the bend, N, zero or more
    radius_m : inside radius of the bend, m, above zero
    arrangement : one, cradled or triangular (three cables), diamond (four)
    weight_factor : weight correction factor, 1 for one cable
    limit_n_m : what the cable's data sheet allows, N/m, above zero; 300 lbf/ft if left out

    Returns N/m. Source: cable manuals; 300, 500, 750 and 1200 lbf/ft are all published: the data sheet
    comes first.
    """
    not_negative("tension_n", tension_n, "N")
    positive("radius_m", radius_m, "m")
    _common(1.0, 0.0, weight_factor)
    share = {
        "one": 1.0,
        "cradled": (3 * weight_factor - 2) / 3,
        "triangular": weight_factor / 2,
        "diamond": weight_factor - 1,
    }[choice("arrangement", arrangement, ARRANGEMENTS)]
    formula = {
        "one": "P = T / R",
        "cradled": "P = T * (3 * W - 2) / (3 * R)",
        "triangular": "P = T * W / (2 * R)",
        "diamond": "P = T * (W - 1) / R",
    }[arrangement]
    default = _default("sidewall_default")
    limit = default.si() if limit_n_m is None else positive("limit_n_m", limit_n_m, "N/m")
    basis = default.basis() if limit_n_m is None else Basis("the cable's data sheet", "this job's own value")
    return Working(
        "Sidewall pressure",
        formula,
        (
            Value("T", "tension after the bend", tension_n, "N"),
            Value("R", "inside radius", radius_m, "m"),
            Value("W", "weight correction", weight_factor),
        ),
        Value("P", "sidewall pressure", tension_n * share / radius_m, "N/m"),
        (MANUALS, basis),
        Value("", "limit", limit, "N/m"),
    )


def weight_correction(raceway_m: float, cable_m: float, arrangement: str = "triangular") -> Working:
    """Weight correction factor of three equal cables in a raceway.

    Parameters
    ----------
    raceway_m : inside diameter of the raceway, m, above zero
    cable_m : diameter of each cable, m, above zero, small enough for three
    arrangement : triangular or cradled

    Returns the factor. Source: cable manuals, from memory.
    """
    positive("raceway_m", raceway_m, "m")
    positive("cable_m", cable_m, "m")
    choice("arrangement", arrangement, ("triangular", "cradled"))
    if raceway_m <= (THREE_IN_A_CIRCLE if arrangement == "triangular" else 2) * cable_m:
        raise Problem("Three such cables do not enter this raceway; take a larger one.", "cable_m")
    room = cable_m / (raceway_m - cable_m)
    value = 1 / sqrt(1 - room**2) if arrangement == "triangular" else 1 + 4 / 3 * room**2
    return Working(
        f"Weight correction, {arrangement}",
        "W = 1 / sqrt(1 - (d / (D - d))^2)"
        if arrangement == "triangular"
        else "W = 1 + 4 / 3 * (d / (D - d))^2",
        (Value("D", "raceway inside", raceway_m * 1000, "mm"), Value("d", "cable", cable_m * 1000, "mm")),
        Value("W", "weight correction", value),
        (Basis("cable manuals", "from memory"),),
    )


def copper_tension(area_m2: float, conductors: int = 1) -> Working:
    """What soft copper conductors bear by a pulling eye.

    Parameters
    ----------
    area_m2 : area of one conductor, m2, above zero
    conductors : number of equal conductors, 1 or more; beyond three only 80 % of the sum counts

    Returns N. Source: cable manuals, 0.008 lbf a circular mil.
    """
    positive("area_m2", area_m2, "m2")
    n = whole("conductors", conductors, 1)
    each, share, up_to = _default("copper_tension"), _default("several_conductors"), _default("several_from")
    cmil = area_m2 / KINDS["area"][1]["cmil"]
    factor = 1.0 if n <= up_to["value"] else share["value"]
    pounds = each["value"] * cmil * n * factor
    return Working(
        "Tension that the copper bears",
        "T = c * A * n * s * 4.4482216152605",
        (
            each.shown("c", "soft copper"),
            Value("A", "area of one conductor", cmil, "cmil"),
            Value("n", "conductors", n),
            Value("s", "share of the sum", factor),
        ),
        Value("T", "tension", pounds * POUND_FORCE, "N"),
        (each.basis(), share.basis()),
        also=(Value("", "in pounds of force", pounds, "lbf"),),
    )


def data_cable_tension(tension_n: float, cables: int = 1) -> Working:
    """A tension on balanced four-pair cables against 110 N (25 lbf) each. A force, not a torque.

    Parameters
    ----------
    tension_n : tension on all of them, N, zero or more
    cables : number pulled together, 1 or more

    Returns N on each. Source: TIA-568 series and cabling guides.
    """
    not_negative("tension_n", tension_n, "N")
    n, limit = whole("cables", cables, 1), _default("four_pair")
    return Working(
        "Tension on a four-pair cable",
        "T_1 = T / n",
        (Value("T", "tension on all", tension_n, "N"), Value("n", "cables", n)),
        Value("T_1", "on each", tension_n / n, "N"),
        (limit.basis(), Basis("shared evenly", ARITHMETIC)),
        limit.shown("", "limit"),
        notes=("Shared evenly at best: the shortest cable takes more.",),
    )


def grip_tension(tension_n: float) -> Working:
    """A tension against what one basket grip bears.

    Parameters
    ----------
    tension_n : tension, N, zero or more

    Returns N. Source: cable distributor guide, 1000 lbf.
    """
    not_negative("tension_n", tension_n, "N")
    limit = _default("grip")
    return Working(
        "Tension on a basket grip",
        "T = tension",
        (Value("T", "tension", tension_n, "N"),),
        Value("T", "tension", tension_n, "N"),
        (limit.basis(),),
        Value("", "grip bears", limit.si(), "N"),
    )


def inside_radius(centreline_m: float, raceway_m: float) -> Working:
    """Inside radius of a bend from the radius of its centre line.

    Parameters
    ----------
    centreline_m : radius of the centre line, m, above half the diameter
    raceway_m : inside diameter of the raceway, m, above zero

    Returns m. Source: cable manual, R - D/2.
    """
    positive("raceway_m", raceway_m, "m")
    if positive("centreline_m", centreline_m, "m") <= raceway_m / 2:
        raise Problem(
            "The bend is tighter than half its raceway's diameter; check the radius.", "centreline_m"
        )
    return Working(
        "Inside radius of a bend",
        "R_i = R - D / 2",
        (Value("R", "centre line", centreline_m, "m"), Value("D", "raceway inside", raceway_m, "m")),
        Value("R_i", "inside radius", centreline_m - raceway_m / 2, "m"),
        (MANUALS,),
    )


def pull_run(
    segments: Sequence[Straight | Bend], mass_kg_m: float, friction: float = 0.5, limit_n: float | None = None
) -> Working:
    """Tension of a run pulled from its better end.

    Parameters
    ----------
    segments : lengths and angles in order from near to far end, at least one
    mass_kg_m : mass of all cables per length, kg/m, above zero
    friction : coefficient of friction; 0.5 where nothing is known
    limit_n : what the cables bear, N, above zero, if known

    Returns N; the note says which end to pull at. Source: cable manuals.
    """
    end, _ = either_end(segments, mass_kg_m, friction)
    ordered = list(segments) if end == "far" else backwards(segments)
    working, _ = pull(ordered, mass_kg_m, friction, limit_n=limit_n)
    other = pull(backwards(ordered), mass_kg_m, friction)[0].result
    note = f"Pull at the {end} end; from the other end it takes {other.text()}."
    return replace(working, notes=(note, *working.notes))
