"""Three- and four-parameter sine fits against the reference values, and against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from external.published import Group
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares

from straypath.contents.bounds import frequency_bound_hz, white_density
from straypath.contents.sine import effective_bits, fit_sine, fit_sine_near
from straypath.errors import InputError


def at_first_sample(fit, samples):
    """The entries quote phase at the first sample; ours is at the centre."""
    turned = fit.phase_rad - 2.0 * np.pi * fit.frequency_hz * (samples - 1) / 2.0
    return np.angle(np.exp(1j * turned))


def three(entry):
    f, y = entry.given("f", "y")
    fit = fit_sine(y, 1.0, f)
    return [fit.amplitude, at_first_sample(fit, len(y)), fit.offset, fit.residual_rms]


def four(entry):
    (start,) = entry.given("f_start")
    (y,) = next(e for e in GROUP.entries if e.id == "S1-sine3").given("y")
    fit = fit_sine_near(y, 1.0, start)
    phase = at_first_sample(fit, len(y))
    return [fit.frequency_hz, fit.amplitude, phase, fit.offset, fit.residual_rms]


def quantised(entry):
    n, cycles = entry.given("N", "cycles")
    # An 8-bit converter has the codes 0 … 255, so the middle of its range is no code.
    codes = np.round(127.5 + 127.5 * np.cos(2.0 * np.pi * cycles / n * np.arange(n) + 0.1))
    residual = fit_sine(codes, 1.0, cycles / n).residual_rms
    return [residual, effective_bits(256.0, residual)]


CHECKS = {"S1-sine3": three, "S1-sine4": four, "S1-enob8": quantised}
NOT_OURS: dict[str, str] = {}
GROUP = Group("sine_fit", CHECKS, NOT_OURS)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


@given(
    cycles=st.floats(2.0, 20.0),
    off=st.floats(-0.4, 0.4),
    phase=st.floats(-3.0, 3.0),
    offset=st.floats(-10.0, 10.0),
)
def test_four_parameters_against_scipy(cycles, off, phase, offset):
    """Independent: scipy's least squares on the same samples, from the same start."""
    rate, n, sigma = 1000.0, 300, 0.01
    t = (np.arange(n) - (n - 1) / 2.0) / rate
    f = cycles * rate / n
    y = 2.0 * np.cos(2.0 * np.pi * f * t + phase) + offset
    y += sigma * np.random.default_rng(n).standard_normal(n)

    def residual(x):
        angle = 2.0 * np.pi * (f + x[0] * rate / n) * t
        return x[1] * np.cos(angle) + x[2] * np.sin(angle) + x[3] - y

    first = [off, 2.0 * np.cos(phase), -2.0 * np.sin(phase), offset]
    (moved, a, b, c) = least_squares(
        residual, first, jac="3-point", method="lm", xtol=1e-15, ftol=1e-15
    ).x
    fit = fit_sine_near(y, rate, f + off * rate / n)
    # Both minimise one sum; they may differ by a thousandth of what noise alone would do.
    least = float(frequency_bound_hz(2.0, white_density(sigma, rate), n / rate))
    assert fit.frequency_hz == pytest.approx(f + moved * rate / n, abs=1e-3 * least)
    assert fit.amplitude == pytest.approx(np.hypot(a, b), abs=1e-5)
    assert fit.offset == pytest.approx(c, abs=1e-6)


def test_a_fit_that_runs_away_is_refused():
    """At a start far from the only line, the answer must not be some other frequency."""
    t = np.arange(400) / 1000.0
    with pytest.raises(InputError, match="runs away"):
        fit_sine_near(np.cos(2.0 * np.pi * 83.0 * t), 1000.0, 79.0)


@pytest.mark.parametrize(
    ("samples", "frequency", "text"),
    [(4, 0.1, "hold no sine"), (50, 0.5, "cannot be fitted"), (50, 0.0, "cannot be fitted")],
)
def test_what_cannot_be_fitted_is_refused(samples, frequency, text):
    with pytest.raises(InputError, match=text):
        fit_sine(np.zeros(samples), 1.0, frequency)
