"""Floors that a short record may have: white, with 1/f or 1/f² below a corner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from straypath.arrays import FloatArray


@dataclass(frozen=True)
class Shape:
    """S(f) = level · (1 + (corner/f)^power); power 0 means white."""

    corner_hz: float
    power: int
    prior: float

    def density(self, frequency_hz: FloatArray) -> FloatArray:
        """Return the density for unit level."""
        if self.power == 0:
            return np.ones_like(frequency_hz)
        return np.asarray(1.0 + (self.corner_hz / frequency_hz) ** self.power)


# Half of the belief on white, the rest spread evenly over corners (in ratio) and both slopes.
CORNERS_HZ = tuple(float(c) for c in np.geomspace(6.0, 6000.0, 9))
SHAPES = (
    Shape(0.0, 0, 0.5),
    *(Shape(corner, power, 0.25 / len(CORNERS_HZ)) for power in (1, 2) for corner in CORNERS_HZ),
)
