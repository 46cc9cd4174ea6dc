"""Is there a mains comb, and at which frequency? The search over a long record.

Every low order is looked for on its own in a tapered spectrum, against the floor beside it.
The false-alarm budget of the channel is shared out among orders and supply systems, and within
each among all the frequencies that were tried (Rice's formula for the largest of a continuous
spectrum; for one spectrum that is the expression of Baluev, Mon. Not. R. Astron. Soc. 385,
2008, 1279).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, special

from straypath.contents.floor import read_floor
from straypath.contents.interpolation import parabola_top, two_bin_offset
from straypath.contents.mains.foreign import common_order, share_of
from straypath.contents.reduction import reduce_rate
from straypath.contents.spectral_statistics import expected_crossings

if TYPE_CHECKING:
    from straypath.arrays import FloatArray
    from straypath.contents.mains.systems import MainsSystem
    from straypath.contents.reduction import Reduced

ORDERS = 7
# Longer records are searched in stretches whose spectra are added: the grid itself wanders by
# some 10 mHz in a minute, so a longer stretch gains nothing. Six of them, spread over the
# record, find what five minutes can show.
STRETCH_S = 50.0
MOST_STRETCHES = 6
PADDING = 2
# Correlation of neighbouring bins under a Hann taper: 1 + 2 (4/9 + 1/36).
HANN_BINS_PER_DEGREE = 1.944
# A bin above nine times its floor is a line at p = 1e-4: kept out of the floor of others.
LINE_OVER_FLOOR = 9.0
SMALLEST = 1e-290
# A peak below five times the median beside it is nothing in any band: no need to look closer.
CANNOT_MATTER = 5.0
# A further order must stand out this far to speak for a frequency: among the dozens of
# frequencies and orders that are compared, chance reaches 9 but not 14 (e^-14 = 1e-6).
STANDS_OUT = 14.0
FEWEST_PLACES = 8
FEWEST_DEGREES = 8.0
# A line this far over its floor is beyond doubt, and how deep the floor lies says no more.
BEYOND_DOUBT = 1e4
PEAKS_PER_ORDER = 3
# The strongest points of the spectrum, whose leakage is reckoned with.
LEAKING = 30


@dataclass(frozen=True)
class Candidate:
    """A mains frequency to try: which system, where, how likely beside the others (log)."""

    system: MainsSystem
    frequency_hz: float
    score: float


@dataclass(frozen=True)
class Found:
    """Outcome of a search: the chance that a bare floor looks like this, and the candidates."""

    p_value: float
    candidates: tuple[Candidate, ...]


@dataclass(frozen=True)
class Spectrum:
    """Mean tapered power over the stretches, on a grid finer than the resolution.

    Parameters
    ----------
    frequency_hz, power : array, shape (n,)
        [Hz], one-sided density [unit²/Hz].
    stretches : int
        How many spectra were averaged.
    bin_hz : float
        Resolution 1/T of one stretch [Hz].
    floors : dict
        Floors already read, by bin.
    """

    frequency_hz: FloatArray
    power: FloatArray
    stretches: int
    bin_hz: float
    floors: dict[int, tuple[float, float]] = field(default_factory=dict, repr=False)

    @cached_property
    def strongest(self) -> tuple[FloatArray, FloatArray]:
        """(Frequencies, powers) of the highest points: the lines that may leak elsewhere."""
        top = np.argsort(self.power)[-LEAKING:]
        return self.frequency_hz[top], self.power[top]

    def leakage_at(self, at_hz: FloatArray) -> FloatArray:
        """What the strongest lines put under frequencies through the sides of the taper.

        A Hann taper keeps 1 / (π d (d² - 1)) of an amplitude d bins away; a moving line leaks
        more, hence the factor of ten in power. Within two bins it is the line itself.
        """
        where_hz, power = self.strongest
        d = np.abs(where_hz - at_hz[:, np.newaxis]) / self.bin_hz
        far = np.maximum(d, 2.0)
        kept = np.where(d > 2.0, 10.0 / (np.pi * far * (far**2 - 1.0)) ** 2, 0.0)
        return np.asarray(np.max(power * kept, axis=1))

    def floor_beside(self, at_hz: float) -> tuple[float, float]:
        """Return (density, degrees of freedom) of the floor beside a frequency."""
        index = round(at_hz / self.bin_hz)
        if index not in self.floors:
            self.floors[index] = self._floor_at(index * self.bin_hz)
        return self.floors[index]

    def _floor_at(self, at_hz: float) -> tuple[float, float]:
        reach = max(30 * self.bin_hz, min(20.0, 100 * self.bin_hz))
        step = self.bin_hz / PADDING
        first = max(int(3 * PADDING), int((at_hz - reach) / step))
        last = min(len(self.power), int((at_hz + reach) / step))
        f = self.frequency_hz[first:last:PADDING]
        s = self.power[first:last:PADDING]
        keep = np.abs(f - at_hz) > 3 * self.bin_hz
        f, s = f[keep], s[keep]
        rough = float(np.median(s)) / np.log(2)
        clear = self.leakage_at(f) < 0.1 * rough
        if clear.sum() >= FEWEST_PLACES:
            floor = self._without_lines(f[clear], s[clear], at_hz, rough)
            if floor[1] >= FEWEST_DEGREES:
                return floor
        # Too little is left: with the skirts the floor is read high, which only makes it harder
        # for a weak line, whereas few degrees of freedom would hide a strong one.
        return self._without_lines(f, s, at_hz, rough)

    def _without_lines(
        self, f: FloatArray, s: FloatArray, at_hz: float, rough: float
    ) -> tuple[float, float]:
        each = 2.0 * self.stretches / HANN_BINS_PER_DEGREE
        for _ in range(2):
            value, dof = read_floor(f, s, at_hz, each)
            shape = np.maximum(value, rough) * np.maximum(1.0, at_hz / f) ** 2
            quiet = s <= LINE_OVER_FLOOR * shape
            if quiet.all() or quiet.sum() < FEWEST_PLACES:
                break
            f, s = f[quiet], s[quiet]
        return value, dof


def spectrum_of(reduced: Reduced, highest_hz: float) -> Spectrum:
    """Return the tapered spectrum from zero to `highest_hz`."""
    stretches = max(1, int(np.ceil(len(reduced.samples) / reduced.rate_hz / STRETCH_S)))
    size = len(reduced.samples) // stretches
    chosen = np.unique(np.linspace(0, stretches - 1, min(stretches, MOST_STRETCHES)).astype(int))
    cut = [
        reduce_rate(reduced.part(i * size, (i + 1) * size), reduced.rate_hz, highest_hz)
        for i in chosen
    ]
    low = cut[0]
    # A length with small factors transforms fast; at most a few per cent are left out.
    length = int(fft.prev_fast_len(len(low.samples), real=True))
    rows = np.array([piece.part(0, length) for piece in cut])
    t = np.linspace(-1.0, 1.0, length).astype(rows.dtype)
    rows -= rows.mean(axis=1, keepdims=True)
    rows -= np.outer(rows @ t / (t @ t), t)
    taper = np.hanning(length).astype(rows.dtype)
    rows *= taper
    bin_hz = low.rate_hz / length
    # The grid must hit the bins exactly: every PADDING-th point is an ordinary bin.
    transform = fft.rfft(rows, PADDING * length, axis=1)
    keep = int(highest_hz * 1.1 / bin_hz * PADDING)
    power = np.mean(np.abs(transform[:, :keep]) ** 2, axis=0)
    power *= 2 / (low.rate_hz * np.sum(taper**2))
    f = np.arange(len(power)) * bin_hz / PADDING
    gain = low.response(f) * reduced.response(f)
    return Spectrum(f, power / np.maximum(gain, 0.1) ** 2, len(chosen), bin_hz)


def search(reduced: Reduced, systems: tuple[MainsSystem, ...]) -> Found:
    """Search all systems and orders; p_value covers everything that was tried.

    p = min(p_i/w_i) with Σ w_i = 1: P(p < α) ≤ Σ P(p_i < w_i α) = α (weighted Bonferroni bound).
    """
    usual = [s.high_hz for s in systems if s.usual]
    highest = min(ORDERS * max(usual), 0.49 * reduced.rate_hz)
    spectrum = spectrum_of(reduced, highest)
    total = sum(s.weight for s in systems)
    smallest, candidates = 1.0, []
    for system in systems:
        tried = []
        for order in range(1, ORDERS + 1):
            share = system.weight / total * order_share(order)
            band = (order * system.low_hz, order * system.high_hz)
            for peak in _peaks(spectrum, *band, highest):
                smallest = min(smallest, peak.chance / share)
                if peak.chance < 0.01:
                    f = peak.at_hz / order
                    score = _score(spectrum, system, f, highest)
                    tried.append((Candidate(system, f, score), order * np.sqrt(peak.height)))
        candidates += _best_of(tried)
    candidates.sort(key=lambda c: c.score, reverse=True)
    return Found(min(1.0, smallest), tuple(candidates))


@dataclass(frozen=True)
class _Peak:
    """A peak: where, how high, and the chance of such a peak anywhere in its band."""

    at_hz: float
    height: float
    chance: float


def _best_of(tried: list[tuple[Candidate, float]]) -> list[Candidate]:
    """The likeliest candidate; among equals the one whose order tells the frequency best.

    A line of amplitude A at order k fixes f0 in proportion to k A.
    """
    if not tried:
        return []
    top = max(candidate.score for candidate, _ in tried)
    equals = [pair for pair in tried if pair[0].score > top - 3.0]
    return [max(equals, key=lambda pair: pair[1])[0]]


def order_share(order: int) -> float:
    """Most of the budget goes to the low orders, where a comb shows first."""
    return float(order**-2.0 / np.sum(np.arange(1, ORDERS + 1) ** -2.0))


def _peaks(spectrum: Spectrum, low_hz: float, high_hz: float, highest_hz: float) -> list[_Peak]:
    """Return the highest peaks of a band."""
    high_hz = min(high_hz, highest_hz)
    if high_hz <= low_hz:
        return []
    f, s = spectrum.frequency_hz, spectrum.power
    first, last = np.searchsorted(f, [low_hz, high_hz])
    band = s[first:last]
    if len(band) < 3:
        return []
    tops = first + 1 + np.flatnonzero((band[1:-1] >= band[:-2]) & (band[1:-1] > band[2:]))
    tops = tops[np.argsort(s[tops])[::-1][:PEAKS_PER_ORDER]]
    return [
        _Peak(at, height, _band_chance(spectrum, at, height, high_hz - low_hz))
        for at, height in (_top_of(f, s, i) for i in tops)
    ]


def _top_of(f: FloatArray, s: FloatArray, i: int) -> tuple[float, float]:
    """Return (frequency, height) of a peak between the points of the grid.

    Height: the parabola through the logarithms of three points. Frequency: between two ordinary
    bins of a Hann taper, by the ratio of their amplitudes.
    """
    below, at, above = np.log(np.maximum(s[i - 1 : i + 2], 1e-300))
    shift, top = parabola_top(below, at, above)
    height = float(np.exp(top))
    lower = int(i + shift) // PADDING * PADDING
    if lower + PADDING >= len(s):
        return float(f[i] + shift * (f[1] - f[0])), height
    a = float(np.sqrt(s[lower + PADDING] / max(s[lower], 1e-300)))
    part = min(1.0, max(0.0, float(two_bin_offset(a))))
    return float(f[lower] + part * (f[PADDING] - f[0])), height


def _band_chance(spectrum: Spectrum, at_hz: float, height: float, width_hz: float) -> float:
    """Chance that the floor has a peak of this height anywhere in a band of this width.

    Rice: N(z) = W sqrt(z) g(z) up-crossings, W = width · sqrt(4π var t), g the gamma density of
    the summed power; the floor's own uncertainty enters by matching the tail of F with that of
    the gamma distribution.
    """
    n = spectrum.stretches
    low, high = np.searchsorted(
        spectrum.frequency_hz, [at_hz - 15 * spectrum.bin_hz, at_hz + 15 * spectrum.bin_hz]
    )
    if height < CANNOT_MATTER * float(np.median(spectrum.power[low:high])):
        return 1.0
    floor, dof = spectrum.floor_beside(at_hz)
    # What a stronger line leaks here is no line.
    floor += float(spectrum.leakage_at(np.array([at_hz]))[0])
    tail = max(float(special.fdtrc(2 * n, dof, height / floor)), SMALLEST)
    crossings = float(expected_crossings(width_hz / spectrum.bin_hz, tail, n))
    return min(1.0, tail + crossings)


def _score(spectrum: Spectrum, system: MainsSystem, f_hz: float, highest_hz: float) -> float:
    """Log of the evidence for this frequency: prior times likelihood, integrated over it.

    Only orders that stand out of the floor count, less what a search among peaks finds in any
    floor; strong ones less than in proportion, for nothing but the comb is weighed against them,
    yet always more than a few weak ones that happen to lie well. The likelihood is as wide as the
    frequency is uncertain, u = sqrt(3 / (π² T² Σ k² ρ_k²)) by the Cramér–Rao bound of a comb.
    Combs of nothing but multiples of a high order are rare.
    """
    score, information = 0.0, 1e-9
    stands_out = []
    for order in range(1, ORDERS + 1):
        at = order * f_hz
        if at > highest_hz:
            break
        over = _over_floor(spectrum, at)
        if over > STANDS_OUT:
            score += 2 * np.sqrt(STANDS_OUT * min(over, BEYOND_DOUBT)) - STANDS_OUT
            information += 2 * order**2 * over
            stands_out.append(order)
    u_hz = np.sqrt(3.0 / information) / np.pi * spectrum.bin_hz
    density = system.prior_density(np.array(f_hz), np.array(u_hz))
    rare = share_of(common_order(stands_out))
    return score + float(np.log(system.weight * density * u_hz * rare + 1e-300))


def _over_floor(spectrum: Spectrum, at_hz: float) -> float:
    """Height of the peak at a frequency over the floor and what stronger lines leak there."""
    f, s = spectrum.frequency_hz, spectrum.power
    middle = round(at_hz / spectrum.bin_hz * PADDING)
    first, last = max(0, middle - PADDING), min(len(s), middle + PADDING + 1)
    if last - first < 3:
        return 0.0
    top = first + int(np.argmax(s[first:last]))
    if top in (first, last - 1):
        return 0.0
    floor, _ = spectrum.floor_beside(at_hz)
    leaked = float(spectrum.leakage_at(f[top : top + 1])[0])
    return float(s[top] / (floor + leaked) * spectrum.stretches)
