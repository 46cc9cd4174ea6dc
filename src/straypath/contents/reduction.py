"""Fewer samples without folding: a short low-pass filter as one matrix product over the data.

Plain block averaging would fold switching noise onto the mains orders and invent hum.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.signal import firwin, kaiser_beta

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from straypath.capture.capture import Samples
    from straypath.contents.systems import FloatArray

ALIAS_REJECTION_DB = 95.0
TAPS_PER_STEP = 9
# Outputs per row of the matrix product, and rows per pass: rows long enough for the product to
# run at full speed, passes short enough to stay in cache.
OUTPUTS_PER_ROW = 4
ROWS = 4_096
# The filter eats its own length at the ends; a record shorter than this many lengths is left
# whole (lost edges cost the frequency 1.5 times their share of the record).
LENGTHS_AT_LEAST = 50
RESPONSE_GRID = 128
MOMENT_BLOCK = 65_536
# Below this share of the squared mean the difference of sums is mostly rounding: sum again.
DROWNED = 1e-2


@dataclass(frozen=True)
class Reduced:
    """A record at a lower rate, in raw steps of the channel.

    Parameters
    ----------
    samples : array, shape (m,)
        Float32 or float64.
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

    samples: NDArray[Any]
    rate_hz: float
    first_s: float
    taps: FloatArray
    full_rate_hz: float
    mean_square: float

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


def low_pass(step: int) -> FloatArray:
    """Return the filter for a step: 9 taps per step, unit gain at zero frequency."""
    beta = kaiser_beta(ALIAS_REJECTION_DB)
    return np.asarray(firwin(TAPS_PER_STEP * step, 1.0 / step, window=("kaiser", beta)))


def reduce_rate(
    samples: Samples,
    rate_hz: float,
    highest_hz: float,
    progress: Callable[[float], None] | None = None,
) -> Reduced:
    """Reduce the rate as far as 0 … `highest_hz` allows, with 95 dB against folds.

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
        whole = _as_float(np.asarray(samples[0 : len(samples)]))
        return Reduced(whole, rate_hz, 0.0, np.ones(1), rate_hz, mean_square(whole))
    taps = low_pass(step)
    product = _Product.of(taps, step, _float_type(samples.dtype))
    outputs = (len(samples) - len(taps)) // product.row_length * product.outputs
    out = np.empty(outputs, dtype=product.table.dtype)
    squares = 0.0
    for first, last in _passes(outputs // product.outputs):
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
    mean = float(out.mean(dtype=np.float64))
    spread = squares / (len(out) * step) - mean**2
    if spread < DROWNED * mean**2:
        spread = mean_square(samples)
    first_s = (len(taps) - 1) / 2 / rate_hz
    return Reduced(out, rate_hz / step, first_s, taps, rate_hz, spread)


@dataclass(frozen=True)
class _Product:
    """The filter as a table: each row of the record gives several outputs at once.

    Row r of `row_length` samples meets the filter of output i in row r - q; the table holds all
    pairs (q, i), and the products that belong to one output are added up.
    """

    table: NDArray[Any]
    outputs: int
    shifts: int

    @classmethod
    def of(cls, taps: FloatArray, step: int, dtype: np.dtype[Any]) -> _Product:
        outputs = OUTPUTS_PER_ROW
        row_length = outputs * step
        shifts = -(-(len(taps) + (outputs - 1) * step) // row_length)
        filters = np.zeros((outputs, shifts * row_length))
        for i in range(outputs):
            filters[i, i * step : i * step + len(taps)] = taps
        table = filters.reshape(outputs, shifts, row_length).swapaxes(0, 1)
        return cls(table.reshape(-1, row_length).astype(dtype), outputs, shifts)

    @property
    def row_length(self) -> int:
        return int(self.table.shape[1])

    def apply(self, block: NDArray[Any], out: NDArray[Any]) -> None:
        """Filter a block of whole rows into `out`."""
        rows = len(out) // self.outputs
        shifted = self.table @ block.reshape(-1, self.row_length).T
        interleaved = out.reshape(rows, self.outputs)
        for i in range(self.outputs):
            part = shifted[i, :rows].copy()
            for q in range(1, self.shifts):
                part += shifted[q * self.outputs + i, q : q + rows]
            interleaved[:, i] = part


def _passes(rows: int) -> Iterator[tuple[int, int]]:
    for first in range(0, rows, ROWS):
        yield first, min(rows, first + ROWS)


def _float_type(dtype: np.dtype[Any]) -> np.dtype[Any]:
    """Float32 where it holds every value of the type, else float64."""
    small = dtype in (np.float32, np.float16) or (dtype.kind in "iu" and dtype.itemsize <= 2)
    return np.dtype(np.float32 if small else np.float64)


def _as_float(block: NDArray[Any]) -> NDArray[Any]:
    return block.astype(_float_type(block.dtype), copy=False)


def mean_square(samples: Samples) -> float:
    """Return the mean square about the mean, in raw steps, reading the record once.

    Sums are taken about the first sample, so that a large offset does not drown them.
    """
    n = len(samples)
    if n == 0:
        return 0.0
    origin = float(np.asarray(samples[0:1], dtype=np.float64)[0])
    total, squares = 0.0, 0.0
    for first in range(0, n, MOMENT_BLOCK):
        part = _as_float(np.asarray(samples[first : first + MOMENT_BLOCK])) - origin
        total += float(part.sum())
        squares += float(part @ part)
    return max(0.0, squares / n - (total / n) ** 2)
