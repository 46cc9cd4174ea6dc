"""The plain variables of a MAT file of version 5, every length checked before it is believed.

General libraries trust these lengths and can take the whole process down over a damaged file.
This walk reads plain numbers and texts only, and maps what lies uncompressed in the file.

Source: MAT-File Format, level 5 (the published description of its tags and sub-elements).
"""

from __future__ import annotations

import math
import struct
import zlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.text_faults import content

if TYPE_CHECKING:
    import mmap
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    Bytes = mmap.mmap | bytes

# Data types of an element, and classes of a variable.
_NUMBERS = {
    1: "i1",
    2: "u1",
    3: "i2",
    4: "u2",
    5: "i4",
    6: "u4",
    7: "f4",
    9: "f8",
    12: "i8",
    13: "u8",
}
_TEXTS = {1: "latin-1", 2: "latin-1", 4: "utf-16", 16: "utf-8", 17: "utf-16", 18: "utf-32"}
_MATRIX, _COMPRESSED = 14, 15
_CHAR, _NUMERIC = 4, range(6, 16)
_KINDS = {1: "cell array", 2: "structure", 3: "object", 4: "text", 5: "sparse matrix"}
_IS_COMPLEX, _IS_LOGICAL = 0x0800, 0x0200

_HEADER = 128
_MOST_AXES = 32
_PEEK = 1 << 13  # enough of a compressed variable for its name, shape and a short text


@dataclass(frozen=True)
class Packed:
    """A compressed variable: where it lies in the file, and its size once unpacked [bytes]."""

    start: int
    stop: int
    size: int = 0


@dataclass(frozen=True)
class Variable:
    """One variable: what its header says, and where its numbers lie.

    Parameters
    ----------
    path : Path
    name : str
    shape : tuple of int
    parts : tuple of (int, numpy dtype)
        Where the real and the imaginary numbers begin [bytes], and their type as stored, which
        may be narrower than the variable's class. Empty when it is no array of numbers.
    text : str or None
        The content of a text.
    packed : Packed or None
        When compressed; `parts` then count within what is unpacked.
    kind : str
        What it is in words.
    """

    path: Path
    name: str
    shape: tuple[int, ...]
    parts: tuple[tuple[int, np.dtype[Any]], ...] = ()
    text: str | None = None
    packed: Packed | None = None
    kind: str = "array of numbers"

    @property
    def size(self) -> int:
        """How many numbers it holds."""
        return math.prod(self.shape) if self.parts else 0

    def load(self) -> list[NDArray[Any]]:
        """Return the array, or its real and imaginary parts."""
        if self.packed is None:
            return [np.memmap(self.path, t, "r", at, self.shape, "F") for at, t in self.parts]
        with content(self.path) as data:
            body = data[self.packed.start : self.packed.stop]
        whole = zlib.decompressobj().decompress(body, self.packed.size)
        return [
            np.frombuffer(whole, dtype, self.size, at).reshape(self.shape, order="F")
            for at, dtype in self.parts
        ]


def variables(path: Path) -> list[Variable]:
    """Return the variables of a file; raises ValueError or struct.error where it is damaged."""
    with content(path) as data:
        order = "<" if data[126:128] == b"IM" else ">"
        return list(_walk(path, data, order))


def _walk(path: Path, data: Bytes, order: str) -> Iterator[Variable]:
    at = _HEADER
    while at < len(data):
        kind, start, size, after = _tag(data, at, order)
        if start + size > len(data):
            message = f"a variable of {size} bytes reaches beyond the end of the file"
            raise ValueError(message)
        if kind == _COMPRESSED:
            after = start + size  # compressed elements are not padded
            peek = zlib.decompressobj().decompress(data[start:after], _PEEK)
            yield _variable(path, peek, 0, order, packed=Packed(start, after))
        elif kind == _MATRIX:
            yield _variable(path, data, at, order, packed=None)
        at = after


def _tag(data: Bytes, at: int, order: str) -> tuple[int, int, int, int]:
    """Return (type, start, size, where the next element begins) of one element."""
    first, size = struct.unpack(order + "II", data[at : at + 8])
    small = first >> 16
    if small:  # type and size share one word, and the data follow in the other
        if small > 4:
            message = "a small element is too large"
            raise ValueError(message)
        return first & 0xFFFF, at + 4, small, at + 8
    return first, at + 8, size, at + 8 + size + -size % 8


def _variable(path: Path, data: Bytes, at: int, order: str, *, packed: Packed | None) -> Variable:
    _, flags_at, size, _ = _tag(data, at, order)
    end = flags_at + size
    if size == 0:
        return Variable(path, "", (0, 0))
    _, start, _, dims_at = _tag(data, flags_at, order)
    (flags,) = struct.unpack(order + "I", data[start : start + 4])
    _, start, size, name_at = _tag(data, dims_at, order)
    axes = min(size // 4, _MOST_AXES)
    shape = struct.unpack(f"{order}{axes}i", data[start : start + 4 * axes])
    if min(shape, default=-1) < 0:
        message = "a variable has a length below zero"
        raise ValueError(message)
    _, start, size, body_at = _tag(data, name_at, order)
    name = bytes(data[start : start + min(size, 64)]).decode("utf-8", "replace")
    kind = "logical array" if flags & _IS_LOGICAL else _KINDS.get(flags & 0xFF, "array of numbers")
    plain = Variable(path, name, shape, kind=kind if math.prod(shape) else f"empty {kind}")
    if flags & 0xFF == _CHAR:
        return replace(plain, text=_text(data, body_at, order, shape))
    if flags & 0xFF not in _NUMERIC or flags & _IS_LOGICAL or math.prod(shape) == 0:
        return plain
    if flags & _IS_COMPLEX and packed:  # the second part lies beyond a look at the start
        with content(path) as file:
            body = file[packed.start : packed.stop]
        data = zlib.decompressobj().decompress(body, end)
    parts = _parts(
        data, body_at, order, count=math.prod(shape), end=end, two=bool(flags & _IS_COMPLEX)
    )
    return replace(plain, parts=parts, packed=packed and replace(packed, size=end))


def _text(data: Bytes, at: int, order: str, shape: tuple[int, ...]) -> str | None:
    """Return a text of one line, or None when it is more than that."""
    kind, start, size, _ = _tag(data, at, order)
    if len(shape) != 2 or shape[0] > 1 or size > _PEEK or kind not in _TEXTS:
        return None
    coding = _TEXTS[kind]
    if coding in ("utf-16", "utf-32"):
        coding += "-le" if order == "<" else "-be"
    return bytes(data[start : start + size]).decode(coding, "replace")


def _parts(
    data: Bytes, at: int, order: str, *, count: int, end: int, two: bool
) -> tuple[tuple[int, np.dtype[Any]], ...]:
    """Return where the numbers lie and their type; their size must fit the shape."""
    found = []
    for _ in range(2 if two else 1):
        kind, start, size, at = _tag(data, at, order)
        dtype = np.dtype(order + _NUMBERS[kind])
        if size != count * dtype.itemsize or start + size > end:
            message = "the numbers of a variable do not fill its shape"
            raise ValueError(message)
        found.append((start, dtype))
    return tuple(found)
