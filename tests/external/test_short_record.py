"""Records of few cycles: exact bounds, and 50 against 60 Hz."""

from __future__ import annotations

import numpy as np
import pytest
from external.published import Group
from scipy.stats import norm

from straypath.contents import bounds, fisher


def exact_over_asymptotic(entry):
    """Best and worst over 181 phases, without and with an unknown offset."""
    cycles, fs, f = entry.given("cycles", "fs", "f")
    n = round(cycles * fs / f)
    asymptotic = bounds.frequency_bound_hz(1.0, 1.0, n / fs, samples=n)

    def at_phases(nuisance):
        return [
            fisher.comb_bounds(
                f, [1], [1.0], [phase], samples=n, rate_hz=fs, density=1.0, nuisance=nuisance
            ).frequency_hz
            for phase in np.linspace(0.0, np.pi, 181)
        ]

    plain, offset = at_phases(0), at_phases(1)
    return np.array([min(plain), max(plain), min(offset), max(offset)]) / asymptotic


def residual_ratios(entry):
    duration = entry.given("T")[0] * 1e-3
    return [r for n in (0, 1) for r in fisher.separation(50.0, 60.0, duration, nuisance=n)]


def needed_strength_db(entry):
    """1 % errors at the worst phase: Q(d/2) = 0.01, d = ρ · ratio."""
    worst, _ = fisher.separation(50.0, 60.0, entry.given("T")[0] * 1e-3, nuisance=1)
    return 20.0 * np.log10(2.0 * norm.isf(0.01) / worst)


CHECKS = {
    "S1-crb-short-*": exact_over_asymptotic,
    "S7-disc-[0-9]*": residual_ratios,
    "S7-disc-snr-*": needed_strength_db,
}
NOT_OURS = {"S7-gib": "bins of a transform do not limit a least-squares fit; 1/T needs no code"}
GROUP = Group("short_record", CHECKS, NOT_OURS)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


@pytest.mark.parametrize("corner_hz", [0.0, 500.0])
def test_bounds_meet_the_closed_form_in_long_records(corner_hz):
    """Independent: 30 cycles, exact matrix against the sum of information over orders."""
    density, f0, fs, n = 1e-6, 50.0, 2000.0, 1200
    orders, amplitudes, phases = [1, 3, 5], [1.0, 0.3, 0.1], [0.3, -1.0, 2.0]

    def floor(frequency_hz):
        return density * (1.0 + corner_hz / frequency_hz)

    exact = fisher.comb_bounds(
        f0, orders, amplitudes, phases, samples=n, rate_hz=fs, density=floor, nuisance=2
    )
    under = floor(f0 * np.array(orders))
    closed = bounds.comb_frequency_bound_hz(orders, amplitudes, under, n / fs)
    assert exact.frequency_hz == pytest.approx(closed, rel=0.02)
    assert exact.amplitudes == pytest.approx(bounds.amplitude_bound(under, n / fs), rel=0.02)
    # With f0 known from all orders, an order's phase still costs what it costs alone.
    assert exact.phases_rad == pytest.approx(
        bounds.phase_bound_rad(amplitudes, under, n / fs), rel=0.02
    )


def test_white_floor_as_number_and_as_function_agree():
    """Independent: two routes through the covariance, diagonal and Toeplitz."""
    given = {"samples": 300, "rate_hz": 2000.0, "nuisance": 2}
    one = fisher.comb_bounds(50.0, [1, 2], [1.0, 0.2], [0.1, 0.7], density=2e-6, **given)
    two = fisher.comb_bounds(
        50.0, [1, 2], [1.0, 0.2], [0.1, 0.7], density=lambda f: np.full_like(f, 2e-6), **given
    )
    assert two.frequency_hz == pytest.approx(one.frequency_hz, rel=1e-9)
    assert two.amplitudes == pytest.approx(one.amplitudes, rel=1e-9)
