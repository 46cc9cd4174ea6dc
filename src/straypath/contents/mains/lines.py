"""From a fit in raw steps to the lines that are reported: intervals, limits, phases."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from straypath.contents.records import MainsLine
from straypath.quantity import Quantity, UpperLimit

if TYPE_CHECKING:
    from straypath.arrays import FloatArray
    from straypath.contents.mains.fit import CombFit
    from straypath.contents.mains.systems import MainsSystem
    from straypath.quantity import Reading


# From this many standard deviations the limit of a phasor is that of its length.
CLEAR = 30.0
# One of forty orders is seen in bare noise once in 250 records, but not this far, in power.
BEYOND_DOUBT = 30.0


def frequency_of(fit: CombFit) -> Quantity:
    """Return the mean mains frequency with its 95 % interval [Hz]."""
    half = float(special.stdtrit(fit.frequency_dof, 0.975)) * fit.frequency_u_hz
    f = fit.frequency_hz
    return Quantity(f, fit.frequency_u_hz, f - half, f + half)


def clear_orders(fit: CombFit, duration_s: float) -> tuple[int, ...]:
    """Return the orders that stand far out of the floor, or all that were seen where none does."""
    over = np.abs(fit.phasors) ** 2 * duration_s / (2 * fit.floor)
    clear = fit.seen & (over > BEYOND_DOUBT)
    chosen = clear if clear.any() else fit.seen
    return tuple(int(i) + 1 for i in np.flatnonzero(chosen))


def seen_lines(fit: CombFit, scale: float) -> tuple[MainsLine, ...]:
    """Return all orders of a comb that is there: readings, and limits where none is seen."""
    return tuple(_line(fit, frequency_of(fit), i, scale) for i in range(len(fit.phasors)))


def _line(fit: CombFit, f0: Quantity, i: int, scale: float) -> MainsLine:
    amplitude = float(np.abs(fit.phasors[i]))
    sd = float(np.sqrt(fit.variance[i]))
    times = float(special.stdtrit(fit.dof[i], 0.975))
    seen = bool(fit.seen[i])
    size = abs(scale) / sqrt(2)
    phase = None
    rms: Reading = UpperLimit(_upper(amplitude, sd) * times / 1.96 * size)
    if seen:
        rms = Quantity(
            amplitude * size,
            sd * size,
            max(0.0, amplitude - times * sd) * size,
            (amplitude + times * sd) * size,
        )
        u = float(np.hypot(sd / amplitude, (i + 1) * np.sqrt(fit.turn_variance)))
        angle = float(np.angle(fit.phasors[i] * np.sign(scale)))
        phase = Quantity(angle, u, angle - times * u, angle + times * u)
    return MainsLine(i + 1, f0.scaled(i + 1), rms, phase, seen, float(fit.floor[i] * scale**2))


def _upper(amplitude: float, sd: float) -> float:
    """95 % limit on an amplitude: what a flat prior on the phasor leaves.

    |a|²/σ² is then noncentral chi-square with two degrees about |Â|²/σ²; for Â = 0 the limit is
    the Rayleigh quantile 2.45 σ.
    """
    over = amplitude / sd
    if over > CLEAR:
        return amplitude + 1.645 * sd
    return sd * float(np.sqrt(special.chndtrix(0.95, 2, over**2)))


def absent_lines(
    fit: CombFit, system: MainsSystem, duration_s: float, scale: float
) -> tuple[MainsLine, ...]:
    """Limits for a comb at an unknown frequency: a larger line would have stood out.

    The largest of n Rayleigh amplitudes stays below σ sqrt(2 ln(n/0.05)) in 95 %; a line must
    exceed that by 1.64 σ to do so in 95 %.
    """
    centre, lines = system.nominal_hz, []
    for i in range(len(fit.phasors)):
        k = i + 1
        cells = 1.0 + k * (system.high_hz - system.low_hz) * duration_s
        sds = np.sqrt(2 * np.log(cells / 0.05)) + 1.645
        limit = float(sds * np.sqrt(fit.variance[i]) * abs(scale) / np.sqrt(2))
        spread = (system.high_hz - system.low_hz) / sqrt(12)
        f = Quantity(centre, spread, system.low_hz, system.high_hz).scaled(k)
        lines.append(
            MainsLine(k, f, UpperLimit(limit), None, False, float(fit.floor[i] * scale**2))
        )
    return tuple(lines)


def root_sum(lines: tuple[MainsLine, ...]) -> float:
    """Return the limit on all unseen orders together."""
    return float(
        np.sqrt(sum(line.rms.upper**2 for line in lines if isinstance(line.rms, UpperLimit)))
    )


def total_of(fit: CombFit, lines: tuple[MainsLine, ...], scale: float) -> Reading:
    """All seen orders together: the root of the sum of squares, with its uncertainty."""
    seen = fit.seen
    if not seen.any():
        return UpperLimit(root_sum(lines))
    amplitude = np.abs(fit.phasors[seen])
    rms = float(np.sqrt(np.sum(amplitude**2) / 2))
    u = float(np.sqrt(np.sum(amplitude**2 * fit.variance[seen]))) / (2 * rms)
    weight: FloatArray = amplitude**2 * fit.variance[seen]
    dof = float(np.sum(weight) ** 2 / np.sum(weight**2 / fit.dof[seen]))
    half = float(special.stdtrit(dof, 0.975)) * u
    s = abs(scale)
    return Quantity(rms * s, u * s, max(0.0, rms - half) * s, (rms + half) * s)
