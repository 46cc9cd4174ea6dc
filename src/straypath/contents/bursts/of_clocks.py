"""Bursts that keep to the phase of a clock are its waveform and no transients."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.arrays import BoolArray
    from straypath.contents.records import Burst

# Half the window of phase in which bursts are counted, in cycles, and at least in samples.
NEAR_CYCLES, NEAR_SAMPLES = 0.03, 1.5
# A clock with few samples per cycle has no edges to keep to.
WIDEST_CYCLES = 0.2
# Standard deviations, and bursts, above an even spread.
SIGMAS, MORE = 4.0, 4


def at_edges(bursts: Sequence[Burst], clock_hz: float, rate_hz: float) -> BoolArray:
    """Return which bursts gather at phases of a clock: c > 2wn + 4√(2wn) + 4.

    c counts the bursts within ±w of a burst's phase, the burst itself too, of n in all.

    Parameters
    ----------
    bursts : sequence of Burst
    clock_hz, rate_hz : float
        Rate of the clock and of the record [Hz].

    Returns
    -------
    array of bool, shape (n,)

    Validity: a clock known to well below a cycle over the record. Of bursts without any tie, the
    share that lies in the same windows is taken for edges as well.

    Example
    -------
    >>> from straypath.contents.records import Burst
    >>> edges = [Burst(k * 0.1, 1e-3, 1.0, 1.0) for k in range(20)]
    >>> at_edges([*edges, Burst(0.537, 1e-3, 1.0, 1.0)], 10.0, 1e4).sum()
    np.int64(20)
    """
    n = len(bursts)
    near = max(NEAR_CYCLES, NEAR_SAMPLES * clock_hz / rate_hz)
    if n < MORE or near > WIDEST_CYCLES:
        return np.zeros(n, dtype=np.bool_)
    phase = np.array([burst.time_s for burst in bursts]) * clock_hz % 1.0
    around = np.sort(np.concatenate([phase - 1.0, phase, phase + 1.0]))
    count = np.searchsorted(around, phase + near) - np.searchsorted(around, phase - near)
    even = 2.0 * near * n
    return np.asarray(count > even + SIGMAS * np.sqrt(even) + MORE)
