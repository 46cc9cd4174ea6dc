"""Reference values from outside, each with its source, tolerance and honest label."""

from __future__ import annotations

import json
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

import numpy as np
import pytest

DATA = Path(__file__).parents[1] / "data"

# Statuses of the data files, in the words of the project's three labels.
LABELS = {
    "published": "published",
    "published, from memory": "published-from-memory",
    "computed, exact": "independent",
    "computed, converged": "independent",
    "computed, approximate": "independent-approximate",
    "common practice": "common-practice",
}


@dataclass(frozen=True)
class Entry:
    """One reference value: what it is, from what inputs, and how close one must come."""

    id: str
    group: str
    quantity: str
    inputs: dict[str, Any]
    expected: dict[str, Any]
    tolerance: dict[str, Any]
    source: str
    status: str
    note: str = ""

    @property
    def label(self) -> str:
        return LABELS[self.status]

    def given(self, *names: str) -> list[Any]:
        """The values of these inputs, in this order."""
        return [self.inputs[name]["value"] for name in names]

    def check(self, actual: Any) -> None:
        """Hold a value, or values, against the expected within the entry's own tolerance."""
        wanted, kind, size = self.expected["value"], self.tolerance["kind"], self.tolerance["value"]
        about = f"{self.id} ({self.source}): expected {wanted}, got {actual}"
        if kind == "none":
            assert _plain(actual) == _plain(wanted), about
            return
        got, want = np.asarray(actual, dtype=float), np.asarray(wanted, dtype=float)
        assert got.shape == want.shape, about
        if kind == "abs":
            # A hair of rounding: 5.000000000000001 − 5 is no disagreement at 1e-9.
            assert np.all(np.abs(got - want) <= size * (1 + 1e-6)), about
        elif kind == "rel":
            assert np.all(np.abs(got - want) <= (size + 1e-13) * np.abs(want)), about
        else:
            assert kind == "factor"
            assert np.all((got <= want * size) & (got >= want / size)), about


def _plain(value: Any) -> Any:
    """Compare numbers as numbers, at the digits of a print, and text as text."""
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    return value if isinstance(value, str) else round(float(value), 9)


class Group:
    """The entries of one data file, and which check of the test module answers which."""

    def __init__(self, name: str, checks: dict[str, Any], not_ours: dict[str, str]) -> None:
        rows = json.loads((DATA / f"signals_{name}.json").read_text(encoding="utf-8"))
        self.entries = [Entry(**row) for row in rows]
        self.checks = checks
        self.not_ours = not_ours

    def patterns(self, entry: Entry) -> list[str]:
        return [pattern for pattern in self.checks if fnmatchcase(entry.id, pattern)]

    @property
    def parameters(self) -> list[Any]:
        """One test per entry that our code answers; the label shows in the test's name."""
        return [
            pytest.param(self.checks[pattern], entry, id=f"{entry.label}-{entry.id}")
            for entry in self.entries
            for pattern in self.patterns(entry)
        ]

    def assert_covered(self) -> None:
        """Every entry is checked once or named with a reason, and no check idles."""
        for entry in self.entries:
            answers = len(self.patterns(entry)) + (entry.id in self.not_ours)
            assert answers == 1, f"{entry.id} is answered {answers} times"
        ids = {entry.id for entry in self.entries}
        assert len(ids) == len(self.entries)
        assert set(self.not_ours) <= ids
        used = {pattern for entry in self.entries for pattern in self.patterns(entry)}
        assert used == set(self.checks)
        assert all(self.not_ours.values())
