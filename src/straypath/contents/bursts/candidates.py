"""Where a record departs from its course by more than noise does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.contents.bursts.envelope import PIECE, Envelope, as_floats
from straypath.contents.bursts.thresholds import upper_limit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from straypath.arrays import BoolArray, FloatArray
    from straypath.capture.capture import Samples

    IntArray = NDArray[np.intp]

# So many samples, spread over the record, tell the noise.
TELLS_NOISE = 262_144
# Up to here every sample is judged; beyond, only where the envelope stands out.
JUDGE_ALL = 1 << 20
CHUNK = 8_192
BLOCKS_TELL = 4_096
# Share of blocks of bare noise that are looked at sample by sample.
LOOKED_AT = 0.03
# Rows are compared with those so many rows away, for bursts longer than a row.
ROW_LAGS = (1, 4, 16)
# A sample that a converter rounds departs by up to two steps without any reason.
STEPS = 2.0
ROUNDING = 16.0
GOLDEN = 0.6180339887498949
ROWS_AT_ONCE = 512
MANY_MARKED = 0.1
# Samples between departures that count as departing too.
CLOSE = 4
# With more samples than this beyond the limits, a long record is busy however they lie.
TOO_MANY = 0.1


@dataclass(frozen=True)
class Limits:
    """Departures from the course that noise does not reach [raw]: `low` < 0 < `high`."""

    low: float
    high: float

    def beyond(self, values: NDArray[Any]) -> BoolArray:
        """Return which values lie outside."""
        return np.asarray((values > self.high) | (values < self.low))


@dataclass(frozen=True)
class Candidates:
    """Stretches of samples, in order of time.

    Parameters
    ----------
    start, stop : array of int, shape (k,)
        First sample, and one past the last.
    excess : array, shape (k,)
        Largest departure over its limit.
    slow_limit : array, shape (k,)
        What the mean of one row must exceed where only rows departed [raw]; 0 where samples did.
    limits : Limits
        For samples.
    share : float
        Part of the record that departs, counting gaps of up to 4 samples.
    """

    start: IntArray
    stop: IntArray
    excess: FloatArray
    slow_limit: FloatArray
    limits: Limits
    share: float


def find_candidates(samples: Samples, env: Envelope, false_alarm_rate: float) -> Candidates:
    """List all departures of samples, and of rows, from the record's own course.

    y = x - (course through the row means); d_L[r] = m[r] - (m[r - L] + m[r + L])/2, L = 1, 4, 16

    Parameters
    ----------
    samples : Samples, shape (n,)
    env : Envelope
        Of the same samples.
    false_alarm_rate : float
        Chance that Gaussian noise, white or coloured, gives any candidate: half of it for
        samples, half for rows.

    Validity: the noise law of `upper_limit`. Under hum of amplitude A a burst as long as L rows
    must exceed about A (2π f L row/rate)² to be listed.
    """
    least = least_departure(samples, env)
    limits = sample_limits(samples, env, false_alarm_rate / 2, least)
    hits, excess, overrun = _sample_hits(samples, env, limits)
    if len(hits) and not overrun:
        env, hits, excess = _without_shelves(samples, env, limits, hits, excess)
    rows, reach, row_excess, row_limit = _row_hits(env, false_alarm_rate / 2, least)
    start = np.concatenate([hits, rows * env.row])
    order = np.argsort(start, kind="stable")
    stop = np.concatenate([hits + 1, (rows + 1) * env.row])
    share = _covered(start[order], stop[order] + CLOSE) / env.samples
    # A burst of L rows bends back at its feet, and there it departs as well: one stretch.
    start = np.maximum(0, np.concatenate([hits, (rows - reach) * env.row]))
    stop = np.minimum(np.concatenate([hits + 1, (rows + 1 + reach) * env.row]), env.samples)
    order = np.argsort(start, kind="stable")
    return Candidates(
        start=start[order],
        stop=stop[order],
        excess=np.concatenate([excess, row_excess])[order],
        slow_limit=np.concatenate([np.zeros(len(hits)), row_limit])[order],
        limits=limits,
        share=1.0 if overrun else share,
    )


def _covered(start: IntArray, stop: IntArray) -> int:
    """Samples in the union of stretches, which come in order of start."""
    before = np.concatenate([[0], np.maximum.accumulate(stop)[:-1]]) if len(stop) else stop
    return int(np.sum(np.maximum(0, stop - np.maximum(start, before))))


def least_departure(samples: Samples, env: Envelope) -> float:
    """Return what rounding alone can do: two steps of the converter, or a float's last digits."""
    part = np.asarray(samples[: min(len(samples), CHUNK)])
    whole = part.dtype.kind in "iu"
    seen = np.unique(part)
    # A column of text with few digits is as good as integers.
    coarse = 2 < len(seen) < len(part) / 8
    step = float(np.min(np.diff(seen))) if coarse else float(whole)
    size = float(np.max(np.abs(env.track), initial=0.0))
    rounding = 0.0 if whole else ROUNDING * float(np.finfo(part.dtype).eps) * size
    return max(STEPS * step, rounding)


