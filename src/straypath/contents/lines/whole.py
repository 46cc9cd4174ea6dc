"""Lines in a record that is transformed as a whole: every line in bins of 1/T."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import fft

from straypath.contents.lines.baseband import Baseband, hann_kernel

if TYPE_CHECKING:
    from straypath.arrays import BoolArray, ComplexArray, FloatArray, IntArray

# The grid has this many points per 1/T, so that no line falls between two.
FINE = 2
# Bins to either side whose mean is the floor under a place, and those left out for the line.
NEAR, CLEAR = 48, 3
# The same, close by: a line stands out of its nearest neighbours too, the top of a hump doesn't.
CLOSE = 8
# Mean of the lower two thirds of exponential powers, over the mean of all: (1 - (1 + ln 3)/3) 3/2.
LOWER_TWO_THIRDS = 0.4507
ROUNDING = 1e-24
FEWEST = 8.0  # degrees of freedom
# A tapered bin shares its noise with its neighbours: independent ones per bin.
BINS_PER_DEGREE = 1.944
# Medians are taken over runs of this many bins.
RUN_BINS = 64
# A bin of a smooth floor exceeds 16 times the median of its neighbourhood once in 60,000.
STANDS_OUT = 16.0
# Half the width of the band that is cut out around a line [bins].
BAND_BINS = 32
# Parts of the record at either end where the taper is too small to be taken out again.
EDGE = 0.05


@dataclass(frozen=True)
class Fine:
    """The tapered transform of a record, two points per bin.

    Parameters
    ----------
    values : array, shape (n,)
        Peak amplitude of a line; point i lies at i / FINE bins.
    length : int
        Samples of the record.
    rate_hz : float
        [Hz].
    power : array, shape (n,)
        Squares of the values.
    floor, floor_dof : array, shape (n,)
        Mean power of the quiet bins around each point, and its degrees of freedom.
    """

    values: ComplexArray
    length: int
    rate_hz: float
    power: FloatArray
    floor: FloatArray
    floor_dof: FloatArray

    @property
    def bin_hz(self) -> float:
        """1/T [Hz]."""
        return self.rate_hz / self.length

    def close_to(self, point: int) -> float:
        """Mean power of the closest bins, without the loudest third: other lines, at most two."""
        at = point // FINE
        near = np.arange(max(1, at - CLOSE), min(self.length // 2, at + CLOSE + 1))
        near = near[np.abs(near - at) > 1]
        powers = np.sort(self.power[near * FINE])
        return float(powers[: 2 * len(powers) // 3].mean()) / LOWER_TWO_THIRDS

    @property
    def frequency_hz(self) -> FloatArray:
        """Of whole bins [Hz]."""
        return np.arange(len(self.power[::FINE])) * self.bin_hz

    def density_of(self, power: FloatArray) -> FloatArray:
        """Return the one-sided density behind a mean power [unit²/Hz].

        A line of peak amplitude a has the power a²/2; the taper's noise bandwidth is 1.5 bins.
        """
        return np.asarray(power / (2 * 1.5 * self.bin_hz))


def transform(samples: FloatArray, rate_hz: float) -> Fine:
    """Transform a record without offset and slope under a Hann taper."""
    n = int(fft.prev_fast_len(len(samples), real=True))
    samples = np.asarray(samples[:n])
    # In float32 the offset would cost digits: it goes first.
    samples = (samples - samples.mean(dtype=np.float64)).astype(_float_type(samples))
    t = np.linspace(-1.0, 1.0, n, dtype=samples.dtype)
    samples -= t * (samples @ t / (t @ t))
    turn = np.linspace(0.0, 2 * np.pi, n, endpoint=False, dtype=samples.dtype)
    samples *= 0.5 - 0.5 * np.cos(turn)
    values = fft.rfft(samples, FINE * n)
    values *= 4.0 / n
    power = values.real**2 + values.imag**2
    bins = np.asarray(power[::FINE], dtype=np.float64)
    # A computed record may hold no noise at all: rounding is then its floor.
    shape = np.maximum(_rough_floor(bins), max(ROUNDING * float(bins.max()), 1e-300))
    level = bins / shape
    quiet = level <= STANDS_OUT
    floor, dof = _around(level, quiet, CLEAR, NEAR)
    # Nothing quiet is left amid the skirts of a strong line: the run's median has to do.
    floor, dof = np.where((dof < FEWEST) | (floor == 0.0), 1.0, floor), np.maximum(dof, FEWEST)
    at = np.arange(len(power)) // FINE
    return Fine(values, n, rate_hz, power, (floor * shape)[at], dof[at])


def _float_type(samples: FloatArray) -> type[np.floating[Any]]:
    """float64 only where the samples are: the noise of any converter drowns the rounding."""
    return np.float64 if samples.dtype == np.float64 else np.float32


def band_around(fine: Fine, first: int, last: int, middle_s: float) -> Baseband:
    """Cut whole bins first … last - 1 out of a record, the taper taken out again.

    Parameters
    ----------
    fine : Fine
    first, last : int
        Whole bins; shifted inwards where the record ends.
    middle_s : float
        Middle of the whole record, from the first sample [s].

    The noise is white again without the taper, so that a plain fit is nearly the best there is;
    the twentieth at either end is left out. Lines keep the exact shape that tapering, cutting
    and dividing give them.
    """
    top = (len(fine.values) - 1) // FINE
    count = min(last - first, top)
    first = max(0, min(first, top - count))
    bins = np.arange(first, first + count)
    duration_s = fine.length / fine.rate_hz
    place = np.arange(count) / count
    keep = (place >= EDGE) & (place <= 1.0 - EDGE)
    back = 1.0 / (2.0 * np.sin(np.pi * place[keep]) ** 2)
    middle = count // 2
    centre_hz = bins[middle] * fine.bin_hz
    turn = np.exp(2j * np.pi * (centre_hz * middle_s))

    def series_of(values: ComplexArray) -> ComplexArray:
        waves = fft.ifft(np.roll(values, -middle, axis=0), axis=0) * count
        return np.asarray(waves[keep].T * back * turn).T

    def columns(offsets_hz: FloatArray) -> ComplexArray:
        f = centre_hz + np.asarray(offsets_hz)
        kernel = hann_kernel(f / fine.bin_hz - bins[:, np.newaxis], fine.length)
        return series_of(kernel * np.exp(-2j * np.pi * f * middle_s))

    return Baseband(
        series=series_of(fine.values[bins * FINE].astype(complex)),
        interval_s=duration_s / count,
        first_s=float(place[keep][0]) * duration_s - middle_s,
        centre_hz=float(centre_hz),
        density_per_variance=duration_s / (2.0 * count),
        columns=columns,
    )


def _rough_floor(bins: FloatArray) -> FloatArray:
    """Medians over runs of bins, turned into means of exponential powers.

    The runs grow from the lowest bins on, where a floor falls most steeply, and are joined along
    power laws.
    """
    edges = _runs(len(bins))
    middles = np.array([np.median(bins[a:b]) for a, b in pairwise(edges)])
    even = (len(bins) - edges[-1]) // RUN_BINS
    if even:
        rows = bins[edges[-1] : edges[-1] + even * RUN_BINS].reshape(even, RUN_BINS)
        middles = np.concatenate([middles, np.median(rows, axis=1)])
        edges = np.concatenate([edges, edges[-1] + RUN_BINS * np.arange(1, even + 1)])
    centres = np.log((edges[1:] + edges[:-1]) / 2)
    levels = np.log(np.maximum(middles, 1e-300) / np.log(2))
    return np.asarray(np.exp(np.interp(np.log(np.arange(len(bins)) + 0.5), centres, levels)))


def _runs(bins: int) -> IntArray:
    """Edges of the growing runs, each a third longer than the one before, up to 64 bins."""
    edges = [1]
    while edges[-1] < bins:
        run = max(2, edges[-1] // 3)
        if run >= RUN_BINS:
            break
        edges.append(min(bins, edges[-1] + run))
    if len(edges) == 1:
        edges.append(max(2, bins))
    return np.array(edges)


def _around(
    bins: FloatArray, quiet: BoolArray, clear: int, reach: int
) -> tuple[FloatArray, FloatArray]:
    """Mean of the quiet bins clear + 1 … reach to either side, and its degrees of freedom."""
    sums = np.concatenate([[0.0], np.cumsum(np.where(quiet, bins, 0.0))])
    counts = np.concatenate([[0], np.cumsum(quiet)])
    n = len(bins)
    i = np.arange(n)

    def within(distance: int) -> tuple[FloatArray, FloatArray]:
        first, last = np.maximum(i - distance, 1), np.minimum(i + distance + 1, n)
        return sums[last] - sums[first], counts[last] - counts[first]

    (all_sum, all_count), (own_sum, own_count) = within(reach), within(clear)
    count = np.maximum(all_count - own_count, 0)
    return (all_sum - own_sum) / np.maximum(count, 1), 2.0 * count / BINS_PER_DEGREE


def chance(over: FloatArray, dof: FloatArray) -> FloatArray:
    """Chance that a noise bin is `over` times a floor known from `dof` degrees: F(2, dof)."""
    return np.asarray((1.0 + 2.0 * over / dof) ** (-dof / 2))


def over_at(p: float, dof: float) -> float:
    """How much above the floor a bin is at this chance: the inverse of `chance`."""
    return float(dof / 2 * (p ** (-2.0 / dof) - 1.0))
