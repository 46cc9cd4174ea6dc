"""One pass over a record of any length: extremes, moments, missing samples, long runs.

Blocks fit the processor's cache, so that the tests on a block cost less than fetching it. All
numbers here are raw, as the file holds them; the scale is applied where findings are worded.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.soundness.stretches import LongRuns, Stretches

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.arrays import AnyArray, Float64Array
    from straypath.capture.capture import Channel

    Row = tuple[int, int, float, float, float, float]

BLOCK = 1 << 18
SEGMENTS = 16
"""A record is cut into at least so many blocks, so that its level can be followed."""


@dataclass
class End:
    """The lowest or highest value, and how the record sits on it.

    Parameters
    ----------
    sign : int
        +1 for the highest value, −1 for the lowest.
    value : numpy scalar or None
    count, runs : int
        Samples that have this value, and unbroken rows that they form within blocks.
    where, most : int
        First sample of the block that has most of them, and how many that one has.
    """

    sign: int
    value: Any = None
    count: int = 0
    runs: int = 0
    where: int = 0
    most: int = 0

    def see(self, start: int, block: AnyArray, extreme: Any) -> None:
        """Take in one block whose extreme value is given."""
        if self.value is None or (extreme > self.value if self.sign > 0 else extreme < self.value):
            self.value, self.count, self.runs, self.most = extreme, 0, 0, 0
        elif extreme != self.value:
            return
        on = block == extreme
        count = int(np.count_nonzero(on))
        self.count += count
        self.runs += count - int(np.count_nonzero(on[1:] & on[:-1]))
        if count > self.most:
            self.where, self.most = start, count


@dataclass(frozen=True)
class Blocks:
    """One row per block that has a finite sample; arrays of shape (blocks,).

    Parameters
    ----------
    length : int
        Samples in a whole block.
    starts, counts : int arrays
        First sample, and number of finite samples.
    means, rms : float arrays
        Mean, and rms about it.
    lows, highs : float arrays
    """

    length: int
    starts: NDArray[np.int64]
    counts: NDArray[np.int64]
    means: Float64Array
    rms: Float64Array
    lows: Float64Array
    highs: Float64Array

    @classmethod
    def of(cls, length: int, rows: list[Row]) -> Blocks:
        """Turn rows into columns."""
        table = np.array(rows, dtype=np.float64).reshape(-1, 6).T
        return cls(length, table[0].astype(np.int64), table[1].astype(np.int64), *table[2:])


@dataclass(frozen=True)
class Survey:
    """What one pass found, in raw numbers.

    Parameters
    ----------
    samples, finite : int
    low, high : End
    blocks : Blocks
    mean, spread : float
        Mean, and rms about it, of all.
    sound : Stretches
        Between the missing samples.
    runs : LongRuns
    """

    samples: int
    finite: int
    low: End
    high: End
    blocks: Blocks
    mean: float
    spread: float
    sound: Stretches
    runs: LongRuns


def survey(channel: Channel) -> Survey:
    """Go once through a channel.

    Parameters
    ----------
    channel : Channel
        Integers, floats or booleans; any byte order. Only one block is converted at a time.
    """
    n = len(channel)
    length = min(max(-(-n // SEGMENTS), 1), BLOCK)
    low, high, rows = End(-1), End(+1), []
    sound, runs = Stretches(), LongRuns()
    for start, raw in channel.blocks(length):
        block = native(raw)
        runs.see(start, block)
        bottom, top = block.min(), block.max()
        if not (np.isfinite(bottom) and np.isfinite(top)):
            good = np.isfinite(block)
            sound.cut(start, ~good)
            block = block[good]
            if not len(block):
                continue
            bottom, top = block.min(), block.max()
        low.see(start, block, bottom)
        high.see(start, block, top)
        rows.append((start, len(block), *moments(block), float(bottom), float(top)))
    sound.close(n)
    runs.close(n)
    blocks = Blocks.of(length, rows)
    mean, spread = together(blocks.counts, blocks.means, blocks.rms)
    return Survey(n, int(blocks.counts.sum()), low, high, blocks, mean, spread, sound, runs)


def native(block: AnyArray) -> AnyArray:
    """Return a block that numpy handles fast: contiguous, native order, no odd type."""
    kind, size = block.dtype.kind, block.dtype.itemsize
    if kind == "b":
        block = block.view(np.uint8)
    elif kind == "f" and size == 2:
        block = block.astype(np.float32)
    elif kind not in "iuf" or size > 8:
        block = block.astype(np.float64)
    return np.ascontiguousarray(block, dtype=block.dtype.newbyteorder("="))


# A float32 block is summed in float32 where squares, and sums of 2¹⁸ of them, stay well inside
# its range; likewise float64. Anything else is first divided by its largest magnitude.
_SAFE = {4: (1e-15, 1e15), 8: (1e-140, 1e140)}


def moments(block: AnyArray) -> tuple[float, float]:
    """Return mean, and rms about the mean, of finite samples."""
    if block.dtype.kind in "iu":
        # Two bytes fit the 24 bits of a float32 exactly.
        block = block.astype(np.float32 if block.dtype.itemsize <= 2 else np.float64)
    bottom, top = float(block.min()), float(block.max())
    largest = max(-bottom, top)
    if bottom == top:
        return bottom, 0.0
    least, most = _SAFE[block.dtype.itemsize]
    unit = 1.0
    if not least < largest < most:
        unit = largest
        block = block.astype(np.float64) / unit
        bottom, top = bottom / unit, top / unit
    # A large offset would swallow the digits of the squares. A few samples know it well enough.
    pivot = float(block[:: len(block) // 64 + 1].mean())
    if abs(pivot) > (top - bottom) / 8:
        block = block - block.dtype.type(pivot)
    else:
        pivot = 0.0
    mean = float(block.sum()) / len(block)
    square = _sum_of_squares(block) / len(block)
    return (pivot + mean) * unit, max(square - mean * mean, 0.0) ** 0.5 * unit


_ROW = 4096  # so short that the product is not handed to threads, which would cost more


def _sum_of_squares(block: AnyArray) -> float:
    whole = len(block) // _ROW * _ROW
    rows, rest = block[:whole].reshape(-1, _ROW), block[whole:]
    return float(np.vecdot(rows, rows).sum(dtype=np.float64)) + float(np.dot(rest, rest))


def together(
    counts: NDArray[np.int64], means: Float64Array, rms: Float64Array
) -> tuple[float, float]:
    """Return mean and rms about it of several blocks as one."""
    if not len(counts):
        return float("nan"), float("nan")
    unit = float(np.maximum(np.abs(means), rms).max())
    if unit == 0:
        return 0.0, 0.0
    weight = counts / counts.sum()
    mean = float(np.dot(weight, means / unit))
    square = float(np.dot(weight, (rms / unit) ** 2 + (means / unit - mean) ** 2))
    return mean * unit, square**0.5 * unit
