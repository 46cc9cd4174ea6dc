"""How a text file is written: encoding, separator, decimal sign, and where its table begins."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from straypath.capture.formats.text_marks import decimal_commas, has_thousands_mark

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

_TAIL = 1 << 13

SEPARATORS = ("\t", ";", ",", " ", "")  # "" is a lone column

_POINT = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(?:\d+,\d*|,\d+)(?:[eE][+-]?\d+)?")
# Cells that say that there is no value; the last ones are what over-driven inputs write.
_MISSING = frozenset(
    ["", "nan", "inf", "-inf", "+inf", "na", "n/a", "null", "none", "-", "--", "---", "invalid"]
) | {"ol", "over", "overload", "overrange", "over range", "out of range"}
_CLOCK = r"\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?: ?[AaPp][Mm])?"
_DATE = r"(?:\d{4}[-/]\d{1,2}[-/]\d{1,2}|\d{1,2}[./]\d{1,2}[./]\d{4})"
_STAMP = re.compile(rf"(?:{_DATE}(?:[T ]{_CLOCK}(?:Z|[+-]\d\d:?\d\d)?)?|{_CLOCK})")


@dataclass(frozen=True)
class Dialect:
    """How the table is written.

    Parameters
    ----------
    separator : str
        "" for a lone column.
    decimal_comma : bool
    first_line : int
        Lines before the first row of the table.
    kinds : tuple of str
        What each column holds: "number", "missing", "stamp" or "text".
    rows : int
        Rows that the table has within the head.
    quoted : bool
        Whether cells stand in quotes.
    padded : bool
        Whether cells are padded with blanks that have to go first.
    encoding : str
    second_table : bool
        Whether another table stands before this one.
    side : int
        How many columns at the left hold facts beside the first rows, and nothing below.
    """

    separator: str
    decimal_comma: bool
    first_line: int
    kinds: tuple[str, ...]
    rows: int
    quoted: bool = False
    padded: bool = False
    encoding: str = "utf-8"
    second_table: bool = False
    side: int = 0

    @property
    def numbers(self) -> int:
        """How many columns hold numbers."""
        return self.kinds.count("number")


def detect_encoding(head: bytes) -> str:
    """Return the name of the encoding: by byte-order mark, else by what the bytes allow."""
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16-le"),
        (codecs.BOM_UTF16_BE, "utf-16-be"),
    ):
        if head.startswith(mark):
            return name
    if len(head) >= 4 and b"\0" in head:
        even, odd = head[0::2].count(0), head[1::2].count(0)
        if odd > 0.4 * len(head) / 2 > 10 * even:
            return "utf-16-le"
        if even > 0.4 * len(head) / 2 > 10 * odd:
            return "utf-16-be"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "cp1252" if not re.search(rb"[\x81\x8d\x8f\x90\x9d]", head) else "latin-1"
    return "utf-8"


def decode_head(head: bytes, whole: bool) -> tuple[list[str], str]:
    """Return the lines of a head and its encoding; a last line that is cut is dropped."""
    encoding = detect_encoding(head)
    text = codecs.getincrementaldecoder(encoding)("replace").decode(head, final=whole)
    text = text.removeprefix("\ufeff")
    lines = re.split(r"\r\n|\n|\r", text)
    if not whole or lines[-1].strip("\x1a \t") == "":
        lines.pop()
    return lines, encoding


def split(line: str, separator: str) -> list[str]:
    """Return the cells of a line as written, blanks and quotes included."""
    if not separator:
        return [line]
    if separator == " ":
        return line.split()
    if '"' not in line:
        return line.split(separator)
    return re.split(rf'{re.escape(separator)}(?=(?:[^"]*"[^"]*")*[^"]*$)', line)


def tail_rows(path: Path, dialect: Dialect) -> list[list[str]]:
    """Return the cells of the last rows of a file."""
    size = path.stat().st_size
    with path.open("rb") as file:
        file.seek(max(0, (size - _TAIL) // 2 * 2))
        text = file.read().decode(dialect.encoding, "replace")
    rows = [split(line, dialect.separator) for line in re.split(r"[\r\n]+", text)[1:]]
    return [r for r in rows if len(r) == len(dialect.kinds) and "number" in map(kind_of, r)][-50:]


def kind_of(cell: str) -> str:
    """Return "number", "missing", "stamp" or "text"."""
    cell = cell.strip().strip('"').strip()
    if cell.lower() in _MISSING:
        return "missing"
    if _POINT.fullmatch(cell) or _COMMA.fullmatch(cell) or has_thousands_mark(cell):
        return "number"
    return "stamp" if _STAMP.fullmatch(cell) else "text"


def find_dialect(lines: Sequence[str], encoding: str) -> Dialect | None:
    """Return how the table among these lines is written, or None when there is no table.

    Every separator is tried; the one whose largest even stretch of rows holds the most
    numbers wins, rows without words before rows with words. The table begins with the first
    stretch of that kind, so that an odd row within it is seen as one.
    """
    runs = [run for separator in SEPARATORS for run in _runs(lines, separator)]
    if not runs:
        return None
    best = max(runs, key=_worth)
    kin = [r for r in runs if r.separator == best.separator]
    first = next(r for r in kin if r is best or _may_begin(r, best))
    found = replace(best, first_line=first.first_line, rows=first.rows)
    found = _with_side(lines, found)
    found = replace(_lone_decimal_comma(lines, found), encoding=encoding)
    other = any(
        r.first_line < found.first_line and r.rows > 1 and r.numbers > 1 and "text" not in r.kinds
        for r in kin
    )
    return _details(lines, replace(found, second_table=other))


def _may_begin(run: Dialect, table: Dialect) -> bool:
    """Whether an earlier stretch belongs to the table; one lone number above it may be a fact."""
    return _alike(run.kinds, table.kinds) and (run.numbers > 1 or run.rows > 1)


def _worth(dialect: Dialect) -> tuple[bool, int, int, int]:
    clean = "text" not in dialect.kinds
    enough = clean and dialect.rows > 1
    order = -SEPARATORS.index(dialect.separator)
    return enough, dialect.rows * dialect.numbers, dialect.numbers, order


def _runs(lines: Sequence[str], separator: str) -> list[Dialect]:
    """Return the stretches of even rows, in order, for one separator."""
    runs: list[Dialect] = []
    kinds: tuple[str, ...] = ()  # of the stretch that goes on; () when none does
    first = 0
    for number, line in enumerate(lines):
        row = _row_kinds(line, separator)
        if row == kinds:
            continue
        if kinds and _alike(kinds, row):
            kinds = tuple(b if a == "missing" else a for a, b in zip(kinds, row, strict=True))
            continue
        if kinds:
            runs.append(Dialect(separator, False, first, kinds, number - first))
        begins = "number" in row and not (separator == " " and "text" in row)
        kinds, first = (row, number) if begins else ((), number)
    if kinds:
        runs.append(Dialect(separator, False, first, kinds, len(lines) - first))
    return runs


def _row_kinds(line: str, separator: str) -> tuple[str, ...]:
    cells = split(line, separator)
    if separator == ",":  # a comma cannot be both
        return tuple("text" if _COMMA.fullmatch(c.strip()) else kind_of(c) for c in cells)
    return tuple(kind_of(c) for c in cells)


def _alike(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """Whether two rows can belong to one table; a row of blanks and words only cannot."""
    return (
        len(one) == len(other)
        and ("number" in other or "stamp" in other)
        and all(a == b or "missing" in (a, b) for a, b in zip(one, other, strict=True))
    )


def _with_side(lines: Sequence[str], best: Dialect) -> Dialect:
    """Return the dialect with the columns marked that hold facts beside the first rows only.

    What stands beside the first rows is of other kinds than the blanks below it, so that the
    table seems to begin where the facts end: it begins higher up.
    """
    rows = [split(r, best.separator) for r in lines[best.first_line : best.first_line + best.rows]]
    side = next((i for i, cell in enumerate(rows[-1]) if cell.strip(' "')), 0)
    if side < 2 or sum(not any(c.strip(' "') for c in row[:side]) for row in rows) < len(rows) / 2:
        return best
    first, tail = best.first_line, best.kinds[side:]
    while first > 0:
        row = _row_kinds(lines[first - 1], best.separator)
        if len(row) != len(best.kinds) or "text" in row[side:] or not _alike(tail, row[side:]):
            break
        first -= 1
    if first == best.first_line and "text" not in best.kinds[:side]:
        return best
    kinds = ("text",) * side + tail
    rows_more = best.rows + best.first_line - first
    return replace(best, first_line=first, rows=rows_more, kinds=kinds, side=side)


def _lone_decimal_comma(lines: Sequence[str], best: Dialect) -> Dialect:
    """Return the dialect as one column when "0,5" under a single title is one number."""
    if best.separator != "," or len(best.kinds) != 2 or best.first_line == 0:
        return best
    title = lines[best.first_line - 1]
    rows = lines[best.first_line : best.first_line + best.rows]
    lone = (
        "," not in title
        and kind_of(title) == "text"
        and all(_COMMA.fullmatch(r.strip()) for r in rows)
    )
    return replace(best, separator="", kinds=("number",)) if lone else best


def _details(lines: Sequence[str], found: Dialect) -> Dialect:
    """Return the dialect with decimal sign, quotes and padding filled in."""
    rows = lines[found.first_line : found.first_line + found.rows]
    cells = [c for row in rows for c in split(row, found.separator)]
    bare = [c.strip().strip('"') for c in cells]
    if found.separator == ",":
        commas = decimal_commas(cells) is True
    else:
        commas = any(_COMMA.fullmatch(c) for c in bare)
    quoted = any('"' in row for row in rows)
    if found.separator == " ":
        padded = any(row != " ".join(row.split()) for row in rows)
    else:
        padded = any(c != c.rstrip(" \t") for c in cells)
    return replace(found, decimal_comma=commas, quoted=quoted, padded=padded)
