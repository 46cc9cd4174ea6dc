"""The fitted phasors against a general least-squares solver, and their book-keeping."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.contents.pair import stretches
from straypath.contents.pair.signals import pair_of
from straypath.contents.pair.stretches import cut_stretches

RATE_HZ = 1_000.0
LINES_HZ = np.array([50.1, 150.3, 301.7])


def by_lstsq(x, count):
    """Independent route: numpy.linalg.lstsq on the written-out table of every stretch."""
    length = len(x) // count
    t = (np.arange(len(x)) - (len(x) - 1) / 2) / RATE_HZ
    found = []
    for i in range(count):
        part = slice(i * length, (i + 1) * length)
        angle = 2 * np.pi * np.outer(t[part], LINES_HZ)
        table = np.column_stack([np.ones(length), t[part], np.cos(angle), np.sin(angle)])
        c = np.linalg.lstsq(table, x[part], rcond=None)[0][2:]
        found.append(c[:3] - 1j * c[3:])
    return np.array(found)


@pytest.mark.parametrize("piece", [8_192, 64])
def test_same_as_lstsq(monkeypatch, piece):
    """However short the pieces in which a stretch is read (a whole number of them fits here)."""
    monkeypatch.setattr(stretches, "PIECE", piece)
    monkeypatch.setattr(stretches, "turn_back", lambda y, x, orders, times: (y, x))
    y, x = np.random.default_rng(2).standard_normal((2, 1_024)) + 3.0
    y += np.linspace(0, 5, 1_024)
    monkeypatch.setattr(stretches, "stretch_count", lambda *given: 4)
    cut = cut_stretches(pair_of(y, x, RATE_HZ), RATE_HZ, None, (), LINES_HZ)
    assert np.allclose(cut.y, by_lstsq(y, 4), rtol=0, atol=1e-12)
    assert np.allclose(cut.x, by_lstsq(x, 4), rtol=0, atol=1e-12)


def test_reduced_record_gives_the_phasors_of_the_full_one():
    """At 200 kS/s the record is reduced first; amplitude and phase must not notice."""
    rate_hz, n = 200_000.0, 400_000
    t = (np.arange(n) - (n - 1) / 2) / rate_hz
    x = 0.3 * np.cos(2 * np.pi * 50 * t + 0.4) + 0.01 * np.cos(2 * np.pi * 1950 * t - 1.0)
    cut = cut_stretches(pair_of(x, 2 * x, rate_hz), rate_hz, 50.0, (1, 39), ())
    truth = np.array([0.3 * np.exp(0.4j), 0.01 * np.exp(-1.0j)])
    # What lies above folds 91 dB down; here is nothing but rounding of the interpolated response.
    assert np.abs(cut.y - truth).max() < 1e-5 * 0.3
    assert np.allclose(cut.x, 2 * cut.y)


def test_lines_that_cannot_be_told_are_named():
    x = np.random.default_rng(1).standard_normal((2, 8_000))
    asked = [50.0, 51.0, 0.5, 1_999.0, 3_000.0]
    cut = cut_stretches(pair_of(*x, 4_000.0), 4_000.0, None, (), asked)
    assert list(cut.frequency_hz) == [50.0]
    said = {u.what.removeprefix("transfer at "): u.why for u in cut.undetermined}
    assert "cannot tell it from the line at 50 Hz" in said["51 Hz"]
    assert "no cycle" in said["0.5 Hz"]
    assert "too slow" in said["1999 Hz"]
    assert "too slow" in said["3000 Hz"]


def test_mains_orders_come_before_other_lines():
    x = np.random.default_rng(1).standard_normal((2, 8_000))
    cut = cut_stretches(pair_of(*x, 4_000.0), 4_000.0, 49.98, range(1, 21), [1_000.0])
    assert cut.orders == tuple(range(1, 21))
    assert [u.what for u in cut.undetermined] == ["transfer at 1000 Hz"]
