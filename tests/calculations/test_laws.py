"""Laws that hold whatever the numbers: more cable never less fill, longer never less loss, limits flip."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.calculations import (
    analogue,
    copper,
    data,
    floor,
    joists,
    labour,
    loudspeaker,
    mains,
    pulling,
    raceways,
    separation,
    tests_limits,
    video,
)
from stagefloor.core.problems import Problem
from stagefloor.core.workings import Value, Working

DIAMETERS = st.lists(st.floats(0.002, 0.02), min_size=1, max_size=12)
LENGTHS = st.floats(0.0, 2000.0)
GAUGES = st.integers(8, 26).map(str)
FEW = settings(max_examples=40, deadline=None)


@FEW
@given(DIAMETERS, st.floats(0.002, 0.02))
def test_one_more_cable_never_fills_less(diameters, another):
    fill = raceways.raceway_fill(diameters, "EMT", "2").result.amount
    assert raceways.raceway_fill([*diameters, another], "EMT", "2").result.amount > fill


@FEW
@given(DIAMETERS, st.randoms())
def test_order_of_cables_does_not_matter(diameters, random):
    shuffled = diameters[:]
    random.shuffle(shuffled)
    assert raceways.raceway_fill(shuffled, "EMT", "2").result.amount == pytest.approx(
        raceways.raceway_fill(diameters, "EMT", "2").result.amount
    )


@FEW
@given(DIAMETERS)
def test_the_smallest_size_fits_and_the_next_smaller_does_not(diameters):
    size, working = raceways.smallest_trade_size(diameters, "EMT")
    assert working.holds
    sizes = ["1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4"]
    place = sizes.index(size)
    if place:
        assert not raceways.raceway_fill(diameters, "EMT", sizes[place - 1]).holds


@FEW
@given(DIAMETERS, st.floats(0.0, 1.0))
def test_growth_scales_the_fill(diameters, growth):
    plain = raceways.raceway_fill(diameters, "EMT", "2").result.amount
    grown = raceways.raceway_fill(diameters, "EMT", "2", growth=growth).result.amount
    assert grown == pytest.approx(plain * (1 + growth))


@FEW
@given(LENGTHS, st.floats(0.1, 500.0), GAUGES, st.floats(2.0, 16.0))
def test_a_longer_line_never_loses_less(length, more, gauge, load):
    near = loudspeaker.loudspeaker_loss(length, gauge, load).result.amount
    assert loudspeaker.loudspeaker_loss(length + more, gauge, load).result.amount > near


@FEW
@given(st.floats(0.05, 3.0), GAUGES, st.floats(2.0, 16.0))
def test_longest_line_has_exactly_the_loss(loss, gauge, load):
    length = loudspeaker.longest_for_loss(loss, gauge, load).result.amount
    assert loudspeaker.loudspeaker_loss(length, gauge, load).result.amount == pytest.approx(loss)


@FEW
@given(GAUGES, st.floats(-20, 100), st.floats(0.5, 20))
def test_warmer_copper_has_more_resistance(gauge, temperature, more):
    assert copper.gauge_ohm_per_m(gauge, temperature + more) > copper.gauge_ohm_per_m(gauge, temperature)


@FEW
@given(LENGTHS, st.sampled_from(video.FORMATS))
def test_video_loss_grows_with_length_and_flips_at_its_limit(length, picture_format):
    reach = video.coax_length(picture_format).result.amount
    assert video.coax_loss(length, picture_format).holds is (length <= reach * (1 + 1e-12))


@FEW
@given(st.lists(st.floats(0, 90), min_size=1, max_size=8))
def test_bends_hold_up_to_360(angles):
    assert raceways.bends_between_pull_points(angles).holds is (sum(angles) <= 360 * (1 + 1e-9))


@FEW
@given(st.floats(0, 300), st.floats(0, 360), st.floats(0.05, 1.0))
def test_a_bend_never_lowers_the_tension(tension, angle, friction):
    assert pulling.tension_bend(tension, angle, friction).result.amount >= tension


@FEW
@given(st.floats(1, 200), st.floats(1, 200), st.floats(0, 180), st.floats(0.05, 1.0))
def test_the_better_end_is_the_better_one(first, second, angle, friction):
    run = [pulling.Straight(first), pulling.Bend(angle), pulling.Straight(second)]
    chosen = pulling.either_end(run, 0.2, friction)[1].result.amount
    assert chosen <= pulling.pull(run, 0.2, friction)[0].result.amount
    assert chosen <= pulling.pull(pulling.backwards(run), 0.2, friction)[0].result.amount


@FEW
@given(st.floats(0.1, 90), st.floats(36, 57), st.floats(0.01, 25))
def test_power_over_data_balances(device, source, loop):
    try:
        found = data.power_over_data(device, source, loop)
    except Problem:
        assert source**2 < 4 * loop * device
        return
    volts, watts = (v.amount for v in found.also)
    assert volts * found.result.amount == pytest.approx(device)
    assert watts == pytest.approx(device + found.result.amount**2 * loop)


@FEW
@given(st.floats(0, 90))
def test_the_cord_formula_turns_back(fixed):
    cords = data.cords_allowed(fixed).result.amount
    other = 5.0
    if cords - other <= 22:
        assert data.fixed_for_long_cord(cords - other).result.amount == pytest.approx(min(fixed, 90))


@FEW
@given(LENGTHS, st.floats(0.001, 1.0))
def test_limits_of_a_loop_enclose_the_loop(length, each):
    working = tests_limits.expected_loop(length, each)
    assert working.also[0].amount <= working.result.amount <= working.limit.amount
    assert _stands(working, working.result.amount) == "inside"
    assert _stands(working, working.limit.amount * 1.001) == "above"
    if length > 0.01:
        assert _stands(working, working.also[0].amount * 0.99) == "below"


def _stands(working, reading):
    return tests_limits.standing(reading, working.also[0].amount, working.limit.amount)


@FEW
@given(LENGTHS, st.floats(0.001, 1.0), st.floats(0, 50))
def test_a_length_in_doubt_widens_the_band_on_both_sides(length, each, doubt):
    sure = tests_limits.expected_loop(length, each)
    unsure = tests_limits.expected_loop(length, each, doubt_percent=doubt)
    assert unsure.result.amount == sure.result.amount
    assert unsure.also[0].amount <= sure.also[0].amount <= sure.limit.amount <= unsure.limit.amount


@FEW
@given(st.floats(0, 1000), st.floats(0, 5), st.floats(0, 5))
def test_three_points_keep_their_mean_inside(low, more, most):
    likely, high = low + more, low + more + most
    for rule in (labour.beta, labour.triangular):
        assert low - 1e-9 <= rule(low, likely, high).result.amount <= high + 1e-9


@FEW
@given(st.floats(1, 1e6), st.floats(0, 99))
def test_margin_and_markup_turn_into_each_other(cost, margin):
    priced = labour.price_from_margin(cost, margin)
    again = labour.price_from_markup(cost, priced.also[0].amount)
    assert again.result.amount == pytest.approx(priced.result.amount)
    assert labour.margin(cost, priced.result.amount).result.amount == pytest.approx(margin, abs=1e-6)


@FEW
@given(st.integers(1, 300), st.floats(51, 99.9))
def test_crawford_takes_longer_than_wright(units, rate):
    crawford = labour.crawford(100, units, rate).result.amount
    assert crawford >= labour.wright(100, units, rate).result.amount - 1e-9


@FEW
@given(st.floats(0.05, 0.4), st.floats(0.01, 0.49))
def test_a_notch_never_adds_strength(depth, share):
    left = joists.section_left(depth, depth * share)
    assert left.also[0].amount < left.result.amount < 100
    strong = joists.notched_shear(0.05, depth, depth * (1 - share), 1e6, "older").result.amount
    assert joists.notched_shear(0.05, depth, depth * (1 - share), 1e6).result.amount < strong


@FEW
@given(st.floats(0, 1))
def test_separation_flips_at_the_rule(distance):
    for working in separation.separations(distance):
        assert working.holds is (distance * 1000 >= working.limit.amount * (1 - 1e-9))


@FEW
@given(st.floats(0, 100), st.floats(0, 40))
def test_voltage_drop_is_proportional(length, current):
    one = mains.voltage_drop_dc(1, 1, "12").result.amount
    assert mains.voltage_drop_dc(length, current, "12").result.amount == pytest.approx(length * current * one)


@FEW
@given(st.floats(1, 1e5), st.floats(1, 1e5))
def test_levels_turn_back(voltage_1, voltage_2):
    back = analogue.voltage_of_level(analogue.level(voltage_1 / 1e3).result.amount).result.amount
    assert back == pytest.approx(voltage_1 / 1e3)
    assert analogue.level_gap(voltage_1, voltage_2).result.amount == pytest.approx(
        -analogue.level_gap(voltage_2, voltage_1).result.amount
    )


def test_zero_length_has_no_loss():
    assert loudspeaker.loudspeaker_loss(0, "12", 8).result.amount == 0
    assert video.coax_loss(0, "HD").result.amount == 0
    assert mains.voltage_drop_uk(0, 16, "2.5").result.amount == 0
    assert copper.loop_resistance(0, 0.05).result.amount == 0


def test_a_fraction_more_than_the_limit_flips_the_answer():
    bay = 0.3
    room = floor.cutout_in_bay(bay - 2 * 0.0127, bay)
    assert room.holds
    assert not floor.cutout_in_bay(bay - 2 * 0.0127 + 1e-6, bay).holds
    assert floor.change_of_level(0.00635).holds
    assert not floor.change_of_level(0.006351).holds


@given(st.floats(1e-3, 1e3))
def test_equal_to_the_limit_is_kept(value):
    def working(amount: float) -> Working:
        return Working("x", "x", (), Value("x", "x", amount), (), Value("", "", value))

    assert working(value).holds
    assert working(value * (1 + 1e-12)).holds
    assert not working(value * (1 + 1e-6)).holds
