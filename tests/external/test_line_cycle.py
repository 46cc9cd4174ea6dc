"""What averaging over whole line cycles leaves of the mains."""

from __future__ import annotations

import numpy as np
import pytest
from external.published import Group

from straypath.contents.bounds import window_rejection_db


def rejection(window):
    def of_entry(entry):
        cycles, error = entry.given("N", "e")
        return window_rejection_db(1.0 + error, cycles, window)

    return of_entry


def hann_of_ten_cycles(entry):
    return window_rejection_db(1.0 + np.array([0.001, 0.005]), 10.0, "hann")


def both_regions(entry):
    return window_rejection_db(np.array([60.0, 50.0]), np.array([1 / 50, 1 / 60]))


def shortest_that_rejects_both(entry):
    """The shortest whole number of milliseconds at which both are weaker by 200 dB."""
    apertures = np.arange(1, 201) * 1e-3
    weakest = np.minimum(window_rejection_db(50.0, apertures), window_rejection_db(60.0, apertures))
    return apertures[weakest > 200.0][0]


CHECKS = {
    "S6-sinc-[0-9]*": rejection("rectangular"),
    "S6-sinc-approx": lambda entry: window_rejection_db(1.0 + entry.given("e")[0], 1.0),
    # Two boxes of N cycles: the whole triangle is twice as long.
    "S6-tri-0.001": lambda entry: window_rejection_db(1.001, 2.0, "triangular"),
    "S6-hann-10": hann_of_ten_cycles,
    "S6-sinc-harm": lambda entry: window_rejection_db(5.0 * 1.001, 1.0),
    "S6-60in50": both_regions,
    "S6-100ms": shortest_that_rejects_both,
}
NOT_OURS = {
    "S6-nmrr-def": "a definition (common practice); checked below as arithmetic",
    "S6-cmrr-def": "a definition; rejection of common mode comes with the forward model",
    "S6-nmrr-typ": "typical of instruments, common practice: nothing here computes it",
    "S6-nmrr-hand": "typical of instruments, common practice: nothing here computes it",
}
GROUP = Group("line_cycle", CHECKS, NOT_OURS)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


@pytest.mark.parametrize("window", ["rectangular", "triangular", "hann"])
def test_windows_against_a_sum(window):
    """Independent: numpy's own windows and a plain sum over 20,000 samples."""
    n, cycles = 20_000, 2.37
    t = (np.arange(n) + 0.5) / n - 0.5
    shape = {
        "rectangular": np.ones(n),
        "triangular": np.bartlett(2 * n + 1)[1::2],
        "hann": np.hanning(2 * n + 1)[1::2],
    }[window]
    left = np.sum(shape * np.cos(2 * np.pi * cycles * t)) / np.sum(shape)
    assert window_rejection_db(cycles, 1.0, window) == pytest.approx(
        -20 * np.log10(abs(left)), abs=1e-4
    )
