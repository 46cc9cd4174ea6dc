"""Plans that tell 50 from 60 Hz come true."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.simulate import TYPICAL, comb
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb
from straypath.contents.plan.tell_mains import plan_tell_mains
from straypath.errors import InputError

FLOOR = 1e-5


def right_share(plan, level, draws, wave, seed):
    """How often the comb names the mains that was put in: 50 and 60 Hz by turns, any phase."""
    rng = np.random.default_rng(seed)
    rate, right = plan.recording.rate_hz, 0
    n = round(plan.recording.duration_s * rate)
    amplitudes = {order: part * np.sqrt(2) * level for order, part in wave.items()}
    for draw in range(draws):
        nominal = (50.0, 60.0)[draw % 2]
        phases = {order: rng.uniform(0, 2 * np.pi) for order in wave}
        x = comb(n, rate, nominal + 0.03 * rng.standard_normal(), amplitudes, phases)
        x += level * rng.standard_normal() + rng.normal(0, FLOOR * np.sqrt(rate / 2), n)
        right += mains_comb(Channel("drawn", x, "V"), rate).nominal_hz == nominal
    return right / draws


@pytest.mark.parametrize(
    ("duration_s", "wave"), [(0.02, TYPICAL), (0.02, {1: 1.0}), (0.04, {1: 1.0})], ids=str
)
def test_the_planned_hum_is_told_by_the_comb(duration_s, wave):
    """At most 1 % wrong at the worst phase, less over all: of 20 draws, one may go wrong.

    With 100 draws a cell, from 15 to 100 ms, sine and typical wave, 98 to 100 % were right.
    """
    plan = plan_tell_mains(duration_s=duration_s, floor=FLOOR)
    assert right_share(plan, plan.contrasts[-1].least_rms, 20, wave, 1) >= 0.95


def test_far_less_hum_is_not_told():
    """The plan is no luxury: with a tenth of the level the comb errs."""
    plan = plan_tell_mains(duration_s=0.02, floor=FLOOR)
    assert right_share(plan, plan.contrasts[-1].least_rms / 20, 20, {1: 1.0}, 2) < 0.9


def test_the_planned_length_is_the_shortest():
    level = 1e-3
    plan = plan_tell_mains(level=level, floor=FLOOR)
    length = plan.recording.duration_s
    assert length == plan.enough_s
    assert plan.contrasts[-1].error <= 0.01
    assert plan.contrasts[-1].least_rms <= level
    shorter = plan_tell_mains(duration_s=0.9 * length, level=level, floor=FLOOR)
    assert shorter.contrasts[-1].error > 0.01
    assert shorter.enough_s == length
    # From there on it holds for every length.
    for longer in np.linspace(length, 0.2, 30):
        told = plan_tell_mains(duration_s=float(longer), level=level, floor=FLOOR)
        assert told.contrasts[-1].error <= 0.0101


def test_weak_hum_takes_longer_than_the_difference_of_the_two():
    """Independent: nothing hides beyond 0.1 s, so A²·T/S = (2·2.326)² decides."""
    plan = plan_tell_mains(level=1e-5, floor=FLOOR)
    assert plan.recording.duration_s == pytest.approx(1.1 * (2 * 2.3263) ** 2 / 2, rel=0.05)


def test_what_is_unknown_costs():
    """More unknowns, less contrast; the three rows are named."""
    for duration in (0.01, 0.02, 0.05):
        rows = plan_tell_mains(duration_s=duration).contrasts
        assert [row.unknown for row in rows] == ["nothing", "offset", "offset and slope"]
        assert rows[0].worst >= rows[1].worst >= rows[2].worst > 0.0
        assert all(row.worst <= row.mean for row in rows)
        assert all(row.least_rms is None and row.error is None for row in rows)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({}, "needs a length"),
        ({"level": 1e-3}, "needs a length"),
        ({"duration_s": 0.0}, "not above zero"),
        ({"duration_s": float("nan")}, "not above zero"),
        ({"duration_s": 0.02, "error": 0.5}, "no chance"),
        ({"duration_s": 0.02, "between_hz": (50.0, 50.0)}, "are the same"),
        ({"level": 1e-12, "floor": 1.0}, "hours"),
    ],
)
def test_refusals(given, says):
    with pytest.raises(InputError, match=says):
        plan_tell_mains(**given)
