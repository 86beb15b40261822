"""How full a raceway gets, which size takes the cables, its bends and the risk of jamming.

US rules count in square inches from the 100 % column of chapter 9 Table 4; the UK counts by factors or by a
space factor. Which rule binds depends on the system: see `raceway_systems`.
"""

from bisect import bisect_left
from collections.abc import Sequence
from math import floor, pi
from pathlib import Path

from stagefloor.calculations.inputs import choice, not_negative, positive, some, within
from stagefloor.core.problems import Problem
from stagefloor.core.units import INCH, number_text
from stagefloor.core.workings import ARITHMETIC, PRACTICE, Basis, Value, Working
from stagefloor.reference import tables
from stagefloor.reference.tables import Row, load

NIPPLE_LONGEST = 0.6  # m (24 in): NFPA 70 chapter 9, note 4
ROUND_UP_FROM = 0.8  # decimal part: NFPA 70 chapter 9, note 7, same-size conductors only
SQUARE_INCH = INCH**2
FULL = 100.0  # per cent
CABLE_AREA = Basis(
    "a cable counts as one conductor, a flat one as a circle on its major diameter; NFPA 70 chapter 9 notes 5 and 9"
)


def _limit_row(count: int, nipple: bool) -> Row:
    return load("nec_ch9_table1_fill").row("nipple" if nipple else str(count) if count <= 2 else "over 2")


def _system(system: str) -> Row:
    choice("system", system, load("raceway_systems").values("system"))
    return load("raceway_systems").row(system)


def raceway_row(raceway: str, trade_size: str, override: Path | None = None) -> Row:
    """The row of a raceway in the table of sizes; Problem with the nearest choice if there is none."""
    return load("nec_ch9_table4_raceways", override).row(raceway, trade_size)


def raceway_fill(
    cable_diameters_m: Sequence[float],
    raceway: str,
    trade_size: str,
    *,
    nipple: bool = False,
    system: str = "communications",
    growth: float = 0.0,
    override: Path | None = None,
) -> Working:
    """Share of a raceway's inside area that the cables take, against the limit for their number.

    Parameters
    ----------
    cable_diameters_m : outside diameter of each cable, m, above zero
    raceway : kind of raceway, such as EMT
    trade_size : trade size, such as 3/4 or 1-1/4
    nipple : whether the raceway is a nipple of at most 0.6 m (24 in)
    system : communications, fixed audio, class 2 and 3 or power; says which rule binds
    growth : share added to the cable area for later cables, 0 or more
    override : the shop's own table of raceways

    Returns the fill in per cent. Raises Problem for a size that is not in the table or an impossible
    diameter.
    Source: NFPA 70 chapter 9 Tables 1 and 4 with notes; square inches from the 100 % column.
    """
    diameters = some("cable_diameters_m", cable_diameters_m, "m")
    not_negative("growth", growth)
    rule = _system(system)
    row = raceway_row(raceway, trade_size, override)
    limit = _limit_row(len(diameters), nipple)
    cables = sum(pi / 4 * d**2 for d in diameters) / SQUARE_INCH
    binding = {
        "yes": "mandatory here",
        "no": "a design rule here, not the electrical code",
        "disputed": "disputed here: ask the inspector",
    }[rule.text("mandatory")]
    notes = [f"{system}: {rule.text('rule')} ({binding})."]
    if nipple:
        notes.append(f"Nipple: only up to {NIPPLE_LONGEST:g} m (24 in).")
    if growth:
        notes.append(
            f"Limit by the number of cables today ({len(diameters)}), with {growth:.0%} added to their area."
        )
    limit_value = limit["max_fill"]
    return Working(
        "Raceway fill",
        "F = 100 * A_c * (1 + g) / A_r",
        (
            Value("A_c", f"area of {len(diameters)} cables", cables, "in²"),
            Value("g", "share kept for growth", growth),
            row.shown("A_r", f"inside area of {raceway} {trade_size}", "area_100"),
        ),
        Value("F", "fill", FULL * cables * (1 + growth) / row["area_100"], "%", 3),
        (limit.basis(), row.basis(), rule.basis(), CABLE_AREA),
        Value("", "limit", limit_value, "%", 3),
        notes=tuple(notes),
    )


