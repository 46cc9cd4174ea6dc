"""The formats that can be read, one module each, and the choice among them by content."""

from __future__ import annotations

from straypath.capture.formats import npy, npz, raw, sound, text, wav
from straypath.capture.formats.base import Reader

READERS: tuple[Reader, ...] = (
    wav.READER,
    sound.READER,
    npy.READER,
    npz.READER,
    text.READER,
    raw.READER,
)
"""In the order in which they are asked: those with a mark of their own first."""

__all__ = ["READERS", "Reader"]
