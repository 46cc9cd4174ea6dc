"""The noise density under a line, read from its neighbourhood."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from straypath.contents.systems import FloatArray


def neutral_weights(frequency_hz: FloatArray, at_hz: float, shape: FloatArray) -> FloatArray:
    """Return weights that read a white, 1/f or 1/f² floor at `at_hz` without bias.

    Minimise Σ (w_j s_j)² under Σ w_j (f_j/f)^-a = 1 for a = 0, 1, 2: any sum of the three
    shapes then passes unchanged, with the least variance if the floor looks like `shape`.

    Parameters
    ----------
    frequency_hz : array, shape (n,)
        Where the density was measured, all above zero [Hz].
    at_hz : float
        Where it is wanted [Hz].
    shape : array, shape (n,)
        What the floor roughly looks like, any unit.

    With fewer than six places only the white shape is kept, for the weights would explode.
    """
    powers = 3 if len(frequency_hz) >= 6 else 1
    shapes = (at_hz / frequency_hz) ** np.arange(powers)[:, np.newaxis] / shape
    return np.asarray(np.linalg.lstsq(shapes, np.ones(powers), rcond=None)[0] / shape)


def read_floor(
    frequency_hz: FloatArray, density: FloatArray, at_hz: float, dof_each: float
) -> tuple[float, float]:
    """Return (density at `at_hz`, its degrees of freedom) from densities around it.

    Parameters
    ----------
    frequency_hz, density : array, shape (n,)
        [Hz], [unit²/Hz]; each density is chi-square distributed.
    dof_each : float
        Degrees of freedom of each density.

    The degrees of freedom of the weighted sum are Satterthwaite's: (Σ w s)²/Σ (w s)².
    Negative weights can carry the sum below zero in a very uneven neighbourhood; the plain
    mean then stands in, which is too high rather than too low where the floor falls.
    """
    shape = _power_law(frequency_hz, density)
    weights = neutral_weights(frequency_hz, at_hz, shape)
    value = float(weights @ density)
    if value <= 0.1 * float(np.median(density)):
        return float(np.mean(density)), dof_each * len(density)
    parts = weights * shape
    return value, dof_each * float(parts.sum() ** 2 / (parts @ parts))


def _power_law(frequency_hz: FloatArray, density: FloatArray) -> FloatArray:
    """The straight line through the logarithms, as a shape without level."""
    if len(density) < 6:
        return np.ones_like(density)
    x = np.log(frequency_hz)
    x = x - x.mean()
    slope = float(x @ np.log(np.maximum(density, 1e-300)) / (x @ x))
    return np.asarray(np.exp(np.clip(slope, -3.0, 1.0) * x))
