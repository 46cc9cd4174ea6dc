"""Which mains frequency it is: how long to record, or how strong the hum must be."""

from __future__ import annotations

from math import log10, sqrt
from typing import Final

import numpy as np
from scipy.special import ndtr, ndtri

from straypath.contents.bounds import amplitude_bound
from straypath.contents.fisher import separation
from straypath.contents.mains.nominal import HIGHEST_HZ
from straypath.contents.plan import rules
from straypath.contents.plan.records import Contrast, TellMainsPlan
from straypath.errors import InputError

UNKNOWN: Final = ("nothing", "offset", "offset and slope")
"""What else a record's model leaves open; examine leaves offset and slope open."""

ERROR: Final = 0.01
_FINEST = 120
"""Lengths tried up to where the two frequencies are one cycle apart, and 20 % beyond."""


def needed_rho(worst: float, error: float) -> float:
    """Return how far a wave must stand above its floor, A/√(S/T): 2·Q⁻¹(p)/worst.

    Parameters
    ----------
    worst : float
        What the wrong frequency leaves of the wave, see `contents.fisher.separation`.
    error : float
        p, the chance of a wrong answer.

    The chance of the nearer of two points being the wrong one, at a distance ρ·worst in noise
    of standard deviation 1, is Q(ρ·worst/2).
    """
    return float(-2.0 * ndtri(error) / worst)


def plan_tell_mains(
    *,
    duration_s: float | None = None,
    level: float | None = None,
    floor: float | None = None,
    between_hz: tuple[float, float] = (50.0, 60.0),
    error: float = ERROR,
    unit: str = "V",
) -> TellMainsPlan:
    """Return the recording that tells one mains frequency from another.

    With a length: how strong the hum must be, or how often the answer would be wrong. With level
    and floor only: the shortest length from which on it is told.

    Parameters
    ----------
    duration_s : float or None
        Length of the record [s].
    level : float or None
        Rms of the fundamental [unit].
    floor : float or None
        Density under it, white over the lowest orders [unit/√Hz]; a tenth of its power more is
        left to the converter.
    between_hz : (float, float)
        The two frequencies [Hz].
    error : float
        Largest chance of a wrong answer, 0 … 0.5.
    unit : str
        Of level and floor.

    Raises
    ------
    InputError
        Neither a length nor level and floor; values that are not above zero; equal frequencies.

    Validity: one sine at the phase that hides best, and frequencies known to be one of two. With
    five free harmonics a third of the contrast is left in one cycle; examine expects harmonics
    to fall with their order, and then reaches what is planned.
    """
    rules.positive("tell-mains", duration_s, level, floor, *between_hz)
    if not 0.0 < error < 0.5:
        raise InputError(f"{error:g} is no chance of an error", advice="Give 0.01 for 1 %.")
    if between_hz[0] == between_hz[1]:
        raise InputError("the two mains frequencies are the same", advice="Give 50 Hz and 60 Hz.")
    enough = None
    noise = floor * sqrt(1.0 + rules.CONVERTER_SHARE) if floor is not None else None
    if level is not None and noise is not None:
        enough = rules.rounded_up(_shortest(between_hz, level, noise, error))
    duration_s = duration_s or enough
    if duration_s is None:
        raise InputError(
            "tell-mains needs a length, or a level and a floor",
            advice="Try --duration 20ms, or --level '1 mV' --floor '1 µV/√Hz'.",
        )
    contrasts = tuple(
        _contrast(name, between_hz, duration_s, terms, level, noise, error)
        for terms, name in enumerate(UNKNOWN)
    )
    rate = 2.0 * HIGHEST_HZ
    step = rules.quiet_step(floor, rate) if floor else None
    return TellMainsPlan(
        recording=rules.recording(duration_s, rate, step=step, level=level, floor=floor),
        unit=unit,
        between_hz=between_hz,
        error=error,
        contrasts=contrasts,
        level=level,
        floor=floor,
        enough_s=enough,
        assumptions=(
            "One sine at the phase that hides best; other phases tell more.",
            f"It is either {between_hz[0]:g} or {between_hz[1]:g} Hz, give or take what the grid"
            " wanders.",
            f"The rate lets the noise be told from harmonics, up to {HIGHEST_HZ / 1e3:g} kHz.",
            "Harmonics fall with their order, as on a supply; were they free, they would hide the"
            " difference further.",
        ),
    )


def _contrast(
    name: str,
    between_hz: tuple[float, float],
    duration_s: float,
    terms: int,
    level: float | None,
    floor: float | None,
    error: float,
) -> Contrast:
    worst, mean = separation(*between_hz, duration_s, nuisance=terms)
    worst = max(worst, 1e-12)
    rho = needed_rho(worst, error)
    least = chance = None
    if floor is not None:
        sigma = float(amplitude_bound(floor**2, duration_s))
        least = rho * sigma / sqrt(2.0)
        if level is not None:
            chance = float(ndtr(-0.5 * worst * sqrt(2.0) * level / sigma))
    return Contrast(name, worst, mean, 20.0 * log10(rho), least, chance)


def _shortest(between_hz: tuple[float, float], level: float, floor: float, error: float) -> float:
    """Return the length from which on the hum is strong enough, with offset and slope unknown."""
    apart = abs(between_hz[0] - between_hz[1])
    lengths = np.arange(2, _FINEST + 1) / (100.0 * apart)
    needed = np.array(
        [needed_rho(max(separation(*between_hz, t, nuisance=2, samples=1000)[0], 1e-12), error)
         for t in lengths]
    )  # fmt: skip
    enough = level * np.sqrt(2.0 * lengths) / floor >= needed
    if enough[-1]:
        # The contrast ripples with length: take the first length after the last that fails.
        failing = np.flatnonzero(~enough)
        return float(lengths[failing[-1] + 1 if len(failing) else 0])
    # Beyond one cycle of difference nothing is hidden any more.
    return max(float(lengths[-1]), 0.5 * (needed_rho(1.0, error) * floor / level) ** 2)
