"""From named columns and header facts to a capture: the rules every reader shares."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.capture import Capture, Channel, Stamps
from straypath.capture.formats.base import FASTEST_HZ, SLOWEST_HZ
from straypath.capture.formats.stamps import even_grid, tidy_rate
from straypath.capture.formats.units import parse_unit, user_unit
from straypath.errors import DamagedFile, NeedsFact

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from straypath.capture.capture import Samples
    from straypath.capture.formats.base import Ask
    from straypath.capture.formats.facts import Facts
    from straypath.capture.formats.times import Times

_BLOCK = 1 << 20
_RATE_ADVICE = "Give the rate (--rate, rate_hz), such as 10000."


@dataclass(frozen=True)
class Column:
    """One column or array as the file holds it, before it becomes a channel.

    Parameters
    ----------
    name : str
    raw : Samples
    unit : str
        As written.
    scale, offset : float
        [unit as written per raw step], [unit as written].
    full_scale : (float, float) or None
        In raw steps.
    """

    name: str
    raw: Samples
    unit: str = ""
    scale: float = 1.0
    offset: float = 0.0
    full_scale: tuple[float, float] | None = None


def to_capture(
    ask: Ask,
    columns: Sequence[Column],
    facts: Facts,
    *,
    reader: str,
    times: Times | None = None,
    stamps: Stamps | None = None,
    notes: Sequence[str] = (),
    files: Sequence[Path] = (),
    without_unit: str = "the unit is not stated: numbers are taken as they stand",
) -> Capture:
    """Return the capture that columns, stamps and facts make up, or say what is missing.

    `files` are all that were read, the one that was named first; that one alone when not given.
    """
    said = [*notes, *facts.notes]
    _check_lengths(ask, columns)
    rate_hz, stamps = _rate(ask, facts, times, stamps, said)
    channels = _channels(ask, columns, facts, said)
    if not any(channel.unit for channel in channels):
        said.append(without_unit)
    return Capture(
        channels=channels,
        rate_hz=rate_hz,
        start=(times.start if times and times.start else facts.start),
        acquisition=facts.acquisition,
        stamps=stamps,
        path=ask.path,
        files=tuple(files) or (ask.path,),
        format=reader,
        notes=tuple(dict.fromkeys(said)),
    )


def _check_lengths(ask: Ask, columns: Sequence[Column]) -> None:
    if not columns:
        raise DamagedFile(
            "holds no column of numbers",
            where=str(ask.path),
            advice="Export the samples as a column of plain numbers.",
        )
    shortest = min(len(c.raw) for c in columns)
    if shortest < 2:
        count = "no sample" if shortest == 0 else "one sample only"
        raise DamagedFile(
            f"holds {count}", where=str(ask.path), advice="A record needs at least two."
        )


def _rate(
    ask: Ask, facts: Facts, times: Times | None, stamps: Stamps | None, said: list[str]
) -> tuple[float, Stamps | None]:
    """Return the rate and what the stamps say; the user's word counts before the file's."""
    rate_hz = facts.stated_rate_hz
    if times is not None:
        try:
            interval, stamps = even_grid(times.seconds, times.resolution_s, str(ask.path))
            rate_hz = _agreed(1.0 / interval, rate_hz, stamps, len(times.seconds), said)
        except DamagedFile as error:
            if ask.rate_hz is None:
                raise
            said.append(f"the time column is not used: {error.what}")
    if ask.rate_hz is not None:
        if rate_hz and abs(rate_hz / ask.rate_hz - 1) > 1e-6:
            said.append(f"the file says {rate_hz:.9g} Hz; the given {ask.rate_hz:.9g} Hz are used")
        rate_hz = ask.rate_hz
    if rate_hz and not SLOWEST_HZ <= rate_hz <= FASTEST_HZ:
        said.append(f"the rate of {rate_hz:g} Hz that the file states is not possible")
        rate_hz = None
    if not rate_hz:
        raise NeedsFact(
            "does not say how fast it was sampled", where=str(ask.path), advice=_RATE_ADVICE
        )
    return float(rate_hz), stamps


def _agreed(
    by_stamps: float, by_header: float | None, stamps: Stamps, n: int, said: list[str]
) -> float:
    """Return the header's rate where rounded stamps allow it, else the stamps' own."""
    if by_header is not None:
        room = (2 * stamps.resolution_s + stamps.worst_error_s) * by_stamps / n
        if abs(by_header / by_stamps - 1) <= room + 1e-9:
            return by_header
        said.append(
            f"the header says {by_header:.9g} Hz but the time column runs at "
            f"{by_stamps:.9g} Hz, which is used"
        )
    return tidy_rate(by_stamps)


def _channels(
    ask: Ask, columns: Sequence[Column], facts: Facts, said: list[str]
) -> tuple[Channel, ...]:
    kept = []
    for column in columns:
        if all_nan(column.raw):
            if column.name:
                said.append(f'column "{column.name}" holds no number and is left out')
        else:
            kept.append(_channel(ask, column, facts, said))
    if not kept:
        raise DamagedFile(
            "holds only empty or NaN values",
            where=str(ask.path),
            advice="Check that the input was on, and export the record again.",
        )
    return tuple(_distinct(kept))


def _channel(ask: Ask, column: Column, facts: Facts, said: list[str]) -> Channel:
    scale = column.scale if facts.scale is None else facts.scale
    offset = column.offset if facts.offset is None else facts.offset
    if _is_too_fine(column.raw):
        said.append(
            f"{column.name or 'the samples'}: whole numbers beyond 2^53 keep 16 digits as floats"
        )
    written = column.unit or facts.unit
    unit, factor = (
        user_unit(ask.unit) if ask.unit is not None else parse_unit(written) or (written, 1.0)
    )
    full = column.full_scale
    if full:
        ends = sorted((end * scale + offset) * factor for end in full)
        full = (ends[0], ends[1])
    return Channel(column.name, column.raw, unit, scale * factor, offset * factor, full)


def _distinct(channels: list[Channel]) -> list[Channel]:
    """Return the channels with names that are never empty and never the same."""
    seen: set[str] = set()
    result = []
    for number, channel in enumerate(channels, 1):
        stem = channel.name.strip() or f"channel {number}"
        name, copy = stem, 2
        while name in seen:
            name, copy = f"{stem} ({copy})", copy + 1
        seen.add(name)
        result.append(replace(channel, name=name))
    return result


def _is_too_fine(raw: Samples) -> bool:
    """Whether there are whole numbers that a 64-bit float cannot tell from their neighbours."""
    if raw.dtype.kind not in "iu" or raw.dtype.itemsize < 8:
        return False
    parts = (raw[start : start + _BLOCK] for start in range(0, len(raw), _BLOCK))
    return any(max(-int(part.min()), int(part.max())) > 2**53 for part in parts)


def all_nan(raw: Samples) -> bool:
    """Whether no sample is a number; reads no further than the first block that has one."""
    if raw.dtype.kind != "f":
        return False
    return not any(
        np.isfinite(raw[start : start + _BLOCK]).any() for start in range(0, len(raw), _BLOCK)
    )
