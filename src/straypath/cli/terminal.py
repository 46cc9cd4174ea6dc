"""Writing to the terminal: what it can show, and what to do when it goes away."""

# Heavy libraries are imported where they are used, so that help comes at once.
# ruff: noqa: PLC0415

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Final

from straypath.errors import InputError
from straypath.wording import FIRM, NARROW

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

# Line breaking counts both as spaces; stand-ins from the private area hold until it is done.
_HELD: Final = {NARROW: "\ue000", FIRM: "\ue001"}
_PLAIN: Final = str.maketrans(
    {"µ": "u", "Ω": "Ohm", "√": "sqrt", "−": "-", "–": "-", "…": "...", "·": "-", "✓": "+",
     "‖": "|", "─": "-", "∞": "inf", "Δ": "D", NARROW: " ", FIRM: " "}
)  # fmt: skip
WIDEST: Final = 100
"""Lines of prose longer than this are hard to read."""


def hold(text: str) -> str:
    """Return text whose narrow and firm spaces will not be broken at."""
    for space, held in _HELD.items():
        text = text.replace(space, held)
    return text


def console(*, width: int | None = None) -> Console:
    """Return a console for standard output: colour on a terminal only, 80 columns in a pipe."""
    from rich.console import Console

    made = Console(highlight=False, markup=False, emoji=False, width=width)
    if width is None:
        made.width = min(made.width, WIDEST) if made.is_terminal else _columns()
    return made


def _columns() -> int:
    given = os.environ.get("COLUMNS", "")
    return min(max(int(given), 40), WIDEST) if given.isdecimal() else 80


def show(renderable: RenderableType) -> None:
    """Write a page to standard output, in letters that its encoding has."""
    screen = console()
    with screen.capture() as captured:
        screen.print(renderable)
    text = captured.get()
    for space, held in _HELD.items():
        # Programs that read a pipe split at ordinary spaces.
        text = text.replace(held, space if screen.is_terminal else " ")
    write("\n".join(line.rstrip() for line in text.split("\n")))


def write(text: str) -> None:
    """Write text to standard output, in plain letters where the encoding lacks others."""
    check_open()
    try:
        sys.stdout.write(_writable(text, sys.stdout.encoding))
        sys.stdout.flush()
    except BrokenPipeError:  # no error: the reader has seen enough
        raise
    except OSError as error:
        stop_writing()
        raise not_written(error) from error


def check_open() -> None:
    """Refuse to work for nobody: standard output may be closed from the start."""
    if sys.stdout is None:
        raise InputError("standard output is closed", advice="Leave it open, or name a file.")


def not_written(error: OSError) -> InputError:
    """Return what to say when standard output takes no more."""
    return InputError(
        f"standard output cannot be written to ({error.strerror or error})",
        advice="Check that there is room where it goes.",
    )


def write_error(line: str) -> None:
    """Write one line to standard error."""
    if sys.stderr is None:
        return
    text = f"straypath: {' '.join(line.split())}\n"
    sys.stderr.write(_writable(text, sys.stderr.encoding))
    sys.stderr.flush()


def _writable(text: str, encoding: str | None) -> str:
    encoding = encoding or "utf-8"
    text = text.encode("utf-8", "replace").decode()  # names of files may hold what is no letter
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        text = text.translate(_PLAIN)
        return text.encode(encoding, "replace").decode(encoding)
    return text


def stop_writing() -> None:
    """Let nothing more be written, so that the interpreter does not complain on its way out."""
    try:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115
    except OSError:
        return
