"""The draws against closed forms of statistics (standard handbook results for sums of random variables)."""

from math import sqrt

import pytest

from stagefloor.steps.labour.simulation import DRAWS, Part, spread

ONE = (Part("a", 0, None, 1),)


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
    found = spread((*ONE, Part("b", 0, None, 1)), shared=0.0)
    assert found.cautious == pytest.approx(2 - sqrt(0.4), abs=4 * found.cautious_error)


def test_percentiles_add_when_all_parts_move_together():
    # quantiles of comonotonic variables add
    parts = (triangle(), Part("u", 3, None, 8), Part("v", 1, 1, 9))
    alone = sum(spread((p,)).cautious for p in parts)
    assert spread(parts, shared=1.0).cautious == pytest.approx(alone, rel=0.01)


def test_a_shared_site_factor_leaves_the_mean_and_widens_the_total():
    parts = tuple(triangle(str(i)) for i in range(20))
    apart, shared = spread(parts, shared=0.0), spread(parts)
    assert shared.mean == pytest.approx(20 * 62 / 3, abs=4 * shared.mean_error)
    assert apart.mean == pytest.approx(20 * 62 / 3, abs=4 * apart.mean_error)
    assert shared.mean_error > 2 * apart.mean_error
    assert shared.cautious > apart.cautious


def test_shares_follow_the_variances_and_add_up():
    # independent uniforms of width 1 and 3: variances as 1 to 9
    found = spread((Part("narrow", 0, None, 1), Part("wide", 0, None, 3)), shared=0.0)
    assert [name for name, _ in found.shares] == ["wide", "narrow"]
    assert found.shares[0][1] == pytest.approx(0.9, abs=0.02)
    assert sum(share for _, share in found.shares) == pytest.approx(1)


def test_the_standard_error_of_the_percentile_is_what_repeated_draws_show():
    seeds = [spread((triangle(),), seed=s) for s in range(40)]
    mean = sum(s.cautious for s in seeds) / 40
    seen = sqrt(sum((s.cautious - mean) ** 2 for s in seeds) / 39)
    assert seeds[0].cautious_error == pytest.approx(
        seen, rel=0.5
    )  # 40 repeats know it to about 11 %, twice over


def test_the_same_parts_give_the_same_answer_and_none_give_zero():
    first = spread((triangle(),))
    spread.cache_clear()
    assert spread((triangle(),)) == first
    nothing = spread(())
    assert (nothing.mean, nothing.cautious, nothing.shares) == (0, 0, ())
