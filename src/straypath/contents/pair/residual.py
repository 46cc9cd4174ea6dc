"""What is left of lines after a subtraction, and no more rejection than the noise allows.

The noise that sits on a residual phasor is known from its scatter. A residual above it is a
reading; below it there is an upper limit, and the rejection is only known to be at least so much.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize, special

from straypath.contents.pair.ratio import (
    Sample,
    absence_chance,
    joint_quantile,
    single_quantile,
)
from straypath.contents.pair.records import LineRejection
from straypath.contents.pair.stretches import LEAST
from straypath.quantity import Quantity, UpperLimit

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.arrays import ComplexArray, FloatArray
    from straypath.quantity import Reading

# A residual, or a line before, counts as seen at this chance of noise alone.
SEEN = 0.01
ROOT_2 = float(np.sqrt(2.0))


def decibels(amplitude_ratio: float) -> float:
    """Return 20·log10 of a ratio of amplitudes."""
    return float(20 * np.log10(amplitude_ratio))


def rms_reading(mean: complex, variance: float, count: int) -> Reading:
    """Return the rms of a line from its mean phasor, or an upper limit.

    Parameters
    ----------
    mean : complex
        Peak amplitude.
    variance : float
        E|·|² of one stretch.
    count : int
        K.
    """
    size = abs(mean)
    per_mean = variance / count
    if size > 0 and absence_chance(mean, variance, count) < SEEN:
        half = float(np.sqrt(single_quantile(count) * per_mean))
        u = float(np.sqrt(per_mean / 2))
        return Quantity(size, u, max(0.0, size - half), size + half).scaled(1 / ROOT_2)
    return UpperLimit((size + float(np.sqrt(joint_quantile(count) * per_mean))) / ROOT_2)


def line_rejection(
    frequency_hz: float, order: int | None, y: ComplexArray, left: ComplexArray
) -> LineRejection:
    """Compare a line's phasors before and after, stretch by stretch.

    Parameters
    ----------
    frequency_hz : float
        [Hz].
    order : int or None
    y, left : array, shape (K,)
        Phasors of y and of y − g·x(t − τ).
    """
    count = len(y)
    mean, rest = complex(y.mean()), complex(left.mean())
    floor = LEAST * abs(mean) ** 2
    before = rms_reading(mean, max(_variance(y), floor), count)
    residual = rms_reading(rest, max(_variance(left), floor), count)
    if isinstance(residual, UpperLimit):
        least = before.low if isinstance(before, Quantity) else 0.0
        at_least = decibels(least / residual.upper) if least > 0 else None
        return LineRejection(frequency_hz, order, before, residual, None, at_least)
    # Noise common to both cancels in the ratio: taken from the ratio's own stretches.
    strays = np.real(y / mean) - np.real(left / rest)
    u = float(max(np.std(strays, ddof=1) / np.sqrt(count), np.sqrt(LEAST)))
    part = float(special.stdtrit(count - 1, 0.975)) * u
    ratio = abs(mean) / abs(rest)
    value, low = decibels(ratio), decibels(ratio / (1 + part))
    high = decibels(ratio / (1 - part)) if part < 1 else np.inf
    rejection = Quantity(value, u * decibels(np.e), low, high)
    return LineRejection(frequency_hz, order, before, residual, rejection, low)


def _variance(phasors: ComplexArray) -> float:
    return float(np.var(phasors) * len(phasors) / (len(phasors) - 1))


@dataclass(frozen=True)
class Total:
    """Rms of all residual lines together and their rejection."""

    rms: Reading
    rejection_db: Quantity | None
    at_least_db: float


def total_of(samples: list[Sample], ratios: ComplexArray, fitted: FloatArray) -> Total:
    """Add up the residuals of all lines.

    The sum of squares holds misfit, the noise that the fit left, and lacks the noise that the fit
    took: P = Σ|d|² − V + 2F with V the noise of all residuals and F the part that the two fitted
    parameters carry. Where Σ|d|² does not stand out of noise, the limit of the misfit is the one
    at which a smaller sum is 20 times rarer than under noise alone.

    Parameters
    ----------
    samples : list of Sample, m of them
    ratios : array, shape (m,)
        g e^{−jωτ}.
    fitted : array, shape (2, 2)
        Eigenbasis-free covariance that g and τ give the residuals, summed over the lines
        [unit²]: its trace is F.
    """
    pairs = list(zip(samples, ratios, strict=True))
    count = samples[0].count
    rest = float(sum(abs(s.y - r * s.x) ** 2 for s, r in pairs))
    noise = np.array([s.scatter(complex(r)) / count for s, r in pairs])
    whole = float(noise.sum())
    share = np.linalg.eigvalsh(fitted).clip(0.0)
    carried = min(float(share.sum()), whole)
    parts = carried**2 / float(np.sum(share**2)) if carried > 0 else 2.0
    spread = 2.0 * (count - 1) * whole**2 / float(np.sum(noise**2))
    fit_high = carried * special.fdtri(parts, 2.0 * (count - 1), 0.95)
    dof = 2.0 * len(samples) - 2.0
    before = max(float(sum(abs(s.y) ** 2 - s.s_yy / count for s in samples)), 1e-300)
    before_u = np.sqrt(sum(2 * abs(s.y) ** 2 * s.s_yy / count for s in samples)) / before
    unit = max(whole - carried, 1e-12 * whole) / dof if dof else 1.0
    f = rest / dof / unit if dof else 0.0
    if dof == 0 or special.fdtrc(dof, spread, f) >= SEEN:
        misfit_high = _limit(f, dof, spread) * unit if dof else 0.0
        upper = misfit_high + fit_high
        at_least = 10 * np.log10(before / upper) - 1.96 * before_u * 10 / np.log(10)
        return Total(UpperLimit(float(np.sqrt(upper / 2))), None, float(at_least))
    power = rest - whole + 2 * carried
    low, high = (_noncentral(f, dof, spread, p) * unit for p in (0.975, 0.025))
    high += fit_high
    power = float(np.clip(power, low, high))
    u = float(high - low) / (2 * 1.96)
    size, least, most = (float(np.sqrt(p / 2)) for p in (power, low, high))
    rms = Quantity(size, u / (4 * size), least, most)
    return _rejection(rms, power, low, high, before, float(before_u))


def _rejection(
    rms: Quantity, power: float, low: float, high: float, before: float, before_u: float
) -> Total:
    to_db = 10 / np.log(10)
    value = 10 * np.log10(before / power)
    down = np.hypot(10 * np.log10(high / power), 1.96 * before_u * to_db)
    up = np.hypot(10 * np.log10(power / low), 1.96 * before_u * to_db) if low > 0 else np.inf
    u = np.hypot(2 * rms.u / rms.value, before_u) * to_db
    rejection = Quantity(float(value), float(u), float(value - down), float(value + up))
    return Total(rms, rejection, rejection.low)


def _noncentral(f: float, dof: float, spread: float, chance: float) -> float:
    """Noncentrality under which a smaller F has this chance; 0 if none has so small a one."""
    if special.ncfdtr(dof, spread, 0.0, f) <= chance:
        return 0.0
    return _root(lambda nc: float(special.ncfdtr(dof, spread, nc, f)) - chance, f * dof)


def _limit(f: float, dof: float, spread: float) -> float:
    """Noncentrality under which a smaller F is 20 times rarer than under noise alone."""
    f = max(f, 1e-9)
    alone = float(special.ncfdtr(dof, spread, 0.0, f))
    return _root(lambda nc: float(special.ncfdtr(dof, spread, nc, f)) - 0.05 * alone, f * dof)


def _root(falls: Callable[[float], float], guess: float) -> float:
    high = max(4 * guess, 20.0)
    while falls(high) > 0:
        high *= 2
    return float(optimize.brentq(falls, 0.0, high))
