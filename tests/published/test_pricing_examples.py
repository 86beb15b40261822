"""Published worked examples of prices, hours and their spread, and line limits on a published wire table."""

from math import sqrt

import pytest

from stagefloor.job.cables import Circuit
from stagefloor.job.edit import add
from stagefloor.job.model import Job
from stagefloor.steps import closeout, labour
from stagefloor.steps.labour.simulation import DRAWS, Part, simulate


def sold(cost: str, markup: str) -> labour.Estimate:
    job, _ = add(Job(), "pricerow", [{"item": "All", "quantity": "floor boxes", "cost": cost}])
    job, _ = add(job, "pricing", [{"material_markup": markup}])
    return labour.estimate(job, {"floor boxes": 1})


def test_price_of_500_at_40_percent_markup():
    """Contractor-pricing article: cost 500, markup 40 %: price 700, profit 200, margin 28.6 %."""
    found = sold("500", "40")
    assert found.selling.price == 700
    assert found.selling.price - found.sections[0].cost == 200
    assert found.build_up[-1].result.amount == pytest.approx(28.6, abs=0.05)


def test_price_of_100_at_33_percent_markup():
    """Accounting article on markup and margin: 100 at 33 %: price 133, margin 25 % (whole percent)."""
    found = sold("100", "33")
    assert found.selling.price == 133
    assert found.build_up[-1].result.amount == pytest.approx(25, abs=0.5)


def test_outlets_at_15_to_25_minutes():
    """Industry design manual, as quoted: 500 outlets at 15 to 25 minutes: 125 to 208 h (whole hours)."""
    job, _ = add(
        Job(),
        "hourunit",
        [{"task": "Outlet", "quantity": "openings: data", "per": 60, "low": 15, "high": 25}],
    )
    low, high = labour.estimate(job, {"openings: data": 500}).likely_hours.also[:2]
    assert low.amount == pytest.approx(125, abs=0.5)
    assert high.amount == pytest.approx(208, abs=0.5)


def test_our_hours_for_a_data_line_lie_in_the_published_range():
    """Industry design manual, as quoted: an outlet, both ends, dressing, label, test: 15 to 25 minutes."""
    job, _ = add(Job(), "hourunit", labour.default_hour_units())
    found = labour.estimate(job, {"cable ends: data": 2, "labels": 1, "tests: data": 1})
    assert 15 / 60 <= found.likely_hours.result.amount <= 25 / 60


def test_three_point_estimate_14_22_26():
    """Project-management article, its data 14, 22, 26: triangular mean 20.67, deviation 2.494 (computed)."""
    job, _ = add(Job(), "hourunit", [{"task": "T", "quantity": "cores", "low": 14, "likely": 22, "high": 26}])
    found = labour.estimate(job, {"cores": 1})
    assert found.likely_hours.result.amount == pytest.approx(20.67, abs=0.005)
    assert found.drawn.hours.mean == pytest.approx(20.67, abs=4 * found.drawn.hours.mean_error)
    assert found.drawn.hours.mean_error * sqrt(DRAWS) == pytest.approx(2.494, rel=0.02)


def test_simulation_of_a_certain_and_a_possible_cost():
    """Trade magazine, risk-based estimating: 70 to 85 thousand for certain, 10 to 15 with probability 0.8.

    The mean, 77.5 + 0.8 x 12.5 = 87.5 thousand, is exact; P50 about 88.1 and P80 about 93.7 thousand were
    computed from the published data: tolerance 100 on the mean and 300 on the percentiles.
    """
    parts = (Part("A", 70_000, None, 85_000, causes=()), Part("B", 10_000, None, 15_000, 0.8, ()))
    found = simulate(parts).hours
    assert found.mean == pytest.approx(87_500, abs=100)
    assert found.mean == pytest.approx(87_500, abs=4 * found.mean_error)
    assert found.median == pytest.approx(88_100, abs=300)
    assert found.cautious == pytest.approx(93_700, abs=300)


# University physics table: ohm per 1000 ft of solid copper at 20 degrees C, four printed digits.
WIRE = {
    10: 0.9989,
    12: 1.588,
    14: 2.525,
    16: 4.016,
    18: 6.385,
    20: 10.15,
    22: 16.14,
    24: 25.67,
    26: 40.81,
    28: 64.90,
}


@pytest.mark.parametrize(("gauge", "ohm_per_kft"), WIRE.items())
def test_expected_loop_of_a_line_from_the_wire_table(gauge, ohm_per_kft):
    """A line of 250 ft: both conductors, 500 ft of wire."""
    job, (kind,) = add(Job(), "cabletype", [{"label": "C", "awg": gauge}])
    job, (line,) = add(job, "circuit", [{"label": "M1", "what": "microphone"}])
    job, _ = add(job, "cable", [{"label": "K1", "circuits": [line], "type": kind}])
    loop = closeout.limits(job, job.get(Circuit, line), 250 * 0.3048)["loop resistance"]
    assert loop.result.amount == pytest.approx(0.5 * ohm_per_kft, rel=5e-4)


def test_phantom_range():
    """IEC 61938, 48 V supply, as a sound-recording institute's page gives it: 44 to 52 V."""
    job, (line,) = add(Job(), "circuit", [{"label": "M1", "what": "microphone"}])
    limit = closeout.line_limits(job, job.get(Circuit, line), None)["phantom"]
    assert (limit.low, limit.high) == (44, 52)


def test_termination_of_a_data_control_line():
    """Encyclopedia mirror on DMX512: a terminator of 120 ohm; 5 % (common practice): 114 to 126 ohm."""
    job, (kind,) = add(Job(), "cabletype", [{"label": "C", "awg": 24}])
    job, (line,) = add(job, "circuit", [{"label": "D1", "what": "control"}])
    job, _ = add(job, "cable", [{"label": "K1", "circuits": [line], "type": kind}])
    limit = closeout.line_limits(job, job.get(Circuit, line), 0.0)["termination"]
    assert limit.expected == 120
    assert (limit.low, limit.high) == pytest.approx((114, 126 + 0.2))  # 0.2 ohm for connectors: common practice
    # 1000 ft: a loop of 2 x 25.67 ohm by the wire table; nine tenths of it, 1.05 of it and 0.2 ohm
    limit = closeout.line_limits(job, job.get(Circuit, line), 304.8)["termination"]
    expected = (114 + 0.9 * 51.34, 120 + 51.34, 126 + 1.05 * 51.34 + 0.2)
    assert (limit.low, limit.expected, limit.high) == pytest.approx(expected, rel=2e-4)
