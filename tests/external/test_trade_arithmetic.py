"""Plain numbers of the trade, by way of our supplies, our units and our printing.

Nothing is estimated here: these checks hold that nominal frequencies, prefixes and rounding give
what a person at the bench reckons in the head.
"""

from __future__ import annotations

import pytest
from scipy.constants import speed_of_light

from straypath.physics.supply import REGIONS
from straypath.units import parse_value
from straypath.wording import amount, number, plain

AMERICA = "USA, Canada, Mexico, Taiwan, north of South America"
EUROPE = "Europe, UK, most of Asia, Africa, Australia"


@pytest.mark.parametrize(("region", "divisions"), [(AMERICA, "1.67"), (EUROPE, "2")])
def test_divisions_of_one_cycle_at_10_ms_each(region, divisions):
    """Common practice, no source: one period over the time of a division, as printed."""
    period_s = 1.0 / REGIONS[region].frequency_hz
    assert number(period_s / parse_value("10 ms", "s")) == divisions


def test_wavelength_of_60_hz_in_air():
    """Published: c is exact (SI Brochure, 2019). 'Near 5,000 km' is one digit of it.

    The refractive index of air, 1.0003, is from memory and does not show at that.
    """
    wavelength_m = speed_of_light / 1.0003 / parse_value("60 Hz", "Hz")
    assert plain(amount(wavelength_m, "m", 1)).replace("\u202f", " ") == "5 Mm"
    assert parse_value("5000 km", "m") == pytest.approx(wavelength_m, rel=0.01)
