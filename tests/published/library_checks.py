"""The same figure by another way, worked by numpy, shapely or pint, which know nothing of this project."""

from collections.abc import Callable, Iterator

import numpy as np
import pint
from published.check import Check, also, result
from shapely.geometry import box

from stagefloor.calculations import analogue, floor, joists, labour

LIBRARY = "worked by an independent library"
UREG = pint.UnitRegistry()


def library_checks() -> Iterator[Check]:
    """Circuits by node equations, beams and spreads by integration, plane figures by their shapes."""
    low, likely, high = 14.0, 22.0, 26.0
    x = np.linspace(low, high, 400_001)
    density = np.where(x < likely, (x - low) / (likely - low), (high - x) / (high - likely))
    mean = np.average(x, weights=density)
    spread = np.sqrt(np.average((x - mean) ** 2, weights=density))
    yield _check("triangular", "numpy: integration", "mean", mean, result(labour.triangular, 14, 22, 26))
    yield _check("triangular", "numpy: integration", "deviation", spread, also(0, labour.triangular, 14, 22, 26))
    nodes = "numpy: node equations"
    for hertz, corner in ((20e3, 40e3), (5e3, 8e3)):
        capacity = 1 / (2 * np.pi * corner)  # behind one ohm
        loss = -20 * np.log10(abs(np.linalg.solve([[1 + 2j * np.pi * hertz * capacity]], [1.0])[0]))
        yield _check("roll-off", nodes, f"{hertz:g} Hz", loss, result(analogue.roll_off, hertz, corner))
    at_load = np.linalg.solve([[1 / 150 + 1 / 1500]], [1 / 150])[0]
    lost = -20 * np.log10(at_load)
    yield _check("bridging-loss", nodes, "150 and 1500 ohm", lost, result(analogue.bridging_loss, 150, 1500))
    legs = np.linalg.solve(np.diag([1e4 + 10, 1e4]), [1e4, 1e4])  # share of the common voltage on each leg
    left = -20 * np.log10(legs[1] - legs[0])
    yield _check("balance-lost", nodes, "10 kohm and 10 ohm", left, result(analogue.balance_lost, 1e4, 10), 0.01,
                 "the short formula leaves out the extra resistance beside 10 kohm")  # fmt: skip
    pair, screen = 100.0, 200.0  # pF/m; the screen floats, legs driven at +1/2 and -1/2
    float_screen = np.linalg.solve([[2 * screen]], [screen * 0.5 - screen * 0.5])[0]
    charge = pair * 1.0 + screen * (0.5 - float_screen)
    yield _check("differential-capacitance", nodes, "100 and 200 pF/m", charge,
                 result(analogue.differential_capacitance, pair * 1e-12, screen * 1e-12))  # fmt: skip
    whole, cut = _second_moment(6.0), _second_moment(5.0)
    beam = "numpy: integration over the section"
    yield _check("section-left", beam, "a sixth cut, stiffness", 100 * cut / whole, also(0, joists.section_left, 6, 1))
    yield _check("section-left", beam, "a sixth cut, strength", 100 * (cut / 2.5) / (whole / 3.0),
                 result(joists.section_left, 6, 1))  # fmt: skip
    moment = _moment(1 / 3) / _moment(0.5)
    yield _check("stress-at-notch", "numpy: integration of the shear", "a sixth cut at a third",
                 moment / ((cut / 2.5) / (whole / 3.0)), result(joists.stress_at_notch, 1 / 3, 5 / 6))  # fmt: skip
    shapes = "shapely: area and distance of shapes"
    squares = sum(box(0, 0, d, d).area for d in (6, 6, 8))
    yield _check("cable-exit", shapes, "6, 6, 8 mm", squares, result(floor.cable_exit, [0.006, 0.006, 0.008], 8e-4))
    room = box(31.75, 0, 336.55, 100).distance(box(-38, 0, 0, 100))
    yield _check("cutout-in-bay", shapes, "12 in in 14.5 in", room, result(floor.cutout_in_bay, 0.3048, 0.3683))
    spread_load = (UREG.Quantity(2.4, "kN") / UREG.Quantity(0.58, "m**2")).to("kPa").magnitude
    yield _check("deck-load", "pint: force over area", "2.4 kN on 0.58 m2", spread_load,
                 result(floor.deck_load, 2400, 0.58, 7180))  # fmt: skip


def _check(name: str, source: str, what: str, found: float, value: Callable[[], float], tolerance: float | None = None,
           reason: str = "") -> Check:  # fmt: skip
    return Check(name, source, what, f"{found:.4f}", value, tolerance, reason, LIBRARY)


def _second_moment(depth: float) -> float:
    y = np.linspace(-depth / 2, depth / 2, 200_001)
    return float(np.trapezoid(y**2, y))


def _moment(position: float) -> float:
    x = np.linspace(0, position, 200_001)
    return float(np.trapezoid(0.5 - x, x))


