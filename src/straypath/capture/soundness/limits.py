"""Closed forms behind the findings: folding, integration, quantising, the ac corner."""

from __future__ import annotations

from math import atan, inf, log10, pi, sin, sqrt


def alias_hz(frequency_hz: float, rate_hz: float) -> float:
    """Return where a frequency shows after sampling: |f − fs·round(f/fs)|.

    Parameters
    ----------
    frequency_hz, rate_hz : float
        [Hz]; the rate above zero.

    Examples
    --------
    >>> alias_hz(60.0, 50.0)
    10.0
    """
    return abs(frequency_hz - rate_hz * round(frequency_hz / rate_hz))


def aperture_gain(frequency_hz: float, aperture_s: float) -> float:
    """Return what averaging over an aperture leaves of a sine: |sin(π·f·T)/(π·f·T)|.

    Parameters
    ----------
    frequency_hz : float
        [Hz].
    aperture_s : float
        Integration time of one sample [s].
    """
    turns = pi * frequency_hz * aperture_s
    return abs(sin(turns) / turns) if turns else 1.0


def aperture_rejection_db(frequency_hz: float, aperture_s: float) -> float:
    """Return by how much an aperture weakens a sine [dB]: −20·log10 of `aperture_gain`."""
    gain = aperture_gain(frequency_hz, aperture_s)
    return -20.0 * log10(gain) if gain else inf


def quantisation_rms(step: float) -> float:
    """Return the rms of an even error over one step: q/√12.

    Validity: the signal moves over several steps from sample to sample; a slow one makes lines
    instead of noise.
    """
    return step / sqrt(12.0)


def ac_lead_rad(frequency_hz: float, corner_hz: float) -> float:
    """Return by how much a first-order ac coupling turns a sine forward: atan(fc/f) [rad]."""
    return atan(corner_hz / frequency_hz)
