"""How well lines agree with a grid, and how often unrelated lines would.

The null hypothesis throughout: a line that has nothing to do with a grid of spacing s falls
anywhere between two of its teeth with equal chance. It then lies within ±w of a tooth with
p = 2w/s, whatever the density of lines over frequency, as long as that is even over one s.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd, hypot, sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaln

from straypath.uncertainty import from_normal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from straypath.contents.records import Line
    from straypath.quantity import Quantity

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Mask = NDArray[np.bool_]

LEVEL = 1e-3
"""Chance, per record, that unrelated lines are called a clock; again for carriers."""

REACH = 4.0
"""Lines agree within so many standard uncertainties: one true member in 16,000 is missed."""

WEAK = 0.05
"""A line that would fit a grid by chance more often than this tells nothing, and joins nothing."""

OFFSET_CHANCE = 0.01
"""Evenly spaced lines may be sidebands: that their spacing also divides them must be no chance."""

TIGHT = 0.005
"""Chances are also taken over lines that fit this seldom: loose ones must not hide them."""

CELL_SHARE = 0.01
"""Least uncertainty for agreement, as a part of 1/T: what strong neighbours shift a line by."""

BASEL = np.pi**2 / 6.0
"""Σ 1/m²: shares one budget among anchors of every order m, the low ones first."""


@dataclass(frozen=True)
class Places:
    """Lines as arrays, in order of frequency.

    Parameters
    ----------
    f, u : array, shape (n,)
        Frequency and its standard uncertainty [Hz].
    s : array, shape (n,)
        Uncertainty that counts for agreement: not below `CELL_SHARE`/T, and for a narrow band
        wide enough that its half width is within `REACH` [Hz].
    rms : array, shape (n,)
    narrow : array of bool, shape (n,)
        False for a narrow band.
    """

    f: Floats
    u: Floats
    s: Floats
    rms: Floats
    narrow: Mask

    @classmethod
    def of(cls, lines: Sequence[Line], duration_s: float) -> Places:
        """Return the arrays of lines that are sorted already."""
        f = np.array([line.frequency_hz.value for line in lines], dtype=np.float64)
        width = np.array(
            [line.width_hz.value if line.width_hz is not None else 0.0 for line in lines],
            dtype=np.float64,
        )
        u = np.hypot([line.frequency_hz.u for line in lines], width / (2.0 * REACH))
        return cls(
            f=f,
            u=np.maximum(u, 1e-12 * f),
            s=np.maximum(u, CELL_SHARE / duration_s),
            rms=np.array([line.rms.value for line in lines], dtype=np.float64),
            narrow=np.array([line.width_hz is None for line in lines], dtype=np.bool_),
        )

    def __len__(self) -> int:
        return len(self.f)


def chance(fits: ArrayLike, count: ArrayLike, log_tries: ArrayLike) -> Floats:
    """Return a bound on the chance that `count` or more unrelated lines agree: tries·μ^c/c!.

    Parameters
    ----------
    fits : array-like
        μ = Σ p over the lines that could have agreed: how many do by chance.
    count : array-like of int
        c, how many did.
    log_tries : array-like
        ln of the number of grids that were tried.

    Returns
    -------
    array
        0 … 1. Holds for lines with different p: μ^c/c! is at least the sum over all subsets of c
        lines of the product of their p.

    Examples
    --------
    >>> round(float(chance(1e-3, 2, 0.0)), 9)
    5e-07
    """
    mu, c = np.asarray(fits, dtype=np.float64), np.asarray(count)
    log = c * np.log(np.maximum(mu, 1e-300)) - gammaln(c + 1.0) + log_tries
    return np.asarray(np.exp(np.minimum(log, 0.0)))


def fit_rate(orders: Ints, f: Floats, u: Floats) -> Quantity:
    """Return the rate r of f_i = k_i·r by weighted least squares: Σ k·f/u² / Σ k²/u².

    Parameters
    ----------
    orders : array of int, shape (n,)
        k.
    f, u : array, shape (n,)
        [Hz].

    Returns
    -------
    Quantity
        u = 1/√(Σ k²/u²), enlarged by √(χ²/(n − 1)) where the lines scatter more than they should
        (the rate moved, or lines disturb each other).

    References
    ----------
    Weighted mean and Birge ratio, as in the adjustments of fundamental constants (from memory).
    """
    weight = np.square(orders / u)
    rate = float(np.sum(weight * f / orders) / np.sum(weight))
    scatter = float(np.sum(np.square((f - orders * rate) / u)))
    excess = sqrt(max(1.0, scatter / max(1, len(f) - 1)))
    return from_normal(rate, excess / sqrt(float(np.sum(weight))))


def fit_offset(orders: Ints, f: Floats, u: Floats) -> tuple[Quantity, Quantity]:
    """Return offset a and spacing s of f_i = a + k_i·s by weighted least squares.

    Parameters
    ----------
    orders : array of int, shape (n,)
        k, at least two different ones.
    f, u : array, shape (n,)
        [Hz].

    Returns
    -------
    (offset, spacing) : Quantity, Quantity
        Enlarged by √(χ²/(n − 2)) where the scatter asks for it.
    """
    weight = 1.0 / np.square(u)
    total = float(weight.sum())
    centre = float(np.sum(weight * orders)) / total
    away = orders - centre
    lever = float(np.sum(weight * np.square(away)))
    spacing = float(np.sum(weight * away * f)) / lever
    offset = float(np.sum(weight * f)) / total - centre * spacing
    scatter = float(np.sum(weight * np.square(f - offset - orders * spacing)))
    excess = sqrt(max(1.0, scatter / max(1, len(f) - 2)))
    u_spacing = excess / sqrt(lever)
    u_offset = hypot(excess / sqrt(total), centre * u_spacing)
    return from_normal(offset, u_offset), from_normal(spacing, u_spacing)


def common_divisor(numbers: Ints) -> int:
    """Return the greatest whole number that divides all; 1 for nothing but zeros."""
    return gcd(*(int(n) for n in numbers)) or 1


def nearest_of_each(members: Ints, orders: Floats, miss: Floats) -> Ints:
    """Return the members without those that lie farther from their tooth than another does.

    Parameters
    ----------
    members : array of int, shape (n,)
        Positions among all lines.
    orders, miss : array, shape (lines,)
        Nearest tooth of every line, and how far it is away [Hz].
    """
    nearest = members[np.argsort(miss[members], kind="stable")]
    _, first = np.unique(orders[nearest], return_index=True)
    return np.asarray(np.sort(nearest[first]))


def starts_at_zero(orders: Ints, f: Floats, s: Floats) -> bool:
    """Whether the grid of the lines passes through zero, and would hardly do so by chance.

    Sidebands of a carrier are evenly spaced too; the carrier then lies anywhere between two
    multiples of the spacing. With lines g·r apart, all subdivisions up to g were open: the
    chance is Σ_q q·2w/(g·r) = w·(g + 1)/r for an offset known to ±w.

    Parameters
    ----------
    orders : array of int, shape (n,)
        k; below three of them there is no telling, and the answer is True.
    f, s : array, shape (n,)
        [Hz].
    """
    if len(orders) < 3:
        return True
    offset, spacing = fit_offset(orders, f, s)
    g = common_divisor(orders - orders[0])
    width = REACH * offset.u
    return abs(offset.value) <= width and width * (g + 1) / spacing.value <= OFFSET_CHANCE


def root_sum(lines: Sequence[Line]) -> Quantity:
    """Return all lines together: √(Σ rms²), with u = √(Σ (rms·u)²)/rms."""
    values = np.array([line.rms.value for line in lines], dtype=np.float64)
    u = np.array([line.rms.u for line in lines], dtype=np.float64)
    if len(lines) == 1:
        return lines[0].rms
    total = sqrt(float(np.sum(np.square(values))))
    # Lines of no size at all leave the uncertainty of their sum to first order undefined.
    spread = sqrt(float(np.sum(np.square(values * u)))) / total if total > 0 else float(u.max())
    whole = from_normal(total, spread)
    return type(whole)(whole.value, whole.u, max(0.0, whole.low), whole.high)
