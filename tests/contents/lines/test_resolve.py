"""Fisher's test and the fit within a narrow band."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.contents.lines.baseband import hann_kernel
from straypath.contents.lines.resolve import resolve
from straypath.contents.lines.whole import FINE, band_around, transform


def test_kernel_is_the_tapered_transform():
    """Independent: numpy.fft of the tapered line."""
    n, f = 512, 100.3
    line = np.exp(2j * np.pi * f * np.arange(n) / n)
    taper = np.sin(np.pi * np.arange(n) / n) ** 2
    direct = np.fft.fft(line * taper) / (n / 2)
    bins = np.arange(90, 112)
    np.testing.assert_allclose(hann_kernel(f - bins, n), direct[bins], atol=1e-12)


def test_a_band_holds_a_line_exactly():
    """What tapering, cutting and dividing do to a line is known to the last digit."""
    n, rate_hz, f_hz = 20_000, 1_000.0, 123.4567
    middle_s = (n - 1) / 2 / rate_hz
    t = np.arange(n) / rate_hz - middle_s
    fine = transform(np.cos(2 * np.pi * f_hz * t + 0.7), rate_hz)
    at = round(f_hz / fine.bin_hz)
    band = band_around(fine, at - 32, at + 32, middle_s)
    columns = band.columns(np.array([f_hz - band.centre_hz]))
    np.testing.assert_allclose(band.series, np.exp(0.7j) * columns[:, 0], atol=2e-5)
    tones, rest = resolve(band, 1e-6)
    assert len(tones) == 1
    assert tones[0].frequency_hz == pytest.approx(f_hz, abs=1e-8)
    assert np.abs(rest).max() < 2e-5


def test_density_of_white_noise():
    fine = transform(np.random.default_rng(1).standard_normal(50_000), 1_000.0)
    density = fine.density_of(fine.power[::FINE])
    assert np.mean(density[5:-5]) == pytest.approx(2 / 1_000.0, rel=0.03)


@pytest.mark.parametrize("n", [64, 65, 97, 100, 1_001])
def test_any_length_is_transformed(n):
    fine = transform(np.random.default_rng(n).standard_normal(n), 1_000.0)
    assert np.isfinite(fine.floor).all()
    assert len(fine.floor) == len(fine.power) == len(fine.floor_dof)


def test_a_band_wider_than_the_record_is_all_of_it():
    fine = transform(np.random.default_rng(1).standard_normal(80), 1_000.0)
    band = band_around(fine, -20, 60, 0.04)
    assert len(band.series) <= 40
    assert np.isfinite(band.series).all()
