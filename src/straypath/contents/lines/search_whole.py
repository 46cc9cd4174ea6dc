"""Decide which peaks of a whole transform are lines."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, stats

from straypath.contents.lines.resolve import resolve
from straypath.contents.lines.whole import (
    FINE,
    STANDS_OUT,
    band_around,
    chance,
    over_at,
)
from straypath.contents.spectral_statistics import expected_crossings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from straypath.arrays import BoolArray, ComplexArray
    from straypath.contents.lines.baseband import Baseband, Tone
    from straypath.contents.lines.whole import Fine

# The floor's shape is itself read from noise: counted, false alarms are so many times as frequent
# as on a floor that is known to be even.
UNEVEN = 1.5
# Points lower than this over their floor are no part of any line.
MAY_MATTER = 5.0
# A point this unlikely belongs to the peak beside it, down to gaps of this many bins.
SKIRT_CHANCE = 1e-3
GAP_BINS = 2
# Bins to either side of a peak that are looked at together with it.
MARGIN_BINS = 32
# A train of pulses has thousands of lines: the strongest are measured.
MOST_HEAPS = 400
# Wider heaps are no line.
WIDEST_BINS = 1024
# What a peak must reach over its closest neighbours, in parts of what it has to reach over the
# wider floor: usually, and where these neighbours lie so much above it.
STANDS_ALONE = 0.5
HUMP, HUMP_PEAK = 2.0, 4.0
# Further lines of a heap must stand out for themselves.
FURTHER_CHANCE = 1e-6
# So many lines, on average closer than this, are the bins of a hump.
CROWD, CROWDED_BINS = 3, 4.0
# A line is unsteady when more than this part of its power, and more than chance, stays beside it.
BESIDE_BINS = 6.5
UNSTEADY_CHANCE = 0.02
UNSTEADY_SHARE = 0.05


def search_whole(
    fine: Fine, low_hz: float, high_hz: float, alpha: float, middle_s: float
) -> list[Tone]:
    """Return the lines between two frequencies.

    P(any line in a bare floor) ≤ α: expected crossings of a tapered spectrum (Rice),
    N √(4π) σ_t √z · tail(z), tail by F(2, dof) against the quiet bins around.

    Parameters
    ----------
    fine : Fine
    low_hz, high_hz : float
        [Hz].
    alpha : float
        Chance of any false line.
    middle_s : float
        Middle of the whole record, from the first sample [s].

    Validity: floors that are even over some fifty bins of 1/T. A resonance that rings on for more
    than a fiftieth of the record has too few bins to tell its top from a line: up to one in
    thirty such records gives a false one.
    """
    first = max(int(np.ceil(low_hz / fine.bin_hz * FINE)), 3 * FINE)
    last = min(int(high_hz / fine.bin_hz * FINE), len(fine.power) - 2 * FINE)
    if last - first < 4 * FINE:
        return []
    part = slice(first, last)
    over = fine.power[part] / fine.floor[part]
    single = np.ones(len(over))
    high = np.flatnonzero(over > MAY_MATTER)
    single[high] = chance(over[high], fine.floor_dof[first + high])
    bins = (last - first) / FINE
    crossings = np.full(len(over), np.inf)
    expected = expected_crossings(bins, np.maximum(single[high], 1e-300))
    crossings[high] = UNEVEN * expected
    found: list[Tone] = []
    heaps = [
        heap for heap in _heaps(single < SKIRT_CHANCE) if crossings[heap[0] : heap[1]].min() < alpha
    ]
    heaps.sort(key=lambda heap: -float(over[heap[0] : heap[1]].max()))
    for start, stop in heaps[:MOST_HEAPS]:
        top = start + int(np.argmax(over[start:stop]))
        needed = over_at(float(single[top] * alpha / crossings[top]), fine.floor_dof[first + top])
        if fine.power[first + top] < needed * _close_level(fine, first + top):
            continue
        heap = ((first + start) // FINE, (first + stop) // FINE + 1)
        tones = _tones(fine, heap, (first + top) / FINE * fine.bin_hz, middle_s)
        p = float(crossings[top])
        density = float(fine.density_of(fine.floor[first + top]))
        found += [replace(t, p_value=min(p, t.p_value), density=density) for t in tones]
    return found


def _close_level(fine: Fine, point: int) -> float:
    """The level that a peak is held against close by.

    Somewhat less than the closest neighbours, for there are few; where they lie higher than the
    wider floor this may be a hump, and a peak must be out of all proportion to it.
    """
    close, floor = fine.close_to(point), float(fine.floor[point])
    return close * (HUMP_PEAK if close > HUMP * floor else STANDS_ALONE)


def _tones(fine: Fine, heap: tuple[int, int], top_hz: float, middle_s: float) -> list[Tone]:
    """Return the steady lines of a heap of bins whose highest point is known."""
    first, last = heap
    if last - first > WIDEST_BINS:
        return []
    margin = max(MARGIN_BINS, (last - first) // 2)
    band = band_around(fine, first - margin, last + margin, middle_s)
    tones, rest = resolve(band, FURTHER_CHANCE, top_hz)
    lowest, highest = (first - 1) * fine.bin_hz, (last + 1) * fine.bin_hz
    inside = [t for t in tones if lowest <= t.frequency_hz <= highest]
    places = [t.frequency_hz for t in inside]
    if len(inside) >= CROWD and np.ptp(places) < CROWDED_BINS * fine.bin_hz * (len(inside) - 1):
        # Any hump can be put together from enough lines.
        return []
    return [t for t in inside if _is_steady(t, band, rest)]


def _is_steady(tone: Tone, band: Baseband, rest: ComplexArray) -> bool:
    """Whether nothing stays beside a line once it is taken off: it keeps its phase.

    What is left within three bins is held against the rest of the band.
    """
    n = len(rest)
    power = np.abs(fft.fft(rest)) ** 2
    offset = (tone.frequency_hz - band.centre_hz) * band.duration_s
    places = np.arange(n) - n * (np.arange(n) >= (n + 1) // 2)
    apart = np.abs(places - offset)
    beside, around = power[apart < BESIDE_BINS], power[apart >= BESIDE_BINS]
    quiet = np.minimum(around, STANDS_OUT * np.median(around))
    ratio = float(beside.mean() / quiet.mean())
    # The fit took three of their degrees of freedom.
    dof = 2.0 * len(beside) - 3.0
    unlikely = stats.f.sf(ratio * 2.0 * len(beside) / dof, dof, 2.0 * len(around)) < UNSTEADY_CHANCE
    excess = float(np.sum(beside - quiet.mean())) / n**2
    return not (unlikely and excess > UNSTEADY_SHARE * abs(tone.phasor) ** 2)


def _heaps(marked: BoolArray) -> Iterator[tuple[int, int]]:
    """Yield (start, stop) of runs of marked points, small gaps bridged."""
    places = np.flatnonzero(marked)
    if not len(places):
        return
    breaks = np.flatnonzero(np.diff(places) > GAP_BINS * FINE) + 1
    for run in np.split(places, breaks):
        yield int(run[0]), int(run[-1]) + 1
