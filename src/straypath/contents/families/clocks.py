"""Clocks: lines at whole multiples of one rate, found with the chance of being fooled in view."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.families.agreement import (
    BASEL,
    LEVEL,
    REACH,
    TIGHT,
    WEAK,
    chance,
    common_divisor,
    fit_rate,
    nearest_of_each,
    starts_at_zero,
)
from straypath.contents.families.aliases import CAP_RATES, apparent_hz

if TYPE_CHECKING:
    from straypath.contents.families.agreement import Floats, Ints, Mask, Places
    from straypath.quantity import Quantity

HIGHEST_ANCHOR = 64
"""A clock is looked for with each line as its harmonic 1 … 64."""

HIGHEST_OF_PAIR = 10
"""Two lines alone make a clock only as harmonics up to this one."""

FEW_LINES = 10
"""Among so few lines, pairs of 1:2 and 1:3 are looked at for themselves."""

PAIR_SHARE = 2.0 / 3.0
"""Part of the level that these pairs get; where there are more lines, the pairs go without."""

JOIN_CHANCE = 0.05
"""Chance that one of the unrelated lines joins a clock."""

STEP_CHANCE = 0.01
"""A lower rate must bring further lines in, and no chance may explain them."""

FOLDED_CHANCE = 0.01
"""Chance that any free line agrees with a folded harmonic of one clock."""

NEARLY = 0.02
"""Enough where a folded harmonic agrees as well: that adds 2e-4 to the level."""

HIGHEST_FOLDED = 100
"""Harmonics above half the rate are followed up to here."""

CROWD_SHIFT = 10.0
"""A line as strong as another shifts it by up to a tenth of 1/T: so many `CELL_SHARE`s."""


@dataclass(frozen=True)
class Clock:
    """Members of a clock.

    Parameters
    ----------
    members : array of int, shape (n,)
        Positions in `Places`.
    orders : array of int, shape (n,)
    true_hz : array, shape (n,)
        Their frequencies, unfolded [Hz].
    crowded : bool
        Whether weaker lines of the same clock, between those that were measured, shift them.
    """

    members: Ints
    orders: Ints
    true_hz: Floats
    crowded: bool = False

    def rate(self, places: Places) -> Quantity:
        """Return the rate that the members give [Hz]."""
        u = places.u[self.members]
        if self.crowded:
            rms = places.rms[self.members]
            u = np.hypot(u, CROWD_SHIFT * places.s.min() * np.median(rms) / rms)
        return fit_rate(self.orders, self.true_hz, u)

    def lowest_terms(self) -> Clock:
        """Return the clock at the largest rate that explains all its lines."""
        return replace(self, orders=self.orders // common_divisor(self.orders))


def mains_clock(places: Places, mains_hz: Quantity, rate_hz: float, top_hz: float) -> Clock | None:
    """Return the lines at orders of the mains, at the largest rate that explains all of them.

    The mains frequency is known, so one grid is tried, not many; its teeth drift apart with the
    order by k·u_f0, which members of low order then narrow down.

    Parameters
    ----------
    places : Places
        Narrow bands may join: high orders of wandering mains are smeared.
    mains_hz : Quantity
        f0 [Hz].
    rate_hz, top_hz : float
        Rate of the record, and highest frequency that the input lets through [Hz].
    """
    free = np.ones(len(places), dtype=np.bool_)
    known = (mains_hz.value, max(mains_hz.u, 1e-12 * mains_hz.value))
    members, orders, rate, u_rate = _grown(places, free, *known, prior=known)
    order, p, agrees = _on_grid(places.f, places.s, *known)
    found = False
    for weak in (WEAK, TIGHT):
        usable = (order >= 1) & (p <= weak)
        fits, count = float(p[usable].sum()), int(np.sum(agrees & usable))
        found |= count >= 2 and float(chance(fits, count, np.log(2.0))) < LEVEL
    found = found and starts_at_zero(*_with_prior(places, members, orders, known))
    if not found:
        members, orders = members[:0], orders[:0]
        rate, u_rate = known
    clock = Clock(members, orders, places.f[members])
    free[members] = False
    clock = with_folded(places, free, clock, (rate, u_rate), rate_hz, top_hz)
    return clock.lowest_terms() if len(clock.members) >= 2 else None


def search_clocks(
    places: Places, free: Mask, least_hz: float, rate_hz: float, top_hz: float
) -> list[Clock]:
    """Return all clocks among the free lines; their members are then no longer free.

    Each line is taken in turn as harmonic m = 1 … 64 of a rate r = f/m. Of the n − 1 others, c lie
    within 4 standard uncertainties of a harmonic where μ would by chance: accepted when
    3·n·(π²/6)·m²·μ^c/c! < 1e-3, lowest first. Three ways to count c and μ: over all lines, over
    those that would agree in under 0.5 %, and over those up to the tenth harmonic. Among 10 lines
    at most, pairs of 1:2 and 1:3 get two thirds of the level for themselves: Σ p over all such
    pairs < 2/3·1e-3, and the rest is for the others. A lower rate
    has a larger μ, so of all rates that explain the same lines the largest comes first. Up to 0.02
    is enough when a folded harmonic agrees too.

    Parameters
    ----------
    places : Places
    free : array of bool, shape (n,)
        Lines to group; changed in place.
    least_hz : float
        No rate below this is claimed [Hz].
    rate_hz, top_hz : float
        Rate of the record, and highest frequency that the input lets through [Hz].
    """
    clocks = []
    for anchor, m in _candidates(places, free, least_hz):
        if not free[anchor]:
            continue
        rate, u_rate = places.f[anchor] / m, places.s[anchor] / m
        clock, by_chance = _checked(places, free, float(rate), float(u_rate))
        if clock is None:
            continue
        others = free.copy()
        others[clock.members] = False
        found = fit_rate(clock.orders, clock.true_hz, places.s[clock.members])
        whole = with_folded(places, others, clock, (found.value, found.u), rate_hz, top_hz)
        if by_chance < LEVEL or len(whole.members) > len(clock.members):
            free[whole.members] = False
            clocks.append(whole)
    return clocks


def _on_grid(f: Floats, s: Floats, rate: Floats | float, u_rate: Floats | float) -> _Grid:
    """Return nearest order, chance p of agreeing, and whether each line does."""
    order = np.round(f / rate)
    width = REACH * np.hypot(s, order * u_rate)
    p = np.minimum(1.0, 2.0 * width / rate)
    agrees = (order >= 1) & (p <= WEAK) & (np.abs(f - order * rate) <= width)
    return order, p, agrees


_Grid = tuple["Floats", "Floats", "Mask"]


def _candidates(places: Places, free: Mask, least_hz: float) -> list[tuple[int, int]]:
    """Return (anchor, m) of every rate that passes the level, least chance first."""
    index = np.flatnonzero(free)
    f, s = places.f[index], places.s[index]
    found: list[tuple[float, int, int]] = []
    for j, anchor in enumerate(index):
        m = np.arange(1, HIGHEST_ANCHOR + 1, dtype=np.float64)
        m = m[f[j] / m >= least_hz]
        if not len(m):
            continue
        bound = _anchored_chance(f, s, j, m)
        found += [(float(bound[i]), int(anchor), int(m[i])) for i in np.flatnonzero(bound < NEARLY)]
    return [(anchor, m) for _, anchor, m in sorted(found)]


def _anchored_chance(f: Floats, s: Floats, j: int, m: Floats) -> Floats:
    """Return the chance bound of the rates f_j/m, searched among all lines and orders."""
    rate, u_rate = (f[j] / m)[:, np.newaxis], (s[j] / m)[:, np.newaxis]
    order, p, agrees = _on_grid(f, s, rate, u_rate)
    others = np.arange(len(f)) != j
    usable = (order >= 1) & (p <= WEAK) & others
    agrees &= others
    parts = (usable, usable & (p <= TIGHT), usable & (order <= HIGHEST_OF_PAIR))
    few = len(f) <= FEW_LINES
    rest = 1.0 - PAIR_SHARE if few else 1.0
    log_tries = np.log(len(parts) * len(f) * BASEL / rest) + 2.0 * np.log(m)
    bounds = [
        chance(np.sum(p * part, axis=1), np.sum(agrees & part, axis=1), log_tries) for part in parts
    ]
    if few:
        pair = (m == 1) & np.any(agrees & _in_pair(order), axis=1)
        bounds.append(np.where(pair, _pairs_by_chance(f, s) / PAIR_SHARE, 1.0))
    return np.asarray(np.min(bounds, axis=0))


def _in_pair(order: Floats) -> Mask:
    return np.asarray((order == 2) | (order == 3))


def _pairs_by_chance(f: Floats, s: Floats) -> float:
    """Return how many pairs of lines agree as 1:2 or 1:3 by chance: Σ p over all pairs there."""
    order, p, _ = _on_grid(f, s, f[:, np.newaxis], s[:, np.newaxis])
    return float(np.sum(p * _in_pair(order)))


def _checked(places: Places, free: Mask, rate: float, u_rate: float) -> tuple[Clock | None, float]:
    """Return the clock at about this rate, if it withstands every test, and its chance."""
    members, orders, _, _ = _grown(places, free, rate, u_rate)
    if len(members) < 2:
        return None, 1.0
    clock = Clock(members, orders, places.f[members]).lowest_terms()
    clock = _stepped_up(places, free, clock)
    by_chance = _least_chance(places, free, clock)
    if len(clock.members) == 2:
        stands = int(clock.orders.max()) <= HIGHEST_OF_PAIR
    else:
        stands = starts_at_zero(*_with_prior(places, clock.members, clock.orders))
    return (clock if stands and by_chance < NEARLY else None), by_chance


def _grown(
    places: Places,
    free: Mask,
    rate: float,
    u_rate: float,
    prior: tuple[float, float] | None = None,
) -> tuple[Ints, Ints, float, float]:
    """Match, fit the rate to the members, match again, until the members stay.

    A loose line of high order would bend the rate before the others have settled it. So a line
    joins only if so close an agreement is unlikely among all lines that disagree. Orders of the
    mains are expected, and their rate is known: any line that can tell joins.
    """
    members = np.empty(0, dtype=np.int64)
    orders = members
    for _ in range(8):
        order, p, agrees = _on_grid(places.f, places.s, rate, u_rate)
        agrees &= free
        if prior is None:
            strangers = np.sum(free & (order >= 1) & (p <= WEAK) & ~agrees)
            agrees &= p * (1 + strangers) <= JOIN_CHANCE
        miss = np.abs(places.f - order * rate)
        inside = nearest_of_each(np.flatnonzero(agrees), order, miss)
        if len(inside) < 2 or np.array_equal(inside, members):
            break
        members, orders = inside, order[inside].astype(np.int64)
        fitted = fit_rate(*_with_prior(places, members, orders, prior))
        rate, u_rate = fitted.value, fitted.u
    return members, orders, rate, u_rate


def _with_prior(
    places: Places, members: Ints, orders: Ints, prior: tuple[float, float] | None = None
) -> tuple[Ints, Floats, Floats]:
    f, s = places.f[members], places.s[members]
    if prior is None:
        return orders, f, s
    return np.append(orders, 1), np.append(f, prior[0]), np.append(s, prior[1])


def _stepped_up(places: Places, free: Mask, clock: Clock) -> Clock:
    """Go to a multiple of the rate while chance explains the lines that only the lower rate has."""
    stepping = True
    while stepping:
        stepping = False
        rate = fit_rate(clock.orders, clock.true_hz, places.s[clock.members])
        _, p, _ = _on_grid(places.f, places.s, rate.value, rate.u)
        for q in (2, 3, 5, 7):
            on_multiple = clock.orders % q == 0
            extra = int(np.sum(~on_multiple))
            if np.sum(on_multiple) < 2:
                continue
            # Only lines that tell as much as the extra ones: loose ones would fit anyhow.
            rest = free & (p <= p[clock.members[~on_multiple]].max(initial=0.0))
            rest[clock.members[on_multiple]] = False
            if float(chance(float(p[rest].sum()), extra, np.log(q))) > STEP_CHANCE:
                kept = clock.members[on_multiple]
                clock = Clock(kept, clock.orders[on_multiple], places.f[kept]).lowest_terms()
                stepping = True
                break
    return clock


def _least_chance(places: Places, free: Mask, clock: Clock) -> float:
    """Return the chance of the clock with the best of its members as the anchor."""
    index = np.flatnonzero(free)
    f, s = places.f[index], places.s[index]
    position = np.searchsorted(index, clock.members)
    return min(
        float(_anchored_chance(f, s, int(j), np.array([float(k)]))[0])
        for j, k in zip(position, clock.orders, strict=True)
    )


def with_folded(
    places: Places,
    free: Mask,
    clock: Clock,
    rate: tuple[float, float],
    rate_hz: float,
    top_hz: float,
) -> Clock:
    """Return the clock with the free lines that are its harmonics folded at half the rate.

    Harmonic k shows at |k·r − n·fs|. A line joins when the chance that any free line lies so near
    to one of the harmonics up to k is below 1 %.

    Parameters
    ----------
    places, free, clock : see `search_clocks`
    rate : (float, float)
        Rate of the clock and its standard uncertainty [Hz].
    rate_hz, top_hz : float
        Rate of the record; harmonics are followed to `top_hz`, to 10 times the rate of the
        record and to the hundredth [Hz].
    """
    candidates = np.flatnonzero(free & places.narrow)
    top = min(top_hz, CAP_RATES * rate_hz)
    k = np.arange(1, min(HIGHEST_FOLDED, int(top / rate[0])) + 1)
    k = k[k * rate[0] > rate_hz / 2.0]
    if not len(k) or not len(candidates):
        return clock
    shows = apparent_hz(k * rate[0], rate_hz)
    f, s = places.f[candidates], places.s[candidates]
    width = REACH * np.hypot(s[:, np.newaxis], k * rate[1])
    by_chance = len(candidates) * np.cumsum(4.0 * width / rate_hz, axis=1)
    agrees = (np.abs(f[:, np.newaxis] - shows) <= width) & (by_chance <= FOLDED_CHANCE)
    lines = np.flatnonzero(agrees.any(axis=1))
    orders = k[np.argmax(agrees[lines], axis=1)]
    turns = np.round(orders * rate[0] / rate_hz) * rate_hz
    true = turns + np.sign(orders * rate[0] - turns) * f[lines]
    return Clock(
        np.concatenate([clock.members, candidates[lines]]),
        np.concatenate([clock.orders, orders]),
        np.concatenate([clock.true_hz, true]),
    )
