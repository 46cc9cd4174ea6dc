"""What common loads make of the mains, order by order: rectifiers, dimmers, converters.

Angles are mains phase, zero where the line voltage rises through zero. Complex results are
phasors: the wave is Re Σ c_n·exp(j·n·θ) over the orders n. The functions broadcast over orders.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike

    from straypath.arrays import ComplexArray, Float64Array


HALF_WAVE_RIPPLE_FACTOR: Final = float(np.sqrt(np.pi**2 / 4.0 - 1.0))
"""Rms of what alternates in a half-wave rectified sine, over its mean."""

SIX_PULSE_FUNDAMENTAL: Final = float(np.sqrt(6.0) / np.pi)
"""Rms of the line current's fundamental over the direct current, flat, of a six-pulse bridge."""

# Orders 3, 5, 7, 9 over the fundamental of the current of a personal computer's supply: Grady,
# Understanding Power System Harmonics; Dugan et al., Electrical Power Systems Quality. Both from
# memory, good to a factor of 1.3.
COMPUTER_SUPPLY_CURRENT: Final[Mapping[str, tuple[float, ...]]] = MappingProxyType(
    {"Grady": (0.81, 0.606, 0.37, 0.157), "Dugan et al.": (0.657, 0.377, 0.127, 0.044)}
)


def _floats(numbers: ArrayLike) -> Float64Array:
    return np.asarray(numbers, dtype=np.float64)


def full_wave(orders: ArrayLike) -> ComplexArray:
    """Return the orders of a full-wave rectified sine over its peak: −(4/π)/(n² − 1), n even.

    Order 0 is the mean, 2/π; odd orders are zero.

    Parameters
    ----------
    orders : array-like
        Whole, ≥ 0.

    Notes
    -----
    Valid for a resistive load without a reservoir.

    Examples
    --------
    >>> [round(float(abs(c)), 4) for c in full_wave([1, 2, 4])]
    [0.0, 0.4244, 0.0849]

    References
    ----------
    The Fourier series of |sin θ|.
    """
    n = _floats(orders)
    even = np.where(n % 2 == 0, -(4.0 / np.pi) / (np.square(n) - 1.0 + (n == 1)), 0.0)
    return np.asarray(np.where(n == 0, 2.0 / np.pi, even), dtype=np.complex128)


def half_wave(orders: ArrayLike) -> ComplexArray:
    """Return the orders of a half-wave rectified sine over its peak: −(2/π)/(n² − 1), n even.

    Order 0 is the mean, 1/π; order 1 is half the sine; other odd orders are zero.

    Parameters
    ----------
    orders : array-like
        Whole, ≥ 0.

    Notes
    -----
    Valid for a resistive load without a reservoir.

    Examples
    --------
    >>> [round(float(abs(c)), 4) for c in half_wave([1, 2, 3])]
    [0.5, 0.2122, 0.0]

    References
    ----------
    The Fourier series of (sin θ + |sin θ|)/2.
    """
    return np.asarray(0.5 * full_wave(orders) + np.where(_floats(orders) == 1, -0.5j, 0.0))


def reservoir_ripple(
    current_a: ArrayLike, mains_hz: ArrayLike, capacitance_f: ArrayLike
) -> Float64Array:
    """Return the peak-to-peak ripple across a reservoir after a full-wave bridge: I/(2·f0·C).

    Parameters
    ----------
    current_a : array-like
        Load current I [A].
    mains_hz : array-like
        f0 [Hz].
    capacitance_f : array-like
        C [F].

    Returns
    -------
    array
        [V].

    Notes
    -----
    An upper bound: the capacitor is taken to discharge for the whole half-cycle; some 15 % high
    for the usual conduction angles (common practice).

    Examples
    --------
    >>> round(float(reservoir_ripple(1.0, 50.0, 4700e-6)), 2)
    2.13
    """
    return np.asarray(_floats(current_a) / (2.0 * _floats(mains_hz) * _floats(capacitance_f)))


def reservoir_orders(orders: ArrayLike) -> Float64Array:
    """Return the orders of reservoir ripple over its peak-to-peak: 2/(π·n), n even; odd ones 0.

    Parameters
    ----------
    orders : array-like
        Whole, > 0.

    Notes
    -----
    Valid for a sawtooth with a sudden rise; real charging takes a part of the half-cycle, and the
    orders whose period it fills fall faster. Unlike `full_wave` the high orders are there.

    Examples
    --------
    >>> [round(float(c), 3) for c in reservoir_orders([2, 3, 4])]
    [0.318, 0.0, 0.159]

    References
    ----------
    The Fourier series of a sawtooth at twice the mains frequency: peak-to-peak/(π·k), n = 2k.
    """
    n = _floats(orders)
    return np.asarray(np.where(n % 2 == 0, 2.0 / (np.pi * n), 0.0))