def departures(env: Envelope, rows: NDArray[Any], first: IntArray) -> FloatArray:
    """Return rows of samples less the straight lines through the means of their neighbours.

    Parameters
    ----------
    rows : array, shape (k, row)
    first : array of int, shape (k,)
        Number of each row.
    """
    m, last = env.track, len(env.track) - 1
    own = m[first]
    before, after = m[np.maximum(first - 1, 0)], m[np.minimum(first + 1, last)]
    # Beyond its ends the course goes straight on.
    before = np.where(first == 0, 2 * own - after, before)
    after = np.where(first == last, 2 * own - before, after)
    around = np.stack([before, own, after], axis=1)
    place = (np.arange(env.row) + 0.5) / env.row - 0.5
    hats = np.stack([np.maximum(0, -place), 1 - np.abs(place), np.maximum(0, place)])
    return np.asarray(rows - around @ hats.astype(around.dtype))


def _tail(samples: Samples, env: Envelope) -> FloatArray:
    """Departures of the samples after the last whole row, from a line through the last rows."""
    rest = env.samples - len(env.track) * env.row
    part = as_floats(env.read(samples, env.samples - env.row, env.samples))
    mean = float(part.mean())
    slope = (mean - float(env.track[-2])) / (rest + env.row)
    course = mean + slope * (np.arange(env.row) - (env.row - 1) / 2)
    return np.asarray((part - course)[env.row - rest :])


