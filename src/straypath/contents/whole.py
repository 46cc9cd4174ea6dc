"""Everything that one channel contains, each finding on top of the one before."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.comb import (
    FALSE_ALARM_RATE,
    NEVER_CHANGES,
    CombReading,
    read_comb,
    refit,
)
from straypath.contents.course import course_of
from straypath.contents.families.grouping import group_lines
from straypath.contents.families.lone_orders import lone_orders
from straypath.contents.in_time import read_in_time, strongest, without_ringing
from straypath.contents.lines.conversion import marked, noise_of
from straypath.contents.lines.find import LinesFound, find_lines
from straypath.contents.lines.report import ToneModel, line_of, line_of_hump
from straypath.contents.noise.bands import humps
from straypath.contents.noise.points import points
from straypath.contents.noise.shape import floor_shape
from straypath.contents.one_thread import on_one_thread
from straypath.contents.records import Bursts, Course, Floor, Offset, Undetermined
from straypath.contents.withdrawal import without_foreign_comb
from straypath.quantity import Quantity

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.capture.capture import Channel
    from straypath.contents.lines.baseband import Tone
    from straypath.contents.lines.find import Depth
    from straypath.contents.noise.bands import Hump
    from straypath.contents.noise.points import Points
    from straypath.contents.records import Family, MainsComb

# Lines are taken off and the comb read anew this often at most.
ROUNDS = 2
SURELY, CLEAR_BINS = 10.0, 1.2
# A line disturbs an order when it leaks more than this part of the order's uncertainty.
DISTURBS = 0.3
FEWEST_SAMPLES = 64


@dataclass(frozen=True)
class Contents:
    """What one channel contains.

    Parameters
    ----------
    mains : MainsComb
    families : tuple of Family
        Every other line, in families; strongest first.
    floor : Floor or None
    bursts : Bursts or None
    offset : Offset or None
    course : Course or None
        How mains and floor moved, in records of seconds and more.
    undetermined : tuple of Undetermined
        What could not be told, and why.
    """

    mains: MainsComb
    families: tuple[Family, ...] = ()
    floor: Floor | None = None
    bursts: Bursts | None = None
    offset: Offset | None = None
    course: Course | None = None
    undetermined: tuple[Undetermined, ...] = field(default=())


@on_one_thread
def read_contents(
    channel: Channel,
    rate_hz: float,
    *,
    mains: float | None = None,
    depth: Depth = "usual",
    bandwidth_hz: float | None = None,
    step: float = 0.0,
    progress: Callable[[float], None] | None = None,
) -> Contents:
    """Find everything in a channel: mains comb, other lines, floor, bursts, offset.

    The comb is read first; lines are sought in what it leaves; where a line lies so near an order
    that it leaks into it, it is taken off and the comb is read again.

    Parameters
    ----------
    channel : Channel
        Without missing samples.
    rate_hz : float
        [Hz].
    mains : float or None
        Nominal mains frequency [Hz]; None considers 16.7, 50, 60 and 400 Hz.
    depth : "usual", "quick" or "deep"
        How thoroughly lines are sought.
    bandwidth_hz : float or None
        Highest frequency that the input passes [Hz].
    step : float
        Of the converter, in the channel's unit; 0 where it is not known.
    progress : callable or None
        Told the part done, 0 … 1.

    Example
    -------
    >>> import numpy as np
    >>> from straypath.capture.capture import Channel
    >>> t = np.arange(40_000) / 10_000
    >>> x = np.cos(2 * np.pi * 49.98 * t) + 0.1 * np.cos(2 * np.pi * 217.0 * t)
    >>> noise = 0.01 * np.random.default_rng(1).standard_normal(len(t))
    >>> contents = read_contents(Channel("invented", x + noise, "V"), 10_000.0)
    >>> [round(family.rate_hz.value, 1) for family in contents.families]
    [217.0]
    """

    def tell(part: float) -> None:
        if progress is not None:
            progress(part)

    reading = read_comb(channel, rate_hz, mains=mains, progress=lambda p: tell(0.2 * p))
    if len(channel) < FEWEST_SAMPLES or reading.comb.unread == NEVER_CHANGES:
        why = reading.comb.unread or "There are too few samples."
        return Contents(reading.comb, undetermined=(Undetermined("anything but samples", why),))
    found = find_lines(channel, rate_hz, reading, depth=depth)
    for _ in range(ROUNDS):
        near = _disturbing(found, reading, rate_hz)
        if not near:
            break
        model = ToneModel(near, found.middle_s)
        reading = refit(reading, model.wave, channel, rate_hz)
        found = find_lines(channel, rate_hz, reading, depth=depth)
    kept = without_foreign_comb(
        reading, found, channel.scale, len(channel) / rate_hz, rate_hz, bandwidth_hz
    )
    if kept is not reading:
        reading, found = kept, find_lines(channel, rate_hz, kept, depth=depth)
    tell(0.8)
    return _gathered(channel, rate_hz, reading, found, bandwidth_hz, step)


def _disturbing(found: LinesFound, reading: CombReading, rate_hz: float) -> list[Tone]:
    """Lines to take off where one leaks into an order: A/π d at d bins, against its u."""
    if reading.model is None or not found.tones:
        return []
    fit = reading.model.fit
    f = np.array([tone.frequency_hz for tone in found.tones])
    size = np.array([abs(tone.phasor) for tone in found.tones])
    orders = np.arange(1, len(fit.phasors) + 1) * fit.frequency_hz
    apart = np.abs(f[:, np.newaxis] - orders) * 2 * found.middle_s
    leak = size[:, np.newaxis] / (np.pi * np.maximum(apart, 1.0))
    disturbs = (leak > DISTURBS * np.sqrt(fit.variance)).any(axis=1)
    # A weak line, or one right beside an order, would take part of the order's own noise along.
    sure = size > SURELY * np.array([tone.amplitude_u for tone in found.tones])
    sure &= apart.min(axis=1) > CLEAR_BINS
    if not (disturbs & sure).any():
        return []
    # All that are sure go together, or what one round takes off comes back in the next.
    near = [tone for tone, one in zip(found.tones, sure, strict=True) if one]
    return strongest(near, max(1, round(2 * found.middle_s * rate_hz)))


def _gathered(
    channel: Channel,
    rate_hz: float,
    reading: CombReading,
    found: LinesFound,
    bandwidth_hz: float | None,
    step: float,
) -> Contents:
    """Read floor, families, bursts and offset, the comb and the lines being known."""
    scale = channel.scale
    ranges = _line_ranges(found)
    wide = points(found.spectra, ranges)
    bumps = [
        hump
        for spectrum in found.spectra
        if not found.more
        for hump in humps(spectrum, wide, ranges, FALSE_ALARM_RATE)
    ]
    lines = [line_of(tone, scale) for tone in found.tones]
    lines += [line_of_hump(hump, scale) for hump in bumps]
    levels = [line.rms.value for line in lines]
    levels += [order.rms.value for order in reading.comb.detected]
    lines = marked(lines, noise_of(found.spectra) * abs(scale), step, max(levels, default=0.0))
    duration_s = len(channel) / rate_hz
    families = group_lines(
        lines, reading.comb.frequency_hz, duration_s, rate_hz, bandwidth_hz=bandwidth_hz
    )
    unsaid: list[Undetermined] = []
    if reading.comb.unread:
        unsaid.append(Undetermined("the mains", reading.comb.unread))
    unsaid += lone_orders(reading.comb, duration_s)
    if found.more:
        why = "It holds more lines than are measured: a train of pulses, most likely."
        unsaid.append(Undetermined("weaker lines and humps of the floor", why))
    floor = _floor(found, wide, bumps, abs(scale), unsaid)
    bursts, offset = read_in_time(channel, rate_hz, reading, found, families, unsaid)
    families = without_ringing(families, bursts, channel, rate_hz)
    course = (
        course_of(reading, found.rest, found.rest_rate_hz, found.middle_s, scale)
        if found.rest is not None
        else None
    )
    return Contents(reading.comb, families, floor, bursts, offset, course, tuple(unsaid))


def _line_ranges(found: LinesFound) -> list[tuple[float, float]]:
    """What each line takes of the spectrum: skirts of a Hann taper fall as 1/π d³ in amplitude."""
    ranges = []
    for tone in found.tones:
        bin_hz = next(
            (s.bin_hz for s in found.spectra if s.frequency_hz[-1] >= tone.frequency_hz), 0.0
        )
        over = abs(tone.phasor) / np.sqrt(max(tone.density * bin_hz, 1e-300))
        reach = bin_hz * max(1.0, float(np.cbrt(over)))
        ranges.append((tone.frequency_hz - reach, tone.frequency_hz + reach))
    return ranges


def _floor(
    found: LinesFound,
    wide: Points,
    bumps: list[Hump],
    scale: float,
    unsaid: list[Undetermined],
) -> Floor | None:
    """The floor in the channel's unit, humps left out of its shape."""
    if len(wide.density) == 0:
        unsaid.append(Undetermined("the floor", "The record is too short to show any."))
        return None
    clear = points(
        found.spectra,
        [
            *_line_ranges(found),
            *((h.frequency_hz - 4 * h.width_hz, h.frequency_hz + 4 * h.width_hz) for h in bumps),
        ],
    )
    shape = floor_shape(clear)
    if shape is None:
        why = "It does not look like white noise with 1/f noise below one corner."
        unsaid.append(Undetermined("white level and corner of the floor", why))
    density = []
    for power, u in zip(wide.density, wide.u, strict=True):
        value, half = float(np.sqrt(power)) * scale, float(u) / 2
        spread = float(np.exp(1.96 * half))
        density.append(Quantity(value, value * half, value / spread, value * spread))
    return Floor(
        frequency_hz=tuple(float(f) for f in wide.frequency_hz),
        density=tuple(density),
        white=shape.white.scaled(scale) if shape else None,
        corner_hz=shape.corner_hz if shape else None,
        slope=shape.slope if shape else None,
    )
