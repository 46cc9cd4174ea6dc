"""Which columns of a text table are time, and what they say."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.formats.base import REPAIR_TIME
from straypath.capture.formats.text_dates import times_from_dates
from straypath.capture.formats.text_dialect import tail_rows
from straypath.capture.formats.times import (
    Times,
    is_index_name,
    is_time_name,
    times_from,
    to_seconds,
)
from straypath.capture.formats.units import parse_unit
from straypath.errors import DamagedFile, InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import polars as pl
    from numpy.typing import NDArray

    from straypath.capture.formats.base import Ask
    from straypath.capture.formats.text_dialect import Dialect
    from straypath.capture.formats.text_header import Header

_LARGEST = 1e100  # beyond this, a column is no time
_EPOCH_S = (9e8, 4.2e9)  # 1998 to 2103: seconds since 1970 that a clock of today can give


@dataclass(frozen=True)
class Found:
    """The stamps, and the columns that are no channels."""

    times: Times | None = None
    used: set[int] = field(default_factory=set)


def find_times(
    ask: Ask,
    frame: pl.DataFrame,
    rows: Sequence[Sequence[str]],
    *,
    dialect: Dialect,
    header: Header,
    notes: list[str],
) -> Found:
    """Return the stamps of a table: dates, a column named or measured as time, or an even ramp."""
    if len(frame) < 2:
        return Found()
    stamps = [i for i, kind in enumerate(dialect.kinds) if kind == "stamp"]
    if stamps:
        dates = _tried(ask, notes, lambda: times_from_dates(ask, frame, rows, stamps[:2], notes))
        return Found(dates, set(stamps))
    numbers = [i for i, kind in enumerate(dialect.kinds) if kind == "number"]
    counters = _counters(frame, numbers, header)
    others = [i for i in numbers if i not in counters]
    named = [i for i in others if is_time_column(header.names[i], header.units[i])]
    if named and len(named) < len(frame.columns):
        index, used = named[0], {*named, *counters}
        factor = to_seconds(header.units[index], header.names[index], notes)
        if any(frame[f"c{i}"][0] != frame[f"c{index}"][0] for i in named[1:]):
            notes.append("the time columns do not begin alike: all channels are put on the first")
    elif not named and len(others) > 1 and _is_ramp(frame, others[0]):
        index, factor = others[0], 1.0
        used = counters | _unnamed(ask, frame, header, index, notes)
    else:
        return Found(None, counters if len(counters) < len(numbers) else set())
    if index not in used or (not named and _is_count(frame, index)):
        return Found(None, used)
    grain = _grain(ask, rows, dialect, index)
    times = _tried(ask, notes, lambda: _from_numbers(ask, frame, index, factor, grain))
    return Found(times, used)


def _unnamed(
    ask: Ask, frame: pl.DataFrame, header: Header, index: int, notes: list[str]
) -> set[int]:
    """Return the column as one to take out when, rising evenly, it counts or tells the time."""
    name, unit = header.names[index], header.units[index]
    _refuse_spectrum(ask, name, unit)
    if name and not re.fullmatch(r"[xX]|col\w*\s*\d*", name):
        return set()
    if _is_count(frame, index):
        notes.append("the first column counts the samples and is left out")
    else:
        notes.append("the first column rises evenly: taken as time in seconds")
    return {index}


def _tried(ask: Ask, notes: list[str], make: Callable[[], Times]) -> Times | None:
    """Return the stamps; when they are broken and the user gave a rate, None and a note."""
    try:
        return make()
    except DamagedFile as error:
        if ask.rate_hz is None:
            raise
        notes.append(f"the time column is not used: {error.what}")
        return None


def _counters(frame: pl.DataFrame, numbers: Sequence[int], header: Header) -> set[int]:
    """Return the columns that count samples: by their title, or beside what gives the time."""
    timed = header.facts.stated_rate_hz is not None
    has_time = sum(is_time_column(header.names[i], header.units[i]) for i in numbers)
    found = set()
    for i in numbers:
        name, unit = header.names[i], header.units[i]
        beside = (not name and i == numbers[0] and has_time) or (
            timed and not unit and is_time_name(name) and header.facts.stated_rate_hz != 1.0
        )
        if (is_index_name(name) or beside) and _is_count(frame, i):
            found.add(i)
    return found


def is_time_column(name: str, unit: str) -> bool:
    """Whether a column of this title and unit holds time."""
    known = parse_unit(unit) if unit else None
    if known and known[0] != "s":
        return False
    return is_time_name(name) or (known is not None and not name)


def _is_count(frame: pl.DataFrame, index: int) -> bool:
    """Whether a column rises by whole ones."""
    first, steps = _first_steps(frame, index)
    return bool(len(steps) and np.all(steps == 1.0) and first == np.floor(first))


def _is_ramp(frame: pl.DataFrame, index: int) -> bool:
    """Whether a column rises in even steps."""
    _, steps = _first_steps(frame, index)
    if len(steps) < 3:
        return False
    usual = float(np.median(steps))
    return usual > 0 and bool(np.all(np.abs(steps - usual) < 0.02 * usual))


def _first_steps(frame: pl.DataFrame, index: int) -> tuple[float, NDArray[np.float64]]:
    """Return the first value of a column and its first steps; none when one is no number."""
    head = frame[f"c{index}"].head(1000).to_numpy()
    if not np.all(np.abs(head) < _LARGEST):
        return 0.0, np.empty(0)
    return float(head[0]), np.diff(head)


def _refuse_spectrum(ask: Ask, name: str, unit: str) -> None:
    """Refuse a table over frequency, which would make a nonsensical record."""
    known = parse_unit(unit) if unit else None
    if re.fullmatch(r"f|freq\w*", name.lower()) and (known is None or known[0] == "Hz"):
        raise InputError(
            "runs over frequency: it is a spectrum, not a record in time",
            where=str(ask.path),
            advice="Export the waveform itself.",
        )


def _from_numbers(ask: Ask, frame: pl.DataFrame, index: int, factor: float, grain: float) -> Times:
    column = frame[f"c{index}"]
    if column.null_count():
        raise DamagedFile("the time column has holes", where=str(ask.path), advice=REPAIR_TIME)
    times = times_from(ask, column.to_numpy(), factor, grain)
    first = float(times.seconds[0])
    if _EPOCH_S[0] < first < _EPOCH_S[1]:
        return replace(times, start=datetime.fromtimestamp(first, tz=UTC))
    return times


def _grain(ask: Ask, rows: Sequence[Sequence[str]], dialect: Dialect, index: int) -> float:
    """Return the step in which stamps are written, at the start or the end of the file.

    With a fixed number of significant digits the end is the coarser of the two.
    """
    return max(_last_place(rows[:50], index), _last_place(tail_rows(ask.path, dialect), index))


def _last_place(rows: Sequence[Sequence[str]], index: int) -> float:
    """Return the step of the last digit written: 1e-4 for "0.0012", 1e-7 for "1.2000E-03".

    The finest of the rows counts, because trailing zeros may have been left away.
    """
    steps = []
    for row in rows:
        match = re.match(r"\s*\"?[+-]?\d*[.,]?(\d*)(?:[eE]([+-]?\d{1,3}))?", row[index])
        if match:
            steps.append(10.0 ** (int(match[2] or 0) - len(match[1])))
    return min(steps, default=0.0)
