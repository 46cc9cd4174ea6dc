"""What must hold for any lines: one family each, none by chance, no effect of order or scale."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from contents.families.invented_lines import (
    DURATION_S,
    MAINS,
    RATE_HZ,
    harmonics,
    line,
    partition,
    sidebands,
    unrelated,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from straypath.contents.families.agreement import LEVEL
from straypath.contents.families.grouping import group_lines
from straypath.uncertainty import from_normal

MIXED = (
    harmonics(1000.0, range(1, 7))
    + sidebands(65432.1, 99.96, range(-3, 4))
    + sidebands(131072.7, 217.3, range(-2, 3), rms=1e-6)
    + harmonics(49.98, (41, 43, 47))
    + [line(777.7), line(23456.7), line(5000.5, width=12.0)]
)


def group(lines, mains=MAINS, duration_s=DURATION_S, rate_hz=RATE_HZ):
    return group_lines(lines, mains, duration_s, rate_hz)


@pytest.mark.parametrize("spread", ["even", "log"])
@pytest.mark.parametrize(
    ("duration_s", "rate_hz", "count"), [(0.1, 5e3, 15), (1.0, 50e3, 30), (10.0, 1e6, 15)]
)
def test_unrelated_lines_are_not_grouped(spread, duration_s, rate_hz, count):
    """300 draws at 2·LEVEL: 0.6 expected at most; more than 4 has a chance below 1e-3."""
    rng = np.random.default_rng(11)
    mains = from_normal(49.98, 0.003 / duration_s)
    wrong = 0
    for _ in range(300):
        lines = unrelated(rng, count, duration_s, rate_hz, spread)
        found = group(lines, mains, duration_s, rate_hz)
        wrong += any(family.kind in {"clock", "carrier"} for family in found)
    assert LEVEL == 1e-3
    assert wrong <= 4


def test_one_carrier_makes_no_clock_of_unrelated_lines():
    """Sidebands agree with each other; 100 draws beside ten unrelated lines."""
    wrong = 0
    for seed in range(100):
        rng = np.random.default_rng(seed)
        lines = sidebands(rng.uniform(2e4, 4e5), 217.3, range(-5, 6), rng=rng)
        lines += unrelated(rng, 10, DURATION_S, RATE_HZ, "even")
        wrong += any(family.kind == "clock" for family in group(lines))
    assert wrong <= 3


def test_the_mixture_is_taken_apart():
    found = group(MIXED)
    assert sorted(f.kind for f in found) == [
        "carrier", "carrier", "clock", "clock", "narrow-band", "single", "single",
    ]  # fmt: skip
    assert [f.rms.value for f in found] == sorted((f.rms.value for f in found), reverse=True)


@settings(deadline=None, max_examples=30)
@given(st.permutations(MIXED))
def test_the_order_of_the_lines_does_not_matter(lines):
    assert group(lines) == group(MIXED)


@settings(deadline=None, max_examples=30)
@given(st.floats(1e-3, 1e3))
def test_scaling_all_frequencies_changes_nothing(scale):
    lines = [
        replace(
            one,
            frequency_hz=one.frequency_hz.scaled(scale),
            width_hz=one.width_hz and one.width_hz.scaled(scale),
        )
        for one in MIXED
    ]
    found = group(lines, MAINS.scaled(scale), DURATION_S / scale, RATE_HZ * scale)
    assert [(f.kind, f.orders) for f in found] == [(f.kind, f.orders) for f in group(MIXED)]


@settings(deadline=None, max_examples=150)
@given(st.floats(5.0, 4.9e5), st.floats(1e-9, 1e-4))
def test_one_more_line_leaves_the_others_together(hz, rms):
    """It may join a family or stay alone; what was together stays so, while it is resolved."""
    if min(abs(one.frequency_hz.value - hz) for one in MIXED) < 2.0 / DURATION_S:
        return
    more = partition(group([*MIXED, line(hz, rms)]))
    assert {members - {hz} for members in more} - {frozenset()} == partition(group(MIXED))


@st.composite
def any_lines(draw):
    places = draw(st.lists(st.floats(1e-3, 5e5), max_size=25))
    grid = draw(st.floats(1.0, 5e3))
    places += [grid * k for k in draw(st.lists(st.integers(1, 60), max_size=10))]
    u = draw(st.sampled_from([0.0, 1e-6, 1e-3, 0.1]))
    rms = draw(st.sampled_from([0.0, 1e-6]))
    return [line(f, rms or 1e-9 * (i + 1), u) for i, f in enumerate(places)]


@settings(deadline=None, max_examples=100)
@given(any_lines(), st.sampled_from([0.05, 1.0, 100.0]), st.booleans())
def test_every_line_is_in_one_family(lines, duration_s, with_mains):
    mains = MAINS if with_mains else None
    found = group(lines, mains, duration_s)
    members = sorted(one.frequency_hz.value for f in found for one in f.lines)
    assert members == sorted(one.frequency_hz.value for one in lines)
    for family in found:
        assert len(family.orders) == len(family.lines)
        assert family.rate_hz.low <= family.rate_hz.value <= family.rate_hz.high
        assert (family.beside is not None) == with_mains
        if family.kind == "clock":
            assert len(family.lines) >= 2
            assert family.rate_hz.value * duration_s >= 2.0 - 1e-9
            assert np.gcd.reduce(family.orders) == 1


def test_no_lines_no_families():
    assert group([]) == ()


def test_lines_come_with_what_folds_onto_them():
    (alone,) = group([line(50.0)], None, 10.0, 1000.0)
    assert alone.lines[0].true_hz[:2] == (950.0, 1050.0)
    kept = replace(line(50.0), true_hz=(100_000.0,))
    assert group([kept], None, 10.0, 1000.0)[0].lines[0].true_hz == (100_000.0,)


def test_narrow_band():
    (band,) = group([line(5000.5, width=12.0)])
    assert (band.kind, band.matches, band.beside.separate) == ("narrow-band", (), False)
