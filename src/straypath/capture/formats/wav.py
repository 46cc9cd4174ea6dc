"""WAV: PCM and float samples memory-mapped where they lie (RIFF, RF64 and BW64).

Sources: Multimedia Programming Interface and Data Specifications 1.0 (RIFF, WAVE);
EBU Tech 3306 (RF64); ITU-R BS.2088 (BW64).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np

from straypath.capture.capture import Acquisition
from straypath.capture.formats.assemble import Column, to_capture
from straypath.capture.formats.base import FULL_SCALE_NOTE, Ask, Reader, several, translated
from straypath.capture.formats.facts import Facts
from straypath.capture.formats.lazy import BlockSamples
from straypath.errors import DamagedFile, InputError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_TITLE = "a WAV file"
_UNKNOWN_SIZE = (0, 0xFFFFFFFF)  # what a writer leaves that was stopped, or wrote to a pipe


@dataclass(frozen=True)
class _Layout:
    """Where the samples lie and what they are."""

    code: int
    channels: int
    rate_hz: int
    bits: int
    frame: int
    start: int
    size: int

    @property
    def width(self) -> int:
        """Bytes that one sample takes; 12 bits lie left-aligned in two."""
        return self.frame // self.channels


def refusal(head: bytes, _path: Path) -> str:
    """Return "" for a RIFF, RF64 or BW64 file of kind WAVE."""
    if head[:4] in (b"RIFF", b"RF64", b"BW64") and head[8:12] == b"WAVE":
        return ""
    return "does not begin with RIFF … WAVE"


def read(ask: Ask) -> Capture:
    """Read a WAV file; numbers are fractions of full scale unless a unit is given."""
    notes: list[str] = []
    with translated(ask.path, _TITLE):
        with ask.path.open("rb") as file:
            found = _find(file, ask.path, notes)
        if found.code not in (_PCM, _FLOAT):
            from straypath.capture.formats.sound import read_sound  # noqa: PLC0415

            return read_sound(ask, "wav", notes)
        columns = _columns(ask, found)
    bits = found.bits if found.code == _PCM else None
    facts = Facts(rate_hz=float(found.rate_hz) or None, acquisition=Acquisition(bits=bits))
    return to_capture(ask, columns, facts, reader="wav", notes=notes, without_unit=FULL_SCALE_NOTE)


def _find(file: BinaryIO, path: Path, notes: list[str]) -> _Layout:
    """Walk the chunks to the format and the samples."""
    end = path.stat().st_size
    long_size: int | None = None
    form: tuple[int, int, int, int, int] | None = None
    file.seek(12)
    while len(head := file.read(8)) == 8:
        name, size = struct.unpack("<4sI", head)
        at = file.tell()
        if name == b"ds64":
            long_size = struct.unpack("<8xQ", file.read(16))[0]
        elif name == b"fmt ":
            form = _form(file.read(min(size, 64)), path)
        elif name == b"data" and form:
            if size == 0xFFFFFFFF and long_size:
                size = long_size
            return _Layout(*form, at, _available(size, end - at, form[4], path, notes))
        file.seek(at + size + size % 2)
    raise DamagedFile("is a WAV file without samples", where=str(path), advice="Record it again.")


def _form(body: bytes, path: Path) -> tuple[int, int, int, int, int]:
    if len(body) < 16:
        raise DamagedFile(
            f"is a WAV file whose header is cut short: {len(body)} of 16 bytes are there",
            where=str(path),
            advice="Copy it again.",
        )
    code, channels, rate, _, frame, bits = struct.unpack_from("<HHIIHH", body)
    if code == _EXTENSIBLE and len(body) >= 26:
        code = struct.unpack_from("<H", body, 24)[0]
    if code in (_PCM, _FLOAT):
        width, uneven = divmod(frame, channels) if channels else (0, 1)
        allowed = (4, 8) if code == _FLOAT else (1, 2, 3, 4)
        if uneven or width not in allowed or not 0 < bits <= 8 * width:
            held = several(channels, "channel")
            raise InputError(
                f"is a WAV file of {held} with {bits} bits in {frame} bytes",
                where=str(path),
                advice="Expected are 8, 16, 24 or 32 bits, or floats of 32 or 64 bits.",
            )
    return code, channels, rate, bits, frame


def _available(size: int, there: int, frame: int, path: Path, notes: list[str]) -> int:
    if size in _UNKNOWN_SIZE and there >= frame > 0:
        notes.append("the file was never closed by its writer: read to its end")
        return there // frame * frame
    if size > there:
        raise DamagedFile(
            f"is cut short: {there} of {size} bytes of samples are there",
            where=str(path),
            advice="Copy it again.",
        )
    return size


def _columns(ask: Ask, found: _Layout) -> list[Column]:
    n = found.size // found.frame
    if n == 0:
        return [Column("", np.empty(0))]
    packed = found.code == _PCM and found.width == 3
    dtype = np.dtype("u1") if packed else _dtype(found)
    shape = (n, found.channels, 3) if packed else (n, found.channels)
    mapped = np.memmap(ask.path, dtype, "r", found.start, shape)
    step, offset = 1.0, 0.0
    full: tuple[float, float] | None = None
    if found.code == _PCM:
        half = 1 << (8 * found.width - 1)
        step = 1.0 / half
        full = (-half, half - (1 << (8 * found.width - found.bits)))
        if found.width == 1:  # unsigned, its middle at 128
            offset, full = -1.0, (0, 255)
    return [
        Column(
            f"channel {c + 1}",
            _three_bytes(ask.path, mapped[:, c]) if packed else mapped[:, c],
            scale=step,
            offset=offset,
            full_scale=full,
        )
        for c in range(found.channels)
    ]


def _dtype(found: _Layout) -> np.dtype[Any]:
    if found.code == _FLOAT:
        return np.dtype(f"<f{found.width}")
    return np.dtype("u1" if found.width == 1 else f"<i{found.width}")


def _three_bytes(path: Path, packed: NDArray[np.uint8]) -> BlockSamples:
    """Return 24-bit integers, shape (n, 3) of bytes, as int32 made block by block."""

    def fetch(start: int, stop: int) -> NDArray[np.int32]:
        wide = np.zeros((stop - start, 4), np.uint8)
        wide[:, 1:] = packed[start:stop]
        return wide.view("<i4")[:, 0] >> 8

    return BlockSamples(path, _TITLE, len(packed), np.dtype(np.int32), fetch)


READER = Reader("wav", _TITLE, refusal, read)
