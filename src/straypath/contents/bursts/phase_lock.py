"""Whether bursts keep to phases of the mains: circular statistics."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.arrays import ComplexArray, FloatArray

# Moments tried: 1 per cycle (half-wave), 2 (dimmers, full-wave), 6 (six-pulse), and in between
# for phases that are not evenly spaced.
MOMENTS = (1, 2, 3, 4, 5, 6)
LOCKED = 1e-3
# A drift of the phases must be this sure, and turn them this far over the record, to count.
DRIFTS = 1e-3
DRIFT_RAD = 0.3
FEWEST_FOR_DRIFT = 4
# Steps of the search for a drift, per turn over the record, and its reach in turns.
STEPS_PER_TURN = 8
MOST_TURNS = 8
# A moment this near the strongest is as good, and the lowest of those counts the phases.
AS_STRONG = 0.8
# Phases further apart than this are two; a group with less than this share is a stray.
APART_RAD = np.pi / 12
STRAY_SHARE = 0.05
FREQUENCY_BASE_S = 1e-3


@dataclass(frozen=True)
class PhaseLock:
    """How bursts lie in the mains cycle.

    Parameters
    ----------
    p_value : float
        Chance that bursts without any tie to the mains gather so.
    locked : bool
    per_cycle : int or None
        Phases that they keep to, when locked.
    words : str
        The test and its verdict.
    """

    p_value: float
    locked: bool
    per_cycle: int | None
    words: str


def rayleigh_p(count: float, resultant: float) -> float:
    """Return the chance that random directions have a mean resultant this long.

    p = exp(√(1 + 4n + 4(n² - (n r)²)) - (1 + 2n))

    Parameters
    ----------
    count : float
        Number n of directions.
    resultant : float
        Length r of their mean vector, 0 … 1.

    Validity: three decimals for n ≥ 10; for fewer up to 15 % low near 0.1, and too high far out.

    Example
    -------
    >>> round(rayleigh_p(10, 0.5), 3)
    0.079

    References
    ----------
    Greenwood and Durand 1955, as in Zar, Biostatistical Analysis, chapter on circular
    distributions; Mardia and Jupp, Directional Statistics, section 6.3 (all from memory).
    """
    n = float(count)
    root = np.sqrt(1 + 4 * n + 4 * n**2 * (1 - min(1.0, resultant) ** 2))
    return float(min(1.0, np.exp(root - (1 + 2 * n))))


def phase_lock(
    times_s: FloatArray, mains_phase: Callable[[float], float], duration_s: float
) -> PhaseLock:
    """Test whether bursts keep to phases of the mains.

    z_c = mean of e^{jmφ} over the bursts of mains cycle c; Rayleigh's test on the mean of z_c,
    for m = 1 … 6 with p times 6. Bursts of one cycle count once: a train of clicks is one event.
    Then the phases are tried with a steady drift: a rate close to a mains multiple drifts.

    Parameters
    ----------
    times_s : array, shape (n,)
        Middles of the bursts from the first sample [s], n ≥ 2.
    mains_phase : callable
        Phase of mains order 1 at a time [rad], wrapped or not.
    duration_s : float
        Length of the record [s].

    Validity: cycles independent of each other. A source whose rate is off a mains multiple by
    so little that its phase turns by less than the limit in `words` looks locked.

    Example
    -------
    >>> firing = np.arange(40) * 0.01 + 0.003
    >>> lock = phase_lock(firing, lambda t: 2 * np.pi * 50 * t, 0.4)
    >>> lock.locked, lock.per_cycle
    (True, 2)

    References
    ----------
    Mardia and Jupp, Directional Statistics, 2000: trigonometric moments, Rayleigh test (from
    memory). Counting a cycle once, and the drift test, are our own.
    """
    phase = np.array([mains_phase(float(t)) for t in times_s])
    cycle = _cycles(times_s, phase, mains_phase)
    used = np.unique(cycle)
    moments = {m: _per_cycle(np.exp(1j * m * phase), cycle) for m in MOMENTS}
    length = {m: float(np.abs(np.mean(z))) for m, z in moments.items()}
    single = {m: rayleigh_p(len(used), r) for m, r in length.items()}
    p = min(1.0, len(MOMENTS) * min(single.values()))
    strongest = max(length.values())
    m = next(m for m in MOMENTS if length[m] >= AS_STRONG * strongest)
    test = (
        f"Rayleigh test on moments 1 to 6 of the mains phase over {len(used)} cycles with bursts, "
        f"p times 6; strongest moment {m}, resultant {length[m]:.2f}"
    )
    if p >= LOCKED:
        return PhaseLock(p, False, None, f"{test}; no tie to the mains shown")
    middles = _per_cycle(times_s.astype(np.complex128), cycle).real
    drift_hz, u_hz = _drift(moments[m], middles, duration_s)
    turn = 2 * np.pi * drift_hz * duration_s
    sure = abs(drift_hz) > u_hz * float(stats.t.isf(DRIFTS / 2, max(1, len(used) - 2)))
    if len(used) >= FEWEST_FOR_DRIFT and sure and abs(turn) > DRIFT_RAD:
        words = f"{test}; the phase drifts by {turn:+.2f} rad over the record: not locked"
        return PhaseLock(p, False, None, words)
    blind_hz = max(DRIFT_RAD / (2 * np.pi * duration_s), 3.3 * u_hz)
    words = f"{test}; a rate within {blind_hz:.2g} Hz of a mains multiple would look the same"
    return PhaseLock(p, True, _phases_kept(phase, m), words)


def _cycles(
    times_s: FloatArray, phase: FloatArray, mains_phase: Callable[[float], float]
) -> FloatArray:
    """Number of the mains cycle that each burst lies in, whether or not phases are wrapped."""
    t0 = float(times_s[0])
    step = mains_phase(t0 + FREQUENCY_BASE_S) - phase[0]
    rate = (step + np.pi) % (2 * np.pi) - np.pi
    expected = phase[0] + rate / FREQUENCY_BASE_S * (times_s - t0)
    whole = phase + 2 * np.pi * np.round((expected - phase) / (2 * np.pi))
    return np.asarray(np.floor(whole / (2 * np.pi)))


def _per_cycle(values: ComplexArray, cycle: FloatArray) -> ComplexArray:
    """Mean of the values within each cycle."""
    _, which, count = np.unique(cycle, return_inverse=True, return_counts=True)
    real = np.bincount(which, values.real)
    imaginary = np.bincount(which, values.imag)
    return np.asarray((real + 1j * imaginary) / count)


def _drift(z: ComplexArray, times_s: FloatArray, duration_s: float) -> tuple[float, float]:
    """Rate at which the phase of z turns [Hz], and its standard uncertainty.

    The rate with the longest resultant starts a straight line through the remaining phases.
    """
    t = times_s - times_s.mean()
    tries = np.arange(-MOST_TURNS * STEPS_PER_TURN, MOST_TURNS * STEPS_PER_TURN + 1)
    rates = tries / (STEPS_PER_TURN * duration_s)
    turned = np.abs(np.exp(-2j * np.pi * np.outer(rates, t)) @ z)
    # Among equals the slowest.
    start = float(rates[np.argmax(turned - 1e-9 * np.abs(tries))])
    left = z * np.exp(-2j * np.pi * start * t)
    angle = np.angle(left * np.conj(left.mean()))
    spread = float(t @ t)
    if spread == 0.0 or len(t) < FEWEST_FOR_DRIFT:
        return 0.0, np.inf
    slope = float(t @ angle) / spread
    rest = angle - angle.mean() - slope * t
    u = float(np.sqrt(rest @ rest / (len(t) - 2) / spread))
    return start + slope / (2 * np.pi), u / (2 * np.pi)


def _phases_kept(phase: FloatArray, moment: int) -> int:
    """How many phases hold the bursts: groups along the circle, or the moment if they blur."""
    around = np.sort(phase % (2 * np.pi))
    gaps = np.diff(np.concatenate([around, [around[0] + 2 * np.pi]]))
    breaks = np.flatnonzero(gaps > APART_RAD)
    if len(breaks) < 2:
        return 1 if len(breaks) == 1 and moment == 1 else moment
    sizes = np.diff(np.concatenate([breaks, [breaks[0] + len(around)]]))
    groups = int(np.count_nonzero(sizes >= STRAY_SHARE * len(around)))
    wide = float(np.sum(gaps[gaps <= APART_RAD]))
    return groups if groups and wide < np.pi and groups <= 2 * max(MOMENTS) else moment
