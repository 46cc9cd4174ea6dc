"""Gain, phase and coherence of lines: recovery, coverage, false alarms, laws."""

from __future__ import annotations

import numpy as np
import pytest
from contents.pair.invented_pairs import F0_HZ, RATE_HZ, holds, holds_angle, through, times, tones
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import coherence, csd, welch

from calibration.simulate import PINK, WHITE
from straypath.capture.capture import Channel
from straypath.contents.pair.transfer import line_transfer
from straypath.errors import InputError
from straypath.quantity import Quantity, UpperLimit

RATIO = 0.4 * np.exp(0.7j)
COMB = {1: 3.0 * np.exp(1j), 3: 1.0 * np.exp(2j), 5: 0.6 * np.exp(-1j)}
DRAWS = 300


def noisy(rng, signal, level, floor=WHITE):
    """`level` is the rms of a white floor; another floor has the same density far above."""
    draw = floor.draw(rng, len(signal), RATE_HZ) / np.sqrt(RATE_HZ / 2)
    return signal + level * draw


def drawn(seconds, seed, *, x_noise=1.0, y_noise=1.0, common=0.0, wander=0.0, size=1.0):
    """Many transfers of the invented comb; `wander` is the random walk of f0 over 20 s [Hz]."""
    rng, t = np.random.default_rng(seed), times(seconds)
    comb = {k: size * z for k, z in COMB.items()}
    for _ in range(DRAWS):
        walk = wander / np.sqrt(20 * RATE_HZ) * np.cumsum(rng.standard_normal(len(t)))
        track = 2 * np.pi * np.cumsum(walk - walk.mean()) / RATE_HZ
        both = common * rng.standard_normal(len(t))
        x = noisy(rng, tones(t, comb, track), x_noise) + both
        y = noisy(rng, tones(t, through(comb, RATIO), track), y_noise) + both
        yield line_transfer(y, x, RATE_HZ, mains_hz=F0_HZ, orders=(1, 2, 3, 4, 5))


@pytest.mark.parametrize(
    ("seconds", "how"),
    [
        (2.0, {}),
        (0.5, {}),
        (2.0, {"x_noise": 3.0, "y_noise": 0.3}),
        (2.0, {"common": 2.0}),
        (10.0, {"wander": 0.02}),
    ],
    ids=["even", "six stretches", "noisy reference", "common noise", "wander"],
)
def test_coverage(seconds, how):
    """95 % intervals hold the truth in 92 to 98 % of 300 draws, all three orders together."""
    gains, phases = [], []
    for transfer in drawn(seconds, 11, **how):
        for line in transfer.lines:
            if line.order in COMB and line.coherent and line.phase_rad is not None:
                gains.append(holds(line.gain, abs(RATIO)))
                phases.append(holds_angle(line.phase_rad, np.angle(RATIO)))
    assert len(gains) > 2 * DRAWS
    assert 0.92 <= np.mean(gains) <= 0.98
    assert 0.92 <= np.mean(phases) <= 0.98


def test_weak_lines_are_never_over_claimed():
    """Near the noise a gain is a reading or a limit; wrong in no more than 5 % (3 deviations)."""
    held = [
        holds(line.gain, abs(RATIO))
        for transfer in drawn(2.0, 12, size=0.1)
        for line in transfer.lines
        if line.order in COMB and line.gain is not None
    ]
    assert len(held) > DRAWS
    assert np.mean(held) > 0.95 - 3 * np.sqrt(0.05 * 0.95 / DRAWS)


@pytest.mark.parametrize("floor", [WHITE, PINK], ids=lambda floor: floor.name)
def test_noise_only_pairs_keep_the_false_alarm_rate(floor):
    """Nominal 5 % over five lines; 1,000 pairs, 3 binomial deviations. 1/f lies at the lines."""
    rng = np.random.default_rng(5)
    zero = np.zeros(int(2 * RATE_HZ))
    alarms = [
        any(
            line.coherent
            for line in line_transfer(
                noisy(rng, zero, 1.0, floor),
                noisy(rng, zero, 1.0, floor),
                RATE_HZ,
                mains_hz=F0_HZ,
                orders=range(1, 6),
                false_alarm_rate=0.05,
            ).lines
        )
        for _ in range(1_000)
    ]
    assert 0.02 <= np.mean(alarms) <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 1_000)


