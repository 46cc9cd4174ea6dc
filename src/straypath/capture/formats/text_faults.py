"""What a text table holds besides rows of numbers, and what to make of it."""

from __future__ import annotations

import mmap
from collections import Counter
from contextlib import contextmanager
from itertools import islice
from typing import TYPE_CHECKING

import polars as pl

from straypath.capture.formats.base import are, several
from straypath.capture.formats.text_dialect import kind_of, split
from straypath.capture.formats.text_marks import (
    decimal_commas,
    has_thousands_mark,
    refuse_thousands,
)
from straypath.errors import DamagedFile, InputError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from straypath.capture.formats.text_dialect import Dialect

_MOST_LOOKED_AT = 1000
_AHEAD = 2000  # lines searched for a second table


class NeedsCleaning(Exception):
    """Cells are padded or comments stand between rows: only a cleaned copy can be read."""


@contextmanager
def content(source: Path | bytes) -> Iterator[mmap.mmap | bytes]:
    """Give the bytes of a source without reading a file whole."""
    if isinstance(source, bytes):
        yield source
        return
    with (
        source.open("rb") as file,
        mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data,
    ):
        yield data


def lines_from(data: mmap.mmap | bytes, number: int) -> Iterator[tuple[int, str]]:
    """Yield (line number, text) from a line on; lines are counted from 0."""
    at = 0
    for _ in range(number):
        at = data.find(b"\n", at) + 1
        if at == 0:
            return
    while at < len(data):
        end = data.find(b"\n", at)
        end = len(data) if end < 0 else end
        yield number, data[at:end].decode("utf-8", "replace").rstrip("\r")
        at, number = end + 1, number + 1


def first_overlong_line(source: Path | bytes, dialect: Dialect) -> int:
    """Return the number of the first line of the table that has too many cells."""
    width = len(dialect.kinds)
    last = dialect.first_line
    with content(source) as data:
        for number, line in lines_from(data, dialect.first_line):
            if len(split(line, dialect.separator)) > width:
                return number
            last = number
    return last


def is_comment(line: str) -> bool:
    """Whether a line between rows is a remark."""
    return line.lstrip()[:1] in ("#", "%")


