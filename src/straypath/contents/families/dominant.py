"""One clock that makes up nearly all lines of a record, the ones folded at half the rate as well.

A waveform with edges that nothing filtered before it was sampled folds over and over: hundreds of
its harmonics lie scattered between the first few, and look like combs and carriers of their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.families.agreement import (
    BASEL,
    LEVEL,
    REACH,
    chance,
    fit_rate,
    nearest_of_each,
    starts_at_zero,
)
from straypath.contents.families.aliases import apparent_hz
from straypath.contents.families.clocks import JOIN_CHANCE, Clock

if TYPE_CHECKING:
    from straypath.contents.families.agreement import Floats, Ints, Mask, Places
    from straypath.quantity import Quantity

FEWEST_LINES = 6
"""Fewer lines than this need no such explanation."""

MOST_POWER, MOST_LINES = 0.9, 0.5
"""Parts of the power and of the number of lines that the clock must explain."""

ANCHORS, HIGHEST_ANCHOR = 3, 8
"""The clock is looked for with each of the strongest lines as its harmonic 1 … 8."""

HIGHEST_HARMONIC, CAP_RATES = 4_000, 50.0
"""Harmonics are followed so far, and up to so many times the rate of the record."""

STEPS = 12
"""Rate and members settle in fewer."""

COVER = 0.02
"""Harmonics are followed while they cover less than this part of the spectrum."""

STEEPEST = 4.0
"""Harmonic k of a waveform with edges falls as 1/k: none folded exceeds that by more than this."""


@dataclass(frozen=True)
class Dominant:
    """A clock and how often an unrelated line would agree with each of its members.

    Parameters
    ----------
    clock : Clock
    by_chance : array, shape (members,)
        Part of the spectrum that harmonics up to the member's cover.
    """

    clock: Clock
    by_chance: Floats


def dominant_clock(
    places: Places, free: Mask, least_hz: float, rate_hz: float, top_hz: float
) -> Dominant | None:
    """Return the clock that explains nearly all free lines, if there is one.

    Each of the three strongest lines is taken as harmonic m = 1 … 8 of r = f/m, and harmonics
    |k·r − n·fs| are followed upwards as the rate becomes known better. It must explain 90 % of
    the power and half of the lines, with a chance tries·μ^c/c! < 1e-3 that c unrelated lines
    agree. Among several the one whose power lies in the lowest harmonics: Σ A² ln k/Σ A².

    Parameters
    ----------
    places : Places
    free : array of bool, shape (n,)
        Lines to explain; not changed.
    least_hz : float
        No rate below this is claimed [Hz].
    rate_hz, top_hz : float
        Rate of the record, and highest frequency that the input lets through [Hz].

    Validity: a clock that keeps its rate over the record to a part of 1/T at its harmonics.
    """
    lines = np.flatnonzero(free & places.narrow)
    if len(lines) < FEWEST_LINES:
        return None
    power = np.square(places.rms)
    strongest = lines[np.argsort(-power[lines], kind="stable")[:ANCHORS]]
    best: tuple[float, Dominant | None] = (np.inf, None)
    for anchor in strongest:
        for m in range(1, HIGHEST_ANCHOR + 1):
            if places.f[anchor] / m < least_hz:
                break
            found = _followed(places, lines, (int(anchor), m), rate_hz, top_hz)
            if found is None:
                continue
            own = power[found.clock.members]
            if own.sum() < MOST_POWER * power[lines].sum():
                continue
            cost = float(np.sum(own * np.log(found.clock.orders)) / own.sum())
            if cost < best[0]:
                best = (cost, found)
    return best[1]


def _followed(
    places: Places, lines: Ints, anchor: tuple[int, int], rate_hz: float, top_hz: float
) -> Dominant | None:
    """Follow the harmonics of f/m upwards until the members stay; None where few lines agree."""
    first, m = anchor
    start = (float(places.f[first] / m), float(places.s[first] / m))
    members, orders, cover, rate = _grown(places, lines, start, rate_hz, top_hz)
    plain = orders * rate < rate_hz / 2.0
    size = places.rms[members] * orders
    keep = plain | (size <= STEEPEST * size[plain].max(initial=0.0))
    members, orders, cover = members[keep], orders[keep], cover[keep]
    if len(members) < max(FEWEST_LINES, MOST_LINES * len(lines)):
        return None
    tries = np.log(ANCHORS * BASEL) + 2.0 * np.log(m)
    unlikely = chance(len(lines) * cover.max(initial=0.0), len(members) - 1, tries) < LEVEL
    true = _unfolded(places.f[members], orders, rate, rate_hz)
    clock = Clock(members, orders, true, crowded=2 * int(plain.sum()) < len(members))
    stands = bool(unlikely) and starts_at_zero(orders, clock.true_hz, places.s[members])
    return Dominant(clock.lowest_terms(), cover) if stands else None


def _grown(
    places: Places, lines: Ints, start: tuple[float, float], rate_hz: float, top_hz: float
) -> tuple[Ints, Ints, Floats, float]:
    """Return members, their harmonics, the cover up to each, and the rate [Hz]."""
    rate, u_rate = start
    members = orders = np.empty(0, dtype=np.int64)
    cover = np.empty(0)
    for _ in range(STEPS):
        inside, k, covered = _agreeing(places, lines, (rate, u_rate), rate_hz, top_hz)
        if len(inside) < 2:
            return inside[:0], k[:0], covered[:0], rate
        same = np.array_equal(inside, members) and np.array_equal(k, orders)
        members, orders, cover = inside, k, covered
        if same:
            break
        true = _unfolded(places.f[members], orders, rate, rate_hz)
        fitted = fit_rate(orders, true, places.s[members])
        rate, u_rate = fitted.value, fitted.u
    return members, orders, cover, rate


def folded_mains(
    places: Places, free: Mask, mains_hz: Quantity, rate_hz: float, top_hz: float
) -> Clock | None:
    """Return the free lines at multiples of the mains, folded ones too, where there are many.

    As `dominant_clock`, but of a rate that is known, and without a say on power: pulses of a
    dimmer that nothing filtered fold far more often than `with_folded` follows.

    Parameters
    ----------
    places, free, rate_hz, top_hz : see `dominant_clock`
    mains_hz : Quantity
        f0 [Hz].
    """
    lines = np.flatnonzero(free & places.narrow)
    if len(lines) < FEWEST_LINES:
        return None
    start = (mains_hz.value, REACH * max(mains_hz.u, 1e-12 * mains_hz.value))
    members, orders, cover, rate = _grown(places, lines, start, rate_hz, top_hz)
    many = len(members) >= max(FEWEST_LINES, MOST_LINES * len(lines))
    if not many or chance(len(lines) * cover.max(), len(members), 0.0) >= LEVEL:
        return None
    true = _unfolded(places.f[members], orders, rate, rate_hz)
    crowded = 2 * int(np.sum(orders * rate < rate_hz / 2.0)) < len(orders)
    return Clock(members, orders, true, crowded=crowded).lowest_terms()


def _agreeing(
    places: Places, lines: Ints, rate: tuple[float, float], rate_hz: float, top_hz: float
) -> tuple[Ints, Ints, Floats]:
    """Return the lines at harmonics, which ones, and what part of the spectrum is covered there."""
    top = min(top_hz, CAP_RATES * rate_hz) / rate[0]
    k = np.arange(1, max(1, min(HIGHEST_HARMONIC, int(top))) + 1)
    usual = float(np.median(places.s[lines]))
    cover = np.cumsum(4.0 * REACH * np.hypot(usual, k * rate[1]) / rate_hz)
    k, cover = k[cover <= COVER], cover[cover <= COVER]
    if not len(k):
        return lines[:0], k, cover
    f, s = places.f[lines], places.s[lines]
    miss = np.abs(f[:, np.newaxis] - apparent_hz(k * rate[0], rate_hz))
    fits = miss <= REACH * np.hypot(s[:, np.newaxis], k * rate[1])
    strangers = int(np.sum(~fits.any(axis=1)))
    fits &= cover * (1 + strangers) <= JOIN_CHANCE
    at = np.flatnonzero(fits.any(axis=1))
    lowest = np.argmax(fits[at], axis=1)
    order, away = np.zeros(len(lines)), np.zeros(len(lines))
    order[at], away[at] = k[lowest], miss[at, lowest]
    kept = nearest_of_each(at, order, away)
    chosen = order[kept].astype(np.int64)
    return lines[kept], chosen, cover[chosen - 1]


def _unfolded(f: Floats, orders: Ints, rate: float, rate_hz: float) -> Floats:
    """Return the true frequencies of folded harmonics [Hz]."""
    turns = np.round(orders * rate / rate_hz) * rate_hz
    sign = np.where(orders * rate >= turns, 1.0, -1.0)
    return np.asarray(turns + sign * f)


def stands_for_comb(
    found: Dominant, places: Places, comb: Ints, rest: Ints, mains_hz: Quantity
) -> float:
    """Return the chance that a clock explains a comb only by accident; 1 where it does not.

    Parameters
    ----------
    found : Dominant
        Among the lines of the comb and all others.
    places : Places
    comb, rest : array of int
        Positions of the comb's clear orders, and of all other lines.
    mains_hz : Quantity
        f0 of the comb [Hz].

    A clock at a multiple or a whole part of f0 says nothing against the mains, nor does one
    while the strongest line of all is an order.
    """
    clock = found.clock
    rate = clock.rate(places)
    high, low = max(rate.value, mains_hz.value), min(rate.value, mains_hz.value)
    ratio = round(high / low)
    if abs(high - ratio * low) <= REACH * (rate.u + mains_hz.u) * ratio + places.s.min():
        return 1.0
    if not len(rest) or places.rms[comb].max() >= places.rms[rest].max():
        return 1.0
    place = {int(i): float(p) for i, p in zip(clock.members, found.by_chance, strict=True)}
    if any(int(i) not in place for i in comb):
        return 1.0
    return float(np.prod([place[int(i)] for i in comb]))
