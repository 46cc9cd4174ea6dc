"""Lines and humps in raw steps, as waveforms and as records in the channel's unit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from straypath.contents.records import Line
from straypath.quantity import Quantity

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from straypath.arrays import FloatArray
    from straypath.contents.lines.baseband import Tone
    from straypath.contents.noise.bands import Hump

AT_ONCE = 65_536
ROW = 256


@dataclass(frozen=True)
class ToneModel:
    """x(t) = Σ a cos(2π f t + θ), t from the middle of the record.

    Parameters
    ----------
    tones : sequence of Tone
        [raw steps].
    middle_s : float
        Middle of the record, from its first sample [s].
    """

    tones: Sequence[Tone]
    middle_s: float

    def wave(
        self,
        first_s: float,
        interval_s: float,
        count: int,
        response: Callable[[FloatArray], FloatArray] | None = None,
    ) -> FloatArray:
        """Return the lines at evenly spaced times.

        Parameters
        ----------
        first_s, interval_s : float
            Time of the first value from the first sample of the record, and from one to the
            next [s].
        count : int
        response : callable, optional
            Gain of a filter that they went through, at frequencies [Hz].
        """
        out = np.zeros(count)
        f = np.array([tone.frequency_hz for tone in self.tones])
        gains = np.ones(len(f)) if response is None or not len(f) else response(f)
        phasors = gains * np.array([tone.phasor for tone in self.tones], dtype=np.complex128)
        # Turns over rows times turns within a row: far cheaper than a cosine for each sample.
        within = np.exp(2j * np.pi * np.outer(f, np.arange(min(ROW, count)) * interval_s))
        for start in range(0, count, AT_ONCE):
            stop = min(count, start + AT_ONCE)
            t = first_s - self.middle_s + np.arange(start, stop, ROW) * interval_s
            rows = phasors * np.exp(2j * np.pi * np.outer(t, f))
            wave = rows.real @ within.real - rows.imag @ within.imag
            out[start:stop] = wave.ravel()[: stop - start]
        return out


def line_of(tone: Tone, scale: float) -> Line:
    """Return a fitted line in the channel's unit, with 95 % intervals by Student's t."""
    times = float(special.stdtrit(tone.dof, 0.975))
    size = abs(scale) / float(np.sqrt(2))
    angle = float(np.angle(tone.phasor * np.sign(scale)))

    def spread(value: float, u: float) -> Quantity:
        return Quantity(value, u, value - times * u, value + times * u)

    rms = spread(abs(tone.phasor) * size, tone.amplitude_u * size)
    return Line(
        frequency_hz=spread(tone.frequency_hz, tone.frequency_u_hz),
        rms=replace(rms, low=max(0.0, rms.low)),
        phase_rad=spread(angle, tone.phase_u),
        p_value=tone.p_value,
        floor=tone.density * scale**2,
    )


def line_of_hump(hump: Hump, scale: float) -> Line:
    """Return a narrow band of noise in the channel's unit."""
    rms = float(np.sqrt(hump.power)) * abs(scale)
    u = rms * hump.power_u / hump.power / 2
    return Line(
        frequency_hz=_normal(hump.frequency_hz, hump.frequency_u_hz),
        rms=_normal(rms, u),
        phase_rad=None,
        p_value=hump.p_value,
        floor=hump.floor * scale**2,
        width_hz=_normal(hump.width_hz, hump.frequency_u_hz),
    )


def _normal(value: float, u: float) -> Quantity:
    return Quantity(value, u, max(0.0, value - 1.96 * u), value + 1.96 * u)
