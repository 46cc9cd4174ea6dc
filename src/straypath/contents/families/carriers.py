"""Carriers: a strong line with sidebands at whole multiples of one spacing, on both sides."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaln

from straypath.contents.families.agreement import (
    BASEL,
    LEVEL,
    REACH,
    WEAK,
    common_divisor,
    fit_offset,
    nearest_of_each,
    starts_at_zero,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.contents.families.agreement import Floats, Ints, Mask, Places
    from straypath.quantity import Quantity

KNOWN_SIDEBANDS = 20
"""Sidebands that are followed on each side where the spacing is known beforehand."""

FREE_SIDEBANDS = 10
"""The same where the spacing is taken from the lines."""

HIGHEST_SIDE_ANCHOR = 3
"""An unknown spacing is looked for with each pair of lines as sidebands ±1, ±2 or ±3."""

MOST_PARTS = 24
"""Every second, third … harmonic of a clock is evenly spaced about a strong one too."""


@dataclass(frozen=True)
class Carrier:
    """A carrier and its sidebands.

    Parameters
    ----------
    centre : int
        Position of the carrier in `Places`.
    members : array of int, shape (n,)
        The sidebands.
    orders : array of int, shape (n,)
        Their numbers, negative below the carrier.
    """

    centre: int
    members: Ints
    orders: Ints

    def fit(self, places: Places) -> tuple[Quantity, Quantity]:
        """Return the frequency of the carrier and the spacing [Hz]."""
        orders, index = self._with_centre()
        return fit_offset(orders, places.f[index], places.u[index])

    def is_clock(self, places: Places) -> bool:
        """Whether a whole part of the spacing also divides the carrier, and not by chance."""
        orders, index = self._with_centre()
        f, s = places.f[index], places.s[index]
        centre, spacing = fit_offset(orders, f, s)
        return any(
            starts_at_zero(parts * orders + round(centre.value * parts / spacing.value), f, s)
            for parts in range(1, MOST_PARTS + 1)
        )

    def _with_centre(self) -> tuple[Ints, Ints]:
        return np.append(self.orders, 0), np.append(self.members, self.centre)


@dataclass(frozen=True)
class _Spacings:
    """Spacings to try at one centre: value and u, shape (n,) [Hz].

    `m` is the sideband, with its mirror image, that gave each; 0 for one known beforehand.
    """

    value: Floats
    u: Floats
    m: Floats
    sidebands: int


def search_carriers(
    places: Places,
    free: Mask,
    known: Sequence[Quantity],
    least_hz: float,
    *,
    clocks_too: bool = False,
    but: Sequence[int] = (),
) -> tuple[list[Carrier], bool]:
    """Return all carriers, strongest first, and whether one was left because it is a clock.

    Sidebands are then no longer free.

    A carrier is the strongest of its lines and has at least one pair of sidebands ±k. Of the
    lines on both sides up to sideband K, a pairs and b unpaired lines agree with the spacing.
    Unrelated lines do so with a chance below tries·λ^a/a!·μ^b/b!, with μ = Σ p over all lines
    in reach and λ = Σ_below p·Σ_above p/K for a pair at the same number. Accepted below 1e-3/2
    for spacings known beforehand (tries: centres × spacings), and again for spacings taken from
    a pair ±m (tries: centres × lines × (π²/6)·m²; of that pair only the second line counts).

    Parameters
    ----------
    places : Places
    free : array of bool, shape (n,)
        Lines that may become sidebands; changed in place. Any narrow line may be a carrier; it
        stays free for a clock.
    known : sequence of Quantity
        Spacings to expect: the mains frequency and the rates of clocks [Hz].
    least_hz : float
        No spacing below this is claimed [Hz].
    clocks_too : bool
        Whether evenly spaced lines that are harmonics of their spacing count as well.
    but : sequence of int
        Lines that are carriers already.
    """
    known = [spacing for spacing in known if spacing.value >= least_hz]
    taken = set(but)
    carriers: list[Carrier] = []
    left = False
    for centre in (int(i) for i in np.lexsort([places.f, -places.rms])):
        if not places.narrow[centre] or centre in taken:
            continue
        sides = free & places.narrow & (places.rms <= places.rms[centre])
        sides[[centre, *(carrier.centre for carrier in carriers)]] = False
        if np.sum(sides) < 2:
            continue
        carrier = _best(places, sides, centre, known, least_hz)
        if carrier is None:
            continue
        if not clocks_too and carrier.is_clock(places):
            left = True
            continue
        free[carrier.members] = False
        taken.update(int(i) for i in carrier.members)
        carriers.append(carrier)
    return carriers, left


def _best(
    places: Places, sides: Mask, centre: int, known: Sequence[Quantity], least_hz: float
) -> Carrier | None:
    """Return the carrier at this centre with the least chance, if that passes the level."""
    narrow = int(np.sum(places.narrow))
    best: tuple[float, Carrier | None] = (LEVEL, None)
    for spacings, log_tries in (
        (_from_known(known), np.log(2.0 * narrow * max(1, len(known)))),
        (_from_pairs(places, sides, centre, least_hz), np.log(2.0 * narrow * (narrow - 1) * BASEL)),
    ):
        if not len(spacings.value):
            continue
        number, p, agrees = _sidebands(places, sides, centre, spacings)
        bound = _chance(number, p, agrees, spacings, log_tries)
        i = int(np.argmin(bound))
        if bound[i] < best[0]:
            members = np.flatnonzero(agrees[i])
            found = Carrier(centre, members, number[i, members].astype(np.int64))
            best = (float(bound[i]), _grown(places, sides, found))
    return best[1]


def _from_known(known: Sequence[Quantity]) -> _Spacings:
    return _Spacings(
        value=np.array([q.value for q in known], dtype=np.float64),
        u=np.array([q.u for q in known], dtype=np.float64),
        m=np.zeros(len(known)),
        sidebands=KNOWN_SIDEBANDS,
    )


def _from_pairs(places: Places, sides: Mask, centre: int, least_hz: float) -> _Spacings:
    """Return the spacings that pairs of lines at equal distances below and above suggest."""
    f, s = places.f - places.f[centre], places.s
    below, above = np.flatnonzero(sides & (f < 0)), np.flatnonzero(sides & (f > 0))
    if not len(below) or not len(above):
        return _from_known(())
    # Nearest partner of each line below; the arrays are in order of frequency.
    right = np.clip(np.searchsorted(f[above], -f[below]), 1, max(1, len(above) - 1))
    left = above[right - 1]
    right_line = above[np.minimum(right, len(above) - 1)]
    nearer = np.abs(f[left] + f[below]) <= np.abs(f[right_line] + f[below])
    partner = np.where(nearer, left, right_line)
    # The centre's error counts twice in the comparison of two distances from it.
    width = REACH * np.sqrt(np.square(s[below]) + np.square(s[partner]) + 4.0 * s[centre] ** 2)
    mirrored = np.abs(f[partner] + f[below]) <= width
    distance = np.repeat((f[partner] - f[below])[mirrored] / 2.0, HIGHEST_SIDE_ANCHOR)
    u = np.repeat(np.hypot(s[partner], s[below])[mirrored] / 2.0, HIGHEST_SIDE_ANCHOR)
    m = np.tile(np.arange(1.0, HIGHEST_SIDE_ANCHOR + 1.0), int(mirrored.sum()))
    keep = distance / m >= least_hz
    return _Spacings((distance / m)[keep], (u / m)[keep], m[keep], FREE_SIDEBANDS)


def _sidebands(
    places: Places, sides: Mask, centre: int, spacings: _Spacings
) -> tuple[Floats, Floats, Mask]:
    """Return number, chance p (0 where a line cannot count) and agreement, per spacing and line."""
    away = places.f - places.f[centre]
    spacing = spacings.value[:, np.newaxis]
    number = np.round(away / spacing)
    size = np.abs(number)
    variance = np.square(places.s) + places.s[centre] ** 2
    width = REACH * np.sqrt(variance + np.square(size * spacings.u[:, np.newaxis]))
    p = np.minimum(1.0, 2.0 * width / spacing)
    counts = sides & (size >= 1) & (size <= spacings.sidebands) & (p <= WEAK)
    agrees = counts & (np.abs(away - number * spacing) <= width)
    return number, np.where(counts, p, 0.0), agrees


def _chance(
    number: Floats, p: Floats, agrees: Mask, spacings: _Spacings, log_tries: float
) -> Floats:
    """Return the bound of `search_carriers` for each spacing; 1 where there is no pair."""
    k = spacings.sidebands
    column = np.where(agrees, number, 0).astype(np.int64) + k
    present = np.zeros((len(number), 2 * k + 1), dtype=np.bool_)
    np.put_along_axis(present, column, values=True, axis=1)
    above, below = present[:, k + 1 :], present[:, :k][:, ::-1]
    pairs = np.sum(above & below, axis=1)
    alone = np.sum(above ^ below, axis=1)
    p_below, p_above = np.sum(p * (number < 0), axis=1), np.sum(p * (number > 0), axis=1)
    log_pair = np.log(np.maximum(p_below * p_above / k, 1e-300))
    log_line = np.log(np.maximum(p_below + p_above, 1e-300))
    own = spacings.m > 0
    others = pairs - own
    log = log_tries + others * log_pair - gammaln(np.maximum(others, 0) + 1.0)
    log += alone * log_line - gammaln(alone + 1.0)
    log += np.where(own, log_line - np.log(k) + 2.0 * np.log(np.maximum(spacings.m, 1.0)), 0.0)
    return np.where(pairs >= 1, np.exp(np.minimum(log, 0.0)), 1.0)


def _grown(places: Places, sides: Mask, carrier: Carrier) -> Carrier:
    """Fit carrier and spacing to the members and match again; then take the largest spacing."""
    offset, spacing = carrier.fit(replace(places, u=places.s))
    reach = max(KNOWN_SIDEBANDS, ceil(np.abs(carrier.orders).max()))
    again = _Spacings(np.array([spacing.value]), np.array([spacing.u]), np.zeros(1), reach)
    f = places.f.copy()
    f[carrier.centre] = offset.value
    number, _, agrees = _sidebands(replace(places, f=f), sides, carrier.centre, again)
    miss = np.abs(f - offset.value - number[0] * spacing.value)
    members = nearest_of_each(np.flatnonzero(agrees[0]), number[0], miss)
    orders = number[0, members].astype(np.int64)
    if np.isin(orders, -orders).any():
        carrier = Carrier(carrier.centre, members, orders)
    return replace(carrier, orders=carrier.orders // common_divisor(carrier.orders))
