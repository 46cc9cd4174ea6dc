"""One gain and one delay between two channels, fitted over lines or over a band."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, optimize, special

from straypath.contents.pair.spectrum import jackknife

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.arrays import ComplexArray, FloatArray
    from straypath.contents.pair.ratio import Sample
    from straypath.contents.pair.spectrum import CrossSpectra

STEPS_PER_PERIOD = 16
MOST_STEPS = 100_000
FINER = 8


@dataclass(frozen=True)
class GainDelay:
    """g and τ of y ≈ g·x(t − τ), with their covariance.

    Parameters
    ----------
    gain, delay_s : float
    gain_u, delay_u_s : float
        Standard uncertainties, misfit counted.
    gain_dof, delay_dof : float
        Degrees of freedom behind them.
    response_covariance : array, shape (2, 2)
        Of (g, τ) from noise alone.
    square : float
        Sum over the lines of |residual|²/variance of a quadrature; 0 for a band.
    """

    gain: float
    delay_s: float
    gain_u: float
    delay_u_s: float
    gain_dof: float
    delay_dof: float
    response_covariance: FloatArray
    square: float

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return g·e^{−j2πfτ}."""
        return np.asarray(self.gain * np.exp(-2j * np.pi * frequency_hz * self.delay_s))


def fit_over_lines(
    frequency_hz: FloatArray, samples: Sequence[Sample], longest_s: float
) -> GainDelay:
    """Fit gain and delay to the phasors of lines, with the noise of both channels.

    Minimise Σ |Y_k − g e^{−jω_k τ} X_k|²/v_k, v_k the variance of that very combination; this
    is maximum likelihood, and noise of x does not shrink g.

    Parameters
    ----------
    frequency_hz : array, shape (m,)
        [Hz].
    samples : sequence of Sample, m of them
    longest_s : float
        |τ| to try [s].
    """
    y, x = np.array([s.y for s in samples]), np.array([s.x for s in samples])
    omega = 2 * np.pi * frequency_hz
    tau = _best_delay(y, x, omega, _variances(samples, y / x), longest_s)
    turned = y * np.exp(1j * omega * tau) * np.conj(x)
    weight = 1 / _variances(samples, y / x)
    gain = float(np.sum(turned.real * weight) / np.sum(np.abs(x) ** 2 * weight))
    size, unit_s = abs(gain) or 1.0, 1.0 / float(omega.max())

    def residual(p: FloatArray) -> FloatArray:
        ratio = p[0] * size * np.exp(-1j * omega * p[1] * unit_s)
        d = (y - ratio * x) / np.sqrt(_variances(samples, ratio))
        return np.concatenate([d.real, d.imag])

    start = np.array([gain / size, tau / unit_s])
    found = optimize.least_squares(residual, start, x_scale="jac", xtol=1e-14, ftol=1e-14)
    scale = np.array([size, unit_s])
    g, t = (float(p) for p in found.x * scale)
    turn = np.exp(-1j * omega * t)
    slope = np.stack([x * turn, -1j * omega * g * x * turn], axis=1)
    slope /= np.sqrt(_variances(samples, g * turn))[:, np.newaxis]
    jacobian = np.concatenate([slope.real, slope.imag]) * scale
    noise = np.linalg.pinv(jacobian.T @ jacobian) * np.outer(scale, scale)
    square = 2 * float(found.cost)
    m, each = len(y), 2.0 * (samples[0].count - 1)
    dof, misfit = _effective_dof(jacobian, each), 1.0
    if m > 1 and square / (2 * m - 2) > special.fdtri(2 * m - 2, each * m, 0.95):
        misfit = square / (2 * m - 2)
        dof = np.minimum(dof, 2.0 * m - 2)
    u = np.sqrt(np.diag(noise) * misfit)
    (gain_u, delay_u), (gain_dof, delay_dof) = map(float, u), map(float, dof)
    return GainDelay(g, t, gain_u, delay_u, gain_dof, delay_dof, noise, square)