def test_a_strong_line_in_one_channel_only_is_no_coherence():
    """The null law asks noise of one channel alone: nominal 5 %, 500 pairs."""
    rng, t = np.random.default_rng(6), times(2.0)
    x = tones(t, COMB)
    alarms = []
    for _ in range(500):
        y = noisy(rng, 0 * t, 1.0)
        (line,) = line_transfer(
            y, noisy(rng, x, 1.0), RATE_HZ, mains_hz=F0_HZ, orders=[1], false_alarm_rate=0.05
        ).lines
        alarms.append(line.coherent)
        assert line.coherent or isinstance(line.gain, UpperLimit)
    assert np.mean(alarms) == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 500))


def test_scipy_gives_the_same_coherence_and_ratio():
    """Independent: scipy.signal with boxcar segments of whole cycles, lines on its bins.

    It takes off means only, we a slope and the other lines as well; and it averages over what
    noise x has, which shrinks its ratio by the noise-to-signal ratio of x (1e-3 at order 1).
    """
    rate_hz, t = 400.0, np.arange(4_000) / 400.0
    rng = np.random.default_rng(3)
    x = np.cos(2 * np.pi * 50 * t) + 0.3 * rng.standard_normal(4_000)
    y = 0.5 * np.sin(2 * np.pi * 50 * t) + 0.3 * rng.standard_normal(4_000)
    transfer = line_transfer(y, x, rate_hz, mains_hz=50.0, orders=[1, 2])
    length = round(transfer.stretch_s * rate_hz)
    assert transfer.stretches * length == len(t)
    kept = {"fs": rate_hz, "window": "boxcar", "nperseg": length, "noverlap": 0}
    f, msc = coherence(y, x, **kept)
    cross, power = csd(x, y, **kept)[1], welch(x, **kept)[1]
    bins = [int(np.argmin(np.abs(f - k * 50.0))) for k in (1, 2)]
    got = [line.coherence for line in transfer.lines]
    assert got == pytest.approx(list(msc[bins]), abs=0.02)
    ratio = (cross / power)[bins[0]]
    line = transfer.lines[0]
    assert abs(line.gain.value - abs(ratio)) < line.gain.u
    assert abs(line.phase_rad.value - np.angle(ratio)) < line.phase_rad.u


def test_identical_channels():
    x = noisy(np.random.default_rng(1), tones(times(2.0), COMB), 1.0)
    line = line_transfer(x, x, RATE_HZ, mains_hz=F0_HZ, orders=[1]).lines[0]
    assert line.coherence == pytest.approx(1.0)
    assert line.gain.value == pytest.approx(1.0, abs=1e-12)
    assert line.gain.high - line.gain.low < 1e-11
    assert abs(line.phase_rad.value) < 1e-12


@pytest.mark.parametrize("silence", [0.0, 5.0])
def test_silent_channel(silence):
    x = noisy(np.random.default_rng(1), tones(times(2.0), COMB), 1.0)
    quiet = np.full_like(x, silence)
    dead = line_transfer(quiet, x, RATE_HZ, mains_hz=F0_HZ, orders=[1]).lines[0]
    assert not dead.coherent
    assert dead.gain.upper < 1e-12
    without = line_transfer(x, quiet, RATE_HZ, mains_hz=F0_HZ, orders=[1])
    assert not without.lines[0].coherent
    assert without.lines[0].gain is None
    assert "channel x holds nothing" in without.undetermined[0].why


def test_absent_reference_has_no_gain_and_says_why():
    rng = np.random.default_rng(2)
    y = noisy(rng, tones(times(2.0), COMB), 1.0)
    found = line_transfer(y, noisy(rng, 0 * y, 1.0), RATE_HZ, mains_hz=F0_HZ, orders=[2])
    assert found.lines[0].gain is None
    assert "no steady line" in found.undetermined[0].why


def test_two_lines_that_only_cross_are_not_called_coherent():
    """Half a hertz apart: over the record the phase between them turns twice."""
    t = times(4.0)
    x, y = tones(t, {1: 1.0}), tones(t, {1: 1.0}, f0_hz=F0_HZ + 0.5)
    rng = np.random.default_rng(1)
    found = line_transfer(
        noisy(rng, y, 0.1), noisy(rng, x, 0.1), RATE_HZ, mains_hz=F0_HZ, orders=[1]
    )
    assert not found.lines[0].coherent


