"""Carriers with sidebands at the mains, at a burst rate, on the harmonics of a clock."""

from __future__ import annotations

import numpy as np
import pytest
from contents.families.invented_lines import (
    DURATION_S,
    MAINS,
    RATE_HZ,
    harmonics,
    line,
    sidebands,
)

from straypath.contents.families.grouping import group_lines
from straypath.uncertainty import from_normal


def group(lines, mains=MAINS, duration_s=DURATION_S, rate_hz=RATE_HZ):
    return group_lines(lines, mains, duration_s, rate_hz)


@pytest.mark.parametrize("spacing_hz", [49.98, 99.96, 217.3])
@pytest.mark.parametrize("orders", [(-1, 0, 1), (-3, -2, -1, 0, 1, 2, 3), (-2, -1, 0, 1)])
def test_carrier(spacing_hz, orders):
    rng = np.random.default_rng(5)
    (carrier,) = group(sidebands(65432.1, spacing_hz, orders, rng=rng))
    assert carrier.kind == "carrier"
    assert carrier.orders == orders
    assert abs(carrier.rate_hz.value - 65432.1) < 4 * carrier.rate_hz.u
    assert abs(carrier.spacing_hz.value - spacing_hz) < 4 * carrier.spacing_hz.u


def test_a_narrow_spacing_needs_more_sidebands():
    """3.7 Hz read to 1 mHz: three lines may be chance, seven not."""
    assert {f.kind for f in group(sidebands(65432.1, 3.7, (-1, 0, 1)))} == {"single"}
    (carrier,) = group(sidebands(65432.1, 3.7, range(-3, 4)))
    assert carrier.orders == tuple(range(-3, 4))


def test_sidebands_at_even_orders_give_twice_the_mains():
    (carrier,) = group(sidebands(65432.1, 49.98, (-4, -2, 0, 2, 4)))
    assert carrier.spacing_hz.value == pytest.approx(99.96, abs=1e-3)
    assert carrier.orders == (-2, -1, 0, 1, 2)


def test_a_short_record_knows_the_mains_spacing():
    """0.1 s, u at half a per cent of a cell: three lines suffice since the spacing is known."""
    lines = sidebands(65432.1, 99.96, (-1, 0, 1), u=0.05)
    (carrier,) = group(lines, from_normal(49.98, 0.01), 0.1)
    assert carrier.orders == (-1, 0, 1)


def test_a_burst_rate_is_matched_too():
    (carrier,) = group(sidebands(65432.1, 650 / 3, range(-6, 7)))
    assert carrier.orders == tuple(range(-6, 7))
    assert {"phone-frame", "ripple-control"} <= {match.id for match in carrier.matches}
    # Matches of the carrier's frequency come first.
    assert carrier.matches[0].id == "mains-adapter"


def test_one_sideband_is_no_carrier():
    assert {f.kind for f in group(sidebands(65432.1, 99.96, (0, 1)))} == {"single"}


def test_the_carrier_is_the_strongest():
    lines = [line(65432.1, 1e-7), line(65332.14, 1e-6), line(65532.06, 1e-6)]
    assert {f.kind for f in group(lines)} == {"single"}


def test_sidebands_of_the_harmonics_of_a_clock():
    lines = [
        side
        for h in (1, 2, 3)
        for side in sidebands(h * 65432.1, 99.96, range(-2, 3), rms=1e-5 / h)
    ]
    found = group(lines)
    assert [f.kind for f in found].count("clock") == 1
    clock = next(f for f in found if f.kind == "clock")
    assert clock.orders == (1, 2, 3)
    carriers = sorted((f for f in found if f.kind == "carrier"), key=lambda f: f.rate_hz.value)
    assert [round(f.rate_hz.value / 65432.1) for f in carriers] == [1, 2, 3]
    # The harmonic itself counts with the clock.
    assert all(f.orders == (-2, -1, 1, 2) for f in carriers)


def test_burst_rate_below_and_around_the_carrier():
    lines = sidebands(65432.1, 217.3, (-1, 0, 1)) + harmonics(217.3, range(1, 8))
    found = group(lines)
    assert sorted(f.kind for f in found) == ["carrier", "clock"]


@pytest.mark.parametrize("peak", [1, 2, 5, 9])
@pytest.mark.parametrize("step", [1, 2, 3])
def test_a_clock_with_a_strong_harmonic_is_no_carrier(peak, step):
    orders = range(1, 12, step)
    lines = [line(1000.0 * k, 1e-6 / (1 + (k - peak) ** 2)) for k in orders]
    (clock,) = group(lines, None)
    assert (clock.kind, clock.orders) == ("clock", tuple(orders))


def test_equal_strength_hides_no_clock():
    (clock,) = group([line(2511.3 * k) for k in range(1, 100)], None)
    assert clock.kind == "clock"
    assert len(clock.lines) == 99
