"""Whether two rates are two: how long to record until they stand apart."""

from __future__ import annotations

from math import sqrt
from typing import Final

import numpy as np
from scipy.linalg import inv

from straypath.contents.plan import rules
from straypath.contents.plan.records import SeparatePlan
from straypath.errors import InputError
from straypath.wording import NARROW, number

SIGMAS: Final = 5.0
DRIFT_HZ_PER_S: Final = 1e-3
"""A quiet grid's drift (common practice, no source; good to a factor of three)."""
_NEAR_MAINS = 2e-3
_PHASES = 24
_FAR_APART = 40.0
"""Lines this many 1/T apart no longer disturb each other's frequency by a hundredth."""


def difference_bound_hz(
    spacing_hz: float, rhos: tuple[float, float], duration_s: float, *, samples: int = 400
) -> float:
    """Return the least standard deviation of the distance of two lines, worst relative phase.

    √(cᵀF⁻¹c) with F the Fisher matrix of both frequencies, amplitudes and phases, and c picking
    the difference; far apart it is √(σ₁² + σ₂²), each √3/(π·ρ·T).

    Parameters
    ----------
    spacing_hz : float
        [Hz].
    rhos : (float, float)
        A/√(S/T) of both.
    duration_s : float
        [s].
    samples : int
        How finely the record is cut up.

    Validity: lines that keep their level, well away from zero frequency and half the rate.

    Source: Rife and Boorstyn, Bell Syst. Tech. J. 55, 1976 (several tones; from memory).
    """
    if spacing_hz * duration_s > _FAR_APART:
        return sqrt(sum((sqrt(3.0) / (np.pi * rho * duration_s)) ** 2 for rho in rhos))
    u = (np.arange(samples) + 0.5) / samples - 0.5
    worst = 0.0
    for phase in np.pi * np.arange(_PHASES) / _PHASES:
        turn = np.pi * spacing_hz * duration_s * u
        columns = []
        for rho, angle in zip(rhos, (-turn, turn + phase), strict=True):
            wave = np.exp(1j * angle)
            columns += [2j * np.pi * duration_s * u * rho * wave, wave, 1j * rho * wave]
        jacobian = np.stack(columns, axis=1) / sqrt(samples)
        scale = np.linalg.norm(jacobian, axis=0)
        information = (jacobian / scale).conj().T @ (jacobian / scale)
        variance = inv(information.real) / np.outer(scale, scale)
        worst = max(worst, float(variance[0, 0] + variance[3, 3] - 2.0 * variance[0, 3]))
    return sqrt(worst)


def plan_separate(
    first_hz: float,
    second_hz: float,
    *,
    levels: tuple[float, float] | None = None,
    floor: float | None = None,
    sigmas: float = SIGMAS,
    unit: str = "V",
) -> SeparatePlan:
    """Return the recording that shows two rates apart.

    The longest of three: two peaks, T = 2/Δf; the weaker line seen, P·T/S at the threshold; and
    Δf so many standard uncertainties of their distance.

    Parameters
    ----------
    first_hz, second_hz : float
        [Hz].
    levels : (float, float) or None
        Rms of both [unit].
    floor : float or None
        Density under them [unit/√Hz].
    sigmas : float
        How many standard uncertainties apart.
    unit : str
        Of levels and floor.

    Raises
    ------
    InputError
        Equal rates; values that are not above zero; a floor without levels or the reverse.

    Validity: both rates hold still for the record; else they smear, see the cautions.
    """
    rules.positive("separate", first_hz, second_hz, floor, sigmas, *(levels or ()))
    spacing = abs(first_hz - second_hz)
    if spacing == 0.0:
        raise InputError("the two rates are the same", advice="No record can tell them apart.")
    if (levels is None) != (floor is None):
        raise InputError(
            "level and floor go together",
            where="separate",
            advice="Give both, such as --level '1 mV' --floor '1 µV/√Hz'.",
        )
    rate = rules.RATE_OVER_FREQUENCY * max(first_hz, second_hz)
    resolved = rules.PEAKS_APART / spacing
    duration, seen, told, reached = resolved, None, None, None
    if levels is not None and floor is not None:
        noise = sqrt(1.0 + rules.CONVERTER_SHARE) * floor
        seen, _ = rules.needed_length_s(min(levels) ** 2, noise, rate)
        told = _told_s(spacing, levels, noise, sigmas, resolved)
        duration = max(resolved, seen, told)
        duration = rules.rounded_up(duration)
        reached = spacing / difference_bound_hz(spacing, _rhos(levels, noise, duration), duration)
    step = rules.quiet_step(floor, rate) if floor else None
    largest = sqrt(levels[0] ** 2 + levels[1] ** 2) if levels else None
    return SeparatePlan(
        recording=rules.recording(duration, rate, step=step, level=largest, floor=floor),
        unit=unit,
        rates_hz=(first_hz, second_hz),
        resolved_s=resolved,
        seen_s=seen,
        sigmas_s=told,
        sigmas=sigmas,
        reached=reached,
        assumptions=(
            "Both rates hold still for the record.",
            "Noise above half the rate is filtered off ahead of the converter.",
            f"The recorder's clock shifts both alike: 25 ppm of {_hertz(max(first_hz, second_hz))}"
            f" are {number(25e-3 * max(first_hz, second_hz), 2)} mHz.",
        ),
        cautions=_cautions((first_hz, second_hz), duration),
    )


def _rhos(levels: tuple[float, float], floor: float, duration_s: float) -> tuple[float, float]:
    first, second = (level * sqrt(2.0 * duration_s) / floor for level in levels)
    return first, second


def _told_s(
    spacing: float, levels: tuple[float, float], floor: float, sigmas: float, from_s: float
) -> float:
    """Return the shortest T from `from_s` on at which the distance is so many uncertainties."""

    def short(duration: float) -> bool:
        bound = difference_bound_hz(spacing, _rhos(levels, floor, duration), duration)
        return sigmas * bound > spacing

    if not short(from_s):
        return from_s
    low, high = from_s, 2.0 * from_s
    while short(high):
        low, high = high, 2.0 * high
        if high > 2.0 * rules.LONGEST_S:
            return high
    while high / low > 1.01:
        middle = sqrt(low * high)
        low, high = (middle, high) if short(middle) else (low, middle)
    return high


def _cautions(rates_hz: tuple[float, float], duration_s: float) -> tuple[str, ...]:
    """Say which rate may be a mains order, and how long that stays one line."""
    for rate in rates_hz:
        for mains in (50.0, 60.0):
            order = round(rate / mains)
            if order < 1 or abs(rate / order - mains) > _NEAR_MAINS * mains:
                continue
            still = 1.0 / sqrt(order * DRIFT_HZ_PER_S)
            text = (
                f"{_hertz(rate)} may be order {order} of {mains:g}{NARROW}Hz mains. A quiet grid"
                f" drifts by 1 mHz in a second, so that this order stays one line for"
                f" {number(still, 2)} s."
            )
            if duration_s > still:
                text += " This record is longer: what holds still and what follows the mains tells."
            return (text,)
    return ()


def _hertz(rate: float) -> str:
    return f"{number(rate, 6)}{NARROW}Hz"
