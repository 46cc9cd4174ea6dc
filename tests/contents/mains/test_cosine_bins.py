"""The closed form of a line in cosine bins, against the transform itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy import fft

from straypath.contents.mains.cosine_bins import cosine_bins

RATE_HZ = 5_000.0


@example(samples=500, f=50.0, phase=0.3)
@example(samples=500, f=50.0 - 5e-9, phase=0.3)
@example(samples=500, f=50.0 + 4e-6, phase=0.3)
@given(
    samples=st.integers(20, 700),
    f=st.floats(5.0, 2_400.0),
    phase=st.floats(-np.pi, np.pi),
)
def test_closed_form_is_the_transform(samples, f, phase):
    """Independent: scipy.fft.dct of the sampled line."""
    u = (np.arange(samples) - (samples - 1) / 2) / RATE_HZ
    x = np.cos(2 * np.pi * f * u + phase)
    bins = cosine_bins(x, RATE_HZ, 2_500.0)
    at = np.array([f])
    direct = fft.dct(x, type=2, norm="ortho")
    for half, part, first in ((0, np.cos(phase), 2), (1, -np.sin(phase), 1)):
        wanted = direct[first::2][: len(bins.values[half])]
        np.testing.assert_allclose(part * bins.columns(at, half)[:, 0], wanted, atol=1e-5)
        np.testing.assert_allclose(bins.values[half], wanted, atol=1e-9)


def test_line_on_a_bin_is_no_division_by_zero():
    bins = cosine_bins(np.zeros(400), RATE_HZ, 2_500.0)
    table = bins.columns(np.array([50.0, 100.0]), 0)
    assert np.isfinite(table).all()
    assert np.linalg.norm(table[:, 0]) == pytest.approx(np.sqrt(200), rel=0.01)


def test_offset_leaves_no_trace():
    x = np.random.default_rng(1).standard_normal(300)
    plain, lifted = cosine_bins(x, RATE_HZ, 1e3), cosine_bins(x + 1e3, RATE_HZ, 1e3)
    np.testing.assert_allclose(plain.values[0], lifted.values[0], atol=1e-9)
