"""What a plan says: how to record, and what that recording will tell."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Recording:
    """How to record.

    Parameters
    ----------
    duration_s : float
        Least length [s].
    rate_hz : float
        Least rate [samples/s].
    repeats : int
        How many recordings.
    step : float or None
        Coarsest step of the converter [unit]; None where the floor is not known.
    span : float or None
        Least span from the lowest to the highest code [unit], for the mains or frame alone.
    bits : int or None
        Fewest bits for this span and step.
    """

    duration_s: float
    rate_hz: float
    repeats: int = 1
    step: float | None = None
    span: float | None = None
    bits: int | None = None


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A recording that answers a question.

    Parameters
    ----------
    recording : Recording
    unit : str
        Of levels, steps and spans.
    assumptions : tuple of str
        All that was taken for granted.
    cautions : tuple of str
        What can spoil it.
    """

    recording: Recording
    unit: str = "V"
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Contrast:
    """How well one mains frequency is told from another while something else is unknown.

    Parameters
    ----------
    unknown : str
        "nothing", "offset" or "offset and slope".
    worst, mean : float
        What the wrong frequency's best fit leaves, rms over that of the wave: at the phase that
        hides best, and over all phases.
    rho_db : float
        How far the wave must stand above its floor, A/√(S/T) [dB].
    least_rms : float or None
        The weakest hum that does [unit]; None where no floor is given.
    error : float or None
        Chance of a wrong answer at the level that was given; None where there is none.
    """

    unknown: str
    worst: float
    mean: float
    rho_db: float
    least_rms: float | None
    error: float | None


@dataclass(frozen=True, kw_only=True)
class TellMainsPlan(Plan):
    """Which of two mains frequencies it is.

    Parameters
    ----------
    between_hz : (float, float)
        True one first [Hz].
    error : float
        Largest chance of a wrong answer that is accepted.
    contrasts : tuple of Contrast
        With nothing, an offset, and an offset and a slope unknown.
    level, floor : float or None
        Rms of the hum [unit] and density [unit/√Hz], as given.
    enough_s : float or None
        The length from which on the chance is small enough [s]; None without level and floor.
    """

    between_hz: tuple[float, float]
    error: float
    contrasts: tuple[Contrast, ...]
    level: float | None = None
    floor: float | None = None
    enough_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class HumPlan(Plan):
    """How much hum there is.

    Parameters
    ----------
    frequency_hz : float
        Of the line [Hz].
    level, floor : float
        Its rms [unit] and the density under it [unit/√Hz].
    within : float
        Share of the level that the reading may be off.
    coverage : float
        How often it is within.
    share : float
        What the floor leaves of it: half-width at that coverage, over the level.
    rho_db : float
        How far the line stands above its floor [dB].
    breathing_db : float
        How much the hum changes from capture to capture, standard deviation [dB].
    usual_repeats : int
        Captures for the usual level to be within the same share.
    """

    frequency_hz: float
    level: float
    floor: float
    within: float
    coverage: float
    share: float
    rho_db: float
    breathing_db: float
    usual_repeats: int


@dataclass(frozen=True, kw_only=True)
class SeparatePlan(Plan):
    """Whether two lines are two.

    Parameters
    ----------
    rates_hz : (float, float)
        [Hz].
    resolved_s : float
        From here on they make two peaks [s].
    seen_s : float or None
        From here on the weaker one is seen [s]; None where no floor is given.
    sigmas_s : float or None
        From here on they are so many standard uncertainties apart [s].
    sigmas : float
        How many were asked for.
    reached : float or None
        How many the recording gives.
    """

    rates_hz: tuple[float, float]
    resolved_s: float
    seen_s: float | None
    sigmas_s: float | None
    sigmas: float
    reached: float | None


@dataclass(frozen=True, kw_only=True)
class FramePlan(Plan):
    """Whether something repeats at a rate.

    Parameters
    ----------
    frame_hz : float
        Rate of repetition [Hz].
    line : float
        Rms of its strongest line [unit].
    floor : float
        Density under it [unit/√Hz].
    threshold_db : float
        P·T/S that it takes [dB], P the power of the line.
    false_alarm, probability : float
        Chance that a bare floor shows a line, per record, and that this line is seen.
    u_hz : float
        Standard uncertainty of the rate that results [Hz].
    """

    frame_hz: float
    line: float
    floor: float
    threshold_db: float
    false_alarm: float
    probability: float
    u_hz: float


@dataclass(frozen=True)
class Verdict:
    """Whether a recording answers a question.

    Parameters
    ----------
    question : str
        "tell-mains", "hum", "separate" or "frame".
    asked : str
        The question in words.
    answerable : bool
    why : str
        One sentence with the numbers.
    least : float or None
        The weakest mains or frame for which it holds, rms [unit].
    least_hz : float or None
        The smallest distance of two lines for which it holds [Hz].
    """

    question: str
    asked: str
    answerable: bool
    why: str
    least: float | None = None
    least_hz: float | None = None
