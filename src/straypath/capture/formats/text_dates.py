"""Time stamps of a text table that are written as dates and times of day."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.formats.base import REPAIR_TIME
from straypath.capture.formats.facts import moment
from straypath.capture.formats.times import Times
from straypath.errors import DamagedFile

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl
    from numpy.typing import NDArray

    from straypath.capture.formats.base import Ask

_DAY_S = 86400.0
_GRAIN = (_DAY_S, 60.0, 1.0)  # by the number of colons
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/\d{4}")


def times_from_dates(
    ask: Ask,
    frame: pl.DataFrame,
    rows: Sequence[Sequence[str]],
    columns: Sequence[int],
    notes: list[str],
) -> Times:
    """Return stamps written as dates, times of day, or a date and a time side by side.

    Years stand first (2026-03-01), or days do (01.03.2026). In 03/01/2026 the number that
    exceeds 12 or moves alone is the day; that decides nothing but midnights, and the start is
    not taken from such a date.
    """
    parts = [frame[f"c{i}"].str.strip_chars(' "') for i in columns]
    cells = [[row[i].strip(' "') for row in rows] for i in columns]
    joined, cell, first = parts[0], cells[0][0], cells[0]
    if len(parts) == 2 and (":" in cells[0][0]) != (":" in cells[1][0]):
        day = 1 if ":" in cells[0][0] else 0
        joined = parts[day] + " " + parts[1 - day]
        cell, first = f"{cells[day][0]} {cells[1 - day][0]}", cells[day]
    date = _date_format(first, notes)
    ns = _as_nanoseconds(ask, joined, cell, date or "%Y-%m-%d", dated=bool(date))
    seconds = (ns - ns[0]) * 1e-9
    if not date:
        seconds = _over_midnight(seconds)
    digits = re.search(r":\d\d[.,](\d+)", cell)
    grain = 10.0 ** -len(digits[1]) if digits else _GRAIN[min(cell.count(":"), 2)]
    return Times(seconds, grain, moment(cell))


def _date_format(cells: Sequence[str], notes: list[str]) -> str:
    """Return how the date is written; "" when there is only a time of day."""
    if re.match(r"\d{4}", cells[0]):
        return "%Y-%m-%d"
    if re.match(r"\d{1,2}\.", cells[0]):
        return "%d.%m.%Y"
    pairs = [(int(m[1]), int(m[2])) for cell in cells if (m := _SLASHED.match(cell))]
    if not pairs:
        return ""
    notes.append("the date is written with slashes, day or month first: the start is not taken")
    firsts, seconds = zip(*pairs, strict=True)
    month_first = max(seconds) > 12 or (len(set(seconds)) > 1 and len(set(firsts)) == 1)
    return "%m-%d-%Y" if month_first else "%d-%m-%Y"


def _as_nanoseconds(
    ask: Ask, column: pl.Series, cell: str, date: str, *, dated: bool
) -> NDArray[np.int64]:
    column = column.str.replace(r"(:\d\d),", "${1}.").str.replace("T", " ", literal=True)
    column = column.str.replace_all("/", "-", literal=True)
    half = re.search(r"\d ?[AaPp][Mm]$", cell)
    clock = " %I:%M" if half else " %H:%M"
    clock += ":%S%.f" if re.search(r":\d\d:", cell) else ""
    clock += " %p" if half else ""
    if half:
        column = column.str.replace(r"(\d) ?([AaPp][Mm])$", "${1} ${2}")
    zone = "%#z" if re.search(r":\d\d(?:[.,]\d+)?(?:Z|[+-]\d\d)", cell) else ""
    if not dated:
        column = "1970-01-01 " + column
    if zone:
        column = column.str.replace(r"Z$", "+00:00")
    parsed = column.str.to_datetime(
        date + (clock if ":" in cell else "") + zone, time_unit="ns", strict=False
    )
    if parsed.null_count():
        row = parsed.is_null().arg_true()[0]
        raise DamagedFile(
            f"the time stamp of row {row + 1} cannot be read",
            where=str(ask.path),
            advice=REPAIR_TIME,
        )
    return np.asarray(parsed.dt.epoch("ns").to_numpy(), dtype=np.int64)


def _over_midnight(seconds: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return times of day that go on rising past midnight."""
    falls = np.flatnonzero(np.diff(seconds) < -_DAY_S / 2)
    if not len(falls):
        return seconds
    days = np.zeros(len(seconds))
    days[falls + 1] = _DAY_S
    return np.asarray(seconds + np.cumsum(days))
