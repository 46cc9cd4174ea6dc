"""Arithmetic of the trade, not our code: what a screen and a wavelength look like."""

from __future__ import annotations

import pytest
from scipy.constants import speed_of_light


@pytest.mark.parametrize(("mains_hz", "divisions"), [(60.0, 1.67), (50.0, 2.0)])
def test_divisions_of_one_cycle_at_10_ms_each(mains_hz, divisions):
    """Common practice: one period over the time of a division, to half the printed digit."""
    assert 1.0 / mains_hz / 10e-3 == pytest.approx(divisions, abs=0.005)


def test_wavelength_of_60_hz_in_air():
    """Published: c is exact (SI Brochure, 2019). 'Near 5,000 km' taken as one per cent.

    The refractive index of air, 1.0003, is from memory and does not show at that.
    """
    assert speed_of_light / 1.0003 / 60.0 == pytest.approx(5_000e3, rel=0.01)
