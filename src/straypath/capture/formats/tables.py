"""Parquet and Arrow (IPC file): a table whose columns are read in pieces."""

from __future__ import annotations

import os
from bisect import bisect_right
from dataclasses import dataclass, replace
from datetime import UTC
from functools import lru_cache
from itertools import accumulate
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.assemble import Column, to_capture
from straypath.capture.formats.base import Ask, Reader, optional, translated
from straypath.capture.formats.facts import gather
from straypath.capture.formats.lazy import BlockSamples
from straypath.capture.formats.times import (
    Times,
    is_index_name,
    is_time_name,
    times_from,
    to_seconds,
)
from straypath.capture.formats.units import split_unit
from straypath.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture

_PARQUET, _ARROW = "a Parquet file", "an Arrow file"
_OWN_KEYS = (b"ARROW:schema", b"pandas")  # what libraries store for themselves


@dataclass(frozen=True)
class _Table:
    """A table in pieces (row groups or record batches).

    Parameters
    ----------
    title : str
    schema : pyarrow Schema
    starts : list of int
        First row of each piece, and the number of rows at the end.
    piece : callable
        Takes piece and column number, returns a pyarrow array.
    nulls : callable
        Takes a column number, returns whether cells are, or may be, empty.
    """

    title: str
    schema: Any
    starts: list[int]
    piece: Callable[[int, int], Any]
    nulls: Callable[[int], bool]


def refusal_parquet(head: bytes, _path: Path) -> str:
    """Return "" for the mark of Parquet."""
    return "" if head.startswith(b"PAR1") else "does not begin with PAR1"


def refusal_arrow(head: bytes, _path: Path) -> str:
    """Return "" for the mark of an Arrow IPC file."""
    return "" if head.startswith(b"ARROW1") else "does not begin with ARROW1"


def read_parquet(ask: Ask) -> Capture:
    """Read the columns of a Parquet file, one row group at a time."""
    parquet = optional("pyarrow.parquet", _PARQUET)
    arrow = optional("pyarrow", _PARQUET)
    name = os.fsencode(ask.path)  # a path as text has to be UTF-8
    with translated(ask.path, _PARQUET):
        with arrow.OSFile(name) as source, parquet.ParquetFile(source) as file:
            meta, schema = file.metadata, file.schema_arrow
        rows = [meta.row_group(g).num_rows for g in range(meta.num_row_groups)]

        def piece(group: int, column: int) -> Any:
            with arrow.OSFile(name) as source, parquet.ParquetFile(source) as file:
                return file.read_row_group(group, columns=[schema.names[column]]).column(0)

        def nulls(column: int) -> bool:
            # Counted in the cells: the statistics that a damaged file holds about itself can
            # take the process down when they are looked at.
            return schema.field(column).nullable and any(
                piece(g, column).null_count for g in range(len(rows))
            )

        table = _Table(_PARQUET, schema, [0, *accumulate(rows)], piece, nulls)
        return _capture(ask, table, "parquet")


def read_arrow(ask: Ask) -> Capture:
    """Read the columns of an Arrow IPC file from a memory map."""
    arrow = optional("pyarrow", _ARROW)
    ipc = optional("pyarrow.ipc", _ARROW)
    with translated(ask.path, _ARROW):
        reader = ipc.open_file(arrow.memory_map(os.fsencode(ask.path), "r"))
        count = reader.num_record_batches
        rows = [reader.get_batch(b).num_rows for b in range(count)]

        def piece(batch: int, column: int) -> Any:
            return reader.get_batch(batch).column(column)

        def nulls(column: int) -> bool:
            return any(piece(b, column).null_count for b in range(count))

        table = _Table(_ARROW, reader.schema, [0, *accumulate(rows)], piece, nulls)
        return _capture(ask, table, "arrow")


