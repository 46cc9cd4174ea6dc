"""Bursts against what else a channel holds: ringing, clocks, many lines."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.capture.capture import Channel
from straypath.contents.bursts.of_clocks import at_edges
from straypath.contents.bursts.ringing import energy_in_band
from straypath.contents.lines.baseband import Tone
from straypath.contents.lines.report import ToneModel
from straypath.contents.records import Burst, Bursts
from straypath.contents.whole import read_contents


def contents(x, rate_hz):
    return read_contents(Channel("invented", x, "V"), rate_hz)


def ringing(seed, decay_s, count=12, rate_hz=50e3, seconds=2.0):
    rng = np.random.default_rng(seed)
    n = int(rate_hz * seconds)
    x = 1e-3 * rng.standard_normal(n)
    t = np.arange(int(8 * decay_s * rate_hz)) / rate_hz
    for start in np.linspace(0.03, 0.9, count) + rng.uniform(0, 0.04, count):
        ring = np.sin(2 * np.pi * 10e3 * t + rng.uniform(0, 6)) * np.exp(-t / decay_s)
        x[int(start * n) :][: len(t)] += 0.05 * ring
    return x


@pytest.mark.parametrize("decay_s", [0.5e-3, 2e-3, 6e-3])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_ringing_bursts_make_no_narrow_bands(seed, decay_s):
    found = contents(ringing(seed, decay_s), 50e3)
    # The tail of a long one may count once more.
    assert 12 <= found.bursts.count <= 13
    assert found.families == ()


def test_a_resonance_stays_a_narrow_band_beside_bursts():
    """The bursts are single spikes, whose energy lies at all frequencies alike."""
    rng = np.random.default_rng(4)
    n, rate_hz = 200_000, 10e3
    f = np.fft.rfftfreq(n, 1 / rate_hz)
    ring = np.abs(1 / (1 - (f / 1_370) ** 2 + 1j * f / 1_370 / 50)) / 5
    x = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * (0.3 + ring), n)
    x[rng.integers(1_000, n - 1_000, 12)] += 40.0
    found = contents(x, rate_hz)
    assert found.bursts.count == 12
    assert "narrow-band" in {family.kind for family in found.families}


def test_energy_of_a_tone_burst_lies_in_its_band():
    """Independent: A²/2 times the duration; a Hann burst is narrower than four bins."""
    rate_hz, n = 10e3, 4_000
    t = np.arange(400) / rate_hz
    x = np.zeros(n)
    x[1_000:1_400] = np.hanning(400) * np.sin(2 * np.pi * 1e3 * t)
    energy = float(np.sum(x**2) / rate_hz)
    bursts = Bursts((Burst(0.12, 0.02, 1.0, energy),), 1, 0.1)
    channel = Channel("invented", x, "V")
    assert energy_in_band(channel, rate_hz, bursts, 1e3, 50.0) == pytest.approx(energy, rel=0.02)
    assert energy_in_band(channel, rate_hz, bursts, 3e3, 50.0) < 0.01 * energy


@pytest.mark.parametrize("seed", range(5))
def test_bursts_without_a_tie_are_at_no_edges(seed):
    rng = np.random.default_rng(seed)
    bursts = [Burst(float(t), 1e-3, 1.0, 1.0) for t in np.sort(rng.uniform(0, 10, 200))]
    assert not at_edges(bursts, 437.3, 10e3).any()


def test_many_strong_lines_leave_no_burst():
    rng = np.random.default_rng(7)
    t = np.arange(20_000) / 5e3
    x = 0.1 * np.cos(2 * np.pi * 49.98 * t) + 1e-3 * rng.standard_normal(len(t))
    for f in np.linspace(70.3, 2_390.7, 150) + rng.uniform(-3, 3, 150):
        x += 0.05 * np.cos(2 * np.pi * f * t + rng.uniform(0, 6))
    found = contents(x, 5e3)
    assert found.bursts is None or found.bursts.count == 0


def test_waves_of_lines_against_cosines():
    """Independent: one cosine after the other."""
    rng = np.random.default_rng(3)
    tones = [
        Tone(f, 1e-6, a * np.exp(1j * p), 1e-9, 1e-9, 10.0, 1e-9, 1e-9)
        for f, a, p in zip(*rng.uniform(0.1, 3.0, (3, 7)), strict=True)
    ]
    t = 0.4 + np.arange(1_000) * 0.01 - 5.0
    wanted = sum(
        abs(tone.phasor) * np.cos(2 * np.pi * tone.frequency_hz * t + np.angle(tone.phasor))
        for tone in tones
    )
    np.testing.assert_allclose(ToneModel(tones, 5.0).wave(0.4, 0.01, 1_000), wanted, atol=1e-11)
