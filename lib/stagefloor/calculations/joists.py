"""Cuts in sawn joists and framing of an opening: prescriptive limits and beam theory.

Limits for wood are rules for dwellings. In a venue they are a screen: a cut member always asks for the
engineer.
"""

from stagefloor.calculations.inputs import choice, not_negative, positive, within
from stagefloor.core.problems import Problem
from stagefloor.core.units import INCH
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import fact, load

MILLI = 1000.0
ENGINEER = "A prescriptive limit for dwellings: in a venue a cut member always asks for the engineer."
BEAM = Basis("beam theory", ARITHMETIC)


def joist_size(nominal: str) -> tuple[float, float]:
    """Breadth and depth of dressed lumber, m, by nominal size such as 2x10; Problem if not listed."""
    row = load("lumber_sizes").row(nominal)
    return row.si("breadth"), row.si("depth")


def joist_notch(depth_m: float, notch_m: float, position: float, rule: str = "US") -> Working:
    """Depth of a notch in a sawn joist against its prescriptive limit.

    Parameters
    ----------
    depth_m : actual depth of the joist, m, above zero
    notch_m : depth of the notch, m, zero or more
    position : distance of the notch from the bearing as a share of the span, 0 (at the end) to 0.5 (middle)
    rule : US (IRC R502.8.1: end D/4, outer thirds D/6, none in the middle third) or UK (D/8, 0.07 to 0.25
        of the span)

    Returns mm against the limit there. Raises Problem for the UK rule in joists deeper than 250 mm.
    Source: IRC R502.8.1; UK practice from memory. Not for trusses, glued or I-joists: there no cut without
    the maker.
    """
    positive("depth_m", depth_m, "m")
    not_negative("notch_m", notch_m, "m")
    within("position", position, 0.0, 0.5, "", "a share of the span from the nearer bearing")
    choice("rule", rule, ("US", "UK"))
    if rule == "US":
        third = fact("wood_joist_limits", "middle_third_from")
        row = fact(
            "wood_joist_limits",
            "end_notch" if position == 0 else "notch_depth" if position <= third["value"] else "notch_middle",
        )
        share = row["value"] if row.has("value") else 0.0
    else:
        _uk_depth(depth_m)
        row = fact("wood_joist_limits", "notch_depth_uk")
        low, high = fact("wood_joist_limits", "notch_uk_from"), fact("wood_joist_limits", "notch_uk_to")
        share = row["value"] if low["value"] <= position <= high["value"] else 0.0
    length = fact("wood_joist_limits", "notch_length")
    return Working(
        f"Notch in a joist, {rule}",
        "n_max = k * D",
        (
            Value("k", "share of the depth allowed here", share),
            Value("D", "joist depth", depth_m * MILLI, "mm"),
        ),
        Value("n", "notch", notch_m * MILLI, "mm"),
        (row.basis(),),
        Value("n_max", "greatest notch", share * depth_m * MILLI, "mm"),
        notes=(ENGINEER,),
        also=(Value("", "greatest notch length", length["value"] * depth_m * MILLI, "mm"),)
        if rule == "US"
        else (),
    )


def _uk_depth(depth_m: float) -> None:
    most = fact("wood_joist_limits", "uk_depth_most")
    if depth_m > most.si():
        raise Problem(
            f"The UK rule covers joists up to {most['value']:g} mm deep, not "
            f"{depth_m * MILLI:.0f} mm; ask the engineer.",
            "depth_m",
        )


