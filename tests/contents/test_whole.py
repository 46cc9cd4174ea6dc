"""The whole contents of a channel, one finding on top of the other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import signal

from straypath.capture.capture import Channel
from straypath.contents.whole import read_contents

RATE_HZ = 10_000.0


def contents(x, rate_hz=RATE_HZ, **options):
    return read_contents(Channel("invented", np.asarray(x), "V"), rate_hz, **options)


def times(seconds, rate_hz=RATE_HZ):
    n = int(seconds * rate_hz)
    return (np.arange(n) - (n - 1) / 2) / rate_hz


def noise(n, rms, seed=1):
    return rms * np.random.default_rng(seed).standard_normal(n)


def clock_beside_mains(seconds):
    """Mains at 49.98 Hz, whose 20th order lies at 999.6 Hz, and a clock of 1 kHz."""
    t = times(seconds)
    hum = sum(
        a * np.cos(2 * np.pi * 49.98 * k * t + k) for k, a in {1: 0.1, 3: 0.01, 5: 0.007}.items()
    )
    return hum + 0.002 * np.cos(2 * np.pi * 1_000.0 * t + 0.5) + noise(len(t), 1e-3)


def test_a_clock_of_1_khz_is_separate_from_order_20_in_ten_seconds():
    found = contents(clock_beside_mains(10.0))
    assert len(found.families) == 1
    clock = found.families[0]
    assert clock.rate_hz.low < 1_000.0 < clock.rate_hz.high
    assert clock.rms.low < 0.002 / np.sqrt(2) < clock.rms.high
    assert (clock.beside.order, clock.beside.separate) == (20, True)
    assert clock.beside.sigmas > 100
    assert "usb-frame" in [match.id for match in clock.matches]
    assert found.mains.frequency_hz.low < 49.98 < found.mains.frequency_hz.high
    assert not found.mains.lines[19].detected
    assert not any("order 20" in part.what for part in found.undetermined)


def test_a_clock_of_1_khz_is_inseparable_from_order_20_in_a_twentieth_of_a_second():
    found = contents(clock_beside_mains(0.05))
    assert found.families == ()
    assert found.mains.lines[19].detected
    said = [part for part in found.undetermined if "order 20" in part.what]
    assert len(said) == 1
    assert "inseparable" in said[0].why
    assert "1000 Hz" in said[0].why


def test_a_second_supply_no_longer_spoils_the_first():
    """50.02 Hz beside 59.98 Hz: intervals hold once each is taken off the other."""
    held = 0
    for seed in range(20):
        t = times(2.0, 5_000.0)
        x = 0.01 * np.cos(2 * np.pi * 50.02 * t) + 0.005 * np.cos(2 * np.pi * 59.98 * t + 1)
        found = contents(x + noise(len(t), 1e-4, seed), 5_000.0)
        other = found.families[0].rate_hz
        both = sorted([found.mains.frequency_hz, other], key=lambda q: q.value)
        held += both[0].low < 50.02 < both[0].high and both[1].low < 59.98 < both[1].high
    assert held >= 15


def test_a_carrier_with_mains_sidebands_is_one_family():
    rate_hz = 200_000.0
    t = times(2.0, rate_hz)
    swell = 1 + 0.3 * np.cos(2 * np.pi * 99.96 * t)
    x = 0.1 * np.cos(2 * np.pi * 49.98 * t) + 0.01 * swell * np.cos(2 * np.pi * 65_432.0 * t)
    found = contents(x + noise(len(t), 1e-3), rate_hz)
    assert [family.kind for family in found.families] == ["carrier"]
    assert found.families[0].orders == (-1, 0, 1)
    assert found.families[0].spacing_hz.low < 99.96 < found.families[0].spacing_hz.high


def test_dimmer_spikes_are_bursts_locked_to_the_mains():
    rate_hz = 100_000.0
    t = times(1.0, rate_hz)
    x = 0.1 * np.cos(2 * np.pi * 50.02 * t) + noise(len(t), 1e-3)
    for k in range(98):
        x[int((k + 0.3) * rate_hz / 100.04) :][:5] += 0.05
    found = contents(x, rate_hz)
    assert found.bursts.count == pytest.approx(98, abs=12)
    assert found.bursts.locked
    assert found.bursts.per_cycle == 2


def test_floor_of_white_noise_with_a_corner():
    n = 200_000
    f = np.fft.rfftfreq(n, 1 / RATE_HZ)
    f[0] = f[1]
    x = np.fft.irfft(np.fft.rfft(noise(n, 1.0)) * np.sqrt(1 + 100.0 / f), n)
    found = contents(x)
    assert found.families == ()
    assert found.floor.white.low < np.sqrt(2 / RATE_HZ) < found.floor.white.high
    assert found.floor.corner_hz.low < 100.0 < found.floor.corner_hz.high
    assert found.floor.slope.low < 1.0 < found.floor.slope.high


def test_density_against_an_averaged_spectrum():
    """Independent: scipy.signal.welch."""
    x = signal.lfilter(*signal.butter(1, 500.0, fs=RATE_HZ), noise(200_000, 1.0))
    floor = contents(x).floor
    f, s = signal.welch(x, RATE_HZ, nperseg=4_096)
    wanted = np.sqrt(np.interp(floor.frequency_hz, f, s))
    seen = np.array([q.value for q in floor.density])
    middle = (np.array(floor.frequency_hz) > 20) & (np.array(floor.frequency_hz) < 4_500)
    np.testing.assert_allclose(seen[middle], wanted[middle], rtol=0.15)


def test_a_resonance_is_a_narrow_band_and_no_line():
    n = 200_000
    f = np.fft.rfftfreq(n, 1 / RATE_HZ)
    ring = np.abs(1 / (1 - (f / 1_370) ** 2 + 1j * f / 1_370 / 50)) / 5
    found = contents(np.fft.irfft(np.fft.rfft(noise(n, 1.0)) * (0.3 + ring), n))
    kinds = {family.kind for family in found.families}
    assert kinds == {"narrow-band"}
    band = max(found.families, key=lambda family: family.rms.value)
    assert band.rate_hz.value == pytest.approx(1_370, rel=0.02)
    assert band.lines[0].width_hz.value == pytest.approx(1_370 / 50, rel=0.6)


@pytest.mark.parametrize("samples", [0, 1, 2, 15, 16, 63, 64, 65, 200, 1_001])
def test_a_handful_of_samples_is_no_crash(samples):
    for rate_hz in (10.0, 1e3, 1e6):
        found = contents(noise(samples, 1.0), rate_hz)
        if samples < 64:
            assert found.undetermined
        assert not [family for family in found.families if family.kind == "clock"]


@pytest.mark.parametrize("value", [0.0, -3.7])
def test_a_constant_record_says_why_there_is_nothing(value):
    found = contents(np.full(20_000, value))
    assert found.families == ()
    assert found.floor is None
    assert "never changes" in found.undetermined[0].why


def test_one_huge_outlier_is_a_burst_and_no_line():
    x = noise(50_000, 1.0)
    x[20_000] = 1e6
    found = contents(x)
    assert found.families == ()
    assert found.bursts.count == 1
    assert found.bursts.found[0].time_s == pytest.approx(2.0, abs=1e-3)


def test_a_saturated_record_of_noise_holds_no_line():
    assert contents(np.clip(noise(50_000, 1.0), -0.4, 0.4)).families == ()


@settings(max_examples=30, deadline=None)
@given(
    arrays(
        np.int16,
        st.integers(64, 3_000),
        elements=st.integers(-32_768, 32_767),
        fill=st.just(np.int16(0)),
    )
)
def test_any_integers_are_no_crash(raw):
    found = read_contents(Channel("invented", raw, "V", scale=1e-3), RATE_HZ)
    for family in found.families:
        assert np.isfinite(family.rate_hz.value)


def test_deep_finds_what_usual_misses_and_quick_finds_the_strong(monkeypatch):
    monkeypatch.setattr("straypath.contents.lines.find.WHOLE_SAMPLES", 100_000)
    monkeypatch.setattr("straypath.contents.lines.segments.KEPT_VALUES", 2_000)
    n, rate_hz = 3_000_000, 1e6
    t = (np.arange(n) - (n - 1) / 2) / rate_hz
    weak = np.sqrt(2 * 10**1.85 * 2e-6 / 3.0)
    x = (noise(n, 1.0) + 0.2 * np.cos(2 * np.pi * 70_123.4 * t)).astype(np.float32)
    x += (weak * np.cos(2 * np.pi * 250_006.0 * t)).astype(np.float32)
    rates = {
        depth: [round(f.rate_hz.value, -1) for f in contents(x, rate_hz, depth=depth).families]
        for depth in ("usual", "quick", "deep")
    }
    assert 70_120 in rates["usual"]
    assert 70_120 in rates["quick"]
    assert {70_120, 250_010} <= set(rates["deep"])


@pytest.mark.parametrize(("noise_steps", "marks"), [(0.05, True), (0.2, True), (0.6, False)])
def test_products_of_a_coarse_converter_are_marked(noise_steps, marks):
    """A sine of 40 codes: its rounding makes lines unless noise of half a step hides them."""
    t = times(4.0)
    x = 20.0 * np.cos(2 * np.pi * 437.3 * t) + noise(len(t), noise_steps)
    found = contents(np.round(x).astype(np.int16), step=1.0)
    weak = [line for family in found.families for line in family.lines if line.rms.value < 1.0]
    assert bool(weak) == marks
    assert all(line.conversion_product for line in weak)
    strong = [line for family in found.families for line in family.lines if line.rms.value > 10]
    assert [line.conversion_product for line in strong] == [False]


def square(rate_hz, sample_hz, seconds):
    """Nothing filters it before it is sampled: its edges fall between two samples."""
    t = np.arange(int(seconds * sample_hz)) / sample_hz
    x = 0.1 * np.where((rate_hz * t + 0.13) % 1 < 0.5, 1.0, -1.0)
    return x + noise(len(t), 1e-3)


@pytest.mark.parametrize(("rate_hz", "sample_hz", "seconds"), [(437.3, 10e3, 10), (80.0, 5e3, 4)])
def test_a_square_wave_is_one_clock_and_no_mains(rate_hz, sample_hz, seconds):
    """Harmonics folded at half the rate lie at multiples of 57.9 Hz, and of 60 Hz."""
    found = contents(square(rate_hz, sample_hz, seconds), sample_hz)
    assert not found.mains.present
    assert any(f"clock at {rate_hz:g} Hz" in said for said in found.mains.assumptions)
    assert [family.kind for family in found.families] == ["clock"]
    clock = found.families[0]
    assert abs(clock.rate_hz.value - rate_hz) < 4 * clock.rate_hz.u
    assert clock.rms.value == pytest.approx(0.1, rel=0.02)
    assert {1, 3, 5, 7} <= set(clock.orders)
    assert found.bursts is None or found.bursts.count == 0


@pytest.mark.parametrize("sample_hz", [10e3, 1e6])
def test_pulses_of_a_dimmer_are_one_clock_and_bursts(sample_hz):
    t = np.arange(int(5 * sample_hz)) / sample_hz
    x = 0.1 * np.cos(2 * np.pi * 50.02 * t) + noise(len(t), 1e-3)
    for k in range(499):
        x[int((k + 0.3) * sample_hz / 100.04) :][:20] += 0.05
    found = contents(x, sample_hz)
    many = [family for family in found.families if len(family.lines) > 1]
    assert [family.kind for family in many] == ["clock"]
    assert (many[0].beside.order, many[0].beside.separate) == (2, False)
    assert not [family for family in found.families if family.kind == "narrow-band"]
    assert len(found.families) <= 2
    assert found.bursts.count == pytest.approx(499, abs=2)
    assert (found.bursts.locked, found.bursts.per_cycle) == (True, 2)
