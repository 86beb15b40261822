"""The floor that a floor box goes into: bays, lids and the deck beside them, slabs, levels, room for plugs.

A slab is 'stop, unknown' until it is known. Cuts in joists stand in `joists`.
"""

from math import pi

from stagefloor.calculations.inputs import not_negative, positive, whole, within
from stagefloor.core.problems import Problem
from stagefloor.core.units import POUND, STANDARD_GRAVITY
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import fact

MILLI = 1000.0
GEOMETRY = Basis("plane geometry", ARITHMETIC)


def clear_bay(spacing_m: float, joist_width_m: float) -> Working:
    """Clear width between two joists.

    Parameters
    ----------
    spacing_m : centre to centre, m, above zero
    joist_width_m : breadth of a joist, m, above zero and below the spacing

    Returns m. Raises Problem if the joists would touch. Source: geometry.
    """
    positive("spacing_m", spacing_m, "m")
    positive("joist_width_m", joist_width_m, "m")
    if joist_width_m >= spacing_m:
        raise Problem(
            f"Joists of {joist_width_m * MILLI:.0f} mm at {spacing_m * MILLI:.0f} mm centres leave no bay; check both.",
            "joist_width_m",
        )
    return Working(
        "Clear bay",
        "c = s - b",
        (Value("s", "joist spacing", spacing_m, "m"), Value("b", "joist breadth", joist_width_m, "m")),
        Value("c", "clear bay", spacing_m - joist_width_m, "m"),
        (GEOMETRY,),
    )


def cutout_in_bay(cutout_m: float, bay_m: float) -> Working:
    """Room beside a cutout centred in a bay, each side, against half an inch.

    Parameters
    ----------
    cutout_m : width of the cutout across the joists, m, above zero
    bay_m : clear bay, m, above zero

    Returns mm each side, negative if it does not fit. Source: common practice, no source.
    """
    positive("cutout_m", cutout_m, "m")
    positive("bay_m", bay_m, "m")
    least = fact("floor_rules", "cutout_clear")
    return Working(
        "Room beside a cutout",
        "e = (c - w) / 2",
        (Value("c", "clear bay", bay_m * MILLI, "mm"), Value("w", "cutout", cutout_m * MILLI, "mm")),
        Value("e", "room each side", (bay_m - cutout_m) / 2 * MILLI, "mm"),
        (least.basis(),),
        Value("", "least", least.si() * MILLI, "mm"),
        ">=",
    )


def lid_load(load_n: float, rated_n: float, margin: float = 1.5) -> Working:
    """Worst wheel or leg on a lid, with a margin, against the load that its data sheet gives.

    Parameters
    ----------
    load_n : worst wheel, leg or heel, N, above zero
    rated_n : load that the data sheet gives for the lid, N, above zero
    margin : factor on the load, 1 or more

    Returns N. Source: margin 1.5 is common practice, no source. Wood decks have given way beside a lid
    before the floor box
    did: check the deck, an anecdote is not a rating.
    """
    positive("load_n", load_n, "N")
    positive("rated_n", rated_n, "N")
    within("margin", margin, 1.0, 10.0, "", "a margin on a load is 1 or more")
    usual = fact("floor_rules", "lid_margin")
    return Working(
        "Load on a lid",
        "F = m * P",
        (Value("m", "margin", margin), Value("P", "worst wheel or leg", load_n, "N")),
        Value("F", "load with margin", margin * load_n, "N"),
        (
            usual.basis()
            if margin == usual["value"]
            else Basis("margin chosen for this job", "this job's own value"),
        ),
        Value("", "load of the data sheet", rated_n, "N"),
        notes=(
            "Check the deck beside the lid as well: wood decks have given way before the floor "
            "box did (anecdotes, not a rating).",
        ),
    )


def contact_pressure(load_n: float, patch_m2: float, strength_pa: float | None = None) -> Working:
    """Pressure under a wheel, leg or heel, against a bearing strength if there is one.

    Parameters
    ----------
    load_n : load, N, zero or more
    patch_m2 : area of contact, m2, above zero
    strength_pa : pressure that the surface bears, Pa, above zero, if known

    Returns MPa. Source: P = F / A.
    """
    not_negative("load_n", load_n, "N")
    positive("patch_m2", patch_m2, "m2")
    limit = (
        None
        if strength_pa is None
        else Value("", "surface bears", positive("strength_pa", strength_pa, "Pa") / 1e6, "MPa")
    )
    return Working(
        "Contact pressure",
        "p = F / A",
        (Value("F", "load", load_n, "N"), Value("A", "contact", patch_m2 * 1e6, "mm²")),
        Value("p", "pressure", load_n / patch_m2 / 1e6, "MPa"),
        (Basis("mechanics", ARITHMETIC),),
        limit,
    )