def smallest_trade_size(
    cable_diameters_m: Sequence[float],
    raceway: str,
    *,
    growth: float = 0.0,
    nipple: bool = False,
    system: str = "communications",
    override: Path | None = None,
) -> tuple[str, Working]:
    """The smallest trade size of a raceway that takes the cables with room to grow, and its fill.

    Parameters
    ----------
    cable_diameters_m : outside diameter of each cable, m, above zero
    raceway : kind of raceway, such as EMT
    growth : share added to the cable area, 0 or more
    nipple : whether the raceway is a nipple of at most 0.6 m (24 in)
    system : communications, fixed audio, class 2 and 3 or power
    override : the shop's own table of raceways

    Returns (trade size, Working of its fill). Raises Problem if none is large enough or the raceway is
    unknown.
    """
    table = load("nec_ch9_table4_raceways", override)
    choice("raceway", raceway, table.values("raceway"))
    rows = sorted((r for r in table if r.key[0] == raceway), key=lambda r: r["area_100"])

    def fill(row: Row) -> Working:
        return raceway_fill(
            cable_diameters_m,
            raceway,
            row.key[1],
            nipple=nipple,
            system=system,
            growth=growth,
            override=override,
        )

    # the limit is the same for every size, so that what fits one fits every larger one
    first = bisect_left(rows, True, key=lambda row: fill(row).holds is True)
    if first < len(rows):
        return rows[first].key[1], fill(rows[first])
    raise Problem(
        f"{len(cable_diameters_m)} cables with {growth:.0%} growth do not fit the largest {raceway} in the "
        f"table, trade size {rows[-1].key[1]}; share them between two raceways.",
        "raceway",
    )


def trade_size(
    cable_diameters_m: Sequence[float],
    raceway: str,
    *,
    growth: float = 0.0,
    nipple: bool = False,
    system: str = "communications",
) -> Working:
    """The fill of the smallest raceway that takes the cables, with its trade size in the name.

    Parameters
    ----------
    cable_diameters_m : outside diameter of each cable, m, above zero
    raceway : kind of raceway, such as EMT
    growth : share added to the cable area, 0 or more
    nipple : whether the raceway is a nipple of at most 0.6 m (24 in)
    system : communications, fixed audio, class 2 and 3 or power

    Returns the fill in per cent. Raises Problem if none is large enough. Source: as raceway_fill.
    """
    size, found = smallest_trade_size(cable_diameters_m, raceway, growth=growth, nipple=nipple, system=system)
    return Working(
        f"Smallest {raceway}: trade size {size}, its fill",
        found.formula,
        found.inputs,
        found.result,
        found.basis,
        found.limit,
        notes=found.notes,
    )


def conductor_count(
    raceway: str, trade_size: str, conductor_area_m2: float, *, nipple: bool = False
) -> Working:
    """Greatest number of conductors of one size in a raceway.

    Parameters
    ----------
    raceway : kind of raceway, such as EMT
    trade_size : trade size, such as 3/4
    conductor_area_m2 : area of one conductor with its insulation, m2, above zero
    nipple : whether the raceway is a nipple of at most 0.6 m (24 in)

    Returns a whole number. Raises Problem for a size that is not in the table.
    Source: NFPA 70 chapter 9 Tables 1 and 4, note 7: a decimal part of 0.8 or more counts as one more.
    """
    positive("conductor_area_m2", conductor_area_m2, "m2")
    row = raceway_row(raceway, trade_size)
    area = conductor_area_m2 / SQUARE_INCH
    full = row["area_100"]

    def most(limit: Row) -> int:
        return floor(limit["max_fill"] / FULL * full / area + 1 - ROUND_UP_FROM + 1e-9)

    limit = _limit_row(3, nipple)
    number = most(limit)
    if number <= 2 and not nipple:
        two = most(_limit_row(2, False)) >= 2
        limit = _limit_row(2 if two else 1, False)
        number = 2 if two else min(most(limit), 1)
    return Working(
        "Conductors of one size in a raceway",
        "n = floor(p / 100 * A_r / A_w + 0.2)" + (", at most 1" if number < 2 and not nipple else ""),
        (
            Value("p", "fill limit", limit["max_fill"], "%"),
            row.shown("A_r", f"inside area of {raceway} {trade_size}", "area_100"),
            Value("A_w", "area of one conductor", area, "in²"),
        ),
        Value("n", "conductors", number),
        (limit.basis(), row.basis(), Basis("NFPA 70 chapter 9 note 7: round up from 0.8")),
    )


