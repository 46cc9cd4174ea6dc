"""How mains and floor moved over a record."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.capture.capture import Channel
from straypath.contents.whole import read_contents

RATE_HZ = 5_000.0


def course(x):
    return read_contents(Channel("invented", x, "V"), RATE_HZ).course


def test_hum_that_swells_and_noise_that_grows():
    t = np.arange(int(30 * RATE_HZ)) / RATE_HZ
    swell, noise = 0.1 * (1 + t / 30), 1e-3 * (1 + t / 15)
    x = swell * np.cos(2 * np.pi * 49.97 * t) + 0.01 * np.cos(2 * np.pi * 149.91 * t + 1)
    found = course(x + noise * np.random.default_rng(1).standard_normal(len(t)))
    at = np.array(found.times_s)
    assert found.orders == (1, 3)
    np.testing.assert_allclose(found.rms[0], 0.1 * (1 + at / 30) / np.sqrt(2), rtol=0.01)
    np.testing.assert_allclose(found.rms[1], 0.01 / np.sqrt(2), rtol=0.05)
    wanted = 1e-3 * (1 + at / 15) * np.sqrt(2 / RATE_HZ)
    assert np.abs(np.array(found.floor) / wanted - 1).max() < 5 * found.floor_u + 0.02


def test_frequency_that_walks():
    t = np.arange(int(60 * RATE_HZ)) / RATE_HZ
    f = 50.0 + 0.03 * np.sin(2 * np.pi * t / 60)
    phase = 2 * np.pi * np.cumsum(f) / RATE_HZ
    x = np.cos(phase) + 0.1 * np.cos(3 * phase)
    found = course(x + 1e-3 * np.random.default_rng(1).standard_normal(len(t)))
    wanted = 50.0 + 0.03 * np.sin(2 * np.pi * np.array(found.times_s) / 60)
    np.testing.assert_allclose(found.mains_hz, wanted, atol=2e-3)


def test_noise_alone_has_a_course_of_its_floor():
    found = course(np.random.default_rng(1).standard_normal(int(10 * RATE_HZ)))
    assert found.orders == ()
    assert found.floor == pytest.approx([np.sqrt(2 / RATE_HZ)] * len(found.floor), rel=0.25)


def test_a_short_record_has_none():
    assert course(np.random.default_rng(1).standard_normal(2_000)) is None
