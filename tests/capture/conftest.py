"""What the reader tests share: a file of given content, and one invented wave."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from straypath.capture import read

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from typing import Any

    from straypath.capture import Capture


@pytest.fixture
def put(tmp_path: Path) -> Callable[..., Path]:
    """Write text or bytes to a file and return its path."""

    def write(content: str | bytes, name: str = "record.csv", encoding: str = "utf-8") -> Path:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
        return path

    return write


@pytest.fixture
def read_text(put: Callable[..., Path]) -> Callable[..., Capture]:
    """Write a text to a file and read it as a capture."""

    def make(content: str, encoding: str = "utf-8", **facts: Any) -> Capture:
        return read(put(content, encoding=encoding), **facts)

    return make


@pytest.fixture(scope="session")
def wave() -> np.ndarray:
    """Two seconds of an invented 50 Hz wave in 12-bit counts at 1 kHz."""
    t = np.arange(2000) / 1000
    return np.round(900 * np.sin(2 * np.pi * 50 * t + 0.3) + 20).astype(np.int16)
