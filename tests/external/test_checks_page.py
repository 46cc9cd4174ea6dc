"""The page on what is checked must not drift away from the checks."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from external import (
    test_estimation_bound,
    test_line_cycle,
    test_noise,
    test_short_record,
    test_signatures,
    test_sine_fit,
    test_spectral_statistics,
    test_supply_standard,
    test_uncertainty,
)

PAGE = Path(__file__).parents[2] / "docs" / "checks.md"
MODULES = {
    "estimation bound": test_estimation_bound,
    "short record": test_short_record,
    "sine fit": test_sine_fit,
    "line cycle": test_line_cycle,
    "uncertainty": test_uncertainty,
    "supply standard": test_supply_standard,
    "noise": test_noise,
    "signatures": test_signatures,
    "statistics": test_spectral_statistics,
}


@pytest.mark.parametrize("name", MODULES)
def test_counts_of_the_page(name):
    group = MODULES[name].GROUP
    count = Counter(e.label for e in group.entries if e.id not in group.not_ours)
    independent = count["independent"] + count["independent-approximate"]
    cells = [len(group.entries), count["published"], count["published-from-memory"], independent]
    cells += [count["common-practice"], len(group.not_ours)]
    assert f"| {name} | {' | '.join(map(str, cells))} |" in PAGE.read_text(encoding="utf-8")
