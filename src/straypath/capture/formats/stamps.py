"""From time stamps to one rate, and what the stamps say about gaps and jitter."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.capture import Gap, Stamps
from straypath.capture.formats.base import REPAIR_TIME
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

    t_i = t_seg + i · dt, least squares over dt and one start t_seg per stretch between breaks. A
    break is a gap, or a step that does not run forward.

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
    told from jitter. A clock that ticks more slowly than the samples come repeats its stamps: its
    tick then counts as the resolution. One that ticks every second sample is not told from rows
    that are doubled, and taken for these.
    """
    first, last = float(times_s[0]), float(times_s[-1])
    if not (abs(first) < _LARGEST and abs(last) < _LARGEST):
        raise DamagedFile("the time column has holes", where=where, advice=REPAIR_TIME)
    usual, resolution_s = _usual_step(times_s, resolution_s, where)
    threshold = max(1.5 * usual, usual + 1.01 * resolution_s) + 4 * np.spacing(abs(last))
    coarse = usual <= 2 * resolution_s
    slip = 1.01 * resolution_s + 4 * float(np.spacing(abs(last))) if coarse else 0.0
    edges, turns, backwards = _scan(times_s, threshold, slip, where)
    missing = times_s[edges] - times_s[edges - 1]
    breaks = np.union1d(edges, turns)
    if len(breaks) > _MOST_GAPS:  # closed with the usual step: one stretch instead of thousands
        closed = np.zeros(len(times_s))
        closed[breaks] = times_s[breaks] - times_s[breaks - 1] - usual
        times_s, bounds = times_s - np.cumsum(closed), [0, len(times_s)]
    else:
        bounds = [0, *(int(b) for b in breaks), len(times_s)]
    interval = _slope(times_s, bounds) or usual
    if interval <= 0:
        raise DamagedFile("the time column does not run forward", where=where, advice=REPAIR_TIME)
    worst = max(_spread(times_s[a:b], interval) for a, b in pairwise(bounds))
    gaps = tuple(
        Gap(int(i), float(m) - interval) for i, m in zip(edges[:_MOST_GAPS], missing, strict=False)
    )
    return interval, Stamps(worst, resolution_s, gaps, backwards, _forward(turns, len(times_s)))


def _forward(turns: NDArray[np.intp], n: int) -> tuple[int, int] | None:
    """Return the longest stretch between turns; None when there are none."""
    if not len(turns):
        return None
    bounds = np.concatenate([[0], turns, [n]])
    first = int(np.argmax(np.diff(bounds)))
    return int(bounds[first]), int(bounds[first + 1])


def _usual_step(
    times_s: NDArray[np.float64], resolution_s: float, where: str
) -> tuple[float, float]:
    """Return a first guess of the interval that gaps cannot spoil, and the tick of the clock."""
    n = len(times_s)
    places = (0,) if n <= 4 * _BLOCK else np.linspace(0, n - _BLOCK, 4).astype(int)
    length = n if n <= 4 * _BLOCK else _BLOCK  # a look at four places is enough for a guess
    with np.errstate(over="ignore", invalid="ignore"):
        steps = np.concatenate([np.diff(times_s[i : i + length]) for i in places])
    if not np.all(np.abs(steps) < _LARGEST):
        raise DamagedFile("the time column has holes", where=where, advice=REPAIR_TIME)
    usual = float(np.median(steps))
    forward = steps[steps > 0]
    if len(forward):
        tick, idle = float(np.median(forward)), np.count_nonzero(steps == 0) / len(steps)
        if idle > _HALF or (idle > _SOME and _is_clock(times_s, tick, idle)):
            resolution_s = max(resolution_s, tick)
        elif usual <= 2 * resolution_s:
            usual = tick  # rows that are doubled
    if usual <= 2 * resolution_s:  # coarse stamps stand still and jump: only a mean tells
        usual = float(steps[steps <= np.percentile(steps, 99.9)].mean())
    usual = usual if usual > 0 else (float(times_s[-1]) - float(times_s[0])) / (n - 1)
    if not (usual > 0 and math.isfinite(usual)):
        raise DamagedFile("the time column does not run forward", where=where, advice=REPAIR_TIME)
    return usual, resolution_s


# Rows that are all doubled repeat half of the stamps, a few doubled ones hardly any.
_HALF, _SOME = 0.51, 0.02


def _is_clock(times_s: NDArray[np.float64], tick: float, idle: float) -> bool:
    """Whether repeated stamps are those of a clock that ticks more slowly than samples come.

    Its stamps stay within a tick of an even grid; rows that are doubled here and there wander off.
    """
    if abs(idle - 0.5) < _HALF - 0.5:
        return False
    return _spread(times_s, (float(times_s[-1]) - float(times_s[0])) / (len(times_s) - 1)) <= tick


def _scan(
    times_s: NDArray[np.float64], threshold: float, slip: float, where: str
) -> tuple[NDArray[np.intp], NDArray[np.intp], int]:
    """Return the samples before which a gap lies, before which time turns, and the idle steps."""
    edges: list[NDArray[np.intp]] = [np.empty(0, np.intp)]
    turns: list[NDArray[np.intp]] = [np.empty(0, np.intp)]
    backwards = 0
    for start in range(0, len(times_s) - 1, _BLOCK):
        with np.errstate(over="ignore", invalid="ignore"):
            steps = np.diff(times_s[start : start + _BLOCK + 1])
            low, high = float(steps.min()), float(steps.max())
        if not (abs(low) < _LARGEST and abs(high) < _LARGEST):
            raise DamagedFile("the time column has holes", where=where, advice=REPAIR_TIME)
        if high > threshold:
            edges.append(np.flatnonzero(steps > threshold) + start + 1)
        if low <= 0:
            backwards += int(np.count_nonzero(steps <= 0))
            back = steps < -slip if slip else steps <= 0
            turns.append(np.flatnonzero(back) + start + 1)
    return np.concatenate(edges), np.concatenate(turns), backwards


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
