"""A clock that makes up nearly all lines, its folded harmonics with it."""

from __future__ import annotations

import numpy as np
import pytest
from contents.families.invented_lines import line, sidebands, unrelated

from straypath.contents.families.agreement import Places
from straypath.contents.families.dominant import dominant_clock, stands_for_comb
from straypath.contents.families.grouping import group_lines
from straypath.uncertainty import from_normal


def folded(rate_hz, orders, fs, *, rms=1e-3):
    """Harmonics of a waveform with edges where a record shows them."""
    true = rate_hz * np.asarray(orders)
    shown = np.abs(true - fs * np.round(true / fs))
    return [line(f, rms / k, 1e-4) for f, k in zip(shown, orders, strict=True)]


def places_of(lines, duration_s=10.0):
    lines = sorted(lines, key=lambda one: one.frequency_hz.value)
    return Places.of(lines, duration_s)


def dominant(lines, fs=10e3, duration_s=10.0):
    places = places_of(lines, duration_s)
    free = np.ones(len(places), dtype=bool)
    return places, dominant_clock(places, free, 2.0 / duration_s, fs, np.inf)


@pytest.mark.parametrize("rate_hz", [437.3, 813.37, 1234.5])
def test_hundreds_of_folded_harmonics_are_one_clock(rate_hz):
    lines = folded(rate_hz, range(1, 400, 2), 10e3)
    (clock,) = group_lines(lines, None, 10.0, 10e3)
    assert clock.kind == "clock"
    assert clock.orders == tuple(range(1, 400, 2))
    assert abs(clock.rate_hz.value - rate_hz) < 4 * clock.rate_hz.u


def test_the_rate_is_that_of_the_strongest_lines():
    """All multiples of 40 Hz show, yet the power is in odd ones of 80 Hz."""
    lines = folded(80.0, range(1, 121, 2), 5e3)
    _, found = dominant(lines, 5e3, 4.0)
    assert found is not None
    assert found.clock.orders.min() == 1
    assert found.clock.true_hz.min() == pytest.approx(80.0)


def test_unrelated_lines_have_no_dominant_clock():
    """100 draws of 60 lines at a level of 1e-3: two or more have a chance of 5e-3."""
    seen = 0
    for seed in range(100):
        lines = unrelated(np.random.default_rng(seed), 60, 10.0, 10e3, "even")
        seen += dominant(lines)[1] is not None
    assert seen <= 1


def test_a_carrier_with_its_sidebands_has_no_dominant_clock():
    assert dominant(sidebands(3217.7, 49.98, range(-6, 7)))[1] is None


def test_folded_multiples_of_the_mains_are_no_carriers():
    """Pulses twice per cycle: orders to 1,200 of 49.98 Hz at 10 kS/s."""
    mains = from_normal(49.98, 1e-5)
    (clock,) = group_lines(folded(2 * 49.98, range(21, 600), 10e3), mains, 10.0, 10e3)
    assert clock.kind == "clock"
    assert clock.beside is not None
    assert (clock.beside.order, clock.beside.separate) == (2, False)


def chance_of_comb(lines, f0_hz, clear, fs, duration_s):
    places, found = dominant(lines, fs, duration_s)
    assert found is not None
    order = np.round(places.f / f0_hz)
    on = (np.abs(places.f - order * f0_hz) < 1e-3) & np.isin(order, clear)
    comb = np.flatnonzero(on)
    rest = np.flatnonzero(~on)
    return stands_for_comb(found, places, comb, rest, from_normal(f0_hz, 1e-5))


def test_a_clock_explains_a_comb_that_it_folds_onto():
    lines = folded(80.0, range(1, 121, 2), 5e3)
    assert chance_of_comb(lines, 60.0, [2, 4, 6, 10], 5e3, 4.0) < 1e-6


@pytest.mark.parametrize("f0_hz", [49.98, 99.96, 499.8])
def test_a_multiple_or_part_of_a_supply_says_nothing_against_it(f0_hz):
    """The clock stands at 99.96 Hz."""
    lines = folded(99.96, range(1, 121), 10e3)
    clear = [10, 20, 30] if f0_hz < 400 else [1, 2, 3]
    assert chance_of_comb(lines, f0_hz, clear, 10e3, 10.0) == 1.0


def test_one_order_that_the_clock_does_not_explain_keeps_the_comb():
    lines = [*folded(80.0, range(1, 121, 2), 5e3), line(60.0 * 3 + 0.0, 1e-5)]
    assert chance_of_comb(lines, 60.0, [2, 3, 4], 5e3, 4.0) == 1.0
