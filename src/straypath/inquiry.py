"""The only orchestrator: examines the channels of a capture, soundness first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, isfinite, sqrt
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.capture import Capture
from straypath.capture.part import part
from straypath.capture.soundness import Soundness, check_soundness
from straypath.contents.comb import FALSE_ALARM_RATE
from straypath.contents.pair.against import Against, against_reference
from straypath.contents.pair.reference import TriggerPlace, phases_at_trigger
from straypath.contents.plan.answerable import answerable
from straypath.contents.records import MainsComb
from straypath.contents.whole import Contents, read_contents
from straypath.errors import InputError
from straypath.floor_budget import FloorBudget, budget_of
from straypath.units import parse_value
from straypath.wording import listed

if TYPE_CHECKING:
    from collections.abc import Callable

    from straypath.capture.capture import Channel
    from straypath.contents.lines.find import Depth
    from straypath.contents.plan.records import Verdict
    from straypath.contents.records import Floor

    Progress = Callable[[float, str], None]


_FEWEST_SAMPLES = 16
_LARGEST, _SMALLEST = 1e100, 1e-100  # squares of what lies beyond leave the range of a float
# From this probability on the system of the mains is known.
_KNOWN = 0.95
# The lowest rate, over the mains frequency, at which the first order lies clear of half the rate.
_SLOWEST = 2.25


@dataclass(frozen=True)
class ChannelContents:
    """Everything found in one channel.

    Parameters
    ----------
    channel : Channel
    soundness : Soundness
    contents : Contents
        Mains comb, other lines, floor, bursts and offset.
    stretch : (int, int)
        The samples that were looked at: first, and one past the last. Phases are quoted at the
        centre of this stretch, times from its first sample.
    against : Against or None
        How it compares with the reference, where there is one.
    answers : tuple of Verdict
        Which questions this record answers; empty where nothing could be looked for.
    budget : FloorBudget or None
        What explains the floor; None where nothing is known of source or converter.
    """

    channel: Channel
    soundness: Soundness
    contents: Contents
    stretch: tuple[int, int]
    against: Against | None = None
    answers: tuple[Verdict, ...] = ()
    budget: FloorBudget | None = None

    @property
    def mains(self) -> MainsComb:
        """The mains comb."""
        return self.contents.mains


@dataclass(frozen=True)
class Examination:
    """A capture with what is in each of its channels."""

    capture: Capture
    channels: tuple[ChannelContents, ...]


def examine(
    capture: Capture,
    *,
    channels: Sequence[str | int] | None = None,
    mains: str | float = "auto",
    depth: Depth = "usual",
    reference: str | int | None = None,
    trigger_at_s: float | None = None,
    source: str | float | None = None,
    progress: Progress | None = None,
) -> Examination:
    """Examine a capture: soundness first, then the contents of the longest sound stretch.

    Parameters
    ----------
    capture : Capture
    channels : sequence of names or numbers, optional
        Which channels; numbers start at 1. All when not given.
    mains : str or float
        "auto", or the mains frequency that is expected, as "50", "16.7 Hz" or 60.0 [Hz].
    depth : "usual", "quick" or "deep"
        How thoroughly lines outside the mains are sought in records of over 4 million samples.
    reference : str or int, optional
        Channel that the others are compared with, by name or number.
    trigger_at_s : float, optional
        When a trigger on the mains line fired, from the first sample of the capture [s].
    source : str or float, optional
        Resistance of the source, as "10 kΩ" or 10e3 [Ω], for the noise budget of the floor.
    progress : callable, optional
        Called with the part done, 0 … 1, and what is being done.

    Raises
    ------
    InputError
        A channel that is not there, a reference without another channel, or a mains frequency
        or source resistance that is none.
    """
    if not isinstance(capture, Capture):
        raise InputError(
            f"{type(capture).__name__} is no capture",
            where="examine",
            advice="Read the file first: examine(read(path)).",
        )
    expected = mains_frequency(mains)
    source_ohm = source_resistance(source)
    chosen = choose(capture, channels)
    mark = None if reference is None else _reference(capture, chosen, reference)
    every = chosen if mark is None or any(c is mark for c in chosen) else (*chosen, mark)
    found = []
    for place, channel in enumerate(every):
        step = _step(progress, place, len(every), channel.name)
        found.append(_examine_channel(capture, channel, expected, depth, step))
    if mark is not None:
        (marked,) = [each for each in found if each.channel is mark]
        found = [_beside(capture, each, marked) for each in found[: len(chosen)]]
    elif trigger_at_s is not None or capture.acquisition.trigger == "line":
        found = [_at_trigger(capture, each, trigger_at_s) for each in found]
    found = [_with_budget(capture, each, source_ohm) for each in found]
    if progress:
        progress(1.0, "done")
    return Examination(capture, tuple(found))


def _reference(capture: Capture, chosen: tuple[Channel, ...], name: str | int) -> Channel:
    """Return the reference channel, once there is another one to compare with it."""
    mark = _find(capture, str(name))
    if all(channel is mark for channel in chosen):
        raise InputError(
            f"there is no other channel to compare with '{mark.name or name}'",
            where="reference",
            advice="Examine another channel of the capture too, or leave the reference out.",
        )
    return mark


def _beside(capture: Capture, found: ChannelContents, mark: ChannelContents) -> ChannelContents:
    """Return a channel with what it shows against the reference, where both are sound."""
    if found is mark:
        return found
    start = max(found.stretch[0], mark.stretch[0])
    stop = max(start, min(found.stretch[1], mark.stretch[1]))
    y, x = (part(each.channel, start, stop) for each in (found, mark))
    made = against_reference(y, x, capture.rate_hz, found.contents, mark.contents)
    return replace(found, against=made)


def _at_trigger(capture: Capture, found: ChannelContents, at_s: float | None) -> ChannelContents:
    """Return a channel with its phases against the trigger; who says where it sits, says "line"."""
    rate_hz, facts, place = capture.rate_hz, capture.acquisition, None
    if at_s is not None:
        facts = replace(facts, trigger=facts.trigger or "line")
        place = TriggerPlace(at_s - found.stretch[0] / rate_hz, 1.0 / rate_hz / sqrt(12.0))
    samples = found.stretch[1] - found.stretch[0]
    phases = phases_at_trigger(found.mains, samples, rate_hz, facts, place)
    return replace(found, against=Against(None, phases=phases, cautions=phases.cautions))


def mains_frequency(text: str | float) -> float | None:
    """Return the mains frequency that was asked for [Hz], or None for "auto"."""
    if isinstance(text, str) and text.strip().lower() == "auto":
        return None
    value = parse_value(str(text), "Hz", where="mains", bare=True)
    if not 1.0 <= value <= 2000.0:
        raise InputError(
            f"{value:g} Hz is not a mains frequency",
            where="mains",
            advice="Give auto, 50, 60 or another one between 1 Hz and 2 kHz.",
        )
    return value


def source_resistance(text: str | float | None) -> float | None:
    """Return the resistance of the source [Ω], or None where it is not given."""
    if text is None:
        return None
    value = parse_value(str(text), "Ω", where="source", bare=not isinstance(text, str))
    if value <= 0.0:
        raise InputError(
            f"{value:g} Ω is no source resistance",
            where="source",
            advice="Give what the input sees, above 0 Ω.",
        )
    return value


def choose(capture: Capture, wanted: Sequence[str | int] | None) -> tuple[Channel, ...]:
    """Return the channels that are meant by names or by numbers from 1; names come first."""
    if wanted is None:
        return capture.channels
    if isinstance(wanted, str) or not isinstance(wanted, Sequence) or not wanted:
        raise InputError(
            f"{wanted!r} names no channels",
            where="channels",
            advice="Give a list of names or numbers from 1, such as ['left', 2], or leave it out.",
        )
    found: dict[int, Channel] = {}
    for name in wanted:
        channel = _find(capture, str(name))
        found[id(channel)] = channel  # channels hold arrays, which cannot be told apart by value
    return tuple(found.values())


def _find(capture: Capture, name: str) -> Channel:
    for channel in capture.channels:
        if channel.name == name:
            return channel
    if name.isdecimal() and 1 <= int(name) <= len(capture.channels):
        return capture.channels[int(name) - 1]
    near = [c for c in capture.channels if c.name.casefold() == name.strip().casefold()]
    if len(near) == 1:
        return near[0]
    names = [f"{number} {c.name}" for number, c in enumerate(capture.channels[:12], start=1)]
    if len(capture.channels) > 12:
        names.append(f"{len(capture.channels) - 12} more")
    raise InputError(
        f"there is no channel '{name}'",
        where=capture.path.name if capture.path else "capture",
        advice=f"Choose by name or number from {listed(names)}.",
    )


def _step(progress: Progress | None, place: int, total: int, name: str) -> Progress:
    """Return a progress callback for one channel out of several."""

    def report(part: float, doing: str) -> None:
        if progress:
            label = f"{name}: {doing}" if name else doing
            progress((place + min(max(part, 0.0), 1.0)) / total, label)

    return report


def _examine_channel(
    capture: Capture, channel: Channel, expected: float | None, depth: Depth, step: Progress
) -> ChannelContents:
    step(0.0, "soundness")
    soundness = check_soundness(capture, channel, mains_hz=expected)
    stretch = soundness.stretch
    if why := _why_not(soundness):
        return ChannelContents(
            channel, soundness, Contents(MainsComb.not_read(why, FALSE_ALARM_RATE)), stretch
        )
    step(0.1, "contents")
    contents = read_contents(
        part(channel, *stretch),
        capture.rate_hz,
        mains=expected,
        depth=depth,
        bandwidth_hz=capture.acquisition.bandwidth_limit_hz,
        step=soundness.step or 0.0,
        progress=lambda done: step(0.1 + 0.9 * done, "contents"),
    )
    if too_slow := _too_slow(capture, expected):
        contents = replace(contents, mains=MainsComb.not_read(too_slow, FALSE_ALARM_RATE))
    answers = _answers(capture.rate_hz, soundness, contents, channel.unit)
    return ChannelContents(channel, soundness, contents, stretch, answers=answers)


def _with_budget(
    capture: Capture, found: ChannelContents, source_ohm: float | None
) -> ChannelContents:
    """Return a channel with what explains its floor."""
    budget = budget_of(
        found.contents.floor,
        capture.rate_hz,
        unit=found.channel.unit,
        source_ohm=source_ohm,
        bits=capture.acquisition.bits,
        full_scale=found.channel.full_scale,
        step=found.soundness.step,
    )
    return replace(found, budget=budget)


def _answers(
    rate_hz: float, soundness: Soundness, contents: Contents, unit: str
) -> tuple[Verdict, ...]:
    """Return which questions a record answers, by its length, rate, floor, step and mains."""
    mains, hum = contents.mains, [line for line in contents.mains.detected if line.order == 1]
    known = mains.present and mains.nominal_probability >= _KNOWN
    return answerable(
        (soundness.stretch[1] - soundness.stretch[0]) / rate_hz,
        rate_hz,
        floor=_density(contents.floor),
        unit=unit,
        step=soundness.step,
        mains_hz=mains.frequency_hz.value if known and mains.frequency_hz is not None else None,
        hum_rms=hum[0].rms.value if hum else None,
    )


def _density(floor: Floor | None) -> Callable[[float], float] | None:
    """Return the floor as a function of frequency, straight between its points in logarithms."""
    if floor is None or not floor.density:
        return None
    at, level = np.log(floor.frequency_hz), np.log([max(d.value, 1e-300) for d in floor.density])
    return lambda frequency_hz: float(np.exp(np.interp(np.log(frequency_hz), at, level)))


def _why_not(soundness: Soundness) -> str:
    """Return why nothing can be looked for in a channel, or nothing."""
    length = soundness.stretch[1] - soundness.stretch[0]
    if length <= 0:
        return "No stretch of this record is sound enough to look for mains."
    if length < _FEWEST_SAMPLES:
        held = "one sample" if length == 1 else f"{length} samples"
        return f"A stretch of {held} is too short to look for mains."
    if not isfinite(soundness.rms_about_mean) or soundness.rms_about_mean > _LARGEST:
        return "The values are too large to be a measurement."
    if soundness.rms_about_mean < _SMALLEST:
        return "Nothing moves in this record, so there is no mains in it to be read."
    return ""


def _too_slow(capture: Capture, expected: float | None) -> str:
    """Return why the mains cannot show at this rate, or nothing."""
    slowest = _SLOWEST * (expected or 50.0)
    if capture.rate_hz >= slowest:
        return ""
    return (
        f"Mains of {expected or 50:g} Hz cannot show at {capture.rate_hz:g} samples/s; "
        f"it takes {ceil(slowest)} or more."
    )
