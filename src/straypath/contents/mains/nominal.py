"""Which supply system does a very short record belong to?

Within a cycle or two the frequency can hardly be measured, but it need not be: supplies lie
near 50 or 60 Hz. What decides is how well either explains the wave, and that depends on how
many harmonics are allowed to help. One fixed allowance is dangerous (a pure sine is then often
taken for a piece of a distorted one), so the evidence is averaged over many.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from straypath.arrays import FloatArray
    from straypath.contents.mains.cosine_bins import CosineBins
    from straypath.contents.mains.systems import MainsSystem

# Amplitude of order k against the fundamental: scale · (2/k)^decay, one of these scales and decays;
# even orders either as large as odd ones or a tenth of them, for most loads treat both half-waves
# alike.
HARMONIC_SCALES = np.array([0.0, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0])
DECAYS = np.array([0.5, 1.0, 2.0])
EVEN_SHARES = np.array([0.1, 1.0])
# Variance of the fundamental over the variance of a bin's noise, even in the logarithm.
SIGNAL_TO_NOISE = 10.0 ** np.arange(0.0, 14.1, 0.5)
# Harmonics are allowed up to the first, bins are used up to the second frequency: what lies
# between tells the noise, without which any wave could be explained exactly by either system.
HIGHEST_HARMONIC_HZ = 1200.0
HIGHEST_HZ = 6000.0
# Frequencies tried: about nominal in units of the usual spread, over the range, and closing in on
# the best, since a clean wave fixes the frequency to a millihertz even within one cycle.
NEAR = np.arange(-3.0, 3.1)
SPREAD = np.linspace(0.0, 1.0, 7)
CLOSING_HZ = (0.05, 0.01, 0.002, 0.0004)
AROUND_HZ = np.array([0.0005, 0.002, 0.006, 0.02, 0.06])


def system_probabilities(bins: CosineBins, systems: tuple[MainsSystem, ...]) -> FloatArray:
    """Return the probability of each system, given that it is mains.

    Bayes: prior weight times evidence, averaged over frequency, harmonic scale and
    signal-to-noise ratio g, with offset and slope unknown and the noise level integrated out:

        ln p = -1/2 Σ ln(1 + g λ) - (M - 1)/2 · ln(y·y - Σ g (v·Xᵀy)²/(1 + g λ))

    with λ, v the eigenvalues and vectors of XᵀX, X the lines scaled by their prior amplitudes.

    Parameters
    ----------
    bins : CosineBins
        Up to 6 kHz, as far as the rate allows.
    systems : tuple of MainsSystem

    Validity: white noise above the first harmonics; made for less than four cycles.
    """
    logs = np.array([_log_evidence(bins, s) for s in systems])
    # Part of a cycle leans on the priors for what it does not show, and no prior knows all waves:
    # its evidence counts in proportion to what it does show.
    cycles = bins.duration_s * min(s.nominal_hz for s in systems)
    logs = min(1.0, cycles) * (logs - logs.max()) + np.log([s.weight for s in systems])
    parts = np.exp(logs - logs.max())
    return np.asarray(parts / parts.sum())


def _log_evidence(bins: CosineBins, system: MainsSystem) -> float:
    """Log of ∫ prior(f) p(record | f) df."""
    orders = int(min(HIGHEST_HARMONIC_HZ, 0.45 * bins.rate_hz) / system.nominal_hz)
    priors = _priors(max(1, min(orders, bins.count // 4)))
    span = system.high_hz - system.low_hz
    f = np.union1d(system.nominal_hz + system.usual_sd_hz * NEAR, system.low_hz + span * SPREAD)
    tables = np.array([_log_likelihoods(bins, at, priors) for at in f])
    at, prior, ratio = np.unravel_index(int(np.argmax(tables)), tables.shape)
    best = float(f[at])
    for step_hz in CLOSING_HZ:
        tries = best + step_hz * np.arange(-2.0, 2.1)
        single = [_log_likelihoods(bins, t, priors[prior : prior + 1])[0, ratio] for t in tries]
        best = float(tries[int(np.argmax(single))])
    close = best + np.concatenate([-AROUND_HZ[::-1], [0.0], AROUND_HZ])
    tables = np.concatenate([tables, [_log_likelihoods(bins, at, priors) for at in close]])
    f, first = np.unique(np.concatenate([f, close]), return_index=True)
    top = float(tables.max())
    likelihood = np.mean(np.exp(tables[first] - top), axis=(1, 2))
    density = system.prior_density(f, np.zeros(1))
    return top + float(np.log(max(np.trapezoid(likelihood * density, f), 1e-300)))


def _priors(orders: int) -> FloatArray:
    """Prior amplitudes of the orders against the fundamental, one row per kind of wave."""
    numbers = np.arange(1, orders + 1)
    share = np.where(numbers % 2 == 1, 1.0, EVEN_SHARES[:, np.newaxis])
    falling = (2.0 / numbers) ** DECAYS[:, np.newaxis, np.newaxis]
    scaled = HARMONIC_SCALES[:, np.newaxis, np.newaxis, np.newaxis] * share * falling
    return np.asarray(np.where(numbers == 1, 1.0, scaled.reshape(-1, orders)))


def _log_likelihoods(bins: CosineBins, f_hz: float, priors: FloatArray) -> FloatArray:
    """Log likelihoods at one frequency: a row per kind of wave, a column per noise ratio."""
    numbers = np.arange(1, priors.shape[1] + 1)
    logs, squares = 0.0, 0.0
    for half in (0, 1):
        lines = bins.columns(f_hz * numbers, half)
        y = bins.values[half]
        if half == 1:
            ramp = bins.ramp[1] / np.linalg.norm(bins.ramp[1])
            y = y - ramp * (ramp @ y)
            lines = lines - np.outer(ramp, ramp @ lines)
        gram = priors[:, :, np.newaxis] * (lines.T @ lines) * priors[:, np.newaxis, :]
        values, vectors = np.linalg.eigh(gram)
        power = np.einsum("hko,hk->ho", vectors, priors * (lines.T @ y)) ** 2
        gain = SIGNAL_TO_NOISE[:, np.newaxis] * np.maximum(values, 0.0)[:, np.newaxis, :]
        logs = logs - 0.5 * np.sum(np.log1p(gain), axis=2)
        kept = SIGNAL_TO_NOISE[:, np.newaxis] * power[:, np.newaxis, :] / (1.0 + gain)
        squares = squares + y @ y - np.sum(kept, axis=2)
    return np.asarray(logs - 0.5 * (bins.count - 1) * np.log(np.maximum(squares, 1e-300)))
