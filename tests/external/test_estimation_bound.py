"""Limits of estimation against the reference values of the group 'estimation bound'."""

from __future__ import annotations

import numpy as np
import pytest
from external.published import Entry, Group
from scipy.optimize import brentq, minimize_scalar

from straypath.contents import bounds, fisher, interpolation


def sampled(entry: Entry):
    """Amplitude, density, record length and number of samples of one sine in white noise."""
    n, fs, amplitude, sigma = entry.given("N", "fs", "A_peak", "sigma")
    return amplitude, bounds.white_density(sigma, fs), n / fs, n


def frequency(entry):
    amplitude, density, duration, n = sampled(entry)
    return bounds.frequency_bound_hz(amplitude, density, duration, samples=n)


def amplitude(entry):
    _, density, duration, _ = sampled(entry)
    return bounds.amplitude_bound(density, duration)


def phase_at_centre(entry):
    a, density, duration, _ = sampled(entry)
    return bounds.phase_bound_rad(a, density, duration)


def phase_at_start(entry):
    a, density, duration, n = sampled(entry)
    return bounds.phase_bound_rad(a, density, duration, at="start", samples=n)


def frequency_from_density(entry):
    return bounds.frequency_bound_hz(*entry.given("A_peak", "S0", "T"))


def real_over_complex(entry):
    """Our bound over the complex form 6/(η·N·(N² − 1)), written out here."""
    n, fs, sigma = 1000, 1e4, 0.1
    ours = bounds.frequency_bound_hz(1.0, bounds.white_density(sigma, fs), n / fs, samples=n) ** 2
    eta = 1.0 / (2.0 * sigma**2)
    return ours / ((fs / (2.0 * np.pi)) ** 2 * 6.0 / (eta * n * (n**2 - 1)))


def longer_record(entry):
    one, two = bounds.frequency_bound_hz(1.0, 1e-6, np.array([1.0, 2.0]))
    return two / one


def comb_weight(entry):
    """W from the bound it makes: with S = 1, W = 3/(π²·T³·σ²)."""
    sigma = bounds.comb_frequency_bound_hz(
        *entry.given("orders", "A"), 1.0, 1.0, counted_from_db=-np.inf
    )
    return 3.0 / (np.pi**2 * sigma**2)


def comb_frequency(entry):
    orders, a, n, fs, sigma = entry.given("orders", "A", "N", "fs", "sigma")
    return bounds.comb_frequency_bound_hz(orders, a, bounds.white_density(sigma, fs), n / fs)


PEAK_BIN_DB = 10.0 * np.log10(2.0)  # The entries quote N·η/2; ρ² is N·η.


def thresholds(entry):
    """Where 1 % of searches go wrong, and where their error equals the bound."""
    n, searched = entry.given("N", "bins_searched")

    def excess(rho):
        wrong = fisher.wrong_peak_probability(rho, searched - 1) * 0.5**2 / 12.0
        density = 10.0 ** (-rho / 10.0) * n
        return wrong - bounds.frequency_bound_hz(1.0, density, n, samples=n) ** 2

    onset = fisher.rho_for_wrong_peak_db(0.01, searched - 1)
    return np.array([onset, brentq(excess, onset, 30.0)]) - PEAK_BIN_DB


def threshold_of_few(entry):
    return fisher.rho_for_wrong_peak_db(0.01, *entry.given("rivals")) - PEAK_BIN_DB


def parabola_bias(entry):
    """Worst error of our parabola through the logarithms of three bins of a Hann taper."""

    def error(offset):
        bins = np.abs(bounds.window_gain(np.array([-1, 0, 1]) - offset, "hann"))
        return interpolation.parabola_top(*np.log(bins))[0] - offset

    best = minimize_scalar(lambda d: -abs(error(d)), bounds=(0.0, 0.5), method="bounded")
    return -best.fun


def scalloping(entry):
    return [20.0 * np.log10(bounds.window_gain(0.5, w)) for w in ("hann", "rectangular")]


CHECKS = {
    "S1-crb-f-*": frequency,
    "S1-crb-A-*": amplitude,
    "S1-crb-phc-*": phase_at_centre,
    "S1-crb-ph0-*": phase_at_start,
    "S1-crb-density": frequency_from_density,
    "S1-crb-complex-trap": real_over_complex,
    "S1-crb-T-scaling": longer_record,
    "S1-comb-W": comb_weight,
    "S1-comb-f0": comb_frequency,
    "S1-thr-[0-9]*": thresholds,
    "S1-thr-few-*": threshold_of_few,
    "S1-ipfft-hann-log": parabola_bias,
    "S1-ipfft-2pt-*": lambda entry: interpolation.two_bin_offset(entry.given("a")[0]),
    "S1-win-hann-scallop": scalloping,
    "S1-rayleigh-0.*": lambda entry: bounds.absent_line_amplitude(entry.given("p")[0], 1.0, 1.0),
    "S1-dB-unc": lambda entry: bounds.level_bound_db(10.0 * np.log10(entry.given("N_eta")[0])),
}
NOT_OURS = {
    "S1-ipfft-var": "an estimator of four bins, which we have not: two bins only start the search, "
    "and the frequency that is reported is fitted by least squares",
    "S1-ipfft-hann-lin": "we draw the parabola through logarithms only",
    "S1-ipfft-rect-2pt": "every spectrum that we interpolate bears a Hann taper",
    "S1-rayleigh-mean": "a mean of absent lines is never reported; only their limit is",
}
GROUP = Group("estimation_bound", CHECKS, NOT_OURS)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


@pytest.mark.parametrize("offset", [0.0, 0.13, 0.5, 0.81, 1.0])
def test_two_bins_of_a_transform_tell_where_the_line_is(offset):
    """Independent: numpy's transform of a sine under a Hann taper; its far image leaves 1e-6."""
    n = 4096
    tapered = np.cos(2 * np.pi * (400 + offset) * np.arange(n) / n) * np.hanning(n + 1)[:-1]
    lower, upper = np.abs(np.fft.rfft(tapered))[400:402]
    assert interpolation.two_bin_offset(upper / lower) == pytest.approx(offset, abs=1e-6)


def test_weak_orders_do_not_count():
    """Independent: the 16 dB gate by hand. ρ of the second order is 14 dB, so only one counts."""
    density, duration = 1e-6, 1.0
    strong, weak = (10.0 ** (rho / 20.0) * np.sqrt(density / duration) for rho in (40.0, 14.0))
    both = bounds.comb_frequency_bound_hz([1, 9], [strong, weak], density, duration)
    assert both == pytest.approx(float(bounds.frequency_bound_hz(strong, density, duration)))
    assert bounds.comb_frequency_bound_hz([1], [weak], density, duration) == np.inf


def test_absent_line_against_draws():
    """Independent: fitted amplitudes of pure noise, by numpy's transform."""
    rng = np.random.default_rng(1)
    fitted = 2.0 / 256 * np.abs(np.fft.rfft(rng.standard_normal((4000, 256)))[:, 10])
    limit = bounds.absent_line_amplitude(0.95, bounds.white_density(1.0, 1.0), 256)
    # 4000 draws place a share of 0.05 within ± 0.0034 (one standard deviation).
    assert np.mean(fitted > limit) == pytest.approx(0.05, abs=4 * 0.0034)
