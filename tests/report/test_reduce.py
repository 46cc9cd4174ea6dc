"""Outlines and spectra that are drawn, against numpy on the whole array."""

from __future__ import annotations

import numpy as np
import pytest
from report.handmade import comb, samples

from straypath.capture.capture import Channel
from straypath.report.reduce import between_lines, outline, synthesis


def test_outline_holds_every_extreme():
    raw = np.random.default_rng(1).integers(-2000, 2000, 10_007).astype(np.int16)
    drawn = outline(Channel("x", raw, "V", scale=-2e-3, offset=0.5), 100)
    value = raw * -2e-3 + 0.5
    # independent: numpy over the same columns
    for i, (a, b) in enumerate(zip(drawn.edges, drawn.edges[1:], strict=False)):
        assert drawn.low[i] == pytest.approx(value[a:b].min())
        assert drawn.high[i] == pytest.approx(value[a:b].max())
        assert drawn.mean[i] == pytest.approx(value[a:b].mean())
    assert drawn.edges[0] == 0
    assert drawn.edges[-1] == len(raw)


def test_outline_of_missing_samples_is_missing():
    raw = np.ones(1000)
    raw[100:400] = np.nan
    drawn = outline(Channel("x", raw), 10)
    assert np.isnan(drawn.low[2])
    assert drawn.low[0] == drawn.high[3 + 1] == 1.0


def test_slow_mean_does_not_draw_the_hum():
    # independent: the mean of a sine over whole cycles is zero
    raw = 3.0 + np.sin(2 * np.pi * np.arange(20_000) / 100 + 0.3)
    slow = outline(Channel("x", raw), 437).slow(100)
    assert slow == pytest.approx(np.full(437, 3.0), abs=0.03)


@pytest.mark.parametrize("seconds", [0.2, 4.0])
def test_density_between_lines_is_that_of_the_noise(seconds):
    lines = {1: (0.1, 0.4), 3: (0.02, -1.0)}
    rate, f0, density = 10_000.0, 49.98, 1e-4
    raw = samples(lines, f0, rate, seconds, density)
    made = comb(lines, f0, rate, seconds, density)
    found = between_lines(Channel("x", raw, "V"), rate, (0, len(raw)), made, top_hz=1000.0)
    # independent: the density the noise was made with; the spread is that of the median
    assert np.median(found.level) == pytest.approx(density, rel=0.15)
    assert (found.low <= found.high).all()


def test_no_density_from_a_handful_of_samples():
    raw = samples({1: (0.1, 0.0)}, 50.0, 1000.0, 0.02, 1e-4)
    made = comb({1: (0.1, 0.0)}, 50.0, 1000.0, 0.02, 1e-4)
    assert between_lines(Channel("x", raw), 1000.0, (0, len(raw)), made, top_hz=500.0) is None


def test_synthesis_is_the_wave_that_was_put_in():
    lines = {1: (0.1, 0.4), 3: (0.02, -1.0)}
    made = comb(lines, 50.0, 1000.0, 1.0, 1e-6)
    clean = samples(lines, 50.0, 1000.0, 1.0, 0.0)
    time = (np.arange(1000) - 999 / 2) / 1000.0
    assert synthesis(made, time) == pytest.approx(clean, abs=1e-12)


def test_other_lines_do_not_lift_the_noise_between_them():
    rate, density = 1000.0, 1e-3
    raw = samples({}, 50.0, rate, 20.0, density) + 0.05 * np.cos(
        2 * np.pi * 217.0 * np.arange(20_000) / rate
    )
    absent = comb({}, 50.0, rate, 20.0, density, present=False)
    spans = [
        between_lines(
            Channel("x", raw), rate, (0, len(raw)), absent, top_hz=500.0, others_hz=others
        )
        for others in ((), (217.0, 4000.0))
    ]
    lifted, clear = (float(np.max(band.high)) for band in spans if band is not None)
    # independent: 95 % of |X|^2 of white noise lies under 3 times its mean, root 1.73
    assert lifted > 10 * density
    assert clear < 2.5 * density


def test_lines_everywhere_leave_the_noise_as_it_is():
    raw = samples({}, 50.0, 1000.0, 2.0, 1e-3)
    absent = comb({}, 50.0, 1000.0, 2.0, 1e-3, present=False)
    band = between_lines(
        Channel("x", raw), 1000.0, (0, 2000), absent, top_hz=500.0, others_hz=np.arange(0, 500, 0.5)
    )
    assert band is not None
