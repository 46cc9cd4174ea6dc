"""Lines for the tests: all invented, as a detector would hand them over."""

from __future__ import annotations

import numpy as np

from straypath.contents.records import Line
from straypath.uncertainty import from_normal

DURATION_S = 10.0
RATE_HZ = 1e6
MAINS = from_normal(49.98, 2e-4)


def line(hz, rms=1e-6, u=1e-3, *, rng=None, width=None):
    """A line at this frequency; with a generator, measured with an error of u."""
    error = u * rng.standard_normal() if rng is not None else 0.0
    return Line(
        frequency_hz=from_normal(float(hz + error), float(u)),
        rms=from_normal(float(rms), float(rms) / 50.0),
        phase_rad=None,
        p_value=1e-9,
        floor=1e-18,
        width_hz=None if width is None else from_normal(width, width / 10.0),
    )


def harmonics(rate_hz, orders, *, rng=None, u=1e-3, rms=1e-6):
    return [line(k * rate_hz, rms / k, u, rng=rng) for k in orders]


def sidebands(carrier_hz, spacing_hz, orders, *, rng=None, u=1e-3, rms=1e-5):
    return [line(carrier_hz + k * spacing_hz, rms / (1 + abs(k)), u, rng=rng) for k in orders]


def unrelated(rng, count, duration_s, rate_hz, spread):
    """Lines without any tie, even over frequency or over its logarithm; weak ones read worse."""
    low, high = 5.0 / duration_s, rate_hz / 2.0
    if spread == "even":
        places = rng.uniform(low, high, count)
    else:
        places = np.exp(rng.uniform(np.log(low), np.log(high), count))
    u = 10.0 ** rng.uniform(-3.0, -1.0, count) / duration_s
    return [
        line(f, rms, du)
        for f, rms, du in zip(places, 10.0 ** rng.uniform(-8, -5, count), u, strict=True)
    ]


def partition(families):
    """Which frequencies stand together, whatever the order."""
    return {frozenset(line.frequency_hz.value for line in family.lines) for family in families}
