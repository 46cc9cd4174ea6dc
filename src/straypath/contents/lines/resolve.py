"""The lines in one narrow band: found one after another, then measured all together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from straypath.contents.lines.baseband import Baseband, Tone
from straypath.contents.spectral_statistics import fisher_p_value

if TYPE_CHECKING:
    from straypath.arrays import ComplexArray, FloatArray

# Steps of Gauss and Newton; from a start within half a bin three suffice.
STEPS = 12
# What stays of a line that is not quite steady is not taken for another line: 40 dB down.
UNSTEADY = 1e-4
FEWEST_VALUES = 8


def resolve(
    band: Baseband, p_limit: float, start_hz: float | None = None, at_most: int = 8
) -> tuple[tuple[Tone, ...], ComplexArray]:
    """Return the lines that stand out by Fisher's test, and the series without them.

    Parameters
    ----------
    band : Baseband
    p_limit : float
        A line must be less likely than this in noise.
    start_hz : float, optional
        Where a line has been decided on already; it is fitted whatever its chance here [Hz].
    at_most : int

    Each time the strongest remaining line joins, all are fitted anew: what a window leaks from
    one to the other then cancels.
    """
    offsets: FloatArray = np.empty(0)
    chances: list[float] = []
    rest: ComplexArray = band.series
    phasors: ComplexArray = np.empty(0, dtype=np.complex128)
    if len(band.series) < FEWEST_VALUES:
        return (), rest
    while len(offsets) < at_most:
        at_hz, p, power = _strongest(rest, band.interval_s)
        strongest = float(np.max(np.abs(phasors) ** 2)) if len(phasors) else 0.0
        decided = start_hz is not None and not chances
        if decided:
            at_hz = float(start_hz or 0.0) - band.centre_hz
        elif p >= p_limit or power < UNSTEADY * strongest:
            break
        tried = _fit(band, np.append(offsets, at_hz))
        if tried is None or len(band.series) <= 2 * (len(tried[0]) + 1):
            break
        offsets, phasors, rest = tried
        chances.append(p)
    return _tones(band, offsets, phasors, rest, chances), rest


def _strongest(series: ComplexArray, interval_s: float) -> tuple[float, float, float]:
    """Return (offset, chance in noise, power) of the strongest line in a series.

    Two grids of m independent places, half a place apart, so that a line between two places
    loses 0.9 dB at most: the chance is twice that of one grid.
    """
    m = len(series)
    power = np.abs(fft.fft(series, 2 * m)) ** 2
    total = m * float(np.sum(np.abs(series) ** 2))
    top = int(np.argmax(power))
    if total == 0.0:
        return 0.0, 1.0, 0.0
    p = min(1.0, 2 * fisher_p_value(float(power[top]) / total, m))
    shift = top if top < m else top - 2 * m
    return shift / (2 * m * interval_s), p, float(power[top]) / m**2


def _fit(
    band: Baseband, offsets_hz: FloatArray
) -> tuple[FloatArray, ComplexArray, ComplexArray] | None:
    """Least squares for all offsets and phasors; None where the lines run into each other."""
    offsets = offsets_hz.copy()
    for _ in range(STEPS):
        columns, phasors, rest = _amplitudes(band, offsets)
        real = _jacobian(columns, phasors, band.times_s)
        step, *_ = np.linalg.lstsq(real, np.concatenate([rest.real, rest.imag]))
        moved = step[-len(offsets) :]
        # Half a place at most: the start is never further off.
        moved = np.clip(moved, -0.5 / band.duration_s, 0.5 / band.duration_s)
        offsets = offsets + moved
        if np.max(np.abs(moved)) < 1e-7 / band.duration_s:
            break
    apart = np.diff(np.sort(offsets))
    if len(apart) and float(apart.min()) < 0.5 / band.duration_s:
        return None
    _, phasors, rest = _amplitudes(band, offsets)
    return offsets, phasors, rest


def _jacobian(columns: ComplexArray, phasors: ComplexArray, times_s: FloatArray) -> FloatArray:
    """Derivatives by the two parts of every phasor and by every offset, as real rows."""
    slope = 2j * np.pi * times_s[:, np.newaxis] * columns * phasors
    table = np.hstack([columns, 1j * columns, slope])
    return np.vstack([table.real, table.imag])


def _amplitudes(
    band: Baseband, offsets_hz: FloatArray
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Return (columns, phasors, what is left) at fixed offsets."""
    columns = band.columns(offsets_hz)
    solved, *_ = np.linalg.lstsq(columns, band.series)
    phasors = np.asarray(solved, dtype=np.complex128)
    return columns, phasors, band.series - columns @ phasors


def _tones(
    band: Baseband,
    offsets: FloatArray,
    phasors: ComplexArray,
    rest: ComplexArray,
    chances: list[float],
) -> tuple[Tone, ...]:
    """Uncertainties from what is left: it holds every kind of noise that there was."""
    if not len(offsets):
        return ()
    dof = float(2 * len(rest) - 3 * len(offsets))
    each = float(np.sum(np.abs(rest) ** 2)) / dof
    real = _jacobian(band.columns(offsets), phasors, band.times_s)
    covariance = np.linalg.pinv(real.T @ real) * each
    n = len(offsets)
    found = []
    for i in range(n):
        a = phasors[i]
        size = abs(a)
        place = [i, n + i]
        along = np.array([a.real, a.imag]) / size
        across = np.array([-a.imag, a.real]) / size
        block = covariance[np.ix_(place, place)]
        found.append(
            Tone(
                frequency_hz=band.centre_hz + float(offsets[i]),
                frequency_u_hz=_root(covariance[2 * n + i, 2 * n + i]),
                phasor=complex(a),
                amplitude_u=_root(along @ block @ along),
                phase_u=_root(across @ block @ across) / size,
                dof=dof,
                p_value=chances[i],
                density=2 * each * band.density_per_variance,
            )
        )
    return tuple(found)


def _root(variance: float) -> float:
    """Square root; rounding makes a computed record's variance less than nothing."""
    return float(np.sqrt(max(0.0, variance)))
