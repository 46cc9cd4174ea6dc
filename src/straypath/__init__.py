"""Straypath examines captures from an electronics bench.

What the mains put into them, other lines, noise floor and bursts, and whether the record is sound.

>>> import straypath
>>> from straypath.demo import example
>>> with example() as path:
...     found = straypath.examine(path)
>>> found.channels[0].mains.nominal_hz
50.0

Names are loaded when they are first used: importing the package alone loads no numerical library.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from straypath.errors import (
        DamagedFile,
        FormatRefused,
        InputError,
        MissingExtra,
        NeedsFact,
        StraypathError,
    )
    from straypath.notebook import Capture, Examination, examine, read

__all__ = [
    "Capture",
    "DamagedFile",
    "Examination",
    "FormatRefused",
    "InputError",
    "MissingExtra",
    "NeedsFact",
    "StraypathError",
    "examine",
    "read",
]

_HOME = dict.fromkeys(__all__, "straypath.errors")
_HOME.update(dict.fromkeys(["Capture", "Examination", "examine", "read"], "straypath.notebook"))


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'straypath' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
