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
# This close to the centre of a bin, a line is seen as little from a bin away as to be no doubt.
SURE_SIDE = 0.12
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
    best = [
        max(same, key=lambda sight: abs(sight.tone.phasor)) for same in _same_line(sights, segments)
    ]
    lines = _placed(best, segments, middle_s)
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


def _placed(sights: list[Sight], segments: Segments, middle_s: float) -> list[Tone]:
    """Tell on which side of its bin each line lies.

    Segments see frequency only to whole bins: a line half a bin above the centre looks like one
    half a bin below. Segments that begin half a segment later see the two with opposite signs.
    """
    doubtful = [sight for sight in sights if abs(_apart(sight, segments)) >= SURE_SIDE]
    tones = [sight.tone for sight in sights if sight not in doubtful]
    if not doubtful:
        return tones
    numbers = np.array([sight.number for sight in doubtful])
    later = segments.later(numbers)
    starts_s = (np.arange(len(later)) + 0.5) * segments.length / segments.rate_hz - middle_s
    for sight, series in zip(doubtful, later.T, strict=True):
        apart = _apart(sight, segments)
        kernel = complex(hann_kernel(np.array([apart]), segments.length)[0])
        wave = sight.tone.phasor * kernel * np.exp(2j * np.pi * sight.tone.frequency_hz * starts_s)
        if float(np.sum(series * np.conj(wave)).real) >= 0.0:
            tones.append(sight.tone)
        else:
            tones.append(_moved(sight, apart - np.sign(apart), segments, middle_s))
    return tones


def _apart(sight: Sight, segments: Segments) -> float:
    """Distance of a line from the centre of the bin that saw it, in bins."""
    return sight.tone.frequency_hz / segments.bin_hz - sight.number


def _moved(sight: Sight, moved: float, segments: Segments, middle_s: float) -> Tone:
    """The same sight of a line a whole bin away."""
    tone, apart = sight.tone, _apart(sight, segments)
    before, after = hann_kernel(np.array([apart, moved]), segments.length)
    ratio = complex(before / after)
    # At the segments' starts the two differ by whole turns, at the middle of the record not.
    turn = complex(np.exp(2j * np.pi * (moved - apart) * segments.bin_hz * middle_s))
    return replace(
        tone,
        frequency_hz=(sight.number + moved) * segments.bin_hz,
        phasor=tone.phasor * ratio * turn,
        amplitude_u=tone.amplitude_u * abs(ratio),
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
