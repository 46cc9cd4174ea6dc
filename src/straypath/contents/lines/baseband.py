"""A narrow band of a record, shifted to zero frequency: where lines are told apart and measured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.arrays import ComplexArray, FloatArray


@dataclass(frozen=True)
class Baseband:
    """z_m = Σ a_i c_m(d_i) + noise, for lines a_i at offsets d_i from `centre_hz`.

    Parameters
    ----------
    series : array, shape (m,)
        In the record's own unit, as peak amplitude.
    interval_s : float
        From one value to the next [s]; t = 0 is the middle of the record, so that the phase of
        a_i is the phase there.
    first_s : float
        Time of the first value [s].
    centre_hz : float
        Frequency that lies at zero [Hz].
    density_per_variance : float
        One-sided noise density of the record over the variance of the series [1/Hz].
    columns : callable
        Series that lines of unit amplitude and phase zero at t = 0 leave, shape (m, lines), for
        offsets of shape (lines,) [Hz]: e^{j2π d t} times what the window does to it.
    """

    series: ComplexArray
    interval_s: float
    first_s: float
    centre_hz: float
    density_per_variance: float
    columns: Callable[[FloatArray], ComplexArray]

    @property
    def times_s(self) -> FloatArray:
        """Times from the middle of the record [s]."""
        return self.first_s + np.arange(len(self.series)) * self.interval_s

    @property
    def duration_s(self) -> float:
        """Time that the series covers [s]."""
        return len(self.series) * self.interval_s


@dataclass(frozen=True)
class Tone:
    """A line as fitted in a baseband.

    Parameters
    ----------
    frequency_hz, frequency_u_hz : float
        [Hz].
    phasor : complex
        Peak amplitude · e^{jθ} at the middle of the record.
    amplitude_u, phase_u : float
        Standard uncertainties [record's unit], [rad].
    dof : float
        Degrees of freedom of all three.
    p_value : float
        Chance that noise looks like this, before any correction for what else was tried.
    density : float
        One-sided noise density beside it [unit²/Hz].
    """

    frequency_hz: float
    frequency_u_hz: float
    phasor: complex
    amplitude_u: float
    phase_u: float
    dof: float
    p_value: float
    density: float


def hann_kernel(apart: FloatArray, length: int) -> ComplexArray:
    """Return what a Hann-tapered bin holds of a line of unit amplitude, `apart` bins above it.

    Σ h_n e^{j2π x n/N} over its value at x = 0, h_n = sin²(π n/N).
    """

    def plain(x: FloatArray) -> ComplexArray:
        turn = np.exp(1j * np.pi * x * (1.0 - 1.0 / length))
        return np.asarray(turn * np.sinc(x) / np.sinc(x / length))

    x = np.asarray(apart)
    return np.asarray(plain(x) - 0.5 * (plain(x - 1.0) + plain(x + 1.0)))
