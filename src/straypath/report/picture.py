"""Where a figure may be written, and what drawing takes; loads no drawing library by itself."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from straypath.errors import InputError, MissingExtra
from straypath.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

KINDS: Final = (".png", ".svg", ".pdf")


def kind_of(path: Path) -> str:
    """Return the ending that decides the format, or refuse it."""
    kind = path.suffix.lower()
    if kind not in KINDS:
        raise InputError(
            "a figure cannot be written in this format",
            where=str(path),
            advice=f"End the name in {listed(KINDS, 'or')}.",
        )
    return kind


def check_target(path: Path, recordings: Iterable[Path] = ()) -> None:
    """Refuse a place that cannot be written to, or that holds a recording."""
    kind_of(path)
    if any(_is_same(path, recording) for recording in recordings):
        raise InputError(
            "is a recording, which is never written to",
            where=str(path),
            advice="Give the figure another name.",
        )
    if not path.parent.is_dir():
        raise InputError(
            "there is no such folder", where=str(path.parent), advice="Create it first."
        )


def _is_same(path: Path, other: Path) -> bool:
    """Whether two paths lead to one file, through links of either kind as well."""
    try:
        return path.samefile(other)
    except OSError:  # one of them is not there
        return False


def drawing() -> Any:
    """Return the module that draws, or say how to get what it needs."""
    try:
        return import_module("straypath.report.figure")
    except ImportError as error:
        raise MissingExtra(
            "figures need matplotlib", advice="Install straypath[figures]."
        ) from error
