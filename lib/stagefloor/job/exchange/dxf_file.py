"""Outlines of a DXF drawing: what stands in its model space on layers that are on, blocks unfolded, curves flattened."""

import io

from ezdxf import path, recover, units
from ezdxf.document import Drawing
from ezdxf.enums import InsertUnits
from ezdxf.filemanagement import read
from ezdxf.math import Vec3

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.dxf_visible import MOST_UNFOLDED, PARTS, Visible
from stagefloor.job.exchange.outlines import FINENESS, MOST_POINTS, Budget, Outlines, on_grid

MOST_ENTITIES = 100_000  # in the file
FARTHEST = 1e12  # drawing units from the origin: what lies beyond, or nowhere, is a slip and would make all else one point
NO_DXF = "is no DXF drawing that can be read, or it is cut off; save it as DXF (ASCII) again, or save the sheet as a PDF."
CURVES = {"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE", "SOLID", "TRACE", "3DFACE"}
UNIT_WORDS = {1: "inches", 2: "feet", 3: "miles", 4: "millimetres", 5: "centimetres", 6: "metres", 7: "kilometres",
              10: "yards", 14: "decimetres"}


def outlines(data: bytes, name: str) -> Outlines:
    """The outlines of a DXF drawing; its header's units ($INSUNITS) tell the length of its unit, if they tell one."""
    if b"Binary DXF" in data[:40]:
        raise Problem(f"{name} is a binary DXF; save it as DXF (ASCII).")
    if not data.rstrip().endswith(b"EOF"):
        raise Problem(f"{name} {NO_DXF}")
    codes = data.splitlines()[::2]
    if sum(code.strip() == b"0" for code in codes) > MOST_ENTITIES:
        raise Problem(f"{name} has more than {MOST_ENTITIES:,} parts; delete what is not needed (furniture, hatching, "
                      "text), and save it again, or save the sheet as a PDF.")
    try:
        document = _document(data)
        lines = _lines(document, name)
        unit = int(document.header.get("$INSUNITS", 0))
        metres = units.conversion_factor(InsertUnits(unit), InsertUnits.Meters) if unit in UNIT_WORDS else None
    except Problem:
        raise
    except Exception:  # a foreign reader on a foreign file: whatever it stumbles over, the file can't be read
        raise Problem(f"{name} {NO_DXF}") from None
    return on_grid(lines, name, down=False, metres=metres, unit=UNIT_WORDS.get(unit, ""))


def _document(data: bytes) -> Drawing:
    try:
        return read(io.StringIO(data.decode("utf-8"), newline=None))  # twice as fast, for a drawing without a fault
    except Exception:  # of an older encoding, or with something to be mended
        return recover.read(io.BytesIO(data))[0]


def _lines(document: Drawing, name: str) -> list[list[tuple[float, float]]]:
    budget = Budget(name, MOST_UNFOLDED, PARTS)
    found = []
    for entity in Visible(document, name).parts():
        budget.spend()  # dimensions unfold to more than they were counted for
        if entity.dxftype() in CURVES:
            one = path.make_path(entity)
            if all(map(_near, one.control_vertices())):
                found.append(one)
    corners = [v for one in found for v in one.control_vertices()]
    if not corners:
        return []
    longest = max(max(v.x for v in corners) - min(v.x for v in corners),
                  max(v.y for v in corners) - min(v.y for v in corners))
    points = Budget(name, MOST_POINTS, "points, curves flattened")
    lines = []
    for one in found:
        for part in one.sub_paths():
            line = []
            for v in part.flattening(max(longest / FINENESS, 1e-12)):
                points.spend()
                line.append((v.x, v.y))
            lines.append(line)
    return lines


def _near(v: Vec3) -> bool:
    """False too where a number is none: a curve there is flattened without end."""
    return all(abs(n) < FARTHEST for n in (v.x, v.y, v.z))
