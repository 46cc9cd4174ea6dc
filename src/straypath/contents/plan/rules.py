"""Rules that all plans share: rates, converter steps, and what it takes to see a line."""

from __future__ import annotations

import math
from math import ceil, floor, isfinite, log2, log10, sqrt
from typing import Final

from scipy.special import ndtri

from straypath.contents.plan.records import Recording
from straypath.errors import InputError

RATE_OVER_FREQUENCY: Final = 2.5
"""Least rate over the highest frequency that matters (common practice, no source): two by the
sampling theorem, the rest for the filter ahead of the converter."""

CONVERTER_SHARE: Final = 0.1
"""Part of the noise power, or of the error that is allowed, that is left to the converter."""

FALSE_ALARM: Final = 1e-3
"""Chance per record that a bare floor shows a line."""

SEEN: Final = 0.9
"""Chance that a line at the threshold is seen."""

SEEN_DB: Final = 18.5
"""P·T/S at which a line is seen so often [dB]: the bound that the line search is held to, up to 4
million samples, or at any length with `--deep`."""

SEEN_LONG_DB: Final = 23.5
"""The same for longer records, up to 50 million samples, without `--deep`."""

LONG_SAMPLES: Final = 4_000_000

PEAKS_APART: Final = 2.0
"""Lines this many 1/T apart make two peaks under a Hann window, whose main lobe is 4/T wide."""

LONGEST_S: Final = 86_400.0
"""Longer than a day is no plan [s]: nothing at a bench holds still for so long."""

HEADROOM: Final = 2.0
"""Span over the peak-to-peak of what is planned for: ours, for what else is in the record."""

NOISE_PEAKS: Final = 8.0
"""Peak-to-peak of noise over its rms: 6e-5 of all samples lie outside."""


def deviations(coverage: float) -> float:
    """Return the half-width of a normal interval in standard deviations; 0.95 gives 1.96."""
    return float(ndtri(0.5 + 0.5 * coverage))


def rounded_up(value: float, digits: int = 2) -> float:
    """Return a number rounded up to so many digits, so that a plan never promises too much."""
    unit = _last_digit(value, digits)
    # A hair below, lest 0.1 becomes 0.11 for its last bit.
    return float(f"{ceil(value / unit * (1.0 - 1e-9)) * unit:.12g}")


def rounded_down(value: float, digits: int = 2) -> float:
    """Return a number rounded down to so many digits."""
    unit = _last_digit(value, digits)
    return float(f"{floor(value / unit * (1.0 + 1e-9)) * unit:.12g}")


def _last_digit(value: float, digits: int) -> float:
    return math.pow(10.0, floor(log10(value)) - digits + 1)


def quiet_step(density: float, rate_hz: float) -> float:
    """Return the step whose rounding adds a tenth to the noise power: Δ = √(0.6·fs)·N.

    Parameters
    ----------
    density : float
        Of the floor, N [unit/√Hz].
    rate_hz : float
        [samples/s].

    From Δ²/(6·fs) = 0.1·N². The noise of one sample, N·√(fs/2), is then 0.9 Δ: enough to keep
    rounding errors from gathering in lines, for which half a step is needed.
    """
    return sqrt(6.0 * CONVERTER_SHARE * rate_hz) * density


def rounding_density(step: float | None, rate_hz: float) -> float:
    """Return the density that rounding to steps adds: Δ/√(6·fs) [unit/√Hz]; 0 for no step."""
    return step / sqrt(6.0 * rate_hz) if step else 0.0


def sine_step(level: float, within: float) -> float:
    """Return the step that keeps a bare sine's amplitude to a tenth of what it may be off.

    Rounding a sine of `a` steps peak changes its amplitude by at most (2/π²)·ζ(3/2)/√a steps:
    0.53·a^(−3/2) of itself. So a = (5.3/p)^(2/3).

    Parameters
    ----------
    level : float
        Rms of the sine [unit].
    within : float
        p, the share that it may be off.

    Validity: from two steps peak, whatever the offset and however little noise there is.

    Source: the Fourier series of a staircase, sin(z·sin θ) in Bessel functions, and
    |J₁(z)| ≤ √(2/(πz)) (from memory).
    """
    steps = max(math.pow(0.53 / (CONVERTER_SHARE * within), 2.0 / 3.0), 2.0)
    return sqrt(2.0) * level / steps


def recording(
    duration_s: float,
    rate_hz: float,
    *,
    step: float | None = None,
    level: float | None = None,
    floor: float | None = None,
    repeats: int = 1,
) -> Recording:
    """Return how to record, with a span for a sine in its noise and the bits for span and step.

    Parameters
    ----------
    duration_s, rate_hz : float
        [s], [samples/s].
    step : float or None
        Coarsest [unit].
    level, floor : float or None
        Rms of the sine [unit] and density of the noise [unit/√Hz]; without both there is no span.
    repeats : int

    Raises
    ------
    InputError
        Longer than a day.
    """
    if not isfinite(duration_s) or duration_s > LONGEST_S:
        raise InputError(
            f"it would take a record of {duration_s / 3600:.3g} hours",
            advice="Ask for less, or lower the floor: nothing at a bench holds still for a day.",
        )
    rate = rounded_up(rate_hz)
    # Rounded down: a finer step does no harm.
    step = rounded_down(step) if step else None
    span = bits = None
    if level and floor:
        peaks = 2.0 * sqrt(2.0) * level + NOISE_PEAKS * floor * sqrt(rate / 2.0)
        span = rounded_up(HEADROOM * peaks)
        bits = max(1, ceil(log2(span / step))) if step else None
    return Recording(
        duration_s=rounded_up(duration_s),
        rate_hz=rate,
        repeats=repeats,
        step=step,
        span=span,
        bits=bits,
    )


def positive(name: str, *values: float | None) -> None:
    """Refuse a value that is not above zero and finite."""
    for value in values:
        if value is not None and not (isfinite(value) and value > 0.0):
            raise InputError(
                f"{value:g} is not above zero", where=name, advice="All values must be."
            )


def needed_length_s(power: float, floor: float, rate_hz: float) -> tuple[float, float]:
    """Return how long it takes to see a line [s], and the P·T/S that it takes there [dB].

    Parameters
    ----------
    power : float
        P, mean square of the line [unit²].
    floor : float
        Density N under it [unit/√Hz]; S = N².
    rate_hz : float
        [samples/s]; beyond four million samples the threshold is higher.
    """
    short = 10.0 ** (SEEN_DB / 10.0) * floor**2 / power
    if short * rate_hz <= LONG_SAMPLES:
        return short, SEEN_DB
    return 10.0 ** (SEEN_LONG_DB / 10.0) * floor**2 / power, SEEN_LONG_DB
