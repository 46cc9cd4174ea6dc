"""Closed forms behind the findings against values from outside.

The labels show in the names of the tests: independent means computed for this project outside
this code (tests/data/soundness_checks.json says from what).
"""

from __future__ import annotations

import json
from fnmatch import fnmatchcase
from math import pi, sqrt

import numpy as np
import pytest
from capture.invented import check, codes
from external.published import DATA, Entry

from straypath.capture.soundness.limits import (
    ac_lead_rad,
    alias_hz,
    aperture_gain,
    aperture_rejection_db,
    quantisation_rms,
)
from straypath.capture.soundness.timing import _TOLD_S

ROWS = json.loads((DATA / "soundness_checks.json").read_text(encoding="utf-8"))
ENTRIES = [Entry(**row) for row in ROWS]


def moved_alias(entry):
    frequency, *rates = entry.given("f", "fs1", "fs2")
    return [alias_hz(frequency, rate) for rate in rates]


def off_nominal(entry):
    cycles, error = entry.given("N", "e")
    return aperture_rejection_db(1.0 + error, cycles)


def shortest_that_rejects_both(_entry):
    apertures = np.arange(1, 201) * 1e-3
    return next(t for t in apertures if max(aperture_gain(f, t) for f in (50.0, 60.0)) < 1e-10)


def worst_residual(duration_s):
    """Fit 60 Hz with a constant to 50 Hz sines of all phases; rms left at the worst, in parts."""
    t = (np.arange(4000) + 0.5) / 4000 * duration_s
    angle = 2 * pi * t[:, None]
    known = np.hstack([np.cos(60 * angle), np.sin(60 * angle), np.ones_like(angle)])
    waves = np.hstack([np.cos(50 * angle), np.sin(50 * angle)])
    turns = np.linspace(0, pi, 721)
    waves = waves @ np.stack([np.cos(turns), np.sin(turns)])
    left = waves - known @ np.linalg.lstsq(known, waves, rcond=None)[0]
    return float(np.min(np.sqrt(np.mean(left**2, axis=0) / np.mean(waves**2, axis=0))))


CHECKS = {
    "S7-alias-[0-9]": lambda entry: alias_hz(*entry.given("f", "fs")),
    "S7-alias-move": moved_alias,
    "S6-sinc-[0-9]*": off_nominal,
    "S6-sinc-approx": lambda entry: aperture_rejection_db(1.0 + entry.given("e")[0], 1.0),
    "S6-sinc-harm": lambda _: aperture_rejection_db(5.0 * 1.001, 1.0),
    "S6-60in50": lambda _: [aperture_rejection_db(60, 1 / 50), aperture_rejection_db(50, 1 / 60)],
    "S6-100ms": shortest_that_rejects_both,
    "S5-delta12": lambda entry: quantisation_rms(*entry.given("LSB")),
}
ANSWERED = [
    pytest.param(answer, entry, id=f"{entry.label}-{entry.id}")
    for entry in ENTRIES
    for pattern, answer in CHECKS.items()
    if fnmatchcase(entry.id, pattern)
]


@pytest.mark.parametrize(("answer", "entry"), ANSWERED)
def test_reference(answer, entry):
    entry.check(answer(entry))


@pytest.mark.parametrize(
    ("duration_ms", "worst"),
    [(entry.given("T")[0], entry.expected["value"][2]) for entry in ENTRIES if "disc" in entry.id],
)
def test_what_tells_50_from_60_hz(duration_ms, worst):
    """Independent, S7-disc-…: what the threshold of 'too-short-to-tell' rests on."""
    assert worst_residual(duration_ms / 1000) == pytest.approx(worst, rel=0.01)


def test_the_threshold_is_where_a_good_part_of_the_wave_tells():
    assert worst_residual(_TOLD_S) > 0.4
    assert worst_residual(_TOLD_S / 2) < 0.1


def test_every_entry_is_used():
    used = len(ANSWERED) + sum("disc" in entry.id for entry in ENTRIES)
    assert used == len(ENTRIES)


def test_quantising_noise_of_real_codes():
    """Independent: rounding of an even spread against q/√12, S5-delta12."""
    x = np.random.default_rng(3).uniform(-500, 500, 200_000)
    assert np.std(codes(x) - x) == pytest.approx(quantisation_rms(1.0), rel=0.01)


def test_aperture_against_a_sum():
    """Independent: a plain mean of 20,000 points within the aperture."""
    t = (np.arange(20_000) + 0.5) / 20_000 - 0.5
    for turns in (0.3, 1.001, 2.7):
        assert aperture_gain(turns, 1.0) == pytest.approx(
            abs(np.mean(np.cos(2 * pi * turns * t))), abs=1e-6
        )
    assert aperture_gain(0.0, 1.0) == 1.0
    assert aperture_rejection_db(50.0, 0.0) == 0.0


def test_the_corner_turns_by_an_eighth_at_the_corner():
    assert ac_lead_rad(7.0, 7.0) == pytest.approx(pi / 4)
    assert np.cos(ac_lead_rad(1.0, 1.0)) == pytest.approx(1 / sqrt(2))


def test_a_fold_shows_where_the_formula_says():
    """Independent: the transform of a sampled 60 Hz sine at 50 S/s has its peak at 10 Hz."""
    sampled = np.sin(2 * pi * 60 * np.arange(500) / 50 + 0.3)
    peak = np.fft.rfftfreq(500, 1 / 50)[np.argmax(np.abs(np.fft.rfft(sampled)))]
    assert alias_hz(60.0, 50.0) == pytest.approx(peak)
    assert "60 Hz shows at 10 Hz" in check(sampled, 50.0).find("too-slow").text.replace(
        "\u202f", " "
    )
