"""What stands before a text table: facts as key and value, and the titles of the columns."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from straypath.capture.formats.facts import Facts, fact_of, gather
from straypath.capture.formats.text_dialect import kind_of, split
from straypath.capture.formats.units import parse_number, parse_unit, split_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from straypath.capture.formats.text_dialect import Dialect

_COMMENT = re.compile(r"^\s*(?:#+|%+|//+|;+|!+|'+)\s?")


@dataclass(frozen=True)
class Header:
    """Titles and units of the columns ("" where there are none), and the facts."""

    names: tuple[str, ...]
    units: tuple[str, ...]
    facts: Facts


def read_header(lines: Sequence[str], dialect: Dialect) -> Header:
    """Return what the lines before the table say.

    The lowest line with as many cells as the table, none of them a number, holds the titles;
    below it there may be one line of units. Everything else is looked through for facts.
    """
    bare = [_COMMENT.sub("", line).rstrip() for line in lines[: dialect.first_line]]
    width = len(dialect.kinds)
    rest = [i for i, line in enumerate(bare) if line.strip(" \t,;")]
    units: tuple[str, ...] = ("",) * width
    names: tuple[str, ...] = ("",) * width
    if rest and (row := _titles(bare[rest[-1]], dialect)):
        rest.pop()
        names = row
        if _all_units(row):
            units = tuple(_bare_unit(c) for c in row)
            if rest and (above := _titles(bare[rest[-1]], dialect)):
                rest.pop()
                names = above
    parted = [split_unit(name) for name in names]
    pairs = [*_pairs([bare[i] for i in rest], dialect.separator), *_side_pairs(lines, dialect)]
    facts = gather(pairs)
    return Header(
        names=tuple(p[0] for p in parted),
        units=tuple(row_unit or p[1] for row_unit, p in zip(units, parted, strict=True)),
        facts=facts,
    )


def _side_pairs(lines: Sequence[str], dialect: Dialect) -> Iterator[tuple[str, str]]:
    """Yield key and value of the facts that stand to the left of the first rows."""
    for line in lines[dialect.first_line : dialect.first_line + dialect.rows]:
        cells = [c.strip(' "') for c in split(line, dialect.separator)[: dialect.side]]
        filled = [c for c in cells if c]
        if len(filled) > 1:
            yield filled[0].rstrip(":= "), " ".join(filled[1:])


def _titles(line: str, dialect: Dialect) -> tuple[str, ...] | None:
    """Return the cells of a title line, or None when the line is no such thing."""
    width = len(dialect.kinds)
    cells = [c.strip().strip('"').strip() for c in split(line, dialect.separator)]
    if dialect.separator == " " and len(cells) != width:
        cells = [c.strip() for c in re.split(r"\s{2,}|\t|,", line.strip())]
    if len(cells) == width + 1 and not cells[-1]:
        cells.pop()
    if len(cells) != width or any(kind_of(c) in ("number", "stamp") for c in cells):
        return None
    return None if _states_a_fact(line, dialect.separator) else tuple(cells)


def _states_a_fact(line: str, separator: str) -> bool:
    """Whether the line is a key and an understood value rather than titles."""
    explicit = _pair(line)
    for key, value in [explicit] if explicit else _pairs([line], separator):
        fact, _ = fact_of(key)
        # "Time,Unit" can be titles; "unit = mV" cannot.
        if (
            fact
            and (explicit or fact not in ("clock", "unit"))
            and _differs(gather([(key, value)]))
        ):
            return bool(explicit) or not (parse_unit(value) or fact_of(value)[0])
    return False


def _differs(facts: Facts) -> bool:
    return facts != Facts(notes=facts.notes)


def _all_units(cells: tuple[str, ...]) -> bool:
    written = [_bare_unit(c) for c in cells if c]
    return bool(written) and all(parse_unit(c) for c in written)


def _bare_unit(cell: str) -> str:
    return cell.strip("()[]<>{} ")


def _pairs(lines: Sequence[str], separator: str) -> Iterator[tuple[str, str]]:
    """Yield key and value of header lines: "key: value", "key = value" or two cells."""
    for line in lines:
        cells = [c.strip().strip('"') for c in split(line, _parting(line, separator))]
        cells = [c for c in cells if c]
        if len(cells) < 2:
            if pair := _pair(line):
                yield pair
        elif all(_pair(c) for c in cells):
            yield from (p for c in cells if (p := _pair(c)))
        elif len(cells) == 3 and parse_number(cells[1]) and parse_unit(cells[2].strip("()[]")):
            yield cells[0], f"{cells[1]} {cells[2]}"
        elif len(set(cells[1:])) == 1:  # the same for every channel
            yield cells[0].rstrip(":= "), cells[1]


def _parting(line: str, separator: str) -> str:
    """Return what parts key and value: the table's separator, or a lone column's own way."""
    if separator.strip(" ") and separator in line:
        return separator
    return next((mark for mark in ("\t", ";", ",") if mark in line and not _pair(line)), "")


def _pair(text: str) -> tuple[str, str] | None:
    match = re.match(r"\s*([^:=]{1,60}?)\s*[:=]\s*(.+?)\s*$", text)
    if match:
        return match[1], match[2]
    words = re.match(r"\s*([A-Za-z][A-Za-z ]*?)\s{2,}(.+?)\s*$", text)
    return (words[1], words[2]) if words else None
