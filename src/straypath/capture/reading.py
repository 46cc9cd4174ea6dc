"""Reading a capture from a file: one way in for every format."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from straypath.capture.formats import READERS
from straypath.capture.formats.base import Ask, named_list
from straypath.errors import DamagedFile, FormatRefused, InputError

if TYPE_CHECKING:
    from os import PathLike

    from straypath.capture.capture import Capture
    from straypath.capture.formats.base import Reader

_HEAD = 4096
_PACKED = (b"\x1f\x8b", b"BZh", b"\xfd7zXZ", b"PK\x03\x04", b"7z\xbc\xaf", b"\x28\xb5\x2f\xfd")


def read(
    path: str | PathLike[str],
    *,
    rate_hz: float | None = None,
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
    rate_hz : float, optional
        Samples per second [Hz], for a file that does not say, or says it wrongly.
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
    ask = Ask(Path(path), rate_hz, dtype, interleaved, unit, dataset)
    _check_request(ask)
    head = _head(ask.path)
    return _reader(ask, head, format).read(ask)


def _check_request(ask: Ask) -> None:
    if ask.rate_hz is not None and not (math.isfinite(ask.rate_hz) and ask.rate_hz > 0):
        raise InputError(
            f"a rate of {ask.rate_hz:g} Hz is not possible",
            advice="Give the samples per second, such as 10000.",
        )
    count = ask.interleaved
    if count is not None and not 1 <= count <= 65536:
        raise InputError(f"{count} interleaved channels are not possible", advice="Give 1 or more.")


def _head(path: Path) -> bytes:
    """Return the first bytes, or say why the file cannot be opened."""
    where = str(path)
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except FileNotFoundError as error:
        raise InputError("no such file", where=where, advice="Check the spelling.") from error
    except IsADirectoryError as error:
        raise InputError("is a folder", where=where, advice="Name a file in it.") from error
    except PermissionError as error:
        raise InputError("may not be read", where=where, advice="Check its permissions.") from error
    except (OSError, ValueError) as error:
        raise InputError(f"cannot be opened ({error})", where=where) from error
    if not head:
        raise DamagedFile("is empty", where=where, advice="Record or copy it again.")
    return head


def _reader(ask: Ask, head: bytes, name: str | None) -> Reader:
    """Return the reader to use: the one named, or the one that recognises the content."""
    by_name = {reader.name: reader for reader in READERS}
    if name is not None:
        if name not in by_name:
            raise InputError(
                f'there is no format "{name}"',
                advice=f"There are: {named_list(sorted(by_name), 20)}.",
            )
        return by_name[name]
    refusals = {reader: reader.refusal(head, ask.path) for reader in READERS}
    known = next((reader for reader, why in refusals.items() if not why), None)
    if ask.dtype is not None and (known is None or not known.by_signature):
        return by_name["raw"]
    if known is None and head.startswith(_PACKED):
        raise FormatRefused(
            "is a compressed file", where=str(ask.path), advice="Unpack it and read what is inside."
        )
    if known is None:
        why = "; ".join(f"{reader.title}: {reason}" for reader, reason in refusals.items())
        raise FormatRefused("is of no known format", where=str(ask.path), advice=f"Tried {why}.")
    if ask.dtype is not None:
        raise InputError(
            f"looks like {known.title}, which has a type of its own",
            where=str(ask.path),
            advice="Leave the type (--dtype, dtype) out, or give raw as --format, format.",
        )
    return known
