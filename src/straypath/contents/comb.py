"""The mains comb of one channel: what a caller asks for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.mains.cosine_bins import cosine_bins
from straypath.contents.mains.lines import (
    absent_lines,
    frequency_of,
    root_sum,
    seen_lines,
    total_of,
)
from straypath.contents.mains.long_record import fit_long
from straypath.contents.mains.nominal import HIGHEST_HZ, system_probabilities
from straypath.contents.mains.search import Found, search
from straypath.contents.mains.short_record import fit_short
from straypath.contents.mains.short_search import search_short
from straypath.contents.mains.systems import SYSTEMS, MainsSystem, systems_for
from straypath.contents.one_thread import on_one_thread
from straypath.contents.records import MainsComb
from straypath.contents.reduction import Reduced, reduce_rate
from straypath.quantity import UpperLimit
from straypath.wording import listed

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.capture.capture import Channel
    from straypath.contents.mains.fit import CombFit

ORDERS = 40
# Chance, per channel, of seeing a comb in a bare floor.
FALSE_ALARM_RATE = 1e-3
# From here on the floor is read beside the lines; below, it needs a model.
LONG_CYCLES = 32.0
# Up to here the system is weighed with a prior on frequency and harmonics.
FEW_CYCLES = 4.0
FEWEST_SAMPLES = 16
# A record this much above the highest order's frequency still shows it.
NYQUIST_SHARE = 0.47
SHORTER_THAN_A_CYCLE = "The record is shorter than one mains cycle: no reading."


@on_one_thread
def mains_comb(
    channel: Channel,
    rate_hz: float,
    *,
    mains: float | None = None,
    false_alarm_rate: float = FALSE_ALARM_RATE,
    progress: Callable[[float], None] | None = None,
) -> MainsComb:
    """Find the lines at whole multiples of the mains frequency.

    x(t) = c + d t + Σ_k A_k cos(2π k ∫f0 dt + θ_k) + noise, k = 1 … 40: maximum likelihood for
    f0 from the orders that stand out, then all orders at that f0.

    Parameters
    ----------
    channel : Channel
    rate_hz : float
        [Hz].
    mains : float or None
        Nominal frequency [Hz]; None considers 16.7, 50, 60 and 400 Hz.
    false_alarm_rate : float
        Chance, per channel, of seeing a comb in a bare floor.
    progress : callable or None
        Told the part done, 0 … 1.

    Validity: from one cycle upward; a shorter record only gets the probability of each system.
    Up to 32 cycles the floor is taken as white with 1/f or 1/f² below some corner.

    Example
    -------
    >>> import numpy as np
    >>> from straypath.capture.capture import Channel
    >>> t = np.arange(10_000) / 5_000
    >>> hum = 0.1 * np.cos(2 * np.pi * 49.98 * t) + 0.01 * np.sin(1e4 * np.sin(1e3 * t))
    >>> comb = mains_comb(Channel("hum", hum, "V"), 5_000.0)
    >>> comb.nominal_hz, round(comb.frequency_hz.value, 2)
    (50.0, 49.98)
    """
    systems = tuple(s for s in systems_for(mains) if s.nominal_hz < NYQUIST_SHARE * rate_hz)
    if not any(s.weight > 0.1 for s in systems):
        return MainsComb.not_read("The rate is too low to hold the mains.", false_alarm_rate)
    if len(channel) < FEWEST_SAMPLES:
        return MainsComb.not_read("Too few samples to read anything from.", false_alarm_rate)
    finding = _find(channel, rate_hz, systems, progress)
    if finding.mean_square == 0.0:
        return MainsComb.not_read("The record never changes.", false_alarm_rate)
    if finding.fit is None:
        return replace(
            MainsComb.not_read(SHORTER_THAN_A_CYCLE, false_alarm_rate),
            nominal_hz=finding.system.nominal_hz,
            nominal_probability=finding.probability,
        )
    present = finding.p_value < false_alarm_rate and bool(finding.fit.seen.any())
    scale = channel.scale
    fit = finding.fit
    lines = (
        seen_lines(fit, scale)
        if present
        else absent_lines(fit, finding.system, finding.duration_s, scale)
    )
    total = total_of(fit, lines, scale) if present else UpperLimit(root_sum(lines))
    power = float(np.sum(np.abs(fit.phasors[fit.seen]) ** 2)) / 2
    return MainsComb(
        present=present,
        false_alarm_rate=false_alarm_rate,
        p_value=finding.p_value,
        nominal_hz=finding.system.nominal_hz,
        nominal_probability=finding.probability,
        frequency_hz=frequency_of(fit) if present else None,
        rms=total,
        share=min(1.0, power / finding.mean_square) if present and finding.mean_square > 0 else 0.0,
        lines=lines,
        wander=fit.wander if present else None,
        assumptions=finding.assumptions,
    )


@dataclass(frozen=True)
class _Finding:
    """What search and fit found, in raw steps."""

    p_value: float
    system: MainsSystem
    probability: float
    fit: CombFit | None
    mean_square: float
    duration_s: float
    assumptions: tuple[str, ...]


def _find(
    channel: Channel,
    rate_hz: float,
    systems: tuple[MainsSystem, ...],
    progress: Callable[[float], None] | None,
) -> _Finding:
    lowest = min(s.nominal_hz for s in systems if s.weight > 0.1)
    cycles = len(channel) / rate_hz * lowest
    if cycles >= LONG_CYCLES:
        return _find_long(channel, rate_hz, systems, progress)
    return _find_short(channel, rate_hz, systems, cycles)


def _find_long(
    channel: Channel,
    rate_hz: float,
    systems: tuple[MainsSystem, ...],
    progress: Callable[[float], None] | None,
) -> _Finding:
    duration_s = len(channel) / rate_hz
    # A few cycles of the railway's 16.7 Hz can't be told from a third of 50 Hz.
    systems = tuple(s for s in systems if s.weight > 0.1 or duration_s * s.nominal_hz > LONG_CYCLES)
    usual = [s.nominal_hz for s in systems if s.weight > 0.1]
    reduced = reduce_rate(channel.raw, rate_hz, 1.02 * ORDERS * max(usual), progress)
    if reduced.mean_square == 0.0:
        return _Finding(1.0, systems[0], 0.0, None, 0.0, 0.0, ())
    found = search(reduced, systems)
    system, f0, probability = _choose(found, systems)
    if system.nominal_hz > 1.1 * max(usual):
        reduced = reduce_rate(channel.raw, rate_hz, 1.02 * ORDERS * system.nominal_hz, progress)
    orders = _orders(f0, reduced, 1.02 * ORDERS * max(*usual, system.nominal_hz))
    if duration_s * f0 >= LONG_CYCLES:
        fit = fit_long(reduced, duration_s, f0, orders)
    else:
        bins = cosine_bins(np.asarray(channel.raw[:], dtype=np.float64), rate_hz, (orders + 1) * f0)
        fit = fit_short(bins, f0, orders)
    return _Finding(
        p_value=found.p_value,
        system=system,
        probability=probability,
        fit=fit,
        mean_square=reduced.mean_square,
        duration_s=duration_s,
        assumptions=_assumptions(systems, orders),
    )


def _orders(f0_hz: float, reduced: Reduced, highest_hz: float) -> int:
    """Orders that the reduced record holds without folds, 40 at most."""
    top_hz = min(NYQUIST_SHARE * reduced.rate_hz, highest_hz)
    return max(1, min(ORDERS, int(top_hz / f0_hz)))


def _find_short(
    channel: Channel, rate_hz: float, systems: tuple[MainsSystem, ...], cycles: float
) -> _Finding:
    samples = np.asarray(channel.raw[0 : len(channel)], dtype=np.float64)
    if len(systems) > 1:
        # Too short for the railway and for telling 400 Hz from the eighth order of 50 Hz.
        systems = tuple(s for s in SYSTEMS if s.weight > 0.1)
    probabilities = None
    if cycles < FEW_CYCLES:
        bins = cosine_bins(samples, rate_hz, HIGHEST_HZ)
        probabilities = system_probabilities(bins, systems)
    if cycles < 1.0:
        best = int(np.argmax(probabilities)) if probabilities is not None else 0
        chance = float(probabilities[best]) if probabilities is not None else 1.0
        return _Finding(
            1.0,
            systems[best],
            chance,
            None,
            float(np.var(samples)),
            len(samples) / rate_hz,
            (),
        )
    highest = max(s.high_hz for s in systems)
    orders = max(
        1,
        min(
            ORDERS,
            int(NYQUIST_SHARE * rate_hz / max(s.nominal_hz for s in systems)),
            (len(samples) // 2 - 1) // 2,
        ),
    )
    bins = cosine_bins(samples, rate_hz, (orders + 1) * highest)
    found = search_short(bins, systems, orders)
    system, f0, probability = _choose(found, systems)
    if probabilities is not None:
        best = int(np.argmax(probabilities))
        system, probability = systems[best], float(probabilities[best])
        f0 = next(c.frequency_hz for c in found.candidates if c.system is system)
    return _Finding(
        p_value=found.p_value,
        system=system,
        probability=probability,
        fit=fit_short(bins, f0, orders),
        mean_square=float(np.var(samples)),
        duration_s=bins.duration_s,
        assumptions=(
            *_assumptions(systems, orders),
            "The floor is white, with 1/f or 1/f² below some corner.",
        ),
    )


def _choose(found: Found, systems: tuple[MainsSystem, ...]) -> tuple[MainsSystem, float, float]:
    """Return the likeliest system, the frequency to start from and the probability."""
    if not found.candidates:
        system = max(systems, key=lambda s: s.weight)
        return system, system.nominal_hz, system.weight / sum(s.weight for s in systems)
    scores = np.array([c.score for c in found.candidates])
    parts = np.exp(scores - scores.max())
    best = found.candidates[0]
    return best.system, best.frequency_hz, float(parts[0] / parts.sum())


def _assumptions(systems: tuple[MainsSystem, ...], orders: int) -> tuple[str, ...]:
    names = listed(f"{s.nominal_hz:g}" for s in systems)
    ranges = listed(f"{s.low_hz:g} to {s.high_hz:g}" for s in systems)
    each = "each within its own range: " if len(systems) > 1 else ""
    return (
        f"Mains at {names} Hz was looked for, {each}{ranges} Hz.",
        f"Orders 1 to {orders}; what lies above half the rate may fold onto them.",
        "Each order keeps its amplitude and phase over the record.",
    )
