"""Volume of outlet boxes: what the contents need, each barriered space by itself, and standard sizes."""

from collections.abc import Mapping, Sequence

from stagefloor.calculations.inputs import positive, whole
from stagefloor.core.problems import Problem
from stagefloor.core.units import INCH
from stagefloor.core.workings import Basis, Value, Working
from stagefloor.reference.tables import load

ELECTRICIAN = "For the licensed electrician to confirm."


def box_fill(
    conductors: Mapping[str, int],
    *,
    yokes: Sequence[str] = (),
    clamps: bool = False,
    grounds: int = 0,
    largest_ground: str = "",
    fittings: int = 0,
    volume_m3: float | None = None,
) -> Working:
    """Volume that the contents of one outlet box, or of one barriered space of it, must have.

    Parameters
    ----------
    conductors : number of conductors from outside by gauge, such as {'12': 4}; loops and pass-throughs
        counted by the rules
    yokes : gauge of the largest conductor on each yoke (a device wider than one gang twice)
    clamps : whether there are internal clamps
    grounds : number of equipment grounding conductors, zero or more
    largest_ground : gauge of the largest of them
    fittings : kinds of studs and hickeys, zero or more
    volume_m3 : marked volume of the box or space, m3, above zero, if known

    Returns cubic inches. Raises Problem for a gauge that is not in the table. Each barriered space is
    counted by itself.
    Source: NFPA 70 314.16(B); a quarter for each ground beyond four since 2020.
    """
    table, rules = load("nec_314_16_allowances"), load("nec_314_16_counts")
    counted = {g: whole("conductors", n) for g, n in conductors.items()}
    gauges = [g for g, n in counted.items() if n] or list(yokes)
    if not gauges and not grounds:
        raise Problem("The outlet box is empty; give at least one conductor.", "conductors")
    biggest = max((table.row(g)["volume"] for g in [*gauges, *yokes]), default=0.0)
    wires = sum(n * rules.row("conductor")["value"] * table.row(g)["volume"] for g, n in counted.items() if n)
    devices = sum(rules.row("yoke")["value"] * table.row(g)["volume"] for g in yokes)
    clamp = rules.row("clamps")["value"] * biggest if clamps else 0.0
    stud = rules.row("stud")["value"] * biggest * whole("fittings", fittings)
    number = whole("grounds", grounds)
    ground = 0.0
    if number:
        each = table.row(largest_ground or (gauges[0] if gauges else ""))["volume"]
        ground = each * (
            rules.row("grounds_up_to_four")["value"]
            + rules.row("ground_beyond_four")["value"] * max(number - 4, 0)
        )
    total = wires + devices + clamp + stud + ground
    limit = (
        None
        if volume_m3 is None
        else Value("", "marked volume", positive("volume_m3", volume_m3, "m3") / INCH**3, "in³")
    )
    return Working(
        "Volume of an outlet box",
        "V = w + d + c + s + g",
        (
            Value("w", "conductors", wires, "in³"),
            Value("d", "devices, two allowances a yoke", devices, "in³"),
            Value("c", "internal clamps", clamp, "in³"),
            Value("s", "studs and hickeys", stud, "in³"),
            Value("g", "grounding conductors", ground, "in³"),
        ),
        Value("V", "volume needed", total, "in³"),
        (Basis("NFPA 70 314.16(B) and its table"), rules.row("ground_beyond_four").basis()),
        limit,
        notes=("Each barriered space is counted by itself.", ELECTRICIAN),
    )


def outlet_box(size: str, shape: str) -> Working:
    """Volume of a standard outlet box.

    Parameters
    ----------
    size : size as the table prints it, such as 4x1-1/2
    shape : square, octagonal or device

    Returns cubic inches. Source: NFPA 70 Table 314.16(A).
    """
    row = load("nec_314_16_boxes").row(size, shape)
    return Working(
        "Volume of a standard outlet box",
        "table look-up",
        (),
        row.shown("V", "volume", "volume"),
        (row.basis(),),
    )