def conductor_area(kind: str, awg: str) -> Row:
    """The row of an insulated conductor in chapter 9 Table 5; Problem with the nearest choice if none."""
    return load("nec_ch9_table5_conductors").row(kind, awg)


def trunking_fill(
    cable_diameters_m: Sequence[float],
    width_m: float,
    height_m: float,
    *,
    growth: float = 0.0,
    space_factor: float = 0.45,
) -> Working:
    """Share of a trunking's inside area that the cables take, against a space factor.

    Parameters
    ----------
    cable_diameters_m : outside diameter of each cable, m, above zero
    width_m : inside width, m, above zero
    height_m : inside height, m, above zero
    growth : share added to the cable area, 0 or more
    space_factor : limit as a share, 0 to 1; 0.45 is the UK guidance

    Returns the fill in per cent. Source: UK wiring guidance, 45 % of the internal area.
    """
    diameters = some("cable_diameters_m", cable_diameters_m, "m")
    positive("width_m", width_m, "m")
    positive("height_m", height_m, "m")
    not_negative("growth", growth)
    within("space_factor", space_factor, 0.01, 1.0, "", "a space factor is a share of the inside area")
    published = tables.fact("iec_rules", "trunking_space_factor")
    own = Basis("space factor chosen for this job", PRACTICE)
    cables = sum(pi / 4 * d**2 for d in diameters) * 1e6
    inside = width_m * height_m * 1e6
    return Working(
        "Trunking fill",
        "F = 100 * A_c * (1 + g) / (w * h)",
        (
            Value("A_c", f"area of {len(diameters)} cables", cables, "mm²"),
            Value("g", "share kept for growth", growth),
            Value("w", "inside width", width_m * 1000, "mm"),
            Value("h", "inside height", height_m * 1000, "mm"),
        ),
        Value("F", "fill", FULL * cables * (1 + growth) / inside, "%", 3),
        (published.basis() if space_factor * FULL == published["value"] else own,),
        Value("", "limit", space_factor * FULL, "%", 3),
        also=(
            Value("A_max", "area that the space factor allows", space_factor * inside, "mm²"),
            Value("q", "taken of it", FULL * cables * (1 + growth) / (space_factor * inside), "%", 3),
        ),
    )


def conduit_space(
    cable_diameters_m: Sequence[float],
    inside_m: float,
    *,
    growth: float = 0.0,
    space_factor: float = 0.45,
) -> Working:
    """Share of a round conduit's inside area that the cables take, against a space factor.

    Parameters
    ----------
    cable_diameters_m : outside diameter of each cable, m, above zero
    inside_m : inside diameter of the conduit, m, above zero
    growth : share added to the cable area, 0 or more
    space_factor : limit as a share, 0 to 1; UK guidance gives 0.45 in one guide and 0.35 in another

    Returns the fill in per cent. Source: UK wiring guidance; the sources differ, so that the note names both.
    """
    diameters = some("cable_diameters_m", cable_diameters_m, "m")
    positive("inside_m", inside_m, "m")
    not_negative("growth", growth)
    within("space_factor", space_factor, 0.01, 1.0, "", "a space factor is a share of the inside area")
    high, low = (tables.fact("iec_rules", f"conduit_space_factor_{end}") for end in ("high", "low"))
    cables = sum(pi / 4 * d**2 for d in diameters) * 1e6
    known = space_factor * FULL in (high["value"], low["value"])
    return Working(
        "Conduit fill by space factor",
        "F = 100 * A_c * (1 + g) / (0.7853981633974483 * D^2)",
        (
            Value("A_c", f"area of {len(diameters)} cables", cables, "mm²"),
            Value("g", "share kept for growth", growth),
            Value("D", "inside diameter", inside_m * 1000, "mm"),
        ),
        Value("F", "fill", FULL * cables * (1 + growth) / (pi / 4 * (inside_m * 1000) ** 2), "%", 3),
        (high.basis() if known else Basis("space factor chosen for this job", PRACTICE),),
        Value("", "limit", space_factor * FULL, "%", 3),
        notes=(f"One guide gives {high['value']:g} %, another {low['value']:g} % for types that it does not list.",),
    )


