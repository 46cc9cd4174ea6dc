"""What a reader is, what it is asked, and how a library's errors become ours."""

from __future__ import annotations

import struct
import tokenize
import warnings
import zipfile
import zlib
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.errors import DamagedFile, MissingExtra, StraypathError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path
    from types import ModuleType

    from straypath.capture.capture import Capture


REPAIR_TIME = "Repair or remove the time column, or give the rate (--rate, rate_hz)."
SLOWEST_HZ, FASTEST_HZ = 1e-9, 1e15  # a sample in 30 years; as fast as light swings
ARRAYS_TAKE = frozenset(["dataset", "interleaved"])
FULL_SCALE_NOTE = "values are fractions of full scale"


@dataclass(frozen=True)
class Ask:
    """What to read, and the facts that the user adds to what the file says.

    Parameters
    ----------
    path : Path
    rate_hz : float or None
        Samples per second [Hz]; overrides the file.
    dtype : str or None
        Type of one number of a raw file, such as "int16" or "<f4".
    interleaved : int or None
        How many channels are interleaved in a raw file, or lie side by side in an array.
    unit : str or None
        Unit of the numbers, such as "mV"; overrides the file.
    dataset : str or None
        Which array, or which section, when the file holds several.
    """

    path: Path
    rate_hz: float | None = None
    dtype: str | None = None
    interleaved: int | None = None
    unit: str | None = None
    dataset: str | None = None


@dataclass(frozen=True)
class Reader:
    """One format.

    Parameters
    ----------
    name : str
        What `read(..., format=...)` calls it.
    title : str
        What a person calls it.
    refusal : callable
        Takes the first bytes of the file and its path; returns "" when it recognises the
        content, otherwise why it does not.
    read : callable
        Takes an Ask; returns the capture.
    by_signature : bool
        True when the content carries a mark that nothing else begins with.
    takes : frozenset of str
        Which of dataset, interleaved and dtype mean something for the format.
    """

    name: str
    title: str
    refusal: Callable[[bytes, Path], str]
    read: Callable[[Ask], Capture]
    by_signature: bool = True
    takes: frozenset[str] = frozenset()


# What libraries raise on broken content. Programming errors of our own (NameError,
# AssertionError) are left out so that they stay visible.
_FOREIGN = (
    ArithmeticError,
    AttributeError,
    EOFError,
    ImportError,
    LookupError,
    MemoryError,
    OSError,
    RuntimeError,
    SyntaxError,
    TypeError,
    ValueError,
    struct.error,
    tokenize.TokenError,  # numpy, over the header of an NPY file
    zipfile.BadZipFile,
    zlib.error,
)


@contextmanager
def translated(path: Path, title: str, *more: type[BaseException]) -> Iterator[None]:
    """Turn whatever a library raises or warns about a file into one DamagedFile."""
    caught: tuple[type[BaseException], ...] = (*_FOREIGN, *more)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except StraypathError:
        raise
    except caught as error:
        said = str(error).strip().splitlines() or [type(error).__name__]
        raise DamagedFile(
            f"looks like {title}, but cannot be read ({said[0][:160]})",
            where=str(path),
            advice="It may be cut short or damaged: copy or export it again.",
        ) from error


def optional(library: str, title: str) -> ModuleType:
    """Import a library of the extra `formats`, or say how to get it."""
    try:
        return import_module(library)
    except ImportError as error:
        raise MissingExtra(
            f"reading {title} needs the library {library.partition('.')[0]}",
            advice="Install it with: pip install straypath[formats]",
        ) from error


def named_list(names: list[str], most: int = 8) -> str:
    """Return names in quotes for a message, the first few of them when there are many."""
    shown = ", ".join(f'"{name}"' for name in names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def several(number: int, noun: str) -> str:
    """Return "1 line" or "3 lines"."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def are(number: int) -> str:
    """Return the verb that goes with a number."""
    return "is" if number == 1 else "are"


def as_text(value: Any) -> str:
    """Return a header value as text: bytes are decoded, arrays of one item unwrapped."""
    if isinstance(value, bytes):
        return value.decode("utf-8", "replace").strip("\0 ")
    if isinstance(value, np.ndarray):
        return as_text(value.reshape(-1)[0]) if value.size == 1 else ""
    return str(value).strip("\0 ")
