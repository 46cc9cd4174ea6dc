"""MAT: version 5 mapped, version 7.3 as the HDF5 file that it is. Objects are left out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from straypath.capture.formats.base import ARRAYS_TAKE, Ask, Reader, named_list, translated
from straypath.capture.formats.hdf5 import read_named
from straypath.capture.formats.mat5 import Variable, variables
from straypath.capture.formats.named import Stored, arrays_to_capture
from straypath.capture.formats.shapes import COMPLEX_NOTE, array_columns
from straypath.wording import listed

if TYPE_CHECKING:
    from pathlib import Path

    from straypath.capture.capture import Capture
    from straypath.capture.formats.assemble import Column

_TITLE = "a MAT file"


def refusal(head: bytes, _path: Path) -> str:
    """Return "" for version 5 or 7.3, by the version and byte-order field at byte 124."""
    return "" if _version(head) in (5, 7) else "does not carry the mark of MAT 5 or 7.3"


def _version(head: bytes) -> int:
    field = head[124:128]
    order = {b"IM": "little", b"MI": "big"}.get(field[2:])
    if order is None:
        return 0
    number = int.from_bytes(field[:2], "little" if order == "little" else "big")
    return {0x0100: 5, 0x0200: 7}.get(number, 0)


def read(ask: Ask) -> Capture:
    """Read one variable of a MAT file; single values and texts beside it are facts."""
    with ask.path.open("rb") as file:
        head = file.read(128)
    if _version(head) == 7:
        return read_named(ask, "mat", _TITLE)
    with translated(ask.path, _TITLE):
        inside = [v for v in variables(ask.path) if v.name]
        pairs: list[tuple[str, Any]] = [(v.name, v.text) for v in inside if v.text is not None]
        pairs += [(v.name, v.load()[0]) for v in inside if v.size == 1]
        arrays = [_stored(ask, v) for v in inside if v.size > 1]
        others = [v.name for v in inside if not v.size and v.text is None]
        notes = [f"left out, being no plain arrays: {named_list(others)}"] if others else []
        kinds = [f'the {v.kind} "{v.name}"' for v in inside if v.name in others][:4]
        but = f", only {listed(kinds)}" if kinds else ""
        return arrays_to_capture(ask, arrays, pairs, reader="mat", notes=notes, but=but)


def _stored(ask: Ask, variable: Variable) -> Stored:
    def columns(notes: list[str]) -> list[Column]:
        parts = [array_columns(ask, variable.name, part, notes) for part in variable.load()]
        if len(parts) == 1:
            return parts[0]
        notes.append(COMPLEX_NOTE)
        return [
            replace(column, name=f"{column.name} {part}")
            for pair in zip(*parts, strict=True)
            for column, part in zip(pair, "IQ", strict=True)
        ]

    return Stored(variable.name, variable.shape, columns, lambda: variable.load()[0])


READER = Reader("mat", _TITLE, refusal, read, takes=ARRAYS_TAKE)
