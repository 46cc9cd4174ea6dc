"""Delimited text: header block, titles, units, a table of numbers, with or without stamps."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.formats.assemble import Column, to_capture
from straypath.capture.formats.base import Ask, Reader
from straypath.capture.formats.lazy import BlockSamples
from straypath.capture.formats.shapes import frozen
from straypath.capture.formats.text_dialect import decode_head, find_dialect, kind_of, split
from straypath.capture.formats.text_header import read_header
from straypath.capture.formats.text_marks import (
    column_called,
    decimal_commas,
    has_thousands_mark,
    refuse_thousands,
)
from straypath.capture.formats.text_times import find_times, is_time_column
from straypath.errors import DamagedFile, InputError

if TYPE_CHECKING:
    from pathlib import Path

    import polars as pl
    from numpy.typing import NDArray

    from straypath.capture.capture import Capture, Samples
    from straypath.capture.formats.text_dialect import Dialect
    from straypath.capture.formats.text_header import Header

_HEADS = (1 << 12, 1 << 17, 1 << 21)  # a short look is mostly enough, and costs the least
_ENOUGH = 20  # rows in a row that make a table without doubt
_EXPECTED = "Expected are rows of numbers parted by comma, semicolon, tab or blank."
_FEW_ODD = 0.02  # so much of a text may be damaged; of random bytes one in nine is no letter
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0e-\x19\x1b-\x1f\ufffd]")


def refusal(head: bytes, _path: Path) -> str:
    """Return "" for anything that decodes to printable text with a digit in it."""
    text = _text(head)
    if _CONTROL.search(text):
        return "holds bytes that are no text"
    return "" if re.search(r"\d", text) or len(head) >= 4096 else "holds no number"


def _text(head: bytes) -> str:
    return "\n".join(decode_head(head, whole=True)[0])


def near_miss(head: bytes) -> tuple[str, str] | None:
    """Return what keeps a file that is text but for a little from being one, and what to try."""
    text = _text(head)
    odd = list(_CONTROL.finditer(text))
    if not odd:
        return "is text without a number", _EXPECTED
    if len(odd) > _FEW_ODD * len(text) or text.startswith("\ufffd"):
        return None
    at, mark = odd[0].start(), odd[0][0]
    what = "a byte that is no letter" if mark == "\ufffd" else f"the byte 0x{ord(mark):02x}"
    line = text.count("\n", 0, at) + 1
    return (
        f"is text but for {what} in line {line}",
        "Take it out, or export the record again.",
    )


def read(ask: Ask) -> Capture:
    """Read the table of a text file."""
    lines, dialect = _look(ask.path)
    header = read_header(lines, dialect)
    _check_cells(ask.path, lines, dialect, header)
    notes = [
        f"{column_called(header.names, index)} holds words and is left out"
        for index, kind in enumerate(dialect.kinds)
        if kind == "text" and index >= dialect.side
    ]
    from straypath.capture.formats.text_table import read_table  # noqa: PLC0415 – loads polars

    frame = read_table(ask.path, dialect, notes)
    rows = [
        split(line, dialect.separator)
        for line in lines[dialect.first_line : dialect.first_line + dialect.rows]
    ]
    found = find_times(ask, frame, rows, dialect=dialect, header=header, notes=notes)
    columns = _columns(ask.path, frame, dialect=dialect, header=header, used=found.used)
    # In a text header "scale" and "offset" speak of a display, not of the numbers.
    facts = replace(header.facts, scale=None, offset=None)
    return to_capture(ask, columns, facts, reader="text", times=found.times, notes=notes)


def _look(path: Path) -> tuple[list[str], Dialect]:
    """Return the first lines and how the table among them is written."""
    size = path.stat().st_size
    for length in _HEADS:
        with path.open("rb") as file:
            head = file.read(length)
        whole = len(head) == size
        lines, encoding = decode_head(head, whole=whole)
        dialect = find_dialect(lines, encoding)
        if whole or (dialect and _ENOUGH < dialect.rows == len(lines) - dialect.first_line):
            break
    if not dialect:
        if marked := next(filter(has_thousands_mark, lines), ""):
            refuse_thousands(path, "its column", marked)
        raise DamagedFile(
            "is text without a table of numbers",
            where=str(path),
            advice=_EXPECTED,
        )
    if dialect.second_table:
        raise InputError(
            "holds more than one table",
            where=str(path),
            advice="Save each table as a file of its own.",
        )
    return lines, dialect


def _check_cells(path: Path, lines: list[str], dialect: Dialect, header: Header) -> None:
    """Refuse numbers that carry marks, and a time column whose samples are no numbers."""
    first, end = dialect.first_line, dialect.first_line + dialect.rows
    rows = [split(line, dialect.separator) for line in lines[max(first - 1, 0) : end + 1]]
    rows = [row for row in rows if _fits(row, dialect)]
    doubtful = dialect.separator == "," and decimal_commas(c for row in rows for c in row) is None
    for row in rows:
        for index, cell in enumerate(row):
            unclear = doubtful and decimal_commas([cell]) is None
            if index >= dialect.side and (unclear or has_thousands_mark(cell)):
                refuse_thousands(path, column_called(header.names, index), cell)
    numbers = [i for i, kind in enumerate(dialect.kinds) if kind == "number"]
    words = [i for i, kind in enumerate(dialect.kinds) if kind == "text" and i >= dialect.side]
    if words and all(is_time_column(header.names[i], header.units[i]) for i in numbers):
        cell = split(lines[first], dialect.separator)[words[0]].strip()
        raise DamagedFile(
            f'{column_called(header.names, words[0])} cannot be read: "{cell[:40]}" is no number',
            where=str(path),
            advice="Export the samples as plain numbers.",
        )


def _fits(row: list[str], dialect: Dialect) -> bool:
    """Whether a row may belong to the table."""
    return len(row) == len(dialect.kinds) and all(
        kind == "text" or kind_of(cell) != "text"
        for kind, cell in zip(dialect.kinds, row, strict=True)
    )


def _columns(
    path: Path, frame: pl.DataFrame, *, dialect: Dialect, header: Header, used: set[int]
) -> list[Column]:
    columns = []
    for index, kind in enumerate(dialect.kinds):
        if kind in ("number", "missing") and index not in used:
            raw = _samples(path, frame[f"c{index}"])
            columns.append(Column(header.names[index], raw, header.units[index]))
    return columns


def _samples(path: Path, column: pl.Series) -> Samples:
    """Return the numbers of a column as an array; a long one stays in the pieces it came in.

    Joining the pieces would need the memory twice, and a third of the time that parsing took.
    """
    if column.n_chunks() == 1:
        return frozen(column.to_numpy())

    def fetch(start: int, stop: int) -> NDArray[np.float64]:
        return column.slice(start, stop - start).to_numpy()

    return BlockSamples(path, "a text table", len(column), np.dtype(np.float64), fetch)


READER = Reader("text", "delimited text", refusal, read, by_signature=False)
