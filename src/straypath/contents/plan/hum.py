"""How much hum there is: how long to record for a reading that is within so many per cent."""

from __future__ import annotations

from math import log10, sqrt
from typing import Final

from scipy.special import stdtrit

from straypath.contents.bounds import amplitude_bound, level_bound_db
from straypath.contents.plan import rules
from straypath.contents.plan.records import HumPlan
from straypath.errors import InputError

COVERAGE: Final = 0.95
CYCLES: Final = 5.0
"""Fewest cycles: from here on the intervals of examine hold as often as they say."""

RATE_OVER_MAINS: Final = 20.0
"""Least rate over the mains frequency: the first orders and the floor between them show."""

RESOLVED: Final = 10.0
"""A/√(S/T) from which on a search never picks a wrong frequency (20 dB): the mains frequency
must be found before anything is read at it."""

BREATHING_DB: Final = 1.5
"""How much hum changes from capture to capture (standard deviation; common practice, no source)."""

_MOST_REPEATS = 100_000


def plan_hum(
    level: float,
    floor: float,
    within: float,
    *,
    mains_hz: float = 50.0,
    order: int = 1,
    step: float | None = None,
    breathing_db: float = BREATHING_DB,
    unit: str = "V",
) -> HumPlan:
    """Return the recording that measures one mains line within a share of itself.

    T = 1.1·(z·N/(p·A))², at least five cycles and ρ ≥ 20 dB; N²  the noise density, A the peak,
    z = 1.96. The factor 1.1 leaves a tenth of the noise power to the converter.

    Parameters
    ----------
    level : float
        Rms of the line [unit].
    floor : float
        Density under it [unit/√Hz].
    within : float
        p, the share of the level that the reading may be off, 0 … 0.5.
    mains_hz : float
        [Hz].
    order : int
        Which order of the mains.
    step : float or None
        Of a converter that is given [unit]; its noise then counts with the floor.
    breathing_db : float
        Standard deviation of the hum from capture to capture [dB].
    unit : str
        Of level and floor.

    Raises
    ------
    InputError
        Values that are not above zero, or a share above one half.

    Validity: a line that keeps level and frequency while it is recorded, in Gaussian noise.

    Source: the bound of an amplitude, see `contents.bounds.amplitude_bound`.
    """
    rules.positive("hum", level, floor, within, mains_hz, breathing_db, step, float(order))
    if within > 0.5:
        raise InputError(
            f"a reading within {100 * within:g} % is hardly one",
            advice="Ask for 50 % or less; for 'is there any', plan a frame at the mains frequency.",
        )
    frequency = order * mains_hz
    rate = rules.rounded_up(max(rules.RATE_OVER_FREQUENCY * frequency, RATE_OVER_MAINS * mains_hz))
    amplitude = sqrt(2.0) * level
    coarsest = max(rules.sine_step(level, within), rules.quiet_step(floor, rate))
    noise = _noise(floor, step, rate)
    rho = max(rules.deviations(COVERAGE) / within, RESOLVED)
    duration = rules.rounded_up(max((rho / amplitude) ** 2 * noise, CYCLES / mains_hz))
    sigma = float(amplitude_bound(noise, duration))
    reached_db = 20.0 * log10(amplitude / sigma)
    return HumPlan(
        recording=rules.recording(duration, rate, step=step or coarsest, level=level, floor=floor),
        unit=unit,
        frequency_hz=frequency,
        level=level,
        floor=floor,
        within=within,
        coverage=COVERAGE,
        share=rules.deviations(COVERAGE) * sigma / amplitude,
        rho_db=reached_db,
        breathing_db=breathing_db,
        usual_repeats=_repeats(within, breathing_db, float(level_bound_db(reached_db))),
        assumptions=(
            "Noise above half the rate is filtered off ahead of the converter, else it folds and"
            " raises the floor.",
            "The span is twice what hum and noise need; a larger signal needs more.",
            "The input's gain is exact; its error comes on top.",
            f"From capture to capture the hum changes by {breathing_db:g} dB (standard deviation).",
        ),
        cautions=_cautions(step, coarsest, duration),
    )


def _noise(floor: float, step: float | None, rate_hz: float) -> float:
    """Return the noise density with the converter's part [unit²/Hz]."""
    if step is None:
        return (1.0 + rules.CONVERTER_SHARE) * floor**2
    return floor**2 + rules.rounding_density(step, rate_hz) ** 2


def _cautions(step: float | None, coarsest: float, duration_s: float) -> tuple[str, ...]:
    cautions = []
    if step is not None and step > coarsest:
        cautions.append(
            "The steps are too coarse for this hum and too coarse for the noise to smooth: the"
            " reading may be off by more. Use a smaller range, or average less.",
        )
    if duration_s > 60.0:
        cautions.append(
            "Over more than a minute the hum itself moves; the reading is its mean over the record."
        )
    return tuple(cautions)


def _repeats(within: float, breathing_db: float, measured_db: float) -> int:
    """Return how many captures pin their mean level: t(n − 1)·s/√n ≤ 20·log10(1 + p)."""
    wanted = 20.0 * log10(1.0 + within)
    spread = sqrt(breathing_db**2 + measured_db**2)
    low, high = 1, _MOST_REPEATS
    while high - low > 1:  # the left side falls with n
        middle = (low + high) // 2
        student = float(stdtrit(middle - 1, 0.5 + 0.5 * COVERAGE))
        low, high = (low, middle) if student * spread <= wanted * sqrt(middle) else (middle, high)
    return high
