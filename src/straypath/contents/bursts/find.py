"""The bursts of one channel: what a caller asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.bursts.candidates import find_candidates
from straypath.contents.bursts.envelope import envelope
from straypath.contents.bursts.measure import Stretches, measure, merged
from straypath.contents.bursts.phase_lock import phase_lock
from straypath.contents.one_thread import on_one_thread
from straypath.contents.records import Burst, Bursts, Undetermined

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.arrays import BoolArray, FloatArray
    from straypath.capture.capture import Channel
    from straypath.contents.bursts.candidates import Candidates, Limits
    from straypath.contents.bursts.envelope import Envelope, Model
    from straypath.contents.bursts.measure import Measured

FALSE_ALARM_RATE = 1e-3
FEWEST_SAMPLES = 64
# Departures closer than this belong to one burst, whatever its width.
TOGETHER_S = 50e-6
TOGETHER_SAMPLES = 4
MOST_KEPT = 500
# Above this share of the time, departures are what the signal does and no bursts.
BUSY_SHARE = 0.3
BUSY = "Departures fill more than 30 % of the record: a busy signal, not bursts."


@on_one_thread
def find_bursts(
    channel: Channel,
    rate_hz: float,
    *,
    env: Envelope | None = None,
    model: Model | None = None,
    mains_phase: Callable[[float], float] | None = None,
    false_alarm_rate: float = FALSE_ALARM_RATE,
) -> Bursts | Undetermined:
    """Find the transients of a channel and tell whether they keep to a phase of the mains.

    A burst departs from the record's own course further than noise does (`find_candidates`),
    and still does so when the known lines are off. Departures closer than 50 µs, 4 samples or
    the burst's own length are one burst.

    Parameters
    ----------
    channel : Channel
        Finite samples only.
    rate_hz : float
        [Hz].
    env : Envelope or None
        Of the channel's raw samples and the same model, when it is at hand.
    model : callable or None
        Mains comb and other lines at samples start … stop [raw]: taken off stretches with
        candidates; off everything below 96 kS/s and up to 2^20 samples.
    mains_phase : callable or None
        Phase of mains order 1 [rad] at a time from the first sample [s].
    false_alarm_rate : float
        Chance that Gaussian noise without bursts gives any.

    Validity: impulsive noise is bursts by definition. Above 500 candidates the strongest are
    measured, and the count takes the same share of the others for real. Without a model, hum of
    A hides what is smaller than about A (2π f)² /12 times the square of a row's 83 µs (16 samples
    at least), and bursts longer than a row show late: see `find_candidates`.

    Example
    -------
    >>> import numpy as np
    >>> from straypath.capture.capture import Channel
    >>> x = np.random.default_rng(1).standard_normal(100_000)
    >>> x[40_000] += 12.0
    >>> bursts = find_bursts(Channel("lead", x, "V"), 1e6)
    >>> bursts.count, round(bursts.found[0].time_s, 6)
    (1, 0.04)
    """
    n = len(channel.raw)
    if n < FEWEST_SAMPLES:
        return Undetermined("bursts", f"{n} samples are too few to tell a burst from noise.")
    env = envelope(channel.raw, rate_hz, model) if env is None else env
    if not (env.high.any() or env.low.any()):
        return Undetermined("bursts", "The record never changes.")
    candidates = find_candidates(channel.raw, env, false_alarm_rate)
    together = max(TOGETHER_SAMPLES, int(TOGETHER_S * rate_hz))
    start, stop, first = merged(candidates.start, candidates.stop, together)
    if candidates.share > BUSY_SHARE:
        return Undetermined("bursts", BUSY)
    groups = (start, stop, first)
    found = _measured(channel, candidates, groups, env.row, together, model)
    count = round(len(found) * max(1.0, len(start) / MOST_KEPT))
    bursts = tuple(_burst(m, n - 1, channel.scale, rate_hz, mains_phase) for m in found)
    threshold = abs(channel.scale) * max(candidates.limits.high, -candidates.limits.low)
    return with_lock(bursts, count, threshold, n / rate_hz, mains_phase)


def _measured(
    channel: Channel,
    candidates: Candidates,
    groups: tuple[np.ndarray, np.ndarray, np.ndarray],
    row: int,
    together: int,
    model: Model | None,
) -> list[Measured]:
    """Measure the strongest groups, in order of time."""
    start, stop, first = groups
    if not len(start):
        return []
    excess = np.maximum.reduceat(candidates.excess, first)
    # Rows of several lags may have departed: the widest has the highest limit.
    slow = np.maximum.reduceat(candidates.slow_limit, first)
    strongest = np.sort(np.argsort(-excess, kind="stable")[:MOST_KEPT])
    stretches = Stretches(start, stop)
    found: list[Measured] = []
    last_end = 0
    for i in strongest:
        if stop[i] <= last_end:
            continue
        confirm = _departing(candidates.limits, float(slow[i]), row)
        bursts = measure(channel.raw, stretches, int(i), row, confirm, together, model)
        found += [b for b in bursts if b.first >= last_end]
        last_end = max([last_end, *(b.last for b in bursts)])
    return found


def _departing(limits: Limits, slow: float, row: int) -> Callable[[FloatArray], BoolArray]:
    """Which samples depart, or lie where the mean of one row departs by more than `slow`."""

    def departing(r: FloatArray) -> BoolArray:
        beyond = limits.beyond(r)
        if slow == 0.0 or len(r) < row:
            return beyond
        mean = np.convolve(r, np.full(row, 1.0 / row), mode="same")
        return np.asarray(beyond | (np.abs(mean) > slow))

    return departing


def _burst(
    measured: Measured,
    last: int,
    scale: float,
    rate_hz: float,
    mains_phase: Callable[[float], float] | None,
) -> Burst:
    # Half of the energy may lie in the first half sample.
    time_s = max(0.0, min(measured.middle, last)) / rate_hz
    return Burst(
        time_s=time_s,
        width_s=measured.width / rate_hz,
        peak=measured.peak * scale,
        energy=measured.energy * scale**2 / rate_hz,
        mains_phase_rad=None if mains_phase is None else float(mains_phase(time_s)),
    )


def with_lock(
    bursts: tuple[Burst, ...],
    count: int,
    threshold: float,
    duration_s: float,
    mains_phase: Callable[[float], float] | None,
) -> Bursts:
    """Return bursts with what is to say about their phase."""
    if mains_phase is None or len(bursts) < 2:
        return Bursts(found=bursts, count=count, threshold=threshold)
    lock = phase_lock(np.array([b.time_s for b in bursts]), mains_phase, duration_s)
    return Bursts(
        found=bursts,
        count=count,
        threshold=threshold,
        locked_p=lock.p_value,
        locked=lock.locked,
        per_cycle=lock.per_cycle,
        locked_test=lock.words,
    )
