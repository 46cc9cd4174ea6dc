"""A stretch of a channel as a channel of its own, without reading it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.capture.capture import Channel


def part(channel: Channel, start: int, stop: int) -> Channel:
    """Return samples start … stop of a channel as a channel, without reading them."""
    if (start, stop) == (0, len(channel)):
        return channel
    return replace(channel, raw=Part(channel.raw, start, stop))


class Part:
    """A stretch of samples that stay where they are until they are asked for."""

    def __init__(self, whole: Any, start: int, stop: int) -> None:
        self._whole, self._start, self._length = whole, start, stop - start

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the samples."""
        kind: np.dtype[Any] = self._whole.dtype
        return kind

    @property
    def shape(self) -> tuple[int, ...]:
        """(n,)."""
        return (self._length,)

    def __len__(self) -> int:
        return self._length

    def __getitem__(self, index: slice, /) -> NDArray[Any]:
        first, last, stride = index.indices(self._length)
        return np.asarray(self._whole[self._start + first : self._start + last : stride])
