"""A channel delayed by a part of a sample, and the difference as a waveform."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import fftconvolve

from straypath.contents.pair.signals import pair_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.contents.pair.signals import Signal

# Taps to either side. Together with the window: 100 dB up to 0.45 of the rate.
SIDE = 64
BETA = 10.0


def fractional_delay(part: float) -> NDArray[np.float64]:
    """Return taps that delay by a part of a sample: sinc(n − part) under a Kaiser window.

    Parameters
    ----------
    part : float
        −0.5 … 0.5 samples.

    Validity: within 100 dB up to 0.45 of the rate (a Kaiser design of 129 taps with 100 dB has a
    transition of 0.05 of the rate, centred on half the rate).

    References
    ----------
    Oppenheim and Schafer, Discrete-Time Signal Processing, section on Kaiser windows.
    """
    n = np.arange(-SIDE, SIDE + 1) - part
    inside = np.sqrt(np.maximum(0.0, 1 - (n / (SIDE + 1)) ** 2))
    return np.asarray(np.sinc(n) * np.i0(BETA * inside) / np.i0(BETA))


def difference_values(
    y: Signal,
    x: Signal,
    rate_hz: float,
    *,
    gain: float,
    delay_s: float,
    start: int = 0,
    stop: int | None = None,
) -> NDArray[np.float64]:
    """Return y − g·x(t − τ), samples start … stop, in y's unit.

    Parameters
    ----------
    y, x : Channel or array, shape (n,)
    rate_hz : float
        [Hz].
    gain : float
        [y unit]/[x unit].
    delay_s : float
        Positive where y comes later [s].
    start, stop : int, int or None
        Piece by piece, a record of any length is read in bounded memory.

    Validity: up to 0.45 of the rate. Beyond its ends x keeps its first and last value, which
    spoils 64 samples and the delay there.
    """
    a, b = pair_of(y, x, rate_hz)
    stop = len(a) if stop is None else min(stop, len(a))
    whole = round(delay_s * rate_hz)
    taps = fractional_delay(delay_s * rate_hz - whole)
    first, last = start - whole - SIDE, stop - whole + SIDE
    # At least one sample, so that an end that lies wholly outside still has a value to keep.
    low, high = np.clip([first, last], 0, len(b))
    low, high = min(low, len(b) - 1), max(high, 1)
    values = np.pad(b.values(low, high), (max(0, low - first), max(0, last - high)), mode="edge")
    moved = fftconvolve(values[: last - first], taps, mode="valid")
    return np.asarray(a.values(start, stop) - gain * moved)
