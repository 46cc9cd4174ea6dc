"""Marks within the numbers of a text table: a decimal comma, or a mark between thousands.

"70'711" is never read: a mark between thousands is a decimal sign to the next person.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from straypath.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

_GROUPS = re.compile(
    r"[+-]?\d{1,3}(?:(['’.,\u202f\u00a0 ])\d{3})((?:\1\d{3})*)((?:(?!\1)[.,]\d+)?)"
)
_COMMA_ONLY = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_POINT = re.compile(r"[+-]?\d*\.\d*(?:[eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(?:\d+,\d*|,\d+)(?:[eE][+-]?\d+)?")


def bare(cell: str) -> str:
    """Return a cell without blanks and quotes around it."""
    return cell.strip().strip('"').strip()


def has_thousands_mark(cell: str) -> bool:
    """Whether a cell is a number that carries a mark between thousands, and nothing else.

    >>> has_thousands_mark("70'711"), has_thousands_mark("1,234.5"), has_thousands_mark("1,234")
    (True, True, False)
    """
    match = _GROUPS.fullmatch(bare(cell))
    if match is None:
        return False
    return match[1] not in ".," or bool(match[2] or match[3])


def decimal_commas(cells: Iterable[str]) -> bool | None:
    """Whether commas within quoted cells of a table parted by commas are decimal signs.

    True when a cell such as "0,05" can be nothing else and none has a point; None when all may
    as well be marks between thousands ("70,711"), or are; False when there are none.
    """
    stripped = [bare(cell) for cell in cells]
    with_comma = [cell for cell in stripped if _COMMA.fullmatch(cell)]
    if not with_comma:
        return False
    pointed = any(_POINT.fullmatch(cell) for cell in stripped)
    return None if pointed or all(map(_COMMA_ONLY.fullmatch, with_comma)) else True


def refuse_thousands(path: Path, column: str, cell: str) -> None:
    """Say that a column cannot be read for the marks in its numbers."""
    raise InputError(
        f"{column} holds numbers with a thousands mark, such as {bare(cell)}",
        where=str(path),
        advice="Export the numbers without it; where the comma is a decimal sign, part the "
        "columns by semicolons.",
    )


def column_called(names: Sequence[str], index: int) -> str:
    """Return what to call a column in a message: by its title, or by its number."""
    name = names[index] if index < len(names) else ""
    return f'column "{name}"' if name else f"column {index + 1}"