def joist_hole(depth_m: float, hole_m: float, edge_m: float) -> Working:
    """Diameter of a bored hole in a sawn joist against a third of the depth, and its distance to the edge.

    Parameters
    ----------
    depth_m : actual depth of the joist, m, above zero
    hole_m : diameter of the hole, m, above zero
    edge_m : least distance from the hole's rim to the top or bottom edge, m, zero or more

    Returns mm. The binding of the two limits, diameter D/3 and 2 in to the edge, gives the limit.
    Source: IRC R502.8.1. Round a limit down, to 1/16 in.
    """
    positive("depth_m", depth_m, "m")
    positive("hole_m", hole_m, "m")
    not_negative("edge_m", edge_m, "m")
    row, edge = fact("wood_joist_limits", "hole_diameter"), fact("wood_joist_limits", "hole_edge")
    if hole_m + edge_m > depth_m:
        raise Problem(
            f"A hole of {hole_m * MILLI:.0f} mm with {edge_m * MILLI:.0f} mm to the edge is more "
            "than the depth of the joist, "
            f"{depth_m * MILLI:.0f} mm; check them.",
            "hole_m",
        )
    near = edge_m < edge.si()
    limit = 0.0 if near else row["value"] * depth_m * MILLI
    notes = [ENGINEER]
    if near:
        notes.insert(
            0,
            f"The rim is {edge_m * MILLI:.0f} mm from the edge; at least {edge.si() * MILLI:.0f} "
            "mm must stay, so no hole is allowed here.",
        )
    return Working(
        "Hole in a joist",
        "d_max = k * D",
        (row.shown("k", "share of the depth"), Value("D", "joist depth", depth_m * MILLI, "mm")),
        Value("d", "hole", hole_m * MILLI, "mm"),
        (row.basis(), edge.basis()),
        Value("d_max", "greatest hole", limit, "mm"),
        notes=tuple(notes),
    )


def largest_hole(depth_m: float) -> Working:
    """Greatest hole in a sawn joist, rounded down to a sixteenth of an inch.

    Parameters
    ----------
    depth_m : actual depth of the joist, m, above zero

    Returns in. Source: IRC R502.8.1, a third of the depth.
    """
    positive("depth_m", depth_m, "m")
    row = fact("wood_joist_limits", "hole_diameter")
    inches = depth_m / INCH
    value = int(inches * row["value"] * 16 + 1e-9) / 16
    return Working(
        "Greatest hole in a joist",
        "d = floor(16 * k * D) / 16",
        (row.shown("k", "share of the depth"), Value("D", "joist depth", inches, "in")),
        Value("d", "hole", value, "in", 6),
        (row.basis(),),
        notes=(ENGINEER,),
    )


def notched_shear(
    breadth_m: float, depth_m: float, left_m: float, shear_strength_pa: float, edition: str = "2001 and later"
) -> Working:
    """Shear that a beam notched on the tension side at its end carries.

    Parameters
    ----------
    breadth_m : breadth, m, above zero
    depth_m : depth without the notch, m, above zero
    left_m : depth left at the notch, m, above zero, at most the depth
    shear_strength_pa : adjusted shear strength, Pa, above zero
    edition : '2001 and later' (exponent 2) or 'older' (exponent 1)

    Returns kN. Source: NDS 3.4.3.2(a), V = (2/3) Fv b dn (dn/d)^e; the older form from a university lecture.
    """
    positive("breadth_m", breadth_m, "m")
    positive("depth_m", depth_m, "m")
    within("left_m", left_m, 1e-6, depth_m, "m", "what is left can't exceed the depth")
    positive("shear_strength_pa", shear_strength_pa, "Pa")
    choice("edition", edition, ("2001 and later", "older"))
    exponent = fact(
        "floor_rules", "shear_exponent_new" if edition == "2001 and later" else "shear_exponent_old"
    )
    factor = fact("floor_rules", "shear_factor")
    value = (
        factor["value"]
        * shear_strength_pa
        * breadth_m
        * left_m
        * (left_m / depth_m) ** exponent["value"]
        / MILLI
    )
    return Working(
        f"Shear of a notched beam, {edition}",
        "V = k * F_v * b * d_n * (d_n / d)^e / 1000",
        (
            factor.shown("k", "mean over greatest shear"),
            Value("F_v", "shear strength", shear_strength_pa / 1e6, "N/mm²"),
            Value("b", "breadth", breadth_m * MILLI, "mm"),
            Value("d_n", "depth left", left_m * MILLI, "mm"),
            Value("d", "depth", depth_m * MILLI, "mm"),
            exponent.shown("e", "exponent"),
        ),
        Value("V", "shear", value, "kN"),
        (exponent.basis(), factor.basis()),
        notes=(ENGINEER,),
    )


