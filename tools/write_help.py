"""Write the help of each command into docs/examine.md, between its fences.

Run it from the checkout after a change to the command line: ``python tools/write_help.py``.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
from pathlib import Path

from straypath.cli import main

PAGE = Path(__file__).parents[1] / "docs" / "examine.md"
_BLOCK = re.compile(r"```text\nstraypath (\w+).*?\n```", re.DOTALL)


def help_of(command: str) -> str:
    """Return the help of a command as it is printed into a pipe of 80 columns."""
    written = io.StringIO()
    with contextlib.redirect_stdout(written):
        main([command, "--help"])
    return "\n".join(line.rstrip() for line in written.getvalue().strip().splitlines())


def renewed(page: str) -> str:
    """Return a page whose blocks of help are those of the program."""
    return _BLOCK.sub(lambda match: f"```text\n{help_of(match[1])}\n```", page)


if __name__ == "__main__":
    os.environ["COLUMNS"] = "80"
    PAGE.write_text(renewed(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