def trunking_factors(conductors: Sequence[str], insulation: str) -> Working:
    """Sum of the UK cable factors, and the smallest listed trunking that takes it.

    Parameters
    ----------
    conductors : size of each conductor in mm2 as the table prints it, such as 4 or 1.5 solid
    insulation : thermoplastic or thermosetting

    Returns the sum of factors; the smallest trunking stands under 'also' and in the limit.
    Raises Problem for a size that is not in the table, or if no listed trunking is large enough.
    Source: UK On-Site Guide, appendix E.
    """
    table = load("uk_trunking_cable_factors")
    choice("insulation", insulation, table.values("insulation"))
    if not conductors:
        raise Problem("'conductors' is empty; give at least one size in mm2.", "conductors")
    rows = [table.row(c, insulation) for c in conductors]
    total = sum(r["factor"] for r in rows)
    fits = sorted(
        (r for r in load("uk_trunking_capacity") if r["factor"] >= total), key=lambda r: r["factor"]
    )
    if not fits:
        raise Problem(
            f"The sum of factors, {number_text(total)}, is more than the largest listed trunking takes; use two.",
            "conductors",
        )
    size = fits[0]
    return Working(
        f"Trunking by factors: {size.key[0]}",
        "S = sum of the factors",
        (Value("n", "conductors", len(rows)),),
        Value("S", "sum of factors", total),
        (rows[0].basis(), size.basis()),
        size.shown("", "capacity", "factor"),
        also=(size.shown("w", "trunking width", "width"), size.shown("h", "trunking height", "height")),
    )


def conduit_factors(
    sizes_mm2: Sequence[str], length_m: float, bends: int = 0, conductor: str = "stranded"
) -> Working:
    """Sum of the UK conduit factors, and the smallest listed conduit that takes it.

    Parameters
    ----------
    sizes_mm2 : size of each conductor in mm2 as the table prints it, such as 2.5
    length_m : length between draw points, m, above zero
    bends : right-angle bends between draw points, 0 to 4
    conductor : solid or stranded; matters for straight runs of at most 3 m only

    Returns the sum of factors; the smallest conduit stands in the name and in the limit.
    Raises Problem for a length, number of bends or size that the tables do not list, or if nothing is large
    enough.
    Source: UK On-Site Guide, appendix E. A length between two rows takes the longer row, which is on the
    safe side.
    """
    positive("length_m", length_m, "m")
    choice("conductor", conductor, ("solid", "stranded"))
    if not sizes_mm2:
        raise Problem("'sizes_mm2' is empty; give at least one size.", "sizes_mm2")
    short = bends == 0 and length_m <= tables.fact("uk_conduit_notes", "short_run").si()
    run, kind = ("short", conductor) if short else ("long", "any")
    factors = [load("uk_conduit_cable_factors").row(run, kind, s) for s in sizes_mm2]
    total = sum(r["factor"] for r in factors)
    if short:
        found = {r.key[0]: r["factor"] for r in load("uk_conduit_short_capacity")}
        basis = next(iter(load("uk_conduit_short_capacity"))).basis()
    else:
        listed = [
            r for r in load("uk_conduit_capacity") if r.key[1] == str(bends) and float(r.key[0]) >= length_m
        ]
        if not listed:
            raise Problem(
                f"The table lists no run of {length_m:g} m with {bends} bends; add a draw point.", "length_m"
            )
        row = min(listed, key=lambda r: float(r.key[0]))
        found, basis = {size: row[size] for size in ("16", "20", "25", "32")}, row.basis()
    size = next((s for s, f in found.items() if f >= total), "")
    if not size:
        raise Problem(
            f"The sum of factors, {number_text(total)}, is more than a 32 mm conduit takes on this run; "
            "use two, or add a draw point.",
            "sizes_mm2",
        )
    return Working(
        f"Conduit by factors: {size} mm",
        "S = sum of the factors",
        (
            Value("n", "conductors", len(factors)),
            Value("L", "length", length_m, "m"),
            Value("b", "bends", bends),
        ),
        Value("S", "sum of factors", total),
        (factors[0].basis(), basis),
        Value("", "capacity", found[size]),
        also=(Value("d", "conduit, outside diameter", float(size), "mm"),),
    )


