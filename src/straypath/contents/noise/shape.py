"""White level and 1/f corner of a floor, from its density in bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize

from straypath.quantity import Quantity, UpperLimit

if TYPE_CHECKING:
    from straypath.arrays import FloatArray
    from straypath.contents.noise.points import Points
    from straypath.quantity import Reading

FEWEST_POINTS = 5
# No floor follows a formula better than this.
MODEL_U = 0.05
# Twice the gain in log likelihood that 1/f noise must bring: one in a thousand for two parameters.
MUST_GAIN = 13.8
# A fit as poor as this (root mean square of the normalised residuals) says nothing.
POOREST = 4.0
# The upper end may be cut off by a filter: so many points at most are left out there.
ROLL_OFF_SHARE = 0.4
ROLL_OFF = np.log(0.6)


@dataclass(frozen=True)
class FloorShape:
    """S(f) = w (1 + (f_c/f)^a).

    Parameters
    ----------
    white : Quantity
        √w [unit/√Hz].
    corner_hz : Quantity or UpperLimit
        [Hz].
    slope : Quantity or None
        a; None where no 1/f noise shows.
    """

    white: Quantity
    corner_hz: Reading
    slope: Quantity | None


def floor_shape(points: Points) -> FloorShape | None:
    """Fit a white floor with 1/f noise below a corner; None where the floor is not like that.

    Weighted least squares of ln S(f) with S = w (1 + (f_c/f)^a), 0.5 ≤ a ≤ 2.5; points at the
    upper end that fall away under a filter are left out.

    Parameters
    ----------
    points : Points
        At least five.

    Validity: one corner; floors with humps or several slopes give None or a wide interval.
    """
    if len(points.density) < FEWEST_POINTS:
        return None
    keep = _before_roll_off(points)
    f, y = points.frequency_hz[:keep], np.log(points.density[:keep])
    u = np.hypot(points.u[:keep], MODEL_U)
    if len(f) < FEWEST_POINTS:
        return None
    level, level_u, flat_cost = _flat(y, u)
    best = _sloped(f, y, u)
    gains = best is not None and flat_cost - best.cost > MUST_GAIN
    cost, used = (best.cost, 3) if best is not None and gains else (flat_cost, 1)
    poor = float(np.sqrt(cost / max(1, len(f) - used)))
    if poor > POOREST:
        return None
    widen = max(1.0, poor)
    if best is None or not gains:
        return FloorShape(_density(level, level_u * widen), _no_corner(f, y, u, flat_cost), None)
    (w, corner, a), errors = best.parameters, best.errors * widen
    lowest = float(np.log(f[0]))
    if corner + 1.96 * errors[1] > np.log(f[-1]):
        # The floor falls to the end of the band: no white level shows.
        return None
    low, high = np.exp([max(lowest - 3.0, corner - 1.96 * errors[1]), corner + 1.96 * errors[1]])
    middle = float(np.exp(corner))
    return FloorShape(
        white=_density(w, float(errors[0])),
        corner_hz=Quantity(middle, middle * float(errors[1]), float(low), float(high)),
        slope=Quantity(
            a, float(errors[2]), a - 1.96 * float(errors[2]), a + 1.96 * float(errors[2])
        ),
    )


@dataclass(frozen=True)
class _Fit:
    parameters: tuple[float, float, float]
    errors: FloatArray
    cost: float


def _flat(y: FloatArray, u: FloatArray) -> tuple[float, float, float]:
    weights = 1.0 / u**2
    level = float(np.sum(weights * y) / weights.sum())
    return level, float(weights.sum() ** -0.5), float(np.sum(((y - level) / u) ** 2))


def _sloped(f: FloatArray, y: FloatArray, u: FloatArray) -> _Fit | None:
    x = np.log(f)

    def miss(p: FloatArray) -> FloatArray:
        return np.asarray((p[0] + np.logaddexp(0.0, p[2] * (p[1] - x)) - y) / u)

    start = np.array([float(np.min(y)), float(np.median(x)), 1.0])
    low = [float(y.min()) - 5.0, float(x[0]) - 3.0, 0.5]
    high = [float(y.max()) + 5.0, float(x[-1]) + 1.0, 2.5]
    found = optimize.least_squares(miss, start, bounds=(low, high), x_scale=[1.0, 1.0, 0.3])
    covariance = np.linalg.pinv(found.jac.T @ found.jac)
    errors = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    w, corner, a = (float(v) for v in found.x)
    return _Fit((w, corner, a), errors, 2.0 * float(found.cost))


def _before_roll_off(points: Points) -> int:
    """How many points there are before the density falls away at the upper end."""
    y = np.log(points.density)
    keep, least = len(y), int(np.ceil((1 - ROLL_OFF_SHARE) * len(y)))
    while keep > max(least, 5) and y[keep - 1] < np.median(y[keep - 5 : keep - 1]) + ROLL_OFF:
        keep -= 1
    return keep


def _no_corner(f: FloatArray, y: FloatArray, u: FloatArray, flat_cost: float) -> UpperLimit:
    """The highest corner of plain 1/f noise that the points still allow at 95 %."""
    for corner in np.geomspace(f[0] / 100, f[-1], 200)[::-1]:
        rest = y - np.log1p(corner / f)
        weights = 1.0 / u**2
        level = np.sum(weights * rest) / weights.sum()
        if float(np.sum(((rest - level) / u) ** 2)) - flat_cost < 3.84:
            return UpperLimit(float(corner))
    return UpperLimit(float(f[0] / 100))


def _density(log_power: float, u: float) -> Quantity:
    """√S with its interval, from ln S."""
    value = float(np.exp(log_power / 2))
    half = 1.96 * u / 2
    return Quantity(value, value * u / 2, value * float(np.exp(-half)), value * float(np.exp(half)))
