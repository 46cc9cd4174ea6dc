"""Clocks are found, at the right rate, and lines that only look like one are not."""

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
    unrelated,
)

from straypath.contents.families.grouping import group_lines
from straypath.uncertainty import from_normal


def group(lines, mains=MAINS, duration_s=DURATION_S, rate_hz=RATE_HZ, **more):
    return group_lines(lines, mains, duration_s, rate_hz, **more)


@pytest.mark.parametrize(
    "orders", [(1, 2, 3), (1, 3, 5, 7), (3, 4, 7), (1, 2), (4, 6, 9, 10), tuple(range(1, 40))]
)
@pytest.mark.parametrize("rate_hz", [1000.0, 216.66666666666666, 2511.37])
def test_clock(orders, rate_hz):
    rng = np.random.default_rng(3)
    (clock,) = group(harmonics(rate_hz, orders, rng=rng))
    assert clock.kind == "clock"
    assert clock.orders == orders
    assert abs(clock.rate_hz.value - rate_hz) < 4 * clock.rate_hz.u
    assert clock.rms.value == pytest.approx(
        np.sqrt(sum(member.rms.value**2 for member in clock.lines))
    )


def test_clock_among_unrelated_lines():
    """Four harmonics and ten others, 1 s, u at 1 % of a cell: found whole in all of 200 draws.

    Another line joins it by chance in at most 5 % (`JOIN_CHANCE`): 10 expected at most, more than
    20 has a chance below 1e-3.
    """
    whole, joined = 0, 0
    for seed in range(200):
        rng = np.random.default_rng(seed)
        rate_hz = rng.uniform(200.0, 2000.0)
        lines = harmonics(rate_hz, range(1, 5), rng=rng, u=0.01)
        lines += unrelated(rng, 10, 1.0, 200e3, "even")
        found = [f for f in group(lines, None, 1.0, 200e3) if f.kind == "clock"]
        whole += len(found) == 1 and set(found[0].orders) >= {1, 2, 3, 4}
        joined += any(len(f.lines) > 4 for f in found)
    # A member read more than four u off is left out: 1 in 4,000 draws.
    assert whole >= 199
    assert joined <= 20


@pytest.mark.parametrize("order", [2, 3])
@pytest.mark.parametrize("others", [[], [333.33], [333.33, 790.1]])
def test_two_lines_are_a_clock_where_there_are_few(order, others):
    """24.3001 ± 0.0002 Hz and its double or treble, in 20 s at 2 kS/s."""
    lines = [line(24.3001, u=2e-4), line(order * 24.3001, u=5e-4)]
    found = group([*lines, *(line(f, u=2e-4) for f in others)], None, 20.0, 2e3)
    assert sorted(f.kind for f in found) == ["clock"] + ["single"] * len(others)
    assert next(f.orders for f in found if f.kind == "clock") == (1, order)


@pytest.mark.parametrize("count", [2, 3, 6])
def test_few_unrelated_lines_are_seldom_a_clock(count):
    """600 records of 20 s at 2 kS/s and a level of 1e-3: more than 3 have a chance of 4e-3."""
    seen = 0
    for seed in range(600):
        lines = unrelated(np.random.default_rng(seed), count, 20.0, 2e3, "log")
        seen += any(f.kind == "clock" for f in group(lines, None, 20.0, 2e3))
    assert seen <= 3


def test_two_clocks_are_kept_apart():
    lines = harmonics(1000.0, range(1, 9)) + harmonics(1372.4, range(1, 6))
    found = group(lines)
    assert sorted(round(f.rate_hz.value, 3) for f in found) == [1000.0, 1372.4]


def test_the_largest_rate_that_explains_all():
    (clock,) = group(harmonics(500.0, (2, 4, 6)))
    assert clock.rate_hz.value == pytest.approx(1000.0)
    assert clock.orders == (1, 2, 3)


def test_one_more_line_at_half_the_rate_lowers_it():
    (clock,) = group([*harmonics(1000.0, (1, 2, 3)), line(2500.0)])
    assert (round(clock.rate_hz.value), clock.orders) == (500, (2, 4, 5, 6))


def test_a_loose_line_does_not_lower_the_rate():
    """At 0.1 s a line is near some harmonic of a low rate too often to tell."""
    lines = [*harmonics(1000.0, (1, 2, 3), u=0.1), line(1500.0, u=4.0)]
    clock, single = group(lines, None, 0.1)
    assert (clock.kind, clock.orders, single.kind) == ("clock", (1, 2, 3), "single")


