"""The mains comb of one channel: what a caller asks for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.mains.cosine_bins import cosine_bins
from straypath.contents.mains.foreign import common_order, mains_probability
from straypath.contents.mains.lines import (
    absent_lines,
    clear_orders,
    frequency_of,
    root_sum,
    seen_lines,
    total_of,
)
from straypath.contents.mains.long_record import fit_long
from straypath.contents.mains.model import CombModel
from straypath.contents.mains.nominal import HIGHEST_HZ, system_probabilities
from straypath.contents.mains.search import Found, search
from straypath.contents.mains.short_record import fit_short
from straypath.contents.mains.short_search import search_short
from straypath.contents.mains.systems import HZ_400, SYSTEMS, MainsSystem, systems_for
from straypath.contents.one_thread import on_one_thread
from straypath.contents.records import MainsComb
from straypath.contents.reduction import Reduced, reduce_rate
from straypath.quantity import UpperLimit
from straypath.wording import listed

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.arrays import FloatArray
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
NEVER_CHANGES = "The record never changes."
SHORTER_THAN_A_CYCLE = "The record is shorter than one mains cycle: no reading."


@dataclass(frozen=True)
class CombReading:
    """The comb with what later steps need of it.

    Parameters
    ----------
    comb : MainsComb
    model : CombModel or None
        The comb as a waveform; None where none was seen.
    finding : Finding or None
        What the reading was made from.
    """

    comb: MainsComb
    model: CombModel | None = None
    finding: Finding | None = None

    @property
    def reduced(self) -> Reduced | None:
        """The record at the lower rate that the comb was fitted at, where it is a long one."""
        return self.finding.reduced if self.finding else None


def refit(
    reading: CombReading,
    others: Callable[[float, float, int], FloatArray],
    channel: Channel,
    rate_hz: float,
) -> CombReading:
    """Read a comb that is there again, with other lines taken off the record first.

    A line that is no order of the comb leaks into the orders beside it, and into their floor.

    Parameters
    ----------
    reading : CombReading
    others : callable
        Waveform of the other lines, in raw steps, given time of the first value [s], interval [s]
        and count.
    channel : Channel
    rate_hz : float
        [Hz].
    """
    before = reading.finding
    if before is None or before.fit is None or not reading.comb.present:
        return reading
    f0_hz, orders = before.fit.frequency_hz, len(before.fit.phasors)
    if before.reduced is not None and before.duration_s * f0_hz >= LONG_CYCLES:
        low = before.reduced
        count = len(low.samples)
        rest = np.asarray(low.part(0, count)) - others(low.first_s, 1.0 / low.rate_hz, count)
        fit = fit_long(replace(low, samples=rest), before.duration_s, f0_hz, orders)
    else:
        count = len(channel)
        rest = np.asarray(channel.raw[0:count], dtype=np.float64) - others(0.0, 1 / rate_hz, count)
        fit = fit_short(cosine_bins(rest, rate_hz, (orders + 1) * f0_hz), f0_hz, orders)
    middle_s = (len(channel) - 1) / 2 / rate_hz
    again = replace(before, fit=fit)
    rate = reading.comb.false_alarm_rate
    return _reading(again, channel.scale, middle_s, rate, named=before.named)


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
    return read_comb(
        channel, rate_hz, mains=mains, false_alarm_rate=false_alarm_rate, progress=progress
    ).comb


@on_one_thread
def read_comb(
    channel: Channel,
    rate_hz: float,
    *,
    mains: float | None = None,
    false_alarm_rate: float = FALSE_ALARM_RATE,
    progress: Callable[[float], None] | None = None,
) -> CombReading:
    """Find the mains comb, and keep what the search for other lines goes on with."""
    systems = tuple(s for s in systems_for(mains) if s.nominal_hz < NYQUIST_SHARE * rate_hz)
    why = _why_unreadable(channel, systems)
    if why:
        return CombReading(MainsComb.not_read(why, false_alarm_rate))
    finding = _find(channel, rate_hz, systems, progress)
    if finding.mean_square == 0.0:
        return CombReading(MainsComb.not_read(NEVER_CHANGES, false_alarm_rate))
    if finding.fit is None:
        comb = replace(
            MainsComb.not_read(SHORTER_THAN_A_CYCLE, false_alarm_rate),
            nominal_hz=finding.system.nominal_hz,
            nominal_probability=finding.probability,
        )
        return CombReading(comb)
    middle_s = (len(channel) - 1) / 2 / rate_hz
    named = mains is not None
    reading = _reading(finding, channel.scale, middle_s, false_alarm_rate, named=named)
    if named or reading.comb.present or finding.reduced is not None:
        return reading
    return _aircraft(channel, rate_hz, middle_s, false_alarm_rate) or reading


def _aircraft(
    channel: Channel, rate_hz: float, middle_s: float, false_alarm_rate: float
) -> CombReading | None:
    """A record of few cycles of 50 Hz can still hold many of 400 Hz: return that comb."""
    enough = len(channel) / rate_hz * HZ_400.nominal_hz >= LONG_CYCLES
    if not enough or HZ_400.nominal_hz > NYQUIST_SHARE * rate_hz:
        return None
    finding = _find_long(channel, rate_hz, (replace(HZ_400, weight=1.0),), None)
    if finding.fit is None:
        return None
    p_value = min(1.0, finding.p_value / HZ_400.weight)
    rare = replace(finding, system=HZ_400, p_value=p_value)
    reading = _reading(rare, channel.scale, middle_s, false_alarm_rate, named=False)
    return reading if reading.comb.present else None


def _why_unreadable(channel: Channel, systems: tuple[MainsSystem, ...]) -> str:
    if not any(s.usual for s in systems):
        return "The rate is too low to hold the mains."
    if len(channel) < FEWEST_SAMPLES:
        return "Too few samples to read anything from."
    return ""


def _reading(
    finding: Finding, scale: float, middle_s: float, false_alarm_rate: float, *, named: bool
) -> CombReading:
    """Turn a finding in raw steps into records in the channel's unit."""
    fit, system = finding.fit, finding.system
    assert fit is not None  # noqa: S101 – the caller saw to it
    orders = clear_orders(fit, finding.duration_s)
    mains = mains_probability(system, fit.frequency_hz, fit.frequency_u_hz, orders, named=named)
    inside = system.low_hz <= fit.frequency_hz <= system.high_hz
    stands_out = finding.p_value < false_alarm_rate and bool(fit.seen.any()) and inside
    present = stands_out and mains > 0.5
    assumptions = finding.assumptions
    if stands_out and not present:
        assumptions = (*assumptions, _other_source(fit, orders, mains))
    lines = (
        seen_lines(fit, scale) if present else absent_lines(fit, system, finding.duration_s, scale)
    )
    power = float(np.sum(np.abs(fit.phasors[fit.seen]) ** 2)) / 2
    comb = MainsComb(
        present=present,
        false_alarm_rate=false_alarm_rate,
        p_value=finding.p_value,
        nominal_hz=system.nominal_hz,
        nominal_probability=finding.probability * (mains if stands_out else 1.0),
        frequency_hz=frequency_of(fit) if present else None,
        rms=total_of(fit, lines, scale) if present else UpperLimit(root_sum(lines)),
        share=min(1.0, power / finding.mean_square) if present else 0.0,
        lines=lines,
        wander=fit.wander if present else None,
        assumptions=assumptions,
    )
    model = CombModel(fit, middle_s) if present else None
    return CombReading(comb, model, replace(finding, named=named))


