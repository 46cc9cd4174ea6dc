"""Is it the mains at all? A comb in the range of a supply may be something else's.

Any line above 200 Hz lies at a whole multiple of some frequency that a supply could have. So a
comb is held against another explanation of the very same lines: a source of unknown rate.
"""

from __future__ import annotations

from math import gcd, log
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.mains.systems import HZ_50

if TYPE_CHECKING:
    from collections.abc import Iterable

    from straypath.contents.mains.systems import MainsSystem

# Prior chance that lines come from the mains; where the person named the supply, a higher one.
MAINS = 0.5
NAMED = 0.9
# A rarer supply than 50 and 60 Hz is the less likely.
USUAL = HZ_50.weight
# Rates of unknown sources lie anywhere over so many factors of e: 1 Hz … 10 kHz.
RATES = log(1e4)
# How often all orders of a hum are multiples of this one: usual hum 1, lamps and rectifiers 2,
# neutral currents 3, six-pulse converters 6. Common practice, no source; the figures are ours.
ONLY_MULTIPLES = {1: 0.8, 2: 0.14, 3: 0.04, 6: 0.01, 12: 0.003}
# Of any other order g: this over g².
RARELY = 0.01


def common_order(orders: Iterable[int]) -> int:
    """Return the largest whole number that all orders are multiples of; 1 of none."""
    return gcd(*orders) or 1


def share_of(order: int) -> float:
    """Return how often a hum shows nothing but multiples of this order."""
    return ONLY_MULTIPLES.get(order, RARELY / order**2)


def mains_probability(
    system: MainsSystem, f0_hz: float, u_hz: float, orders: Iterable[int], *, named: bool
) -> float:
    """Return the chance that a comb is the mains and no other source.

    P = w p(f0) s(g) / (w p(f0) s(g) + (1 - w) / (f0 ln 10⁴)): w is the prior, p the density of
    the supply's frequency, s(g) how often only multiples of order g show; an unknown rate is
    equally likely in every octave.

    Parameters
    ----------
    system : MainsSystem
    f0_hz, u_hz : float
        [Hz].
    orders : iterable of int
        Orders that were seen.
    named : bool
        Whether the person said that it is this supply.

    Example
    -------
    >>> from straypath.contents.mains.systems import HZ_50, HZ_60
    >>> round(mains_probability(HZ_50, 49.98, 0.001, [1, 3], named=False), 3)
    0.999
    >>> mains_probability(HZ_60, 62.857, 0.001, [7], named=False) < 0.01
    True
    """
    weight = NAMED if named else MAINS * min(1.0, system.weight / USUAL)
    density = float(system.prior_density(np.array(f0_hz), np.array(u_hz)))
    common = common_order(orders)
    # A rare supply without its own frequency is too much of a coincidence.
    shares = share_of(common) if system.usual or named or common == 1 else RARELY / common**2
    mains = weight * density * shares
    other = (1.0 - weight) / (f0_hz * RATES)
    return mains / (mains + other)
