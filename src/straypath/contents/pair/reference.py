"""Phase against the mains: from a second channel, or from a capture triggered on the mains."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from straypath.contents.one_thread import on_one_thread
from straypath.contents.pair.ratio import absence_chance
from straypath.contents.pair.records import MainsPhases, OrderPhase
from straypath.contents.pair.signals import pair_of
from straypath.contents.pair.stretches import LEAST, cut_stretches
from straypath.contents.pair.transfer import ORDERS
from straypath.quantity import Quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.arrays import ComplexArray, FloatArray
    from straypath.capture.capture import Acquisition
    from straypath.contents.pair.signals import Signal
    from straypath.contents.records import MainsComb

CAUTION = (
    "Mains can kill. A mains-phase reference comes only from a sealed safety-isolating adapter "
    "with an ac output, never from the mains itself, from an opened adapter or through a divider "
    "or probe on mains; local codes and licensed practice come first."
)
# Chance, over all orders, that an order which is not there is given a phase.
FALSE_ALARM_RATE = 0.01


@on_one_thread
def phases_against_reference(
    y: Signal,
    reference: Signal,
    rate_hz: float,
    *,
    mains_hz: float,
    orders: Sequence[int] = ORDERS,
) -> MainsPhases:
    """Find the phase of each order of a channel against the mains in a reference channel.

    ψ_k = θ_k − k·θ_ref: the phase that order k of y has at the instant when the fundamental of
    the reference peaks. It does not depend on where the record begins.

    The reference comes from a sealed safety-isolating adapter with an ac output only; `CAUTION`
    goes with the result and is to be shown.

    Parameters
    ----------
    y, reference : Channel or array, shape (n,)
        Two channels of one capture, over the same stretch.
    rate_hz, mains_hz : float
        Rate, and mains frequency as fitted [Hz].
    orders : sequence of int
        Which orders.

    Raises
    ------
    InputError
        As `line_transfer`.

    Validity: u counts k times the noise of the reference. The adapter turns the phase by some
    degrees of its own, not counted; reversed in its outlet it turns all odd orders by half a turn.

    Examples
    --------
    >>> import numpy as np
    >>> t = np.arange(20_000) / 10_000 + 0.0123
    >>> noise = np.random.default_rng(1).standard_normal((2, 20_000))
    >>> mains = 6 * np.cos(2 * np.pi * 50 * t) + 0.01 * noise[0]
    >>> y = np.cos(2 * np.pi * 150 * t + 1.0) + 0.01 * noise[1]
    >>> found = phases_against_reference(y, mains, 10_000.0, mains_hz=50.0, orders=[1, 3])
    >>> [(p.order, round(p.phase_rad.value, 2)) for p in found.orders]
    [(3, 1.0)]
    """
    channels = pair_of(y, reference, rate_hz)
    cut = cut_stretches(channels, rate_hz, mains_hz, sorted({1, *orders}), ())
    first = [i for i, order in enumerate(cut.orders) if order == 1]
    against = "the peak of the reference's fundamental"
    if not first or not _stands_out(cut.x[:, first[0]], FALSE_ALARM_RATE):
        return MainsPhases((), against, "The reference shows no mains.", (CAUTION,))
    mark = cut.x[:, first[0]]
    found = []
    for i, order in enumerate(cut.orders):
        if order in orders and _stands_out(cut.y[:, i], FALSE_ALARM_RATE / len(orders)):
            found.append(OrderPhase(int(order or 0), _phase(cut.y[:, i], mark, int(order or 0))))
    return MainsPhases(
        orders=tuple(found),
        against=against,
        why_not="" if found else "No order of the mains stands out in this channel.",
        cautions=(CAUTION,),
        assumptions=(
            "The reference follows the mains without a phase of its own; a small loaded adapter "
            "turns it by some degrees (common practice, no source).",
            "Reversed in its outlet the reference would turn all odd orders by half a turn.",
        ),
    )


def _stands_out(phasors: ComplexArray, chance: float) -> bool:
    mean = complex(phasors.mean())
    count = len(phasors)
    scatter = float(np.sum(np.abs(phasors - mean) ** 2)) / (count - 1)
    scatter = max(scatter, LEAST * abs(mean) ** 2)
    return mean != 0 and absence_chance(mean, scatter, count) < chance


def _phase(phasors: ComplexArray, mark: ComplexArray, order: int) -> Quantity:
    """ψ with the scatter of its own linearised stretches: whatever both have in common cancels."""
    mean, zero = phasors.mean(), mark.mean()
    strays: FloatArray = np.imag(phasors / mean) - order * np.imag(mark / zero)
    count = len(strays)
    u = float(np.std(strays, ddof=1) / np.sqrt(count))
    u = max(u, float(np.sqrt(LEAST)))
    return _around(float(np.angle(mean) - order * np.angle(zero)), u, count - 1)


def _around(angle: float, u: float, dof: float) -> Quantity:
    value = float(np.angle(np.exp(1j * angle)))
    half = float(special.stdtrit(dof, 0.975)) * u
    return Quantity(value, u, value - half, value + half)


@dataclass(frozen=True)
class TriggerPlace:
    """Where a trigger on the mains line sits in a record.

    Parameters
    ----------
    time_s : float
        From the first sample [s]; negative when the record begins after it.
    u_s : float
        Standard uncertainty, jitter included [s].
    mains_phase_rad : float or None
        Phase of the mains fundamental (of its cosine) at the trigger [rad], such as −π/2 at a
        rising zero crossing; None when not known.
    """

    time_s: float
    u_s: float = 0.0
    mains_phase_rad: float | None = None


def phases_at_trigger(
    comb: MainsComb,
    samples: int,
    rate_hz: float,
    acquisition: Acquisition,
    place: TriggerPlace | None,
) -> MainsPhases:
    """Find the phase of each order against the mains in a capture triggered on the mains line.

    ψ_k = θ_k + 2π k f0 (t_trigger − t_centre) − k·φ, with φ the phase of the mains at the trigger;
    taken as zero when it is not known, which shifts ψ_k by k times one constant, alike in all
    captures with the same trigger setting.

    Parameters
    ----------
    comb : MainsComb
        Of the whole record of `samples` samples, phases at its centre.
    samples : int
    rate_hz : float
        [Hz].
    acquisition : Acquisition
        Its trigger must be "line".
    place : TriggerPlace or None
        None when it is not known where the trigger sits.

    Validity: a supply that wandered during the record has no single frequency to count back with,
    and is refused unless the trigger lies at the centre. u² = u²(θ_k) + (2πkΔt·u(f0))² +
    (2πk f0·u(t))².
    """
    against = "the trigger on the mains line"
    why = _no_trigger(comb, acquisition, place)
    if why or place is None or comb.frequency_hz is None:
        return MainsPhases((), against, why)
    f0 = comb.frequency_hz
    from_centre_s = place.time_s - (samples - 1) / 2 / rate_hz
    if comb.wander is not None and abs(from_centre_s) > 1.0 / f0.value:
        return MainsPhases(
            (), against, "The mains frequency wandered: take a shorter stretch about the trigger."
        )
    found = []
    for line in comb.detected:
        if line.phase_rad is None:
            continue
        turn = 2 * np.pi * line.order
        at_trigger = line.phase_rad.value + turn * f0.value * from_centre_s
        angle = at_trigger - line.order * (place.mains_phase_rad or 0.0)
        # Half-widths carry each part's own degrees of freedom: they add in squares.
        u = np.hypot(line.phase_rad.u, turn * np.hypot(from_centre_s * f0.u, f0.value * place.u_s))
        half = np.hypot(
            (line.phase_rad.high - line.phase_rad.low) / 2,
            turn * np.hypot(from_centre_s * (f0.high - f0.low) / 2, f0.value * 1.96 * place.u_s),
        )
        value = float(np.angle(np.exp(1j * angle)))
        phase = Quantity(value, float(u), value - float(half), value + float(half))
        found.append(OrderPhase(line.order, phase))
    known = place.mains_phase_rad is not None
    return MainsPhases(
        orders=tuple(found),
        against="the peak of the mains" if known else against,
        why_not="" if found else "No order of the mains stands out in this channel.",
        assumptions=(
            "The trigger fires at the same phase of the mains every time.",
            "The phase of the mains at the trigger is as stated."
            if known
            else "The phase of the mains at the trigger is not known: order k is turned by k times "
            "one constant, alike in all captures with the same trigger setting.",
        ),
    )


def _no_trigger(comb: MainsComb, acquisition: Acquisition, place: TriggerPlace | None) -> str:
    """Return why there is no phase against the mains, or nothing."""
    if acquisition.trigger == "":
        return "It is not known whether the capture was triggered on the mains line."
    if acquisition.trigger != "line":
        return f"The capture was triggered on '{acquisition.trigger}', not on the mains line."
    if place is None:
        return "It is not known where in the record the trigger sits."
    if not comb.present or comb.frequency_hz is None:
        return "No mains stands out in this channel."
    return ""