def _other_source(fit: CombFit, orders: tuple[int, ...], mains: float) -> str:
    rate_hz = common_order(orders) * fit.frequency_hz
    return (
        f"Lines at whole multiples of {rate_hz:.6g} Hz stand out, but that rate is hardly a "
        f"supply's (probability {mains:.0%}): they count as another source."
    )


@dataclass(frozen=True)
class Finding:
    """What search and fit found, in raw steps."""

    p_value: float
    system: MainsSystem
    probability: float
    fit: CombFit | None
    mean_square: float
    duration_s: float
    assumptions: tuple[str, ...]
    reduced: Reduced | None = None
    named: bool = False


def _find(
    channel: Channel,
    rate_hz: float,
    systems: tuple[MainsSystem, ...],
    progress: Callable[[float], None] | None,
) -> Finding:
    lowest = min(s.nominal_hz for s in systems if s.usual)
    cycles = len(channel) / rate_hz * lowest
    if cycles >= LONG_CYCLES:
        return _find_long(channel, rate_hz, systems, progress)
    return _find_short(channel, rate_hz, systems, cycles)


def _find_long(
    channel: Channel,
    rate_hz: float,
    systems: tuple[MainsSystem, ...],
    progress: Callable[[float], None] | None,
) -> Finding:
    duration_s = len(channel) / rate_hz
    # A few cycles of the railway's 16.7 Hz can't be told from a third of 50 Hz.
    systems = tuple(s for s in systems if s.usual or duration_s * s.nominal_hz > LONG_CYCLES)
    usual = [s.nominal_hz for s in systems if s.usual]
    reduced = reduce_rate(channel.raw, rate_hz, 1.02 * ORDERS * max(usual), progress)
    if reduced.mean_square == 0.0:
        return Finding(1.0, systems[0], 0.0, None, 0.0, 0.0, ())
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
    return Finding(
        p_value=found.p_value,
        system=system,
        probability=probability,
        fit=fit,
        mean_square=reduced.mean_square,
        duration_s=duration_s,
        assumptions=_assumptions(systems, orders),
        reduced=reduced,
    )


def _orders(f0_hz: float, reduced: Reduced, highest_hz: float) -> int:
    """Orders that the reduced record holds without folds, 40 at most."""
    top_hz = min(NYQUIST_SHARE * reduced.rate_hz, highest_hz)
    return max(1, min(ORDERS, int(top_hz / f0_hz)))


def _find_short(
    channel: Channel, rate_hz: float, systems: tuple[MainsSystem, ...], cycles: float
) -> Finding:
    samples = np.asarray(channel.raw[0 : len(channel)], dtype=np.float64)
    if len(systems) > 1:
        # Too short for the railway and for telling 400 Hz from the eighth order of 50 Hz.
        systems = tuple(s for s in SYSTEMS if s.usual)
    probabilities = None
    if cycles < FEW_CYCLES:
        bins = cosine_bins(samples, rate_hz, HIGHEST_HZ)
        probabilities = system_probabilities(bins, systems)
    if cycles < 1.0:
        best = int(np.argmax(probabilities)) if probabilities is not None else 0
        chance = float(probabilities[best]) if probabilities is not None else 1.0
        return Finding(
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
    return Finding(
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
