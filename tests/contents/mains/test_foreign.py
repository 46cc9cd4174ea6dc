"""Lines that lie in the range of a supply by chance are not called the mains."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb
from straypath.contents.mains.foreign import common_order, mains_probability
from straypath.contents.mains.systems import HZ_50, HZ_60

RATE_HZ = 5_000.0


def found(wave, seconds, **options):
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    x = 0.01 * wave(t) + 1e-4 * np.random.default_rng(1).standard_normal(len(t))
    return mains_comb(Channel("invented", x), RATE_HZ, **options)


def tone(f_hz):
    return lambda t: np.cos(2 * np.pi * f_hz * t)


@pytest.mark.parametrize("seconds", [0.5, 4.0])
@pytest.mark.parametrize("f_hz", [24.3, 274.6, 440.0, 453.8, 1_000.0, 1_234.5])
def test_one_tone_far_from_any_supply_is_not_the_mains(f_hz, seconds):
    assert not found(tone(f_hz), seconds).present


@pytest.mark.parametrize("seconds", [0.5, 4.0])
@pytest.mark.parametrize("f_hz", [49.97, 60.02, 100.04, 119.96, 150.03])
def test_one_tone_at_a_usual_order_is_the_mains(f_hz, seconds):
    comb = found(tone(f_hz), seconds)
    assert comb.present
    assert comb.nominal_probability > 0.9


@pytest.mark.parametrize("f_hz", [45.0, 47.0, 63.7, 66.0])
def test_a_tone_off_every_grid_leaves_doubt(f_hz):
    """A generator, or something else: neither is sure."""
    assert 0.1 < found(tone(f_hz), 4.0).nominal_probability < 0.9


def test_a_square_wave_of_25_hz_is_not_the_mains():
    assert not found(lambda t: np.sign(np.sin(2 * np.pi * 25 * t)), 4.0).present


@pytest.mark.parametrize("seconds", [0.2, 0.5, 4.0])
def test_aircraft_supply_is_no_seventh_order(seconds):
    comb = found(lambda t: sum(tone(400.01 * k)(t) / k for k in (1, 3, 5)), seconds)
    assert (comb.present, comb.nominal_hz) == (True, 400.0)


def test_named_supply_is_not_seen_in_the_skirts_of_another():
    assert not found(tone(50.0), 4.0, mains=60.0).present


def test_the_probability_in_closed_form():
    """50 Hz to 1 mHz: p = 0.9/(0.15 √2π) + 0.1/15 against 1/(50 ln 10⁴)."""
    density = 0.9 / (0.15 * np.sqrt(2 * np.pi)) + 0.1 / 15
    mains, other = 0.8 * density, 1 / (50 * np.log(1e4))
    seen = mains_probability(HZ_50, 50.0, 0.001, [1, 5], named=False)
    assert seen == pytest.approx(mains / (mains + other), rel=1e-4)
    assert mains_probability(HZ_60, 62.857, 0.001, [7], named=False) < 0.01


@pytest.mark.parametrize(("orders", "common"), [((), 1), ((3,), 3), ((2, 4, 6), 2), ((7, 9), 1)])
def test_common_order(orders, common):
    assert common_order(orders) == common