def test_units_scales_and_integers():
    x = noisy(np.random.default_rng(1), tones(times(2.0), COMB), 0.01)
    codes = np.round(1_000 * x).astype(np.int16)
    pair = Channel("out", codes, "V", -1e-3, 2.0), Channel("coil", codes, "A", 2e-3)
    found = line_transfer(*pair, RATE_HZ, mains_hz=F0_HZ, orders=[1])
    assert found.unit == "V/A"
    assert found.lines[0].gain.value == pytest.approx(0.5)
    assert abs(found.lines[0].phase_rad.value) == pytest.approx(np.pi)
    assert line_transfer(pair[0], pair[0], RATE_HZ, mains_hz=F0_HZ, orders=[1]).unit == "1"
    assert line_transfer(x, x, RATE_HZ, mains_hz=F0_HZ, orders=[1]).unit == ""


@settings(deadline=None, max_examples=15)
@given(
    gain=st.floats(1e-3, 1e3), turn=st.floats(-3.0, 3.0), factor=st.floats(1e-6, 1e6),
    seed=st.integers(0, 1_000),
)  # fmt: skip
def test_laws(gain, turn, factor, seed):
    """Swapped roles invert H; a factor on y is a factor on H; coherence ignores both."""
    rng, t = np.random.default_rng(seed), times(1.0)
    x = noisy(rng, tones(t, COMB), 0.3)
    y = noisy(rng, tones(t, through(COMB, gain * np.exp(1j * turn))), 0.3 * gain)
    kept = {"rate_hz": RATE_HZ, "mains_hz": F0_HZ, "orders": (1, 3)}
    there, back = line_transfer(y, x, **kept), line_transfer(x, y, **kept)
    scaled = line_transfer(factor * y, x, **kept)
    for a, b, c in zip(there.lines, back.lines, scaled.lines, strict=True):
        assert isinstance(a.gain, Quantity)
        assert a.gain.value * b.gain.value == pytest.approx(1.0, rel=1e-9)
        assert a.gain.low * b.gain.high == pytest.approx(1.0, rel=1e-7)
        assert np.exp(1j * (a.phase_rad.value + b.phase_rad.value)) == pytest.approx(1.0)
        assert c.gain.value == pytest.approx(factor * a.gain.value, rel=1e-9)
        assert c.gain.high == pytest.approx(factor * a.gain.high, rel=1e-7)
        assert a.coherence == pytest.approx(b.coherence, rel=1e-9)
        assert a.coherence == pytest.approx(c.coherence, rel=1e-9)


def test_other_lines_beside_the_mains_and_far_above():
    rate_hz = 100_000.0
    t = np.arange(100_000) / rate_hz
    rng = np.random.default_rng(4)
    x = np.cos(2 * np.pi * 50 * t) + 0.1 * np.cos(2 * np.pi * 31_250.0 * t)
    y = 0.2 * np.cos(2 * np.pi * 50 * t) + 0.3 * np.sin(2 * np.pi * 31_250.0 * t)
    x, y = x + 0.01 * rng.standard_normal(len(t)), y + 0.01 * rng.standard_normal(len(t))
    found = line_transfer(y, x, rate_hz, mains_hz=50.0, orders=[1], other_hz=[31_250.0])
    low, high = found.lines
    assert (low.order, high.order) == (1, None)
    assert abs(low.gain.value - 0.2) < 4 * low.gain.u
    assert abs(high.gain.value - 3.0) < 4 * high.gain.u
    assert abs(high.phase_rad.value + np.pi / 2) < 4 * high.phase_rad.u


X = np.random.default_rng(0).standard_normal(8_000)


@pytest.mark.parametrize(
    ("y", "x", "how", "says"),
    [
        (X[:100], X, {}, "100 and 8000 samples"),
        (X[:300], X[:300], {}, "less than two stretches"),
        (X[:0], X[:0], {}, "empty"),
        (X.reshape(2, -1), X, {}, "not one channel"),
        (X, np.where(np.arange(8_000) == 4_000, np.nan, X), {}, "no numbers"),
        (X, X, {"mains_hz": None}, "no line"),
        (X, X, {"mains_hz": None, "other_hz": [3_000.0]}, "none of the lines"),
        (X, X, {"rate_hz": 0.0}, "no rate"),
    ],
)
def test_one_line_for_what_cannot_be(y, x, how, says):
    with pytest.raises(InputError, match=says) as error:
        line_transfer(y, x, **{"rate_hz": RATE_HZ, "mains_hz": F0_HZ, **how})
    assert error.value.advice
    assert "\n" not in str(error.value)
