"""What chance does to spectra: levels, intervals and tests for densities, lines and coherence.

Unless said otherwise the noise is Gaussian and K averages are independent. Segments that overlap
count for fewer: take `overlapped_dof`/2 as K. The functions broadcast over arrays, but for
Fisher's test.
"""

from __future__ import annotations

from math import exp, expm1, floor, fsum, inf, log, log1p
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtri, fdtri, gammainccinv, gammaln

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straypath.arrays import Float64Array

HANN_NOISE_BANDWIDTH: Final = 1.5
"""Equivalent noise bandwidth of the Hann window, in bins of 1/T: ∫w²/(∫w)² (Harris 1978)."""


def _floats(numbers: ArrayLike) -> Float64Array:
    return np.asarray(numbers, dtype=np.float64)


# Densities ----------------------------------------------------------------------------------


def hann_overlap_correlation(overlap: ArrayLike) -> Float64Array:
    """Return how alike two overlapping Hann segments are: ∫w(t)·w(t+s) dt/∫w² dt, s = 1 − overlap.

    Parameters
    ----------
    overlap : array-like
        Share of a segment that it has in common with the other, 0 … 1.

    Examples
    --------
    >>> [round(float(c), 3) for c in hann_overlap_correlation([0.5, 0.75])]
    [0.167, 0.659]

    References
    ----------
    Harris, Proc. IEEE 66, 1978, table 1 (0.167 and 0.659; from memory).
    """
    common = _floats(overlap)
    turn = 2.0 * np.pi * (1.0 - common)
    inner = common * (1.0 + 0.5 * np.cos(turn)) + 3.0 / (4.0 * np.pi) * np.sin(turn)
    return _floats(inner / 1.5)


def overlapped_dof(segments: int, overlap: float = 0.5) -> float:
    """Return the degrees of freedom of a density from overlapped Hann segments.

    ν = 2K/(1 + 2·Σ_j (1 − j/K)·c_j²), with c_j the correlation of segments j apart.

    Parameters
    ----------
    segments : int
        K ≥ 1.
    overlap : float
        Share of a segment that it has in common with the next, 0 … below 1.

    Notes
    -----
    Valid where the floor is smooth over a bin. The variance of the density is 2/ν of its square.

    Examples
    --------
    >>> round(overlapped_dof(8), 3)
    15.258

    References
    ----------
    Welch, IEEE Trans. Audio Electroacoust. 15, 1967.
    """
    apart = np.arange(1, segments)
    common = 1.0 - apart * (1.0 - overlap)
    near = common > 0.0
    c = hann_overlap_correlation(common[near])
    return float(2.0 * segments / (1.0 + 2.0 * np.sum((1.0 - apart[near] / segments) * c**2)))


def density_interval(dof: ArrayLike, level: ArrayLike = 0.95) -> tuple[Float64Array, Float64Array]:
    """Return the interval of a true density over the estimated one: ν/χ²_ν at both tails.

    Parameters
    ----------
    dof : array-like
        ν = 2K for K independent averages.
    level : array-like
        0 … 1, both tails alike.

    Examples
    --------
    >>> [round(10 * float(np.log10(end)), 2) for end in density_interval(16.0)]
    [-2.56, 3.65]

    References
    ----------
    ν·estimate/truth is chi-square distributed.
    """
    nu, tail = _floats(dof), 0.5 * (1.0 - _floats(level))
    return _floats(nu / chdtri(nu, tail)), _floats(nu / chdtri(nu, 1.0 - tail))


def least_provable_ratio(
    dof_before: ArrayLike, dof_after: ArrayLike, level: ArrayLike = 0.95, *, two_sided: bool = True
) -> Float64Array:
    """Return how many times one density must exceed another to be proved larger: F quantile.

    Parameters
    ----------
    dof_before, dof_after : array-like
        Degrees of freedom of the larger and of the smaller density.
    level : array-like
        0 … 1.
    two_sided : bool
        Whether it was open beforehand which would be larger.

    Examples
    --------
    >>> round(10 * float(np.log10(least_provable_ratio(32, 32))), 2)
    3.06

    References
    ----------
    The ratio of two independent chi-squares over their degrees has Fisher's F distribution.
    """
    share = 0.5 * (1.0 + _floats(level)) if two_sided else _floats(level)
    return _floats(fdtri(_floats(dof_before), _floats(dof_after), share))


# Lines --------------------------------------------------------------------------------------


def single_look_threshold(false_alarm: ArrayLike, bins: ArrayLike = 1) -> Float64Array:
    """Return the power over the mean noise that no bin exceeds: −ln(1 − (1 − α)^(1/M)).

    Parameters
    ----------
    false_alarm : array-like
        α, the chance that any of the bins exceeds it.
    bins : array-like
        M, independent.

    Notes
    -----
    Valid for one unaveraged spectrum whose mean noise is known.

    Examples
    --------
    >>> round(10 * float(np.log10(single_look_threshold(0.01, 500))), 2)
    10.34

    References
    ----------
    The power of a bin is exponentially distributed.
    """
    one = -np.expm1(np.log1p(-_floats(false_alarm)) / _floats(bins))
    return _floats(-np.log(one))


# Beyond this many bins expected above g, the alternating sum loses more digits than the bound has.
_CROWDED: Final = 16.0
# A term this far below another, in powers of e, is beyond its last digit.
_NO_MORE: Final = 46.0


