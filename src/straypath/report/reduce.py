"""Numbers small enough to draw: the outline of a long record, and its spectrum between the lines.

Everything streams over the channel, so a record on disk is never loaded as a whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straypath.arrays import Float64Array
    from straypath.capture.capture import Channel
    from straypath.contents.records import MainsComb

_BLOCK = 1 << 20
_SEGMENTS = 24  # enough for a steady median; more would only cost time
_FEWEST_BINS = 12  # fewer say nothing about the noise
_PER_COLUMN = 12  # values from which to take the spread
_CLEAR = 3.0  # bins on either side of an order that its Hann-windowed line may reach


@dataclass(frozen=True)
class Outline:
    """Lowest, highest and mean value in each of a row of equal columns [unit]."""

    edges: NDArray[np.int64]
    low: Float64Array
    high: Float64Array
    mean: Float64Array

    def slow(self, cycle: int) -> Float64Array:
        """Return the mean over whole cycles of so many samples, and over at least 12 columns.

        A mean over parts of cycles would draw the hum again, only slower.
        """
        counts = np.diff(self.edges)
        widest = float(counts.max())
        width = cycle * np.ceil(12 * widest / cycle) if cycle else 12 * widest
        total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(self.mean) * counts)])
        middle = (self.edges[:-1] + self.edges[1:]) / 2
        width = min(width, float(self.edges[-1]))
        first = np.clip(middle - width / 2, 0, self.edges[-1] - width)
        sums = np.interp(first + width, self.edges, total) - np.interp(first, self.edges, total)
        return np.asarray(sums / width)


def outline(channel: Channel, columns: int) -> Outline:
    """Return the outline of a whole channel in at most `columns` columns.

    Samples that are not finite count for nothing; a column of nothing else is NaN.
    """
    total = len(channel)
    edges = np.linspace(0, total, min(columns, total) + 1).astype(np.int64)
    low = np.empty(len(edges) - 1)
    high, mean = np.empty_like(low), np.empty_like(low)
    for index, (start, stop) in enumerate(pairwise(edges)):
        low[index], high[index], mean[index] = _summary(channel, int(start), int(stop))
    return Outline(edges, low, high, mean)


def _summary(channel: Channel, start: int, stop: int) -> tuple[float, float, float]:
    """Return lowest, highest and mean of a stretch, read in blocks."""
    low, high, total, number = np.inf, -np.inf, 0.0, 0
    for at in range(start, stop, _BLOCK):
        raw = np.asarray(channel.raw[at : min(at + _BLOCK, stop)])
        if raw.dtype.kind == "f":
            raw = raw[np.isfinite(raw)]
        if raw.size:
            low, high = min(low, float(raw.min())), max(high, float(raw.max()))
            total, number = total + float(raw.sum(dtype=np.float64)), number + raw.size
    if not number:
        return np.nan, np.nan, np.nan
    ends = sorted((low * channel.scale + channel.offset, high * channel.scale + channel.offset))
    return ends[0], ends[1], total / number * channel.scale + channel.offset


@dataclass(frozen=True)
class NoiseBand:
    """Noise density between the lines, in columns along the frequency axis.

    Parameters
    ----------
    frequency_hz : array, shape (n,)
        Middle of each column [Hz].
    low, high : array, shape (n,)
        5 % and 95 % of the density found in each column [unit/√Hz].
    level : array, shape (n,)
        Root of the mean square density [unit/√Hz], by way of the median, which lines do not lift.
    """

    frequency_hz: Float64Array
    low: Float64Array
    level: Float64Array
    high: Float64Array


def between_lines(
    channel: Channel,
    rate_hz: float,
    stretch: tuple[int, int],
    mains: MainsComb,
    *,
    top_hz: float,
    others_hz: Sequence[float] = (),
    columns: int = 200,
) -> NoiseBand | None:
    """Return the density between the lines, or None when the record is too short for one.

    Hann-windowed periodograms of segments spread over the stretch. On long records the bins beside
    each order are left out; on short ones, where a line reaches everywhere, it is taken out first.
    Bins beside the other lines are left out as long as enough are left.
    """
    start, stop = stretch
    if stop - start < 32:
        return None
    fundamental = mains.frequency_hz.value if mains.present and mains.frequency_hz else None
    wanted_s = 40.0 / fundamental if fundamental else 800.0 / top_hz
    length = min(stop - start, max(32, round(wanted_s * rate_hz)), 1 << 22)
    crowded = fundamental is not None and length / rate_hz * fundamental < 4 * _CLEAR
    starts = np.linspace(start, stop - length, min(_SEGMENTS, (stop - start) // length))
    spectra = []
    for at in starts.astype(np.int64):
        values = channel.values(int(at), int(at) + length)
        if not np.isfinite(values).all():
            continue
        if crowded:
            values -= synthesis(mains, (np.arange(at, at + length) - centre(stretch)) / rate_hz)
        spectra.append(_density(values, rate_hz))
    if not spectra:
        return None
    frequency = np.asarray(np.fft.rfftfreq(length, 1 / rate_hz), dtype=np.float64)
    keep = (frequency > 2.5 * rate_hz / length) & (frequency <= top_hz)
    if fundamental is not None and not crowded:
        order = np.maximum(np.round(frequency / fundamental), 1)
        keep &= np.abs(frequency - order * fundamental) > _CLEAR * rate_hz / length
    clear = keep & ~_beside(frequency, others_hz, _CLEAR * rate_hz / length)
    keep = clear if np.count_nonzero(clear) >= _FEWEST_BINS else keep
    kept = np.asarray(frequency[keep], dtype=np.float64)
    return _in_columns(kept, np.array(spectra)[:, keep], top_hz, columns)


def _beside(
    frequency: Float64Array, lines_hz: Sequence[float], reach_hz: float
) -> NDArray[np.bool_]:
    """Return which frequencies lie within reach of any of the lines."""
    if not len(lines_hz):
        return np.zeros(len(frequency), dtype=np.bool_)
    lines = np.sort(np.asarray(lines_hz, dtype=np.float64))
    above = np.searchsorted(lines, frequency)
    near = np.minimum(
        np.abs(frequency - lines[np.maximum(above - 1, 0)]),
        np.abs(frequency - lines[np.minimum(above, len(lines) - 1)]),
    )
    return np.asarray(near <= reach_hz)


def centre(stretch: tuple[int, int]) -> float:
    """Return the middle of a stretch, where phases are quoted [samples]."""
    return (stretch[0] + stretch[1] - 1) / 2


def synthesis(mains: MainsComb, time_s: Float64Array) -> Float64Array:
    """Return the seen lines as a waveform at times from the centre of the record [unit]."""
    wave = np.zeros_like(time_s)
    for line in mains.detected:
        if line.phase_rad is not None:
            angle = 2 * np.pi * line.frequency_hz.value * time_s + line.phase_rad.value
            wave += np.sqrt(2) * line.rms.value * np.cos(angle)
    return wave


def _density(values: Float64Array, rate_hz: float) -> Float64Array:
    """Return the one-sided density of a segment after its straight line [unit/√Hz]."""
    ramp = np.linspace(-1, 1, len(values))
    values = values - values.mean()
    values -= ramp * (values @ ramp) / (ramp @ ramp)
    window = np.hanning(len(values))
    spectrum = np.fft.rfft(values * window)
    return np.asarray(np.abs(spectrum) * np.sqrt(2 / (rate_hz * (window @ window))))


def _in_columns(
    frequency: Float64Array, spectra: Float64Array, top_hz: float, columns: int
) -> NoiseBand | None:
    if frequency.size < _FEWEST_BINS:
        return None
    columns = min(columns, max(4, spectra.size // _PER_COLUMN))
    index = np.minimum((frequency / top_hz * columns).astype(int), columns - 1)
    middles, bands = [], []
    for column in np.unique(index):
        inside = index == column
        middles.append(frequency[inside].mean())
        bands.append(np.quantile(spectra[:, inside], [0.05, 0.5, 0.95]))
    # The median of a periodogram bin lies below its mean by ln 2 (two degrees of freedom).
    low, median, high = np.array(bands).T
    return NoiseBand(np.array(middles), low, median / np.sqrt(np.log(2)), high)
