"""Whether a line or a rate can be told from an order of the mains."""

from __future__ import annotations

from math import erf, hypot, inf, sqrt
from typing import TYPE_CHECKING

from straypath.contents.records import BesideMains

if TYPE_CHECKING:
    from straypath.quantity import Quantity

SEPARATE_SIGMAS = 3.0
"""Beyond this many standard uncertainties two frequencies differ (one in 370 by chance)."""


def beside_mains(
    frequency_hz: Quantity,
    mains_hz: Quantity,
    duration_s: float,
    *,
    highest: int = 1,
    width_hz: float = 0.0,
) -> BesideMains:
    """Return how a frequency lies against the nearest order of the mains.

    d = f − k·f0, k = round(f/f0); sigmas = |d|/√(u_f² + (k·u_f0)²); separate when
    sigmas > 3 and highest·|d| > max(1/T, highest·width).

    Parameters
    ----------
    frequency_hz : Quantity
        Line, or rate of a family [Hz].
    mains_hz : Quantity
        Mean f0 over the same record, not its nominal value [Hz]. Both are read against the same
        time base, whose error cancels.
    duration_s : float
        Record length T [s].
    highest : int
        Highest harmonic of the rate that was seen: there the distance is `highest` times larger.
    width_hz : float
        Half-power width of a narrow band [Hz]; 0 for a line.

    Returns
    -------
    BesideMains
        Order 0 is direct current: the nearest "order" of all that lies below f0/2.

    Notes
    -----
    Two lines closer than 1/T cannot be told apart by a record of length T, whatever their
    stated uncertainty: a fit of one line stands between the two. The single exception, an order
    whose frequency and phasor are known from elsewhere, is not used here. A distance in sigmas
    holds while the mains keep their frequency; a wander wider than u_f0 makes it too large, and
    the smeared order then comes as a narrow band with its width.

    Examples
    --------
    >>> from straypath.uncertainty import from_normal
    >>> clock, mains = from_normal(1000.0, 1e-3), from_normal(49.98, 1e-4)
    >>> beside_mains(clock, mains, 10.0).separate, beside_mains(clock, mains, 0.05).separate
    (True, False)
    """
    order = round(frequency_hz.value / mains_hz.value)
    distance = frequency_hz.value - order * mains_hz.value
    u = hypot(frequency_hz.u, order * mains_hz.u, width_hz / 2.355)
    sigmas = abs(distance) / u if u > 0 else (inf if distance else 0.0)
    resolved = highest * abs(distance) > max(1.0 / duration_s, highest * width_hz)
    separate = bool(sigmas > SEPARATE_SIGMAS and resolved)
    return BesideMains(order, float(distance), float(sigmas), separate)


def coincidence(order: int, within_hz: float, spread_hz: float) -> float:
    """Return how often an order of the mains lies beside a clock at its nominal frequency.

    P(|k·Δf0| < w) = erf(w/(k·σ·√2)) for a Gaussian Δf0.

    Parameters
    ----------
    order : int
        k.
    within_hz : float
        w, what counts as beside, such as 1/T [Hz].
    spread_hz : float
        σ, standard deviation of the mains frequency about nominal [Hz].

    Examples
    --------
    >>> round(coincidence(2, 4e-3, 0.020), 4)
    0.0797
    """
    return erf(within_hz / (order * spread_hz * sqrt(2.0)))
