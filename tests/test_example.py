"""The included example: it is what the script in tools makes of it, and it says so."""

from __future__ import annotations

import make_example
import numpy as np

from straypath.demo import example


def numbers(text):
    return np.array([float(line) for line in text.splitlines()[make_example.HEADER.count("\n") :]])


def test_the_committed_example_is_what_the_script_writes(tmp_path):
    make_example.main(tmp_path / "again.csv")
    again = (tmp_path / "again.csv").read_text(encoding="utf-8")
    with example() as path:
        kept = path.read_text(encoding="utf-8")
        assert path.stat().st_size <= 400_000
    assert kept.startswith(make_example.HEADER)
    # Sines differ in the last bit between machines; that may move a sample by one code.
    apart = np.abs(numbers(again) - numbers(kept))
    assert apart.max() <= 1.01 * make_example.STEP_MV
    assert np.mean(apart > 1e-9) < 1e-3


def test_it_says_that_it_is_invented():
    with example() as path:
        assert path.name.startswith("invented")
        assert path.read_text(encoding="utf-8").startswith("# Invented data.")


def test_it_lies_on_the_grid_of_its_converter():
    with example() as path:
        values = numbers(path.read_text(encoding="utf-8"))
    steps = values / make_example.STEP_MV
    assert np.abs(steps - np.round(steps)).max() < 0.02
    assert np.abs(values).max() < make_example.FULL_SCALE_MV
