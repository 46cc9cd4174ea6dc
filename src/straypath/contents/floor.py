"""The noise density under a line, read from its neighbourhood."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from straypath.arrays import FloatArray

# Over a band this narrow against its frequency even 1/f² bends by less than a hundredth, and the
# plain mean serves.
NARROW = 0.2
# The three shapes together stay well within this factor of one power law near a frequency.
FAR_BELOW = 0.25
# A bin of a smooth floor exceeds 20 times its neighbours' median once in a million (2 degrees).
FOREIGN_LINE = 20.0


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
    return np.asarray(shapes.T @ np.linalg.solve(shapes @ shapes.T, np.ones(powers)) / shape)


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
    Where the places lie to one side only, the weights extrapolate and may run far below a plain
    power law; that then stands in.
    """
    if len(density) == 0:
        return 0.0, dof_each
    if frequency_hz[-1] - frequency_hz[0] < NARROW * at_hz:
        return float(np.mean(density)), dof_each * len(density)
    shape, at_line = _power_law(frequency_hz, density, at_hz)
    weights = neutral_weights(frequency_hz, at_hz, shape)
    value = float(weights @ density)
    if value < FAR_BELOW * at_line:
        return at_line, dof_each * len(density) / 2
    parts = weights * shape
    return value, dof_each * float(parts.sum() ** 2 / (parts @ parts))


def quiet_floor(
    frequency_hz: FloatArray, density: FloatArray, at_hz: float, dof_each: float
) -> tuple[float, float]:
    """Read the floor with other lines left out: bins far above the median of their neighbours."""
    quiet = density < FOREIGN_LINE * np.median(density) if len(density) else np.ones(0, dtype=bool)
    # The neighbours of a line's bins carry the skirts of its taper.
    quiet &= np.roll(quiet, 1) & np.roll(quiet, -1)
    if quiet.sum() < max(6, len(density) // 2):
        quiet[:] = True
    return read_floor(frequency_hz[quiet], density[quiet], at_hz, dof_each)


def _power_law(
    frequency_hz: FloatArray, density: FloatArray, at_hz: float
) -> tuple[FloatArray, float]:
    """The straight line through the logarithms: as a shape, and its level at a frequency."""
    if len(density) < 6:
        return np.ones_like(density), float(np.mean(density))
    x = np.log(frequency_hz)
    middle = x.mean()
    x = x - middle
    slope = float(x @ np.log(np.maximum(density, 1e-300)) / (x @ x))
    slope = float(np.clip(slope, -3.0, 1.0))
    shape = np.exp(slope * x)
    level = float(np.mean(density / shape))
    return np.asarray(shape), level * float(np.exp(slope * (np.log(at_hz) - middle)))
