"""Whether something repeats at a rate: how long to record until its line is seen."""

from __future__ import annotations

from math import log10, pi, sin, sqrt
from typing import Final

from straypath.contents.bounds import frequency_bound_hz
from straypath.contents.plan import rules
from straypath.contents.plan.records import FramePlan
from straypath.errors import InputError
from straypath.wording import NARROW, number

FAMILY_LINES: Final = 4
"""The rate lets so many lines of the frame show, so that they are seen to belong together."""

PERIODS: Final = 8.0
"""Fewest periods of the frame: fewer make no line that stands apart from its neighbours."""


def pulse_line(height: float, width_s: float, frame_hz: float) -> float:
    """Return the rms of a pulse train's strongest line: √2·h·sin(πd)/π, d = width × rate.

    Parameters
    ----------
    height : float
        h [unit].
    width_s : float
        [s].
    frame_hz : float
        Pulses per second [Hz].

    Validity: rectangular pulses up to half the period; the first order is then the strongest.

    Source: the Fourier series of a pulse train.
    """
    return sqrt(2.0) * height * sin(pi * width_s * frame_hz) / pi


def plan_frame(
    frame_hz: float,
    level: float,
    floor: float,
    *,
    width_s: float | None = None,
    step: float | None = None,
    unit: str = "V",
) -> FramePlan:
    """Return the recording in which a repeating frame is seen, nine times in ten.

    T = 10^(x/10)·S/P with x = 18.5 dB up to four million samples and 23.5 dB above; at least
    eight periods, and as long as it takes to stand apart from the next mains order.

    Parameters
    ----------
    frame_hz : float
        Rate of repetition [Hz].
    level : float
        Rms of its strongest line; with a width, the height of its pulses [unit].
    floor : float
        Density under it [unit/√Hz].
    width_s : float or None
        Width of its pulses [s].
    step : float or None
        Of a converter that is given [unit].
    unit : str
        Of level and floor.

    Raises
    ------
    InputError
        Values that are not above zero, or pulses wider than half the period.

    Validity: a frame that keeps time to 1/T, in Gaussian noise; one false alarm in 1,000 records.
    """
    rules.positive("frame", frame_hz, level, floor, width_s, step)
    line = level
    if width_s is not None:
        if width_s * frame_hz > 0.5:
            raise InputError(
                f"pulses of {width_s:g} s fill more than half of each period",
                where="frame",
                advice="Give the width of the gap instead.",
            )
        line = pulse_line(level, width_s, frame_hz)
    rate = rules.rounded_up(rules.RATE_OVER_FREQUENCY * FAMILY_LINES * frame_hz)
    noise = sqrt(
        floor**2 * (1.0 if step else 1.0 + rules.CONVERTER_SHARE)
        + rules.rounding_density(step, rate) ** 2
    )
    needed, threshold = rules.needed_length_s(line**2, noise, rate)
    beside = _beside(frame_hz)
    apart = rules.PEAKS_APART / beside[2] if beside[2] > 0.0 else 0.0
    duration = rules.rounded_up(max(needed, PERIODS / frame_hz, apart))
    return FramePlan(
        recording=rules.recording(
            duration, rate, step=step or rules.quiet_step(floor, rate), level=line, floor=floor
        ),
        unit=unit,
        frame_hz=frame_hz,
        line=line,
        floor=floor,
        threshold_db=threshold,
        false_alarm=rules.FALSE_ALARM,
        probability=rules.SEEN,
        u_hz=float(frequency_bound_hz(sqrt(2.0) * line, noise**2, duration)),
        assumptions=(
            f"Its strongest line carries {10.0 * log10(line**2 * duration / noise**2):.0f} dB of"
            " P·T/S in such a record; weaker lines of the frame add nothing.",
            "The frame keeps time for the record.",
            "Noise above half the rate is filtered off ahead of the converter.",
            *_shape(line, level, width_s),
        ),
        cautions=_cautions(beside, step, noise, rate, threshold),
    )


def _shape(line: float, height: float, width_s: float | None) -> tuple[str, ...]:
    if width_s is None:
        return ()
    return (
        f"Rectangular pulses: their strongest line has {number(line / height)} of their height.",
    )


def _beside(frame_hz: float) -> tuple[int, float, float]:
    """Return the nearest order of 50 or 60 Hz, of which mains, and how far off it is [Hz]."""
    found = []
    for mains in (50.0, 60.0):
        order = max(1, round(frame_hz / mains))
        found.append((order, mains, abs(frame_hz - order * mains)))
    return min(found, key=lambda row: row[2])


def _cautions(
    beside: tuple[int, float, float],
    step: float | None,
    noise: float,
    rate_hz: float,
    threshold_db: float,
) -> tuple[str, ...]:
    order, mains, off = beside
    cautions = []
    if off <= 2e-3 * order * mains:
        cautions.append(
            f"Order {order} of {mains:g}{NARROW}Hz mains lies {number(off, 2)}{NARROW}Hz away and"
            " wanders: plan 'separate' for the two."
        )
    if step is not None and noise * sqrt(rate_hz / 2.0) < 0.5 * step:
        cautions.append(
            "The noise of one sample is under half a step: lines that the converter makes of a"
            " strong tone can pass for a frame."
        )
    if threshold_db > rules.SEEN_DB:
        cautions.append(
            "More than 4 million samples: the quick search needs 5 dB more, which is planned for;"
            " a search of the whole length (--deep) would see it in a third of the time."
        )
    return tuple(cautions)
