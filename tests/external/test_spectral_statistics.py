"""Levels, intervals and tests of spectra against the reference values."""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction
from math import comb

import numpy as np
import pytest
from external.published import Group
from scipy import special
from scipy.signal import welch
from scipy.signal.windows import hann

from straypath.contents import bounds
from straypath.contents import spectral_statistics as statistics


def decibels(ratio):
    return 10.0 * np.log10(ratio)


def density(entry):
    dof = 2.0 * entry.given("K")[0]
    ends = (float(decibels(end)) for end in statistics.density_interval(dof))
    return [np.sqrt(2.0 / dof), *ends]


def provable(entry):
    dof = 2.0 * entry.given("K")[0]
    return [
        decibels(statistics.least_provable_ratio(dof, dof, two_sided=two)) for two in (True, False)
    ]


def coherence(entry):
    return statistics.coherence_level([0.05, 0.01], *entry.given("K"))


def welch_dof(entry):
    dof = statistics.overlapped_dof(entry.given("K")[0])
    return [2.0 / dof, dof]


def threshold(entry):
    return decibels(statistics.single_look_threshold(0.01, entry.given("M")[0]))


def chi_square(entry):
    """Quantiles out of the intervals that are made of them."""
    one_tail, _ = statistics.density_interval(20.0, 0.90)
    low, high = statistics.density_interval(20.0, 0.95)
    return [20.0 / one_tail, 20.0 / low, 20.0 / high]


def f_table(entry):
    ratio = statistics.least_provable_ratio
    return [
        ratio(10, 10, two_sided=False),
        ratio(20, 20, two_sided=False),
        ratio(20, 20),
    ]


def paired(entry):
    before, after = (bounds.level_bound_db(decibels(n)) for n in entry.given(*entry.inputs))
    return np.hypot(before, after)


CHECKS = {
    "S9-psd-*": density,
    "S9-F-*": provable,
    "S9-msc-*": coherence,
    "S9-oc-0.5": lambda entry: statistics.hann_overlap_correlation(*entry.given("overlap")),
    "S9-welch50-*": welch_dof,
    "S9-enbw": lambda entry: statistics.HANN_NOISE_BANDWIDTH,
    "S9-fisherg-*": lambda entry: statistics.fisher_level(0.05, *entry.given("m")),
    "S9-cfar-*": threshold,
    "S9-chi2tab": chi_square,
    "S9-Ftab": f_table,
    "S9-rayl-lock": lambda entry: statistics.resultant_level(0.05, [10, 20, 50]),
    "S9-paired": paired,
}
GROUP = Group("statistics", CHECKS, {})


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


def exactly(share: float, bins: int) -> Fraction:
    """Fisher's sum in whole fractions."""
    g = Fraction(share)
    terms = (
        (-1) ** (j - 1) * comb(bins, j) * (1 - j * g) ** (bins - 1)
        for j in range(1, bins + 1)
        if j * g < 1
    )
    return sum(terms, Fraction(0))


@pytest.mark.parametrize("probability", [0.999, 0.5, 0.05, 1e-3, 1e-9])
@pytest.mark.parametrize("bins", [2, 3, 5, 20, 100])
def test_fisher_against_fractions(bins, probability):
    """Independent: the same series without rounding."""
    share = statistics.fisher_level(probability, bins)
    exact = float(exactly(share, bins))
    assert statistics.fisher_p_value(share, bins) == pytest.approx(exact, rel=1e-10)
    # A share near 1 is held in steps of 1e-16; for two bins that is what p can resolve.
    assert exact == pytest.approx(probability, rel=1e-9, abs=2e-15)


