"""FLAC and AIFF, and WAV with compressed samples: decoded block by block by libsndfile."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.capture import Acquisition
from straypath.capture.formats.assemble import Column, to_capture
from straypath.capture.formats.base import FULL_SCALE_NOTE, Ask, Reader, optional, translated
from straypath.capture.formats.facts import Facts
from straypath.capture.formats.lazy import BlockSamples
from straypath.errors import DamagedFile

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture

_TITLE = "a sound file"

# libsndfile's subtype: (type to read, bits); narrower integers are read left-aligned.
_TYPES = {
    "PCM_S8": ("int16", 8),
    "PCM_U8": ("int16", 8),
    "PCM_16": ("int16", 16),
    "PCM_24": ("int32", 24),
    "PCM_32": ("int32", 32),
    "FLOAT": ("float32", None),
    "DOUBLE": ("float64", None),
}


def refusal(head: bytes, _path: Path) -> str:
    """Return "" for FLAC, AIFF and AIFF-C."""
    if head.startswith(b"fLaC") or (head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC")):
        return ""
    return "does not begin with fLaC or FORM … AIFF"


def read(ask: Ask) -> Capture:
    """Read a FLAC or AIFF file."""
    with ask.path.open("rb") as file:
        head = file.read(8)
    if head.startswith(b"fLaC"):
        return read_sound(ask, "flac", [])
    size, there = 8 + int.from_bytes(head[4:], "big"), ask.path.stat().st_size
    if there < size:  # libsndfile would take what is there without a word
        raise DamagedFile(
            f"is cut short: {there} of {size} bytes are there",
            where=str(ask.path),
            advice="Copy it again.",
        )
    return read_sound(ask, "aiff", [])


def read_sound(ask: Ask, name: str, notes: list[str]) -> Capture:
    """Read whatever libsndfile knows; numbers are fractions of full scale."""
    soundfile = optional("soundfile", _TITLE)
    with translated(ask.path, _TITLE):
        info = soundfile.info(os.fsencode(ask.path))
        dtype, bits = _TYPES.get(info.subtype, ("float32", None))
        columns = [
            _column(ask.path, soundfile, c, info.frames, np.dtype(dtype), bits=bits)
            for c in range(info.channels)
        ]
        if info.frames:
            columns[0].raw[info.frames - 1 :]  # a file that is cut short shows it here
        facts = Facts(rate_hz=float(info.samplerate) or None, acquisition=Acquisition(bits=bits))
    return to_capture(ask, columns, facts, reader=name, notes=notes, without_unit=FULL_SCALE_NOTE)


def _column(
    path: Path, soundfile: Any, channel: int, frames: int, dtype: np.dtype[Any], *, bits: int | None
) -> Column:
    def fetch(start: int, stop: int) -> NDArray[Any]:
        with soundfile.SoundFile(os.fsencode(path)) as file:
            file.seek(start)
            block = file.read(stop - start, dtype=dtype.name, always_2d=True)
        part: NDArray[Any] = np.ascontiguousarray(block[:, channel])
        return part

    raw = BlockSamples(path, _TITLE, frames, dtype, fetch)
    if bits is None:
        return Column(f"channel {channel + 1}", raw)
    half = 1 << (8 * dtype.itemsize - 1)
    return Column(
        f"channel {channel + 1}",
        raw,
        scale=1.0 / half,
        full_scale=(-half, half - (1 << (8 * dtype.itemsize - bits))),
    )


READER = Reader("sound", _TITLE, refusal, read)
