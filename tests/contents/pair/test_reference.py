"""Phase against the mains: from a reference channel and from the trigger."""

from __future__ import annotations

import numpy as np
import pytest
from contents.pair.invented_pairs import F0_HZ, RATE_HZ, holds_angle, times, tones

from straypath.capture.capture import Acquisition, Channel
from straypath.contents.comb import mains_comb
from straypath.contents.pair.reference import (
    CAUTION,
    TriggerPlace,
    phases_against_reference,
    phases_at_trigger,
)

DRAWS = 300
# Against a mains whose fundamental is cos(2πft): invented phases.
TRUTH = {1: 0.8, 3: -2.0, 5: 3.0}
WAVE = {k: np.exp(1j * phase) / k for k, phase in TRUTH.items()}
ON_LINE = Acquisition(trigger="line")


def shifted(wave, turn):
    """The same wave at another instant: order k turns by k times the fundamental's turn."""
    return {k: z * np.exp(1j * k * turn) for k, z in wave.items()}


@pytest.mark.parametrize("wander", [0.0, 0.02])
def test_coverage(wander):
    """95 % intervals hold in 92 to 98 % of 300 draws, wherever the record begins."""
    rng, t = np.random.default_rng(3), times(4.0)
    held = []
    for _ in range(DRAWS):
        walk = wander / np.sqrt(20 * RATE_HZ) * np.cumsum(rng.standard_normal(len(t)))
        track = 2 * np.pi * np.cumsum(walk - walk.mean()) / RATE_HZ + rng.uniform(0, 2 * np.pi)
        ref = tones(t, {1: 3.0, 3: 0.2}, track) + rng.standard_normal(len(t))
        y = tones(t, WAVE, track) + rng.standard_normal(len(t))
        found = phases_against_reference(y, ref, RATE_HZ, mains_hz=F0_HZ, orders=range(1, 7))
        assert {p.order for p in found.orders} >= {1, 3}
        held += [holds_angle(p.phase_rad, TRUTH[p.order]) for p in found.orders if p.order in TRUTH]
    assert 0.92 <= np.mean(held) <= 0.98


def test_noise_of_the_reference_counts_k_times():
    t, rng = times(4.0), np.random.default_rng(1)
    ref = tones(t, {1: 1.0}) + rng.standard_normal(len(t))
    found = phases_against_reference(tones(t, WAVE), ref, RATE_HZ, mains_hz=F0_HZ)
    first, third, fifth = found.orders
    # The channel is free of noise: all of u is the reference's.
    assert third.phase_rad.u == pytest.approx(3 * first.phase_rad.u, rel=0.01)
    assert fifth.phase_rad.u == pytest.approx(5 * first.phase_rad.u, rel=0.01)


def test_caution_is_always_there():
    x = np.random.default_rng(1).standard_normal(8_000)
    t = times(2.0)
    for y, ref in ((tones(t, WAVE), tones(t, {1: 1.0})), (x, x[::-1])):
        found = phases_against_reference(y, ref, RATE_HZ, mains_hz=F0_HZ)
        assert found.cautions == (CAUTION,)
    assert "sealed safety-isolating adapter with an ac output" in CAUTION
    assert "local codes and licensed practice come first" in CAUTION


def test_reference_without_mains_gives_no_phase():
    x = np.random.default_rng(1).standard_normal(8_000)
    found = phases_against_reference(tones(times(2.0), WAVE), x, RATE_HZ, mains_hz=F0_HZ)
    assert not found.orders
    assert found.why_not == "The reference shows no mains."
    found = phases_against_reference(x, tones(times(2.0), WAVE), RATE_HZ, mains_hz=F0_HZ)
    assert not found.orders
    assert "No order" in found.why_not


def test_absent_orders_get_a_phase_no_more_often_than_stated():
    """Nominal 1 % over six orders; 500 records, 3 binomial deviations."""
    rng, t = np.random.default_rng(9), times(2.0)
    ref = tones(t, {1: 1.0})
    false = [
        bool(
            phases_against_reference(
                rng.standard_normal(len(t)), ref, RATE_HZ, mains_hz=F0_HZ, orders=range(1, 7)
            ).orders
        )
        for _ in range(500)
    ]
    assert np.mean(false) <= 0.01 + 3 * np.sqrt(0.01 * 0.99 / 500)


