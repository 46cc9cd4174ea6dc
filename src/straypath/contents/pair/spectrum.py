"""Coherence of two channels against frequency, and what share of a band one explains."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, special
from scipy.signal import get_window

from straypath.contents.one_thread import on_one_thread
from straypath.contents.pair.records import BandShare, CoherenceSpectrum
from straypath.contents.pair.signals import not_a_number, pair_of
from straypath.contents.pair.significance import coherence_level
from straypath.contents.spectral_statistics import overlapped_dof
from straypath.errors import InputError
from straypath.quantity import Quantity, UpperLimit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.arrays import ComplexArray, FloatArray
    from straypath.capture.capture import Channel
    from straypath.contents.pair.signals import Signal

FALSE_ALARM_RATE = 0.01
LONGEST_SEGMENT = 16_384
SHORTEST_SEGMENT = 16
FEWEST_SEGMENTS = 16
# Half of them: lengths of segment that a record should hold, so that chance stays small.
SEGMENT_LENGTHS = 32
# Parts of the record that are left out in turn to see how much the result depends on them.
GROUPS = 16
AT_ONCE = 1 << 19
BANDS_PER_DECADE = 3
# Correlation of a Hann window's bins with the next and the next but one.
HANN_NEXT, HANN_NEXT_BUT_ONE = 2 / 3, 1 / 6


@dataclass(frozen=True)
class CrossSpectra:
    """Averaged spectra of two channels, summed apart over parts of the record.

    Parameters
    ----------
    frequency_hz : array, shape (f,)
        Without 0 and half the rate, whose values are real [Hz].
    yy, xx : array, shape (parts, f)
        Sums of squared moduli over the segments of each part, one-sided density × segments.
    yx : array, shape (parts, f)
        Sums of Y·X*.
    counts : array, shape (parts,)
        Segments in each part.
    independent : float
        To how many independent segments all of them amount.
    segment_s : float
        [s].
    """

    frequency_hz: FloatArray
    yy: FloatArray
    xx: FloatArray
    yx: ComplexArray
    counts: FloatArray
    independent: float
    segment_s: float

    def without(self, part: int | None) -> tuple[FloatArray, FloatArray, ComplexArray, float]:
        """Return mean yy, xx, yx and the independent segments with one part left out."""
        keep = np.ones(len(self.counts), dtype=bool)
        if part is not None:
            keep[part] = False
        count = float(self.counts[keep].sum())
        independent = self.independent * count / float(self.counts.sum())
        yy, xx, yx = (a[keep].sum(axis=0) / count for a in (self.yy, self.xx, self.yx))
        return yy, xx, yx, independent


@on_one_thread
def coherence_spectrum(
    y: Signal,
    x: Signal,
    rate_hz: float,
    *,
    segment: int | None = None,
    band_edges_hz: Sequence[float] | None = None,
    false_alarm_rate: float = FALSE_ALARM_RATE,
) -> CoherenceSpectrum:
    """Find at which frequencies, and how much, channel x explains channel y.

    γ²(f) = |S_yx|²/(S_yy S_xx), averaged over Hann segments that overlap by half. The share of a
    band is 1 − Σ S_yy (1 − γ²)·K/(K − 1)/Σ S_yy: what a filter of x, free at each frequency,
    takes out of y, with the part that chance alone would take given back.

    Parameters
    ----------
    y, x : Channel or array, shape (n,)
        The disturbed channel, and the one that may explain it, such as a pickup antenna.
    rate_hz : float
        [Hz].
    segment : int or None
        Samples per segment; None takes a 32nd of the record, 16,384 at most.
    band_edges_hz : sequence of float or None
        Rising edges of the bands [Hz]; None takes three bands per decade.
    false_alarm_rate : float
        Chance that any frequency, and that any band, is called coherent without being so.

    Raises
    ------
    InputError
        Channels of unequal length, values that are no numbers, a record of too few segments.

    Validity: delays between the channels must be short against a segment, or γ² falls by about
    twice their ratio. Intervals come from leaving out each of 16 parts of the record in turn.
    Noise of x makes it explain less than the source that it picks up would.

    Examples
    --------
    >>> import numpy as np
    >>> x, own = np.random.default_rng(1).standard_normal((2, 100_000))
    >>> found = coherence_spectrum(x + own, x, 1000.0, band_edges_hz=[100, 400])
    >>> round(found.bands[0].share.value, 1)
    0.5

    References
    ----------
    Welch, IEEE Trans. Audio Electroacoust. 15, 1967 (overlap); Bendat and Piersol, Random Data
    (coherent output power; from memory). Jackknife: Thomson and Chave, 1991 (from memory).
    """
    spectra = cross_spectra(pair_of(y, x, rate_hz), rate_hz, segment)
    yy, xx, yx, independent = spectra.without(None)
    coherence = _coherence(yy, xx, yx)
    f = spectra.frequency_hz
    edges = _edges(f) if band_edges_hz is None else np.asarray(band_edges_hz, dtype=float)
    bands = []
    for low, high in pairwise(edges):
        inside = (f >= low) & (f < high)
        if inside.any():
            limit = false_alarm_rate / (len(edges) - 1)
            bands.append(_band(spectra, inside, (float(low), float(high)), limit))
    return CoherenceSpectrum(
        frequency_hz=tuple(map(float, f)),
        coherence=tuple(map(float, coherence)),
        segments=int(spectra.counts.sum()),
        independent=independent,
        false_alarm_rate=false_alarm_rate,
        level=coherence_level(independent, false_alarm_rate, len(f)),
        bands=tuple(bands),
    )


def cross_spectra(
    channels: tuple[Channel, Channel], rate_hz: float, segment: int | None = None
) -> CrossSpectra:
    """Average the spectra of both channels over Hann segments, half overlapped, means taken off.

    Parameters
    ----------
    channels : (Channel, Channel)
        y and x; read in pieces.
    rate_hz : float
        [Hz].
    segment : int or None
        As in `coherence_spectrum`.

    Validity: K Hann segments amount to `overlapped_dof`(K)/2 independent ones in a floor that is
    smooth over a bin.
    """
    n = len(channels[0])
    length = segment or min(LONGEST_SEGMENT, 1 << max(0, int(np.log2(max(1, n / SEGMENT_LENGTHS)))))
    hop = length // 2
    total = (n - length) // hop + 1 if hop and n >= length else 0
    if length < SHORTEST_SEGMENT or total < FEWEST_SEGMENTS:
        raise InputError(
            f"{n} samples do not hold {FEWEST_SEGMENTS} half-overlapped segments of "
            f"{max(length, SHORTEST_SEGMENT)} samples",
            where="two channels",
            advice="Record longer, or choose shorter segments.",
        )
    window = get_window("hann", length)
    edges = np.linspace(0, total, GROUPS + 1).astype(int)
    spectra = [_sums(channels, window, hop, *edges[i : i + 2]) for i in range(GROUPS)]
    yy, xx = (np.array([part[i] for part in spectra]) for i in (0, 1))
    yx: ComplexArray = np.array([part[2] for part in spectra])
    scale = 2.0 / (rate_hz * float(window @ window))
    if not (np.isfinite(yy).all() and np.isfinite(xx).all()):
        raise not_a_number()
    return CrossSpectra(
        frequency_hz=fft.rfftfreq(length, 1 / rate_hz)[1 : (length + 1) // 2],
        yy=yy * scale,
        xx=xx * scale,
        yx=yx * scale,
        counts=np.diff(edges).astype(float),
        independent=overlapped_dof(total) / 2,
        segment_s=length / rate_hz,
    )


def _sums(
    channels: tuple[Channel, Channel], window: FloatArray, hop: int, first: int, last: int
) -> tuple[FloatArray, FloatArray, ComplexArray]:
    length = len(window)
    bins = (length + 1) // 2 - 1
    yy, xx, yx = np.zeros(bins), np.zeros(bins), np.zeros(bins, dtype=complex)
    at_once = max(1, AT_ONCE // length)
    for begin in range(first, last, at_once):
        end = min(last, begin + at_once)
        both = []
        for channel in channels:
            values = channel.values(begin * hop, (end - 1) * hop + length)
            rows = np.lib.stride_tricks.sliding_window_view(values, length)[::hop]
            level = rows - rows.mean(axis=1, keepdims=True)
            both.append(fft.rfft(level * window, axis=1)[:, 1 : bins + 1])
        a, b = both
        yy += np.sum(a.real**2 + a.imag**2, axis=0)
        xx += np.sum(b.real**2 + b.imag**2, axis=0)
        yx += np.sum(a * np.conj(b), axis=0)
    return yy, xx, yx


def _coherence(yy: FloatArray, xx: FloatArray, yx: ComplexArray) -> FloatArray:
    power = yy * xx
    return np.asarray(np.minimum(np.abs(yx) ** 2 / np.where(power > 0, power, 1.0), 1.0))


def _edges(f: FloatArray) -> FloatArray:
    """Edges at whole thirds of decades that lie within the spectrum, and its ends."""
    first = np.ceil(np.log10(f[0]) * BANDS_PER_DECADE + 0.5)
    last = np.floor(np.log10(f[-1]) * BANDS_PER_DECADE - 0.5)
    inner = 10.0 ** (np.arange(first, last + 1) / BANDS_PER_DECADE)
    return np.concatenate([[f[0]], inner, [f[-1] * (1 + 1e-9)]])


def band_chance(coherence: FloatArray, independent: float) -> float:
    """Return the chance that unrelated noises show so much coherence in neighbouring bins.

    −(K − 1)·Σ ln(1 − γ²) is a sum of unit exponentials; the Hann window ties neighbours together,
    their γ² by the fourth power of the bins' correlation, and a gamma law takes that in.

    Parameters
    ----------
    coherence : array, shape (b,)
        γ² in neighbouring bins of a Hann window.
    independent : float
        K.
    """
    b = len(coherence)
    total = -(independent - 1) * float(np.sum(np.log1p(-np.minimum(coherence, 1 - 1e-15))))
    tied = (b - 1) * HANN_NEXT**4 + max(0, b - 2) * HANN_NEXT_BUT_ONE**4
    spread = 1 + 2 * tied / b
    return float(special.gammaincc(b / spread, total / spread))


def share_of(spectra: CrossSpectra, inside: np.ndarray, part: int | None = None) -> float:
    """Return the explained share in a band, chance taken off, with one part left out."""
    yy, xx, yx, independent = spectra.without(part)
    power = float(yy[inside].sum())
    if power <= 0:
        return 0.0
    left = float(np.sum(yy[inside] * (1 - _coherence(yy, xx, yx)[inside])))
    return 1 - left / power * independent / (independent - 1)


def jackknife(values: FloatArray, whole: float) -> float:
    """Return the standard uncertainty of a value from its values with one part left out in turn.

    u² = (G − 1)/G · Σ (value_i − mean)²; `whole` only gives the rounding width.
    """
    parts = len(values)
    u = float(np.sqrt((parts - 1) / parts * np.sum((values - values.mean()) ** 2)))
    return max(u, 1e-12 * abs(whole))


def _band(
    spectra: CrossSpectra, inside: np.ndarray, edges: tuple[float, float], limit: float
) -> BandShare:
    yy, xx, yx, independent = spectra.without(None)
    chance = band_chance(_coherence(yy, xx, yx)[inside], independent)
    share = min(share_of(spectra, inside), 1.0)
    parts = len(spectra.counts)
    # In the logarithm of what is left, the spread hardly depends on the share.
    left = np.log([max(1 - share_of(spectra, inside, i), 1e-15) for i in range(parts)])
    middle = float(np.log(max(1 - share, 1e-15)))
    u = jackknife(left, middle)
    half = float(special.stdtrit(parts - 1, 0.975)) * u
    if chance >= limit:
        upper = 0.0 - float(np.expm1(min(middle, 0.0) - half))
        return BandShare(*edges, UpperLimit(upper), chance)
    low, high = max(0.0, -float(np.expm1(middle + half))), -float(np.expm1(middle - half))
    share = max(-float(np.expm1(middle)), low)
    return BandShare(*edges, Quantity(share, (1 - share) * u, low, high), chance)
