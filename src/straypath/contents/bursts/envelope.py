"""One pass over a record: its slow course, and how far it jumps within every block.

A spike on top of strong hum does not show in the extremes of a block, for the hum swings much
further. It does show in the difference of samples a few apart, in which hum is as good as gone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.arrays import FloatArray

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.capture.capture import Samples

# Gives the mains comb and other known lines at samples start … stop, in raw steps.
Model = Callable[[int, int], FloatArray]

# Rows this short follow 50 Hz hum to 6e-5 of its amplitude (curvature, (ω τ)²/12).
ROWS_PER_S = 12_000.0
SHORTEST_ROW = 16
LONGEST_ROW = 4_096
# Where rows of 16 samples no longer follow hum, the model is taken off the whole record; also in
# a short one, where that costs next to nothing.
FOLLOWS_HUM_HZ = 96e3
WHOLE_MODEL_SAMPLES = 1 << 20
ROW_WITHOUT_HUM = 64
ROWS_AT_LEAST = 8
ROWS_PER_LAG = 16
BLOCK = 4_096
# Samples per pass: a piece and its differences stay in the second-level cache.
PIECE = 131_072


@dataclass(frozen=True)
class Envelope:
    """What one pass leaves of a record, in raw steps.

    Parameters
    ----------
    samples : int
        Length of the record.
    rate_hz : float
        [Hz].
    row : int
        Samples per row.
    track : array, shape (samples // row,)
        Means of the rows: the slow course.
    block, lag : int
        Samples per block; distance of the samples that are subtracted.
    high, low : array, shape (blocks,)
        Extremes of x[i + lag] - x[i] for i in the block.
    model : callable or None
        What was taken off the whole record beforehand.
    """

    samples: int
    rate_hz: float
    row: int
    track: FloatArray
    block: int
    lag: int
    high: FloatArray
    low: FloatArray
    model: Model | None = None

    def read(self, samples: Samples, start: int, stop: int) -> NDArray[Any]:
        """Return samples start … stop as floats, the model taken off if it was so in the pass."""
        part = as_floats(np.asarray(samples[start:stop]))
        return part if self.model is None else part - self.model(start, start + len(part))


def as_floats(part: NDArray[Any]) -> NDArray[Any]:
    """Return a piece as float32 or float64, whichever holds all its values."""
    return part.astype(np.result_type(np.float32, part.dtype), copy=False)


def row_length(samples: int, rate_hz: float, *, hum_free: bool) -> int:
    """Return the samples per row: a power of two, 83 µs or 16 samples at most under hum."""
    wanted = ROW_WITHOUT_HUM if hum_free else max(SHORTEST_ROW, rate_hz / ROWS_PER_S)
    most = min(wanted, LONGEST_ROW, samples / ROWS_AT_LEAST)
    return 1 << max(0, int(np.log2(max(1.0, most))))


def takes_model_everywhere(samples: int, rate_hz: float) -> bool:
    """Return whether the model comes off the whole record and not only off candidates."""
    return rate_hz < FOLLOWS_HUM_HZ or samples <= WHOLE_MODEL_SAMPLES


def envelope(samples: Samples, rate_hz: float, model: Model | None = None) -> Envelope:
    """Return row means, and per block the extremes of the difference at a short lag.

    m[r] = mean of x over row r; d[i] = x[i + lag] - x[i]

    Parameters
    ----------
    samples : Samples, shape (n,)
        At least 16, all finite; read once, in order, in pieces that fit the cache.
    rate_hz : float
        [Hz].
    model : callable or None
        Known lines at samples start … stop [raw]. Only asked below 96 kS/s, where the record's
        own course cannot follow hum, and up to 2^20 samples.

    Validity: a difference at lag L keeps 2π f L / rate of hum at f, 0.13 % at 50 Hz and 1 MS/s.

    Example
    -------
    >>> x = np.zeros(10_000, dtype=np.int16)
    >>> x[5_000] = 7
    >>> found = envelope(x, 1e6)
    >>> float(found.high.max()), float(found.low.min()), int(np.argmax(found.high))
    (7.0, -7.0, 1)
    """
    n = len(samples)
    off = model if takes_model_everywhere(n, rate_hz) else None
    row = row_length(n, rate_hz, hum_free=off is not None)
    lag = max(1, row // ROWS_PER_LAG)
    blocks = -(-(n - lag) // BLOCK)
    kind = np.result_type(np.float32, samples.dtype if off is None else np.float64)
    high, low = np.empty(blocks, dtype=kind), np.empty(blocks, dtype=kind)
    shell = Envelope(n, rate_hz, row, np.empty(n // row, dtype=kind), BLOCK, lag, high, low, off)
    difference = np.empty(min(n, PIECE), dtype=kind)
    ones = np.full(row, 1.0 / row, dtype=kind)
    for start in range(0, n, PIECE):
        part = shell.read(samples, start, min(n, start + PIECE + lag))
        fresh = part[: min(PIECE, n - start) // row * row].reshape(-1, row)
        np.dot(fresh, ones, out=shell.track[start // row : start // row + len(fresh)])
        jumps = difference[: len(part) - lag]
        if len(part) > lag:
            np.subtract(part[lag:], part[:-lag], out=jumps)
            _extremes(jumps, high, low, start // BLOCK)
    return shell


def _extremes(jumps: NDArray[Any], high: FloatArray, low: FloatArray, first: int) -> None:
    whole = len(jumps) // BLOCK
    rows = jumps[: whole * BLOCK].reshape(whole, BLOCK)
    np.max(rows, axis=1, out=high[first : first + whole])
    np.min(rows, axis=1, out=low[first : first + whole])
    rest = jumps[whole * BLOCK :]
    if len(rest):
        high[first + whole], low[first + whole] = rest.max(), rest.min()