def triggered(rng, t, time_s):
    """A wave whose mains peak, 0 rad, is at `time_s` after the first sample."""
    turn = -2 * np.pi * F0_HZ * (time_s - len(t) / 2 / RATE_HZ + 0.5 / RATE_HZ)
    return tones(t, shifted(WAVE, turn)) + 0.3 * rng.standard_normal(len(t))


@pytest.mark.parametrize(("time_s", "seconds"), [(0.0, 0.4), (0.13, 2.0), (-0.02, 2.0)])
def test_trigger_coverage(time_s, seconds):
    rng, t = np.random.default_rng(4), times(seconds)
    held = []
    for _ in range(100):
        comb = mains_comb(Channel("invented", triggered(rng, t, time_s)), RATE_HZ, mains=50.0)
        place = TriggerPlace(time_s, mains_phase_rad=0.0)
        found = phases_at_trigger(comb, len(t), RATE_HZ, ON_LINE, place)
        held += [holds_angle(p.phase_rad, TRUTH[p.order]) for p in found.orders if p.order in TRUTH]
    # The orders of one record share its frequency error, so they count for about one draw.
    assert np.mean(held) == pytest.approx(0.95, abs=3 * np.sqrt(0.05 * 0.95 / 100))
    assert len(held) >= 300


def test_phase_of_the_mains_at_the_trigger_is_taken_off_k_times():
    t = times(2.0)
    comb = mains_comb(Channel("invented", triggered(np.random.default_rng(1), t, 0.0)), RATE_HZ)
    plain = phases_at_trigger(comb, len(t), RATE_HZ, ON_LINE, TriggerPlace(0.0))
    known = phases_at_trigger(
        comb, len(t), RATE_HZ, ON_LINE, TriggerPlace(0.0, mains_phase_rad=-np.pi / 2)
    )
    assert "not known" in plain.assumptions[1]
    for a, b in zip(plain.orders, known.orders, strict=True):
        off = b.phase_rad.value - a.phase_rad.value - a.order * np.pi / 2
        assert np.exp(1j * off) == pytest.approx(1.0)


def test_jitter_of_the_trigger_widens():
    t = times(2.0)
    comb = mains_comb(Channel("invented", triggered(np.random.default_rng(1), t, 0.0)), RATE_HZ)
    sharp, rough = (
        phases_at_trigger(comb, len(t), RATE_HZ, ON_LINE, TriggerPlace(0.0, u)).orders[1].phase_rad
        for u in (0.0, 1e-4)
    )
    assert rough.u**2 - sharp.u**2 == pytest.approx((2 * np.pi * 3 * F0_HZ * 1e-4) ** 2, rel=1e-3)


@pytest.mark.parametrize(
    ("trigger", "place", "says"),
    [
        ("", TriggerPlace(0.0), "not known whether"),
        ("channel 1", TriggerPlace(0.0), "triggered on 'channel 1'"),
        ("line", None, "not known where"),
    ],
)
def test_reason_why_not(trigger, place, says):
    t = times(1.0)
    comb = mains_comb(Channel("invented", tones(t, WAVE)), RATE_HZ)
    found = phases_at_trigger(comb, len(t), RATE_HZ, Acquisition(trigger=trigger), place)
    assert not found.orders
    assert says in found.why_not


def test_no_mains_and_wandering_mains_are_refused():
    t, rng = times(40.0), np.random.default_rng(2)
    bare = mains_comb(Channel("invented", rng.standard_normal(8_000)), RATE_HZ)
    found = phases_at_trigger(bare, 8_000, RATE_HZ, ON_LINE, TriggerPlace(0.0))
    assert "No mains" in found.why_not
    y = tones(t, WAVE, 2.0 * np.sin(2 * np.pi * t / 40.0)) + 0.1 * rng.standard_normal(len(t))
    comb = mains_comb(Channel("invented", y), RATE_HZ)
    assert comb.wander is not None
    found = phases_at_trigger(comb, len(t), RATE_HZ, ON_LINE, TriggerPlace(0.0))
    assert "wandered" in found.why_not
