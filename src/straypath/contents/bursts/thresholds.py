"""How far noise alone goes, read from the quiet part of a record, bursts or no bursts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

if TYPE_CHECKING:
    from straypath.arrays import FloatArray

# Quantiles of the extremes of blocks that the law is fitted to. Bursts fill the upper ones; the
# second pair is used once the blocks with bursts are out.
QUIET = (0.05, 0.25)
CLEANED = (0.05, 0.5)
# Single samples have bursts at both ends.
CENTRAL = (0.25, 0.5)


def upper_limit(
    extremes: FloatArray,
    length: int,
    chance: float,
    *,
    per_value: float = 1.0,
    stretch: bool = True,
) -> float:
    """Return what the largest samples of noise stay below.

    The maximum of n Gaussian samples has the law Φ((u - μ)/σ)^n. Two of its quantiles give μ and
    σ; the limit is where one sample's own tail is `chance`. The Gaussian tail is stretched to
    Student's with as many degrees of freedom as the fitted σ has.

    Parameters
    ----------
    extremes : array, shape (blocks,)
        Largest value of each block.
    length : int
        Samples per block.
    chance : float
        Chance that one sample exceeds the limit: rate per record / number of samples.
    per_value : float
        How many neighbouring blocks say the same, where they overlap.
    stretch : bool
        False: the likeliest limit, where too low a one does no harm.

    Validity: Gaussian marginals with `length` 1, whatever the colour; longer blocks for
    independent samples. Where samples of a block depend on each other over about its length, the
    limit can come out up to a tenth low: take the larger of both. Bursts in up to a third of the
    blocks. Heavy-tailed noise is bursts by definition.

    Example
    -------
    >>> x = np.random.default_rng(1).standard_normal((4096, 64))
    >>> round(upper_limit(x.max(axis=1), 64, 1e-9), 1), round(float(stats.norm.isf(1e-9)), 1)
    (6.0, 6.0)

    References
    ----------
    David and Nagaraja, Order Statistics, 3rd ed., 2003: law of the largest of n, and asymptotic
    covariance of sample quantiles (from memory).
    """
    says = len(extremes) / per_value if stretch else np.inf
    first = _limit(extremes, length, chance, CENTRAL if length == 1 else QUIET, says)
    quiet = extremes[extremes <= first]
    if length == 1:
        quiet = quiet[quiet >= 2 * np.median(extremes) - first]
    return _limit(quiet, length, chance, CLEANED, says)


def _limit(
    extremes: FloatArray,
    length: int,
    chance: float,
    quantiles: tuple[float, float],
    says: float,
) -> float:
    q = np.array(quantiles)
    low, reference = (float(v) for v in np.quantile(extremes, q))
    z = stats.norm.isf(-np.expm1(np.log(q) / length))
    scale = (reference - low) / (z[1] - z[0])
    # Density of the law at the quantiles, in units of σ.
    g = length * stats.norm.pdf(z) * q ** (1.0 - 1.0 / length)
    own = q * (1 - q) / g**2
    shared = q[0] * (1 - q[1]) / (g[0] * g[1])
    relative = (own.sum() - 2 * shared) / says / (z[1] - z[0]) ** 2
    far = stats.norm.isf(chance) if relative == 0.0 else stats.t.isf(chance, 0.5 / relative)
    return float(reference + scale * (far - z[1]))
