"""Two signals of one rate and length, however they are handed over."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.capture import Channel
from straypath.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Signal = Channel | NDArray[np.number]


def pair_of(y: Signal, x: Signal, rate_hz: float) -> tuple[Channel, Channel]:
    """Return both signals as channels.

    Parameters
    ----------
    y, x : Channel or array, shape (n,)
        An array has no unit.
    rate_hz : float
        [Hz].

    Raises
    ------
    InputError
        Unequal lengths, no samples, or a rate that is none.
    """
    if not 0 < rate_hz < np.inf:
        raise InputError(f"{rate_hz:g} samples per second is no rate", advice="Give it in hertz.")
    channels = _channel(y, "y"), _channel(x, "x")
    lengths = [len(c) for c in channels]
    if lengths[0] != lengths[1]:
        raise InputError(
            f"the channels have {lengths[0]} and {lengths[1]} samples",
            where="two channels",
            advice="Take both from one capture, over the same stretch.",
        )
    if lengths[0] == 0:
        raise InputError(
            "the channels are empty", where="two channels", advice="Give recorded ones."
        )
    return channels


def _channel(signal: Signal, name: str) -> Channel:
    if isinstance(signal, Channel):
        return signal
    if signal.ndim != 1:
        raise InputError(
            f"an array of shape {signal.shape} is not one channel",
            where=name,
            advice="Give one row or column of it.",
        )
    return Channel(name, signal)


def ratio_unit(y: Channel, x: Channel) -> str:
    """Return the unit of y/x: "1" for equal units, "" where one is not known."""
    if not y.unit or not x.unit:
        return ""
    return "1" if y.unit == x.unit else f"{y.unit}/{x.unit}"


def not_a_number() -> InputError:
    """Return the error for a record with values that are no numbers."""
    return InputError(
        "a channel holds values that are no numbers",
        where="two channels",
        advice="Take a stretch that the soundness check finds whole.",
    )
