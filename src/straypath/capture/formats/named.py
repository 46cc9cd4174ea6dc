"""Files of named arrays (NPZ, HDF5, MAT): which is the samples, which the time, which a fact."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.assemble import to_capture
from straypath.capture.formats.facts import gather
from straypath.capture.formats.shapes import choose
from straypath.capture.formats.times import Times, is_time_name, times_from, to_seconds
from straypath.capture.formats.units import split_unit

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture
    from straypath.capture.formats.assemble import Column
    from straypath.capture.formats.base import Ask


@dataclass(frozen=True)
class Stored:
    """One array in a file.

    Parameters
    ----------
    name : str
        Its path in the file, parts joined by "/".
    shape : tuple of int
    columns : callable
        Takes the list of notes; returns the channels without loading what can stay.
    load : callable
        Returns the whole array.
    pairs : list of (key, value)
        What stands beside it, nearest first.
    """

    name: str
    shape: tuple[int, ...]
    columns: Callable[[list[str]], list[Column]]
    load: Callable[[], NDArray[Any]]
    pairs: list[tuple[str, Any]] = field(default_factory=list)

    @property
    def length(self) -> int:
        """The longest axis."""
        return max(self.shape, default=0)

    @property
    def is_lone(self) -> bool:
        """Whether it is one row or column."""
        return math.prod(self.shape) == self.length


def arrays_to_capture(
    ask: Ask,
    arrays: Sequence[Stored],
    pairs: Sequence[tuple[str, Any]],
    *,
    reader: str,
    notes: list[str],
    but: str = "",
) -> Capture:
    """Return the capture among named arrays; `pairs` are facts that hold for all of them.

    `but` says what the file holds instead when there is no array.
    """
    clocks = [a for a in arrays if a.is_lone and is_time_name(_plain(a.name)[0])]
    others = [a for a in arrays if a not in clocks] or list(arrays)
    by_name = {a.name: a for a in (arrays if ask.dataset is not None else others)}
    chosen = by_name[choose(ask, list(by_name), but)]
    facts = gather([*chosen.pairs, *pairs])
    columns, times = split_times(ask, chosen.columns(notes), notes)
    length = len(columns[0].raw) if columns else 0
    clock = next((c for c in clocks if c.length == length and c is not chosen), None)
    if times is None and clock and length > 1:
        times = _times(ask, clock, notes)
    return to_capture(ask, columns, facts, reader=reader, times=times, notes=notes)


def split_times(
    ask: Ask, columns: list[Column], notes: list[str]
) -> tuple[list[Column], Times | None]:
    """Return the channels and the stamps among the fields of an array of records."""
    dates = [c for c in columns if c.raw.dtype.kind in "mM"]
    named = [c for c in columns if is_time_name(split_unit(c.name)[0]) and c not in dates]
    clock = next(iter([*named, *dates]), None)
    others = [c for c in columns if c is not clock and c.raw.dtype.kind not in "mM"]
    if clock is None or not others:
        return others or columns, None
    notes.extend(f'field "{c.name}" is left out' for c in dates if c is not clock)
    if len(clock.raw) < 2:
        return others, None
    name, unit = split_unit(clock.name)
    factor = 1.0 if clock in dates else to_seconds(unit, name, notes)
    return others, times_from(ask, np.asarray(clock.raw[:]), factor)


def _times(ask: Ask, clock: Stored, notes: list[str]) -> Times:
    name, unit = _plain(clock.name)
    unit = gather(clock.pairs).unit or unit
    array = clock.load().reshape(-1)
    factor = 1.0 if array.dtype.kind in "mM" else to_seconds(unit, name, notes)
    return times_from(ask, array, factor)


def _plain(path: str) -> tuple[str, str]:
    """Return (name, unit) of an array's path."""
    return split_unit(path.rpartition("/")[2])
