"""Limits for records of few cycles, where the closed forms of `bounds` no longer hold.

Below two cycles an unknown offset, an unknown slope and the phase of the wave decide how much a
record can tell. These functions build the Fisher matrix, or the distance between two
hypotheses, from the samples themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_toeplitz
from scipy.optimize import brentq
from scipy.special import i0e

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from straypath.arrays import Float64Array

    Density = float | Callable[[Float64Array], Float64Array]


@dataclass(frozen=True)
class CombBounds:
    """Least standard deviations of f0 [Hz], and of each order's amplitude and centre phase."""

    frequency_hz: float
    amplitudes: Float64Array
    phases_rad: Float64Array


def comb_bounds(
    f0_hz: float,
    orders: Sequence[int],
    amplitudes: Sequence[float],
    phases_rad: Sequence[float],
    *,
    samples: int,
    rate_hz: float,
    density: Density,
    nuisance: int = 0,
) -> CombBounds:
    """Return the exact Cramér–Rao bound of a comb: √diag((JᵀC⁻¹J)⁻¹).

    The model is Σ A_k·cos(2πk·f0·t + φ_k) + Σ c_j·t^j with t = 0 at the centre; f0, all A_k, all
    φ_k and all c_j are unknown; C is the covariance of stationary Gaussian noise.

    Parameters
    ----------
    f0_hz : float
        [Hz].
    orders, amplitudes, phases_rad : sequence, shape (k,)
        Whole orders, peak amplitudes [unit, all > 0], phases at the centre [rad].
    samples : int
    rate_hz : float
        Samples per second [Hz].
    density : float or function of frequency [Hz]
        One-sided noise density [unit²/Hz]: a number for white noise. A function is read on
        a grid 32 times finer than 1/T and must be finite from there to half the rate; what lies
        below the grid is taken as level, so a floor that rises towards zero needs an offset among
        the unknowns.
    nuisance : int
        Number of polynomial terms that are unknown too: 0 none, 1 offset, 2 offset and slope.

    References
    ----------
    Kay, Fundamentals of Statistical Signal Processing I, 1993, chapter 3 (general Gaussian case).
    """
    t = (np.arange(samples) - (samples - 1) / 2.0) / rate_hz
    k, a, phi = np.array([orders, amplitudes, phases_rad], dtype=np.float64)[:, :, np.newaxis]
    angle = 2.0 * np.pi * k * f0_hz * t + phi
    slope = -a * np.sin(angle)
    columns = [np.sum(2.0 * np.pi * k * t * slope, axis=0), *np.cos(angle), *slope]
    columns += [t**power for power in range(nuisance)]
    raw = np.stack(columns, axis=1)
    scale = np.linalg.norm(raw, axis=0)
    jacobian: Float64Array = raw / scale
    information = jacobian.T @ _whitened(jacobian, rate_hz, density)
    variance = np.diag(cho_solve(cho_factor(information), np.eye(len(scale))))
    deviation: Float64Array = np.sqrt(variance) / scale
    count = len(k)
    return CombBounds(float(deviation[0]), deviation[1 : count + 1], deviation[count + 1 :][:count])


def _whitened(columns: Float64Array, rate_hz: float, density: Density) -> Float64Array:
    """Return C⁻¹ times the columns."""
    if not callable(density):
        return columns / (density * rate_hz / 2.0)
    fine = 32 * len(columns)
    frequency = np.fft.rfftfreq(fine, 1.0 / rate_hz)
    frequency[0] = frequency[1]
    spectrum = density(np.asarray(frequency, dtype=np.float64))
    covariance = np.fft.irfft(spectrum * rate_hz / 2.0, fine)[: len(columns)]
    return np.asarray(solve_toeplitz(covariance, columns))


def separation(
    true_hz: float, rival_hz: float, duration_s: float, *, nuisance: int = 0, samples: int = 4000
) -> tuple[float, float]:
    """Return what a rival frequency's best fit leaves of a sine, as rms over A/√2.

    Smallest over all phases of the true sine, and root mean square over them: from the
    eigenvalues of the sine's two quadratures after projection off the rival's model.

    Parameters
    ----------
    true_hz, rival_hz : float
        [Hz].
    duration_s : float
        Length of the record [s].
    nuisance : int
        Polynomial terms that the rival may use too: 0 none, 1 offset, 2 offset and slope.
    samples : int
        How finely time is cut up; the result is that of a dense record.

    Returns
    -------
    (worst, mean) : float, float
        In 0 … about 1. Worst is the ratio at the phase that hides best.

    Examples
    --------
    >>> round(separation(50.0, 60.0, 0.02, nuisance=1)[0], 3)
    0.183
    """
    t = ((np.arange(samples) + 0.5) / samples - 0.5) * duration_s
    truth = _quadratures(true_hz, t)
    rival = np.column_stack(
        [_quadratures(rival_hz, t), *((2.0 * t / duration_s) ** power for power in range(nuisance))]
    )
    basis = np.linalg.qr(rival)[0]
    left = truth - basis @ (basis.T @ truth)
    # A wave of amplitude 1 at phase ψ is truth @ (cos ψ, −sin ψ).
    squares = np.linalg.eigvalsh(left.T @ left) / (samples / 2.0)
    return float(np.sqrt(max(float(squares[0]), 0.0))), float(np.sqrt(squares.mean()))


def _quadratures(frequency_hz: float, t: Float64Array) -> Float64Array:
    angle = 2.0 * np.pi * frequency_hz * t
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def wrong_peak_probability(rho_db: float, rivals: int) -> float:
    """Return the chance that noise in one of several rival bins beats the line's own bin.

    1 − ∫ p(u)·(1 − e^(−u))^M du, with p the density of the line's bin, u its power over the mean
    noise power of a bin, and 10^(ρ/10)/2 that ratio without noise.

    Parameters
    ----------
    rho_db : float
        Strength of the line over its floor [dB].
    rivals : int
        M independent bins, 1/T apart, that the search could also have picked.

    References
    ----------
    Rife and Boorstyn 1974 (method of outliers; from memory).
    """
    centre = np.sqrt(10.0 ** (rho_db / 10.0) / 2.0)
    r = np.linspace(max(0.0, centre - 8.0), centre + 8.0, 4001)
    density = 2.0 * r * np.exp(-np.square(r - centre)) * i0e(2.0 * r * centre)
    # The complement is integrated, so that small probabilities keep their digits.
    below = -np.expm1(-np.square(np.maximum(r, 1e-9)))
    beaten = -np.expm1(rivals * np.log(below))
    return float(np.trapezoid(density * beaten, r))


def rho_for_wrong_peak_db(probability: float, rivals: int) -> float:
    """Return the ρ [dB] at which a search among rival bins fails with this probability.

    Parameters
    ----------
    probability : float
        1e-12 … 0.4.
    rivals : int
        See `wrong_peak_probability`.
    """
    return float(brentq(lambda rho: wrong_peak_probability(rho, rivals) - probability, -10.0, 60.0))
