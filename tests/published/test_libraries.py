"""Values against general-purpose libraries that know nothing of this project: pint, numpy, statistics."""

from math import exp, pi, radians
from statistics import NormalDist

import numpy as np
import pint
import pytest

from stagefloor.calculations import analogue, copper, labour, pulling, raceways
from stagefloor.core.units import KINDS, parse
from stagefloor.reference.tables import fact

UREG = pint.UnitRegistry()

# How a unit as typed is called in pint, where the two differ.
PINT_NAME = {
    "'": "foot", '"': "inch", "m2": "m**2", "mm2": "mm**2", "cm2": "cm**2", "in2": "inch**2", "sqin":
    "inch**2",
    "ft2": "foot**2", "sqft": "foot**2", "cmil": "circular_mil", "kcmil": "kilocircular_mil", "m3": "m**3",
    "cm3": "cm**3", "in3": "inch**3", "ft3": "foot**3", "l": "litre", "lbs": "lb", "t": "tonne",
    "lb/kft": "lb/kilofoot", "lb/ft": "lb/foot", "N/mm2": "N/mm**2", "kN/m2": "kN/m**2", "lbf/ft": "lbf/foot",
    "psf": "lbf/foot**2", "hr": "hour", "ohms": "ohm", "Ω": "ohm", "mohm": "milliohm", "kohm": "kiloohm",
    "Mohm": "megaohm", "mohm/m": "milliohm/m", "ohm/kft": "ohm/kilofoot", "ohm/ft": "ohm/foot",
    "pF/ft": "pF/foot", "kb/s": "kilobit/s", "Mb/s": "megabit/s", "Gb/s": "gigabit/s", "C": "degC",
    "°C": "degC",
    "VA": "V*A", "kVA": "kV*A", "g": "gram", "h": "hour", "°": "degree", "deg": "degree",
}  # fmt: skip
BASE = {
    "time": "s",
    "hours": "hour",
    "bitrate": "bit/s",
    "temperature": "degC",
    "angle": "degree",
    "apparent_power": "V*A",
}
LEFT_OUT = {"level", "percent", "per_year"}  # kinds with one unit only
UNITS = [(k, u) for k, (_, units) in KINDS.items() for u in units if k not in LEFT_OUT]


@pytest.mark.parametrize(("kind", "unit"), UNITS)
def test_factor_of_each_unit(kind, unit):
    si_unit, units = KINDS[kind]
    one = UREG.Quantity(1.0, PINT_NAME.get(unit, unit))
    assert units[unit] == pytest.approx(
        one.to(BASE.get(kind, PINT_NAME.get(si_unit, si_unit))).magnitude, rel=1e-9
    )


@pytest.mark.parametrize("fahrenheit", [-40, 32, 68, 104, 167])
def test_fahrenheit(fahrenheit):
    assert parse(f"{fahrenheit} degF", "temperature").si == pytest.approx(
        UREG.Quantity(fahrenheit, "degF").to("degC").magnitude, abs=1e-9
    )


def test_constants():
    assert (
        fact("analogue", "boltzmann")["value"] == UREG.Quantity(1, "boltzmann_constant").to("J/K").magnitude
    )
    assert fact("pulling", "gravity")["value"] == UREG.Quantity(1, "standard_gravity").to("m/s**2").magnitude


def test_copper_tension_in_metric():
    metric = UREG.Quantity(0.008, "lbf/circular_mil").to("N/mm**2").magnitude
    assert pulling.copper_tension(1e-6).result.amount == pytest.approx(metric, rel=1e-9)


@pytest.mark.parametrize("limit", [10, 17, 20, 23.5])
def test_chance_against_the_statistics_module(limit):
    found = labour.chance_within(17, 3, limit).result.amount
    assert found == pytest.approx(100 * NormalDist(17, 3).cdf(limit), abs=1e-9)


@pytest.mark.parametrize("points", [(14, 22, 26), (1, 1, 4), (2, 5, 5)])
def test_triangular_against_numerical_integration(points):
    low, likely, high = points
    x = np.linspace(low, high, 200_001)
    up = np.where(x < likely, (x - low) / max(likely - low, 1e-12), (high - x) / max(high - likely, 1e-12))
    density = up / np.trapezoid(up, x)
    mean = np.trapezoid(x * density, x)
    deviation = np.sqrt(np.trapezoid((x - mean) ** 2 * density, x))
    working = labour.triangular(low, likely, high)
    assert working.result.amount == pytest.approx(mean, abs=1e-4)
    assert working.also[0].amount == pytest.approx(deviation, abs=1e-4)


def test_capstan_against_numerical_integration():
    tension, steps = 36.0, 200_000
    part = radians(90) / steps
    factor = (1 + 0.5 * part) ** steps
    assert pulling.tension_bend(36, 90, 0.5).result.amount == pytest.approx(tension * factor, rel=1e-4)


def test_roll_off_against_a_complex_divider():
    resistance, capacitance, frequency = 150.0, 20e-9, 20e3
    reactance = 1 / (2j * pi * frequency * capacitance)
    loss = -20 * np.log10(abs(reactance / (resistance + reactance)))
    corner = analogue.corner_frequency(resistance, 100.0, capacitance / 100).result.amount * 1000
    assert analogue.roll_off(frequency, corner).result.amount == pytest.approx(loss, abs=1e-9)


def test_wire_gauges_step_by_the_39th_root_of_92():
    ratio = 92 ** (1 / 39)
    for gauge in range(1, 40):
        thick, thin = (copper.gauge_diameter(str(g)).result.amount for g in (gauge, gauge + 1))
        assert thick / thin == pytest.approx(ratio, rel=1e-12)


def test_whole_run_is_the_straight_then_all_bends():
    run = pulling.run_tension(30, 0.3, [90, 45], 0.35).result.amount
    straight = 30 * UREG.Quantity(0.3, "kg/m").magnitude * 9.80665 * 0.35
    assert run == pytest.approx(straight * exp(0.35 * radians(135)), rel=1e-9)


def test_cable_area_against_pint():
    found = raceways.area_of([parse("0.25 in", "length").si]).result.amount
    assert found == pytest.approx((UREG.Quantity(0.125, "inch") ** 2 * pi).to("mm**2").magnitude, rel=1e-9)
