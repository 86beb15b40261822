"""The spread of a sum of uncertain parts, from draws with a fixed seed. Knows hours or money only as numbers.

Each part is triangular (uniform where no likely value is given). The parts share one site factor: a good or a
bad site moves all of them (a Gaussian copula with one factor, which leaves each part's own spread as it is).
"""

from dataclasses import dataclass
from functools import lru_cache
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

DRAWS = 20_000
SEED = 20_250_101
SHARED = 0.3  # correlation of any two parts through the site factor; common practice, no source
CAUTIOUS = 0.8  # eight times in ten the total is no more than this

_ERF = np.frompyfunc(erf, 1, 1)


@dataclass(frozen=True)
class Part:
    """One uncertain part: low <= likely <= high; likely None: anything between; `chance` from 0 to 1."""

    name: str
    low: float
    likely: float | None
    high: float
    chance: float = 1.0


@dataclass(frozen=True)
class Spread:
    """What the draws show, in the unit of the parts; errors are standard errors.

    `shares`: (part, its share of the total's variance), largest first; the sum is 1 unless nothing varies.
    """

    draws: int
    mean: float
    mean_error: float
    median: float
    cautious: float
    cautious_error: float
    shares: tuple[tuple[str, float], ...]


@lru_cache(maxsize=32)  # an edit that leaves the hours alone need not draw again
def spread(
    parts: tuple[Part, ...], *, shared: float = SHARED, draws: int = DRAWS, seed: int = SEED
) -> Spread:
    """Draw the total of `parts`, the same each time for the same parts in the same order.

    Parameters
    ----------
    parts : at least one is not needed; without any, all values are zero
    shared : correlation of any two parts' amounts, 0 (none) to 1 (all move together)
    draws : how many, 100 or more

    Notes
    -----
    Whether a part with a chance below 1 happens is drawn apart from the site factor. The error of the
    percentile is half the distance between the quantiles one standard deviation of the rank to either side.
    """
    rng = np.random.default_rng(seed)
    site = rng.standard_normal(draws)
    total = np.zeros(draws)
    each: list[NDArray[np.float64]] = []
    for part in parts:
        own = rng.standard_normal(draws)
        happens = rng.random(draws) < part.chance
        z = sqrt(shared) * site + sqrt(1 - shared) * own
        amount = np.where(happens, _amounts(part, _normal_share(z)), 0.0)
        each.append(amount)
        total += amount
    deviation = float(total.std(ddof=1))
    step = sqrt(CAUTIOUS * (1 - CAUTIOUS) / draws)
    below, above = (float(np.quantile(total, CAUTIOUS + s)) for s in (-step, step))
    centred = total - total.mean()
    square = float(centred @ centred)
    shares = sorted(
        (
            (p.name, float(centred @ (a - a.mean())) / square if square > 0 else 0.0)
            for p, a in zip(parts, each, strict=True)
        ),
        key=lambda s: -s[1],
    )
    return Spread(
        draws,
        float(total.mean()),
        deviation / sqrt(draws),
        float(np.quantile(total, 0.5)),
        float(np.quantile(total, CAUTIOUS)),
        (above - below) / 2,
        tuple(shares),
    )


def _normal_share(z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of a standard normal below z."""
    return 0.5 * (1 + np.asarray(_ERF(z / sqrt(2)), dtype=np.float64))


def _amounts(part: Part, u: NDArray[np.float64]) -> NDArray[np.float64]:
    """The amount below which a share u of the part's distribution lies."""
    width = part.high - part.low
    if width == 0:
        return np.full_like(u, part.low)
    if part.likely is None:
        return part.low + u * width
    rise = part.likely - part.low
    return np.where(
        u * width < rise,
        part.low + np.sqrt(u * width * rise),
        part.high - np.sqrt((1 - u) * width * (width - rise)),
    )