def dimmer(
    orders: ArrayLike, angle_rad: ArrayLike, edge: Literal["leading", "trailing"] = "leading"
) -> ComplexArray:
    """Return the orders behind a phase-angle dimmer with a resistive load, over the line's peak.

    For odd n > 1: c_n = a_n − j·b_n with
    a_n = [(cos(n+1)α − 1)/(n+1) − (cos(n−1)α − 1)/(n−1)]/π,
    b_n = [sin(n+1)α/(n+1) − sin(n−1)α/(n−1)]/π; a_1 = (cos 2α − 1)/2π, b_1 = (π − α + sin 2α/2)/π.
    Even orders are zero.

    Parameters
    ----------
    orders : array-like
        Whole, > 0.
    angle_rad : array-like
        α, how long the load is off in each half-wave, 0 … π [rad].
    edge : {"leading", "trailing"}
        Whether the first or the last part of each half-wave is cut off.

    Notes
    -----
    Valid for a resistive load and equal half-waves. Magnitudes from order 3 on are the same for α
    and π − α, and those of all orders for both edges: only phase tells which it is.

    Examples
    --------
    >>> [round(float(abs(c)), 4) for c in dimmer([1, 3, 5, 7], np.pi / 2)]
    [0.5927, 0.3183, 0.1061, 0.1061]

    References
    ----------
    The Fourier series of a sine that is cut; scheme in any textbook of power electronics.
    """
    n, alpha = np.broadcast_arrays(_floats(orders), _floats(angle_rad))
    up, down = n + 1.0, np.where(n == 1, 1.0, n - 1.0)
    a = (np.cos(up * alpha) - 1.0) / up - (np.cos(down * alpha) - 1.0) / down
    b = np.sin(up * alpha) / up - np.sin(down * alpha) / down
    first = (np.cos(2 * alpha) - 1.0) / 2.0 - 1j * (np.pi - alpha + np.sin(2 * alpha) / 2.0)
    c = np.where(n == 1, first, a - 1j * b) / np.pi
    # A sine cut at its end is one cut at its start, run backwards and turned over.
    cut = c if edge == "leading" else -np.conj(c)
    return np.asarray(np.where(n % 2 == 1, cut, 0.0))


def dimmer_rms(angle_rad: ArrayLike) -> Float64Array:
    """Return the rms behind a phase-angle dimmer over the line's: √(1 − α/π + sin 2α/(2π)).

    Parameters
    ----------
    angle_rad : array-like
        How long the load is off in each half-wave, 0 … π [rad].

    Examples
    --------
    >>> round(float(dimmer_rms(np.pi / 2)), 4)
    0.7071
    """
    alpha = _floats(angle_rad)
    return np.asarray(np.sqrt(1.0 - alpha / np.pi + np.sin(2.0 * alpha) / (2.0 * np.pi)))


def bridge_current(orders: ArrayLike, pulses: int = 6) -> Float64Array:
    """Return the orders of a bridge's line current over the fundamental: 1/n at n = k·p ± 1.

    Parameters
    ----------
    orders : array-like
        Whole, > 0.
    pulses : int
        p: 2 (single phase), 6 or 12.

    Notes
    -----
    Valid for flat direct current and instant commutation; overlap makes high orders fall faster.
    Without a third order the load is a three-phase one.

    Examples
    --------
    >>> [round(float(c), 3) for c in bridge_current([3, 5, 7, 11])]
    [0.0, 0.2, 0.143, 0.091]

    References
    ----------
    The Fourier series of a stepped wave.
    """
    n = _floats(orders)
    beside = np.minimum(n % pulses, pulses - n % pulses) == 1
    return np.asarray(np.where(beside, 1.0 / n, 0.0))


def bridge_distortion(pulses: int = 6) -> float:
    """Return the total distortion of a bridge's line current: √((π/p)²/sin²(π/p) − 1).

    Parameters
    ----------
    pulses : int
        p: 2 gives a square wave, √(π²/8 − 1); 6 or 12.

    Notes
    -----
    Valid as `bridge_current` is.

    Examples
    --------
    >>> round(bridge_distortion(6), 4)
    0.3108

    References
    ----------
    Σ 1/n² over n = k·p ± 1, from the partial fractions of 1/sin².
    """
    if pulses == 2:
        return float(np.sqrt(np.pi**2 / 8.0 - 1.0))  # 2k + 1 and 2k − 1 are the same orders
    part = np.pi / pulses
    return float(np.sqrt(np.square(part / np.sin(part)) - 1.0))


