"""Raw binary: numbers and nothing else, memory-mapped once rate and type are given."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.assemble import to_capture
from straypath.capture.formats.base import Ask, Reader
from straypath.capture.formats.facts import Facts
from straypath.capture.formats.shapes import array_columns
from straypath.errors import DamagedFile, InputError, NeedsFact

if TYPE_CHECKING:
    from pathlib import Path

    from straypath.capture.capture import Capture

_TYPE = re.compile(
    r"[<>]?(?:[iu][1248]|f[248]|c8|c16)|u?int(?:8|16|32|64)|float(?:16|32|64)|complex(?:64|128)"
)
_TAKES = frozenset(["interleaved", "dtype"])
_ADVICE = "Give the type of one number (--dtype, dtype), such as int16, '<f4' or '>i2'."


def refusal(_head: bytes, _path: Path) -> str:
    """Return why raw numbers are never recognised by themselves."""
    return "has no mark of its own: give rate and type (--rate, rate_hz; --dtype, dtype)"


def read(ask: Ask) -> Capture:
    """Map a file of numbers, channels interleaved."""
    if ask.dtype is None:
        raise NeedsFact(
            "is read as raw numbers of unknown type", where=str(ask.path), advice=_ADVICE
        )
    dtype = number_type(ask.dtype)
    channels = ask.interleaved or 1
    size = ask.path.stat().st_size
    frames, left_over = divmod(size, dtype.itemsize * channels)
    if left_over:
        raise DamagedFile(
            f"has {size} bytes, which is no whole number of {channels} x {dtype.name}",
            where=str(ask.path),
            advice="Check the type (--dtype, dtype) and the number of channels "
            "(--interleaved, interleaved), or whether the file was cut short.",
        )
    mapped = np.memmap(ask.path, dtype, "r", 0, (frames, channels))
    one = replace(ask, interleaved=None)
    notes: list[str] = []
    columns = [
        column
        for c in range(channels)
        for column in array_columns(one, f"channel {c + 1}", mapped[:, c], notes)
    ]
    return to_capture(ask, columns, Facts(), reader="raw", notes=notes)


def number_type(text: str) -> np.dtype[Any]:
    """Return the type that a text such as "int16" names."""
    if not _TYPE.fullmatch(text):  # numpy itself takes more, and warns about some of it
        raise InputError(f'"{text}" is not a type of number', advice=_ADVICE)
    return np.dtype(text)


READER = Reader("raw", "raw binary", refusal, read, by_signature=False, takes=_TAKES)
