"""A close look at a bounded part of the record: the grid of its values, noise, pairs, spectrum.

Sixty-four pieces of 4,096 samples, spread evenly, stand for a long record; a short one is looked
at whole. Everything dear (sorting, transforms) happens here, so that its cost has a ceiling.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.soundness.survey import native

if TYPE_CHECKING:
    from straypath.arrays import AnyArray, Float64Array
    from straypath.capture.capture import Channel


PIECE = 4096
PIECES = 64


@dataclass(frozen=True)
class Band:
    """How the power of a record lies between zero and half the rate.

    Parameters
    ----------
    top_share : float
        Part of the whole mean square that lies in the top fifth of the band.
    edge_share : float
        What a white floor as high as the one at the very edge would carry, as such a part.
    edge_ratio : float
        Floor at the edge (0.97 … 1 of half the rate) over the floor at 0.6 … 0.8.
    """

    top_share: float
    edge_share: float
    edge_ratio: float


@dataclass(frozen=True)
class Closeup:
    """What a close look shows, in raw numbers.

    Parameters
    ----------
    samples : int
        Finite samples looked at.
    whole : bool
        Whether that is the whole record.
    distinct : int
        Different values among them.
    step : float or None
        Step of the grid that all values lie on; None when there is none.
    noise : float or None
        Noise from sample to sample.
    pairs : bool
        Whether neighbours are low and high in turn, as in peak mode.
    held : int
        How often every value is repeated; 1 when it is not.
    band : Band or None
        None when there are too few samples.
    """

    samples: int
    whole: bool
    distinct: int
    step: float | None
    noise: float | None
    pairs: bool
    held: int
    band: Band | None


def look(channel: Channel) -> Closeup:
    """Look closely at a channel."""
    n = len(channel)
    whole = n <= PIECE * PIECES
    pieces = [p for p in _pieces(channel, whole) if len(p)]
    if not pieces:
        return Closeup(0, whole, 0, None, None, False, 1, None)
    together = np.concatenate(pieces)
    values = np.unique(together)
    step = grid_step(values)
    even = _even(pieces)
    return Closeup(
        samples=len(together),
        whole=whole,
        distinct=len(values),
        step=step,
        noise=noise_rms(even),
        pairs=in_pairs(pieces),
        held=repeats(pieces) if len(values) > _FEW_VALUES else 1,
        band=band(even),
    )


def _pieces(channel: Channel, whole: bool) -> list[AnyArray]:
    """Return unbroken pieces of finite samples; each begins at an even sample."""
    n = len(channel)
    if whole:
        starts = list(range(0, n, PIECE))
    else:
        starts = [int(s) // 2 * 2 for s in np.linspace(0, n - PIECE, PIECES)]
    blocks = [native(np.asarray(channel.raw[s : s + PIECE])) for s in starts]
    return [_first_finite(block) for block in blocks]


def _first_finite(block: AnyArray) -> AnyArray:
    """Return the block, or what is finite of it up to the first hole, from an even sample on."""
    if block.dtype.kind != "f":
        return block
    good = np.isfinite(block)
    if good.all():
        return block
    first = int(np.argmax(good)) if good.any() else len(block)
    first += first % 2
    bad = np.flatnonzero(~good[first:])
    return block[first : first + int(bad[0])] if len(bad) else block[first:]


def _even(pieces: list[AnyArray]) -> Float64Array:
    """Return the full pieces as rows of float64, offset taken off; odd ends are left out."""
    length = max(len(p) for p in pieces)
    rows = np.stack([p for p in pieces if len(p) == length]).astype(np.float64)
    largest = float(np.abs(rows).max())
    # Differences of numbers near the largest float64 would overflow.
    rows = rows / 4.0 if largest > 1e300 else rows
    return np.asarray(rows - rows.mean(axis=1, keepdims=True))


# The grid of values -------------------------------------------------------------------------


def grid_step(values: AnyArray) -> float | None:
    """Return the step q such that all values are whole multiples of q apart, or None.

    Parameters
    ----------
    values : array, shape (n,)
        Different values in rising order. Float64Array may be off the grid by their own rounding.

    Validity: for floats a step is believed when every distance fits within a tenth of a step.
    Distances off any grid do so with probability 0.2 each, so that ten of them pass by chance
    once in 10⁷.
    """
    if len(values) < 2:
        return None
    if values.dtype.kind in "iu":
        # Two's complement: distances of sorted integers come out right modulo 2⁶⁴.
        whole = values.astype(np.uint64 if values.dtype.kind == "u" else np.int64)
        return float(np.gcd.reduce(np.diff(whole.view(np.uint64))))
    wide = values.astype(np.float64)
    largest = max(abs(wide[0]), abs(wide[-1]))
    grain = 4.0 * float(np.finfo(values.dtype).eps) * largest
    half = wide / 2.0  # the span of the largest numbers would overflow
    distances = 2.0 * np.minimum(np.diff(half), np.finfo(np.float64).max / 4)
    distances = distances[distances > grain]
    if len(distances) < _FEW_DISTANCES:
        return float(distances.min()) if len(distances) else None
    return _common_step(distances, grain)


_FEW_DISTANCES = 3  # too few to tell a grid from none; their least is as good a step as any
_TENTH = 0.1


def _common_step(distances: Float64Array, grain: float) -> float | None:
    """Return the common divisor of distances that are known to within a grain."""
    step = float(distances.min())
    # Few distances fit a wrong grid by chance more easily, so they must fit it more closely.
    near = _TENTH * min(1.0, len(distances) / 20)
    for _ in range(8):  # the remainders fall by half at least; eight reach any real gap
        if step < 8 * grain:  # below this the float's own rounding is the grid
            return None
        whole = np.rint(distances / step)
        # Each distance is a few steps, so that the mean step is known far better than one.
        better = float(distances.sum() / whole.sum())
        off = np.abs(distances / better - whole)
        if float(off.max()) < near + grain / better:
            return better
        rest = np.abs(distances - whole * step)
        step = float(rest[rest > max(grain, _TENTH * step)].min(initial=step / 2))
    return None


# Neighbours ---------------------------------------------------------------------------------

_FEW_VALUES = 8


def noise_rms(rows: Float64Array) -> float | None:
    """Return the noise from sample to sample: median over pieces of rms(x₋ − 2x + x₊)/√6.

    Validity: white noise; a signal that bends within three samples adds to it.
    """
    if rows.shape[1] < 16:
        return None
    bend = rows[:, 2:] - 2.0 * rows[:, 1:-1] + rows[:, :-2]
    largest = float(np.abs(bend).max())
    if largest == 0:
        return 0.0
    return float(np.median(np.sqrt(np.mean((bend / largest) ** 2, axis=1) / 6.0))) * largest


def in_pairs(pieces: list[AnyArray]) -> bool:
    """Whether even samples lie above odd ones throughout, or below.

    Noise does it in half of the cases, so that 95 % of 64 pairs come once in 10¹⁵. A tone at
    half the rate, to a fraction of 1/record, would look the same.
    """
    ups = downs = back_ups = back_downs = total = 0
    for piece in pieces:
        there = piece[1::2], piece[: len(piece) // 2 * 2 : 2]
        back = piece[2::2], piece[1:-1:2]
        ups += int(np.count_nonzero(there[0] > there[1]))
        downs += int(np.count_nonzero(there[0] < there[1]))
        back_ups += int(np.count_nonzero(back[0] > back[1]))
        back_downs += int(np.count_nonzero(back[0] < back[1]))
        total += len(back[0])
    if total < 64:
        return False
    nearly = 0.95 * total
    return (ups > nearly and back_downs > 0.8 * total) or (
        downs > nearly and back_ups > 0.8 * total
    )


def repeats(pieces: list[AnyArray]) -> int:
    """Return m when every value comes in rows of m, 2m … equal samples; 1 otherwise.

    Fifty rows that are all even by chance come once in 2⁵⁰.
    """
    common, rows = 0, 0
    for piece in pieces:
        bounds = np.flatnonzero(piece[1:] != piece[:-1]) + 1
        lengths = np.diff(bounds)  # without the first and the last row, which may be cut
        if len(lengths):
            common = gcd(common, int(np.gcd.reduce(lengths)))
            rows += len(lengths)
        if common == 1:
            return 1
    return common if rows >= 50 else 1


# Spectrum -----------------------------------------------------------------------------------

# Common practice, no source: what a recorder puts ahead of its converter passes up to some 0.8 or
# 0.9 of half the rate and stops soon beyond. So the floor is read from 0.6 to 0.8 before the bend
# and in the last 3 % behind it; of the shortest piece, 256 samples, these still hold 26 and 2 bins.
_BELOW, _TOP, _EDGE = 0.6, 0.8, 0.97


def band(rows: Float64Array) -> Band | None:
    """Return how the power lies in the band, from Hann-weighted transforms of the pieces."""
    length = rows.shape[1]
    largest = float(np.abs(rows).max())
    if rows.size < 1024 or length < 256 or largest == 0:
        return None
    rows = rows / largest
    whole = float(np.mean(rows**2))
    window = np.hanning(length + 1)[:-1]
    power = np.mean(np.abs(np.fft.rfft(rows * window, axis=1)) ** 2, axis=0)
    density = 2.0 * power / float(np.sum(window**2))  # per cycle per sample, one-sided
    at = np.linspace(0.0, 1.0, len(density))  # 1 is half the rate
    below = float(np.median(density[(at > _BELOW) & (at < _TOP)]))
    # The last two bins hold half the power of the others or leak from the very edge.
    edge = float(np.median(density[:-2][at[:-2] > _EDGE]))
    top = float(density[at > _TOP].sum()) * 0.5 / (len(density) - 1)
    return Band(
        top_share=min(top / whole, 1.0),
        edge_share=min(0.5 * edge / whole, 1.0),
        edge_ratio=edge / below if below > 0 else 0.0,
    )
