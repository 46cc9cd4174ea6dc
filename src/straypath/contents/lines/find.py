"""All lines of a channel outside the mains comb: what a caller asks for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from straypath.contents.lines.search_segments import search_segments
from straypath.contents.lines.search_whole import search_whole
from straypath.contents.lines.segments import Segments, survey
from straypath.contents.lines.whole import FINE, transform
from straypath.contents.noise.points import Spectrum
from straypath.contents.reduction import reduce_rate

if TYPE_CHECKING:
    from straypath.arrays import FloatArray
    from straypath.capture.capture import Channel, Samples
    from straypath.contents.comb import CombReading
    from straypath.contents.lines.baseband import Tone
    from straypath.contents.reduction import Reduced

Depth = Literal["usual", "quick", "deep"]

# Up to here a record is transformed as a whole.
WHOLE_SAMPLES = 4_000_000
# Orders 1 to 40 of 60 Hz lie below; beyond, the full rate is searched.
SLOW_BAND_HZ = 1.02 * 40 * 60.0
# The last part below half the rate holds the converter's own filter and folds.
HIGHEST_SHARE = 0.49
# A quick search looks at this part of a long record, its middle.
QUICK_SHARE = 4
FEWEST_SAMPLES = 64
# So many lines are a train of pulses, of which only the strongest are measured.
MANY_LINES = 150
LOWEST_BIN = 2


@dataclass(frozen=True)
class LinesFound:
    """Lines in raw steps, with the spectra that they stood in.

    Parameters
    ----------
    tones : tuple of Tone
        By frequency.
    spectra : tuple of Spectrum
        Of the slow and, where there is one, the fast band.
    middle_s : float
        Middle of the record, from its first sample [s].
    more : bool
        Whether there are more lines than were measured.
    rest : array or None
        The slow band without the comb, where it is searched as a whole [raw].
    rest_rate_hz : float
        Its rate [Hz].
    """

    tones: tuple[Tone, ...]
    spectra: tuple[Spectrum, ...]
    middle_s: float
    more: bool = False
    rest: FloatArray | None = None
    rest_rate_hz: float = 0.0


def find_lines(
    channel: Channel,
    rate_hz: float,
    reading: CombReading,
    *,
    false_alarm_rate: float = 1e-3,
    depth: Depth = "usual",
) -> LinesFound:
    """Find the lines of a channel that are no orders of its mains comb.

    The slow band, where the comb was taken off, is searched at a lower rate; what lies above at
    the full rate. Each gets half of the false-alarm rate.

    Parameters
    ----------
    channel : Channel
    rate_hz : float
        [Hz].
    reading : CombReading
        Of this channel.
    false_alarm_rate : float
        Chance of any false line in a bare floor.
    depth : "usual", "quick" or "deep"
        Quick searches only the middle quarter of a long record; deep finds the weakest lines
        that its length allows.

    Validity: floors that are even over the resolution of the record, 1/T; of long records over
    the width of a segment's bin.
    """
    middle_s = (len(channel) - 1) / 2 / rate_hz
    if len(channel) < FEWEST_SAMPLES:
        return LinesFound((), (), middle_s)
    reduced = reading.reduced or reduce_rate(channel.raw, rate_hz, SLOW_BAND_HZ)
    is_slow = reduced.rate_hz < rate_hz
    edge_hz = SLOW_BAND_HZ if is_slow else HIGHEST_SHARE * rate_hz
    alpha = false_alarm_rate / 2 if is_slow else false_alarm_rate
    slow, spectrum, rest = _slow_band(reduced, reading, edge_hz, alpha, middle_s)
    parts = [(slow, spectrum)]
    if is_slow:
        parts.append(_fast_band(channel.raw, rate_hz, edge_hz, alpha, depth))
    tones = [tone for found, _ in parts for tone in found]
    return LinesFound(
        tuple(sorted(tones, key=lambda tone: tone.frequency_hz)),
        tuple(spectrum for _, spectrum in parts),
        middle_s,
        more=len(tones) > MANY_LINES,
        rest=rest,
        rest_rate_hz=reduced.rate_hz,
    )


def _slow_band(
    reduced: Reduced, reading: CombReading, edge_hz: float, alpha: float, middle_s: float
) -> tuple[list[Tone], Spectrum, FloatArray | None]:
    """Search the low rate, the comb taken off; return what it leaves, too."""
    interval_s = 1.0 / reduced.rate_hz

    def comb(start: int, stop: int) -> FloatArray:
        if reading.model is None:
            return np.zeros(stop - start, dtype=np.float32)
        first_s = reduced.first_s + start * interval_s
        kind = np.float64 if reduced.samples.dtype == np.float64 else np.float32
        return reading.model.wave(first_s, interval_s, stop - start, reduced.response, kind)

    count = len(reduced.samples)
    middle = middle_s - reduced.first_s
    rest = None
    if count <= WHOLE_SAMPLES:
        rest = np.asarray(reduced.part(0, count)) - comb(0, count)
        fine = transform(rest, reduced.rate_hz)
        tones = search_whole(fine, 0.0, edge_hz, alpha, middle)
        frequency_hz, density = fine.frequency_hz, fine.density_of(fine.power[::FINE])
        dof = 2.0
    else:
        segments = Segments(reduced.samples, reduced.rate_hz, comb)
        seen = survey(segments, LOWEST_BIN, deep=False)
        tones = search_segments(segments, seen, alpha, middle)
        frequency_hz = np.arange(len(seen.power)) * segments.bin_hz
        density, dof = segments.density(seen.power), 2.0 * segments.count
    below = frequency_hz <= edge_hz
    f, s = frequency_hz[below], density[below]
    gain = reduced.response(f) if len(f) else f
    return [_through(tone, reduced) for tone in tones], Spectrum(f, s / gain**2, dof), rest


def _through(tone: Tone, reduced: Reduced) -> Tone:
    """Take the gain of the reducing filter out of a line."""
    gain = float(reduced.response(np.array([tone.frequency_hz]))[0])
    return replace(
        tone,
        phasor=tone.phasor / gain,
        amplitude_u=tone.amplitude_u / gain,
        density=tone.density / gain**2,
    )


def _fast_band(
    samples: Samples, rate_hz: float, edge_hz: float, alpha: float, depth: Depth
) -> tuple[list[Tone], Spectrum]:
    """Search the full rate above the slow band."""
    top_hz = HIGHEST_SHARE * rate_hz
    n = len(samples)
    middle_s = (n - 1) / 2 / rate_hz
    if n <= WHOLE_SAMPLES:
        fine = transform(np.asarray(samples[0:n]), rate_hz)
        tones = search_whole(fine, edge_hz, top_hz, alpha, middle_s)
        frequency_hz, density = fine.frequency_hz, fine.density_of(fine.power[::FINE])
        dof = 2.0
    else:
        first = 0
        if depth == "quick" and n > QUICK_SHARE * WHOLE_SAMPLES:
            part = n // QUICK_SHARE
            first = (n - part) // 2
            samples = samples[first : first + part]
        segments = Segments(samples, rate_hz)
        lowest = max(LOWEST_BIN, int(np.ceil(edge_hz / segments.bin_hz)))
        seen = survey(segments, lowest, deep=depth == "deep")
        tones = search_segments(segments, seen, alpha, middle_s - first / rate_hz)
        tones = [tone for tone in tones if tone.frequency_hz < top_hz]
        frequency_hz = np.arange(len(seen.power)) * segments.bin_hz
        density, dof = segments.density(seen.power), 2.0 * segments.count
    inside = (frequency_hz >= edge_hz) & (frequency_hz <= top_hz)
    return tones, Spectrum(frequency_hz[inside], density[inside], dof)
