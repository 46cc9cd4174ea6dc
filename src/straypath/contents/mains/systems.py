"""The supply systems that a mains comb may belong to, and where each is looked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from straypath.arrays import FloatArray


@dataclass(frozen=True)
class MainsSystem:
    """A supply system: where its frequency can lie and where it usually does.

    Parameters
    ----------
    nominal_hz : float
        [Hz].
    low_hz, high_hz : float
        Range that is searched [Hz].
    usual_sd_hz : float
        Standard deviation about nominal of a supply that is tied to a grid [Hz].
    weight : float
        Prior probability, and share of the false-alarm budget, before any choice by the user.
    """

    nominal_hz: float
    low_hz: float
    high_hz: float
    usual_sd_hz: float
    weight: float

    @property
    def usual(self) -> bool:
        """Whether a bench may well be next to it; the others count only in long records."""
        return self.weight > 0.1

    def prior_density(self, frequency_hz: FloatArray, u_hz: FloatArray) -> FloatArray:
        """Return the density [1/Hz] of reading `frequency_hz` with uncertainty `u_hz`.

        Nine in ten supplies lie near nominal; the tenth part, even over the whole range, is
        for generators off the grid.
        """
        f = np.asarray(frequency_hz, dtype=np.float64)
        inside = (f >= self.low_hz) & (f <= self.high_hz)
        sd = np.hypot(self.usual_sd_hz, u_hz)
        near = np.exp(-0.5 * ((f - self.nominal_hz) / sd) ** 2) / (sd * np.sqrt(2 * np.pi))
        spread = inside / (self.high_hz - self.low_hz)
        return np.asarray(0.9 * near + 0.1 * spread)


# Ranges of 50 and 60 Hz: measurement range of IEC 61000-4-30 class A. Railway: 16.5 to 17.0 Hz
# (EN 50163, from memory). 400 Hz: the steady band 393 to 407 Hz (MIL-STD-704, from memory). The
# usual spread is common practice: large grids stay within some 0.05 Hz, and 0.15 Hz also covers
# small ones. The weights are ours: a bench is next to 50 or 60 Hz unless somebody says otherwise.
HZ_16_7 = MainsSystem(16.7, 16.5, 17.0, 0.1, 0.02)
HZ_50 = MainsSystem(50.0, 42.5, 57.5, 0.15, 0.48)
HZ_60 = MainsSystem(60.0, 51.0, 69.0, 0.15, 0.48)
HZ_400 = MainsSystem(400.0, 393.0, 407.0, 1.0, 0.02)
SYSTEMS = (HZ_16_7, HZ_50, HZ_60, HZ_400)


def systems_for(mains_hz: float | None) -> tuple[MainsSystem, ...]:
    """Return the systems to consider: all when nothing is said, else the one that was named.

    A frequency that no standard names gets a range of its own, 15 % to both sides, like the
    measurement range that IEC 61000-4-30 asks for.
    """
    if mains_hz is None:
        return SYSTEMS
    for system in SYSTEMS:
        if abs(mains_hz - system.nominal_hz) <= 1e-3 * system.nominal_hz:
            return (replace(system, weight=1.0),)
    return (MainsSystem(mains_hz, 0.85 * mains_hz, 1.15 * mains_hz, 0.003 * mains_hz, 1.0),)
