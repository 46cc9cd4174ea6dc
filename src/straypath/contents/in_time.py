"""What a channel holds in time, comb and lines being known: bursts and level."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.bursts.envelope import envelope
from straypath.contents.bursts.find import find_bursts, with_lock
from straypath.contents.bursts.level import level
from straypath.contents.bursts.of_clocks import at_edges
from straypath.contents.bursts.ringing import energy_in_band
from straypath.contents.lines.report import ToneModel
from straypath.contents.mains.model import CombModel
from straypath.contents.records import Bursts, Undetermined

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from straypath.arrays import FloatArray
    from straypath.capture.capture import Channel
    from straypath.contents.bursts.envelope import Model
    from straypath.contents.comb import CombReading
    from straypath.contents.lines.baseband import Tone
    from straypath.contents.lines.find import LinesFound
    from straypath.contents.records import Family, Offset

    Wave = Callable[[float, float, int], FloatArray]

# So many lines are taken off a record at most; off a short one more: so many values of waves.
MOST_WAVES = 24
WAVE_VALUES = 100_000_000
# A clock of so many lines has edges.
EDGED_LINES = 6
# A clock of so many lines at the mains, beyond the comb, is a train of pulses.
TRAIN_LINES = 20
# A narrow band is the bursts' when they hold this part of its energy.
OF_BURSTS = 0.5


def strongest(tones: Sequence[Tone], samples: int) -> list[Tone]:
    """Return the strongest lines: more are not worth the time that their waves take."""
    most = max(MOST_WAVES, WAVE_VALUES // max(1, samples))
    return sorted(tones, key=lambda tone: -abs(tone.phasor))[:most]


def read_in_time(
    channel: Channel,
    rate_hz: float,
    reading: CombReading,
    found: LinesFound,
    families: Sequence[Family],
    unsaid: list[Undetermined],
) -> tuple[Bursts | None, Offset | None]:
    """Find bursts and offset, comb and lines taken off where they would hide them.

    Pulses that keep to the mains are told by what is no multiple of their rate: their own lines
    would leave nothing but their edges. What keeps to the phase of another clock is its waveform.

    Parameters
    ----------
    channel : Channel
    rate_hz : float
        [Hz].
    reading : CombReading
    found : LinesFound
    families : sequence of Family
        The lines, sorted.
    unsaid : list of Undetermined
        Gets what could not be told.
    """
    tones = ToneModel(strongest(found.tones, len(channel)), found.middle_s)
    waves = [tones.wave] if found.tones else []
    waves += [reading.model.wave] if reading.model is not None else []
    model = _sum_of(waves, rate_hz)
    env = envelope(channel.raw, rate_hz, model)
    phase = reading.model.phase_at if reading.model is not None else None
    bursts = _of_train(channel, rate_hz, reading, families) or find_bursts(
        channel, rate_hz, env=env, model=model, mains_phase=phase
    )
    if isinstance(bursts, Bursts):
        bursts = _without_edges(bursts, families, len(channel) / rate_hz, rate_hz, phase, unsaid)
    offset = level(channel, env)
    unsaid += [part for part in (bursts, offset) if isinstance(part, Undetermined)]
    return (
        None if isinstance(bursts, Undetermined) else bursts,
        None if isinstance(offset, Undetermined) else offset,
    )


def _sum_of(
    waves: Sequence[Callable[[float, float, int], FloatArray]], rate_hz: float
) -> Model | None:
    """The waves together, at samples start … stop; None without any."""
    interval_s = 1.0 / rate_hz

    def known(start: int, stop: int) -> FloatArray:
        total = np.zeros(stop - start)
        for wave in waves:
            total += wave(start * interval_s, interval_s, stop - start)
        return total

    return known if waves else None


def _of_train(
    channel: Channel, rate_hz: float, reading: CombReading, families: Sequence[Family]
) -> Bursts | None:
    """The pulses of a train at a multiple of the mains, where they show as bursts."""
    f0 = reading.comb.frequency_hz
    rates = [
        family.rate_hz.value
        for family in families
        if family.kind == "clock"
        and len(family.lines) >= TRAIN_LINES
        and family.beside is not None
        and not family.beside.separate
    ]
    if not rates or reading.model is None or f0 is None:
        return None
    seen = reading.model.fit.seen.copy()
    multiple = max(2, round(rates[0] / f0.value))
    seen[multiple - 1 :: multiple] = False
    if round(rates[0] / f0.value) < 2:
        # A waveform that repeats with the mains: only the hum itself is no part of it.
        seen[1:] = False
    hum = CombModel(replace(reading.model.fit, seen=seen), reading.model.centre_s)
    model = _sum_of([hum.wave], rate_hz)
    bursts = find_bursts(channel, rate_hz, model=model, mains_phase=hum.phase_at)
    return bursts if isinstance(bursts, Bursts) and bursts.locked else None


def _without_edges(
    bursts: Bursts,
    families: Sequence[Family],
    duration_s: float,
    rate_hz: float,
    phase: Callable[[float], float] | None,
    unsaid: list[Undetermined],
) -> Bursts:
    """Leave out the bursts at the edges of clocks that are no mains, and say so."""
    for family in families:
        mains = family.beside is not None and not family.beside.separate
        if family.kind != "clock" or len(family.lines) < EDGED_LINES or mains:
            continue
        edges = at_edges(bursts.found, family.rate_hz.value, rate_hz)
        if not edges.any():
            continue
        kept = tuple(b for b, edge in zip(bursts.found, edges, strict=True) if not edge)
        count = round(bursts.count * len(kept) / len(bursts.found))
        bursts = with_lock(kept, count, bursts.threshold, duration_s, phase)
        what = f"bursts in step with the clock at {family.rate_hz.value:.6g} Hz"
        unsaid.append(Undetermined(what, "They keep to its phase: edges of its own waveform."))
    return bursts


def without_ringing(
    families: Sequence[Family], bursts: Bursts | None, channel: Channel, rate_hz: float
) -> tuple[Family, ...]:
    """Leave out the narrow bands whose energy is that of bursts which ring there.

    Parameters
    ----------
    families : sequence of Family
    bursts : Bursts or None
    channel : Channel
    rate_hz : float
        [Hz].
    """
    kept = []
    for family in families:
        if family.kind == "narrow-band" and bursts is not None and bursts.found:
            width = family.lines[0].width_hz
            wide = width.value if width is not None else 0.0
            own = energy_in_band(channel, rate_hz, bursts, family.rate_hz.value, wide)
            if own >= OF_BURSTS * family.rms.value**2 * len(channel) / rate_hz:
                continue
        kept.append(family)
    return tuple(kept)
