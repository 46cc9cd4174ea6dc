"""The comb that was found, as a waveform: to be taken off a record, or to tell the mains phase."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.arrays import ComplexArray, FloatArray, IntArray
    from straypath.contents.mains.fit import CombFit

# Samples at once: the powers of a phasor then stay in cache.
AT_ONCE = 16_384


@dataclass(frozen=True)
class CombModel:
    """x(t) = Σ Re(P_k e^{jkθ(t)}) over the orders that were seen, θ(t) = 2π f0 t + path(t).

    Parameters
    ----------
    fit : CombFit
    centre_s : float
        Middle of the record, from its first sample [s]: the origin of t.
    """

    fit: CombFit
    centre_s: float

    @property
    def highest_hz(self) -> float:
        """Frequency of the highest order in the model [Hz]."""
        seen = np.flatnonzero(self.fit.seen)
        return float((seen[-1] + 1) * self.fit.frequency_hz) if len(seen) else 0.0

    def phase(self, time_s: FloatArray) -> FloatArray:
        """Return θ at times from the first sample [s], plus the phase of order 1 [rad]."""
        t = np.asarray(time_s, dtype=np.float64) - self.centre_s
        return np.asarray(self._theta(t) + np.angle(self.fit.phasors[0]))

    def phase_at(self, time_s: float) -> float:
        """Return the phase of order 1 at one time from the first sample [s], in radians."""
        return float(self.phase(np.array([time_s]))[0])

    def wave(
        self,
        first_s: float,
        interval_s: float,
        count: int,
        response: Callable[[FloatArray], FloatArray] | None = None,
        dtype: type[np.floating[Any]] = np.float32,
    ) -> FloatArray:
        """Return the comb at evenly spaced times, in raw steps.

        Parameters
        ----------
        first_s : float
            Time of the first value, from the first sample of the record [s].
        interval_s : float
            [s].
        count : int
        response : callable, optional
            Gain of a filter that the comb went through, at frequencies [Hz].
        dtype : type
            float32 is good to 113 dB under the comb, and twice as fast.
        """
        phasors = self.fit.phasors
        orders = np.flatnonzero(self.fit.seen) + 1
        if response is not None:
            places = np.arange(1, len(phasors) + 1) * self.fit.frequency_hz
            phasors = phasors * response(places)
        out = np.empty(count, dtype=dtype)
        for start in range(0, count, AT_ONCE):
            stop = min(count, start + AT_ONCE)
            t = first_s - self.centre_s + np.arange(start, stop) * interval_s
            out[start:stop] = _sum(
                np.remainder(self._theta(t), 2 * np.pi).astype(dtype), phasors, orders
            )
        return out

    def _theta(self, t: FloatArray) -> FloatArray:
        theta = 2 * np.pi * self.fit.frequency_hz * t
        path = self.fit.path
        if path is not None:
            theta = theta + np.interp(t, path.times_s, path.phase_rad)
        return np.asarray(theta)


def _sum(theta: FloatArray, phasors: ComplexArray, orders: IntArray) -> FloatArray:
    """Powers of one turn, from order to order: far cheaper than a cosine for each."""
    turn = np.cos(theta) + 1j * np.sin(theta)
    total = np.zeros_like(theta)
    power, reached = np.ones_like(turn), 0
    steps = {1: turn}
    for order in orders:
        step = int(order) - reached
        if step not in steps:
            steps[step] = turn**step
        power = power * steps[step]
        reached = int(order)
        phasor = phasors[order - 1]
        total += theta.dtype.type(phasor.real) * power.real
        total -= theta.dtype.type(phasor.imag) * power.imag
    return total
