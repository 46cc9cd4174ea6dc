"""One sine with an offset, fitted by least squares: the three- and four-parameter fits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straypath.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straypath.arrays import Float64Array

# Steps of the frequency, in cycles over the record: beyond, the fit has left its line.
_FURTHEST_CYCLES = 1.0
_SETTLED_CYCLES = 1e-12
_STEPS = 50


@dataclass(frozen=True)
class SineFit:
    """A fitted A·cos(2πf·t + φ) + C with t = 0 at the centre of the record.

    Parameters
    ----------
    frequency_hz : float
        [Hz].
    amplitude : float
        Peak, in the unit of the samples.
    phase_rad : float
        At the centre of the record [rad].
    offset : float
    residual_rms : float
        √(mean of squared residuals).
    """

    frequency_hz: float
    amplitude: float
    phase_rad: float
    offset: float
    residual_rms: float


def fit_sine(samples: ArrayLike, rate_hz: float, frequency_hz: float) -> SineFit:
    """Fit amplitude, phase and offset at a known frequency (three parameters).

    Linear least squares of a·cos 2πft + b·sin 2πft + C; A = √(a² + b²), φ = atan2(−b, a).

    Parameters
    ----------
    samples : array-like, shape (n,)
        At least five.
    rate_hz : float
        [Hz].
    frequency_hz : float
        Above 0 and below half the rate [Hz].

    Raises
    ------
    InputError
        With too few samples, or a frequency outside these limits.

    References
    ----------
    IEEE Std 1057 and IEEE Std 1241, three-parameter sine fit.
    """
    y, t = _checked(samples, rate_hz, frequency_hz)
    columns = _columns(t, frequency_hz)
    solution = np.linalg.lstsq(columns, y, rcond=None)[0]
    return _result(frequency_hz, solution, y - columns @ solution)


def fit_sine_near(samples: ArrayLike, rate_hz: float, frequency_hz: float) -> SineFit:
    """Fit frequency too, from a start near it (four parameters).

    Gauss–Newton steps: the extra column is the derivative by frequency,
    2πt·(−a·sin 2πft + b·cos 2πft).

    Parameters
    ----------
    samples : array-like, shape (n,)
        At least five.
    rate_hz : float
        [Hz].
    frequency_hz : float
        Start, within half a cycle per record length of the line [Hz].

    Raises
    ------
    InputError
        As `fit_sine`; also when the fit runs more than one cycle per record length away.

    Examples
    --------
    >>> t = np.arange(200) / 1000
    >>> fit = fit_sine_near(np.cos(2 * np.pi * 50.2 * t) + 3.0, 1000, 50.0)
    >>> round(fit.frequency_hz, 9), round(fit.amplitude, 9), round(fit.offset, 9)
    (50.2, 1.0, 3.0)

    References
    ----------
    IEEE Std 1057 and IEEE Std 1241, four-parameter sine fit.
    """
    y, t = _checked(samples, rate_hz, frequency_hz)
    duration = len(y) / rate_hz
    f = frequency_hz
    (a, b, _), *_ = np.linalg.lstsq(_columns(t, f), y, rcond=None)
    for _ in range(_STEPS):
        columns = _columns(t, f)
        slope = 2.0 * np.pi * t * (b * columns[:, 0] - a * columns[:, 1])
        # In cycles over the record, all columns are of one size.
        table = np.column_stack([columns, slope / duration])
        a, b, _, step = np.linalg.lstsq(table, y, rcond=None)[0]
        f += step / duration
        if not abs(f - frequency_hz) * duration <= _FURTHEST_CYCLES or not 0 < f < rate_hz / 2:
            raise InputError(
                f"no sine near {frequency_hz:g} Hz: the fit runs away from it",
                advice="Start within half a cycle per record length of a line that stands out.",
            )
        if abs(step) < _SETTLED_CYCLES:
            break
    return fit_sine(y, rate_hz, f)


def effective_bits(span: float, residual_rms: float) -> float:
    """Return how many bits an ideal converter needs for this residual: log2(span/(e·√12)).

    Parameters
    ----------
    span : float
        Full range of the converter, in the unit of the residual.
    residual_rms : float
        Of a sine fit that uses most of the range.

    References
    ----------
    IEEE Std 1241 (from memory): an ideal step q leaves q/√12.
    """
    return float(np.log2(span / (residual_rms * np.sqrt(12.0))))


def _checked(
    samples: ArrayLike, rate_hz: float, frequency_hz: float
) -> tuple[Float64Array, Float64Array]:
    y = np.asarray(samples, dtype=np.float64)
    if len(y) < 5:
        raise InputError(f"{len(y)} samples hold no sine", advice="Give at least five.")
    if not 0 < frequency_hz < rate_hz / 2:
        raise InputError(
            f"{frequency_hz:g} Hz cannot be fitted at {rate_hz:g} samples per second",
            advice=f"Choose a frequency between 0 and {rate_hz / 2:g} Hz.",
        )
    return y, np.asarray((np.arange(len(y)) - (len(y) - 1) / 2.0) / rate_hz)


def _columns(t: Float64Array, frequency_hz: float) -> Float64Array:
    angle = 2.0 * np.pi * frequency_hz * t
    return np.stack([np.cos(angle), np.sin(angle), np.ones_like(t)], axis=1)


def _result(frequency_hz: float, solution: ArrayLike, residual: ArrayLike) -> SineFit:
    a, b, offset = (float(part) for part in np.asarray(solution))
    return SineFit(
        frequency_hz=float(frequency_hz),
        amplitude=float(np.hypot(a, b)),
        phase_rad=float(np.arctan2(-b, a)),
        offset=offset,
        residual_rms=float(np.sqrt(np.mean(np.square(residual)))),
    )
