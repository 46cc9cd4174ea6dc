"""Bursts: found where they are, as large as they are, and none in noise. All data invented."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal, stats

from straypath.capture.capture import Channel
from straypath.contents.bursts.candidates import LOOKED_AT
from straypath.contents.bursts.envelope import BLOCK, envelope
from straypath.contents.bursts.find import find_bursts
from straypath.contents.bursts.measure import merged
from straypath.contents.bursts.thresholds import upper_limit
from straypath.contents.records import Bursts, Undetermined

RATE = 1e6


def noise(rng: np.random.Generator, n: int, kind: str) -> np.ndarray:
    w = rng.standard_normal(n)
    if kind == "white":
        return w
    if kind == "1/f":
        spectrum = np.fft.rfft(rng.standard_normal(4 * n))
        spectrum *= np.sqrt(4 * n / 50 / np.maximum(1, np.arange(len(spectrum))))
        return w + np.fft.irfft(spectrum)[:n]
    if kind == "walk":
        return np.cumsum(w)
    radius, turn = 0.98, 2 * np.pi * 0.12
    y = signal.lfilter([1], [1, -2 * radius * np.cos(turn), radius**2], w)
    return y / y.std() + 0.3 * rng.standard_normal(n)


def hum(start: int, stop: int, rate_hz: float = RATE, rms: float = 100.0) -> np.ndarray:
    """50 Hz with harmonics, 100 times the noise."""
    t = np.arange(start, stop) / rate_hz
    orders = ((1, 1.0), (3, 0.1), (13, 0.03), (39, 0.003))
    return rms * np.sqrt(2) * sum(a * np.cos(2 * np.pi * 50 * k * t + k) for k, a in orders)


def found_in(x: np.ndarray, rate_hz: float = RATE, **options) -> Bursts:
    bursts = find_bursts(Channel("lead", x, "V"), rate_hz, **options)
    assert isinstance(bursts, Bursts), bursts
    return bursts


@pytest.mark.parametrize("kind", ["white", "1/f", "walk", "resonance"])
@pytest.mark.parametrize("n", [100, 5_000])
def test_false_alarms_keep_to_the_rate(kind, n):
    """Independent: simulation, 300 records at 5 %; at most twice the rate (binomial, 1 in 1,000).

    Coloured noise may give fewer, for its limit is safe.
    """
    rng = np.random.default_rng(7)
    alarms = sum(
        found_in(noise(rng, n, kind).astype(np.float32), 1e5, false_alarm_rate=0.05).count > 0
        for _ in range(300)
    )
    assert alarms <= stats.binom.isf(1e-3, 300, 0.10)
    if kind == "white" and n > 1_000:
        assert alarms >= stats.binom.ppf(1e-3, 300, 0.025)


def test_limit_is_that_of_gaussian_noise():
    """Independent: scipy.stats.norm; the law is fitted, so 3 % are left to it."""
    x = np.random.default_rng(1).standard_normal((4_096, 64))
    for blocks, length in ((x.max(axis=1), 64), (x.ravel()[:20_000], 1)):
        assert upper_limit(blocks, length, 1e-9) == pytest.approx(stats.norm.isf(1e-9), rel=0.03)


def test_bursts_do_not_raise_the_limit():
    x = np.random.default_rng(2).standard_normal((4_096, 64)).max(axis=1)
    with_bursts = np.where(np.arange(4_096) % 4 == 0, 1e3, x)
    assert upper_limit(with_bursts, 64, 1e-9) < 1.05 * upper_limit(x, 64, 1e-9)


@pytest.mark.parametrize("with_hum", [False, True])
@pytest.mark.parametrize("dtype", [np.float32, np.int16])
def test_spikes_of_eight_sigma_are_found(with_hum, dtype):
    """Bound of the brief: 8 times the noise, also under hum a hundred times the noise.

    Expected chance: noise adds to the spike, Φ(8 - 6.1) = 97 %.
    """
    rng = np.random.default_rng(3)
    at = np.arange(50) * 19_000 + rng.integers(100, 18_000, 50)
    x = rng.standard_normal(1_000_000) + (hum(0, 1_000_000) if with_hum else 0.0)
    x[at] += 8.0 * rng.choice([-1, 1], 50)
    step = 1.0 if dtype == np.float32 else 0.25
    bursts = found_in((np.round(x / step) if dtype == np.int16 else x).astype(dtype))
    times = np.array([b.time_s for b in bursts.found]) * RATE
    assert np.abs(times[:, np.newaxis] - at).min(axis=1).max() < 3.0, "a false one"
    assert bursts.count >= 44


def test_long_record_is_searched_block_by_block():
    """Past 2^20 samples only blocks that stand out are read again; hum hides no spike."""
    rng = np.random.default_rng(4)
    n = 2_500_000
    at = np.arange(60) * 40_000 + rng.integers(100, 39_000, 60)
    x = (rng.standard_normal(n) + hum(0, n)).astype(np.float32)
    x[at] += 9.0
    asked: list[int] = []

    def model(start: int, stop: int) -> np.ndarray:
        asked.append(stop - start)
        return hum(start, stop)

    bursts = found_in(x, model=model)
    assert bursts.count >= 57
    assert sum(asked) < 0.02 * n, "the model is for candidates only"
    assert 10 * LOOKED_AT * n < n > 10 * BLOCK


@pytest.mark.parametrize("width", [30, 300, 1_000])
def test_wide_bursts_are_found_under_hum_with_a_model(width):
    rng = np.random.default_rng(5)
    at = np.arange(20) * 40_000 + 9_050
    x = rng.standard_normal(1_000_000) + hum(0, 1_000_000)
    for i in at:
        x[i : i + width] += 8.0 * np.hanning(width)
    bursts = found_in(x.astype(np.float32), model=hum)
    assert bursts.count == 20
    times = np.array([b.time_s for b in bursts.found]) * RATE
    np.testing.assert_allclose(times, at + (width - 1) / 2, atol=2 + width / 20)


def test_comb_alone_is_no_burst():
    """A peaky periodic wave stands out of its own course; the model explains it."""
    n, rate = 200_000, 20e3
    t = np.arange(n) / rate

    def peaks(start: int, stop: int) -> np.ndarray:
        phase = 2 * np.pi * 50 * np.arange(start, stop) / rate
        return sum(5.0 * np.cos(k * phase) for k in range(1, 31))

    x = (peaks(0, n) + np.random.default_rng(6).standard_normal(n)).astype(np.float32)
    assert t[-1] > 9.0
    assert found_in(x, rate, model=peaks).count == 0


def test_ringing_has_its_time_width_and_energy():
    """Closed form: a exp(-t/τ) sin(ωt) has energy a²τ/4, and 90 % of it within 1.5 τ."""
    rng = np.random.default_rng(8)
    amplitude, tau, at = 60.0, 40e-6, 0.0521
    t = np.arange(200_000) / RATE - at
    ring = np.where(
        t >= 0, amplitude * np.exp(-np.abs(t) / tau) * np.sin(2 * np.pi * 1.1e5 * t), 0.0
    )
    bursts = found_in((ring + rng.standard_normal(len(t))).astype(np.float32))
    assert bursts.count == 1
    (burst,) = bursts.found
    assert burst.energy == pytest.approx(amplitude**2 * tau / 4, rel=0.10)
    # Half of exp(-2t/τ) is reached at τ/2·ln 2, 90 % in the middle within τ/2·ln 19.
    assert burst.time_s == pytest.approx(at + tau / 2 * np.log(2), abs=4e-6)
    assert burst.width_s == pytest.approx(tau / 2 * np.log(19), rel=0.15)


def test_burst_on_a_level_that_stays_is_measured_over_both_levels():
    x = 0.1 * np.random.default_rng(9).standard_normal(100_000)
    x[50_000:] += 5.0
    x[49_990:50_010] += 20.0
    (burst,) = found_in(x).found
    # Which of the levels lies under the burst can't be told: 20 or 15 above it.
    assert 20 * 15.0**2 < burst.energy * RATE < 20 * 20.0**2 * 1.05


def test_neighbours_are_one_burst_and_others_are_not():
    x = np.random.default_rng(10).standard_normal(100_000)
    x[[20_000, 20_030, 60_000, 60_400]] += 30.0
    assert found_in(x).count == 3


@pytest.mark.parametrize("rate", [1e4, 1e5, 1e6])
@pytest.mark.parametrize("height", [30.0, 3_000.0])
def test_very_strong_spikes_stay_apart(rate, height):
    """Six a cycle at 10 kS/s is one every 33 samples: still a list and no busy signal."""
    rng = np.random.default_rng(20)
    n = 100_000
    apart = max(33, int(rate / 300))
    at = np.arange(apart, n - apart, apart)
    x = rng.standard_normal(n)
    x[at] += height
    bursts = found_in(x.astype(np.float32), rate, model=lambda i, j: np.zeros(j - i))
    assert bursts.count == pytest.approx(len(at), abs=0.01 * len(at))
    times = np.array([b.time_s for b in bursts.found]) * rate
    assert np.abs(times[:, np.newaxis] - at).min(axis=1).max() < 2.0


@given(
    st.lists(st.tuples(st.integers(0, 1_000), st.integers(1, 40)), min_size=1, max_size=30),
    st.integers(1, 20),
)
def test_merged_stretches_cover_all_and_keep_apart(pieces, gap):
    start = np.array(sorted(a for a, _ in pieces))
    stop = start + np.array([b for _, b in pieces])
    a, b, first = merged(start, stop, gap)
    assert all(((a <= i) & (j <= b)).any() for i, j in zip(start, stop, strict=True))
    assert (a[1:] - b[:-1] >= gap).all()
    assert (a == start[first]).all()


@pytest.fixture(scope="module")
def spiky() -> np.ndarray:
    rng = np.random.default_rng(11)
    x = rng.standard_normal(40_000)
    x[[5_000, 17_000, 31_000]] += [15.0, -20.0, 40.0]
    return x


@settings(max_examples=15, deadline=None)
@given(st.floats(1e-6, 1e6))
def test_gain_scales_peak_and_energy(spiky, gain):
    plain, scaled = found_in(spiky), found_in(gain * spiky)
    assert scaled.threshold == pytest.approx(gain * plain.threshold, rel=1e-6)
    for one, other in zip(plain.found, scaled.found, strict=True):
        assert other.time_s == pytest.approx(one.time_s, abs=1e-9)
        assert other.peak == pytest.approx(gain * one.peak, rel=1e-6)
        assert other.energy == pytest.approx(gain**2 * one.energy, rel=1e-6)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 39_999))
def test_shift_moves_the_bursts_along(spiky, shift):
    rolled = found_in(np.roll(spiky, shift))
    expected = sorted((i + shift) % 40_000 for i in (5_000, 17_000, 31_000))
    inside = [i for i in expected if 500 < i < 39_500]
    times = [b.time_s * RATE for b in rolled.found if 500 < b.time_s * RATE < 39_500]
    np.testing.assert_allclose(times, inside, atol=2.0)


def test_sign_turns_the_peak_and_a_negative_scale_does_so_too(spiky):
    plain = [b.peak for b in found_in(spiky).found]
    assert [b.peak for b in found_in(-spiky).found] == pytest.approx([-p for p in plain])
    turned = find_bursts(Channel("lead", spiky, "V", scale=-2.0), RATE)
    assert isinstance(turned, Bursts)
    assert [b.peak for b in turned.found] == pytest.approx([-2 * p for p in plain])
    assert turned.threshold > 0


@pytest.mark.parametrize("dtype", [np.int8, np.int16, np.int32, np.float32, np.float64])
def test_noise_below_one_step_raises_no_alarm(dtype):
    x = np.round(0.4 * np.random.default_rng(12).standard_normal(300_000)).astype(dtype)
    assert found_in(x).count == 0
    x[150_000] = 9
    assert [b.peak for b in found_in(x).found] == pytest.approx([9.0], abs=0.3)


@pytest.mark.parametrize("n", [0, 1, 63])
def test_too_few_samples_say_so(n):
    verdict = find_bursts(Channel("lead", np.ones(n), "V"), RATE)
    assert isinstance(verdict, Undetermined)
    assert "too few" in verdict.why


@pytest.mark.parametrize("n", [64, 65, 100, 127, 129, 1_000])
def test_few_samples_still_tell_a_large_burst(n):
    x = np.random.default_rng(13).standard_normal(n)
    x[n // 3] += 60.0
    bursts = found_in(x, 1e3)
    assert [round(b.time_s * 1e3) for b in bursts.found] == [n // 3]


@pytest.mark.parametrize("value", [0, 5])
def test_a_record_that_never_changes_says_so(value):
    for dtype in (np.int16, np.float32):
        verdict = find_bursts(Channel("lead", np.full(5_000, value, dtype=dtype), "V"), RATE)
        assert isinstance(verdict, Undetermined)
        assert "never changes" in verdict.why


def test_a_busy_signal_is_not_a_list_of_bursts():
    rng = np.random.default_rng(14)
    loud = np.repeat(rng.random(200) < 0.45, 1_000)
    x = rng.standard_normal(200_000) * np.where(loud, 200.0, 1.0)
    verdict = find_bursts(Channel("lead", x, "V"), RATE)
    assert isinstance(verdict, Undetermined)
    assert "busy" in verdict.why


def test_the_last_samples_are_looked_at_too():
    x = np.random.default_rng(15).standard_normal(100_037)
    x[100_030] += 15.0
    assert [round(b.time_s * RATE) for b in found_in(x).found] == [100_030]


def test_envelope_reads_every_type_alike_and_misses_nothing():
    """Independent: the same numbers by numpy over the whole record."""
    x = np.random.default_rng(16).integers(-3_000, 3_000, 300_001).astype(np.int16)
    env = envelope(x, RATE)
    wide = x.astype(np.float64)
    jumps = wide[env.lag :] - wide[: -env.lag]
    assert env.high.max() == jumps.max()
    assert env.low.min() == jumps.min()
    assert env.high[3] == jumps[3 * BLOCK : 4 * BLOCK].max()
    rows = wide[: len(wide) // env.row * env.row].reshape(-1, env.row)
    np.testing.assert_allclose(env.track, rows.mean(axis=1), atol=1e-2)


def test_samples_are_never_written_to():
    x = np.random.default_rng(17).standard_normal(50_000).astype(np.float32)
    x[25_000] += 30.0
    x.flags.writeable = False
    assert found_in(x).count == 1


@pytest.mark.parametrize("at", [0, -1])
def test_times_stay_within_the_record(at):
    """A spike on the first or the last sample: half of its energy may lie beyond."""
    for seed in range(20):
        x = np.random.default_rng(seed).standard_normal(20_000)
        x[at] += 30.0
        found = find_bursts(Channel("invented", x, "V"), 5_000.0)
        assert found.count == 1
        assert 0.0 <= found.found[0].time_s <= 19_999 / 5_000.0
