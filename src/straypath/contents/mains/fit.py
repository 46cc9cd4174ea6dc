"""What a fit of the comb hands on, however long the record was; and what two fits share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

if TYPE_CHECKING:
    from straypath.arrays import BoolArray, ComplexArray, FloatArray
    from straypath.contents.records import Wander


# An order counts as seen at this chance of a false alarm. Softer gates spoil the frequency:
# orders that are not there feed it their noise, weighted by the square of the order.
SEEN = 1e-4
# Scatter between pieces of the record replaces the local floor when it is larger than chance
# allows one time in twenty.
SCATTER_CHANCE = 0.05


@dataclass(frozen=True)
class PhasePath:
    """Departure of order 1 from a steady `frequency_hz`; zero at the record's centre.

    Parameters
    ----------
    times_s : array, shape (n,)
        From the record's centre [s].
    phase_rad : array, shape (n,)
        [rad].
    """

    times_s: FloatArray
    phase_rad: FloatArray


@dataclass(frozen=True)
class Slots:
    """The orders in stretches of a record, one after another.

    Parameters
    ----------
    times_s : array, shape (slots,)
        Middles, from the record's centre [s].
    phasors : array, shape (slots, orders)
        Their phases follow the track.
    variance : array, shape (orders,)
        Of each quadrature of a slot's phasor [unit²].
    """

    times_s: FloatArray
    phasors: ComplexArray
    variance: FloatArray


@dataclass(frozen=True)
class CombFit:
    """Frequency and phasors of all orders, with variances.

    Parameters
    ----------
    frequency_hz, frequency_u_hz, frequency_dof : float
        Mean over the record [Hz], its standard uncertainty [Hz] and degrees of freedom.
    phasors : array, shape (orders,)
        Peak amplitude · e^{jθ}, θ at the record's centre.
    variance, dof : array, shape (orders,)
        Of each quadrature of a phasor [unit²].
    turn_variance : float
        Variance of order 1's phase at the centre that comes from the track [rad²].
    seen : array of bool, shape (orders,)
    floor : array, shape (orders,)
        One-sided density [unit²/Hz].
    wander : Wander or None
    slots : Slots or None
        The orders in stretches of the record, where it is long enough.
    path : PhasePath or None
        How the phase of order 1 strayed from a steady frequency, where it did.
    """

    frequency_hz: float
    frequency_u_hz: float
    frequency_dof: float
    phasors: ComplexArray
    variance: FloatArray
    dof: FloatArray
    turn_variance: float
    seen: BoolArray
    floor: FloatArray
    wander: Wander | None = None
    path: PhasePath | None = None
    slots: Slots | None = None


def chance_of(phasors: ComplexArray, variance: FloatArray, dof: FloatArray) -> FloatArray:
    """Chance that the floor alone gives an order this large: F with 2 and `dof` degrees."""
    over = np.abs(phasors) ** 2 / (2 * variance)
    return np.asarray((1 + 2 * over / dof) ** (-dof / 2))


def widen_by_scatter(
    variance: FloatArray, dof: FloatArray, scatter: FloatArray, scatter_dof: float
) -> tuple[FloatArray, FloatArray]:
    """Take the scatter between pieces where it is larger than the local floor explains.

    Real backgrounds (speech, a heart beat, a lamp) are neither stationary nor smooth in
    frequency; what the pieces of the record say about each other then is the honest width.
    """
    limit = stats.f.ppf(1 - SCATTER_CHANCE, scatter_dof, dof)
    wider = scatter > limit * variance
    return np.where(wider, scatter, variance), np.where(wider, scatter_dof, dof)
