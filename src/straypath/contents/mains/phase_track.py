"""How the phase of the mains moved: one track that all orders share.

Order k turns k times as far as order 1, so every visible order is a reading of one phase.
The track is smoothed with a random-walk frequency, as strongly as the data ask for; a supply
that does not wander beyond its noise gets a straight line, which reaches the Cramér–Rao bound.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import linalg
from scipy.interpolate import CubicSpline

if TYPE_CHECKING:
    from straypath.arrays import FloatArray

# Twice the gain in log likelihood that wander must bring: chance below 1 % without wander.
WANDER_MUST_GAIN = 6.0
MOST_NODES = 2048
SCATTER_FACTOR = 3.0


@dataclass(frozen=True)
class Track:
    """Smoothed phase of order 1.

    Parameters
    ----------
    phase_rad : array, shape (n,)
        Against the reference frequency [rad].
    frequency_hz : float
        Mean departure from the reference, phase advance / 2π T [Hz].
    frequency_u_hz : float
        [Hz].
    variance : float
        Mean variance of the phase about the mean phase [rad²].
    centre_variance : float
        Variance of (phase at the centre - mean phase) [rad²]; zero for a straight line.
    wanders : bool
    """

    phase_rad: FloatArray
    frequency_hz: float
    frequency_u_hz: float
    variance: float
    centre_variance: float
    wanders: bool


def straight(phase_rad: FloatArray, variance: float, times_s: FloatArray) -> Track:
    """Fit a straight line: Var(f) = r / (4π² Σ (t - mean t)²)."""
    t = times_s - times_s.mean()
    spread = float(t @ t)
    slope = float(t @ phase_rad) / spread
    line = phase_rad.mean() + slope * t
    u = float(np.sqrt(variance / spread) / (2 * np.pi))
    return Track(line, slope / (2 * np.pi), u, variance / len(t), 0.0, wanders=False)


def smooth(phase_rad: FloatArray, variance: float, times_s: FloatArray) -> Track:
    """Smooth block phases of known variance; evenly spaced times.

    Model: phase = track + noise of variance r, second differences of the track of variance s.
    s maximises the likelihood of the second differences, N(0, s I + r D Dᵀ); s = 0 unless that
    gains enough. Of very many blocks, several are taken together and the track drawn between.
    """
    together = len(phase_rad) // MOST_NODES + 1
    if together > 1:
        nodes = len(phase_rad) // together
        cut = [
            a[: nodes * together].reshape(nodes, together).mean(axis=1)
            for a in (phase_rad, times_s)
        ]
        track = smooth(cut[0], variance / together, cut[1])
        if not track.wanders:
            return straight(phase_rad, variance, times_s)
        drawn = CubicSpline(cut[1], track.phase_rad)(times_s)
        return replace(track, phase_rad=np.asarray(drawn))
    n = len(phase_rad)
    flat = straight(phase_rad, variance, times_s)
    if n < 8:
        return flat
    second = np.diff(phase_rad, 2)
    still, _ = _log_likelihood(second, 0.0, variance)
    best = _best_ratio(second, variance, 10.0 ** np.arange(-9.0, 9.1, 1.5))
    if 2 * (_log_likelihood(second, best, variance)[0] - still) < WANDER_MUST_GAIN:
        return flat
    best = _best_ratio(second, variance, best * 10.0 ** np.arange(-1.0, 1.1, 0.25))
    _, scatter = _log_likelihood(second, best, variance)
    return _smoothed(phase_rad, scatter, times_s, best)


def _best_ratio(second: FloatArray, variance: float, ratios: FloatArray) -> float:
    gains = [_log_likelihood(second, float(q), variance)[0] for q in ratios]
    return float(ratios[int(np.argmax(gains))])


def _log_likelihood(second: FloatArray, ratio: float, variance: float) -> tuple[float, float]:
    """Return (log likelihood of second differences for s = ratio · r, the r that it takes).

    r is the variance that the floor explains or, where the phases scatter more (an unsteady
    line, a floor with bursts), the larger one that fits best: scatter is no wander. More scatter
    by a factor of three counts as one standard deviation against it.
    """
    n = len(second)
    bands = np.zeros((3, n))
    bands[2] = 6.0 + ratio
    bands[1, 1:] = -4.0
    bands[0, 2:] = 1.0
    factor = linalg.cholesky_banded(bands)
    square = float(second @ linalg.cho_solve_banded((factor, False), second))
    scatter = max(variance, square / n)
    strange = np.log(scatter / variance) / np.log(SCATTER_FACTOR)
    log_likelihood = -np.sum(np.log(factor[-1])) - 0.5 * n * np.log(scatter) - 0.5 * strange**2
    return float(log_likelihood - square / (2 * scatter)), scatter


def _smoothed(phase_rad: FloatArray, variance: float, times_s: FloatArray, ratio: float) -> Track:
    n = len(phase_rad)
    # Precision of the track: (I + Dᵀ D / ratio) / r, pentadiagonal.
    bands = np.zeros((3, n))
    diagonal = np.full(n, 6.0)
    diagonal[[0, -1]] = 1.0
    diagonal[[1, -2]] = 5.0
    beside = np.full(n - 1, -4.0)
    beside[[0, -1]] = -2.0
    bands[2] = 1.0 + diagonal / ratio
    bands[1, 1:] = beside / ratio
    bands[0, 2:] = 1.0 / ratio
    factor = (linalg.cholesky_banded(bands), False)
    # Phase advance over whole blocks: half a block beyond the outer centres at the mean slope of
    # the last three, for one alone may be a disturbance.
    ends = np.zeros(n)
    ends[[0, 3, -4, -1]] = (-7 / 6, 1 / 6, -1 / 6, 7 / 6)
    centre = np.full(n, -1.0 / n)
    centre[n // 2] += 1.0
    sample = np.linspace(0, n - 1, min(n, 16)).astype(int)
    probes = np.zeros((n, len(sample)))
    probes[sample, np.arange(len(sample))] = 1.0
    solved = linalg.cho_solve_banded(factor, np.column_stack([phase_rad, ends, centre, probes]))
    track = solved[:, 0]
    span = 2 * np.pi * float(times_s[-1] - times_s[0]) * n / (n - 1)
    # A walk strays from that slope: in phase by 0.44 s over half a block, at either end.
    advance_variance = variance * (float(ends @ solved[:, 1]) + 0.88 * ratio)
    return Track(
        phase_rad=track,
        frequency_hz=float(ends @ track) / span,
        frequency_u_hz=float(np.sqrt(advance_variance)) / span,
        variance=float(variance * np.mean(solved[sample, 3 + np.arange(len(sample))])),
        centre_variance=float(variance * (centre @ solved[:, 2])),
        wanders=True,
    )