def fisher_p_value(share: float, bins: int) -> float:
    """Return the chance that noise puts as large a share of its power into one bin.

    P = Σ_j (−1)^(j−1)·C(m, j)·(1 − j·g)^(m−1), over j from 1 while j·g < 1, with
    g = largest power/sum of powers.

    Parameters
    ----------
    share : float
        g, 0 … 1.
    bins : int
        m ≥ 1, independent and of equal mean power.

    Notes
    -----
    Relative error below 1e-9 where P < 0.5, for m up to 1e6. With λ = m·(1 − g)^(m−1) bins
    expected above g, the terms grow like λ^j/j! before they cancel. From λ = 16 the bound
    1 − (1 − (1 − g)^(m−1))^m ≤ P stands in, which is within 2e-7 of P there.

    Examples
    --------
    >>> round(fisher_p_value(0.683772, 5), 4)
    0.05

    References
    ----------
    Fisher, Proc. R. Soc. A 125, 1929 (his table from memory: 0.68377 for m = 5 at 5 %). The bound:
    shares of a whole are negatively associated (Joag-Dev and Proschan 1983; from memory).
    """
    if share >= 1.0:
        return 0.0 if share > 1.0 or bins > 1 else 1.0
    if share * bins <= 1.0:
        return 1.0  # the largest share is never below the mean share
    one = exp((bins - 1) * log1p(-share))
    if bins * one > _CROWDED:
        return -expm1(bins * log1p(-one))
    terms, choose, least = [], 0.0, 0.0
    for j in range(1, min(bins, floor(1.0 / share)) + 1):
        if j * share >= 1.0:
            break
        choose += log((bins - j + 1) / j)
        size = choose + (bins - 1) * log1p(-j * share)
        # Falling, and too small to count beside the first term and beside one.
        least = min(0.0, size if j == 1 else least)
        if size < least - _NO_MORE and j * share * bins > 1.0:
            break
        terms.append(exp(size) if j % 2 else -exp(size))
    return min(1.0, max(0.0, fsum(terms)))


def fisher_level(probability: float, bins: int) -> float:
    """Return the share of power that noise puts into one bin with this probability.

    The g at which `fisher_p_value` is α. The first term alone, 1 − (α/m)^(1/(m−1)), is a bound
    from above, and close for small α.

    Parameters
    ----------
    probability : float
        α, above 0 and below 1.
    bins : int
        m ≥ 2.

    Examples
    --------
    >>> round(fisher_level(0.05, 20), 4)
    0.2704

    References
    ----------
    Fisher 1929.
    """
    union = -expm1(log(probability / bins) / (bins - 1))

    def excess(share: float) -> float:
        p = fisher_p_value(share, bins)
        return (log(p) if p > 0.0 else -inf) - log(probability)

    if excess(union) >= 0.0:
        return union
    return float(brentq(excess, 1.0 / bins, union, xtol=1e-16, rtol=1e-13))


HANN_TIME_SPREAD: Final = 0.14144
"""Standard deviation of time under the squared Hann window, in record lengths: √(1/12 − 5/8π²)."""


def expected_crossings(cells: ArrayLike, tail: ArrayLike, averages: int = 1) -> Float64Array:
    """Return how often a tapered spectrum of noise rises through a height: N·√(4π·z)·σ·g(z).

    Parameters
    ----------
    cells : array-like
        N, width of the band in bins of 1/T.
    tail : array-like
        Chance that one place exceeds the height, above 0.
    averages : int
        K spectra whose mean is taken: z is then a sum of K unit exponentials, with density g.

    Notes
    -----
    A bound on the chance of any crossing in the band, and close where it is small. σ is
    `HANN_TIME_SPREAD`.

    Examples
    --------
    >>> round(float(expected_crossings(1000.0, 1e-6)), 5)
    0.00186

    References
    ----------
    Rice, Bell System Technical Journal 24, 1945: expected crossings of a stationary process.
    """
    one = _floats(tail)
    # With K = 1 the density is the tail itself.
    z = -np.log(one) if averages == 1 else gammainccinv(averages, one)
    g = one if averages == 1 else np.exp((averages - 1) * np.log(z) - z - gammaln(averages))
    return _floats(_floats(cells) * np.sqrt(4.0 * np.pi * z) * HANN_TIME_SPREAD * g)


# Two channels, and phases -------------------------------------------------------------------


def coherence_level(probability: ArrayLike, averages: ArrayLike) -> Float64Array:
    """Return the squared coherence that unrelated channels exceed by chance: 1 − α^(1/(K−1)).

    Parameters
    ----------
    probability : array-like
        α, for one bin; for m bins give α/m.
    averages : array-like
        K > 1 independent segments.

    Notes
    -----
    Valid if at least one of the channels is Gaussian noise at the bin.

    Examples
    --------
    >>> round(float(coherence_level(0.05, 16)), 4)
    0.181

    References
    ----------
    Shumway and Stoffer, Time Series Analysis and Its Applications, equation 3.82; Priestley 1981,
    page 706 (from memory).
    """
    return _floats(-np.expm1(np.log(_floats(probability)) / (_floats(averages) - 1.0)))


def resultant_level(probability: ArrayLike, count: ArrayLike) -> Float64Array:
    """Return the mean resultant that random phases exceed by chance: √(−ln α/n).

    The mean resultant of n phases is |Σ exp(jφ)|/n: 1 when all agree.

    Parameters
    ----------
    probability : array-like
        α.
    count : array-like
        n, at least about 10.

    Notes
    -----
    Valid for many phases; at n = 10 and 5 % it is 1.4 % high, which errs to the safe side.

    Examples
    --------
    >>> round(float(resultant_level(0.05, 50)), 3)
    0.245

    References
    ----------
    Rayleigh's test, large n.
    """
    return _floats(np.sqrt(-np.log(_floats(probability)) / _floats(count)))
