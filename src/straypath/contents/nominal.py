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
    from straypath.contents.cosine_bins import CosineBins
    from straypath.contents.systems import FloatArray, MainsSystem

# Amplitude of order k against the fundamental: scale · 2/k, one of these scales; even orders
# either as large as odd ones or a tenth of them, for most loads treat both half-waves alike.
HARMONIC_SCALES = np.array([0.0, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0])
EVEN_SHARES = np.array([0.1, 1.0])
# Variance of the fundamental over the variance of a bin's noise, even in the logarithm.
SIGNAL_TO_NOISE = 10.0 ** np.arange(0.0, 14.1, 0.5)
# Harmonics are allowed up to the first, bins are used up to the second frequency: what lies
# between tells the noise, without which any wave could be explained exactly by either system.
HIGHEST_HARMONIC_HZ = 1200.0
HIGHEST_HZ = 6000.0
NEAR = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
SPREAD = np.array([0.1, 0.3, 0.5, 0.7, 0.9])


def system_probabilities(bins: CosineBins, systems: tuple[MainsSystem, ...]) -> FloatArray:
    """Return the probability of each system, given that it is mains.

    Bayes: prior weight times evidence, averaged over frequency, harmonic scale and
    signal-to-noise ratio, with offset and slope unknown and the noise level integrated out:

        ln p = -1/2 Σ ln(1 + g s²) - (M - 1)/2 · ln(y·y - Σ g s²/(1 + g s²) (u·y)²)

    with s, u the singular values and vectors of the scaled lines.

    Parameters
    ----------
    bins : CosineBins
        Up to 6 kHz, as far as the rate allows.
    systems : tuple of MainsSystem
    """
    logs = np.array([_log_evidence(bins, s) + np.log(s.weight) for s in systems])
    parts = np.exp(logs - logs.max())
    return np.asarray(parts / parts.sum())


def _log_evidence(bins: CosineBins, system: MainsSystem) -> float:
    f = np.concatenate(
        [
            system.nominal_hz + system.usual_sd_hz * NEAR,
            system.low_hz + (system.high_hz - system.low_hz) * SPREAD,
        ]
    )
    near = np.exp(-0.5 * NEAR**2)
    share = np.concatenate([0.9 * near / near.sum(), np.full(len(SPREAD), 0.1 / len(SPREAD))])
    orders = int(min(HIGHEST_HARMONIC_HZ, 0.45 * bins.rate_hz) / system.nominal_hz)
    orders = max(1, min(orders, bins.count // 4))
    numbers = np.arange(1, orders + 1)
    share_of = np.where(numbers % 2 == 1, 1.0, EVEN_SHARES[:, np.newaxis])
    scaled = HARMONIC_SCALES[:, np.newaxis, np.newaxis] * share_of * 2 / numbers
    allowed = np.where(numbers == 1, 1.0, scaled.reshape(-1, orders))
    logs = 0.0
    squares = 0.0
    for half in (0, 1):
        lines = bins.columns(f[:, np.newaxis] * numbers, half)
        y = bins.values[half]
        if half == 1:
            ramp = bins.ramp[1] / np.linalg.norm(bins.ramp[1])
            y = y - ramp * (ramp @ y)
            lines = lines - ramp[:, np.newaxis] * (ramp @ lines)[:, np.newaxis, :]
        priors = lines[:, np.newaxis] * allowed[np.newaxis, :, np.newaxis, :]
        u, s, _ = np.linalg.svd(priors, full_matrices=False)
        power = (np.swapaxes(u, -1, -2) @ y) ** 2
        gain = SIGNAL_TO_NOISE[:, np.newaxis] * s[..., np.newaxis, :] ** 2
        logs = logs - 0.5 * np.sum(np.log1p(gain), axis=-1)
        squares = squares + y @ y - np.sum(gain / (1 + gain) * power[..., np.newaxis, :], axis=-1)
    logs = logs - 0.5 * (bins.count - 1) * np.log(np.maximum(squares, 1e-300))
    logs = logs + np.log(share)[:, np.newaxis, np.newaxis]
    top = float(np.max(logs))
    return top + float(np.log(np.sum(np.exp(logs - top)) / logs[0].size))