@pytest.mark.parametrize("orders", [(11, 12), (1, 13)])
def test_two_lines_of_high_order_are_no_clock(orders):
    assert {f.kind for f in group(harmonics(1000.0, orders), None)} == {"single"}


def test_two_lines_of_loose_agreement_are_no_clock():
    assert {f.kind for f in group(harmonics(100.0, (1, 2), u=1.0), None, 0.2)} == {"single"}


def test_nothing_below_the_resolution():
    """Lines 15 Hz apart in 0.1 s: two cells are 20 Hz."""
    lines = harmonics(15.0, (3, 4, 5, 6, 7), u=1e-3)
    assert all(f.kind != "clock" or f.rate_hz.value >= 20.0 for f in group(lines, None, 0.1))


def test_sidebands_of_a_far_carrier_are_no_clock():
    found = group(sidebands(65432.1, 217.3, range(-6, 7)))
    assert [f.kind for f in found] == ["carrier"]


def test_folded_harmonics_join():
    """1234.5 Hz at 10 kS/s: orders 5, 7 and 9 show folded."""
    places = [1234.5, 3703.5, 10000 - 6172.5, 10000 - 8641.5, 11110.5 - 10000]
    (clock,) = group([line(f) for f in places], rate_hz=10e3)
    assert clock.orders == (1, 3, 5, 7, 9)
    assert clock.rate_hz.value == pytest.approx(1234.5, abs=1e-3)


def test_an_input_of_known_bandwidth_folds_nothing():
    places = [1234.5, 3703.5, 10000 - 6172.5]
    found = group([line(f) for f in places], rate_hz=10e3, bandwidth_hz=5e3)
    assert sorted(f.kind for f in found) == ["clock", "single"]


# Mains ----------------------------------------------------------------------------------------


def test_orders_above_the_comb_are_a_clock_that_is_the_mains():
    (clock,) = group(harmonics(49.98, (41, 43, 47, 49, 53, 59), rng=np.random.default_rng(1)))
    assert clock.kind == "clock"
    assert clock.orders == (41, 43, 47, 49, 53, 59)
    assert clock.rate_hz.value == pytest.approx(49.98, abs=1e-3)
    assert (clock.beside.order, clock.beside.separate) == (1, False)


def test_even_orders_are_a_clock_at_twice_the_mains():
    (clock,) = group(harmonics(49.98, (42, 44, 46)))
    assert clock.orders == (21, 22, 23)
    assert (clock.beside.order, clock.beside.separate) == (2, False)
    assert "rectifier-ripple" in [match.id for match in clock.matches]


def test_a_lone_high_order_is_single_and_inseparable():
    (alone,) = group([line(43 * 49.98)])
    assert (alone.kind, alone.beside.order, alone.beside.separate) == ("single", 43, False)


def test_smeared_high_orders_join_the_mains():
    lines = [line(49.98 * k + 0.05, u=0.02, width=0.5) for k in (41, 43, 45)]
    (clock,) = group(lines)
    assert (clock.kind, clock.orders, clock.beside.separate) == ("clock", (41, 43, 45), False)


def test_folded_orders_of_the_mains():
    lines = [line(abs(k * 49.98 - 1000.0)) for k in (11, 13, 17, 19)]
    (clock,) = group(lines, rate_hz=1000.0)
    assert (clock.orders, clock.beside.order) == ((11, 13, 17, 19), 1)


def test_a_1_khz_clock_beside_order_20():
    """f0 = 49.98 Hz puts the order at 999.6 Hz: two lines in 10 s, one in 0.05 s."""
    (clock,) = group(harmonics(1000.0, range(1, 6)))
    assert clock.beside.order == 20
    assert clock.beside.distance_hz == pytest.approx(0.4, abs=1e-3)
    assert clock.beside.separate
    assert clock.matches[0].id == "usb-frame"

    short = group([line(1000.0, u=0.5)], from_normal(49.98, 0.05), 0.05, 50e3)
    assert (short[0].beside.order, short[0].beside.separate) == (20, False)


def test_a_clock_on_the_mains_is_inseparable_at_its_own_rate():
    (clock,) = group(harmonics(1000.0, (2, 3, 4)), from_normal(50.0, 1e-3))
    assert round(clock.rate_hz.value) == 1000
    assert (clock.beside.order, clock.beside.separate) == (20, False)
    assert "usb-frame" in [match.id for match in clock.matches]
