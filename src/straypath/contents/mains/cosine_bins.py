"""A short record in cosine bins, where a floor of any slope is a simple list of variances.

The orthonormal cosine transform (type II) of N samples has bins at m/2T. White noise stays
white in it and 1/f noise falls into nearly independent bins, offset is bin 0 alone, and a line
at ω has a closed form there:

    even m:  a · sin(Nω/2) · g,   odd m:  b · cos(Nω/2) · g,
    g = sqrt(2/N) · 2 sin(ω/2) cos(α/2) / (cos α - cos ω),   α = π m / N,

for a cos ωu + b sin ωu about the record's centre. Even bins know only cosines, odd bins only
sines, so a fit of all orders falls apart into two small ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

if TYPE_CHECKING:
    from straypath.arrays import FloatArray


@dataclass(frozen=True)
class CosineBins:
    """Bins 1 … M of a record; half[0] holds the even bins, half[1] the odd ones.

    Parameters
    ----------
    values, frequency_hz, ramp : pair of arrays, shape (M/2,)
        The bins, where they lie [Hz], and a straight slope seen in them.
    samples : int
        N.
    rate_hz : float
        [Hz].
    """

    values: tuple[FloatArray, FloatArray]
    frequency_hz: tuple[FloatArray, FloatArray]
    ramp: tuple[FloatArray, FloatArray]
    samples: int
    rate_hz: float

    @property
    def duration_s(self) -> float:
        """Record length [s]."""
        return self.samples / self.rate_hz

    @property
    def count(self) -> int:
        """Number of bins kept."""
        return len(self.values[0]) + len(self.values[1])

    def columns(self, line_hz: FloatArray, half: int) -> FloatArray:
        """Return lines of unit amplitude in the bins of one half.

        Parameters
        ----------
        line_hz : array, shape (…, lines)
            [Hz].
        half : int
            0: cosines in the even bins; 1: sines in the odd bins.

        Returns shape (…, bins, lines).
        """
        omega = 2 * np.pi * np.asarray(line_hz)[..., np.newaxis, :] / self.rate_hz
        alpha = 2 * np.pi * self.frequency_hz[half][:, np.newaxis] / self.rate_hz
        apart = omega - alpha
        edge = omega * self.samples / 2
        end, slope = (np.sin(edge), np.cos(edge)) if half == 0 else (np.cos(edge), -np.sin(edge))
        # A line on a bin is a limit 0/0: close by, the ratio is the slope of its numerator.
        on_bin = np.abs(apart) < 1e-6 * np.pi / self.samples
        kernel = end / np.sin(np.where(on_bin, 1.0, apart) / 2)
        kernel = np.where(on_bin, slope * self.samples, kernel)
        scale = np.sqrt(2 / self.samples) * np.sin(omega / 2)
        return np.asarray(scale * np.cos(alpha / 2) / np.sin((omega + alpha) / 2) * kernel)


def cosine_bins(samples: FloatArray, rate_hz: float, highest_hz: float) -> CosineBins:
    """Transform a record and keep the bins up to `highest_hz`, offset left out."""
    n = len(samples)
    keep = max(3, min(n, int(2 * highest_hz * n / rate_hz) + 1))
    u = np.arange(n) - (n - 1) / 2
    values = fft.dct(samples - np.mean(samples), type=2, norm="ortho")[:keep]
    ramp = fft.dct(u / max(u[-1], 0.5), type=2, norm="ortho")[:keep]
    f = np.arange(keep) * rate_hz / (2 * n)
    return CosineBins(
        values=(values[2::2], values[1::2]),
        frequency_hz=(f[2::2], f[1::2]),
        ramp=(np.zeros(len(f[2::2])), ramp[1::2]),
        samples=n,
        rate_hz=rate_hz,
    )
