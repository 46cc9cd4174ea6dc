"""Comparing a text with a committed one.

regression: snapshots, read over when they were made. To write them anew after a wanted change,
run the tests with STRAYPATH_GOLDEN=write and read the difference.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def check_golden(text: str, path: Path) -> None:
    """Fail when a text differs from the committed one."""
    if os.environ.get("STRAYPATH_GOLDEN") == "write":
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    assert text == path.read_text(encoding="utf-8")
