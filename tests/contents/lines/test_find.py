"""Lines beside the mains comb: found where they are, not found where they are not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straypath.capture.capture import Channel
from straypath.contents.comb import read_comb
from straypath.contents.lines import find as find_module
from straypath.contents.lines.find import find_lines

RATE_HZ = 10_000.0


def noise(n, seed=1):
    return np.random.default_rng(seed).standard_normal(n)


def tone(n, f_hz, amplitude, phase, rate_hz=RATE_HZ):
    t = (np.arange(n) - (n - 1) / 2) / rate_hz
    return amplitude * np.cos(2 * np.pi * f_hz * t + phase)


def found(x, rate_hz=RATE_HZ, **options):
    channel = Channel("invented", x, "V")
    return find_lines(channel, rate_hz, read_comb(channel, rate_hz), **options).tones


@pytest.mark.parametrize("n", [1_000, 20_000, 77_777])
@settings(max_examples=8, deadline=None)
@given(f_hz=st.floats(430.0, 4_600.0), phase=st.floats(-3.0, 3.0))
def test_one_line_is_measured(n, f_hz, phase):
    line = found(noise(n) + tone(n, f_hz, 2.0, phase))[0]
    assert abs(line.frequency_hz - f_hz) < 5 * line.frequency_u_hz
    assert abs(abs(line.phasor) - 2.0) < 5 * line.amplitude_u
    assert abs(np.angle(line.phasor * np.exp(-1j * phase))) < 5 * line.phase_u


def test_uncertainties_are_those_of_the_bound():
    """Var f = 3 S/(π² A² T³), Var A = S/T: 100 draws, 10 % of the record's ends given up."""
    n, amplitude = 20_000, 1.0
    duration, density = n / RATE_HZ, 2.0 / RATE_HZ
    lines = [found(noise(n, s) + tone(n, 1234.567, amplitude, 0.5), 1e4)[0] for s in range(100)]
    f_bound = np.sqrt(3 * density / (np.pi**2 * amplitude**2 * duration**3))
    f_error = np.array([line.frequency_hz - 1234.567 for line in lines])
    a_error = np.array([abs(line.phasor) - amplitude for line in lines])
    assert np.std(f_error) < 1.5 * f_bound
    assert np.std(a_error) < 1.35 * np.sqrt(density / duration)
    within = np.abs(f_error) < 1.98 * np.array([line.frequency_u_hz for line in lines])
    assert within.mean() >= 0.88


def test_two_lines_less_than_two_bins_apart_are_told_apart():
    n = 20_000
    x = noise(n) + tone(n, 700.0, 5.0, 0.3) + tone(n, 700.8, 3.0, 1.0)
    lines = found(x)
    assert [round(line.frequency_hz, 1) for line in lines] == [700.0, 700.8]
    assert abs(lines[1].phasor) == pytest.approx(3.0, abs=5 * lines[1].amplitude_u)


def test_a_clock_beside_an_order_of_the_mains_is_seen_beside_it():
    n = 100_000
    hum = sum(
        tone(n, 49.98 * k, a, k) for k, a in {1: 100.0, 3: 10.0, 5: 7.0, 7: 4.0, 20: 2.0}.items()
    )
    lines = found(hum + noise(n) + tone(n, 1000.0, 2.0, 0.5))
    assert len(lines) == 1
    assert abs(lines[0].frequency_hz - 1000.0) < 4 * lines[0].frequency_u_hz


def coloured(kind, n, seed):
    """White, 1/f with roll-off, or resonant noise."""
    f = np.fft.rfftfreq(n, 1 / RATE_HZ)
    f[0] = f[1]
    shape = {
        "white": np.ones_like(f),
        "1/f": np.sqrt(1 + 500 / f) / np.sqrt(1 + (f / 1_250) ** 4),
        "resonant": np.abs(1 / (1 - (f / 1_370) ** 2 + 1j * f / 1_370 / 20)) + 0.1,
    }[kind]
    return np.fft.irfft(np.fft.rfft(noise(n, seed)) * shape, n)


@pytest.mark.parametrize("kind", ["white", "1/f", "resonant"])
def test_false_lines_at_one_in_ten(kind):
    """Nominal 30 of 300; 0.5 to 2 times is promised, and sampling adds some."""
    count = 300
    alarms = sum(
        bool(found(coloured(kind, 8_192, seed), false_alarm_rate=0.1)) for seed in range(count)
    )
    assert 0.3 * 0.1 * count < alarms < 2.4 * 0.1 * count


@pytest.mark.parametrize("seed", range(3))
def test_weak_lines_are_seen(seed):
    """P T/S = 18.5 dB, nine times in ten at least, at a false-alarm rate of 1e-3."""
    n, seen = 65_536, 0
    amplitude = np.sqrt(2 * 10**1.85 * (2 / RATE_HZ) / (n / RATE_HZ))
    rng = np.random.default_rng(seed)
    for _ in range(30):
        f_hz = rng.uniform(300.0, 4_800.0)
        lines = found(rng.standard_normal(n) + tone(n, f_hz, amplitude, rng.uniform(-3, 3)))
        seen += any(abs(line.frequency_hz - f_hz) < 2 * RATE_HZ / n for line in lines)
    assert seen >= 25


def test_segments_see_what_the_whole_sees(monkeypatch):
    """A record just too long to be transformed as a whole, with lines at every place in a bin."""
    n, rate_hz = 1_200_000, 1e6
    frequencies = [5_000.3, 12_345.678, 65_432.1, 65_482.1, 305_183.4, 400_003.3]
    phases = np.linspace(-3.0, 3.0, len(frequencies))
    lines = zip(frequencies, phases, strict=True)
    x = noise(n) + sum(tone(n, f, 0.1, p, rate_hz) for f, p in lines)
    whole = found(x, rate_hz)
    monkeypatch.setattr(find_module, "WHOLE_SAMPLES", 1_000_000)
    monkeypatch.setattr("straypath.contents.lines.segments.LENGTH", 16_384)
    parts = found(x, rate_hz)
    assert len(whole) == len(parts) == len(frequencies)
    for one, other, f_hz, phase in zip(whole, parts, frequencies, phases, strict=True):
        for line in (one, other):
            assert abs(line.frequency_hz - f_hz) < 5 * line.frequency_u_hz
            assert abs(np.angle(line.phasor * np.exp(-1j * phase))) < 5 * line.phase_u
            assert abs(abs(line.phasor) - 0.1) < 5 * line.amplitude_u


@pytest.mark.parametrize("wave", ["silent", "constant", "outlier", "saturated", "short"])
def test_no_line_is_invented(wave):
    x = noise(20_000)
    if wave == "outlier":
        x[7_000] = 1e6
    made = {
        "silent": np.zeros(5_000),
        "constant": np.full(5_000, 3.3),
        "outlier": x,
        "saturated": np.clip(x, -0.5, 0.5),
        "short": x[:70],
    }[wave]
    assert found(made) == ()


def test_lines_go_with_gain_and_offset():
    n = 20_000
    x = noise(n) + tone(n, 777.7, 1.0, 0.4)
    plain, scaled = found(x)[0], found(50.0 * x + 1e4)[0]
    assert scaled.frequency_hz == pytest.approx(plain.frequency_hz, abs=1e-6)
    assert scaled.phasor == pytest.approx(50.0 * plain.phasor, rel=1e-5)
