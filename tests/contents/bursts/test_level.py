"""Level, slope and steps, with slow noise counted. All data invented."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from straypath.capture.capture import Channel
from straypath.contents.bursts.envelope import envelope
from straypath.contents.bursts.level import level
from straypath.contents.records import Offset, Undetermined

RATE = 1e4


def read(x: np.ndarray, rate_hz: float = RATE, **facts: float) -> Offset:
    offset = level(Channel("lead", x, "V", **facts), envelope(x, rate_hz))
    assert isinstance(offset, Offset)
    return offset


def flicker(rng: np.random.Generator, n: int) -> np.ndarray:
    """1/f noise with its corner at 100 cycles per record, slow down to a quarter of a cycle."""
    spectrum = np.fft.rfft(rng.standard_normal(4 * n))
    spectrum *= np.sqrt(400 / np.maximum(1, np.arange(len(spectrum))))
    spectrum[0] = 0.0
    return np.fft.irfft(spectrum)[:n] + rng.standard_normal(n)


@pytest.mark.parametrize("kind", ["white", "1/f"])
def test_intervals_hold_the_truth(kind):
    """Independent: simulation, 300 records; 95 % intervals within 90 … 100 %."""
    rng = np.random.default_rng(1)
    mean = slope = 0
    for _ in range(300):
        x = rng.standard_normal(20_000) if kind == "white" else flicker(rng, 20_000)
        offset = read(x + 3.0 + 0.5 * np.linspace(-1, 1, 20_000))
        mean += offset.mean.low < 3.0 < offset.mean.high
        slope += offset.slope_per_s.low < 0.5 < offset.slope_per_s.high
    # At a coverage of 90 % fewer than this are seen once in a thousand.
    fewest = stats.binom.ppf(1e-3, 300, 0.90)
    assert mean >= fewest
    assert slope >= fewest


@pytest.mark.parametrize("kind", ["white", "1/f", "walk"])
def test_steps_are_not_invented(kind):
    """Nominal 1e-3 per record: in 300 records two or more come once in 27 runs, five never."""
    rng = np.random.default_rng(2)
    made = {
        "white": lambda: rng.standard_normal(20_000),
        "1/f": lambda: flicker(rng, 20_000),
        "walk": lambda: np.cumsum(rng.standard_normal(20_000)),
    }[kind]
    assert sum(len(read(made()).steps) > 0 for _ in range(300)) <= 4


@pytest.mark.parametrize("drift", [0.0, 5.0])
def test_a_step_has_its_time_and_size(drift):
    rng = np.random.default_rng(3)
    n = 400_000
    x = rng.standard_normal(n) + 30 * np.cos(2 * np.pi * 50 * np.arange(n) / RATE)
    x += drift * np.linspace(0, 1, n)
    x[123_456:] += 0.5
    x[300_000:] -= 0.8
    offset = read(x)
    assert [at for at, _ in offset.steps] == pytest.approx([12.3456, 30.0], abs=0.1)
    # The clearest of many places is chosen, which makes a step 0.5 u too large on average.
    for (_, size), truth in zip(offset.steps, (0.5, -0.8), strict=True):
        assert abs(size.value - truth) < 3.0 * size.u < 0.3 * abs(truth)


def test_a_short_burst_is_no_step():
    x = np.random.default_rng(4).standard_normal(400_000)
    x[200_000:200_500] += 50.0
    assert read(x).steps == ()


def test_scale_and_offset_of_the_channel_are_applied():
    x = np.random.default_rng(5).integers(95, 106, 100_000).astype(np.int16)
    plain, turned = read(x), read(x, scale=-2.0, offset=7.0)
    assert turned.mean.value == pytest.approx(7.0 - 2.0 * plain.mean.value)
    assert turned.mean.u == pytest.approx(2.0 * plain.mean.u)
    assert turned.slope_per_s.value == pytest.approx(-2.0 * plain.slope_per_s.value)


@pytest.mark.parametrize("n", [32, 100, 1_000])
def test_few_samples_give_a_level(n):
    offset = read(5.0 + 0.1 * np.random.default_rng(6).standard_normal(n))
    assert offset.mean.low < 5.0 < offset.mean.high


def test_too_few_samples_say_so():
    x = np.ones(20)
    verdict = level(Channel("lead", x, "V"), envelope(x, RATE))
    assert isinstance(verdict, Undetermined)


def test_a_constant_has_its_level_and_no_steps():
    offset = read(np.full(50_000, 3, dtype=np.int16))
    assert offset.mean.value == pytest.approx(3.0)
    assert offset.slope_per_s.value == pytest.approx(0.0, abs=1e-9)
    assert offset.steps == ()
