"""The chance that unrelated lines agree, and the fits, against other routes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straypath.contents.families.agreement import chance, fit_offset, fit_rate, starts_at_zero

rates = st.floats(0.5, 1e6)


def exact_tail(p, count):
    """Poisson-binomial: chance that `count` or more of independent events happen."""
    density = np.array([1.0])
    for one in p:
        density = np.convolve(density, [1.0 - one, one])
    return density[count:].sum()


@settings(deadline=None, max_examples=200)
@given(st.lists(st.floats(1e-6, 0.05), min_size=1, max_size=40), st.integers(1, 6))
def test_bound_is_never_below_the_exact_chance(p, count):
    bound = float(chance(sum(p), count, 0.0))
    assert bound >= exact_tail(p, count) * (1 - 1e-9) - 1e-15


def test_bound_is_close_where_it_matters():
    p = np.full(20, 1e-4)
    assert float(chance(p.sum(), 2, 0.0)) < 1.1 * exact_tail(p, 2)


@settings(deadline=None, max_examples=50)
@given(rates, st.integers(0, 2**32 - 1))
def test_rate_is_that_of_general_least_squares(rate, seed):
    rng = np.random.default_rng(seed)
    k = np.sort(rng.choice(np.arange(1, 50), 8, replace=False))
    u = rate * 10.0 ** rng.uniform(-7, -4, 8)
    f = k * rate + u * rng.standard_normal(8)
    found = fit_rate(k, f, u)
    expected = np.linalg.lstsq((k / u)[:, np.newaxis], f / u, rcond=None)[0][0]
    chi2 = np.sum(((f - k * expected) / u) ** 2)
    assert found.value == pytest.approx(expected, rel=1e-12)
    least = 1.0 / np.sqrt(np.sum((k / u) ** 2))
    assert found.u == pytest.approx(least * max(1.0, np.sqrt(chi2 / 7.0)), rel=1e-6)


@settings(deadline=None, max_examples=50)
@given(rates, st.integers(0, 2**32 - 1))
def test_offset_and_spacing_are_those_of_polyfit(spacing, seed):
    rng = np.random.default_rng(seed)
    k = np.arange(-4, 5)
    u = spacing * 10.0 ** rng.uniform(-6, -4, 9)
    f = 7.3 * spacing + k * spacing + u * rng.standard_normal(9)
    offset, step = fit_offset(k, f, u)
    (slope, level), covariance = np.polyfit(k, f, 1, w=1.0 / u, cov="unscaled")
    excess = np.sqrt(max(1.0, np.sum(((f - level - k * slope) / u) ** 2) / 7.0))
    assert (offset.value, step.value) == pytest.approx((level, slope), rel=1e-9)
    assert (offset.u, step.u) == pytest.approx(
        (excess * np.sqrt(covariance[1, 1]), excess * np.sqrt(covariance[0, 0])), rel=1e-6
    )


def test_rate_interval_holds_the_truth():
    """95 % of 600 draws of five harmonics; ±2.7 % is three standard deviations of the count."""
    rng = np.random.default_rng(20)
    k, u = np.array([1, 2, 3, 5, 8]), np.array([1.0, 0.5, 2.0, 1.0, 3.0]) * 1e-3
    inside = 0
    for _ in range(600):
        found = fit_rate(k, 1000.0 * k + u * rng.standard_normal(5), u)
        inside += found.low <= 1000.0 <= found.high
    # Enlarging u where lines scatter can only widen.
    assert 0.923 <= inside / 600 <= 0.99


@pytest.mark.parametrize(
    ("orders", "offset", "expected"),
    [
        ([1, 2, 3], 0.0, True),
        ([1, 3, 5], 0.0, True),
        ([1, 2, 3], 0.3, False),
        ([654, 655, 656], 0.0, False),  # too far from zero to tell
    ],
)
def test_a_grid_must_reach_zero_to_be_a_clock(orders, offset, expected):
    k = np.array(orders)
    assert starts_at_zero(k, 100.0 * (k + offset), np.full(3, 1e-3)) is expected
