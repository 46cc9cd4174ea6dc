"""The comb as a caller sees it: what is there, what is not, and what must not change it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.simulate import TYPICAL, comb
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb
from straypath.quantity import Quantity, UpperLimit

RATE_HZ = 5_000.0


def record(duration_s=2.0, f0_hz=49.97, wave=None, noise=1e-3, seed=1, rate_hz=RATE_HZ):
    wave = wave or TYPICAL
    rng = np.random.default_rng(seed)
    samples = int(duration_s * rate_hz)
    x = comb(samples, rate_hz, f0_hz, wave, {k: 0.3 * k for k in wave})
    return x + noise * rng.standard_normal(samples)


@pytest.mark.parametrize("duration_s", [0.03, 0.1, 0.3, 1.0, 10.0])
@pytest.mark.parametrize("f0_hz", [49.97, 60.02])
def test_reads_what_was_put_in(duration_s, f0_hz):
    found = mains_comb(Channel("invented", record(duration_s, f0_hz), "V"), RATE_HZ)
    assert found.present
    assert found.nominal_hz == round(f0_hz)
    assert found.nominal_probability > 0.99
    # Four standard uncertainties: one false alarm in 16,000 of these comparisons.
    assert abs(found.frequency_hz.value - f0_hz) < 4 * found.frequency_hz.u
    for order in (1, 3, 5):
        line = found.lines[order - 1]
        assert line.detected
        assert abs(line.rms.value - TYPICAL[order] / np.sqrt(2)) < 5 * line.rms.u
        off = np.angle(np.exp(1j * (line.phase_rad.value - 0.3 * order)))
        assert abs(off) < 5 * line.phase_rad.u


def test_absent_orders_get_a_limit_and_no_phase():
    found = mains_comb(Channel("invented", record(wave={1: 1.0}), "V"), RATE_HZ)
    absent = found.lines[3]
    assert not absent.detected
    assert isinstance(absent.rms, UpperLimit)
    assert absent.phase_rad is None
    assert 0 < absent.rms.upper < 1e-3


def test_bare_floor_holds_no_comb_and_no_reading():
    x = np.random.default_rng(4).standard_normal(10_000)
    found = mains_comb(Channel("invented", x, "V"), RATE_HZ)
    assert not found.present
    assert found.frequency_hz is None
    assert isinstance(found.rms, UpperLimit)
    assert all(isinstance(line.rms, UpperLimit) for line in found.lines)


def test_even_orders_alone_are_a_comb_of_half_their_rate():
    """Lamp flicker: twice the mains frequency without the frequency itself."""
    found = mains_comb(Channel("invented", record(wave={2: 1.0, 4: 0.1}, noise=0.01)), RATE_HZ)
    assert found.nominal_hz == 50.0
    assert [line.order for line in found.detected] == [2, 4]


@pytest.mark.parametrize("named", [False, True])
@pytest.mark.parametrize(("f0_hz", "nominal"), [(16.68, 16.7), (400.3, 400.0)])
def test_railway_and_aircraft_supplies_are_found(f0_hz, nominal, named):
    x = record(4.0, f0_hz, {1: 1.0, 3: 0.1, 5: 0.05}, 0.01, rate_hz=40e3)
    found = mains_comb(Channel("invented", x), 40e3, mains=nominal if named else None)
    assert found.nominal_hz == nominal
    assert abs(found.frequency_hz.value - f0_hz) < 4 * found.frequency_hz.u
    assert [line.order for line in found.detected] == [1, 3, 5]


def test_named_frequency_of_no_standard_is_looked_for_around_it():
    x = record(2.0, 83.4, {1: 1.0, 2: 0.1}, 0.01)
    found = mains_comb(Channel("invented", x), RATE_HZ, mains=85.0)
    assert found.nominal_hz == 85.0
    assert abs(found.frequency_hz.value - 83.4) < 4 * found.frequency_hz.u


def test_less_than_a_cycle_gives_probabilities_only():
    found = mains_comb(Channel("invented", record(0.012, rate_hz=20e3), "V"), 20e3)
    assert not found.present
    assert found.rms is None
    assert 0.5 <= found.nominal_probability <= 1.0


@pytest.mark.parametrize("samples", [1, 2, 5, 15, 16, 40])
def test_a_handful_of_samples_is_no_crash(samples):
    x = np.random.default_rng(samples).standard_normal(samples)
    for rate_hz in (10.0, 150.0, 1e3, 1e6):
        mains_comb(Channel("invented", x), rate_hz)


@pytest.mark.parametrize("rate_hz", [20.0, 60.0, 105.0])
def test_rate_too_low_for_the_mains_says_so(rate_hz):
    x = np.random.default_rng(1).standard_normal(3_000)
    found = mains_comb(Channel("invented", x), rate_hz)
    assert not found.present
    assert found.rms is None
    assert "rate is too low" in found.unread


@pytest.mark.parametrize(("rate_hz", "orders"), [(110.0, 1), (150.0, 1), (250.0, 2), (400.0, 3)])
def test_rate_that_holds_few_orders_reads_them(rate_hz, orders):
    x = np.random.default_rng(1).standard_normal(3_000)
    found = mains_comb(Channel("invented", x), rate_hz)
    assert not found.present
    assert found.unread == ""
    assert len(found.lines) == orders


@pytest.mark.parametrize("value", [0.0, 3.7, -1e9])
def test_constant_record_holds_nothing(value):
    for samples in (100, 20_000):
        found = mains_comb(Channel("invented", np.full(samples, value)), RATE_HZ)
        assert not found.present


@settings(deadline=None, max_examples=15)
@given(
    gain=st.floats(1e-6, 1e6), offset=st.floats(-100.0, 100.0), seconds=st.sampled_from([0.1, 1.0])
)
def test_gain_and_offset_only_scale(gain, offset, seconds):
    x = record(seconds, noise=0.01)
    plain = mains_comb(Channel("invented", x), RATE_HZ)
    other = mains_comb(
        Channel("invented", (x + offset) / gain, scale=gain, offset=-offset), RATE_HZ
    )
    assert other.frequency_hz.value == pytest.approx(plain.frequency_hz.value, rel=1e-9)
    for a, b in zip(plain.detected, other.detected, strict=True):
        assert b.rms.value == pytest.approx(a.rms.value, rel=1e-6)
        assert b.rms.u == pytest.approx(a.rms.u, rel=1e-4)


def test_negative_scale_turns_the_phase_by_half_a_turn():
    x = record()
    plain = mains_comb(Channel("invented", x), RATE_HZ).lines[0]
    turned = mains_comb(Channel("invented", -x, scale=-1.0), RATE_HZ).lines[0]
    assert turned.phase_rad.value == pytest.approx(plain.phase_rad.value)


@pytest.mark.parametrize("seconds", [0.1, 2.0])
def test_same_record_same_numbers(seconds):
    x = record(seconds)
    one = mains_comb(Channel("invented", x), RATE_HZ)
    assert one == mains_comb(Channel("invented", x), RATE_HZ)


def test_integers_and_floats_read_alike():
    codes = np.round(2_000 * record(2.0, noise=0.01)).astype(np.int16)
    whole = mains_comb(Channel("invented", codes, "V", 1e-3), RATE_HZ)
    parts = mains_comb(Channel("invented", codes * 1e-3, "V"), RATE_HZ)
    assert whole.frequency_hz.value == pytest.approx(parts.frequency_hz.value, rel=1e-8)
    assert whole.rms.value == pytest.approx(parts.rms.value, rel=1e-5)


def test_shift_in_time_turns_every_order_by_its_own_angle():
    """A start later by τ advances order k by 2π k f0 τ."""
    x = record(4.0, noise=1e-4)
    shift = 37
    one = mains_comb(Channel("invented", x[:-shift]), RATE_HZ)
    two = mains_comb(Channel("invented", x[shift:]), RATE_HZ)
    assert [line.order for line in one.detected] == sorted(TYPICAL)
    for a, b in zip(one.detected, two.detected, strict=True):
        turn = 2 * np.pi * a.frequency_hz.value * shift / RATE_HZ
        off = np.angle(np.exp(1j * (b.phase_rad.value - a.phase_rad.value - turn)))
        assert abs(off) < 5 * np.hypot(a.phase_rad.u, b.phase_rad.u)


def test_share_is_what_the_comb_carries():
    x = record(4.0, wave={1: 1.0}, noise=1.0)
    assert mains_comb(Channel("invented", x), RATE_HZ).share == pytest.approx(1 / 3, abs=0.01)


def test_total_is_the_root_sum_of_squares():
    found = mains_comb(Channel("invented", record()), RATE_HZ)
    assert isinstance(found.rms, Quantity)
    squares = sum(line.rms.value**2 for line in found.detected)
    assert found.rms.value == pytest.approx(np.sqrt(squares))
