"""The names of the package, and records that show themselves."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from matplotlib.figure import Figure

import straypath
from straypath.demo import example

HEAVY = ("numpy", "scipy", "polars", "matplotlib", "h5py", "pyarrow")


@pytest.fixture(scope="module")
def found():
    with example() as path:
        return straypath.examine(straypath.read(path))


def test_names_are_sorted_and_all_there():
    assert straypath.__all__ == sorted(straypath.__all__)
    assert set(straypath.__all__) <= set(dir(straypath))
    for name in straypath.__all__:
        assert getattr(straypath, name).__name__ == name
    with pytest.raises(AttributeError, match="no attribute 'wiggle'"):
        _ = straypath.wiggle


def test_importing_the_package_loads_no_numerical_library():
    code = f"import straypath, sys; sys.exit(any(m in sys.modules for m in {HEAVY!r}))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0  # noqa: S603


def test_what_was_put_in_comes_out(found):
    # independent: the numbers of tools/make_example.py, which made the recording
    mains = found.channels[0].mains
    assert mains.present
    assert mains.nominal_hz == 50.0
    assert mains.nominal_probability > 0.99
    first = mains.lines[0]
    assert first.rms.low <= 1310e-6 <= first.rms.high
    assert {1, 2, 3, 5, 7, 9, 11, 13} <= {line.order for line in mains.detected}


def test_records_show_themselves(found):
    assert repr(found).startswith("invented-geophone.csv: 40\u202f000 samples, 20\u202fs")
    assert "A mains comb at" in repr(found)
    assert "1 geophone" in repr(found.capture)
    assert "Invented data" in found._repr_html_()
    assert "geophone" in found.capture._repr_html_()


def test_records_are_frozen(found):
    with pytest.raises(FrozenInstanceError):
        found.channels = ()
    with pytest.raises(FrozenInstanceError):
        found.capture.rate_hz = 1.0


def test_plot_returns_a_figure(found):
    assert isinstance(found.plot(), Figure)
    assert isinstance(found.plot(dark=True), Figure)


def test_examine_takes_a_path_or_any_capture(tmp_path):
    path = tmp_path / "a.npy"
    np.save(path, np.random.default_rng(3).normal(0, 1e-3, 4000))
    with pytest.raises(straypath.NeedsFact, match="rate"):
        straypath.examine(path)
    plain = straypath.read(path, rate_hz=2000.0)
    assert not straypath.examine(plain).channels[0].mains.present


def test_errors_are_told_by_type(tmp_path):
    with pytest.raises(straypath.InputError, match="no such file"):
        straypath.read(tmp_path / "missing.csv")
    with example() as path, pytest.raises(straypath.InputError, match="no channel 'x'"):
        straypath.examine(path, channels=["x"])
