"""Which columns of a text table are time, and what they say."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.formats.facts import moment
from straypath.capture.formats.text_dialect import tail_rows
from straypath.capture.formats.times import (
    Times,
    is_index_name,
    is_time_name,
    times_from,
    to_seconds,
)
from straypath.capture.formats.units import parse_unit
from straypath.errors import DamagedFile

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl
    from numpy.typing import NDArray

    from straypath.capture.formats.base import Ask
    from straypath.capture.formats.text_dialect import Dialect
    from straypath.capture.formats.text_header import Header

_EPOCH_S = (9e8, 4.2e9)  # 1998 to 2103: seconds since 1970 that a clock of today can give
_DAY_S = 86400.0


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
    numbers = [i for i, kind in enumerate(dialect.kinds) if kind == "number"]
    if stamps:
        return Found(_from_dates(ask, frame, rows, stamps[:2]), set(stamps))
    index = {i for i in numbers if is_index_name(header.names[i]) and _is_count(frame, i)}
    named = [i for i in numbers if _is_time(header.names[i], header.units[i])]
    if not named and len(numbers) > 1 and _is_ramp(frame, numbers[0], header.names[numbers[0]]):
        if _is_count(frame, numbers[0]):
            notes.append("the first column counts the samples and is left out")
            return Found(None, {numbers[0]} | index)
        notes.append("the first column rises evenly: taken as time in seconds")
        grain = _grain(ask, rows, dialect, numbers[0])
        return Found(_from_numbers(ask, frame, numbers[0], 1.0, grain), {numbers[0]} | index)
    if not named or len(named) == len(numbers) == len(frame.columns):
        return Found(None, index if len(index) < len(numbers) else set())
    factor = to_seconds(header.units[named[0]], header.names[named[0]], notes)
    grain = _grain(ask, rows, dialect, named[0])
    return Found(_from_numbers(ask, frame, named[0], factor, grain), set(named) | index)


def _is_time(name: str, unit: str) -> bool:
    known = parse_unit(unit) if unit else None
    if known and known[0] != "s":
        return False
    return is_time_name(name) or (known is not None and not name)


def _is_count(frame: pl.DataFrame, index: int) -> bool:
    head = frame[f"c{index}"].head(1000).to_numpy()
    return bool(np.all(np.diff(head) == 1.0) and head[0] == np.floor(head[0]))


def _is_ramp(frame: pl.DataFrame, index: int, name: str) -> bool:
    """Whether a column without a title of its own rises in even steps."""
    if name and not re.fullmatch(r"[xX]|col\w*\s*\d*", name):
        return False
    if len(frame) < 4:
        return False
    steps = np.diff(frame[f"c{index}"].head(1000).to_numpy())
    usual = float(np.median(steps))
    return usual > 0 and bool(np.all(np.abs(steps - usual) < 0.02 * usual))


def _from_numbers(ask: Ask, frame: pl.DataFrame, index: int, factor: float, grain: float) -> Times:
    column = frame[f"c{index}"]
    if column.null_count():
        raise DamagedFile("the time column has holes", where=str(ask.path))
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


def _from_dates(
    ask: Ask, frame: pl.DataFrame, rows: Sequence[Sequence[str]], columns: list[int]
) -> Times:
    """Return stamps written as dates, times of day, or a date and a time side by side."""
    parts = [frame[f"c{i}"].str.strip_chars().str.strip_chars('"') for i in columns]
    cells = [rows[0][i].strip().strip('"') for i in columns]
    joined, cell = parts[0], cells[0]
    if len(parts) == 2 and (":" in cells[0]) != (":" in cells[1]):
        if ":" in cells[0]:
            parts, cells = parts[::-1], cells[::-1]
        joined, cell = parts[0] + " " + parts[1], " ".join(cells)
    dated = bool(re.match(r"\d{4}|\d{1,2}\.\d{1,2}\.\d{4}", cell))
    ns = _as_nanoseconds(ask, joined, cell)
    seconds = (ns - ns[0]) * 1e-9
    if not dated:
        seconds = _over_midnight(seconds)
    digits = re.search(r":\d\d[.,](\d+)", cell)
    resolution = 10.0 ** -len(digits[1]) if digits else 1.0
    return Times(seconds, resolution, moment(cell) if dated else None)


def _as_nanoseconds(ask: Ask, column: pl.Series, cell: str) -> NDArray[np.int64]:
    column = column.str.replace(r"(:\d\d),", "${1}.").str.replace("T", " ", literal=True)
    column = column.str.replace_all("/", "-", literal=True)
    date = "%d.%m.%Y" if re.match(r"\d{1,2}\.", cell) else "%Y-%m-%d"
    clock = " %H:%M:%S%.f" if ":" in cell else ""
    zone = "%#z" if re.search(r":\d\d(?:[.,]\d+)?(?:Z|[+-]\d\d)", cell) else ""
    if not re.match(r"\d{4}|\d{1,2}\.\d", cell):
        column = "1970-01-01 " + column
    if zone:
        column = column.str.replace(r"Z$", "+00:00")
    parsed = column.str.to_datetime(date + clock + zone, time_unit="ns", strict=False)
    if parsed.null_count():
        row = parsed.is_null().arg_true()[0]
        raise DamagedFile(f"the time stamp of row {row + 1} cannot be read", where=str(ask.path))
    return np.asarray(parsed.dt.epoch("ns").to_numpy(), dtype=np.int64)


def _over_midnight(seconds: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return times of day that go on rising past midnight."""
    falls = np.flatnonzero(np.diff(seconds) < -_DAY_S / 2)
    if not len(falls):
        return seconds
    days = np.zeros(len(seconds))
    days[falls + 1] = _DAY_S
    return np.asarray(seconds + np.cumsum(days))
