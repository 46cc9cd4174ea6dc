"""Invented pairs of channels with a known transfer between them."""

from __future__ import annotations

import numpy as np

from straypath.quantity import Quantity

RATE_HZ = 4_000.0
F0_HZ = 49.98


def times(seconds, rate_hz=RATE_HZ):
    n = int(seconds * rate_hz)
    return (np.arange(n) - (n - 1) / 2) / rate_hz


def tones(t, phasors, track_rad=0.0, f0_hz=F0_HZ):
    """Sum of mains orders: {order: peak amplitude · e^{jθ}}."""
    turn = 2 * np.pi * f0_hz * t + track_rad
    return sum((z * np.exp(1j * k * turn)).real for k, z in phasors.items())


def through(phasors, ratio):
    """The same orders after a transfer: a number, or a function of the order."""
    return {k: z * (ratio(k) if callable(ratio) else ratio) for k, z in phasors.items()}


def holds(reading, truth):
    """Whether a reading's interval, or its upper limit, holds the truth."""
    if isinstance(reading, Quantity):
        return reading.low <= truth <= reading.high
    return truth <= reading.upper


def holds_angle(reading, truth):
    nearest = reading.value + np.angle(np.exp(1j * (truth - reading.value)))
    return holds(reading, nearest)
