"""Noise of resistances and amplifiers in closed form: densities, bands, and what one sees of it.

Densities are one-sided and in root form [V/√Hz]. The functions broadcast over arrays. What a
converter adds is in `converter`, how the parts add up in `noise_budget`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from scipy.special import erfc, gamma, log_ndtr, ndtr

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straypath.arrays import Float64Array

BOLTZMANN_J_PER_K: Final = 1.380649e-23
"""Exact (SI Brochure, 9th edition, 2019)."""

ROOM_K: Final = 300.0
"""Temperature that is assumed where none is given [K]; 10 K more or less are 1.7 % of a density."""

STANDARD_K: Final = 290.0
"""Reference temperature of noise figures [K] (from memory: IEEE standard noise temperature)."""


def _floats(numbers: ArrayLike) -> Float64Array:
    return np.asarray(numbers, dtype=np.float64)


def johnson_density(
    resistance_ohm: ArrayLike, *, temperature_k: ArrayLike = ROOM_K
) -> Float64Array:
    """Return the thermal noise of a resistance: e = √(4·k·T·R).

    Parameters
    ----------
    resistance_ohm : array-like
        Real part of the impedance, ≥ 0 [Ω].
    temperature_k : array-like
        [K].

    Returns
    -------
    array
        [V/√Hz].

    Notes
    -----
    Valid while h·f is small against k·T (below some 100 GHz at room temperature). Carries no
    excess noise: current through a carbon film adds 1/f noise of its own.

    Examples
    --------
    >>> round(float(johnson_density(1000.0)) * 1e9, 3)
    4.07

    References
    ----------
    Nyquist, Phys. Rev. 32, 1928.
    """
    return _floats(
        np.sqrt(4.0 * BOLTZMANN_J_PER_K * _floats(temperature_k) * _floats(resistance_ohm))
    )


def johnson_rms(
    resistance_ohm: ArrayLike, bandwidth_hz: ArrayLike, *, temperature_k: ArrayLike = ROOM_K
) -> Float64Array:
    """Return the thermal noise of a resistance in a band: √(4·k·T·R·B) [V rms].

    Parameters
    ----------
    resistance_ohm : array-like
        [Ω].
    bandwidth_hz : array-like
        Noise bandwidth B, see `noise_bandwidth_hz` [Hz].
    temperature_k : array-like
        [K].

    Notes
    -----
    Valid only where no capacitance shunts the resistance within the band; else see `ktc_rms`.

    Examples
    --------
    >>> round(float(johnson_rms(1e5, 1e6)) * 1e6, 1)
    40.7

    References
    ----------
    Nyquist, Phys. Rev. 32, 1928.
    """
    density = johnson_density(resistance_ohm, temperature_k=temperature_k)
    return density * np.sqrt(_floats(bandwidth_hz))


def ktc_rms(capacitance_f: ArrayLike, *, temperature_k: ArrayLike = ROOM_K) -> Float64Array:
    """Return the whole thermal noise across a capacitance, whatever the resistance: √(k·T/C).

    Parameters
    ----------
    capacitance_f : array-like
        [F].
    temperature_k : array-like
        [K].

    Returns
    -------
    array
        [V rms].

    Notes
    -----
    Valid over all frequencies, for any passive resistance across C at one temperature.

    Examples
    --------
    >>> round(float(ktc_rms(15e-12)) * 1e6, 1)
    16.6

    References
    ----------
    Equipartition; Nyquist 1928, integrated over one pole.
    """
    return _floats(np.sqrt(BOLTZMANN_J_PER_K * _floats(temperature_k) / _floats(capacitance_f)))


def corner_hz(resistance_ohm: ArrayLike, capacitance_f: ArrayLike) -> Float64Array:
    """Return the −3 dB frequency of one pole: 1/(2π·R·C).

    Parameters
    ----------
    resistance_ohm : array-like
        [Ω].
    capacitance_f : array-like
        [F]; 0 gives infinity.

    Examples
    --------
    >>> round(float(corner_hz(1e6, 20e-12)))
    7958
    """
    with np.errstate(divide="ignore"):
        return _floats(1.0 / (2.0 * np.pi * _floats(resistance_ohm) * _floats(capacitance_f)))


def thermal_dbm_per_hz(temperature_k: ArrayLike = STANDARD_K) -> Float64Array:
    """Return the available thermal noise power: 10·log10(k·T/1 mW) [dBm/Hz].

    Parameters
    ----------
    temperature_k : array-like
        [K].

    Notes
    -----
    Valid between matched resistances; a high-impedance input takes no power, see
    `johnson_density`.

    Examples
    --------
    >>> round(float(thermal_dbm_per_hz()), 2)
    -173.98

    References
    ----------
    Nyquist, Phys. Rev. 32, 1928.
    """
    return _floats(10.0 * np.log10(BOLTZMANN_J_PER_K * _floats(temperature_k) / 1e-3))


def noise_bandwidth_hz(
    corner_hz: ArrayLike,
    *,
    poles: int = 1,
    kind: Literal["cascade", "butterworth"] = "cascade",
) -> Float64Array:
    """Return the width of the ideal filter that passes as much white noise as a real one.

    One pole: π/2·f₃. n equal poles in cascade: f₃/√(2^(1/n) − 1)·√π·Γ(n − ½)/(2·Γ(n)), the
    integral of (1 + x²)^−n. Butterworth of order n: f₃·(π/2n)/sin(π/2n).

    Parameters
    ----------
    corner_hz : array-like
        Frequency f₃ at which the whole filter is 3 dB down [Hz].
    poles : int
        n ≥ 1.
    kind : {"cascade", "butterworth"}

    Notes
    -----
    Valid for white noise; for a low-pass that has no further response above its stop band.

    Examples
    --------
    >>> round(float(noise_bandwidth_hz(1000.0)), 1)
    1570.8

    References
    ----------
    Integrals of the squared magnitudes; handbooks print 1.57, 1.22, 1.16, 1.13 for cascades
    (common practice).
    """
    f3 = _floats(corner_hz)
    if kind == "butterworth":
        half = np.pi / (2.0 * poles)
        return _floats(f3 * half / np.sin(half))
    single = f3 / np.sqrt(2.0 ** (1.0 / poles) - 1.0)
    return _floats(single * np.sqrt(np.pi) * gamma(poles - 0.5) / (2.0 * gamma(poles)))


def sloped_rms(
    white: ArrayLike, corner_hz: ArrayLike, low_hz: ArrayLike, high_hz: ArrayLike
) -> Float64Array:
    """Return the noise of a white and 1/f floor in a band: e·√(f_c·ln(f_H/f_L) + f_H − f_L).

    Parameters
    ----------
    white : array-like
        Density e well above the corner [V/√Hz].
    corner_hz : array-like
        Frequency f_c at which the 1/f part equals the white part [Hz].
    low_hz, high_hz : array-like
        Ends of the band, 0 < low ≤ high [Hz].

    Returns
    -------
    array
        [V rms].

    Notes
    -----
    Valid for a power density that falls exactly as 1/f below the corner. The lowest frequency is
    about one over the time of observation: a longer look sees more.

    Examples
    --------
    >>> round(float(sloped_rms(10e-9, 100.0, 0.1, 10.0)) * 1e9)
    217

    References
    ----------
    The integral of e²·(1 + f_c/f).
    """
    low, high = _floats(low_hz), _floats(high_hz)
    power = _floats(corner_hz) * np.log(high / low) + high - low
    return _floats(_floats(white) * np.sqrt(power))


def averaged_rms(rms: ArrayLike, count: ArrayLike) -> Float64Array:
    """Return what noise is left after averaging: rms/√n.

    Parameters
    ----------
    rms : array-like
        Of one sample or one sweep [unit].
    count : array-like
        Number n of independent ones.

    Notes
    -----
    Valid for independent noise. 1/f noise falls less; hum does not fall at all if the sweeps are
    triggered on the line.

    Examples
    --------
    >>> float(averaged_rms(8.0, 64))
    1.0
    """
    return _floats(_floats(rms) / np.sqrt(_floats(count)))


def share_outside(width: ArrayLike) -> Float64Array:
    """Return the share of time that Gaussian noise spends outside a band: erfc(w/(2·√2)).

    Parameters
    ----------
    width : array-like
        Whole width w of the band about the mean, over the rms value.

    Notes
    -----
    Valid for Gaussian noise. Handbooks read a peak-to-peak as 6.6 × rms: 0.1 % lies outside
    (common practice).

    Examples
    --------
    >>> round(float(share_outside(6.6)), 6)
    0.000967
    """
    return _floats(erfc(_floats(width) / (2.0 * np.sqrt(2.0))))


def mean_peak_to_peak(count: ArrayLike) -> Float64Array:
    """Return the mean peak-to-peak of n Gaussian samples over their rms: ∫ 1 − Φⁿ − (1 − Φ)ⁿ dx.

    Parameters
    ----------
    count : array-like
        Number n of independent samples, 2 … 1e12.

    Notes
    -----
    Grows without end with the length of a record, so a peak-to-peak reading of noise means little
    without n. Good to 1e-6.

    Examples
    --------
    >>> round(float(mean_peak_to_peak(1000)), 2)
    6.48

    References
    ----------
    Tippett, Biometrika 17, 1925 (mean range of normal samples; from memory).
    """
    n = _floats(count)[..., np.newaxis]
    x = np.linspace(-10.0, 10.0, 4001)
    inside = -np.expm1(n * log_ndtr(x)) - np.exp(n * np.log1p(-np.minimum(ndtr(x), 1.0 - 1e-16)))
    return _floats(np.trapezoid(inside, x, axis=-1))
