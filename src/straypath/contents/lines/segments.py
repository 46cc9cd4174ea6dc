"""Lines in a record too long to be transformed as a whole: by segments, in two passes.

First the power of every bin, averaged over all segments, selects candidates. Then the complex
values of these bins are kept, segment after segment: a line turns evenly through them, noise does
not. In Gaussian noise the selection costs nothing, for power and shape are independent.
"""

from __future__ import annotations

from dataclasses import dataclass
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
# Complex values kept of all candidates together: 6.4 MB.
KEPT_VALUES = 800_000
LEAST_CANDIDATES = 200


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

    def spectra(self) -> Iterator[tuple[int, NDArray[np.complex64]]]:
        """Yield (number of the first segment, transforms of up to eight segments)."""
        taper = np.hanning(self.length + 1)[:-1].astype(np.float32)
        taper *= 4.0 / self.length
        for first in range(0, self.count, AT_ONCE):
            last = min(self.count, first + AT_ONCE)
            start, stop = first * self.length, last * self.length
            rows = np.asarray(self.samples[start:stop])
            if self.comb is not None:
                rows = rows - self.comb(start, stop)
            # The offset would cost float32 its digits, and leak.
            rows = rows.reshape(-1, self.length)
            level = float(rows[0].mean())
            tapered = (rows - np.float32(level)) * taper if level else rows * taper
            yield first, fft.rfft(tapered.astype(np.float32, copy=False), axis=1, overwrite_x=True)

    def mean_power(self) -> FloatArray:
        """Return the mean power of each bin, as squared peak amplitude."""
        total = np.zeros(self.length // 2 + 1)
        for _, spectra in self.spectra():
            parts = spectra.view(np.float32).reshape(len(spectra), -1)
            np.square(parts, out=parts)
            both = parts.sum(axis=0)
            total += both[0::2]
            total += both[1::2]
        return total / self.count

    def series(self, bins: IntArray) -> NDArray[np.complex64]:
        """Return the values of some bins in all segments, shape (segments, bins)."""
        kept = np.empty((self.count, len(bins)), dtype=np.complex64)
        for first, spectra in self.spectra():
            np.take(spectra, bins, axis=1, out=kept[first : first + len(spectra)], mode="clip")
        return kept

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


def candidates(power: FloatArray, count: int, first: int) -> IntArray:
    """Return the bins, from `first` on, that stand highest over their neighbourhood."""
    size = 32
    runs = len(power) // size
    middles = np.median(power[: runs * size].reshape(runs, size), axis=1)
    floor = np.interp(np.arange(len(power)), (np.arange(runs) + 0.5) * size, middles)
    over = power / np.maximum(floor, 1e-300)
    over[:first] = 0.0
    over[-2:] = 0.0
    if count >= len(over):
        return np.arange(first, len(over) - 2)
    return np.sort(np.argpartition(over, -count)[-count:])
