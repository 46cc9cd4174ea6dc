"""The difference of two channels: gain, delay and rejection, and no claim beyond the noise."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from contents.pair.invented_pairs import RATE_HZ, holds, times, tones

from straypath.contents.pair.delay import difference_values
from straypath.contents.pair.difference import difference_over_band, difference_over_lines
from straypath.contents.pair.signals import pair_of
from straypath.contents.pair.stretches import cut_stretches
from straypath.contents.records import Undetermined
from straypath.errors import InputError
from straypath.quantity import Quantity, UpperLimit

F0_HZ = 50.0
ORDERS = (1, 3, 5, 7)
DELAY_S = 0.3 / RATE_HZ
DRAWS = 300
KEPT = {"rate_hz": RATE_HZ, "mains_hz": F0_HZ, "orders": ORDERS}


def pairs(seed, *, gain=-0.8, misfit=0.0, seconds=2.0, size=3.0, draws=DRAWS):
    """Many invented pairs, with the phasors that are in them: (y, x, Y, X)."""
    rng, t = np.random.default_rng(seed), times(seconds)
    k = np.array(ORDERS)
    for _ in range(draws):
        x = size / k * np.exp(2j * np.pi * rng.random(len(k)))
        ratio = gain * np.exp(-2j * np.pi * k * F0_HZ * DELAY_S)
        y = x * ratio * (1 + misfit * np.exp(2j * np.pi * rng.random(len(k))))
        signals = [
            tones(t, dict(zip(ORDERS, z, strict=True)), f0_hz=F0_HZ) + rng.standard_normal(len(t))
            for z in (y, x)
        ]
        yield *signals, y, x


def truly_left(found, y, x):
    """Phasors that the stated gain and delay leave of the noise-free y."""
    f = np.array(ORDERS) * F0_HZ
    return y - found.gain.value * np.exp(-2j * np.pi * f * found.delay_s.value) * x


@pytest.mark.parametrize("seconds", [0.5, 2.0, 10.0])
def test_coverage_of_gain_and_delay(seconds):
    """95 % intervals hold the truth in 92 to 98 % of 300 draws; negative gain, 0.3 samples."""
    gains, delays = [], []
    for y, x, _, _ in pairs(1, seconds=seconds):
        found = difference_over_lines(y, x, **KEPT)
        gains.append(holds(found.gain, -0.8))
        delays.append(holds(found.delay_s, DELAY_S))
    assert 0.92 <= np.mean(gains) <= 0.98
    assert 0.92 <= np.mean(delays) <= 0.98


def test_noisy_reference_does_not_shrink_the_gain():
    """Least squares on x as it is would read 1/(1 + 2 · 0.1²) of it here; mean of 300 draws."""
    got = [difference_over_lines(y, x, **KEPT).gain for y, x, _, _ in pairs(2, size=0.5)]
    spread = np.std([g.value for g in got]) / np.sqrt(len(got))
    assert np.mean([g.value for g in got]) == pytest.approx(-0.8, abs=3 * spread)


@pytest.mark.parametrize("misfit", [0.0, 0.05, 0.2])
def test_no_rejection_beyond_the_noise(misfit):
    """The stated bound is exceeded by the truth in no more than 5 % (3 deviations)."""
    over, totals, lines, readings = [], [], [], []
    for y, x, y_true, x_true in pairs(3, misfit=misfit):
        found = difference_over_lines(y, x, **KEPT)
        left = truly_left(found, y_true, x_true)
        truth = np.sqrt(np.sum(np.abs(left) ** 2) / 2)
        before = np.sqrt(np.sum(np.abs(y_true) ** 2) / 2)
        over.append(20 * np.log10(before / truth) < found.at_least_db)
        totals.append(holds(found.total, truth))
        readings.append(found.rejection_db is not None)
        lines += [
            holds(line.residual, rest / np.sqrt(2))
            for line, rest in zip(found.lines, np.abs(left), strict=True)
        ]
    most = 0.05 + 3 * np.sqrt(0.05 * 0.95 / DRAWS)
    assert np.mean(over) <= most
    assert 1 - np.mean(totals) <= most
    assert 1 - np.mean(lines) <= most
    # A path that one gain and delay describe leaves nothing to be read, but for false alarms.
    assert np.mean(readings) <= 0.03 if misfit == 0.0 else np.mean(readings) > 0.4


def test_strong_residuals_are_read_with_the_right_width():
    """92 to 98 % of 300 draws, per line, where one gain and one delay do not fit."""
    rejections, residuals = [], []
    for y, x, y_true, x_true in pairs(4, misfit=0.3, size=10.0):
        found = difference_over_lines(y, x, **KEPT)
        left = np.abs(truly_left(found, y_true, x_true))
        for line, rest, whole in zip(found.lines, left, np.abs(y_true), strict=True):
            if line.rejection_db is not None:
                rejections.append(holds(line.rejection_db, 20 * np.log10(whole / rest)))
                residuals.append(holds(line.residual, rest / np.sqrt(2)))
    assert len(rejections) > 2 * DRAWS
    assert 0.92 <= np.mean(rejections) <= 0.98
    assert 0.92 <= np.mean(residuals) <= 0.98


def test_misfit_is_called_by_its_chance():
    """Below 5 % in 5 % of 300 fitting paths (3 deviations), and in all with a fifth amiss."""
    fitting = [difference_over_lines(y, x, **KEPT).misfit_p for y, x, _, _ in pairs(5)]
    assert np.mean(np.array(fitting) < 0.05) == pytest.approx(0.05, abs=0.038)
    wrong = pairs(6, misfit=0.2, draws=20)
    assert max(difference_over_lines(y, x, **KEPT).misfit_p for y, x, _, _ in wrong) < 0.05


@pytest.mark.parametrize("factor", [1.0, -1.0])
def test_identical_and_inverted_channels(factor):
    _, x, _, _ = next(pairs(7, draws=1))
    found = difference_over_lines(factor * x, x, **KEPT)
    assert found.gain.value == pytest.approx(factor, abs=1e-9)
    assert found.delay_s.value == pytest.approx(0.0, abs=1e-12)
    assert isinstance(found.total, UpperLimit)
    assert found.at_least_db > 180


def test_one_line_is_bounded_by_its_noise():
    """A single line is always nulled; its bound is what noise left in gain and delay allows."""
    t, rng = times(2.0), np.random.default_rng(8)
    over, bounds = [], []
    for _ in range(DRAWS):
        x = tones(t, {1: 3.0}, f0_hz=F0_HZ)
        y = 0.5 * x + rng.standard_normal(len(t))
        found = difference_over_lines(y, x + rng.standard_normal(len(t)), RATE_HZ, mains_hz=F0_HZ,
                                      orders=[1])  # fmt: skip
        turn = np.exp(-2j * np.pi * F0_HZ * found.delay_s.value)
        truth = 20 * np.log10(0.5 / abs(0.5 - found.gain.value * turn))
        over.append(truth < found.at_least_db)
        bounds.append(found.at_least_db)
        assert found.misfit_p is None
        assert found.lines[0].rejection_db is None
    assert np.mean(over) <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / DRAWS)
    # Residual noise: 2.45 to 2.7 deviations of √(1.25 · 2/8000) against 1.5.
    assert 28 < np.median(bounds) < 33


def test_swapped_roles_invert_gain_and_delay():
    for y, x, _, _ in pairs(9, draws=10, size=30.0):
        there, back = difference_over_lines(y, x, **KEPT), difference_over_lines(x, y, **KEPT)
        assert there.gain.value * back.gain.value == pytest.approx(1.0, abs=1e-4)
        both_s = there.delay_s.value + back.delay_s.value
        assert abs(both_s) < 0.1 * there.delay_s.u


def test_what_is_claimed_is_what_the_waveform_shows():
    """Independent: subtract the samples with the fractional delay and fit what is left."""
    for y, x, _, _ in pairs(10, misfit=0.1, draws=3, size=10.0):
        found = difference_over_lines(y, x, **KEPT)
        left = difference_values(y, x, RATE_HZ, gain=found.gain.value, delay_s=found.delay_s.value)
        # Without the ends, where the delay has nothing to draw x from.
        inner = pair_of(left[100:-100], y[100:-100], RATE_HZ)
        cut = cut_stretches(inner, RATE_HZ, F0_HZ, ORDERS, ())
        for line, rest in zip(found.lines, np.abs(cut.y.mean(axis=0)), strict=True):
            if isinstance(line.residual, Quantity):
                assert rest / np.sqrt(2) == pytest.approx(line.residual.value, abs=line.residual.u)


@pytest.mark.parametrize("kind", ["noise", "silent y", "silent x"])
def test_nothing_in_common_is_no_difference(kind):
    y, x = np.random.default_rng(11).standard_normal((2, 8_000))
    y, x = (0 * y if kind == "silent y" else y), (0 * x if kind == "silent x" else x)
    for found in (
        difference_over_lines(y, x, **KEPT),
        difference_over_band(y, x, RATE_HZ, band_hz=(50, 1_000)),
    ):
        assert isinstance(found, Undetermined)
        assert found.why


def delayed(rng, n, part):
    """White noise and the same noise later by a part of a sample, by its whole transform."""
    x = rng.standard_normal(n + 400)
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(len(x)) * part)
    return np.fft.irfft(np.fft.rfft(x) * turn, len(x))[200:-200], x[200:-200]


@pytest.mark.parametrize("own", [1.0, 0.1])
def test_coverage_over_a_band(own):
    """Gain −1, delay 0.3 samples, own noise of y: 92 to 98 % of 300 draws."""
    rng = np.random.default_rng(12)
    gains, delays, rejections = [], [], []
    for _ in range(DRAWS):
        y, x = delayed(rng, 20_000, 0.3)
        y = -y + own * rng.standard_normal(len(y))
        found = difference_over_band(y, x, RATE_HZ, band_hz=(50, 1_700))
        gains.append(holds(found.gain, -1.0))
        delays.append(holds(found.delay_s, DELAY_S))
        rejections.append(holds(found.rejection_db, 10 * np.log10((1 + own**2) / own**2)))
    for held in (gains, delays, rejections):
        assert 0.92 <= np.mean(held) <= 0.98


def test_band_never_beats_a_free_filter():
    rng = np.random.default_rng(13)
    y, x = delayed(rng, 40_000, 2.3)
    found = difference_over_band(y + rng.standard_normal(len(y)), x, RATE_HZ, band_hz=(50, 1_700))
    assert found.delay_s.value == pytest.approx(2.3 / RATE_HZ, abs=4 * found.delay_s.u)
    assert found.rejection_db.value <= found.best_db
    assert found.best_db == pytest.approx(10 * np.log10(2), abs=0.3)


def test_band_without_a_frequency_is_refused():
    y, x = delayed(np.random.default_rng(1), 20_000, 0.3)
    with pytest.raises(InputError, match="no frequency"):
        difference_over_band(y, x, RATE_HZ, band_hz=(3_000, 4_000))


@pytest.mark.parametrize("part", [0.3, -0.5, 7.25, -12.0])
def test_fractional_delay_is_a_delay(part):
    """Independent: a cosine shifted by formula, up to 0.44 of the rate; 90 dB."""
    n = np.arange(2_000)
    for frequency in (0.001, 0.2, 0.44):
        x = np.cos(2 * np.pi * frequency * n)
        moved = -difference_values(0 * x, x, 1.0, gain=1.0, delay_s=part)
        truth = np.cos(2 * np.pi * frequency * (n - part))
        assert np.abs(moved - truth)[100:-100].max() < 10 ** (-90 / 20)


@pytest.mark.parametrize("delay", [0.3, -0.4, 40.0, -3_000.0])
def test_pieces_make_the_whole(delay):
    y, x = np.random.default_rng(2).standard_normal((2, 1_000))
    kept = {"gain": -0.7, "delay_s": delay}
    whole = difference_values(y, x, 1.0, **kept)
    assert len(whole) == 1_000
    cuts = [0, 1, 300, 999, 1_000]
    parts = [difference_values(y, x, 1.0, start=a, stop=b, **kept) for a, b in pairwise(cuts)]
    assert np.concatenate(parts) == pytest.approx(whole, abs=1e-12)
