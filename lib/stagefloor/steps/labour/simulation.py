"""The spread of sums of uncertain parts, from draws with a fixed seed. Knows hours and money only as numbers.

Each part is triangular (uniform where no likely value is given). Parts that share a cause move together: a part's
place in its own spread follows a normal score, made of one score for each of its causes and one of its own, so
that its own spread stays as it is (a Gaussian copula with one factor a cause). Whether a part with a chance
happens at all is drawn apart.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import ceil, erf, floor, sqrt

import numpy as np
from numpy.typing import NDArray

DRAWS = 20_000
SEED = 20_250_101
BLOCK = 2_048  # draws worked at a time, so that they stay in the processor's cache
CAUTIOUS = 0.8  # eight times in ten the total is no more than this
INTERVAL = 1.959964  # standard deviations of a 95 % interval of the normal distribution, handbook table

SITE, LENGTHS, PRICES = "the site", "the lengths of the ways", "the market for material"
# Correlation of two parts that share the cause; common practice, no source.
CAUSES: Mapping[str, float] = {SITE: 0.3, LENGTHS: 0.3, PRICES: 0.5}

_REACH, _STEPS = 8.0, 1 << 14
_SHARE = np.array([0.5 * (1 + erf((2 * _REACH * i / _STEPS - _REACH) / sqrt(2))) for i in range(_STEPS + 2)])
_RISE = np.diff(_SHARE)

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Part:
    """One uncertain part: low <= likely <= high; likely None: anything between; `chance` from 0 to 1.

    `causes` name what it shares with other parts; one unit of it is `hours` hours and `money` of money.
    """

    name: str
    low: float
    likely: float | None
    high: float
    chance: float = 1.0
    causes: tuple[str, ...] = (SITE,)
    hours: float = 1.0
    money: float = 0.0

    @property
    def mean(self) -> float:
        """Exact mean of the amount."""
        if self.likely is None:
            return self.chance * (self.low + self.high) / 2
        return self.chance * (self.low + self.likely + self.high) / 3


@dataclass(frozen=True)
class Spread:
    """What the draws of one sum show, in its unit; errors are standard errors, intervals hold 95 %.

    `shares`: (part, its share of the sum's variance), largest first, 1 in all unless nothing varies;
    `causes`: (cause, the share of the variance that goes with it), largest first; they overlap with the parts.
    """

    draws: int = 0
    mean: float = 0.0
    mean_error: float = 0.0
    deviation: float = 0.0
    median: float = 0.0
    median_error: float = 0.0
    median_interval: tuple[float, float] = (0.0, 0.0)
    cautious: float = 0.0
    cautious_error: float = 0.0
    cautious_interval: tuple[float, float] = (0.0, 0.0)
    shares: tuple[tuple[str, float], ...] = ()
    causes: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Simulation:
    """The spreads of the hours and of the money of the same draws."""

    hours: Spread = field(default_factory=Spread)
    money: Spread = field(default_factory=Spread)


def simulate(parts: Sequence[Part], *, shared: Mapping[str, float] = CAUSES, draws: int = DRAWS,
             seed: int = SEED) -> Simulation:
    """Draw the sums of hours and of money, the same each time for the same parts in the same order.

    Parameters
    ----------
    parts : at least one is not needed; without any, all values are zero
    shared : cause -> correlation of two parts that share it, 0 (none) to 1; those of one part add up to 1 at most
    draws : how many, 100 or more
    seed : any whole number

    Notes
    -----
    The error of a percentile is half the distance between the order statistics one standard deviation of the rank to
    either side; its interval is made of the order statistics 1.96 of them to either side (the binomial count of
    draws below a quantile: a standard result that needs no assumption on the distribution).
    """
    return _simulate(tuple(parts), tuple(sorted(shared.items())), draws, seed)


@lru_cache(maxsize=64)  # an edit that leaves the hours and prices alone need not draw again
def _simulate(parts: tuple[Part, ...], shared: tuple[tuple[str, float], ...], draws: int, seed: int) -> Simulation:
    if not parts:
        return Simulation()
    names = [c for c, _ in shared]
    loads, own = _loads(parts, dict(shared), names)
    low, likely, high, chance, hours, money = _columns(parts)
    rng = np.random.default_rng(seed)
    means = np.array([p.mean for p in parts])
    weights = np.stack([hours, money])
    base = weights @ means
    totals = np.empty((2, draws))
    with_parts = np.zeros((2, len(parts)))
    with_causes = np.zeros((2, len(names)))
    sums, cause_sums, cause_squares = np.zeros(len(parts)), np.zeros(len(names)), np.zeros(len(names))
    certain = bool((chance >= 1).all())
    for start in range(0, draws, BLOCK):
        size = min(BLOCK, draws - start)
        causes = rng.standard_normal((len(names), size))
        scores = rng.standard_normal((len(parts), size))
        scores *= own[:, None]
        scores += loads @ causes
        amounts = _amounts(_below(scores), low, likely, high)
        if not certain:
            amounts *= rng.random((len(parts), size)) < chance[:, None]
        amounts -= means[:, None]  # around the exact means: the sums of products stay accurate
        total = weights @ amounts
        totals[:, start:start + size] = total
        with_parts += total @ amounts.T
        with_causes += total @ causes.T
        sums += amounts.sum(axis=1)
        cause_sums += causes.sum(axis=1)
        cause_squares += (causes * causes).sum(axis=1)
    found = []
    for i in (0, 1):
        mean = float(totals[i].mean())
        variance = float(totals[i].var())
        with_part = weights[i] * (with_parts[i] / draws - mean * sums / draws)
        apart = with_causes[i] / draws - mean * cause_sums / draws
        spread_of_cause = cause_squares / draws - (cause_sums / draws) ** 2
        used = np.array([any(n in p.causes and p.high > p.low for p in parts) for n in names], dtype=bool)
        found.append(_spread(
            totals[i], float(base[i]),
            [(p.name, float(s) / variance if variance > 0 else 0.0) for p, s, w in
             zip(parts, with_part, weights[i], strict=True) if w],
            [(n, float(a * a / s) / variance if variance > 0 else 0.0) for n, a, s, u in
             zip(names, apart, spread_of_cause, used, strict=True) if u]))
    return Simulation(*found)


def _loads(parts: tuple[Part, ...], shared: dict[str, float], names: list[str]) -> tuple[Numbers, Numbers]:
    """Weight of each cause in each part's score, parts x causes, and of the part's own."""
    loads = np.zeros((len(parts), len(names)))
    for i, part in enumerate(parts):
        for cause in part.causes:
            if cause in shared:
                loads[i, names.index(cause)] = sqrt(shared[cause])
    left = 1 - (loads * loads).sum(axis=1)
    if (left < -1e-9).any():
        raise ValueError("the correlations of one part's causes add up to more than 1")
    return loads, np.sqrt(np.maximum(left, 0.0))


def _columns(parts: tuple[Part, ...]) -> tuple[Numbers, ...]:
    """low, likely (not a number where none is given), high, chance, hours, money."""
    none = float("nan")
    return tuple(np.array(column, dtype=np.float64) for column in zip(*(
        (p.low, none if p.likely is None else p.likely, p.high, p.chance, p.hours, p.money) for p in parts), strict=True))


def _below(scores: Numbers) -> Numbers:
    """Share of a standard normal below each score, by straight lines between 16,384 values: to 1e-7."""
    place = np.clip(scores, -_REACH, _REACH)
    place += _REACH
    place *= _STEPS / (2 * _REACH)
    index = place.astype(np.intp)
    place -= index
    place *= _RISE[index]
    place += _SHARE[index]
    return place


def _amounts(u: Numbers, low: Numbers, likely: Numbers, high: Numbers) -> Numbers:
    """The amounts below which the shares u of the parts' distributions lie; u is parts x draws."""
    width = (high - low)[:, None]
    flat = np.isnan(likely)
    rise = np.where(flat, 0.0, likely - low)[:, None]
    up = u * width
    out = np.where(up < rise, low[:, None] + np.sqrt(up * rise), high[:, None] - np.sqrt((width - up) * (width - rise)))
    if flat.any():
        out[flat] = low[flat, None] + up[flat]
    return out


def _spread(off_base: Numbers, base: float, shares: list[tuple[str, float]],
            causes: list[tuple[str, float]]) -> Spread:
    ordered = np.sort(off_base)
    draws = len(ordered)

    def at(share: float) -> float:
        place = share * (draws - 1)
        k = min(int(place), draws - 2)
        return base + float(ordered[k] + (place - k) * (ordered[k + 1] - ordered[k]))

    def percentile(share: float) -> tuple[float, float, tuple[float, float]]:
        step = sqrt(share * (1 - share) * draws)
        first = max(floor(draws * share - INTERVAL * step), 1)
        last = min(ceil(draws * share + INTERVAL * step) + 1, draws)
        error = (at(share + step / draws) - at(share - step / draws)) / 2
        return at(share), error, (base + float(ordered[first - 1]), base + float(ordered[last - 1]))

    deviation = float(ordered.std(ddof=1))
    return Spread(draws, base + float(ordered.mean()), deviation / sqrt(draws), deviation, *percentile(0.5),
                  *percentile(CAUTIOUS), tuple(sorted(shares, key=lambda s: -s[1])),
                  tuple(sorted(causes, key=lambda s: -s[1])))
