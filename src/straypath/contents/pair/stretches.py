"""Both channels as phasors: every line fitted in every stretch of the record.

Within a stretch all lines, an offset and a slope are fitted together by least squares. Sums over
a symmetric stretch keep cosines and sines apart and have closed forms, so a stretch of any length
is read in small pieces and only one small table of waves exists.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import linalg

from straypath.contents.mains.blocks import FEWEST_CYCLES, block_count
from straypath.contents.mains.phase_track import smooth
from straypath.contents.pair.signals import not_a_number
from straypath.contents.records import Undetermined
from straypath.contents.reduction import reduce_rate
from straypath.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.arrays import ComplexArray, FloatArray
    from straypath.capture.capture import Channel
    from straypath.contents.reduction import Reduced

PIECE = 8_192
SAMPLES_AT_ONCE = 1 << 19
FEWEST = 2
# Lines without mains are read in stretches of ten cycles of 50 Hz too, if the record allows it.
USUAL_HZ = 50.0
# Above this part of the rate a line may be a fold, and the reducing filter bends.
NYQUIST_SHARE = 0.47
# Lines this many cycles per stretch apart hardly see each other.
APART = 1.0
# Power over noise in a stretch from which a phase is unwrapped without slips.
UNWRAPS = 10.0
FEWEST_FOR_TRACK = 8
# Relative width of a record without any noise, such as a computed one: 240 dB down.
LEAST = 1e-24
ROUNDING = 1e-13


@dataclass(frozen=True)
class Stretches:
    """Phasors of both channels: peak amplitude · e^{jθ} about the record's centre.

    Parameters
    ----------
    y, x : array, shape (stretches, lines)
        In each channel's unit, with the common wander of the mains turned back.
    frequency_hz : array, shape (lines,)
        [Hz].
    orders : tuple of int or None, one per line
    length_s : float
        Length of a stretch [s].
    undetermined : tuple of Undetermined
        Lines that were asked for and cannot be read.
    """

    y: ComplexArray
    x: ComplexArray
    frequency_hz: FloatArray
    orders: tuple[int | None, ...]
    length_s: float
    undetermined: tuple[Undetermined, ...]

    @property
    def count(self) -> int:
        """Number of stretches."""
        return len(self.y)


def cut_stretches(
    channels: tuple[Channel, Channel],
    rate_hz: float,
    mains_hz: float | None,
    orders: Sequence[int],
    other_hz: Sequence[float],
) -> Stretches:
    """Read both channels at the mains orders and at any other frequencies.

    c + d·t + Σ a_k cos ω_k t + b_k sin ω_k t by least squares in each stretch; a_k − j b_k is the
    phasor.

    Parameters
    ----------
    channels : (Channel, Channel)
        y and x.
    rate_hz : float
        [Hz].
    mains_hz : float or None
        Mains frequency as fitted, close enough that its phase turns little in a stretch [Hz].
    orders : sequence of int
        Mains orders; of no use without `mains_hz`.
    other_hz : sequence of float
        Other lines [Hz].

    Raises
    ------
    InputError
        No line that the record can hold, or a record of less than two stretches.
    """
    duration_s = len(channels[0]) / rate_hz
    wanted: list[tuple[float, int | None]] = []
    if mains_hz:
        wanted += [(k * mains_hz, int(k)) for k in orders]
    wanted += [(float(f), None) for f in other_hz]
    if not wanted or min(f for f, _ in wanted) <= 0:
        raise InputError(
            "no line to compare the channels at",
            where="two channels",
            advice="Give a mains frequency or line frequencies above 0 Hz.",
        )
    slow = [f for f, _ in wanted if f * duration_s >= FEWEST * FEWEST_CYCLES]
    count = stretch_count(duration_s, mains_hz, min(slow)) if slow else 0
    if count < FEWEST:
        raise InputError(
            f"a record of {duration_s:g} s holds less than two stretches of 4 cycles",
            where="two channels",
            advice="Record longer, at least 8 cycles of the lowest line.",
        )
    kept, undetermined = _readable(wanted, rate_hz, duration_s / count)
    if not kept:
        raise InputError(
            "none of the lines can be read: " + undetermined[0].why,
            where="two channels",
            advice="Record faster or longer, or ask for other lines.",
        )
    f = np.array([frequency for frequency, _ in kept])
    numbers = tuple(order for _, order in kept)
    y, x, times_s, length_s = _phasors_of_both(channels, rate_hz, f, count)
    y, x = turn_back(y, x, numbers, times_s)
    return Stretches(y, x, f, numbers, length_s, undetermined)


def stretch_count(duration_s: float, mains_hz: float | None, lowest_hz: float) -> int:
    """Return how many stretches to cut: 10 cycles of the mains each, at least 4 in short records.

    Without mains, 0.2 s; a shorter record is cut into ten as long as each holds four cycles of
    the lowest line.
    """
    base_hz = mains_hz or min(lowest_hz, max(USUAL_HZ, 100.0 / duration_s))
    return block_count(duration_s, base_hz)


def _readable(
    wanted: list[tuple[float, int | None]], rate_hz: float, length_s: float
) -> tuple[list[tuple[float, int | None]], tuple[Undetermined, ...]]:
    """Split the lines into those that stretches of this length can tell apart, and the rest."""
    kept: list[tuple[float, int | None]] = []
    lost = []
    for f, order in sorted(wanted, key=lambda line: (line[1] is None, line[0])):
        what = f"transfer at {f:.6g} Hz"
        nearest = min((g for g, _ in kept), key=lambda g: abs(g - f), default=np.inf)
        if f > NYQUIST_SHARE * rate_hz:
            lost.append(Undetermined(what, f"{rate_hz:g} samples/s are too slow for it"))
        elif f * length_s < APART:
            lost.append(Undetermined(what, f"stretches of {length_s:.3g} s hold no cycle of it"))
        elif abs(nearest - f) * length_s < APART * (1 - 1e-9):
            why = f"stretches of {length_s:.3g} s cannot tell it from the line at {nearest:.6g} Hz"
            lost.append(Undetermined(what, why))
        else:
            kept.append((f, order))
    return sorted(kept, key=lambda line: line[0]), tuple(lost)


def _phasors_of_both(
    channels: tuple[Channel, Channel], rate_hz: float, f: FloatArray, count: int
) -> tuple[ComplexArray, ComplexArray, FloatArray, float]:
    both = []
    times_s: FloatArray = np.zeros(0)
    length_s = 0.0
    for channel in channels:
        reduced = reduce_rate(channel.raw, rate_hz, 1.02 * float(f.max()))
        phasors, times_s, length_s = _phasors(reduced, len(channel) / rate_hz, f, count)
        both.append(phasors * channel.scale)
    return both[0], both[1], times_s, length_s


def _phasors(
    reduced: Reduced, duration_s: float, f: FloatArray, count: int
) -> tuple[ComplexArray, FloatArray, float]:
    """Return phasors (stretches, lines), centres of the stretches and their length [s]."""
    rate_hz = reduced.rate_hz
    room = len(reduced.samples) // count
    pieces = -(-room // PIECE)
    size = room // pieces
    length = size * pieces
    turn = 2 * np.pi * f / rate_hz
    n = np.arange(size) - (size - 1) / 2
    wave = np.exp(-1j * np.outer(n, turn))
    table = np.column_stack([np.ones(size), n, wave.real, wave.imag])
    shift = (np.arange(pieces) - (pieces - 1) / 2) * size
    even, odd = _normal_tables(turn, length)
    sums = _projected(reduced, table, count * pieces).reshape(count, pieces, -1)
    if not np.isfinite(sums).all():
        raise not_a_number()
    waves = sums[:, :, 2 : 2 + len(f)] + 1j * sums[:, :, 2 + len(f) :]
    waves = np.sum(waves * np.exp(-1j * np.outer(shift, turn)), axis=1)
    c, s = waves.real, -waves.imag
    level, ramp = sums[:, :, 0].sum(axis=1), (sums[:, :, 1] + shift * sums[:, :, 0]).sum(axis=1)
    a = linalg.cho_solve(even, np.column_stack([level, c]).T)[1:]
    b = linalg.cho_solve(odd, np.column_stack([ramp, s]).T)[1:]
    full_centre = (duration_s - 1 / reduced.full_rate_hz) / 2
    first_centre = reduced.first_s + (length - 1) / 2 / rate_hz
    times_s = first_centre - full_centre + np.arange(count) * length / rate_hz
    back = np.exp(-2j * np.pi * np.outer(times_s, f)) / reduced.response(f)
    phasors = np.asarray((a - 1j * b).T * back)
    # What rounding makes of a large offset is no line.
    phasors[np.abs(phasors) < ROUNDING * np.abs(level / length).max()] = 0.0
    return phasors, times_s, length / rate_hz


def _projected(reduced: Reduced, table: FloatArray, rows: int) -> FloatArray:
    """Products of every piece of the record with the table, read in parts that stay in cache."""
    size, columns = table.shape
    out = np.empty((rows, columns))
    part = max(1, SAMPLES_AT_ONCE // size)
    for first in range(0, rows, part):
        last = min(rows, first + part)
        x = reduced.part(first * size, last * size).reshape(-1, size)
        out[first:last] = x.astype(np.float64) @ table
    return out


def _normal_tables(turn: FloatArray, length: int) -> tuple[tuple[FloatArray, bool], ...]:
    """Factored normal equations of (1, cos …) and of (n, sin …) over a symmetric stretch."""
    m = len(turn)
    less = _dirichlet(turn[:, None] - turn, length)
    more = _dirichlet(turn[:, None] + turn, length)
    even, odd = np.empty((m + 1, m + 1)), np.empty((m + 1, m + 1))
    even[0, 0] = length
    even[0, 1:] = even[1:, 0] = _dirichlet(turn, length)
    even[1:, 1:] = (less + more) / 2
    odd[0, 0] = length * (length**2 - 1.0) / 12
    odd[0, 1:] = odd[1:, 0] = _ramp_with_sine(turn, length)
    odd[1:, 1:] = (less - more) / 2
    return linalg.cho_factor(even), linalg.cho_factor(odd)


def _dirichlet(turn: FloatArray, length: int) -> FloatArray:
    """Σ cos(turn·n) over n symmetric about zero."""
    half = np.asarray(turn) / 2
    still = np.abs(np.sin(half)) < 1e-12
    return np.where(still, length, np.sin(length * half) / np.where(still, 1.0, np.sin(half)))


def _ramp_with_sine(turn: FloatArray, length: int) -> FloatArray:
    """Σ n·sin(turn·n) over n symmetric about zero: minus the derivative of Σ cos."""
    half = turn / 2
    up = np.sin(length * half) * np.cos(half) - length * np.cos(length * half) * np.sin(half)
    return np.asarray(up / (2 * np.sin(half) ** 2))


def turn_back(
    y: ComplexArray, x: ComplexArray, orders: tuple[int | None, ...], times_s: FloatArray
) -> tuple[ComplexArray, ComplexArray]:
    """Take a line's own wander out of both channels alike, so that means do not wash out.

    Mains orders share one track, k times as fast for order k; every other line has its own. A
    line too weak to be unwrapped is left as it is. What x and y have in common is all that is
    turned, so their ratio and their coherence stay.
    """
    if len(y) < FEWEST_FOR_TRACK:
        return y, x
    y, x = y.copy(), x.copy()
    mains = [i for i, order in enumerate(orders) if order is not None]
    groups = ([mains] if mains else []) + [[i] for i in range(len(orders)) if orders[i] is None]
    for group in groups:
        k = np.array([orders[i] or 1 for i in group])
        track = _track(np.concatenate([y[:, group], x[:, group]], axis=1), np.tile(k, 2), times_s)
        if track is not None:
            turned = np.exp(-1j * np.outer(track, k))
            y[:, group] *= turned
            x[:, group] *= turned
    return y, x


def _track(phasors: ComplexArray, orders: FloatArray, times_s: FloatArray) -> FloatArray | None:
    """Phase of order 1 in every stretch, from the line that stands clearest of its noise.

    What neighbouring stretches have in common, but for a steady turn, is the line, however it
    wanders; what they differ in is twice the noise.
    """
    before, after = phasors[:-1], phasors[1:]
    common = np.mean(after * np.conj(before), axis=0)
    steady = np.exp(1j * np.angle(common))
    noise = np.mean(np.abs(after - steady * before) ** 2, axis=0) / 2
    total = np.mean(np.abs(phasors) ** 2, axis=0)
    clear = np.abs(common) / np.maximum(noise, np.maximum(1e-18 * total, 1e-300))
    best = int(np.argmax(clear))
    if clear[best] < UNWRAPS:
        return None
    phase = np.unwrap(np.angle(phasors[:, best])) / orders[best]
    variance = 1.0 / (2 * clear[best] * orders[best] ** 2)
    track = smooth(phase, float(variance), times_s).phase_rad
    # The phase at the record's centre stays.
    return np.asarray(track - np.interp(0.0, times_s, track))
