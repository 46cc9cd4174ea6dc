"""How a command ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from straypath.inquiry import Examination

DONE: Final = 0
WRONG: Final = 2
"""Wrong use or bad input."""


@dataclass(frozen=True)
class Outcome:
    """The exit code of a command, and what it found as records."""

    code: int
    examinations: tuple[Examination, ...] = ()
