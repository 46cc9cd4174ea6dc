"""The noise density in bands spaced evenly in log frequency, lines left out."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.arrays import BoolArray, FloatArray

PER_DECADE = 8
# Under a Hann taper so many bins make one independent one.
BINS_PER_DEGREE = 1.944
# A line reaches this many bins to either side; a strong one as far as its skirts.
LINE_BINS = 4
FEWEST_BINS = 4
# The lowest bins hold what is left of offset and slope.
LOWEST_BIN = 4


@dataclass(frozen=True)
class Spectrum:
    """A one-sided density over part of the band, the comb taken off.

    Parameters
    ----------
    frequency_hz, density : array, shape (n,)
        Evenly spaced [Hz], [unit²/Hz].
    dof : float
        Degrees of freedom of each value: 2 per transform.
    """

    frequency_hz: FloatArray
    density: FloatArray
    dof: float

    @property
    def bin_hz(self) -> float:
        """Distance of the values [Hz]."""
        return float(self.frequency_hz[1] - self.frequency_hz[0])


@dataclass(frozen=True)
class Points:
    """Densities in bands.

    Parameters
    ----------
    frequency_hz, density : array, shape (n,)
        Geometric centres [Hz], one-sided density [unit²/Hz].
    u : array, shape (n,)
        Relative standard uncertainty of the densities.
    """

    frequency_hz: FloatArray
    density: FloatArray
    u: FloatArray


def points(spectra: Sequence[Spectrum], lines_hz: Sequence[tuple[float, float]]) -> Points:
    """Return the density in eight bands per decade.

    Median of the bins over the median of χ²(ν)/ν, ν degrees of freedom each; relative standard
    uncertainty √(2/ν m) · 1.25 for m independent bins (1.44/√m for ν = 2).

    Parameters
    ----------
    spectra : sequence of Spectrum
        Of neighbouring parts of the band.
    lines_hz : sequence of (float, float)
        Ranges to be left out: lines with their skirts [Hz].

    Validity: floors whose density changes by less than a few times within a third of their
    frequency; lines that fill less than half of a band.
    """
    rows = [row for spectrum in spectra for row in _rows(spectrum, lines_hz)]
    table = np.array(sorted(rows)).reshape(-1, 3)
    return Points(table[:, 0], table[:, 1], table[:, 2])


def _rows(
    spectrum: Spectrum, lines_hz: Sequence[tuple[float, float]]
) -> list[tuple[float, float, float]]:
    f = spectrum.frequency_hz
    if len(f) < 2 * FEWEST_BINS:
        return []
    use = free_of(spectrum, lines_hz) & (f >= LOWEST_BIN * spectrum.bin_hz)
    lowest = float(np.maximum(f[0], LOWEST_BIN * spectrum.bin_hz))
    first = int(np.floor(PER_DECADE * np.log10(lowest)))
    last = int(np.ceil(PER_DECADE * np.log10(f[-1])))
    edges = np.searchsorted(f, 10.0 ** (np.arange(first, last + 1) / PER_DECADE))
    middle = 2 * float(special.gammaincinv(spectrum.dof / 2, 0.5)) / spectrum.dof
    rows = []
    for start, stop in pairwise(edges):
        inside = np.flatnonzero(use[start:stop]) + start
        if len(inside) < FEWEST_BINS:
            continue
        density = float(np.median(spectrum.density[inside])) / middle
        if density <= 0.0:
            continue
        independent = max(1.0, len(inside) / BINS_PER_DEGREE)
        each = 1.443 if spectrum.dof < 4 else 1.25 * np.sqrt(2.0 / spectrum.dof)
        centre = float(np.sqrt(f[inside[0]] * f[inside[-1]]))
        rows.append((centre, density, float(each / np.sqrt(independent))))
    return rows


def free_of(spectrum: Spectrum, lines_hz: Sequence[tuple[float, float]]) -> BoolArray:
    """Return which bins lie outside all ranges, a few bins kept clear at either side."""
    free = np.ones(len(spectrum.frequency_hz), dtype=bool)
    clear = LINE_BINS * spectrum.bin_hz
    for low, high in lines_hz:
        first, last = np.searchsorted(spectrum.frequency_hz, [low - clear, high + clear])
        free[first:last] = False
    return free
