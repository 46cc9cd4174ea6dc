"""Humps in a floor: noise that gathers in a narrow band, wider than a line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from straypath.contents.noise.points import BINS_PER_DEGREE, free_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from straypath.arrays import BoolArray, FloatArray
    from straypath.contents.noise.points import Points, Spectrum

# Looked for in blocks of so many bins.
BLOCKS = (8, 32, 128, 512)
# A hump stands this much out of the floor beside it, in power: less may be its own curvature.
STANDS_OUT = 2.0
# A hump wider than this part of its frequency is the shape of the floor.
WIDEST = 0.3
LEAST_BINS = 6


@dataclass(frozen=True)
class Hump:
    """A narrow band of noise.

    Parameters
    ----------
    frequency_hz, frequency_u_hz : float
        Middle of its power [Hz].
    width_hz : float
        Band that holds half of its power [Hz].
    power, power_u : float
        Mean square above the floor [unit²].
    p_value : float
    floor : float
        One-sided density beside it [unit²/Hz].
    """

    frequency_hz: float
    frequency_u_hz: float
    width_hz: float
    power: float
    power_u: float
    p_value: float
    floor: float


def humps(
    spectrum: Spectrum,
    points: Points,
    lines_hz: Sequence[tuple[float, float]],
    false_alarm_rate: float,
) -> list[Hump]:
    """Return the narrow bands of noise in a spectrum.

    Mean density over blocks against the floor between the points: gamma distribution with the
    degrees of freedom of the block, over all blocks tried.

    Parameters
    ----------
    spectrum : Spectrum
    points : Points
        The wide floor, which a hump does not lift much: medians over a third of an octave.
    lines_hz : sequence of (float, float)
        Ranges of lines, which are not humps [Hz].
    false_alarm_rate : float
        For the spectrum.
    """
    if len(points.density) < 3 or len(spectrum.density) < 4 * BLOCKS[0]:
        return []
    f = spectrum.frequency_hz
    shape = np.exp(
        np.interp(
            np.log(np.maximum(f, f[1] / 2)), np.log(points.frequency_hz), np.log(points.density)
        )
    )
    within = (f >= points.frequency_hz[0]) & (f <= points.frequency_hz[-1])
    free = free_of(spectrum, lines_hz) & within
    level = np.where(free, spectrum.density / shape, 1.0)
    marked = np.zeros(len(f), dtype=bool)
    chance = np.ones(len(f))
    tried = sum(2 * len(f) // size for size in BLOCKS)
    for size in BLOCKS:
        for shift in (0, size // 2):
            _mark(level, free, size, shift, spectrum.dof, false_alarm_rate / tried, marked, chance)
    found = [
        _hump(spectrum, shape, free, start, stop, float(chance[start:stop].min()) * tried)
        for start, stop in _runs(marked)
    ]
    return [h for h in found if h is not None]


def _mark(
    level: FloatArray,
    free: BoolArray,
    size: int,
    shift: int,
    dof: float,
    limit: float,
    marked: BoolArray,
    chance: FloatArray,
) -> None:
    """Mark the blocks that stand out, in place."""
    count = (len(level) - shift) // size
    if count < 1:
        return
    part = slice(shift, shift + count * size)
    use = free[part].reshape(count, size)
    bins = use.sum(axis=1)
    mean = np.where(use, level[part].reshape(count, size), 0.0).sum(axis=1) / np.maximum(bins, 1)
    half = np.maximum(bins, 1) * dof / BINS_PER_DEGREE / 2
    p = np.where(bins > size // 2, special.gammaincc(half, half * mean), 1.0)
    stands = (p < limit) & (mean > STANDS_OUT)
    marked[part] |= np.repeat(stands, size)
    chance[part] = np.minimum(chance[part], np.repeat(p, size))


def _runs(marked: BoolArray) -> Iterator[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]]).astype(int)))
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        yield int(start), int(stop)


def _hump(
    spectrum: Spectrum, shape: FloatArray, free: BoolArray, start: int, stop: int, p: float
) -> Hump | None:
    """Measure what lies above the floor, from half a width before to half a width behind."""
    reach = (stop - start) // 2
    first, last = max(0, start - reach), min(len(shape), stop + reach)
    use = np.flatnonzero(free[first:last]) + first
    excess = (spectrum.density[use] - shape[use]) * spectrum.bin_hz
    power = float(excess.sum())
    if power <= 0 or len(use) < LEAST_BINS:
        return None
    gathered = np.maximum.accumulate(np.cumsum(excess)) / power
    low, middle, high = np.interp([0.25, 0.5, 0.75], gathered, spectrum.frequency_hz[use])
    width = max(float(high - low), spectrum.bin_hz)
    if width > WIDEST * middle or width < 2 * spectrum.bin_hz:
        return None
    independent = max(1.0, width / spectrum.bin_hz * spectrum.dof / BINS_PER_DEGREE / 2)
    return Hump(
        frequency_hz=float(middle),
        frequency_u_hz=float(width / np.sqrt(independent)),
        width_hz=width,
        power=power,
        power_u=power / float(np.sqrt(independent)),
        p_value=min(1.0, p),
        floor=float(np.median(shape[use])),
    )
