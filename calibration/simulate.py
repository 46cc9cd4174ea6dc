"""Invented records with a known comb and a known floor.

The floors are made by shaping white noise in a transform of at least twice the length wanted,
of which one part is kept: nothing here shares code or noise model with the estimator.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# A typical distorted supply: amplitudes against the fundamental (invented).
TYPICAL = {1: 1.0, 2: 0.01, 3: 0.1, 5: 0.07, 7: 0.04, 9: 0.02, 11: 0.02, 13: 0.01, 15: 0.005}


@dataclass(frozen=True)
class Floor:
    """One-sided density 1 + (corner/f)^power [unit²/Hz], level below `lowest_hz`."""

    name: str
    corner_hz: float = 0.0
    power: float = 1.0
    lowest_hz: float = 0.05

    def density(self, frequency_hz):
        if self.corner_hz == 0.0:
            return np.ones_like(np.asarray(frequency_hz, dtype=float))
        f = np.maximum(frequency_hz, self.lowest_hz)
        return 1.0 + (self.corner_hz / f) ** self.power

    def draw(self, rng, samples, rate_hz):
        if self.corner_hz == 0.0:
            return rng.standard_normal(samples) * np.sqrt(rate_hz / 2)
        padded = 1 << int(np.ceil(np.log2(max(2 * samples, rate_hz / self.lowest_hz))))
        spectrum = np.fft.rfft(rng.standard_normal(padded))
        shape = np.sqrt(self.density(np.fft.rfftfreq(padded, 1 / rate_hz)) * rate_hz / 2)
        return np.fft.irfft(spectrum * shape, padded)[:samples]


WHITE = Floor("white")
PINK = Floor("1/f below 500 Hz", 500.0, 1.0)
BROWN = Floor("1/f² below 200 Hz", 200.0, 2.0)


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
