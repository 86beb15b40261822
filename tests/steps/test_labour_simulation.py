"""The draws against closed forms of statistics (standard handbook results for sums of random variables)."""

from math import asin, pi, sqrt

import pytest

from stagefloor.steps.labour.simulation import (
    CAUSES,
    DRAWS,
    LENGTHS,
    SEED,
    SITE,
    Part,
    Spread,
    _simulate,
    simulate,
)

ONE = (Part("a", 0, None, 1),)
APART = {SITE: 0.0}


def spread(parts, shared=CAUSES, draws=DRAWS, seed=SEED) -> Spread:
    return simulate(parts, shared=shared, draws=draws, seed=seed).hours


def triangle(name: str = "t") -> Part:
    return Part(name, 14, 22, 26)


def test_mean_and_deviation_of_a_triangle():
    # (a + m + b)/3 and sqrt((a2 + m2 + b2 - am - ab - mb)/18): 20.667 and 2.494
    found = spread((triangle(),))
    assert found.mean == pytest.approx(62 / 3, abs=4 * found.mean_error)
    assert found.mean_error * sqrt(DRAWS) == pytest.approx(2.494, rel=0.02)


def test_percentile_of_a_triangle():
    # inverse of the distribution function: b - sqrt((1 - p)(b - a)(b - m)) = 26 - sqrt(0.2 x 12 x 4)
    found = spread((triangle(),))
    assert found.cautious == pytest.approx(26 - sqrt(9.6), abs=4 * found.cautious_error)
    assert found.median == pytest.approx(14 + sqrt(0.5 * 12 * 8), abs=0.1)


def test_eight_in_ten_of_a_uniform():
    found = spread(ONE, draws=200_000)
    assert found.cautious == pytest.approx(0.8, abs=4 * found.cautious_error)
    assert found.cautious_error < 0.002


def test_sum_of_two_independent_uniforms():
    # the sum is triangular from 0 to 2: P80 = 2 - sqrt(2 x 0.2) = 1.36754
    found = spread((*ONE, Part("b", 0, None, 1)), shared=APART)
    assert found.cautious == pytest.approx(2 - sqrt(0.4), abs=4 * found.cautious_error)


def test_percentiles_add_when_all_parts_move_together():
    # quantiles of comonotonic variables add
    parts = (triangle(), Part("u", 3, None, 8), Part("v", 1, 1, 9))
    alone = sum(spread((p,)).cautious for p in parts)
    assert spread(parts, shared={SITE: 1.0}).cautious == pytest.approx(alone, rel=0.01)


def test_a_shared_site_factor_leaves_the_mean_and_widens_the_total():
    parts = tuple(triangle(str(i)) for i in range(20))
    apart, shared = spread(parts, shared=APART), spread(parts)
    assert shared.mean == pytest.approx(20 * 62 / 3, abs=4 * shared.mean_error)
    assert apart.mean == pytest.approx(20 * 62 / 3, abs=4 * apart.mean_error)
    assert shared.mean_error > 2 * apart.mean_error
    assert shared.cautious > apart.cautious


def test_shares_follow_the_variances_and_add_up():
    # independent uniforms of width 1 and 3: variances as 1 to 9
    found = spread((Part("narrow", 0, None, 1), Part("wide", 0, None, 3)), shared=APART)
    assert [name for name, _ in found.shares] == ["wide", "narrow"]
    assert found.shares[0][1] == pytest.approx(0.9, abs=0.02)
    assert sum(share for _, share in found.shares) == pytest.approx(1)


def test_what_shares_two_causes_varies_as_the_sum_of_its_correlations():
    # uniforms from 0 to 1 with normal scores correlated by r have the correlation 6/pi arcsin(r/2) (Pearson 1907)
    both = tuple(Part(n, 0, None, 1, causes=(SITE, LENGTHS)) for n in "ab")
    found = spread(both, shared={SITE: 0.3, LENGTHS: 0.4}, draws=200_000)
    correlation = 6 / pi * asin(0.7 / 2)
    assert found.deviation**2 == pytest.approx((1 + 1 + 2 * correlation) / 12, rel=0.01)
    crossed = (Part("a", 0, None, 1, causes=(SITE,)), Part("b", 0, None, 1, causes=(LENGTHS,)))
    assert spread(crossed, draws=200_000).deviation**2 == pytest.approx(2 / 12, rel=0.01)


