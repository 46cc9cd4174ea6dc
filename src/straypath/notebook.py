"""For notebooks and programs: read a capture, examine it, look at it."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from straypath import inquiry
from straypath.capture import capture as records
from straypath.capture import read as read_file
from straypath.report import html, sentences
from straypath.report.picture import drawing
from straypath.wording import plain

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from os import PathLike

    from matplotlib.figure import Figure

    from straypath.contents.lines.find import Depth

T = TypeVar("T")


class Capture(records.Capture):
    """A capture that shows itself in words."""

    def __repr__(self) -> str:
        """Return name, size and channels in a few lines."""
        lines = [f"{sentences.name(self)}: {plain(sentences.size(self))}"]
        lines += [f"  {number} {c.name}" for number, c in enumerate(self.channels, 1) if c.name]
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return html.capture(self)

    def plot(self, *, dark: bool = False) -> Figure:
        """Examine the capture and return the figure of what is in it."""
        return examine(self).plot(dark=dark)


class Examination(inquiry.Examination):
    """An examination that says and draws what was found."""

    def __repr__(self) -> str:
        """Return the conclusion of each channel on its own line."""
        lines = [f"{sentences.name(self.capture)}: {plain(sentences.size(self.capture))}"]
        for found in self.channels:
            said = plain(sentences.conclusion(found.contents, found.channel.unit))
            lines.append(f"  {found.channel.name}: {said}" if found.channel.name else f"  {said}")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return html.examination(self)

    def plot(self, *, dark: bool = False) -> Figure:
        """Return a matplotlib figure: record, spectrum and contents of each channel.

        Raises
        ------
        MissingExtra
            When matplotlib is not installed.
        """
        made: Figure = drawing().draw([self], dark=dark)
        return made


def read(path: str | PathLike[str], **facts: Any) -> Capture:
    """Read a recording; its format is known by its content.

    Parameters
    ----------
    path : str or path-like
    **facts
        What the file does not say: `rate_hz` [Hz], `unit`, `dtype`, `interleaved`, `dataset`,
        `format`.

    Raises
    ------
    InputError
        When the file cannot be used; the message says what to try.

    Examples
    --------
    >>> from straypath.demo import example
    >>> with example() as path:
    ...     capture = read(path)
    >>> capture.rate_hz
    2000.0
    """
    return _as(Capture, read_file(path, **facts))


def examine(
    capture: records.Capture | str | PathLike[str],
    *,
    channels: Sequence[str | int] | None = None,
    mains: str | float = "auto",
    depth: Depth = "usual",
    reference: str | int | None = None,
    trigger_at_s: float | None = None,
    source: str | float | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> Examination:
    """Examine a capture, or the file at a path: soundness first, then the contents.

    Parameters
    ----------
    capture : Capture or path
    channels : sequence of names or numbers, optional
        Which channels; numbers start at 1. All when not given.
    mains : str or float
        "auto", or the mains frequency that is expected, as "50", "16.7 Hz" or 60.0 [Hz].
    depth : "usual", "quick" or "deep"
        How thoroughly other lines are sought in long records.
    reference : str or int, optional
        Channel that the others are compared with, by name or number. As mains reference only
        from a sealed ac-output safety-isolating adapter; the result shows the cautions.
    trigger_at_s : float, optional
        When a trigger on the mains line fired, from the first sample of the capture [s].
    source : str or float, optional
        Resistance of the source, as "10 kΩ" or 10e3 [Ω], for the noise budget of the floor.
    progress : callable, optional
        Called with the part done, 0 … 1, and what is being done.

    Raises
    ------
    InputError
        A channel that is not there, a reference without another channel, or a mains frequency
        or source resistance that is none.

    Examples
    --------
    >>> from straypath.demo import example
    >>> with example() as path:
    ...     found = examine(path)
    >>> round(found.channels[0].mains.frequency_hz.value, 2)
    49.98
    """
    if isinstance(capture, records.Capture):
        given = capture if isinstance(capture, Capture) else _as(Capture, capture)
    else:
        given = read(Path(capture))
    found = inquiry.examine(
        given,
        channels=channels,
        mains=mains,
        depth=depth,
        reference=reference,
        trigger_at_s=trigger_at_s,
        source=source,
        progress=progress,
    )
    return _as(Examination, found)


def _as(kind: type[T], record: Any) -> T:
    """Return a record as its showing subclass, with the same parts."""
    return kind(**{part.name: getattr(record, part.name) for part in fields(record)})