def deck_load(load_n: float, area_m2: float, uniform_pa: float) -> Working:
    """A load spread over the deck that carries it, against the uniform load the floor is designed for.

    Parameters
    ----------
    load_n : load, N, zero or more
    area_m2 : area of deck that shares it, m2, above zero; the code patch is 2.5 ft x 2.5 ft
    uniform_pa : uniform live load of the floor, Pa, above zero

    Returns kPa. Source: P = F / A. A screen only: a point between joists is worse, ask the engineer.
    """
    not_negative("load_n", load_n, "N")
    positive("area_m2", area_m2, "m2")
    positive("uniform_pa", uniform_pa, "Pa")
    return Working(
        "Load on the deck beside the lid",
        "q = F / A / 1000",
        (Value("F", "load", load_n, "N"), Value("A", "area", area_m2, "m²")),
        Value("q", "spread load", load_n / area_m2 / MILLI, "kPa"),
        (Basis("mechanics", ARITHMETIC),),
        Value("", "live load of the floor", uniform_pa / MILLI, "kPa"),
        notes=("A screen: a wheel between joists is worse. Ask the engineer.",),
    )


def code_patch_pressure(load_n: float) -> Working:
    """A code concentrated load over the square it acts on, far larger than a wheel: it does not check a lid.

    Parameters
    ----------
    load_n : concentrated load of the code, N, zero or more

    Returns psf. Source: IBC 1607.4, 2.5 ft x 2.5 ft.
    """
    not_negative("load_n", load_n, "N")
    side = fact("floor_rules", "patch_side")
    pounds = load_n / (POUND * STANDARD_GRAVITY)
    return Working(
        "Code concentrated load over its patch",
        "q = F / s^2",
        (Value("F", "load", pounds, "lbf"), side.shown("s", "side of the patch")),
        Value("q", "pressure", pounds / side["value"] ** 2, "psf"),
        (side.basis(),),
        notes=("Says nothing about a lid: use the wheel or leg.",),
    )


def change_of_level(step_m: float, bevelled: bool = False) -> Working:
    """A step between lid and floor against the limit of an accessible route.

    Parameters
    ----------
    step_m : height of the step, m, zero or more
    bevelled : whether the part above 1/4 in is bevelled, not steeper than 1:2

    Returns mm. Source: 2010 ADA 303.2 and 303.3: 1/4 in vertical, 1/2 in with the part above bevelled; more
    asks a ramp.
    """
    not_negative("step_m", step_m, "m")
    row = fact("floor_rules", "level_total" if bevelled else "level_vertical")
    return Working(
        "Change of level",
        "h = step",
        (Value("h", "step", step_m * MILLI, "mm"),),
        Value("h", "step", step_m * MILLI, "mm"),
        (row.basis(),),
        Value("", "most", row.si() * MILLI, "mm"),
        notes=("Dancers ask for flush within 1 to 2 mm (common practice, no source).",),
    )


def gap_in_floor(gap_m: float) -> Working:
    """A gap or cable exit in a floor on an accessible route against the sphere it must not pass.

    Parameters
    ----------
    gap_m : width of the gap, m, zero or more

    Returns mm against half an inch. Source: 2010 ADA 302.3, from memory.
    """
    not_negative("gap_m", gap_m, "m")
    row = fact("floor_rules", "gap_sphere")
    return Working(
        "Gap in a floor",
        "g = gap",
        (Value("g", "gap", gap_m * MILLI, "mm"),),
        Value("g", "gap", gap_m * MILLI, "mm"),
        (row.basis(),),
        Value("", "most", row.si() * MILLI, "mm"),
    )


def conduit_in_slab(diameter_m: float, slab_m: float, spacing_m: float | None = None) -> Working:
    """Outside diameter of a conduit embedded in a slab against a third of its thickness.

    Parameters
    ----------
    diameter_m : outside diameter, m, above zero
    slab_m : slab thickness, m, above zero
    spacing_m : distance to the next conduit, centre to centre, m, above zero, if there is one

    Returns mm. Source: ACI 318-05 and -11 clause 6.3.5; newer editions leave it to the designer. Ask the
    engineer.
    """
    positive("diameter_m", diameter_m, "m")
    positive("slab_m", slab_m, "m")
    share, spacing = fact("floor_rules", "conduit_share"), fact("floor_rules", "conduit_spacing")
    notes = ["Newer editions give no number: the structural engineer decides."]
    if spacing_m is not None:
        least = spacing["value"] * diameter_m
        words = "kept" if positive("spacing_m", spacing_m, "m") >= least else "not kept"
        notes.insert(
            0, f"Spacing {spacing_m * MILLI:.0f} mm, three diameters are {least * MILLI:.0f} mm: {words}."
        )
    return Working(
        "Conduit in a slab",
        "d_max = k * h",
        (share.shown("k", "share of the slab"), Value("h", "slab", slab_m * MILLI, "mm")),
        Value("d", "conduit", diameter_m * MILLI, "mm"),
        (share.basis(), spacing.basis()),
        Value("d_max", "greatest", share["value"] * slab_m * MILLI, "mm"),
        notes=tuple(notes),
    )