@pytest.mark.parametrize("expected_above", [1e-6, 0.05, 1.0, 8.0, 15.9, 16.1, 25.0])
@pytest.mark.parametrize("bins", [200, 10_000, 1_000_000])
def test_fisher_of_many_bins_against_long_decimals(bins, expected_above):
    """Independent: the series with 120 digits, on both sides of where the bound takes over."""
    share = 1.0 - (expected_above / bins) ** (1.0 / (bins - 1))
    with localcontext() as context:
        context.prec = 120
        g, choose, exact = Decimal(share), Decimal(1), Decimal(0)
        for j in range(1, bins + 1):
            choose = choose * (bins - j + 1) / j
            term = choose * max(1 - j * g, Decimal(0)) ** (bins - 1)
            exact += term if j % 2 else -term
            if j > 4 * expected_above + 20 and term < Decimal(10) ** -40:
                break
    assert statistics.fisher_p_value(share, bins) == pytest.approx(float(exact), abs=2e-7, rel=1e-8)


def test_fisher_at_its_ends():
    """Independent: the largest of m shares is at least 1/m and at most 1."""
    for bins in (2, 7, 1_000_000):
        assert statistics.fisher_p_value(1.0 / bins, bins) == 1.0
        assert statistics.fisher_p_value(1.0, bins) == 0.0
    assert statistics.fisher_p_value(1.0, 1) == 1.0
    # Falls all the way, also where the bound takes over from the series.
    shares = np.linspace(1.0 / 500, 0.06, 4000)
    p = np.array([statistics.fisher_p_value(g, 500) for g in shares])
    assert np.all(np.diff(p) <= 1e-7)


def test_fisher_against_draws():
    """Independent: shares of exponential powers, drawn by numpy. 20,000 draws of 5 %: ± 0.15 %."""
    power = np.random.default_rng(2).exponential(size=(20_000, 30))
    share = power.max(axis=1) / power.sum(axis=1)
    exceeded = np.mean(share > statistics.fisher_level(0.05, 30))
    assert exceeded == pytest.approx(0.05, abs=3 * 0.0015)


@pytest.mark.parametrize("overlap", [0.5, 0.75])
def test_degrees_of_freedom_against_scipy(overlap):
    """Independent: spread of scipy's averaged density over draws of white noise."""
    length, segments = 64, 8
    samples = length + round((segments - 1) * length * (1.0 - overlap))
    draws = np.random.default_rng(4).standard_normal((6000, samples))
    _, power = welch(draws, 1.0, "hann", length, round(overlap * length))
    inner = power[:, 4:-4:8]  # bins apart, so that they count alone
    seen = 2.0 * np.mean(inner, axis=0) ** 2 / np.var(inner, axis=0)
    # Relative spread of a variance from 6,000 draws, averaged over 4 bins: about 1 %.
    assert np.mean(seen) == pytest.approx(statistics.overlapped_dof(segments, overlap), rel=0.04)


@pytest.mark.parametrize("overlap", [0.25, 0.5, 2.0 / 3.0, 0.75])
def test_overlap_correlation_against_samples(overlap):
    """Independent: scipy's window, shifted and summed."""
    window = hann(12_000, sym=False)
    shift = round(12_000 * (1.0 - overlap))
    alike = np.sum(window[shift:] * window[:-shift]) / np.sum(window**2)
    assert statistics.hann_overlap_correlation(overlap) == pytest.approx(alike, abs=1e-6)


@pytest.mark.parametrize("averages", [1, 4])
def test_expected_crossings_of_simulated_noise(averages):
    """Independent: counts in 400 spectra of white noise, within 3 Poisson deviations."""
    rng = np.random.default_rng(5)
    n, pad, heights = 512, 16, 400
    window = np.hanning(n)
    tail = 0.003
    z = special.gammainccinv(averages, tail)
    count = 0
    for _ in range(heights):
        power = np.zeros(pad * n // 2 + 1)
        for _ in range(averages):
            power += np.abs(np.fft.rfft(window * rng.standard_normal(n), pad * n)) ** 2
        power = power[4 * pad : -4 * pad] / (window @ window)
        count += int(np.sum((power[1:] >= z) & (power[:-1] < z)))
    wanted = heights * float(statistics.expected_crossings(n / 2 - 8, tail, averages))
    assert count == pytest.approx(wanted, abs=3 * np.sqrt(wanted))