def _effective_dof(jacobian: FloatArray, each: float) -> FloatArray:
    """Degrees of freedom of both parameters: (Σ a)²/(Σ a²/each), a the part of each line."""
    parts = np.linalg.pinv(jacobian) ** 2
    lines = parts[:, : len(jacobian) // 2] + parts[:, len(jacobian) // 2 :]
    return np.asarray(each * lines.sum(axis=1) ** 2 / np.sum(lines**2, axis=1))


def _variances(samples: Sequence[Sample], ratios: ComplexArray) -> FloatArray:
    """Variance of each quadrature of the mean of y − ratio·x."""
    pairs = zip(samples, ratios, strict=True)
    return np.array([s.scatter(complex(r)) / (2 * s.count) for s, r in pairs])


def _best_delay(
    y: ComplexArray, x: ComplexArray, omega: FloatArray, variance: FloatArray, longest_s: float
) -> float:
    """The delay on a fine grid at which the best gain leaves least; the shortest of equals."""
    steps = int(np.ceil(longest_s * omega.max() / (2 * np.pi) * STEPS_PER_PERIOD))
    steps = min(max(steps, 1), MOST_STEPS)
    cross = y * np.conj(x) / variance
    best, gained = 0.0, -np.inf
    for i in sorted(range(-steps, steps + 1), key=abs):
        tau = longest_s * i / steps
        gain = float(np.sum((cross * np.exp(1j * omega * tau)).real)) ** 2
        if gain > gained * (1 + 1e-9):
            best, gained = tau, gain
    return best


def fit_over_band(spectra: CrossSpectra, inside: np.ndarray, longest_s: float) -> GainDelay:
    """Fit gain and delay so that the power of the difference in a band is least.

    g(τ) = C(τ)/Σ S_xx with C(τ) = Σ Re S_yx e^{jωτ}; τ where |C| is largest.

    Parameters
    ----------
    spectra : CrossSpectra
    inside : array of bool, shape (f,)
        The band.
    longest_s : float
        |τ| to try [s]; short against a segment.

    Uncertainties: from leaving out each part of the record in turn. Noise of x shrinks g, for
    that is what leaves least; over lines it does not.
    """
    omega = 2 * np.pi * spectra.frequency_hz[inside]
    yx = spectra.without(None)[2]
    tau, step = _peak(np.where(inside, yx, 0), spectra, longest_s)
    found = []
    for part in [None, *range(len(spectra.counts))]:
        _, xx, yx, _ = spectra.without(part)
        found.append(_refined(yx[inside], float(xx[inside].sum()), omega, tau, step))
    (gain, tau), left = found[0], np.array(found[1:])
    u = [jackknife(left[:, 0], gain), jackknife(left[:, 1], tau)]
    dof = len(left) - 1.0
    return GainDelay(gain, tau, u[0], u[1], dof, dof, np.diag(np.square(u)), 0.0)


def _peak(yx: ComplexArray, spectra: CrossSpectra, longest_s: float) -> tuple[float, float]:
    """Delay of the largest |C| on a grid, and the grid's step [s].

    A transform back to time gives C at all delays; a negative one lies at its end.
    """
    length = 2 * (len(yx) + 1)
    step_s = spectra.segment_s / length / FINER
    padded = np.zeros(length * FINER // 2 + 1, dtype=complex)
    padded[1 : len(yx) + 1] = yx
    c = fft.irfft(padded, length * FINER)
    reach = min(int(longest_s / step_s), len(c) // 2 - 1)
    places = np.arange(-reach, reach + 1)
    return float(places[np.argmax(np.abs(c[places]))]) * step_s, step_s


def _refined(
    yx: ComplexArray, power: float, omega: FloatArray, tau: float, step: float
) -> tuple[float, float]:
    def less(t: float) -> float:
        return -abs(float(np.sum((yx * np.exp(1j * omega * t)).real)))

    best = optimize.minimize_scalar(
        less,
        bounds=(tau - 2 * step, tau + 2 * step),
        method="bounded",
        options={"xatol": 1e-9 * step},
    )
    t = float(best.x)
    return float(np.sum((yx * np.exp(1j * omega * t)).real)) / power, t
