"""Columns and arrays that hold time: how to know them, and their stamps in seconds."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.base import REPAIR_TIME
from straypath.capture.formats.units import parse_unit
from straypath.errors import DamagedFile, InputError

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

    from straypath.capture.formats.base import Ask

_TIME_WORDS = "t time times time_s timestamp timestamps timebase zeit temps seconds"
_INDEX_WORDS = "i n index no number nr point points sample samples count row"


@dataclass(frozen=True)
class Times:
    """A time column: stamps [s], the step they are written in [s], and the first as a date."""

    seconds: NDArray[np.float64]
    resolution_s: float
    start: datetime | None = None


def is_time_name(name: str) -> bool:
    """Whether a column of this name holds time."""
    return re.sub(r"[^a-z]+", "_", name.lower()).strip("_") in _TIME_WORDS.split()


def is_index_name(name: str) -> bool:
    """Whether a column of this name counts samples."""
    return re.sub(r"[^a-z]+", "_", name.lower()).strip("_") in _INDEX_WORDS.split()


def to_seconds(unit: str, name: str, notes: list[str]) -> float:
    """Return the factor to seconds of a time column, noting an assumption."""
    known = parse_unit(unit) if unit else None
    if known and known[0] == "s":
        return known[1]
    if unit:
        raise InputError(
            f'the time column "{name}" is in "{unit}", which is no unit of time',
            advice="Export it in s, ms or µs, or under a title other than time.",
        )
    notes.append(f'the time column "{name}" is taken in seconds')
    return 1.0


def times_from(ask: Ask, raw: Any, factor: float, resolution: float | None = None) -> Times:
    """Return the stamps of a numeric or date array; a float's own grain is its resolution.

    Parameters
    ----------
    raw : array, shape (n,)
    factor : float
        Seconds per raw step [s].
    resolution : float or None
        Step in which the stamps are written [raw].
    """
    stamps = np.asarray(raw)
    if stamps.dtype.kind in "mM":
        return _times_from_dates(ask, stamps)
    if stamps.dtype.kind not in "iuf":
        raise InputError(
            "the time column holds no numbers", where=str(ask.path), advice=REPAIR_TIME
        )
    grain = 1.0
    if stamps.dtype.kind == "f":
        finite = stamps[[0, -1]]
        if not np.isfinite(finite).all():
            raise DamagedFile("the time column has holes", where=str(ask.path), advice=REPAIR_TIME)
        grain = float(np.spacing(np.abs(finite).max()))
    seconds = np.asarray(stamps, dtype=np.float64)
    if factor != 1.0:
        seconds = seconds * factor
    return Times(seconds, max(grain, resolution or 0.0) * factor)


def _times_from_dates(ask: Ask, stamps: NDArray[Any]) -> Times:
    step = np.datetime_data(stamps.dtype)[0]
    grain = {"D": 86400.0, "h": 3600.0, "m": 60.0, "s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
    if np.isnat(stamps).any() or step not in grain:
        raise DamagedFile("the time column has holes", where=str(ask.path), advice=REPAIR_TIME)
    start = None
    if stamps.dtype.kind == "M":
        start = stamps[0].astype("datetime64[us]").item()
    seconds = (stamps - stamps[0]).astype(np.int64) * grain[step]
    return Times(seconds, grain[step], start)
