"""What a converter does to a record: steps, their noise, oversampling, jitter and its clock.

The functions broadcast over arrays.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straypath.arrays import Float64Array

SPAN_OVER_SINE_DB: Final = float(20.0 * np.log10(2.0 * np.sqrt(2.0)))
"""A full span over the rms of the largest sine in it [dB]."""


def _floats(numbers: ArrayLike) -> Float64Array:
    return np.asarray(numbers, dtype=np.float64)


def step_of(span: ArrayLike, bits: ArrayLike) -> Float64Array:
    """Return the step of a converter: span/2^bits.

    Parameters
    ----------
    span : array-like
        From the lowest to the highest code [unit].
    bits : array-like

    Examples
    --------
    >>> float(step_of(4.096, 12))
    0.001
    """
    return _floats(_floats(span) / 2.0 ** _floats(bits))


def quantisation_rms(step: ArrayLike) -> Float64Array:
    """Return the rms error of rounding to steps: Δ/√12.

    Parameters
    ----------
    step : array-like
        Δ [unit].

    Notes
    -----
    Valid where the signal or its noise moves over several steps; a steady signal within one step
    has a constant error instead.

    Examples
    --------
    >>> round(float(quantisation_rms(1.0)), 4)
    0.2887

    References
    ----------
    Bennett, Bell Syst. Tech. J. 27, 1948 (from memory); the variance of a uniform distribution.
    """
    return _floats(_floats(step) / np.sqrt(12.0))


def quantisation_density(step: ArrayLike, rate_hz: ArrayLike) -> Float64Array:
    """Return the density of rounding errors, spread evenly up to half the rate: Δ/√(6·fs).

    Parameters
    ----------
    step : array-like
        Δ [unit].
    rate_hz : array-like
        Samples per second [Hz].

    Returns
    -------
    array
        [unit/√Hz].

    Notes
    -----
    Valid where noise of at least half a step rides on the signal. With less the errors gather in
    lines that a strong tone makes.

    Examples
    --------
    >>> round(float(quantisation_density(1e-3, 10e3)) * 1e6, 3)
    4.082

    References
    ----------
    Bennett 1948 (from memory): Δ²/12 over a band of fs/2.
    """
    return _floats(_floats(step) / np.sqrt(6.0 * _floats(rate_hz)))


def ideal_snr_db(bits: ArrayLike) -> Float64Array:
    """Return the largest sine over the rounding noise: 20·log10(2^bits·√(3/2)).

    Parameters
    ----------
    bits : array-like

    Notes
    -----
    Valid over the whole band to half the rate; upper limit of any real converter.

    Examples
    --------
    >>> round(float(ideal_snr_db(12)), 1)
    74.0

    References
    ----------
    A sine of half the span over Δ/√12; known as 6.02 N + 1.76 dB.
    """
    return _floats(20.0 * np.log10(2.0 ** _floats(bits) * np.sqrt(1.5)))


def oversampling_gain_db(ratio: ArrayLike) -> Float64Array:
    """Return what oversampling and filtering wins against white noise: 10·log10 OSR.

    Parameters
    ----------
    ratio : array-like
        Rate over twice the band that is kept.

    Notes
    -----
    Valid for white noise without shaping; a factor of four is half a bit.

    Examples
    --------
    >>> round(float(oversampling_gain_db(16)), 2)
    12.04
    """
    return _floats(10.0 * np.log10(_floats(ratio)))


def jitter_snr_db(
    jitter_s: ArrayLike, frequency_hz: ArrayLike, *, over: Literal["sine", "span"] = "sine"
) -> Float64Array:
    """Return the limit that a shaking sampling instant sets: −20·log10(2π·f·t).

    Parameters
    ----------
    jitter_s : array-like
        Rms error t of the instant [s].
    frequency_hz : array-like
        Of the sine that is sampled [Hz].
    over : {"sine", "span"}
        What the noise is compared with: the rms of the sine, or the span that it just fills, 9 dB
        more. Printed figures differ by which was meant.

    Notes
    -----
    Valid for 2π·f·t well below 1, jitter independent from sample to sample.

    Examples
    --------
    >>> round(float(jitter_snr_db(10e-12, 10e6)), 1)
    64.0

    References
    ----------
    Error = slope of the sine times t.
    """
    ratio = -20.0 * np.log10(2.0 * np.pi * _floats(frequency_hz) * _floats(jitter_s))
    return _floats(ratio + SPAN_OVER_SINE_DB) if over == "span" else _floats(ratio)


def clock_error_hz(frequency_hz: ArrayLike, clock_ppm: ArrayLike) -> Float64Array:
    """Return how far a frequency reading is off because the time base is: f·p·1e-6.

    Parameters
    ----------
    frequency_hz : array-like
        [Hz].
    clock_ppm : array-like
        Relative error of the sampling clock [ppm].

    Notes
    -----
    Valid for frequencies below half the rate; it shifts all lines of a record alike.

    Examples
    --------
    >>> round(float(clock_error_hz(50.0, 25.0)) * 1e3, 6)
    1.25
    """
    return _floats(_floats(frequency_hz) * _floats(clock_ppm) * 1e-6)
