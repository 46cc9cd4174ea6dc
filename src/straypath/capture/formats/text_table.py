"""The table of a text file, read by polars."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from straypath.capture.formats.base import translated
from straypath.capture.formats.text_dialect import split
from straypath.capture.formats.text_faults import (
    NeedsCleaning,
    OddRows,
    first_overlong_line,
)

if TYPE_CHECKING:
    from pathlib import Path

    from straypath.capture.formats.text_dialect import Dialect


def read_table(path: Path, dialect: Dialect, notes: list[str]) -> pl.DataFrame:
    """Return the columns of the table that hold numbers or stamps, named c0, c1 and so on.

    Missing cells are null. A footer and a last row that is cut short are left out and noted;
    a second table, or rows of another length, are refused with the line they stand on.
    """
    with translated(path, "a text table", pl.exceptions.PanicException, pl.exceptions.PolarsError):
        both = dialect.decimal_comma and dialect.separator == ","
        if both:
            return _parse(path, _reparted(path, dialect), replace(dialect, separator=";"), notes)
        if not (dialect.padded or dialect.encoding.startswith("utf-16") or _old_line_ends(path)):
            try:
                return _parse(path, path, dialect, notes)
            except NeedsCleaning:
                pass
        return _parse(path, _cleaned(path, dialect), dialect, notes)


def _parse(path: Path, source: Path | bytes, dialect: Dialect, notes: list[str]) -> pl.DataFrame:
    said: list[str] = []
    odd = OddRows(path, source, dialect, said)
    try:
        frame = _polars(source, dialect)
    except pl.exceptions.ComputeError as error:
        if "more fields" not in str(error):
            raise
        line = first_overlong_line(source, dialect)
        odd.judge(line)
        frame = _polars(source, dialect, line - dialect.first_line)
    if any(frame[name].null_count() for name in odd.columns):
        frame = odd.removed_from(frame)
    notes.extend(said)
    return frame


def _polars(source: Path | bytes, dialect: Dialect, rows: int | None = None) -> pl.DataFrame:
    kinds = {f"c{i}": kind for i, kind in enumerate(dialect.kinds)}
    return pl.read_csv(
        _source(source),
        has_header=False,
        skip_lines=dialect.first_line,
        separator=dialect.separator or (";" if dialect.decimal_comma else ","),
        schema={
            name: pl.Float64 if kind in ("number", "missing") else pl.String
            for name, kind in kinds.items()
        },
        columns=[i for i, kind in enumerate(dialect.kinds) if kind != "text"],
        decimal_comma=dialect.decimal_comma,
        quote_char='"' if dialect.quoted else None,
        ignore_errors=True,
        n_rows=rows,
        truncate_ragged_lines=rows is not None,
        glob=False,
    )


def _source(source: Path | bytes) -> Path | io.BytesIO:
    """Return what polars can take: bytes where the name of the file is no UTF-8."""
    if isinstance(source, bytes):
        return io.BytesIO(source)
    try:
        str(source).encode()
    except UnicodeEncodeError:
        return io.BytesIO(source.read_bytes())
    return source


def _reparted(path: Path, dialect: Dialect) -> bytes:
    """Return a cleaned copy whose cells are parted by semicolons, for commas are decimal signs."""
    lines = _cleaned(path, dialect).decode().split("\n")
    return "\n".join(";".join(c.strip() for c in split(line, ",")) for line in lines).encode()


def _old_line_ends(path: Path) -> bool:
    """Whether lines end in a bare carriage return."""
    with path.open("rb") as file:
        head = file.read(1 << 16)
    return b"\r" in head and b"\n" not in head


def _cleaned(path: Path, dialect: Dialect) -> bytes:
    """Return the file as UTF-8 with plain line ends, unpadded cells and comments blanked.

    The number of lines stays, so that a message can name one.
    """
    text = path.read_bytes().decode(dialect.encoding, "replace").removeprefix("\ufeff")
    text = re.sub(r"\r\n?", "\n", text)
    text = re.sub(r"(?m)^[ \t]*[#%].*$", "", text)
    if dialect.separator == " ":
        text = re.sub(r"(?m)^ +| +$", "", re.sub(r"[ \t]+", " ", text))
    else:
        blanks = " " if dialect.separator == "\t" else r"[ \t]"
        stop = re.escape(dialect.separator) or "$"
        text = re.sub(rf"(?m){blanks}+(?=$|{stop})", "", text)
    return text.encode()