def bridge_ripple(orders: ArrayLike, pulses: int = 6) -> Float64Array:
    """Return the orders of a bridge's direct voltage over its mean: 2/(n² − 1) at n = k·p.

    Parameters
    ----------
    orders : array-like
        Whole, > 1.
    pulses : int
        p: 2 (the full-wave shape), 6 or 12.

    Notes
    -----
    Valid for diodes or full firing, no reservoir and balanced phases; magnitudes.

    Examples
    --------
    >>> round(float(bridge_ripple(6)), 4)
    0.0571

    References
    ----------
    The Fourier series of the crests of p sines.
    """
    n = _floats(orders)
    return np.asarray(np.where(n % pulses == 0, 2.0 / (np.square(n) - 1.0), 0.0))


def capacitor_input(orders: ArrayLike, width_rad: ArrayLike) -> Float64Array:
    """Return the current of a capacitor-input rectifier over its fundamental, about the crest.

    i = Σ c_n·cos n(θ − π/2) with c_n ∝ cos(n·w/2)/(1 − (n·w/π)²) for odd n; even orders are zero.

    Parameters
    ----------
    orders : array-like
        Whole, > 0.
    width_rad : array-like
        w, how long each pulse lasts, in mains phase [rad].

    Notes
    -----
    A model: pulses like half a cosine, centred on the crest, both half-waves alike. Real pulses
    come a little early and lean; 60° lies within what is printed of
    computers (`COMPUTER_SUPPLY_CURRENT`).

    Examples
    --------
    >>> [round(float(c), 3) for c in capacitor_input([3, 5, 7, 9], np.pi / 3)]
    [0.806, 0.5, 0.2, 0.0]

    References
    ----------
    The Fourier transform of half a cosine.
    """
    n, w = np.broadcast_arrays(_floats(orders), _floats(width_rad))
    ratio = _half_cosine(n * w / np.pi) / _half_cosine(w / np.pi)
    return np.asarray(np.where(n % 2 == 1, ratio, 0.0))


def capacitor_input_distortion(width_rad: ArrayLike) -> Float64Array:
    """Return the total distortion of that current: √(π³/(16·w·H²) − 1).

    With H = cos(w/2)/(1 − (w/π)²): the mean square of pulses of height 1 is w/(2π), and their
    fundamental has the peak 4·w·H/π².

    Parameters
    ----------
    width_rad : array-like
        How long each pulse lasts, in mains phase [rad].

    Examples
    --------
    >>> round(float(capacitor_input_distortion(np.pi / 3)), 3)
    0.974
    """
    w = _floats(width_rad)
    return np.asarray(np.sqrt(np.pi**3 / (16.0 * w * np.square(_half_cosine(w / np.pi))) - 1.0))


def _half_cosine(x: Float64Array) -> Float64Array:
    """Return cos(πx/2)/(1 − x²) without its removable poles at x = ±1."""
    return np.asarray((np.sinc(x / 2.0 + 0.5) + np.sinc(x / 2.0 - 0.5)) * np.pi / 4.0)


def path_weight(
    orders: ArrayLike, mains_hz: float, *, differentiates_below_hz: float = np.inf
) -> Float64Array:
    """Return how a coupling path weighs an order against order 1: n·√((1 + x²)/(1 + n²·x²)).

    With x = f0/f_c: a weight of n below the corner f_c, none above.

    Parameters
    ----------
    orders : array-like
        n > 0.
    mains_hz : float
        f0 [Hz].
    differentiates_below_hz : float
        f_c [Hz]. Electric pickup (of the voltage's orders): 1/(2π·R·C) of the node it falls on.
        Magnetic (of the current's orders): R/(2π·L) of a closed loop, infinite for an open one.
        A shared return: 0, no weight, until its inductance counts.

    Notes
    -----
    Valid for one path with one corner; the forward model does the rest.

    Examples
    --------
    >>> [float(path_weight(7, 50.0)), float(path_weight(7, 50.0, differentiates_below_hz=0.0))]
    [7.0, 1.0]

    References
    ----------
    i = C·dV/dt, e = −M·dI/dt, v = R·I, each into one pole.
    """
    n = _floats(orders)
    if differentiates_below_hz == 0.0:
        return np.ones_like(n)
    x = mains_hz / differentiates_below_hz
    return np.asarray(n * np.sqrt((1.0 + x * x) / (1.0 + np.square(n * x))))
