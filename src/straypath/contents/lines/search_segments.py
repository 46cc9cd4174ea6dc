"""Decide which bins of a segmented record hold lines."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from straypath.contents.lines.baseband import hann_kernel
from straypath.contents.lines.resolve import resolve

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from straypath.arrays import FloatArray
    from straypath.contents.lines.baseband import Tone
    from straypath.contents.lines.segments import Segments, Survey

# Bins less likely than this are looked at closely; a line that can be decided on at all is
# far below, even between two places of the grid.
PROMISING = 0.02
BINS_AT_ONCE = 512
# A train of pulses has thousands of lines; so many bins are looked at closely.
MOST_BINS = 600
# Within this many bins of the centre there is no doubt on which side a line lies.
SURE_SIDE = 0.35
# A strong line is still seen this many bins away.
SEEN_WITHIN = 12.5


def search_segments(segments: Segments, found: Survey, alpha: float, middle_s: float) -> list[Tone]:
    """Return the lines among the candidates of a survey.

    Fisher's exact test on each candidate's series over the segments at α/candidates.

    Parameters
    ----------
    segments : Segments
    found : Survey
        Of these segments.
    alpha : float
        Chance of any false line in a bare floor.
    middle_s : float
        Middle of the whole record, from the first sample [s].
    """
    bins, series = found.bins, found.series
    if not len(bins):
        return []
    limit = alpha / len(bins)
    sights: list[Sight] = []
    chances = _on_grid_chance(series)
    likely = np.argsort(chances, kind="stable")[:MOST_BINS]
    for j in np.sort(likely[chances[likely] < PROMISING]):
        number = int(bins[j])
        band = segments.baseband(number, series[:, j], middle_s)
        tones, _ = resolve(band, limit)
        sights += [
            Sight(number, replace(tone, p_value=min(1.0, tone.p_value * len(bins))))
            for tone in tones
        ]
    lines = [
        _placed(same, found.power, segments, middle_s) for same in _same_line(sights, segments)
    ]
    return sorted(lines, key=lambda tone: tone.frequency_hz)


@dataclass(frozen=True)
class Sight:
    """A line as one bin saw it."""

    number: int
    tone: Tone


def _on_grid_chance(series: NDArray[np.complex64]) -> FloatArray:
    """Upper bound on Fisher's chance per bin, from whole places only: a cheap first look."""
    count, bins = series.shape
    chances = np.empty(bins)
    for start in range(0, bins, BINS_AT_ONCE):
        part = fft.fft(np.ascontiguousarray(series[:, start : start + BINS_AT_ONCE].T), axis=1)
        powers = part.real**2 + part.imag**2
        share = powers.max(axis=1) / np.maximum(powers.sum(axis=1), 1e-300)
        chances[start : start + BINS_AT_ONCE] = count * (1.0 - share) ** (count - 1)
    return chances


def _placed(sights: list[Sight], power: FloatArray, segments: Segments, middle_s: float) -> Tone:
    """Return the line that several bins saw, from the one that saw it best.

    Segments see frequency only to whole bins: a line half a bin above the centre looks like one
    half a bin below. The neighbour that sees it too tells, else the neighbours' power.
    """
    best = max(sights, key=lambda sight: abs(sight.tone.phasor))
    tone, number = best.tone, best.number
    apart = tone.frequency_hz / segments.bin_hz - number
    if abs(apart) < SURE_SIDE:
        return tone
    seen = {sight.number: abs(sight.tone.phasor) for sight in sights}
    below, above = seen.get(number - 1, 0.0), seen.get(number + 1, 0.0)
    if below == above:
        below, above = power[number - 1], power[number + 1]
    if (above > below) == (apart > 0):
        return tone
    moved = apart + (1.0 if above > below else -1.0)
    ratio = hann_kernel(np.array([apart]), segments.length) / hann_kernel(
        np.array([moved]), segments.length
    )
    size = abs(complex(ratio[0]))
    # At the segments' starts the two differ by whole turns, at the middle of the record not.
    turn = complex(np.exp(2j * np.pi * (moved - apart) * segments.bin_hz * middle_s))
    return replace(
        tone,
        frequency_hz=(number + moved) * segments.bin_hz,
        phasor=tone.phasor * complex(ratio[0]) * turn,
        amplitude_u=tone.amplitude_u * size,
    )


def _same_line(sights: list[Sight], segments: Segments) -> Iterator[list[Sight]]:
    """Gather the sights of each line: neighbouring bins see it whole bins away."""
    left = sorted(sights, key=lambda sight: -abs(sight.tone.phasor))
    while left:
        best = left[0]
        apart = [(s.tone.frequency_hz - best.tone.frequency_hz) / segments.bin_hz for s in left]
        same = [
            abs(bins) < SEEN_WITHIN and abs(bins - round(bins)) * segments.count < 1.0
            for bins in apart
        ]
        yield [s for s, one in zip(left, same, strict=True) if one]
        left = [s for s, one in zip(left, same, strict=True) if not one]
