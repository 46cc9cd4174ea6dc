"""How one channel follows another at each line: gain, phase and coherence."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.one_thread import on_one_thread
from straypath.contents.pair.ratio import Sample, joint_quantile, single_quantile
from straypath.contents.pair.records import LineTransfer, Transfer
from straypath.contents.pair.signals import pair_of, ratio_unit
from straypath.contents.pair.significance import coherence_chance, coherence_level
from straypath.contents.pair.stretches import cut_stretches
from straypath.contents.records import Undetermined
from straypath.quantity import Quantity, UpperLimit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.arrays import ComplexArray, FloatArray
    from straypath.contents.pair.signals import Signal
    from straypath.contents.pair.stretches import Stretches

FALSE_ALARM_RATE = 0.01
ORDERS = tuple(range(1, 41))


@on_one_thread
def line_transfer(
    y: Signal,
    x: Signal,
    rate_hz: float,
    *,
    mains_hz: float | None = None,
    orders: Sequence[int] = ORDERS,
    other_hz: Sequence[float] = (),
    false_alarm_rate: float = FALSE_ALARM_RATE,
) -> Transfer:
    """Find gain and phase from channel x to channel y at each line, and whether they keep step.

    H = mean y/mean x over K stretches; the 95 % interval holds every H for which the mean of
    y − H·x is no larger than its own scatter allows, so that noise of both channels counts.
    γ² = |Σ y x*|²/(Σ|y|² Σ|x|²), against 1 − (α/m)^(1/(K−1)) for m lines.

    Parameters
    ----------
    y, x : Channel or array, shape (n,)
        Two channels of one capture, over the same stretch.
    rate_hz : float
        [Hz].
    mains_hz : float or None
        Mains frequency as fitted [Hz].
    orders : sequence of int
        Which orders of it; those that the rate cannot hold are named as undetermined.
    other_hz : sequence of float
        Other lines [Hz].
    false_alarm_rate : float
        α, chance that any line of two channels of noise is called coherent.

    Raises
    ------
    InputError
        Channels of unequal length, values that are no numbers, no line, a record too short.

    Validity: the mean of the phasors is not taken off before the coherence. A steady line is its
    mean, and without it only the noise would be compared. Hence two lines at exactly one
    frequency keep step whatever made them: at a mains order a coherence says that both channels
    hold the same mains, not that one drives the other. The mains may wander; a line that loses
    its phase from stretch to stretch gets a coherence but no gain.

    Examples
    --------
    >>> import numpy as np
    >>> t = np.arange(20_000) / 10_000
    >>> noise = np.random.default_rng(1).standard_normal((2, 20_000))
    >>> x = np.cos(2 * np.pi * 50 * t) + 0.01 * noise[0]
    >>> y = 0.5 * np.sin(2 * np.pi * 50 * t) + 0.01 * noise[1]
    >>> line = line_transfer(y, x, 10_000.0, mains_hz=50.0, orders=[1]).lines[0]
    >>> round(line.gain.value, 2), round(line.phase_rad.value, 2), line.coherent
    (0.5, -1.57, True)

    References
    ----------
    Coherence: as `coherence_level`. Interval: as `ratio`.
    """
    channels = pair_of(y, x, rate_hz)
    cut = cut_stretches(channels, rate_hz, mains_hz, orders, other_hz)
    level = coherence_level(cut.count, false_alarm_rate, len(cut.orders))
    coherence = coherence_of(cut.y, cut.x)
    chance = coherence_chance(coherence, cut.count)
    lines, lost = [], []
    for i in range(len(cut.orders)):
        line, why = _line(cut, i, float(coherence[i]), float(chance[i]), level)
        lines.append(line)
        if why:
            lost.append(Undetermined(f"transfer at {line.frequency_hz:.6g} Hz", why))
    return Transfer(
        lines=tuple(lines),
        unit=ratio_unit(*channels),
        stretches=cut.count,
        stretch_s=cut.length_s,
        false_alarm_rate=false_alarm_rate,
        coherence_level=level,
        undetermined=cut.undetermined + tuple(lost),
        assumptions=(
            "Both channels were sampled at the same instants.",
            "Each gain and phase keeps its value over the record.",
            "Two lines at one frequency keep step whatever made them.",
        ),
    )


def coherence_of(y: ComplexArray, x: ComplexArray) -> FloatArray:
    """Return γ² = |Σ y x*|²/(Σ|y|² Σ|x|²) per column; 0 where one channel holds nothing.

    Parameters
    ----------
    y, x : array, shape (stretches, lines)
    """
    power = np.sum(np.abs(y) ** 2, axis=0) * np.sum(np.abs(x) ** 2, axis=0)
    cross = np.abs(np.sum(y * np.conj(x), axis=0)) ** 2
    return np.asarray(np.minimum(cross / np.where(power > 0, power, 1.0), 1.0))


def _line(
    cut: Stretches, i: int, coherence: float, chance: float, level: float
) -> tuple[LineTransfer, str]:
    """Return one line, and why it has no gain if it has none."""
    sample = Sample.of(cut.y[:, i], cut.x[:, i])
    gain, phase, why = gain_and_phase(sample, coherent=coherence > level)
    line = LineTransfer(
        frequency_hz=float(cut.frequency_hz[i]),
        order=cut.orders[i],
        gain=gain,
        phase_rad=phase,
        coherence=coherence,
        p_value=chance,
        coherent=coherence > level,
    )
    return line, why


def gain_and_phase(
    sample: Sample, *, coherent: bool
) -> tuple[Quantity | UpperLimit | None, Quantity | None, str]:
    """Return gain, phase [rad] and, where there is no gain, why.

    Parameters
    ----------
    sample : Sample
    coherent : bool
        Whether the line is taken as seen in both channels.
    """
    region = sample.disc(joint_quantile(sample.count))
    if region is None:
        if sample.x == 0 and sample.s_xx == 0:
            return None, None, "channel x holds nothing at this line"
        if coherent:
            return (
                None,
                None,
                "both channels keep step here, but hold no line of steady phase above their noise",
            )
        return None, None, "channel x shows no steady line here above its noise"
    if not coherent or region.low == 0.0:
        return UpperLimit(region.high), None, ""
    single = sample.disc(single_quantile(sample.count))
    if single is None:  # pragma: no cover - a smaller quantile leaves a smaller disc
        raise AssertionError
    ratio = sample.y / sample.x
    u = float(np.sqrt(sample.scatter(ratio) / (2 * sample.count))) / abs(sample.x)
    angle, middle = float(np.angle(ratio)), float(np.angle(single.centre))
    # The interval lies about the disc's centre; both angles on one branch.
    middle = angle + float(np.angle(np.exp(1j * (middle - angle))))
    half = single.half_angle_rad
    return (
        Quantity(abs(ratio), u, single.low, single.high),
        Quantity(angle, u / abs(ratio), middle - half, middle + half),
        "",
    )