def bends_between_pull_points(angles_deg: Sequence[float], edition: str = "2023") -> Working:
    """Sum of the bends between two pull points against 360 degrees.

    Parameters
    ----------
    angles_deg : angle of each bend, offset or kick, degrees, 0 to 360; empty for a straight run
    edition : edition of the US electrical code, for the clause number: 2017, 2020, 2023 or 2026

    Returns degrees. Source: NFPA 70 358.26 up to 2020, 358.24(B) in 2023, 300.24 in 2026.
    """
    for angle in angles_deg:
        within("angles_deg", angle, 0.0, 360.0, "deg", "a bend turns between 0 and 360 degrees")
    limit = tables.fact("pulling", "bends")
    label = tables.clause("bends", edition)
    return Working(
        "Bends between pull points",
        "B = sum of the bends",
        (Value("n", "bends", len(angles_deg)),),
        Value("B", "sum of bends", sum(angles_deg), "deg"),
        (Basis(f"NFPA 70 {label} (EMT; {edition})", limit.status),),
        Value("", "limit", limit["value"], "deg"),
    )


def jam_ratio(inside_diameter_m: float, cable_diameter_m: float, model: str = "NEC note") -> Working:
    """Ratio of raceway to cable diameter for three equal cables, and the band in which they may jam.

    Parameters
    ----------
    inside_diameter_m : inside diameter of the raceway, m, above zero
    cable_diameter_m : outside diameter of each of the three cables, m, above zero and below the raceway's
    model : 'NEC note' (2.8 to 3.2) or 'cable manual' (1.05 for bends, 2.6 to 2.9)

    Returns the ratio; a note says whether it is inside the band. No limit: it is a risk, not a rule.
    Source: NFPA 70 chapter 9 Table 1 informational note 2; cable manuals. Two models that differ.
    """
    positive("inside_diameter_m", inside_diameter_m, "m")
    positive("cable_diameter_m", cable_diameter_m, "m")
    choice("model", model, ("NEC note", "cable manual"))
    if cable_diameter_m >= inside_diameter_m:
        raise Problem(
            f"A cable of {cable_diameter_m * 1000:.1f} mm does not enter a raceway of "
            f"{inside_diameter_m * 1000:.1f} mm; check both diameters.",
            "cable_diameter_m",
        )
    if model == "NEC note":
        widening, low, high = 1.0, tables.fact("pulling", "jam_low"), tables.fact("pulling", "jam_high")
    else:
        widening = tables.fact("pulling", "jam_bend")["value"]
        low, high = tables.fact("pulling", "jam_worst_low"), tables.fact("pulling", "jam_worst_high")
    ratio = widening * inside_diameter_m / cable_diameter_m
    inside = low["value"] <= ratio <= high["value"]
    words = "inside" if inside else "outside"
    return Working(
        "Jam ratio of three equal cables",
        "J = k * D / d",
        (
            Value("k", "widening in a bend", widening),
            Value("D", "raceway inside", inside_diameter_m * 1000, "mm"),
            Value("d", "cable outside", cable_diameter_m * 1000, "mm"),
        ),
        Value("J", "jam ratio", ratio),
        (low.basis(),),
        notes=(
            f"{words} the band {low['value']:g} to {high['value']:g}"
            + (": choose another size, or pull with care." if inside else "."),
            "Holds for three equal cables; four or more are very unlikely to jam.",
        ),
    )


def jam_risk(working: Working) -> bool:
    """Whether a jam ratio lies inside the band of its model."""
    return working.notes[0].startswith("inside")


def area_of(diameters_m: Sequence[float]) -> Working:
    """Area of cables side by side, each as a circle on its diameter.

    Parameters
    ----------
    diameters_m : outside diameter of each cable, m, above zero

    Returns m2 shown in mm2. Source: plane geometry.
    """
    diameters = some("diameters_m", diameters_m, "m")
    return Working(
        "Cable area",
        "A = sum of pi / 4 * d^2",
        (Value("n", "cables", len(diameters)),),
        Value("A", "area", sum(pi / 4 * d**2 for d in diameters) * 1e6, "mm²"),
        (Basis("plane geometry", ARITHMETIC),),
    )
