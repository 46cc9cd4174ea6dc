"""Fewer samples without folding: a short low-pass filter as one matrix product over the data.

Plain block averaging would fold switching noise onto the mains orders and invent hum.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.signal import firwin, kaiser_beta

from straypath.contents.filter_product import FilterProduct

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from straypath.arrays import FloatArray
    from straypath.capture.capture import Samples

# A little over the 90 dB that is promised: every decibel costs rate, and so time.
ALIAS_REJECTION_DB = 91.0
TAPS_PER_STEP = 9
# Samples per pass: few enough to stay in cache.
SAMPLES_PER_PASS = 524_288
# The filter eats its own length at the ends; a record shorter than this many lengths is left
# whole (lost edges cost the frequency 1.5 times their share of the record).
LENGTHS_AT_LEAST = 50
RESPONSE_GRID = 128
LARGE_BYTES = 1 << 29
MOMENT_BLOCK = 65_536
# Below this share of the squared mean the difference of sums is mostly rounding: sum again.
DROWNED = 1e-2


@dataclass(frozen=True)
class Reduced:
    """A record at a lower rate, in raw steps of the channel.

    Parameters
    ----------
    samples : Samples, shape (m,)
        Read it with `part`: a record that was not reduced stays in its file.
    rate_hz : float
        [Hz].
    first_s : float
        Time of the first sample after the first sample of the full record [s].
    taps : array, shape (t,)
        The filter, at `full_rate_hz`; a single 1 when nothing was reduced.
    full_rate_hz : float
        [Hz].
    mean_square : float
        Of the full record about its mean [raw²].
    """

    samples: Samples
    rate_hz: float
    first_s: float
    taps: FloatArray
    full_rate_hz: float
    mean_square: float

    def part(self, start: int, stop: int) -> NDArray[Any]:
        """Return samples start … stop as float32 or float64, whichever holds them all."""
        return _as_float(np.asarray(self.samples[start:stop]))

    def response(self, frequency_hz: FloatArray) -> FloatArray:
        """Return the filter's gain at the frequencies (zero phase about `first_s`).

        Many frequencies are interpolated between 128 exact gains: the passband is so smooth
        that this is good to 1e-3, and only floors ask for many.
        """
        if len(self.taps) == 1:
            return np.ones_like(frequency_hz)
        if len(frequency_hz) > RESPONSE_GRID:
            grid = np.linspace(frequency_hz[0], frequency_hz[-1], RESPONSE_GRID)
            return np.asarray(np.interp(frequency_hz, grid, self.response(grid)))
        position = (np.arange(len(self.taps)) - (len(self.taps) - 1) / 2) / self.full_rate_hz
        return np.asarray(np.cos(2 * np.pi * np.outer(frequency_hz, position)) @ self.taps)


def step_for(rate_hz: float, highest_hz: float) -> int:
    """Return the largest step that keeps 0 … `highest_hz` free of folds.

    A Kaiser design of n taps rejects 8 + 2.285 n Δω decibels (Oppenheim and Schafer,
    Discrete-Time Signal Processing, section on Kaiser windows); with n = 9 per step and the
    transition from `highest_hz` to (new rate - `highest_hz`) that asks for this new rate.
    """
    share = (ALIAS_REJECTION_DB - 8.0) / (2.285 * 2 * np.pi * TAPS_PER_STEP)
    new_rate = 2 * highest_hz / (1 - share)
    return max(1, int(rate_hz / new_rate))


@cache
def low_pass(step: int) -> FloatArray:
    """Return the filter for a step: 9 taps per step, unit gain at zero frequency."""
    beta = kaiser_beta(ALIAS_REJECTION_DB)
    taps = firwin(TAPS_PER_STEP * step, 1.0 / step, window=("kaiser", beta))
    taps.flags.writeable = False
    return np.asarray(taps)


def reduce_rate(
    samples: Samples,
    rate_hz: float,
    highest_hz: float,
    progress: Callable[[float], None] | None = None,
) -> Reduced:
    """Reduce the rate as far as 0 … `highest_hz` allows, with 91 dB against folds.

    y[m] = Σ h[i] x[m·step + i], computed as one product of a small table of the filter with the
    record laid out in rows.

    Parameters
    ----------
    samples : Samples, shape (n,)
        Integers or floats; read once, in order, never written to.
    rate_hz, highest_hz : float
        [Hz].

    Returns the record untouched when there is nothing to gain or it is too short.
    """
    step = step_for(rate_hz, highest_hz)
    if step < 2 or len(samples) < LENGTHS_AT_LEAST * TAPS_PER_STEP * step:
        return Reduced(samples, rate_hz, 0.0, np.ones(1), rate_hz, mean_square(samples))
    taps = low_pass(step)
    product = FilterProduct.of(taps, step, _float_type(samples.dtype))
    outputs = (len(samples) // product.row_length - product.shifts + 1) * product.outputs
    out = _room_for(outputs, product.tables.dtype)
    squares = 0.0
    rows_per_pass = SAMPLES_PER_PASS // product.row_length
    for first, last in _passes(outputs // product.outputs, rows_per_pass):
        stop = last + product.shifts - 1
        block = _as_float(
            np.asarray(samples[first * product.row_length : stop * product.row_length])
        )
        product.apply(block, out[first * product.outputs : last * product.outputs])
        fresh = block[: (last - first) * product.row_length]
        squares += float(fresh @ fresh)
        if progress is not None:
            progress(last * product.outputs / outputs)
    # The filter passes the mean unchanged.
    mean = float(out.mean())
    spread = squares / (len(out) * step) - mean**2
    if spread < DROWNED * mean**2:
        spread = mean_square(samples)
    first_s = (len(taps) - 1) / 2 / rate_hz
    return Reduced(out, rate_hz / step, first_s, taps, rate_hz, spread)


def _room_for(count: int, dtype: np.dtype[Any]) -> NDArray[Any]:
    """An array; a very large one lies in a file that vanishes with it, and not in memory."""
    if count * dtype.itemsize < LARGE_BYTES:
        return np.empty(count, dtype=dtype)
    with tempfile.TemporaryFile() as file:
        return np.memmap(file, dtype=dtype, mode="w+", shape=(count,))


def _passes(rows: int, length: int) -> Iterator[tuple[int, int]]:
    for first in range(0, rows, length):
        yield first, min(rows, first + length)


def _float_type(dtype: np.dtype[Any]) -> np.dtype[Any]:
    """Float32 where it holds every value of the type, else float64."""
    small = dtype in (np.float32, np.float16) or (dtype.kind in "iu" and dtype.itemsize <= 2)
    return np.dtype(np.float32 if small else np.float64)


def _as_float(block: NDArray[Any]) -> NDArray[Any]:
    return block.astype(_float_type(block.dtype), copy=False)


def mean_square(samples: Samples) -> float:
    """Return the mean square about the mean, in raw steps, reading the record once.

    A large offset drowns the spread in rounding; the sums are then taken again about the mean.
    """
    n = len(samples)
    if n == 0:
        return 0.0
    origin, spread = 0.0, 0.0
    ones = np.ones(MOMENT_BLOCK, dtype=_float_type(samples.dtype))
    for _ in range(2):
        total, squares = 0.0, 0.0
        for first in range(0, n, MOMENT_BLOCK):
            part = _as_float(np.asarray(samples[first : first + MOMENT_BLOCK]))
            part = part - origin if origin else part
            total += float(part @ ones[: len(part)])
            squares += float(part @ part)
        mean = total / n
        spread = squares / n - mean**2
        if spread > DROWNED * mean**2:
            break
        origin += mean
    return max(0.0, spread)
