"""Reading a capture from a file: one way in for every format."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from straypath.capture.asking import asked, first_bytes
from straypath.capture.formats import READERS
from straypath.capture.formats.base import named_list
from straypath.capture.formats.text import near_miss
from straypath.errors import FormatRefused, InputError

if TYPE_CHECKING:
    from os import PathLike

    from straypath.capture.capture import Capture
    from straypath.capture.formats.base import Ask, Reader

_PACKED = (b"\x1f\x8b", b"BZh", b"\xfd7zXZ", b"PK\x03\x04", b"7z\xbc\xaf", b"\x28\xb5\x2f\xfd")


def read(
    path: str | PathLike[str],
    *,
    rate_hz: float | str | None = None,
    dtype: str | None = None,
    interleaved: int | None = None,
    unit: str | None = None,
    format: str | None = None,  # noqa: A002 – the word a person would use
    dataset: str | None = None,
) -> Capture:
    """Read a capture; its format is known by its content.

    Two need more: samples that lie apart from their description are known by their name and the
    file beside them, and raw binary, which has no mark, by the `dtype` that is given.

    Parameters
    ----------
    path : str or Path
        Never written to.
    rate_hz : float or str, optional
        Samples per second [Hz] or a text such as "2 kHz", for a file that does not say, or says
        it wrongly.
    dtype : str, optional
        Type of one number of a raw binary file, such as "int16" or "<f4".
    interleaved : int, optional
        How many channels are interleaved in a raw file, or lie side by side in an array.
    unit : str, optional
        Unit of the numbers, such as "mV".
    format : str, optional
        Name of a reader, when the content must not decide.
    dataset : str, optional
        Which array of an NPZ, HDF5 or MAT file, or which section of a COMTRADE record.

    Errors
    ------
    FormatRefused when no reader recognises the content, DamagedFile when it is broken,
    NeedsFact when something has to be given, InputError for anything else,
    MissingExtra when an optional library is needed.

    Example
    -------
    >>> from straypath.demo import example
    >>> with example() as path:
    ...     capture = read(path)
    >>> capture.rate_hz, capture.channels[0].unit
    (2000.0, 'V')
    """
    ask = asked(path, rate_hz, dtype, interleaved, unit, dataset)
    head = first_bytes(ask.path)
    reader = _reader(ask, head, format)
    capture = reader.read(ask)
    return replace(capture, notes=(*capture.notes, *_unused(ask, reader)))


def _unused(ask: Ask, reader: Reader) -> list[str]:
    """Return a note for each fact that was given and means nothing to the format."""
    given = {
        "dataset": ("the choice of an array", ask.dataset),
        "interleaved": ("the number of channels", ask.interleaved),
        "dtype": ("the type of a number", ask.dtype),
    }
    return [
        f"{what} (--{name}, {name}) means nothing for {reader.title} and is not used"
        for name, (what, value) in given.items()
        if value is not None and name not in reader.takes
    ]


def _reader(ask: Ask, head: bytes, name: str | None) -> Reader:
    """Return the reader to use: the one named, or the one that recognises the content."""
    by_name = {reader.name: reader for reader in READERS}
    if name is not None:
        return _named(ask, head, by_name, name)
    known = next((reader for reader in READERS if not reader.refusal(head, ask.path)), None)
    if ask.dtype is not None and (known is None or not known.by_signature):
        return by_name["raw"]
    if known is None:
        raise _unknown(ask, head)
    if ask.dtype is not None:
        raise InputError(
            f"looks like {known.title}, which has a type of its own",
            where=str(ask.path),
            advice="Leave the type (--dtype, dtype) out, or give raw as --format, format.",
        )
    return known


def _named(ask: Ask, head: bytes, by_name: dict[str, Reader], name: str) -> Reader:
    """Return the reader of a name, once the content carries its mark."""
    if name not in by_name:
        raise InputError(
            f'there is no format "{name}"', advice=f"There are: {named_list(sorted(by_name), 20)}."
        )
    reader = by_name[name]
    why = reader.refusal(head, ask.path) if reader.by_signature else ""
    if why:
        raise FormatRefused(
            f"is not {reader.title}: it {why}",
            where=str(ask.path),
            advice="Leave the format (--format, format) out, so that the content decides.",
        )
    return reader


def _unknown(ask: Ask, head: bytes) -> FormatRefused:
    """Return why no reader takes the file, the likeliest reason first."""
    if head.startswith(_PACKED):
        return FormatRefused(
            "is a compressed file", where=str(ask.path), advice="Unpack it and read what is inside."
        )
    if near := near_miss(head):
        what, advice = near
        return FormatRefused(what, where=str(ask.path), advice=advice)
    titles = ", ".join(reader.title for reader in READERS[:-1])
    return FormatRefused(
        "is of no known format",
        where=str(ask.path),
        advice=f"Give rate and type of raw binary (--rate, rate_hz; --dtype, dtype). It is none "
        f"of these: {titles}.",
    )
