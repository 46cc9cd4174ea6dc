"""A frequency beside an order of the mains."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.contents.families.beside import SEPARATE_SIGMAS, beside_mains, coincidence
from straypath.uncertainty import from_normal

MAINS = from_normal(49.98, 1e-3)


def beside(hz, u=1e-3, duration_s=10.0, mains=MAINS, **more):
    return beside_mains(from_normal(hz, u), mains, duration_s, **more)


def test_distance_and_sigmas():
    found = beside(1000.0, 0.015)
    assert (found.order, found.distance_hz) == (20, pytest.approx(0.4))
    assert found.sigmas == pytest.approx(0.4 / (0.015**2 + 0.02**2) ** 0.5)
    assert found.separate


@pytest.mark.parametrize(
    ("duration_s", "u", "separate"),
    [
        (10.0, 1e-3, True),
        (2.6, 1e-3, True),  # 1/T = 0.385 Hz
        (2.4, 1e-3, False),  # 1/T = 0.417 Hz, however small the uncertainty
        (0.05, 1e-3, False),
        (10.0, 0.12, True),
        (10.0, 0.14, False),  # below 3 sigmas
    ],
)
def test_separate_needs_both(duration_s, u, separate):
    found = beside(1000.0, u, duration_s)
    assert found.separate is separate
    assert SEPARATE_SIGMAS == 3.0


def test_harmonics_resolve_what_the_rate_does_not():
    assert not beside(50.02).separate
    assert beside(50.02, highest=45, u=1e-4).separate


def test_a_wide_band_hides_what_lies_in_it():
    assert not beside(1000.0, width_hz=1.0).separate


def test_below_half_the_mains_the_nearest_order_is_none():
    assert beside(9.765625).order == 0


def test_exact_frequencies():
    exact = from_normal(50.0, 0.0)
    assert beside(100.0, 0.0, mains=exact).sigmas == 0.0
    assert beside(100.5, 0.0, mains=exact).separate


def test_how_often_a_clock_hides_on_the_mains():
    """Against draws: 2 f0 within 4 mHz of 100 Hz at a spread of 20 mHz."""
    f0 = 50.0 + 0.020 * np.random.default_rng(2).standard_normal(1_000_000)
    share = np.mean(np.abs(2 * f0 - 100.0) < 4e-3)
    assert coincidence(2, 4e-3, 0.020) == pytest.approx(share, abs=1e-3)
