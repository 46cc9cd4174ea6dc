"""Samples that stay in the file until a slice of them is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.base import translated

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray


class BlockSamples:
    """One channel that is read from its file in blocks.

    Parameters
    ----------
    path : Path
    title : str
        The format, for messages.
    length : int
    dtype : numpy dtype
    fetch : callable
        Takes start and stop, returns that many samples.
    """

    def __init__(
        self,
        path: Path,
        title: str,
        length: int,
        dtype: np.dtype[Any],
        fetch: Callable[[int, int], NDArray[Any]],
    ) -> None:
        self._path = path
        self._title = title
        self._length = length
        self._fetch = fetch
        self.dtype = dtype

    @property
    def shape(self) -> tuple[int, ...]:
        """(n,)."""
        return (self._length,)

    def __len__(self) -> int:
        return self._length

    def __getitem__(self, index: slice, /) -> NDArray[Any]:
        where = range(self._length)[index]
        if not isinstance(where, range):
            return self[where : where + 1][0]
        if not where:
            return np.empty(0, self.dtype)
        low, high = min(where[0], where[-1]), max(where[0], where[-1]) + 1
        with translated(self._path, self._title):
            part = np.asarray(self._fetch(low, high), dtype=self.dtype)
            if part.shape != (high - low,):
                message = f"only {len(part)} of {high - low} samples are there"
                raise ValueError(message)
        part = part[:: where.step]
        part.flags.writeable = False
        return part

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray[Any]:
        return np.asarray(self[:], dtype=dtype)

    def __repr__(self) -> str:
        return f"<{self._length} samples of {self.dtype} in {self._path.name}>"
