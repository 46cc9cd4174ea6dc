"""How the mains and the floor moved over a long record: a table, stretch by stretch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from straypath.contents.records import Course

if TYPE_CHECKING:
    from straypath.arrays import FloatArray
    from straypath.contents.comb import CombReading

MOST_SLOTS = 60
FEWEST_SLOTS = 4
# A stretch is at least this long, so that its floor is read between hum and its harmonics.
SHORTEST_S = 0.5
STRONGEST = 3
LOWEST_BIN = 4
FEWEST_SAMPLES = 64
HANN_MEAN_SQUARE = 0.375
BINS_PER_DEGREE = 1.944


def course_of(
    reading: CombReading, rest: FloatArray, rate_hz: float, middle_s: float, scale: float
) -> Course | None:
    """Return the course of mains and floor; None where a record is too short for one.

    Level of an order: |mean phasor| of the stretch, ±√(S/τ); floor: median over the bins of the
    stretch's spectrum, over ln 2, relative ±1.44/√bins.

    Parameters
    ----------
    reading : CombReading
    rest : array, shape (n,)
        The record at its lower rate, the comb taken off [raw].
    rate_hz : float
        Of `rest` [Hz].
    middle_s : float
        Middle of the record, from its first sample [s].
    scale : float
        [unit per raw step].
    """
    slots = reading.model.fit.slots if reading.model is not None else None
    count = len(slots.times_s) if slots is not None else _count(len(rest) / rate_hz)
    if count < FEWEST_SLOTS or len(rest) < FEWEST_SAMPLES * count:
        return None
    floor, floor_u = _floor(rest, rate_hz, count)
    if slots is None or reading.model is None:
        length_s = 2 * middle_s / count
        times = (np.arange(count) + 0.5) * length_s
        return Course(_tuple(times), floor=_tuple(floor * abs(scale)), floor_u=floor_u)
    fit = reading.model.fit
    seen = np.flatnonzero(fit.seen)
    chosen = np.sort(seen[np.argsort(-np.abs(fit.phasors[seen]))[:STRONGEST]])
    size = abs(scale) / np.sqrt(2)
    mains_hz: tuple[float, ...] = ()
    if fit.path is not None:
        edges = np.linspace(fit.path.times_s[0], fit.path.times_s[-1], count + 1)
        turned = np.interp(edges, fit.path.times_s, fit.path.phase_rad)
        mains_hz = _tuple(fit.frequency_hz + np.diff(turned) / np.diff(edges) / (2 * np.pi))
    return Course(
        times_s=_tuple(slots.times_s + middle_s),
        mains_hz=mains_hz,
        orders=tuple(int(i) + 1 for i in chosen),
        rms=tuple(_tuple(np.abs(slots.phasors[:, i]) * size) for i in chosen),
        rms_u=_tuple(np.sqrt(slots.variance[chosen]) * size),
        floor=_tuple(floor * abs(scale)),
        floor_u=floor_u,
    )


def _count(duration_s: float) -> int:
    return min(MOST_SLOTS, int(duration_s / SHORTEST_S))


def _floor(rest: FloatArray, rate_hz: float, count: int) -> tuple[FloatArray, float]:
    """Return (root of the density per stretch, its relative standard uncertainty)."""
    length = int(fft.prev_fast_len(len(rest) // count, real=True))
    stride = len(rest) // count
    rows = np.array([rest[i * stride : i * stride + length] for i in range(count)])
    # What hum that swells leaves behind must not leak over the whole spectrum.
    rows = (rows - rows.mean(axis=1, keepdims=True)) * np.hanning(length)
    power = np.abs(fft.rfft(rows, axis=1)[:, LOWEST_BIN:-2]) ** 2
    density = 2 * np.median(power, axis=1) / np.log(2) / (rate_hz * length * HANN_MEAN_SQUARE)
    bins = max(1.0, power.shape[1] / BINS_PER_DEGREE)
    return np.sqrt(density), float(1.44 / np.sqrt(bins) / 2)


def _tuple(values: FloatArray) -> tuple[float, ...]:
    return tuple(float(v) for v in values)