def section_left(depth_m: float, notch_m: float) -> Working:
    """Share of the bending strength (section modulus) that a notch leaves.

    Parameters
    ----------
    depth_m : depth, m, above zero
    notch_m : depth of the notch, m, zero or more and below the depth

    Returns per cent; stiffness (second moment of area) stands under 'also'. Source: beam theory.
    """
    positive("depth_m", depth_m, "m")
    not_negative("notch_m", notch_m, "m")
    if notch_m >= depth_m:
        raise Problem("The notch is as deep as the joist; check it.", "notch_m")
    left = (depth_m - notch_m) / depth_m
    return Working(
        "Bending strength left beside a notch",
        "S = 100 * ((D - n) / D)^2",
        (Value("D", "depth", depth_m * MILLI, "mm"), Value("n", "notch", notch_m * MILLI, "mm")),
        Value("S", "section modulus left", 100 * left**2, "%"),
        (BEAM,),
        notes=(ENGINEER,),
        also=(Value("I", "second moment of area left", 100 * left**3, "%"),),
    )


def stress_at_notch(position: float, left: float) -> Working:
    """Bending stress at a notch over that in the middle of the uncut span, uniform load.

    Parameters
    ----------
    position : distance from the bearing as a share of the span, 0 to 0.5
    left : depth left as a share of the depth, above 0, at most 1

    Returns the ratio against 1. Source: beam theory, moment 4x(1-x) of the middle, section modulus with the
    square.
    """
    within("position", position, 0.0, 0.5, "", "a share of the span from the nearer bearing")
    within("left", left, 1e-3, 1.0, "", "a share of the depth")
    return Working(
        "Stress at a notch over mid-span",
        "q = 4 * x * (1 - x) / h^2",
        (Value("x", "position", position), Value("h", "depth left", left)),
        Value("q", "stress ratio", 4 * position * (1 - position) / left**2),
        (BEAM,),
        Value("", "equal to mid-span", 1.0),
        notes=(
            "A notch of a sixth at a third of the span, which the rule allows, carries 1.28 times the mid-span stress.",
            ENGINEER,
        ),
    )


def opening_framing(header_span_m: float, trimmer_distance_m: float, tail_joist_m: float = 0.0) -> Working:
    """What the prescriptive rule asks around an opening that cuts joists.

    Parameters
    ----------
    header_span_m : span of the header between trimmers, m, above zero
    trimmer_distance_m : distance of the header from the bearing of the trimmer, m, zero or more
    tail_joist_m : length of the longest tail joist, m, zero or more

    Returns m against 4 ft (1219 mm), up to which a single header of joist size may serve; notes name what
    else is due.
    Source: IRC R502.10, from memory; dwellings.
    """
    positive("header_span_m", header_span_m, "m")
    not_negative("trimmer_distance_m", trimmer_distance_m, "m")
    not_negative("tail_joist_m", tail_joist_m, "m")
    single, near, hangers, tail = (
        fact("floor_openings", k)
        for k in ("header_single", "trimmer_single", "hangers_from", "tail_anchor_from")
    )
    notes = [ENGINEER]
    if header_span_m > single.si():
        notes.append("Header and trimmers double.")
    elif trimmer_distance_m > near.si():
        notes.append("Trimmers double: the header is more than 3 ft from their bearing.")
    if header_span_m > hangers.si():
        notes.append("Joist hangers between header and trimmers.")
    if tail_joist_m > tail.si():
        notes.append("Tail joists on framing anchors or a ledger.")
    return Working(
        "Header of an opening",
        "L against 4 ft",
        (Value("L", "header span", header_span_m, "m"),),
        Value("L", "header span", header_span_m, "m"),
        (single.basis(), near.basis(), hangers.basis(), tail.basis()),
        Value("", "single header up to", single.si(), "m"),
        notes=tuple(notes),
    )
