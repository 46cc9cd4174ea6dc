"""Limits that no estimator can beat, in closed form.

Everything follows from one number per line, its strength over the floor:
ρ = A/√(S/T), with A the peak amplitude, S the one-sided noise density under the line and T
the length of the record. The functions broadcast over arrays.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straypath.arrays import Float64Array

Window = Literal["rectangular", "triangular", "hann"]

COUNTED_FROM_DB = 16.0
"""Weakest order [dB] that may carry information about f0. An order too weak to be noticed would
otherwise promise a bound that nobody can reach."""


def _floats(numbers: ArrayLike) -> Float64Array:
    return np.asarray(numbers, dtype=np.float64)


def white_density(sigma: ArrayLike, rate_hz: ArrayLike) -> Float64Array:
    """Return the one-sided density of white noise: S = 2σ²/fs.

    Parameters
    ----------
    sigma : array-like
        Standard deviation of one sample [unit].
    rate_hz : array-like
        Samples per second [Hz].

    Returns
    -------
    array
        [unit²/Hz].
    """
    return 2.0 * _floats(sigma) ** 2 / _floats(rate_hz)


def rho_db(amplitude: ArrayLike, density: ArrayLike, duration_s: ArrayLike) -> Float64Array:
    """Return how far a line stands above its floor: ρ = A/√(S/T), as 20·log10 ρ.

    Parameters
    ----------
    amplitude : array-like
        Peak amplitude [unit].
    density : array-like
        One-sided noise density under the line [unit²/Hz].
    duration_s : array-like
        Length of the record [s].

    Examples
    --------
    >>> round(float(rho_db(1.0, 2e-6, 0.2)), 6)
    50.0
    """
    return _floats(20.0 * np.log10(_floats(amplitude) / amplitude_bound(density, duration_s)))


def amplitude_bound(density: ArrayLike, duration_s: ArrayLike) -> Float64Array:
    """Return the least standard deviation of a peak amplitude: σ_A = √(S/T).

    The frequency may be known or not. Valid from about two cycles; see `fisher` for less.

    Parameters
    ----------
    density : array-like
        One-sided noise density under the line [unit²/Hz].
    duration_s : array-like
        Length of the record [s].

    References
    ----------
    Rife and Boorstyn, IEEE Trans. Inf. Theory 20, 1974; Kay, Fundamentals of Statistical Signal
    Processing I, 1993, example 3.14 (var A = 2σ²/N, with S = 2σ²/fs and T = N/fs).
    """
    return (_floats(density) / _floats(duration_s)) ** 0.5


def phase_bound_rad(
    amplitude: ArrayLike,
    density: ArrayLike,
    duration_s: ArrayLike,
    *,
    at: Literal["centre", "start"] = "centre",
    samples: ArrayLike = np.inf,
) -> Float64Array:
    """Return the least standard deviation of a phase [rad]: 1/ρ at the centre, 2/ρ at the start.

    With the frequency unknown, phase at the first sample is twice as unsure as at the centre.
    Valid from about two cycles; see `fisher` for less.

    Parameters
    ----------
    amplitude : array-like
        Peak amplitude [unit].
    density : array-like
        One-sided noise density under the line [unit²/Hz].
    duration_s : array-like
        Length of the record [s].
    at : {"centre", "start"}
    samples : array-like
        Number of samples, for the exact factor (4N − 2)/(N + 1) of the variance at the start.

    References
    ----------
    Rife and Boorstyn 1974; Kay 1993, example 3.14.
    """
    centre = amplitude_bound(density, duration_s) / _floats(amplitude)
    if at == "centre":
        return centre
    few = 1.0 / _floats(samples)
    return centre * ((4.0 - 2.0 * few) / (1.0 + few)) ** 0.5


def frequency_bound_hz(
    amplitude: ArrayLike,
    density: ArrayLike,
    duration_s: ArrayLike,
    *,
    samples: ArrayLike = np.inf,
) -> Float64Array:
    """Return the least standard deviation of one line's frequency: √(3S/(π²A²T³)).

    The rate drops out: only density and length count, the length to the power 3/2. Valid from
    about two cycles; see `fisher` for less.

    Parameters
    ----------
    amplitude : array-like
        Peak amplitude [unit].
    density : array-like
        One-sided noise density under the line [unit²/Hz].
    duration_s : array-like
        Length of the record [s].
    samples : array-like
        Number of samples, for the exact factor 1/(1 − 1/N²) of the variance.

    Examples
    --------
    >>> round(float(frequency_bound_hz(1.0, 2e-6, 0.2)), 9)
    0.008717275

    References
    ----------
    Rife and Boorstyn 1974; Kay 1993, example 3.14 (the bound of a *real* sinusoid: that of a
    complex one, 6 instead of 12, is 3 dB lower).
    """
    rho = _floats(amplitude) / amplitude_bound(density, duration_s)
    few = 1.0 - 1.0 / _floats(samples) ** 2
    return (3.0 / few) ** 0.5 / (np.pi * rho * _floats(duration_s))


def comb_frequency_bound_hz(
    orders: ArrayLike,
    amplitudes: ArrayLike,
    densities: ArrayLike,
    duration_s: float,
    *,
    counted_from_db: float = COUNTED_FROM_DB,
) -> float:
    """Return the least standard deviation of f0 from a whole comb: √(3/(π²T³W)).

    W = Σ k²A_k²/S_k over the orders that stand at least `counted_from_db` above their floor.
    Infinite when there are none.

    Parameters
    ----------
    orders : array-like, shape (k,)
    amplitudes : array-like, shape (k,)
        Peak amplitudes [unit].
    densities : array-like, shape (k,) or scalar
        One-sided noise density under each order [unit²/Hz].
    duration_s : float
        Length of the record [s].
    counted_from_db : float
        Weakest ρ that counts [dB]; −inf counts all.

    References
    ----------
    Nehorai and Porat, IEEE Trans. ASSP 34, 1986; Christensen and Jakobsson, Multi-Pitch
    Estimation, 2009 (both from memory), for white noise; with densities per order by addition
    of Fisher information, exact when the floor is smooth over 1/T.
    """
    k, a, s = np.broadcast_arrays(_floats(orders), _floats(amplitudes), _floats(densities))
    seen = a > 10.0 ** (counted_from_db / 20.0) * amplitude_bound(s, duration_s)
    weight = float(np.sum(np.square(k * a)[seen] / s[seen]))
    return float(np.sqrt(3.0 / (np.pi**2 * duration_s**3 * weight))) if weight else np.inf


def level_bound_db(rho: ArrayLike) -> Float64Array:
    """Return the standard deviation of a level 20·log10 A [dB]: (20/ln 10)/10^(ρ/20).

    Valid for ρ above about 12 dB, where the logarithm is straight over the uncertainty.

    Parameters
    ----------
    rho : array-like
        Strength of the line over its floor [dB].
    """
    return _floats(20.0 / np.log(10.0) * 10.0 ** (-_floats(rho) / 20.0))


def absent_line_amplitude(
    probability: ArrayLike, density: ArrayLike, duration_s: ArrayLike
) -> Float64Array:
    """Return the fitted peak amplitude that noise alone stays below: √(S/T)·√(−2·ln(1 − p)).

    An absent line never reads zero, so 'gone' can only mean 'below this'. Exact in Gaussian noise.

    Parameters
    ----------
    probability : array-like
        0 … 1, such as 0.95.
    density : array-like
        One-sided noise density under the line [unit²/Hz].
    duration_s : array-like
        Length of the record [s].

    References
    ----------
    The modulus of a circular complex Gaussian has Rayleigh's distribution.
    """
    quantile = _floats(-2.0 * np.log1p(-_floats(probability))) ** 0.5
    return quantile * amplitude_bound(density, duration_s)


def window_gain(cycles: ArrayLike, window: Window = "rectangular") -> Float64Array:
    """Return what an averaging window leaves of a sine, as a signed factor; 1 at zero frequency.

    rectangular: sinc x; triangular (two equal boxes, each half as long): sinc²(x/2);
    Hann: sinc x/(1 − x²), with x the number of cycles in the window and sinc x = sin πx/(πx).

    Parameters
    ----------
    cycles : array-like
        Frequency times length of the window.
    window : {"rectangular", "triangular", "hann"}

    References
    ----------
    Harris, Proc. IEEE 66, 1978 (the transforms of these windows).
    """
    x = _floats(cycles)
    if window == "rectangular":
        return np.sinc(x)
    if window == "triangular":
        return _floats(np.sinc(x / 2.0) ** 2)
    # The three shifted kernels of the Hann window: no removable poles at x = ±1.
    return np.sinc(x) + 0.5 * (np.sinc(x - 1.0) + np.sinc(x + 1.0))


def window_rejection_db(
    frequency_hz: ArrayLike, aperture_s: ArrayLike, window: Window = "rectangular"
) -> Float64Array:
    """Return by how much averaging over an aperture weakens a sine [dB, positive].

    Parameters
    ----------
    frequency_hz : array-like
        [Hz].
    aperture_s : array-like
        Whole length of the window [s].
    window : {"rectangular", "triangular", "hann"}

    Examples
    --------
    >>> round(float(window_rejection_db(60.0, 0.02)), 2)
    16.14
    """
    gain = window_gain(_floats(frequency_hz) * _floats(aperture_s), window)
    with np.errstate(divide="ignore"):
        return _floats(-20.0 * np.log10(np.abs(gain)))


def longest_coherent_s(drift_hz_per_s: ArrayLike, order: ArrayLike) -> Float64Array:
    """Return how long one frequency describes an order while f0 drifts: T = 1/√(k·r).

    Then the phase at both ends is π/4 off the best tangent at the centre; beyond it, the drift
    must be tracked.

    Parameters
    ----------
    drift_hz_per_s : array-like
        Steady drift r of the mains frequency [Hz/s].
    order : array-like
        Order k.
    """
    return (_floats(order) * abs(_floats(drift_hz_per_s))) ** -0.5
