"""The phase track: a straight line where nothing wanders, and the wander where it does."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.contents.mains.phase_track import smooth, straight

TIMES_S = 0.2 * np.arange(300)


def test_straight_line_is_least_squares():
    """Independent: numpy.polyfit."""
    phase = np.random.default_rng(1).standard_normal(300) + 0.3 * TIMES_S
    track = straight(phase, 1.0, TIMES_S)
    slope, _ = np.polyfit(TIMES_S, phase, 1)
    assert track.frequency_hz == pytest.approx(slope / (2 * np.pi))


def test_wander_is_rarely_seen_where_there_is_none():
    rng = np.random.default_rng(2)
    seen = sum(smooth(rng.standard_normal(300), 1.0, TIMES_S).wanders for _ in range(400))
    # Half of a chi-square of one degree over 6: 0.7 %, less for the grid; 400 draws, 3 sigma.
    assert seen <= 8


def test_wander_is_followed_and_its_width_holds():
    rng = np.random.default_rng(3)
    hits, errors = [], []
    for _ in range(200):
        f = np.cumsum(rng.standard_normal(300)) * 2e-3
        true = 2 * np.pi * 0.2 * np.cumsum(f)
        track = smooth(true + 0.02 * rng.standard_normal(300), 4e-4, TIMES_S)
        assert track.wanders
        mean_hz = (true[-1] - true[0]) / (2 * np.pi * (TIMES_S[-1] - TIMES_S[0]))
        errors.append(np.sqrt(np.mean((track.phase_rad - true) ** 2)))
        hits.append(abs(track.frequency_hz - mean_hz) < 1.96 * track.frequency_u_hz)
    # 200 draws of 95 %: 91 … 98.6 % within three standard deviations.
    assert 0.90 <= np.mean(hits) <= 0.995
    assert np.mean(errors) < 0.02


@pytest.mark.parametrize("count", [2, 3, 7])
def test_few_phases_get_a_line(count):
    assert not smooth(np.arange(float(count)), 1.0, TIMES_S[:count]).wanders