def test_the_share_of_a_cause():
    # one uniform of a score a F + b E: corr(U, F) = sqrt(3/pi) a (Stein's lemma: cov = a E phi(z) = a / (2 sqrt(pi)))
    found = spread(ONE, shared={SITE: 0.25}, draws=200_000)
    assert found.causes == ((SITE, pytest.approx(3 / pi * 0.25, abs=0.01)),)


def test_hours_and_money_are_drawn_together():
    # money is 50 times the hours, and a purchase from 10 to 10 beside it: the same order of draws
    parts = (Part("t", 14, 22, 26, money=50.0), Part("bought", 10, 10, 10, causes=(), hours=0.0, money=1.0))
    found = simulate(parts)
    assert found.money.cautious == pytest.approx(50 * found.hours.cautious + 10)
    assert found.money.median == pytest.approx(50 * found.hours.median + 10)
    assert [n for n, _ in found.hours.shares] == ["t"]


def test_pieces_of_a_risk_that_may_happen():
    # chance 0.25 of a uniform 2 to 6 pieces at 3 h: mean 0.25 x 4 x 3 = 3; second moment 0.25 x 9 x (16 + 16/12)
    part = Part("r", 2, None, 6, 0.25, (), hours=3.0)
    found = spread((part,), draws=200_000)
    assert found.mean == pytest.approx(3.0, abs=4 * found.mean_error)
    assert found.deviation**2 == pytest.approx(0.25 * 9 * (16 + 16 / 12) - 9, rel=0.02)


def test_correlations_that_add_up_to_more_than_one_are_refused():
    with pytest.raises(ValueError, match="more than 1"):
        simulate((Part("a", 0, None, 1, causes=(SITE, LENGTHS)),), shared={SITE: 0.7, LENGTHS: 0.4})


def test_percentiles_and_errors_over_repeated_seeds():
    """P50 and P80 of 100 repeats: they scatter as the stated errors say, and the intervals hold what they should."""
    parts = (triangle(), Part("u", 3, None, 8), Part("r", 0, None, 9, 0.3, ()))
    repeats = [spread(parts, draws=4_000, seed=s) for s in range(100)]
    truth = spread(parts, draws=1_000_000, seed=12345)
    for value, error, interval in (("mean", "mean_error", None), ("median", "median_error", "median_interval"),
                                   ("cautious", "cautious_error", "cautious_interval")):
        seen = [getattr(r, value) for r in repeats]
        middle = sum(seen) / len(seen)
        scatter = sqrt(sum((x - middle) ** 2 for x in seen) / (len(seen) - 1))
        stated = sum(getattr(r, error) for r in repeats) / len(repeats)
        assert scatter == pytest.approx(stated, rel=0.25), value  # 100 repeats know it to 7 %
        assert middle == pytest.approx(getattr(truth, value), abs=4 * stated / sqrt(len(seen))), value
        if interval:
            held = sum(getattr(r, interval)[0] <= getattr(truth, value) <= getattr(r, interval)[1] for r in repeats)
            assert held >= 88, value  # of 95; 88 or fewer by chance: one in 500


def test_more_draws_come_closer_as_the_square_root():
    parts = (triangle(), Part("u", 3, None, 8))
    few, many = spread(parts, draws=5_000), spread(parts, draws=500_000)
    assert few.cautious_error / many.cautious_error == pytest.approx(10, rel=0.25)
    assert few.cautious == pytest.approx(many.cautious, abs=4 * few.cautious_error)


def test_the_same_parts_give_the_same_answer_and_none_give_zero():
    first = spread((triangle(),))
    _simulate.cache_clear()
    assert spread((triangle(),)) == first
    nothing = spread(())
    assert (nothing.mean, nothing.cautious, nothing.shares) == (0, 0, ())
