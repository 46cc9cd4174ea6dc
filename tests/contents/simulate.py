"""Invented records with a known comb and a known floor, for the tests and the calibration.

The floors are made by shaping white noise in a transform of twice the length wanted, of which
one half is kept: nothing here shares code or noise model with the estimator.
"""

from __future__ import annotations

import numpy as np


def floor(rng, samples, rate_hz, density=1.0, corner_hz=0.0, power=1.0, lowest_hz=0.02):
    """Gaussian noise with one-sided density · (1 + (corner/f)^power), flat below lowest_hz."""
    if corner_hz == 0.0:
        return rng.standard_normal(samples) * np.sqrt(density * rate_hz / 2)
    padded = 1 << int(np.ceil(np.log2(max(2 * samples, rate_hz / lowest_hz))))
    spectrum = np.fft.rfft(rng.standard_normal(padded))
    f = np.maximum(np.fft.rfftfreq(padded, 1 / rate_hz), lowest_hz)
    shaped = np.fft.irfft(spectrum * np.sqrt(1 + (corner_hz / f) ** power), padded)
    return shaped[:samples] * np.sqrt(density * rate_hz / 2)


def comb(samples, rate_hz, f0_hz, amplitudes, phases, track_hz=None):
    """Sum of A_k cos(k φ(t) + θ_k), φ zero at the record's centre; track_hz adds to f0_hz."""
    t = (np.arange(samples) - (samples - 1) / 2) / rate_hz
    turn = 2 * np.pi * f0_hz * t
    if track_hz is not None:
        moved = 2 * np.pi * np.cumsum(track_hz) / rate_hz
        turn = turn + moved - np.interp(0.0, t, moved)
    x = np.zeros(samples)
    for order, amplitude in amplitudes.items():
        x += amplitude * np.cos(order * turn + phases[order])
    return x


def amplitude_for(rho_db, density, duration_s):
    """Peak amplitude with ρ = A/√(S/T) in dB."""
    return 10 ** (rho_db / 20) * np.sqrt(density / duration_s)
