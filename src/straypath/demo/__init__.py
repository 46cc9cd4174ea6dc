"""The included example: invented data, which no bench and no instrument produced."""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from contextlib import AbstractContextManager
    from pathlib import Path

NAME: Final = "invented-geophone.csv"


def example() -> AbstractContextManager[Path]:
    """Return a context that gives the path of the example."""
    return as_file(files(__name__) / NAME)