def _capture(ask: Ask, table: _Table, reader: str) -> Capture:
    names = table.schema.names
    if len(set(names)) < len(names):
        raise InputError(
            "has two columns of one name",
            where=str(ask.path),
            advice="Export it again with names that differ.",
        )
    notes: list[str] = []
    times: Times | None = None
    columns: list[Column] = []
    for index, field in enumerate(table.schema):
        kind = _kind(field.type)
        facts = gather(_pairs(field.metadata))
        name, unit = split_unit(field.name)
        unit = facts.unit or unit
        if times is None and (kind in "mM" or (kind in "iuf" and is_time_name(name))):
            times = _times(ask, table, index, kind=kind, name=name, unit=unit, notes=notes)
        elif kind in "iuf" and not _counts_rows(field.name, kind):
            columns.append(
                Column(
                    name, _samples(ask, table, index), unit, facts.scale or 1.0, facts.offset or 0.0
                )
            )
        else:
            notes.append(f'column "{field.name}" ({field.type}) is left out')
    facts = gather(_pairs(table.schema.metadata))
    return to_capture(ask, columns, facts, reader=reader, times=times, notes=notes)


def _kind(arrow_type: Any) -> str:
    """Return numpy's letter for the kind of a column: i, u, f, M, m; "-" for anything else."""
    if str(arrow_type).startswith("timestamp["):
        return "M"  # one with a time zone has no type in numpy
    try:
        kind = np.dtype(arrow_type.to_pandas_dtype()).kind
    except (NotImplementedError, TypeError):
        return "-"
    return kind if kind in "iufmM" and "date" not in str(arrow_type) else "-"


def _counts_rows(name: str, kind: str) -> bool:
    return kind in "iu" and (is_index_name(name) or name.startswith("__index_level_"))


def _pairs(metadata: dict[bytes, bytes] | None) -> list[tuple[str, Any]]:
    return [
        (k.decode("utf-8", "replace"), v) for k, v in (metadata or {}).items() if k not in _OWN_KEYS
    ]


def _samples(ask: Ask, table: _Table, column: int) -> BlockSamples:
    """Return one column that is decoded piece by piece; the last piece is kept."""
    dtype = np.dtype(table.schema.field(column).type.to_pandas_dtype())
    if dtype.kind != "f" and table.nulls(column):
        dtype = np.dtype(np.float64)  # the only way to say that a cell is empty

    @lru_cache(maxsize=1)
    def decoded(piece: int) -> NDArray[Any]:
        return np.asarray(_to_numpy(table.piece(piece, column)), dtype=dtype)

    def fetch(start: int, stop: int) -> NDArray[Any]:
        first = bisect_right(table.starts, start) - 1
        parts = []
        for piece in range(first, len(table.starts) - 1):
            at = table.starts[piece]
            if at >= stop:
                break
            parts.append(decoded(piece)[max(start - at, 0) : stop - at])
        return parts[0].view() if len(parts) == 1 else np.concatenate(parts)

    return BlockSamples(ask.path, table.title, table.starts[-1], dtype, fetch)


def _to_numpy(values: Any) -> NDArray[Any]:
    chunked = hasattr(values, "num_chunks")
    array: NDArray[Any] = values.to_numpy() if chunked else values.to_numpy(zero_copy_only=False)
    return array


def _times(
    ask: Ask, table: _Table, column: int, *, kind: str, name: str, unit: str, notes: list[str]
) -> Times | None:
    """Return the stamps of a column of numbers, of dates or of durations."""
    pieces = [_to_numpy(table.piece(p, column)) for p in range(len(table.starts) - 1)]
    if sum(map(len, pieces)) < 2:
        return None
    whole = np.concatenate(pieces)
    factor = 1.0 if kind in "mM" else to_seconds(unit, name, notes)
    times = times_from(ask, whole, factor)
    if times.start and getattr(table.schema.field(column).type, "tz", None):
        return replace(times, start=times.start.replace(tzinfo=UTC))
    return times


PARQUET = Reader("parquet", _PARQUET, refusal_parquet, read_parquet)
ARROW = Reader("arrow", _ARROW, refusal_arrow, read_arrow)
