"""Fewer samples: nothing folds, nothing is lost, nothing moves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import upfirdn

from straypath.contents.reduction import low_pass, mean_square, reduce_rate, step_for

HIGHEST_HZ = 2_440.0


@pytest.mark.parametrize("rate_hz", [44_100.0, 100e3, 250e3, 1e6])
def test_product_equals_an_ordinary_filter(rate_hz):
    """Independent: scipy.signal.upfirdn with the same taps."""
    x = np.random.default_rng(1).standard_normal(300_000)
    reduced = reduce_rate(x, rate_hz, HIGHEST_HZ)
    step = step_for(rate_hz, HIGHEST_HZ)
    taps = low_pass(step)
    plain = upfirdn(taps, x, down=1)[len(taps) - 1 :: step]
    assert reduced.rate_hz == rate_hz / step
    np.testing.assert_allclose(reduced.samples, plain[: len(reduced.samples)], atol=1e-12)


@pytest.mark.parametrize("rate_hz", [48e3, 100e3, 200e3, 500e3, 1e6, 10e6])
def test_nothing_folds(rate_hz):
    """Bound: 90 dB against all that folds onto 0 … 2 kHz, computed from the taps."""
    step = step_for(rate_hz, HIGHEST_HZ)
    taps = low_pass(step)
    spectrum = np.abs(np.fft.rfft(taps, 64 * len(taps)))
    f = np.fft.rfftfreq(64 * len(taps), 1 / rate_hz)
    new_rate = rate_hz / step
    folds_low = np.abs(f - new_rate * np.round(f / new_rate)) <= 2_000.0
    worst = spectrum[folds_low & (f > new_rate / 2)].max()
    assert -20 * np.log10(worst / spectrum[f <= 2_000.0].min()) > 90.0


@pytest.mark.parametrize("offset", [0.0, 1e4])
def test_tone_keeps_amplitude_and_phase(offset):
    rate_hz, f = 250e3, 1_999.7
    t = np.arange(400_000) / rate_hz
    reduced = reduce_rate(offset + np.cos(2 * np.pi * f * t + 0.4), rate_hz, HIGHEST_HZ)
    u = reduced.first_s + np.arange(len(reduced.samples)) / reduced.rate_hz
    gain = reduced.response(np.array([f]))[0]
    expected = offset + gain * np.cos(2 * np.pi * f * u + 0.4)
    # What is left is the ripple of the filter about unit gain at zero frequency, on the offset.
    np.testing.assert_allclose(reduced.samples, expected, atol=1e-9 + 1e-12 * offset)
    assert reduced.mean_square == pytest.approx(0.5, rel=1e-3)


@pytest.mark.parametrize("dtype", [np.int16, np.uint8, np.int32, np.float32, np.float64])
def test_every_sample_type_is_read_alike(dtype):
    x = np.round(100 + 50 * np.sin(np.arange(60_000) / 300)).astype(dtype)
    plain = reduce_rate(x.astype(np.float64), 200e3, HIGHEST_HZ)
    np.testing.assert_allclose(reduce_rate(x, 200e3, HIGHEST_HZ).samples, plain.samples, rtol=1e-5)


def test_short_record_is_left_whole():
    x = np.arange(1_000.0)
    reduced = reduce_rate(x, 1e6, HIGHEST_HZ)
    assert reduced.rate_hz == 1e6
    np.testing.assert_array_equal(reduced.samples, x)


@pytest.mark.parametrize("offset", [0.0, 1e5])
def test_mean_square_survives_an_offset(offset):
    x = (offset + np.random.default_rng(2).standard_normal(200_000)).astype(np.float32)
    assert mean_square(x) == pytest.approx(float(np.var(x.astype(np.float64))), rel=1e-4)
