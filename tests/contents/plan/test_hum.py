"""Plans for a reading of hum come true."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit

from calibration.simulate import comb
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb
from straypath.contents.plan import rules
from straypath.contents.plan.hum import plan_hum
from straypath.errors import InputError

LEVEL, FLOOR = 2e-6, 1e-7


def within_share(plan, duration_s, draws, seed):
    """How often the comb reads the level within the share, through the planned converter."""
    rng = np.random.default_rng(seed)
    rate, step = plan.recording.rate_hz, plan.recording.step
    n, hits = round(duration_s * rate), 0
    for _ in range(draws):
        f0 = 50.0 + 0.02 * rng.standard_normal()
        peak = np.sqrt(2) * plan.level
        x = comb(n, rate, f0, {1: peak}, {1: rng.uniform(0, 2 * np.pi)})
        x += rng.normal(0, plan.floor * np.sqrt(rate / 2), n) + rng.uniform(0, step)
        found = mains_comb(Channel("drawn", step * np.round(x / step), "V"), rate)
        if found.present and found.lines[0].detected:
            hits += abs(found.lines[0].rms.value / plan.level - 1.0) <= plan.within
    return hits / draws


def test_the_planned_record_reads_within_five_per_cent():
    """95 % promised; 200 draws miss by 1.5 % (one standard deviation)."""
    plan = plan_hum(LEVEL, FLOOR, 0.05)
    assert plan.recording.duration_s == 2.2
    assert within_share(plan, plan.recording.duration_s, 200, 1) >= 0.93


def test_a_quarter_of_the_record_does_not():
    """Independent: twice the deviation puts 67 % within; 150 draws miss by 4 %."""
    plan = plan_hum(LEVEL, FLOOR, 0.02)
    assert within_share(plan, plan.recording.duration_s / 4, 150, 2) == pytest.approx(0.67, abs=0.1)


def test_strong_hum_takes_five_cycles_and_few_bits():
    """Hum far above the floor: the length is that of five cycles, the steps alone err."""
    plan = plan_hum(2e-3, 1e-8, 0.05)
    assert plan.recording.duration_s == pytest.approx(0.1)
    assert plan.recording.bits <= 8
    assert within_share(plan, 0.1, 12, 3) == 1.0


@pytest.mark.parametrize("within", [0.005, 0.05, 0.3])
def test_steps_err_by_a_tenth_of_what_is_allowed(within):
    """Independent: scipy fits rounded sines without noise, at any offset."""
    rng, step = np.random.default_rng(4), rules.sine_step(1.0, within)
    t = np.arange(20_000) / 20_000

    def model(t, a, b, c):
        return a * np.cos(14 * np.pi * t) + b * np.sin(14 * np.pi * t) + c

    worst = 0.0
    for _ in range(30):
        peak = np.sqrt(2) * rng.uniform(1.0, 1.3)
        x = peak * np.sin(14 * np.pi * t + rng.uniform(0, 6)) + rng.uniform(0, step)
        a, b, _ = curve_fit(model, t, step * np.round(x / step), p0=[1, 1, 0])[0]
        worst = max(worst, abs(np.hypot(a, b) / peak - 1.0))
    assert worst <= 0.1 * within
    assert worst >= 0.01 * within  # no luxury either


def test_quiet_steps_add_a_tenth():
    """Independent: Δ²/12 spread over half the rate."""
    step = rules.quiet_step(FLOOR, 5e3)
    assert step**2 / 12 / 2.5e3 == pytest.approx(0.1 * FLOOR**2)
    assert rules.rounding_density(step, 5e3) == pytest.approx(np.sqrt(0.1) * FLOOR)


def test_usual_level_takes_repeats():
    """Independent: means of captures that breathe by 1.5 dB, 20,000 times."""
    plan = plan_hum(2e-3, 1e-8, 0.05)
    rng, wanted = np.random.default_rng(5), 20 * np.log10(1.05)
    means = rng.normal(0, 1.5, (20_000, plan.usual_repeats)).mean(axis=1)
    assert np.mean(np.abs(means) <= wanted) >= 0.95
    few = rng.normal(0, 1.5, (20_000, plan.usual_repeats // 2)).mean(axis=1)
    assert np.mean(np.abs(few) <= wanted) < 0.9
    assert plan_hum(2e-3, 1e-8, 0.05, breathing_db=0.01).usual_repeats == 2


def test_laws():
    """Half the share takes four times as long; gain leaves all but levels as it is."""
    one, two = (plan_hum(LEVEL, FLOOR, p).recording.duration_s for p in (0.04, 0.02))
    assert two / one == pytest.approx(4.0, rel=0.1)
    far = plan_hum(1e6 * LEVEL, 1e6 * FLOOR, 0.04)
    near = plan_hum(LEVEL, FLOOR, 0.04)
    assert far.recording.duration_s == near.recording.duration_s
    assert far.recording.bits == near.recording.bits
    assert far.recording.step == pytest.approx(1e6 * near.recording.step)
    high = plan_hum(LEVEL, FLOOR, 0.04, mains_hz=60.0, order=40)
    assert high.recording.rate_hz >= 2.5 * 2400
    assert high.frequency_hz == 2400.0


def test_a_given_converter_counts_with_its_noise():
    fine, coarse = (plan_hum(LEVEL, FLOOR, 0.05, step=s) for s in (1e-9, 4e-6))
    assert coarse.recording.duration_s > fine.recording.duration_s
    assert not fine.cautions
    assert "too coarse" in coarse.cautions[0]
    assert "more than a minute" in plan_hum(LEVEL, 10 * FLOOR, 0.05).cautions[0]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ((0.0, 1e-9, 0.05), "not above zero"),
        ((1e-3, -1e-9, 0.05), "not above zero"),
        ((1e-3, 1e-9, 0.8), "hardly"),
        ((1e-12, 1e-3, 0.05), "hours"),
    ],
)
def test_refusals(given, says):
    with pytest.raises(InputError, match=says):
        plan_hum(*given)


@pytest.mark.parametrize(
    ("value", "up", "down"),
    [(0.1, 0.1, 0.1), (2.13, 2.2, 2.1), (1234.0, 1300.0, 1200.0), (9.91, 10.0, 9.9)],
)
def test_rounding_never_promises_too_much(value, up, down):
    assert rules.rounded_up(value) == up
    assert rules.rounded_down(value) == down
    assert rules.rounded_up(3.0) == rules.rounded_down(3.0) == 3.0
