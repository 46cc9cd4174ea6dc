"""Lines in a record too long to be transformed as a whole: by segments.

The power of every bin, averaged over all segments, selects candidates. Their complex values are
held from segment to segment: a line turns evenly through them, noise does not. In Gaussian noise
the selection costs nothing, for power and shape are independent.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from straypath.contents.lines.baseband import Baseband, hann_kernel

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from straypath.arrays import ComplexArray, FloatArray, IntArray
    from straypath.capture.capture import Samples

# A segment's power of two: the longest that transforms within the cache, eight at a time.
LENGTH = 65_536
AT_ONCE = 8
HANN_BANDWIDTH_BINS = 1.5
LARGE_OFFSET = 0.1
# Complex values kept of all candidates together: 10 MB.
KEPT_VALUES = 1_200_000
LEAST_CANDIDATES = 200
# The first look is at this part of the record, and passes so many times more bins: a line that
# the whole record would choose is then hardly ever lost.
HEAD_SHARE = 5
MORE_AT_FIRST = 6


@dataclass(frozen=True)
class Segments:
    """A record in segments under a Hann taper.

    Parameters
    ----------
    samples : Samples, shape (n,)
    rate_hz : float
        [Hz].
    comb : callable or None
        The mains comb at (start, stop), to be taken off.
    length : int
        Samples in a segment.
    """

    samples: Samples
    rate_hz: float
    comb: Callable[[int, int], FloatArray] | None = None
    length: int = LENGTH

    @property
    def count(self) -> int:
        """Whole segments in the record."""
        return len(self.samples) // self.length

    @property
    def bin_hz(self) -> float:
        """Distance of the bins [Hz]."""
        return self.rate_hz / self.length

    def spectra(
        self, first: int = 0, last: int | None = None
    ) -> Iterator[tuple[int, NDArray[np.complex64]]]:
        """Yield (number of the first segment, transforms of up to eight segments)."""
        taper = np.hanning(self.length + 1)[:-1].astype(np.float32)
        taper *= 4.0 / self.length
        end = self.count if last is None else last
        for number in range(first, end, AT_ONCE):
            start, stop = number * self.length, min(end, number + AT_ONCE) * self.length
            rows = np.asarray(self.samples[start:stop])
            if self.comb is not None:
                rows = rows - self.comb(start, stop)
            rows = rows.reshape(-1, self.length)
            # A large offset would cost float32 its digits, and leak.
            level = float(rows[0].mean())
            if level**2 > LARGE_OFFSET * float(np.mean(np.square(rows[0]))):
                rows = rows - rows.dtype.type(level)
            tapered = rows * taper
            yield number, fft.rfft(tapered.astype(np.float32, copy=False), axis=1, overwrite_x=True)

    def later(self, bins: IntArray) -> NDArray[np.complex64]:
        """Return the values of some bins in segments that begin half a segment later.

        An eighth of the record is enough to tell a sign.
        """
        half = self.length // 2
        comb = self.comb
        shifted = replace(
            self,
            samples=self.samples[half : len(self.samples)],
            comb=None if comb is None else lambda start, stop: comb(start + half, stop + half),
        )
        count = min(shifted.count, max(AT_ONCE, self.count // 8))
        values = np.empty((count, len(bins)), dtype=np.complex64)
        for number, spectra in shifted.spectra(0, count):
            np.take(spectra, bins, axis=1, out=values[number : number + len(spectra)], mode="clip")
        return values

    def density(self, power: FloatArray) -> FloatArray:
        """Return the one-sided density for a mean power."""
        return np.asarray(power / (2.0 * HANN_BANDWIDTH_BINS * self.bin_hz))

    def baseband(self, number: int, series: NDArray[np.complex64], middle_s: float) -> Baseband:
        """Return a bin's values as a band about its centre.

        Parameters
        ----------
        number : int
            Of the bin.
        series : array, shape (segments,)
        middle_s : float
            Middle of the whole record, from its first sample [s].
        """
        hop_s = self.length / self.rate_hz
        starts = np.arange(len(series)) * hop_s - middle_s
        centre_hz = number * self.bin_hz

        def columns(offsets_hz: FloatArray) -> ComplexArray:
            turns = np.exp(2j * np.pi * np.outer(starts, offsets_hz))
            return np.asarray(turns * hann_kernel(offsets_hz / self.bin_hz, self.length))

        return Baseband(
            series=np.asarray(series * np.exp(2j * np.pi * centre_hz * middle_s)),
            interval_s=hop_s,
            first_s=float(starts[0]) + hop_s / 2,
            centre_hz=centre_hz,
            density_per_variance=1.0 / (2.0 * HANN_BANDWIDTH_BINS * self.bin_hz),
            columns=columns,
        )


@dataclass(frozen=True)
class Survey:
    """What one look at a segmented record leaves.

    Parameters
    ----------
    power : array, shape (bins,)
        Mean power of each bin, as squared peak amplitude.
    bins : array, shape (c,)
        Candidates.
    series : array, shape (segments, c)
        Their values.
    """

    power: FloatArray
    bins: IntArray
    series: NDArray[np.complex64]


def survey(segments: Segments, first: int, *, deep: bool = False) -> Survey:
    """Read a record once, and its first fifth twice.

    The power of the first fifth names the bins that may become candidates; from there on their
    values are kept. The power of the whole record chooses among them, and the first fifth is
    read again for those that are left.

    Parameters
    ----------
    segments : Segments
    first : int
        Lowest bin that may be a candidate.
    deep : bool
        Every bin is a candidate; takes as much memory again as the record.
    """
    count = segments.count
    total = np.zeros(segments.length // 2 + 1)
    most = max(LEAST_CANDIDATES, KEPT_VALUES // count)
    all_of_them = deep or MORE_AT_FIRST * most >= len(total)
    head = 0 if all_of_them else min(count, -(-count // HEAD_SHARE // AT_ONCE) * AT_ONCE)
    for _, spectra in segments.spectra(0, head):
        _add_power(total, spectra)
    early = candidates(total, len(total) if all_of_them else MORE_AT_FIRST * most, first)
    kept = np.empty((count - head, len(early)), dtype=np.complex64)
    for number, spectra in segments.spectra(head):
        rows = slice(number - head, number - head + len(spectra))
        np.take(spectra, early, axis=1, out=kept[rows], mode="clip")
        _add_power(total, spectra)
    if deep:
        return Survey(total / count, early, kept)
    chosen = np.isin(early, candidates(total, most, first, among=early))
    bins = early[chosen]
    series = np.empty((count, len(bins)), dtype=np.complex64)
    for number, spectra in segments.spectra(0, head):
        np.take(spectra, bins, axis=1, out=series[number : number + len(spectra)], mode="clip")
    series[head:] = kept[:, chosen]
    return Survey(total / count, bins, series)


def _add_power(total: FloatArray, spectra: NDArray[np.complex64]) -> None:
    """Add the powers of some spectra, which are spent."""
    parts = spectra.view(np.float32).reshape(len(spectra), -1)
    np.square(parts, out=parts)
    both = parts.sum(axis=0)
    total += both[0::2]
    total += both[1::2]


def candidates(
    power: FloatArray, count: int, first: int, among: IntArray | None = None
) -> IntArray:
    """Return the bins, from `first` on, that stand highest over their neighbourhood."""
    size = 32
    runs = len(power) // size
    middles = np.median(power[: runs * size].reshape(runs, size), axis=1)
    floor = np.interp(np.arange(len(power)), (np.arange(runs) + 0.5) * size, middles)
    over = power / np.maximum(floor, 1e-300)
    allowed = np.arange(first, len(over) - 2) if among is None else among
    if count >= len(allowed):
        return allowed
    return np.sort(allowed[np.argpartition(over[allowed], -count)[-count:]])
