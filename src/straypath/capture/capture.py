"""The capture: one recording, kept as it came, with the facts of its acquisition."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from pathlib import Path

    from numpy.typing import NDArray


class Samples(Protocol):
    """What a channel's samples must be able to do: an array, a memory map or a reader on disk."""

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of one sample."""

    @property
    def shape(self) -> tuple[int, ...]:
        """(n,)."""

    def __len__(self) -> int: ...

    def __getitem__(self, index: slice, /) -> NDArray[Any]: ...


@dataclass(frozen=True)
class Channel:
    """One channel: samples in the file's own type, and how to turn them into the unit.

    value = raw · scale + offset

    Parameters
    ----------
    name : str
    raw : Samples, shape (n,)
        Integers or floats as the file holds them; never written to.
    unit : str
        Symbol of the unit after scaling, such as "V"; "" when the file does not say.
    scale, offset : float
        [unit per raw step], [unit].
    full_scale : (float, float) or None
        Lowest and highest value that the converter can give [unit], when known.
    """

    name: str
    raw: Samples
    unit: str = ""
    scale: float = 1.0
    offset: float = 0.0
    full_scale: tuple[float, float] | None = None

    def __len__(self) -> int:
        return len(self.raw)

    def values(self, start: int = 0, stop: int | None = None) -> NDArray[np.float64]:
        """Return samples start … stop in the channel's unit, as a new float64 array."""
        with np.errstate(invalid="ignore", over="ignore"):  # broken floats stay what they are
            part = np.asarray(self.raw[slice(start, stop)], dtype=np.float64)
            return part * self.scale + self.offset

    def blocks(self, length: int) -> Iterator[tuple[int, NDArray[Any]]]:
        """Yield (index of the first sample, raw samples) in pieces of at most `length`."""
        for start in range(0, len(self.raw), length):
            yield start, np.asarray(self.raw[start : start + length])


@dataclass(frozen=True)
class Gap:
    """A hole in the record: `missing_s` seconds [s] are absent before sample `index`."""

    index: int
    missing_s: float


@dataclass(frozen=True)
class Stamps:
    """What a time column says about the evenness of the samples.

    Parameters
    ----------
    worst_error_s : float
        Largest distance of a stamp from the even grid between gaps [s].
    resolution_s : float
        Smallest step in which the stamps are written [s].
    gaps : tuple of Gap
    backwards : int
        How often time runs backwards or stands still.
    forward : (int, int) or None
        The longest stretch in which time runs forward: first sample, and one past the last; None
        when all of it does, or the stamps are too coarse to tell.
    """

    worst_error_s: float = 0.0
    resolution_s: float = 0.0
    gaps: tuple[Gap, ...] = ()
    backwards: int = 0
    forward: tuple[int, int] | None = None


@dataclass(frozen=True)
class Acquisition:
    """How the record was taken, as far as the file or the user says; None means not known.

    Parameters
    ----------
    instrument : str
    probe_ratio, input_ratio : float or None
        Division by the probe, and the ratio that the input was told.
    coupling : str
        "dc", "ac" or "".
    bandwidth_limit_hz : float or None
        [Hz].
    mode : str
        "sample", "peak", "average", "screen" (decimated for display) or "".
    averages : int or None
    trigger : str
        "line" when triggered on the mains, another word when not, "" when not known.
    aperture_s : float or None
        Integration time of each sample [s].
    bits : int or None
        Resolution of the converter.
    touching : str
        Who touches what.
    """

    instrument: str = ""
    probe_ratio: float | None = None
    input_ratio: float | None = None
    coupling: str = ""
    bandwidth_limit_hz: float | None = None
    mode: str = ""
    averages: int | None = None
    trigger: str = ""
    aperture_s: float | None = None
    bits: int | None = None
    touching: str = ""


@dataclass(frozen=True)
class Capture:
    """One recording: channels x samples at one rate. Immutable.

    Parameters
    ----------
    channels : tuple of Channel
        All of one length.
    rate_hz : float
        Samples per second [Hz].
    start : datetime or None
        When the first sample was taken.
    acquisition : Acquisition
    stamps : Stamps or None
        None when the file has no time column.
    path : Path or None
        The file that was named.
    files : tuple of Path
        All files that were read for it, the one that was named first.
    format : str
        Which reader read it.
    notes : tuple of str
        What the reader assumed or ignored, in words.
    """

    channels: tuple[Channel, ...]
    rate_hz: float
    start: datetime | None = None
    acquisition: Acquisition = field(default_factory=Acquisition)
    stamps: Stamps | None = None
    path: Path | None = None
    files: tuple[Path, ...] = ()
    format: str = ""
    notes: tuple[str, ...] = ()

    @property
    def samples(self) -> int:
        """Number of samples in each channel."""
        return len(self.channels[0])

    @property
    def duration_s(self) -> float:
        """Length of the record [s]: samples / rate."""
        return self.samples / self.rate_hz
