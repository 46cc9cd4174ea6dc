"""What the judgements rest on: the capture, one pass, one close look; and ways to say it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.soundness.survey import native
from straypath.wording import amount, plain, seconds

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.capture.capture import Capture, Channel
    from straypath.capture.soundness.closeup import Closeup
    from straypath.capture.soundness.survey import Survey


@dataclass(frozen=True)
class Evidence:
    """One channel with what was measured in it; values are raw unless the name says otherwise.

    Parameters
    ----------
    capture : Capture
    channel : Channel
    survey : Survey
    closeup : Closeup
    mains : tuple of float
        The mains frequencies to think of [Hz].
    """

    capture: Capture
    channel: Channel
    survey: Survey
    closeup: Closeup
    mains: tuple[float, ...]

    @property
    def low(self) -> float:
        """Lowest value."""
        return float(self.survey.low.value)

    @property
    def high(self) -> float:
        """Highest value."""
        return float(self.survey.high.value)

    @property
    def span(self) -> float:
        """Highest less lowest value; infinite when a float64 cannot hold it."""
        return self.high - self.low

    @property
    def moves(self) -> bool:
        """Whether there are at least two different values."""
        return self.survey.finite > 0 and self.low < self.high

    @cached_property
    def full_scale(self) -> tuple[float, float] | None:
        """Ends of the converter's range, when known."""
        ends = self.channel.full_scale
        if ends is None or not self.channel.scale:
            return None
        low, high = sorted((end - self.channel.offset) / self.channel.scale for end in ends)
        return (low, high) if low < high else None

    @property
    def steps_moved(self) -> float | None:
        """How many steps the record spans, when its values lie on a grid."""
        if not self.moves:
            return None
        step, span = self.closeup.step, self.span
        return span / step if step and isfinite(span / step) else None

    def block(self, start: int, length: int) -> NDArray[Any]:
        """Return the finite samples of one stretch."""
        part = native(np.asarray(self.channel.raw[start : start + length]))
        return part[np.isfinite(part)] if part.dtype.kind == "f" else part

    def said(self, distance: float, digits: int = 3) -> str:
        """Return a distance between raw values in words, in the channel's unit."""
        return plain(amount(abs(distance * self.channel.scale), self.channel.unit, digits))

    def lasting(self, samples: int) -> str:
        """Return how long so many samples take, in words."""
        return plain(seconds(samples / self.capture.rate_hz))


def hertz(frequency_hz: float, digits: int = 4) -> str:
    """Return a frequency in words."""
    return plain(amount(frequency_hz, "Hz", digits))
