"""Plans that separate two rates come true."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.contents.plan.separate import difference_bound_hz, plan_separate
from straypath.errors import InputError


def real_bound(spacing, rho, duration, phase):
    """σ of f2 − f1 from the Fisher matrix of a sampled real record, by differences of the model."""
    n = 8000
    t = (np.arange(n) - (n - 1) / 2) / n * duration
    centre = 400.0 / duration

    def model(p):
        f1, a1, h1, f2, a2, h2 = p
        return a1 * np.cos(2 * np.pi * f1 * t + h1) + a2 * np.cos(2 * np.pi * f2 * t + h2)

    at = np.array([centre - spacing / 2, rho, 0.0, centre + spacing / 2, rho, phase])
    tiny = np.array([1e-5 / duration, 1e-5, 1e-5] * 2)
    jacobian = np.stack(
        [
            (model(at + e * np.eye(6)[i]) - model(at - e * np.eye(6)[i])) / (2 * e)
            for i, e in enumerate(tiny)
        ],
        axis=1,
    )
    # ρ = A/√(S/T) with S = 2σ²/fs, so σ² = n/2 at amplitude ρ.
    variance = np.linalg.inv(jacobian.T @ jacobian / (n / 2))
    return np.sqrt(variance[0, 0] + variance[3, 3] - 2 * variance[0, 3])


@pytest.mark.parametrize("cells", [0.7, 2.0, 5.0])
def test_bound_of_two_lines_against_a_sampled_record(cells):
    """Independent: real samples and differences, the worst of 24 phases."""
    phases = np.pi * np.arange(24) / 24
    worst = max(real_bound(cells / 3.0, 30.0, 3.0, phase) for phase in phases)
    assert difference_bound_hz(cells / 3.0, (30.0, 30.0), 3.0) == pytest.approx(worst, rel=0.02)


def test_bound_of_far_lines_is_that_of_single_ones():
    """Independent: √(σ₁² + σ₂²) with σ = √3/(π·ρ·T)."""
    singles = np.hypot(*(np.sqrt(3) / (np.pi * rho * 2.0) for rho in (10.0, 40.0)))
    assert difference_bound_hz(30.0, (10.0, 40.0), 2.0) == pytest.approx(singles, rel=0.02)


def peaks(spacing, duration, phase):
    """Peaks of the Hann spectrum of two equal lines, within 20 dB of the highest."""
    n = 512
    t = (np.arange(n) + 0.5) / n * duration
    centre = 100.0 / duration
    x = np.cos(2 * np.pi * (centre - spacing / 2) * t)
    x += np.cos(2 * np.pi * (centre + spacing / 2) * t + phase)
    power = np.abs(np.fft.rfft(x * np.hanning(n), 64 * n)) ** 2
    top = (power[1:-1] > power[:-2]) & (power[1:-1] > power[2:])
    return int(np.sum(top & (power[1:-1] > 0.01 * power.max())))


def test_two_peaks_from_the_planned_length_on():
    """Independent: numpy's transform. Two peaks at any phase; with half the length not at all."""
    plan = plan_separate(1000.0, 999.6)
    assert plan.recording.duration_s == pytest.approx(5.0)
    phases = np.linspace(0, 2 * np.pi, 25)
    assert all(peaks(0.4, plan.resolved_s, phase) == 2 for phase in phases)
    assert not all(peaks(0.4, plan.resolved_s / 2, phase) == 2 for phase in phases)


def test_the_longest_need_decides():
    floor = 1e-6
    strong = plan_separate(1000.0, 999.6, levels=(1e-3, 1e-3), floor=floor)
    assert strong.recording.duration_s == pytest.approx(5.0)
    assert strong.sigmas_s == strong.resolved_s
    weak = plan_separate(1000.0, 999.6, levels=(1e-3, 1e-6), floor=floor)
    assert weak.recording.duration_s == pytest.approx(weak.seen_s, rel=0.05)
    assert weak.seen_s == pytest.approx(10**1.85 * 1.1, rel=1e-6)
    sure = plan_separate(1000.0, 999.6, levels=(1e-5, 1e-5), floor=floor, sigmas=3000.0)
    assert sure.recording.duration_s == pytest.approx(sure.sigmas_s, rel=0.05)
    assert sure.reached >= 3000.0
    noise, short = np.sqrt(1.1) * floor, 0.9 * sure.sigmas_s
    rho = 1e-5 * np.sqrt(2 * short) / noise
    assert 0.4 / difference_bound_hz(0.4, (rho, rho), short) < 3000.0


def test_a_mains_order_is_said_to_wander():
    (caution,) = plan_separate(1000.0, 999.6).cautions
    assert "order 20 of 50" in caution
    assert "longer" not in caution
    assert "longer" in plan_separate(1000.0, 999.9).cautions[0]
    assert plan_separate(1017.0, 1023.0).cautions == ()


@pytest.mark.parametrize(
    ("rates", "given", "says"),
    [
        ((50.0, 50.0), {}, "are the same"),
        ((0.0, 50.0), {}, "not above zero"),
        ((40.0, 50.0), {"floor": 1e-9}, "go together"),
        ((40.0, 50.0), {"levels": (1e-3, 1e-3)}, "go together"),
        ((1000.0, 1000.0 + 1e-6), {}, "hours"),
        ((40.0, 50.0), {"levels": (1.0, 1.0), "floor": 1.0, "sigmas": 1e15}, "hours"),
    ],
)
def test_refusals(rates, given, says):
    with pytest.raises(InputError, match=says):
        plan_separate(*rates, **given)
