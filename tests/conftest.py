"""Makes the helper modules of the tests importable, and hands out the real recordings."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
sys.path[:0] = [str(TESTS), str(TESTS.parent / "tools")]

import fetch_recordings  # noqa: E402


@pytest.fixture(scope="session")
def recording():
    """Return a function: name of a file that another package carries -> its path in the cache.

    A download that fails must not pass for a check that passed: it fails the run where CI is
    set, and skips elsewhere with the reason.
    """

    def find(name: str) -> Path:
        try:
            return fetch_recordings.fetch(name)
        except fetch_recordings.NotFetchedError as error:
            if os.environ.get("CI", "").lower() in {"1", "true"}:
                pytest.fail(str(error))
            pytest.skip(str(error))

    return find


@pytest.fixture(scope="session")
def excerpts() -> Path:
    """Folder of the real recordings that may be committed."""
    return TESTS / "recordings"
