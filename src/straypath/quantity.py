"""A value with its standard uncertainty and its 95 % interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured or inferred value.

    Parameters
    ----------
    value : float
        Best estimate.
    u : float
        Standard uncertainty, in the unit of the value (JCGM 100:2008, 2.3.1).
    low, high : float
        95 % interval.
    """

    value: float
    u: float
    low: float
    high: float

    def scaled(self, factor: float) -> Quantity:
        """Return the quantity in another unit: all parts times a positive factor."""
        return Quantity(self.value * factor, self.u * factor, self.low * factor, self.high * factor)

    def as_json(self) -> dict[str, Any]:
        """Return the keys value, u, low, high."""
        return {"value": self.value, "u": self.u, "low": self.low, "high": self.high}


@dataclass(frozen=True, slots=True)
class UpperLimit:
    """Something that was looked for and not seen: at 95 % it is below `upper`."""

    upper: float

    @property
    def value(self) -> float:
        """Zero: nothing was seen."""
        return 0.0

    def scaled(self, factor: float) -> UpperLimit:
        """Return the limit in another unit."""
        return UpperLimit(self.upper * factor)

    def as_json(self) -> dict[str, Any]:
        """Return the keys value (0) and upper."""
        return {"value": 0.0, "upper": self.upper}


Reading = Quantity | UpperLimit
