"""Propagation of uncertainty against the worked examples of JCGM 100 and JCGM 101."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from external.published import Group
from hypothesis import given
from hypothesis import strategies as st

from straypath import uncertainty
from straypath.errors import InputError

# ── H.2: resistance and reactance from simultaneous observations ──────────────────────────────


def impedance(x):
    """R, X, Z from V, I, φ: JCGM 100, equation H.6."""
    v, i, phi = x
    return np.array([v / i * np.cos(phi), v / i * np.sin(phi), v / i])


def observed(entry):
    return uncertainty.mean_of_repeats(np.transpose(entry.given("V", "I", "phi")))


def correlations(covariance):
    s = np.sqrt(np.diag(covariance))
    r = covariance / np.outer(s, s)
    return [r[0, 1], r[0, 2], r[1, 2]]


def h2(entry):
    means, covariance, _ = observed(entry)
    return uncertainty.propagate(impedance, means, covariance)


def h2_uncorrelated(entry):
    means, covariance, _ = observed(entry)
    _, v = uncertainty.propagate(impedance, means, np.diag(np.diag(covariance)))
    # The entry holds six decimals, which is coarser than its tolerance: round as it does.
    return np.round(deviations(v), 6)


def h2_each_repeat(entry):
    """Approach 2: the five results themselves are the observations."""
    results = [impedance(x) for x in np.transpose(entry.given("V", "I", "phi"))]
    means, covariance, _ = uncertainty.mean_of_repeats(results)
    return [*means, *deviations(covariance)]


def deviations(covariance):
    return np.sqrt(np.diag(covariance))


# ── H.1: end gauge ────────────────────────────────────────────────────────────────────────────
# Inputs of table H.1, in nm, K and 1/K: ls, d, δα, δθ, αs, θ̄. The two that count to first order
# beside ls and d are δα and δθ; θ̄ and αs have zero sensitivity.

GAUGE = np.array([50_000_623.0, 215.0, 0.0, 0.0, 11.5e-6, -0.1])
GAUGE_U = np.array([25.0, 9.7, 0.58e-6, 0.029, 1.2e-6, 0.41])
# u(θ̄)² = 0.2² + 0.35² joins the cyclic variation; δα and δθ as in table H.1.
GAUGE_DOF = np.array([18.0, 25.6, 50.0, 2.0, np.inf, np.inf])


def gauge(x):
    """l = ls + d − ls·(δα·θ + αs·δθ): JCGM 100, equation H.3."""
    ls, d, delta_alpha, delta_theta, alpha, theta = x
    return ls + d - ls * (delta_alpha * theta + alpha * delta_theta)


def h1_contributions():
    return np.abs(uncertainty.sensitivities(gauge, GAUGE, GAUGE_U)[0]) * GAUGE_U


def h1_u(entry=None):
    return uncertainty.propagate(gauge, GAUGE, np.diag(GAUGE_U**2))[1][0, 0] ** 0.5


def h1_dof(entry=None):
    return uncertainty.effective_dof(h1_contributions(), GAUGE_DOF)


def h1_expanded(entry):
    """As printed: 16 whole degrees of freedom and 32 nm."""
    return uncertainty.coverage_factor(0.99, np.floor(h1_dof())) * round(h1_u())


def h1_second_order(entry):
    added = uncertainty.second_order_variance(gauge, GAUGE, GAUGE_U)
    pairs = np.sqrt([added[2, 5] + added[5, 2], added[3, 4] + added[4, 3]])
    return [*pairs, np.sqrt(h1_u() ** 2 + added.sum())]


# ── JCGM 101: draws ───────────────────────────────────────────────────────────────────────────

DRAWS = 1_000_000


def half_width(quantity):
    return (quantity.high - quantity.low) / 2.0


def sum_of_rectangles(*u):
    rng = np.random.default_rng(923)
    return sum(rng.uniform(-(3**0.5), 3**0.5, DRAWS) * size for size in u)


def four_rectangles(entry):
    result = uncertainty.from_draws(sum_of_rectangles(1, 1, 1, 1))
    return [result.u, half_width(result)]


def one_wide_rectangle(entry):
    result = uncertainty.from_draws(sum_of_rectangles(1, 1, 1, 10))
    return [result.u, half_width(result), uncertainty.coverage_factor(0.95) * 103**0.5]


@cache
def drawn_gauge():
    """The inputs of clause 9.5 as the entry lists them; samplers by JCGM 101, 6.4."""
    rng = np.random.default_rng(95)

    def trapezoid(half, inexact):
        limit = rng.uniform(half - inexact, half + inexact, DRAWS)
        return limit * rng.uniform(-1.0, 1.0, DRAWS)

    ls = 50_000_623.0 + 25.0 * rng.standard_t(18, DRAWS)
    d = 215.0 + 6.0 * rng.standard_t(24, DRAWS)
    d1, d2 = 4.0 * rng.standard_t(5, DRAWS), 7.0 * rng.standard_t(8, DRAWS)
    alpha = rng.uniform(9.5e-6, 13.5e-6, DRAWS)
    theta = rng.normal(-0.1, 0.2, DRAWS) + 0.5 * np.sin(rng.uniform(0.0, 2 * np.pi, DRAWS))
    delta_alpha, delta_theta = trapezoid(1.0e-6, 0.1e-6), trapezoid(0.050, 0.025)
    grown = ls * (1.0 + alpha * (theta - delta_theta)) + d + d1 + d2
    return grown / (1.0 + (alpha + delta_alpha) * theta) - 50e6


def gauge_by_draws(entry):
    result = uncertainty.from_draws(drawn_gauge())
    return [result.value, result.u, *uncertainty.shortest_interval(drawn_gauge(), 0.99)]


CHECKS = {
    "S8-h2-means": lambda entry: observed(entry)[0],
    "S8-h2-u": lambda entry: deviations(observed(entry)[1]),
    "S8-h2-r": lambda entry: correlations(observed(entry)[1]),
    "S8-h2-y": lambda entry: h2(entry)[0],
    "S8-h2-uy": lambda entry: deviations(h2(entry)[1]),
    "S8-h2-ry": lambda entry: correlations(h2(entry)[1]),
    "S8-h2-nocorr": h2_uncorrelated,
    "S8-h2-approach2": h2_each_repeat,
    "S8-h1-parts": lambda entry: h1_contributions()[:4],
    "S8-h1-uc": h1_u,
    "S8-h1-nu": h1_dof,
    "S8-h1-U": h1_expanded,
    "S8-h1-2nd": h1_second_order,
    "S8-tq": lambda e: [uncertainty.coverage_factor(p, 16) for p in (0.95, 0.9545, 0.99)],
    "S8-s1-923": four_rectangles,
    "S8-s1-924": one_wide_rectangle,
    "S8-s1-95": gauge_by_draws,
}
NOT_OURS: dict[str, str] = {}
GROUP = Group("uncertainty", CHECKS, NOT_OURS)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


def test_inputs_of_the_end_gauge_are_those_of_the_entry():
    """The printed inputs are text in the data; a slip in transcribing them must show."""
    (entry,) = (e for e in GROUP.entries if e.id == "S8-h1-uc")
    ls, d, alpha, theta = entry.given("ls", "d", "alpha_s", "theta")
    assert [float(ls) * 1e6, float(d)] == pytest.approx(GAUGE[:2])
    assert float(str(alpha).split(",")[0]) == pytest.approx(GAUGE[4])
    assert float(str(theta).split(",")[0]) == pytest.approx(GAUGE[5])


def test_one_observation_is_refused():
    with pytest.raises(InputError, match="no scatter"):
        uncertainty.mean_of_repeats([5.0])


# Both of an odd and an even number of draws, and shares that fall between them.
@given(st.integers(2, 400), st.floats(0.05, 0.99))
def test_shortest_interval_holds_its_share(n, probability):
    draws = np.random.default_rng(n).standard_normal(n)
    low, high = uncertainty.shortest_interval(draws, probability)
    assert np.mean((draws >= low) & (draws <= high)) >= probability


@given(st.floats(0.1, 10.0), st.floats(0.1, 10.0), st.floats(-0.9, 0.9))
def test_sum_and_difference_by_hand(u1, u2, r):
    """Independent: u² = u1² + u2² ± 2·r·u1·u2 (JCGM 100, 5.2.2)."""
    covariance = [[u1**2, r * u1 * u2], [r * u1 * u2, u2**2]]
    _, v = uncertainty.propagate(lambda x: [x[0] + x[1], x[0] - x[1]], [1.0, 2.0], covariance)
    both = 2.0 * r * u1 * u2
    assert np.diag(v) == pytest.approx([u1**2 + u2**2 + both, u1**2 + u2**2 - both], rel=1e-6)