def slab_for_box(box_depth_m: float, slab_m: float, cover_m: float | None = None) -> Working:
    """Slab thickness that a poured-in floor box needs: its depth and the cover below.

    Parameters
    ----------
    box_depth_m : depth of the floor box, m, above zero
    slab_m : slab thickness, m, above zero
    cover_m : cover below it, m, zero or more; 3/4 in if left out

    Returns mm against the slab. Source: common practice, no source; cover from ACI 318-19 (from memory).
    Ask the engineer.
    """
    positive("box_depth_m", box_depth_m, "m")
    positive("slab_m", slab_m, "m")
    row = fact("floor_rules", "slab_cover")
    cover = row.si() if cover_m is None else not_negative("cover_m", cover_m, "m")
    return Working(
        "Slab for a poured-in floor box",
        "h = t + c",
        (Value("t", "floor box", box_depth_m * MILLI, "mm"), Value("c", "cover below", cover * MILLI, "mm")),
        Value("h", "needed", (box_depth_m + cover) * MILLI, "mm"),
        (row.basis(), Basis("slab depth at least floor box and cover", "common practice, no source")),
        Value("", "slab", slab_m * MILLI, "mm"),
        notes=(
            "If it does not fit: thicken, form a pocket, or protect the underside. The engineer decides.",
        ),
    )


def openings_in_plate(width_m: float, height_m: float) -> Working:
    """D-size cutouts that a flat plate takes by the size of their flange.

    Parameters
    ----------
    width_m : clear width for openings, m, above zero
    height_m : clear height for openings, m, above zero

    Returns a count. Source: flange 26 x 31 mm from drawings, from memory; one module commonly takes four, a
    one-gang plate two.
    """
    positive("width_m", width_m, "m")
    positive("height_m", height_m, "m")
    across, along = fact("panel_openings", "d_flange_width"), fact("panel_openings", "d_flange_height")
    count = int(width_m / across.si() + 1e-9) * int(height_m / along.si() + 1e-9)
    return Working(
        "D-size cutouts in a plate",
        "n = floor(w / a) * floor(h / b)",
        (
            Value("w", "width", width_m * MILLI, "mm"),
            across.shown("a", "flange width"),
            Value("h", "height", height_m * MILLI, "mm"),
            along.shown("b", "flange height"),
        ),
        Value("n", "openings", count),
        (across.basis(),),
    )


def modules_for_openings(openings: int) -> Working:
    """Modules for a number of D-size openings, four to a module.

    Parameters
    ----------
    openings : openings needed, a whole number, zero or more

    Returns a count. Source: common practice, no source.
    """
    number = whole("openings", openings)
    each = fact("panel_openings", "d_per_module")
    return Working(
        "Modules for openings",
        "m = ceil(n / k)",
        (Value("n", "openings", number), each.shown("k", "openings in a module")),
        Value("m", "modules", -(-number // int(each["value"]))),
        (each.basis(),),
    )


def lid_clearance(
    depth_m: float, plug_m: float, cord_diameter_m: float, bend_factor: float | None = None
) -> Working:
    """Depth needed under a closed lid: mated plug and the bend of its cord, against the depth there is.

    Parameters
    ----------
    depth_m : depth from the face of the opening to the underside of the lid, m, above zero
    plug_m : length of the mated plug in front of the opening, m, above zero
    cord_diameter_m : diameter of the cord, m, above zero
    bend_factor : inside bend radius over cord diameter, above zero; 8 if left out

    Returns mm. A cord that leaves at a right angle needs its bend radius beyond the plug. Source: geometry;
    the factor
    8 is common practice, no source.
    """
    positive("depth_m", depth_m, "m")
    positive("plug_m", plug_m, "m")
    positive("cord_diameter_m", cord_diameter_m, "m")
    usual = fact("pulling", "bend_radius_factor")
    factor = usual["value"] if bend_factor is None else positive("bend_factor", bend_factor)
    need = plug_m + factor * cord_diameter_m + cord_diameter_m
    return Working(
        "Depth under a closed lid",
        "t = p + k * d + d",
        (
            Value("p", "mated plug", plug_m * MILLI, "mm"),
            Value("k", "bend radius over diameter", factor),
            Value("d", "cord", cord_diameter_m * MILLI, "mm"),
        ),
        Value("t", "needed", need * MILLI, "mm"),
        (usual.basis(), GEOMETRY),
        Value("", "depth", depth_m * MILLI, "mm"),
    )


def cable_exit(diameters_m: list[float], exit_m2: float) -> Working:
    """Area of cords that leave through the exit of a lid, against the area of the exit.

    Parameters
    ----------
    diameters_m : diameter of each cord, m, at least one, above zero
    exit_m2 : open area of the cable exit, m2, above zero

    Returns mm2; cords as squares on their diameter, since round cords leave gaps. Source: geometry, on the
    safe side.
    """
    if not diameters_m:
        raise Problem("'diameters_m' is empty; give at least one cord.", "diameters_m")
    squares = sum(positive("diameters_m", d, "m") ** 2 for d in diameters_m)
    positive("exit_m2", exit_m2, "m2")
    return Working(
        "Cords through the cable exit",
        "A = sum of d^2",
        (Value("n", "cords", len(diameters_m)),),
        Value("A", "cords", squares * 1e6, "mm²"),
        (GEOMETRY,),
        Value("", "exit", exit_m2 * 1e6, "mm²"),
        also=(Value("", "as circles", pi / 4 * squares * 1e6, "mm²"),),
    )