class OddRows:
    """Judges the rows of one table in which polars found no number.

    Parameters
    ----------
    path : Path
        For messages.
    source : Path or bytes
        What was parsed: the file, or its cleaned copy.
    dialect : Dialect
    notes : list of str
        Takes what is left out.
    """

    def __init__(
        self, path: Path, source: Path | bytes, dialect: Dialect, notes: list[str]
    ) -> None:
        self._path = path
        self._source = source
        self._dialect = dialect
        self._notes = notes

    @property
    def columns(self) -> list[str]:
        """The columns in which every row should hold something."""
        kinds = enumerate(self._dialect.kinds)
        return [f"c{i}" for i, kind in kinds if kind in ("number", "stamp")]

    def judge(self, number: int) -> None:
        """Decide about a line that is no row: accept it as the end of the table, or raise."""
        with content(self._source) as data:
            ahead = list(islice(lines_from(data, number), _AHEAD))
        if not ahead:
            return
        line, rest = ahead[0][1], [text for _, text in ahead[1:]]
        if is_comment(line) and not isinstance(self._source, bytes):
            raise NeedsCleaning
        if not any("number" in self._kinds(text) for text in rest):
            self._accept_end(line, rest)
        elif "number" in self._kinds(line):
            self._refuse_ragged(number, line)
        else:
            raise InputError(
                f"holds more than one table: the first ends before line {number + 1}",
                where=str(self._path),
                advice="Save each table as a file of its own.",
            )

    def _accept_end(self, line: str, rest: list[str]) -> None:
        kinds, more = self._kinds(line), any(text.strip("\x1a \t") for text in rest)
        if kinds[0] in ("number", "stamp") and not more:
            self._notes.append("the last row is not like the others (cut short?) and is left out")
        else:
            filled = sum(bool(text.strip("\x1a \t")) for text in [line, *rest])
            if filled:
                self._notes.append(
                    f"{several(filled, 'line')} after the table {are(filled)} left out"
                )

    def _refuse_ragged(self, number: int, line: str) -> None:
        width, has = len(self._dialect.kinds), len(split(line, self._dialect.separator))
        raise DamagedFile(
            f"line {number + 1} has {several(has, 'cell')} where the table has {width}",
            where=str(self._path),
            advice="Repair that line, or export the table again.",
        )

    def _kinds(self, line: str) -> list[str]:
        return [kind_of(cell) for cell in split(line, self._dialect.separator)]

    def removed_from(self, frame: pl.DataFrame) -> pl.DataFrame:
        """Return the frame without blank lines, remarks and footer; missing cells stay null."""
        holes = pl.any_horizontal(pl.col(self.columns).is_null())
        odd = frame.select(holes).to_series().arg_true()
        seen: Counter[str] = Counter()
        example = ""
        dropped: list[int] = []
        for row, line in self._rows(odd.head(_MOST_LOOKED_AT).to_list()):
            verdict = self._verdict(line)
            if verdict == "end":
                self.judge(self._dialect.first_line + row)
                frame = frame.head(row)
                break
            seen[verdict] += 1
            if verdict in ("blank", "remark"):
                dropped.append(row)
            elif not example:
                example = f" (such as on line {self._dialect.first_line + row + 1})"
        self._say(seen, example)
        return _without(frame, dropped)

    def _rows(self, rows: list[int]) -> Iterator[tuple[int, str]]:
        """Yield (row, line) for rising row numbers in one pass."""
        wanted = iter(rows)
        row = next(wanted, None)
        with content(self._source) as data:
            for number, line in lines_from(data, self._dialect.first_line):
                if row is None:
                    return
                if number == self._dialect.first_line + row:
                    yield row, line
                    row = next(wanted, None)

    def _verdict(self, line: str) -> str:
        """Return "blank", "remark", "end" or "missing" for a row without all numbers."""
        if not line.strip():
            return "blank"
        if is_comment(line):
            return "remark"
        kinds = self._kinds(line)
        if len(kinds) != len(self._dialect.kinds):
            return "end"
        self._refuse_thousands(line, kinds)
        pairs = list(zip(self._dialect.kinds, kinds, strict=True))
        if all(kind in ("text", "missing") for kind in kinds) and "text" in kinds:
            return "end"
        if any(want == "stamp" and kind != "stamp" for want, kind in pairs):
            return "end"
        lost = {kind for want, kind in pairs if want == "number"} - {"number"}
        if not lost and not isinstance(self._source, bytes):
            raise NeedsCleaning  # every cell is a number to us but not to the parser
        return "missing"

    def _refuse_thousands(self, line: str, kinds: list[str]) -> None:
        """Refuse a number that the parser could not read for the marks in it."""
        commas = self._dialect.decimal_comma
        for index, cell in enumerate(split(line, self._dialect.separator)):
            doubtful = kinds[index] == "number" and not commas and decimal_commas([cell]) is None
            if self._dialect.kinds[index] == "number" and (doubtful or has_thousands_mark(cell)):
                refuse_thousands(self._path, f"column {index + 1}", cell)

    def _say(self, seen: Counter[str], example: str) -> None:
        left_out = seen["blank"] + seen["remark"]
        if seen["remark"] or seen["blank"] > 1:
            what = several(left_out, "remark" if not seen["blank"] else "blank line")
            what += " or remark" if seen["blank"] and seen["remark"] else ""
            self._notes.append(f"{what} in the table {are(left_out)} left out")
        if seen["missing"]:
            missing = seen["missing"]
            lack = "lacks" if missing == 1 else "lack"
            self._notes.append(f"{several(missing, 'row')} {lack} a number{example}: read as NaN")


def _without(frame: pl.DataFrame, dropped: list[int]) -> pl.DataFrame:
    gone = [row for row in dropped if row < len(frame)]
    if not gone:
        return frame
    index = pl.arange(0, len(frame), eager=True)
    return frame.filter(~index.is_in(gone))
