"""From time stamps to one rate, and what the stamps say about gaps and jitter."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.capture import Gap, Stamps
from straypath.errors import DamagedFile

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BLOCK = 1 << 16  # fits the cache, so that the passes below cost little
_MOST_GAPS = 1000
_LARGEST = 1e100  # seconds; anything beyond, or NaN, is no time


def even_grid(
    times_s: NDArray[np.float64], resolution_s: float, where: str = ""
) -> tuple[float, Stamps]:
    """Return the sample interval [s] that fits the stamps best, and how well it does.

    t_i = t_seg + i · dt, least squares over dt and one start t_seg per stretch between gaps.

    Parameters
    ----------
    times_s : array, shape (n,)
        One stamp per sample [s].
    resolution_s : float
        Smallest step in which the stamps are written [s].
    where : str
        Path for messages.

    Errors
    ------
    DamagedFile when a stamp is missing or time does not run forward.

    Validity: a gap is a step of more than 1.5 intervals (and more than the resolution can
    feign); a lone missing sample in a record whose stamps jitter by half an interval is not
    told from jitter.
    """
    first, last = float(times_s[0]), float(times_s[-1])
    if not (abs(first) < _LARGEST and abs(last) < _LARGEST):
        raise DamagedFile("the time column has holes", where=where, advice=_FIX)
    usual = _usual_step(times_s, resolution_s, where)
    threshold = max(1.5 * usual, usual + 1.01 * resolution_s) + 4 * np.spacing(abs(last))
    edges, backwards = _scan(times_s, threshold, where)
    missing = times_s[edges] - times_s[edges - 1]
    if len(edges) > _MOST_GAPS:  # closed with the usual step: one stretch instead of thousands
        closed = np.zeros(len(times_s))
        closed[edges] = missing - usual
        times_s, bounds = times_s - np.cumsum(closed), [0, len(times_s)]
    else:
        bounds = [0, *(int(e) for e in edges), len(times_s)]
    interval = _slope(times_s, bounds) or usual
    if interval <= 0:
        raise DamagedFile("the time column does not run forward", where=where, advice=_FIX)
    worst = max(_spread(times_s[a:b], interval) for a, b in pairwise(bounds))
    gaps = tuple(
        Gap(int(i), float(m) - interval) for i, m in zip(edges[:_MOST_GAPS], missing, strict=False)
    )
    return interval, Stamps(worst, resolution_s, gaps, backwards)


_FIX = "Repair or remove the time column, or give the rate (--rate, rate_hz)."


def _usual_step(times_s: NDArray[np.float64], resolution_s: float, where: str) -> float:
    """Return a first guess of the interval that gaps cannot spoil."""
    n = len(times_s)
    places = (0,) if n <= 4 * _BLOCK else np.linspace(0, n - _BLOCK, 4).astype(int)
    length = n if n <= 4 * _BLOCK else _BLOCK  # a look at four places is enough for a guess
    with np.errstate(over="ignore", invalid="ignore"):
        steps = np.concatenate([np.diff(times_s[i : i + length]) for i in places])
    if not np.all(np.abs(steps) < _LARGEST):
        raise DamagedFile("the time column has holes", where=where, advice=_FIX)
    usual = float(np.median(steps))
    if usual <= 2 * resolution_s:  # coarse stamps stand still and jump: only a mean tells
        usual = float(steps[steps <= np.percentile(steps, 99.9)].mean())
    usual = usual if usual > 0 else (float(times_s[-1]) - float(times_s[0])) / (n - 1)
    if not (usual > 0 and math.isfinite(usual)):
        raise DamagedFile("the time column does not run forward", where=where, advice=_FIX)
    return usual


def _scan(
    times_s: NDArray[np.float64], threshold: float, where: str
) -> tuple[NDArray[np.intp], int]:
    """Return the samples before which a gap lies, and how often time does not advance."""
    edges: list[NDArray[np.intp]] = [np.empty(0, np.intp)]
    backwards = 0
    for start in range(0, len(times_s) - 1, _BLOCK):
        with np.errstate(over="ignore", invalid="ignore"):
            steps = np.diff(times_s[start : start + _BLOCK + 1])
            low, high = float(steps.min()), float(steps.max())
        if not (abs(low) < _LARGEST and abs(high) < _LARGEST):
            raise DamagedFile("the time column has holes", where=where, advice=_FIX)
        if high > threshold:
            edges.append(np.flatnonzero(steps > threshold) + start + 1)
        if low <= 0:
            backwards += int(np.count_nonzero(steps <= 0))
    return np.concatenate(edges), backwards


def _slope(times_s: NDArray[np.float64], bounds: list[int]) -> float:
    """Return the least-squares interval common to all stretches; 0 when they are too short."""
    along = weight = 0.0
    for a, b in pairwise(bounds):
        length = b - a
        if length < 2:
            continue
        origin, middle = float(times_s[a]), (length - 1) / 2
        for start in range(0, length, _BLOCK):
            part = times_s[a + start : min(a + start + _BLOCK, b)] - origin
            # einsum stays on this thread, where a dot product would wake all of BLAS's.
            ramped = float(np.einsum("i,i->", _RAMP[: len(part)], part))
            along += ramped + (start - middle) * float(part.sum())
        weight += length * (length * length - 1) / 12
    return along / weight if weight else 0.0


_RAMP = np.arange(_BLOCK, dtype=np.float64)


def _spread(times_s: NDArray[np.float64], interval: float) -> float:
    """Return the largest distance from an even grid laid midway through one stretch [s]."""
    low, high = math.inf, -math.inf
    origin, even = float(times_s[0]), _RAMP * interval
    for start in range(0, len(times_s), _BLOCK):
        part = times_s[start : start + _BLOCK] - (origin + start * interval)
        part -= even[: len(part)]
        low, high = min(low, float(part.min())), max(high, float(part.max()))
    return (high - low) / 2


def tidy_rate(rate_hz: float) -> float:
    """Return the rate without the last digits that only rounding has put there."""
    return float(f"{rate_hz:.10g}")
