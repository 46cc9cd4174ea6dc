"""Everything that can go wrong for a user, as one tree.

::

    StraypathError
    ├── InputError (also ValueError)       what was given cannot be used
    │   ├── FormatRefused                  no reader recognises the file
    │   ├── DamagedFile                    recognised, but broken or empty
    │   └── NeedsFact                      readable once a fact is given, such as the rate
    └── MissingExtra (also ImportError)    an optional library is not installed

Each carries what happened, where, and what to try; ``str(error)`` is one line.
"""

from __future__ import annotations


class StraypathError(Exception):
    """Base of all errors that a user can cause."""

    def __init__(self, what: str, *, where: str = "", advice: str = "") -> None:
        self.what = what
        self.where = where
        self.advice = advice
        super().__init__(self.line)

    @property
    def line(self) -> str:
        """The whole message on one line: where, what, what to try."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.advice:
            text = f"{text.rstrip('.')}. {self.advice}"
        return " ".join(text.split())


class InputError(StraypathError, ValueError):
    """What was given cannot be used."""


class FormatRefused(InputError):
    """No reader recognises the file."""


class DamagedFile(InputError):
    """The format is recognised, but the content is broken, empty or cut short."""


class NeedsFact(InputError):
    """The file is readable once a fact is given that it does not hold."""


class MissingExtra(StraypathError, ImportError):
    """An optional library is not installed."""
