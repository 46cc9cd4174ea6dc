"""Bursts tied to the mains, and bursts that are not. All data invented."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from straypath.capture.capture import Channel
from straypath.contents.bursts.find import find_bursts
from straypath.contents.bursts.phase_lock import phase_lock, rayleigh_p
from straypath.contents.records import Bursts


def at_50_hz(time_s: float) -> float:
    return 2 * np.pi * 50.0 * time_s


def wrapped(time_s: float) -> float:
    return float(np.angle(np.exp(1j * at_50_hz(time_s))))


@pytest.mark.parametrize(("n", "resultant"), [(10, 0.54733), (20, 0.38702), (50, 0.24477)])
def test_critical_resultant(n, resultant):
    """S9-rayl-lock: computed, approximate; the large-n form exp(-n R²) at 5 %, ± 0.01."""
    assert rayleigh_p(n, resultant + 0.01) < 0.05 < rayleigh_p(n, resultant - 0.01)


@pytest.mark.parametrize("n", [3, 5, 10, 30])
def test_chance_of_a_resultant(n):
    """Independent: 200,000 sets of random directions. Below n = 10 it may be 15 % low."""
    angles = np.random.default_rng(n).uniform(0, 2 * np.pi, (200_000, n))
    r = np.abs(np.exp(1j * angles).mean(axis=1))
    for p in (0.1, 0.01, 0.001):
        seen = rayleigh_p(n, float(np.quantile(r, 1 - p)))
        if n >= 10:
            assert seen == pytest.approx(p, rel=0.25)
        else:
            assert seen >= 0.85 * p


def test_random_bursts_are_rarely_called_locked():
    """Independent: simulation, 500 sets; p is at most its own frequency (Bonferroni: safe)."""
    rng = np.random.default_rng(1)
    p = [
        phase_lock(np.sort(rng.uniform(0, 2.0, rng.integers(2, 60))), at_50_hz, 2.0).p_value
        for _ in range(500)
    ]
    for level in (0.05, 0.01):
        assert np.count_nonzero(np.array(p) < level) <= stats.binom.isf(1e-3, 500, level)


def test_clicks_in_trains_count_once():
    """Five clicks within a millisecond, four times at random: no tie to the mains."""
    rng = np.random.default_rng(2)
    locked = 0
    for _ in range(200):
        trains = np.sort(rng.uniform(0, 1.0, 4))
        times = np.sort((trains[:, np.newaxis] + np.arange(5) * 2e-4).ravel())
        locked += phase_lock(times, at_50_hz, 1.0).locked
    assert locked == 0


@pytest.mark.parametrize("phase", [at_50_hz, wrapped])
@pytest.mark.parametrize(
    ("kept", "per_cycle"),
    [
        ((0.3,), 1),
        ((0.3, 0.8), 2),
        ((0.1, 0.35), 2),
        ((0.1, 0.3, 0.75), 3),
        (tuple((np.arange(6) + 0.4) / 6), 6),
    ],
)
def test_locked_bursts(phase, kept, per_cycle):
    """Half-wave 1, dimmer 2, six-pulse 6 per cycle; also phases that are not evenly spaced."""
    rng = np.random.default_rng(3)
    times = np.sort((np.arange(40)[:, np.newaxis] + np.array(kept)).ravel() / 50.0)
    times += rng.normal(0, 3e-5, len(times))
    lock = phase_lock(times, phase, 0.8)
    assert lock.locked
    assert lock.per_cycle == per_cycle
    assert lock.p_value < 1e-9


def test_locked_bursts_with_misses_and_strays():
    rng = np.random.default_rng(4)
    kept = (np.arange(100) * 0.01 + 0.004)[rng.random(100) < 0.6]
    times = np.sort(np.concatenate([kept, rng.uniform(0, 1, 10)]))
    lock = phase_lock(times, at_50_hz, 1.0)
    assert lock.locked
    assert lock.per_cycle == 2


@pytest.mark.parametrize("rate_hz", [100.3, 99.8, 50.15, 300.5])
def test_a_rate_beside_the_mains_is_not_locked(rate_hz):
    """Over 1 s the phase turns by a good part of a cycle: drift, not lock."""
    times = np.arange(0, 1.0, 1 / rate_hz)
    lock = phase_lock(times, at_50_hz, 1.0)
    assert not lock.locked


def test_a_rate_too_close_to_tell_is_named():
    """0.01 Hz off over 1 s can't be told; the limit in the words says so."""
    lock = phase_lock(np.arange(0, 1.0, 1 / 100.01), at_50_hz, 1.0)
    assert lock.locked
    assert "a rate within 0.048 Hz" in lock.words


@pytest.mark.parametrize("rate_hz", [217.0, 120.0, 83.0, 1_000 / 7.3])
def test_foreign_rates_are_not_locked(rate_hz):
    assert not phase_lock(np.arange(0, 1.0, 1 / rate_hz), at_50_hz, 1.0).locked


def test_two_bursts_never_prove_a_lock():
    assert not phase_lock(np.array([0.1, 0.12]), at_50_hz, 1.0).locked


def test_dimmer_under_strong_hum_end_to_end():
    """Ringing edges twice a cycle, 20 times the noise, under hum 100 times the noise."""
    rng = np.random.default_rng(5)
    n, rate = 1_000_000, 1e6
    t = np.arange(n) / rate
    x = 141.0 * np.cos(2 * np.pi * 50 * t + 0.2) + rng.standard_normal(n)
    for k in range(100):
        since = t[int((k * 0.01 + 0.0032) * rate) :][:200] - (k * 0.01 + 0.0032)
        edge = np.exp(-since / 2e-5) * np.cos(2 * np.pi * 9e4 * since)
        at = int((k * 0.01 + 0.0032) * rate)
        x[at : at + 200] += (20.0 if k % 2 else -20.0) * edge
    bursts = find_bursts(Channel("lead", x.astype(np.float32), "V"), rate, mains_phase=at_50_hz)
    assert isinstance(bursts, Bursts)
    assert bursts.count == 100
    assert bursts.locked
    assert bursts.per_cycle == 2
    assert bursts.locked_p is not None
    assert bursts.locked_p < 1e-9
    folded = np.array([b.mains_phase_rad for b in bursts.found]) % np.pi
    np.testing.assert_allclose(folded, (2 * np.pi * 50 * 0.0032) % np.pi, atol=0.01)