def sample_limits(samples: Samples, env: Envelope, false_alarm_rate: float, least: float) -> Limits:
    """Return the limits of departure for samples, from stretches spread over the record."""
    whole = len(env.track) * env.row
    size = whole if env.samples <= TELLS_NOISE else max(CHUNK, env.row)
    count = 1 if env.samples <= TELLS_NOISE else max(4, TELLS_NOISE // size)
    at = np.linspace(0, (whole - size) // env.row, count).astype(np.intp)
    parts = []
    for row in at:
        rows = env.read(samples, row * env.row, row * env.row + size).reshape(-1, env.row)
        # Medians for the course: bursts in every row would shift one of means.
        quiet = replace(env, track=np.median(rows, axis=1).astype(env.track.dtype))
        parts.append(departures(quiet, rows, np.arange(len(rows))).ravel())
    y = np.concatenate(parts).astype(np.float64)
    # Spread evenly over one rounding step, values in steps get a smooth law again.
    y += least / STEPS * (np.arange(len(y)) * GOLDEN % 1.0 - 0.5)
    length = 1 << max(0, int(np.log2(max(1, len(y) // BLOCKS_TELL))))
    blocks = y[: len(y) // length * length].reshape(-1, length)
    chance = false_alarm_rate / (2 * env.samples)
    thin = max(1, length // 8)
    # Single samples tell the limit of Gaussian noise of any colour; blocks that of lines, of noise
    # that swells, and of resonances so narrow that few of the samples are independent.
    high, low = (
        max(
            upper_limit(sign * y[::thin], 1, chance),
            upper_limit((sign * blocks).max(axis=1), length, chance),
        )
        for sign in (1.0, -1.0)
    )
    return Limits(low=-max(least, low), high=max(least, high))


def _sample_hits(
    samples: Samples, env: Envelope, limits: Limits
) -> tuple[IntArray, FloatArray, bool]:
    """Indices of samples beyond the limits, and by what factor."""
    hits: list[IntArray] = [np.empty(0, dtype=np.intp)]
    excess: list[FloatArray] = [np.empty(0)]
    total, overrun = 0, False

    def keep(index: IntArray, y: FloatArray) -> None:
        beyond = limits.beyond(y)
        hits.append(index[beyond])
        excess.append(_over(y[beyond], limits.low, limits.high))

    for number, rows in _batches(_rows_to_judge(samples, env)):
        y = departures(env, rows, number)
        keep(number[:, np.newaxis] * env.row + np.arange(env.row), y)
        total += len(hits[-1])
        if total > max(TOO_MANY * env.samples, JUDGE_ALL):
            overrun = True
            break
    if env.samples % env.row:
        y = _tail(samples, env)
        keep(np.arange(env.samples - len(y), env.samples), y)
    return np.concatenate(hits), np.concatenate(excess), overrun


def _without_shelves(
    samples: Samples, env: Envelope, limits: Limits, hits: IntArray, excess: FloatArray
) -> tuple[Envelope, IntArray, FloatArray]:
    """Judge again what lies beside departures, with their rows' medians for means.

    A strong spike lifts its row's mean, and with it the course, by its height over the row's
    length: its neighbours then seem to depart downwards, and its row to be a wide burst.
    """
    rows_in_all = len(env.track)
    own = np.zeros(rows_in_all + 2, dtype=bool)
    own[np.minimum(hits // env.row, rows_in_all) + 1] = True
    own[0] = own[-1] = False
    near = own.copy()
    near[:-1] |= own[1:]
    near[1:] |= own[:-1]
    own, near = own[1:-1], near[1:-1]
    track = env.track.copy()
    for number, rows in _batches(_named_rows(samples, env, np.flatnonzero(own))):
        track[number] = np.median(rows, axis=1)
    env = replace(env, track=track)
    kept = ~np.append(near, False)[np.minimum(hits // env.row, rows_in_all)]
    index, sizes = [hits[kept]], [excess[kept]]
    for number, rows in _batches(_named_rows(samples, env, np.flatnonzero(near))):
        y = departures(env, rows, number)
        beyond = limits.beyond(y)
        index.append((number[:, np.newaxis] * env.row + np.arange(env.row))[beyond])
        sizes.append(_over(y[beyond], limits.low, limits.high))
    return env, np.concatenate(index), np.concatenate(sizes)


def _named_rows(
    samples: Samples, env: Envelope, number: IntArray
) -> Iterator[tuple[IntArray, NDArray[Any]]]:
    """Yield rows by their numbers, those in a row together."""
    for run in np.split(number, np.flatnonzero(np.diff(number) > 1) + 1):
        for first in range(0, len(run), PIECE // env.row):
            some = run[first : first + PIECE // env.row]
            part = env.read(samples, int(some[0]) * env.row, (int(some[-1]) + 1) * env.row)
            yield some, part.reshape(-1, env.row)


def _batches(
    pieces: Iterator[tuple[IntArray, NDArray[Any]]],
) -> Iterator[tuple[IntArray, NDArray[Any]]]:
    """Gather pieces of few rows, so that each batch is worth its overhead."""
    numbers: list[IntArray] = []
    rows: list[NDArray[Any]] = []
    for number, some in pieces:
        numbers.append(number)
        rows.append(some)
        if sum(map(len, numbers)) >= ROWS_AT_ONCE:
            yield np.concatenate(numbers), np.concatenate(rows)
            numbers, rows = [], []
    if numbers:
        yield np.concatenate(numbers), np.concatenate(rows)


def _rows_to_judge(samples: Samples, env: Envelope) -> Iterator[tuple[IntArray, NDArray[Any]]]:
    """Yield numbers and samples of the rows in which a difference stands out."""
    if env.samples <= JUDGE_ALL:
        for start in range(0, len(env.track), PIECE // env.row):
            stop = min(len(env.track), start + PIECE // env.row)
            part = env.read(samples, start * env.row, stop * env.row)
            yield np.arange(start, stop), part.reshape(-1, env.row)
        return
    # What the course itself jumps at the lag, such as on the flanks of hum.
    edge = np.minimum(np.arange(len(env.high) + 1) * (env.block // env.row), len(env.track) - 1)
    reach = np.maximum(np.diff(edge), 1) * env.row
    jump = np.diff(env.track[edge]) * env.lag / reach
    chance = LOOKED_AT / (2 * env.block)
    high = upper_limit(env.high - jump, env.block, chance, stretch=False)
    low = -upper_limit(jump - env.low, env.block, chance, stretch=False)
    marked = np.flatnonzero((env.high - jump > high) | (env.low - jump < low))
    # Where many are marked, reading what lies between costs less than stopping.
    apart = 1 if len(marked) < MANY_MARKED * len(env.high) else 4
    for run in np.split(marked, np.flatnonzero(np.diff(marked) > apart) + 1):
        if not len(run):
            return
        for first in range(int(run[0]), int(run[-1]) + 1, PIECE // env.block):
            last = min(int(run[-1]) + 1, first + PIECE // env.block)
            start, stop = first * env.block, min(env.samples, last * env.block + env.row)
            part = env.read(samples, start, stop)
            rows = part[: len(part) // env.row * env.row].reshape(-1, env.row)
            # The row after the last block is in, for jumps that end there.
            jumps = part[env.lag :] - part[: -env.lag]
            usual = np.repeat(np.append(jump[first:last], jump[last - 1]), env.block)
            at = np.flatnonzero(Limits(low, high).beyond(jumps - usual[: len(jumps)]))
            inside = np.zeros(len(rows) + 1, dtype=bool)
            inside[np.minimum(at // env.row, len(rows))] = True
            inside[np.minimum((at + env.lag) // env.row, len(rows))] = True
            number = np.flatnonzero(inside[:-1])
            yield number + start // env.row, rows[number]


def _row_hits(
    env: Envelope, false_alarm_rate: float, least: float
) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Rows that depart from both sides, their reach in rows, by what factor, and the limit."""
    found: list[IntArray] = [np.empty(0, dtype=np.intp)]
    reach: list[IntArray] = [np.empty(0, dtype=np.intp)]
    excess: list[FloatArray] = [np.empty(0)]
    passed: list[FloatArray] = [np.empty(0)]
    for lag in ROW_LAGS:
        if len(env.track) < 4 * lag + 32:
            continue
        t = env.track
        d = t[: -2 * lag] + t[2 * lag :]
        d *= -0.5
        d += t[lag:-lag]
        chance = false_alarm_rate / (2 * len(ROW_LAGS) * len(d))
        some = _some(d)
        # In slow noise, neighbours less than the lag apart say the same.
        high = max(least, upper_limit(some, 1, chance, per_value=lag))
        low = max(least, upper_limit(-some, 1, chance, per_value=lag))
        at = np.flatnonzero(Limits(-low, high).beyond(d))
        size = _over(d[at], -low, high)
        # A burst also shows, upside down and half as large, one lag to either side.
        before, after = d[np.maximum(at - lag, 0)], d[np.minimum(at + lag, len(d) - 1)]
        beside = np.maximum(_over(before, -low, high), _over(after, -low, high))
        own = size >= beside
        at, size = at[own], size[own]
        found.append(at + lag)
        reach.append(np.full(len(at), -(-lag // 2)))
        excess.append(size)
        passed.append(np.where(d[at] > 0, high, low))
    return (
        np.concatenate(found),
        np.concatenate(reach),
        np.concatenate(excess),
        np.concatenate(passed),
    )


def _over(values: FloatArray, low: float, high: float) -> FloatArray:
    """By what factor values lie beyond the limit on their side."""
    return np.asarray(np.where(values > 0, values / high, values / low))


def _some(values: FloatArray) -> FloatArray:
    """At most 32,768 of the values, in 32 stretches."""
    if len(values) <= 32_768:
        return values
    first = np.linspace(0, len(values) - 1_024, 32).astype(int)
    return np.concatenate([values[i : i + 1_024] for i in first])
