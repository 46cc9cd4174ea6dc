"""NPZ: several arrays in one archive; those stored plainly are memory-mapped."""

from __future__ import annotations

import struct
import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.base import ARRAYS_TAKE, Ask, Reader, translated
from straypath.capture.formats.named import Stored, arrays_to_capture
from straypath.capture.formats.shapes import array_columns

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture

_TITLE = "an NPZ archive"


def refusal(head: bytes, _path: Path) -> str:
    """Return "" for a zip archive whose first member is an NPY array, or that has no member."""
    if head.startswith(b"PK\x05\x06"):
        return ""
    if not head.startswith(b"PK\x03\x04"):
        return "does not begin with the mark of a zip archive"
    length = struct.unpack_from("<H", head, 26)[0] if len(head) >= 30 else 0
    return "" if head[30 : 30 + length].endswith(b".npy") else "is a zip archive without arrays"


@dataclass(frozen=True)
class _Member:
    """One array of the archive, known by its header."""

    path: Path
    info: zipfile.ZipInfo
    shape: tuple[int, ...]
    fortran: bool
    dtype: np.dtype[Any]
    header: int

    @property
    def name(self) -> str:
        return self.info.filename.removesuffix(".npy")

    @property
    def size(self) -> int:
        return int(np.prod(self.shape, dtype=object))

    def load(self) -> NDArray[Any]:
        """Return the array: mapped where it lies, or unpacked into memory."""
        if self.info.compress_type == zipfile.ZIP_STORED and self.size:
            order = "F" if self.fortran else "C"
            at = self._start() + self.header
            return np.memmap(self.path, self.dtype, "r", at, self.shape, order)  # type: ignore[call-overload,no-any-return]
        with zipfile.ZipFile(self.path) as archive, archive.open(self.info) as file:
            array: NDArray[Any] = np.lib.format.read_array(file, allow_pickle=False)
            return array

    def _start(self) -> int:
        with self.path.open("rb") as file:
            file.seek(self.info.header_offset + 26)
            name, extra = struct.unpack("<HH", file.read(4))
        return int(self.info.header_offset + 30 + name + extra)


def read(ask: Ask) -> Capture:
    """Read one array of an NPZ archive; single values and texts beside it are facts."""
    with translated(ask.path, _TITLE):
        with zipfile.ZipFile(ask.path) as archive:
            members = [m for i in archive.infolist() if (m := _member(ask.path, archive, i))]
        notes = [
            f'"{m.name}" holds Python objects, which are never loaded'
            for m in members
            if m.dtype.hasobject
        ]
        plain = [m for m in members if not m.dtype.hasobject]
        pairs = [(m.name, m.load()) for m in plain if m.size == 1]
        arrays = [
            _stored(ask, m)
            for m in plain
            if m.size != 1 and (m.dtype.names or m.dtype.kind in "iufcmM")
        ]
        return arrays_to_capture(ask, arrays, pairs, reader="npz", notes=notes)


def _stored(ask: Ask, member: _Member) -> Stored:
    def columns(notes: list[str]) -> list[Any]:
        return list(array_columns(ask, member.name, member.load(), notes))

    return Stored(member.name, member.shape, columns, member.load)


def _member(path: Path, archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> _Member | None:
    """Return what the header of a member says; None when it is no array."""
    if not info.filename.endswith(".npy"):
        return None
    with archive.open(info) as file:
        version = np.lib.format.read_magic(file)
        if version == (1, 0):
            shape, fortran, dtype = np.lib.format.read_array_header_1_0(file)
        else:
            shape, fortran, dtype = np.lib.format.read_array_header_2_0(file)
        return _Member(path, info, shape, fortran, dtype, file.tell())


READER = Reader("npz", _TITLE, refusal, read, takes=ARRAYS_TAKE)
