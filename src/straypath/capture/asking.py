"""What is asked of a reader, checked before any reader sees it; and the first bytes of the file."""

from __future__ import annotations

import errno
import stat
from operator import index
from pathlib import Path
from typing import TYPE_CHECKING, Any

from straypath.capture.formats.base import FASTEST_HZ, SLOWEST_HZ, Ask
from straypath.errors import DamagedFile, InputError
from straypath.units import parse_value

if TYPE_CHECKING:
    from os import PathLike

_HEAD = 4096
_MOST_CHANNELS = 65536


def asked(
    path: str | PathLike[str],
    rate_hz: float | str | None,
    dtype: str | None,
    interleaved: int | None,
    unit: str | None,
    dataset: str | None,
) -> Ask:
    """Return what is asked for, once every part of it can be meant; else InputError."""
    for name, value in (("dtype", dtype), ("unit", unit), ("dataset", dataset)):
        if value is not None and not isinstance(value, str):
            raise InputError(f"{value!r} is no text", where=name, advice=_TEXTS[name])
    return Ask(_path(path), _rate(rate_hz), dtype, _count(interleaved), unit, dataset)


_TEXTS = {
    "dtype": "Give the type of one number, such as 'int16'.",
    "unit": "Give one such as 'mV'.",
    "dataset": "Give the name of an array, such as 'samples'.",
}


def _path(path: Any) -> Path:
    try:
        return Path(path)
    except TypeError:
        raise InputError(
            f"{path!r} is no path", where="path", advice="Give the name of a file as text."
        ) from None


def _rate(rate_hz: Any) -> float | None:
    if rate_hz is None:
        return None
    if isinstance(rate_hz, str):
        rate_hz = parse_value(rate_hz, "Hz", where="rate_hz", bare=True)
    try:
        value = None if isinstance(rate_hz, bool) else float(rate_hz)
    except (TypeError, ValueError, OverflowError):
        value = None
    if value is None or not SLOWEST_HZ <= value <= FASTEST_HZ:
        said = f"{rate_hz!r}"[:40] if value is None else f"{value:g} Hz"
        raise InputError(
            f"a rate of {said} is not possible",
            advice="Give the samples per second, such as 10000.",
        )
    return value


def _count(interleaved: Any) -> int | None:
    if interleaved is None:
        return None
    try:
        count = index(interleaved)
    except TypeError:
        count = 0
    if not 1 <= count <= _MOST_CHANNELS:
        raise InputError(
            f"{interleaved!r} interleaved channels are not possible",
            where="interleaved",
            advice=f"Give a whole number from 1 to {_MOST_CHANNELS}.",
        )
    return count


def first_bytes(path: Path) -> bytes:
    """Return the first bytes of a regular file, or say why it cannot be opened."""
    where = str(path)
    try:
        _refuse_stream(path)
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except InputError:
        raise
    except FileNotFoundError as error:
        raise InputError("no such file", where=where, advice="Check the spelling.") from error
    except PermissionError as error:
        raise InputError("may not be read", where=where, advice="Check its permissions.") from error
    except (OSError, ValueError) as error:
        raise _not_opened(error, where) from error
    if not head:
        raise DamagedFile("is empty", where=where, advice="Record or copy it again.")
    return head


def _refuse_stream(path: Path) -> None:
    """Refuse what is no regular file before opening it: a pipe gives its content only once."""
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        raise InputError("is a folder", where=str(path), advice="Name a file in it.")
    if stat.S_ISFIFO(mode):
        raise InputError("is a pipe", where=str(path), advice="Save it to a file first.")
    if not stat.S_ISREG(mode):
        raise InputError(
            "is a device, not a file", where=str(path), advice="Save its data to a file first."
        )


def _not_opened(error: OSError | ValueError, where: str) -> InputError:
    code = error.errno if isinstance(error, OSError) else None
    if code == errno.ELOOP:
        return InputError(
            "is a link that leads back to itself", where=where, advice="Name the file itself."
        )
    if code == errno.ENAMETOOLONG:
        return InputError("has too long a name", where=where[:80] + " …", advice="Check the path.")
    said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return InputError(
        f"cannot be opened ({said})",
        where=where,
        advice="Check the path, and that the disk can be read.",
    )
