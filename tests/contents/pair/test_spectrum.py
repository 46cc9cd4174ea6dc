"""Coherence spectra: scipy as the other route, false alarms, coverage of the explained share."""

from __future__ import annotations

import numpy as np
import pytest
from contents.pair.invented_pairs import holds
from scipy import signal

from straypath.capture.capture import Channel
from straypath.contents.pair.signals import pair_of
from straypath.contents.pair.spectrum import coherence_spectrum, cross_spectra
from straypath.errors import InputError
from straypath.quantity import Quantity, UpperLimit

RATE_HZ = 4_000.0
DRAWS = 300


def mixed(rng, share, n=20_000):
    """White y of which `share` is x."""
    x, own = rng.standard_normal((2, n))
    return np.sqrt(share) * x + np.sqrt(1 - share) * own, x


@pytest.mark.parametrize("length", [256, 625, 1_000])
def test_scipy_gives_the_same(length):
    """Independent: scipy.signal.coherence, csd and welch at their defaults; to rounding."""
    y, x = mixed(np.random.default_rng(1), 0.3, 50_000)
    kept = {"nperseg": length, "noverlap": length - length // 2}
    found = cross_spectra(pair_of(y, x, RATE_HZ), RATE_HZ, length)
    yy, xx, yx, _ = found.without(None)
    inner = slice(1, len(found.frequency_hz) + 1)
    f, cross = signal.csd(x, y, RATE_HZ, **kept)
    assert found.frequency_hz == pytest.approx(f[inner])
    assert np.allclose(yx, cross[inner], rtol=1e-9, atol=0)
    assert np.allclose(yy, signal.welch(y, RATE_HZ, **kept)[1][inner], rtol=1e-9, atol=0)
    msc = signal.coherence(y, x, RATE_HZ, **kept)[1][inner]
    whole = coherence_spectrum(y, x, RATE_HZ, segment=length)
    assert np.allclose(whole.coherence, msc, rtol=1e-9, atol=0)
    assert np.allclose(whole.coherence, np.abs(yx) ** 2 / yy / xx)


def test_noise_only_pairs_keep_the_false_alarm_rate():
    """Nominal 5 % for any frequency, and for any band; 400 pairs, 3 binomial deviations."""
    rng = np.random.default_rng(2)
    bins, bands = [], []
    for _ in range(400):
        pair = rng.standard_normal((2, 20_000))
        found = coherence_spectrum(*pair, RATE_HZ, false_alarm_rate=0.05)
        bins.append(max(found.coherence) > found.level)
        bands.append(any(isinstance(band.share, Quantity) for band in found.bands))
    most = 0.05 + 3 * np.sqrt(0.05 * 0.95 / 400)
    assert 0.005 < np.mean(bins) < most
    assert 0.005 < np.mean(bands) < most


@pytest.mark.parametrize("share", [0.03, 0.3, 0.8, 0.99])
def test_coverage_of_the_share(share):
    """95 % intervals hold the truth in 92 to 98 % of 300 draws."""
    rng = np.random.default_rng(3)
    held = []
    for _ in range(DRAWS):
        y, x = mixed(rng, share)
        (band,) = coherence_spectrum(y, x, RATE_HZ, band_edges_hz=[200, 1_200]).bands
        held.append(holds(band.share, share))
    assert 0.92 <= np.mean(held) <= 0.98


def test_share_is_told_band_by_band_whatever_the_path():
    """x explains y below 800 Hz only, through a filter that turns and delays it."""
    rng = np.random.default_rng(4)
    x, own = rng.standard_normal((2, 200_000))
    path = signal.firwin(101, 800, fs=RATE_HZ)
    y = signal.lfilter(path, 1.0, 3.0 * x) + own
    found = coherence_spectrum(y, x, RATE_HZ, band_edges_hz=[50, 600, 1_000, 1_900])
    low, _, high = found.bands
    # 9 of 10 parts, less twice what the 50 samples of delay take: 2 · 50/4096.
    assert low.share.value == pytest.approx(0.9, abs=2 * 50 / 4_096)
    assert isinstance(high.share, UpperLimit)
    assert high.share.upper < 0.01


def test_antenna_explains_lines_too():
    """A steady line that both channels hold is explained, though it is all mean."""
    rng, t = np.random.default_rng(5), np.arange(40_000) / RATE_HZ
    hum = np.cos(2 * np.pi * 50 * t)
    y, x = rng.standard_normal((2, len(t))) * 0.1 + hum
    band = coherence_spectrum(y, x, RATE_HZ, band_edges_hz=[40, 60]).bands[0]
    assert band.share.low > 0.99


def test_identical_silent_and_swapped():
    y, x = mixed(np.random.default_rng(6), 0.5)
    edges = {"band_edges_hz": [100, 1_000]}
    same = coherence_spectrum(x, x, RATE_HZ, **edges)
    assert min(same.coherence) == pytest.approx(1.0)
    assert same.bands[0].share.value == pytest.approx(1.0)
    for pair in ((0 * x, x), (x, 0 * x), (0 * x + 3.0, x)):
        quiet = coherence_spectrum(*pair, RATE_HZ, **edges)
        assert max(quiet.coherence) < quiet.level
        assert isinstance(quiet.bands[0].share, UpperLimit)
    there, back = coherence_spectrum(y, x, RATE_HZ), coherence_spectrum(x, y, RATE_HZ)
    assert there.coherence == pytest.approx(back.coherence)


def test_scale_and_offset_change_nothing():
    y, x = mixed(np.random.default_rng(7), 0.5)
    plain = coherence_spectrum(y, x, RATE_HZ)
    other = coherence_spectrum(
        Channel("out", y, "V", -3.0, 40.0), Channel("coil", x, "A", 1e-6, -1.0), RATE_HZ
    )
    assert other.coherence == pytest.approx(plain.coherence, rel=1e-6)
    assert [b.p_value for b in other.bands] == pytest.approx([b.p_value for b in plain.bands])


X = np.random.default_rng(0).standard_normal(8_000)


@pytest.mark.parametrize(
    ("y", "x", "how", "says"),
    [
        (X[:100], X[:100], {}, "do not hold 16"),
        (X, X, {"segment": 4_000}, "do not hold 16"),
        (X, X, {"segment": 1}, "do not hold 16"),
        (X, X * np.inf, {}, "no numbers"),
    ],
)
@pytest.mark.filterwarnings("ignore:invalid value:RuntimeWarning")
def test_one_line_for_what_cannot_be(y, x, how, says):
    with pytest.raises(InputError, match=says) as error:
        coherence_spectrum(y, x, RATE_HZ, **how)
    assert error.value.advice
