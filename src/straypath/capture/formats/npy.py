"""NPY: one array of numbers, memory-mapped."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.formats.assemble import to_capture
from straypath.capture.formats.base import Ask, Reader, translated
from straypath.capture.formats.facts import Facts
from straypath.capture.formats.named import split_times
from straypath.capture.formats.shapes import array_columns
from straypath.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path

    from straypath.capture.capture import Capture


def refusal(head: bytes, _path: Path) -> str:
    """Return "" for the mark of an NPY file."""
    return "" if head.startswith(b"\x93NUMPY") else "does not begin with the mark of NPY"


def read(ask: Ask) -> Capture:
    """Read an NPY file without loading it."""
    with translated(ask.path, "an NPY array"):
        try:
            array = np.load(ask.path, mmap_mode="r", allow_pickle=False)
        except ValueError as error:
            if "object" not in str(error).lower():
                raise
            raise InputError(
                "holds Python objects, which are never loaded",
                where=str(ask.path),
                advice="Save the numbers alone, such as array.astype(float).",
            ) from error
    notes: list[str] = []
    columns, times = split_times(ask, array_columns(ask, "", array, notes), notes)
    return to_capture(ask, columns, Facts(), reader="npy", times=times, notes=notes)


READER = Reader("npy", "an NPY array", refusal, read, takes=frozenset(["interleaved"]))
