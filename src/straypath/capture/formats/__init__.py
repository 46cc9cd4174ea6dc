"""The formats that can be read, one module each, and the order in which they are asked."""

from __future__ import annotations

from straypath.capture.formats import (
    comtrade,
    hdf5,
    mat,
    npy,
    npz,
    raw,
    sigmf,
    sound,
    tables,
    text,
    wav,
)
from straypath.capture.formats.base import Reader

READERS: tuple[Reader, ...] = (
    wav.READER,
    sound.READER,
    npy.READER,
    npz.READER,
    mat.READER,  # before HDF5, which MAT 7.3 is inside
    hdf5.READER,
    tables.PARQUET,
    tables.ARROW,
    sigmf.READER,  # these two are text with a structure of their own
    comtrade.READER,
    text.READER,
    raw.READER,
)

__all__ = ["READERS", "Reader"]
