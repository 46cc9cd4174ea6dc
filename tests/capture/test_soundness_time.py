"""Judgements on length, rate and stamps, each with a neighbour that must not trigger it."""

from __future__ import annotations

import numpy as np
import pytest
from capture.invented import SAMPLES, captured, check, clean, hum, ids, noise

from straypath.capture.capture import Gap, Stamps
from straypath.capture.soundness import check_soundness
from straypath.errors import InputError


def spaced(text):
    return text.replace("\u202f", " ")


@pytest.mark.parametrize(
    ("identity", "samples", "mains_hz", "found"),
    [
        ("too-short-to-tell", 200, None, True),
        ("too-short-to-tell", 400, None, False),
        ("too-short-to-tell", 200, 50.0, False),
        ("under-one-cycle", 190, 50.0, True),
        ("under-one-cycle", 200, 50.0, False),
        ("under-one-cycle", 190, 60.0, False),
        ("few-cycles", 200, None, True),
        ("few-cycles", 990, None, True),
        ("few-cycles", 1000, None, False),
        ("few-cycles", 1000, 16.7, True),
    ],
)
def test_length(identity, samples, mains_hz, found):
    assert (identity in ids(check(clean(samples), mains_hz=mains_hz))) is found


def test_the_text_says_how_far_50_and_60_hz_come_apart():
    text = spaced(check(clean(200)).find("too-short-to-tell").text)
    assert text == "It lasts 20 ms. 50 Hz and 60 Hz come apart by 0.2 turns only."


def test_only_the_sound_stretch_counts_for_the_length():
    holed = hum(2000)
    holed[300:2000:300] = np.nan
    said = check(holed)
    assert said.stretch == (0, 300)
    assert "Its longest sound stretch lasts 30 ms" in spaced(said.find("few-cycles").text)


# Rate ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("identity", "rate", "mains_hz", "found"),
    [
        ("too-slow", 10.0, None, True),
        ("too-slow", 110.0, None, True),
        ("too-slow", 110.0, 50.0, False),
        ("too-slow", 100.0, 50.0, True),
        ("too-slow", 1000.0, None, False),
        ("few-orders", 250.0, None, True),
        ("few-orders", 1000.0, None, False),
        ("few-orders", 1000.0, 400.0, True),
    ],
)
def test_rate(identity, rate, mains_hz, found):
    assert (identity in ids(check(noise(), rate, mains_hz=mains_hz))) is found


def test_a_slow_logger_shows_hum_as_drift():
    """Independent, by hand: |50 − 5·10|, |60 − 6·10|, |50 − 49.9| and |60 − 49.9| Hz."""
    said = check(noise(), 10.0)
    text = spaced(said.find("too-slow").text)
    assert "50 Hz shows at a standstill and 60 Hz shows at a standstill" in text
    assert "Hum looks like drift" in text
    text = spaced(check(noise(), 49.9).find("too-slow").text)
    assert "50 Hz shows at 100 mHz" in text
    assert "60 Hz shows at 10.1 Hz" in text


# Stamps -------------------------------------------------------------------------------------

INTERVAL = 1e-4


@pytest.mark.parametrize(
    ("identity", "stamps", "found"),
    [
        ("gaps", Stamps(gaps=(Gap(8000, 0.5),)), True),
        ("gaps", Stamps(), False),
        ("gaps", None, False),
        ("stamps-backwards", Stamps(backwards=2, resolution_s=1e-6), True),
        ("stamps-backwards", Stamps(backwards=0, resolution_s=1e-6), False),
        ("stamps-backwards", Stamps(backwards=900, resolution_s=1e-3), False),
        ("coarse-stamps", Stamps(backwards=900, resolution_s=1e-3, worst_error_s=1e-3), True),
        ("coarse-stamps", Stamps(resolution_s=1e-6), False),
        ("uneven-stamps", Stamps(worst_error_s=0.2 * INTERVAL, resolution_s=1e-6), True),
        ("uneven-stamps", Stamps(worst_error_s=0.05 * INTERVAL, resolution_s=1e-6), False),
        (
            "uneven-stamps",
            Stamps(worst_error_s=0.4 * INTERVAL, resolution_s=0.8 * INTERVAL),
            False,  # no more than the digits it is written in
        ),
    ],
)
def test_stamps(identity, stamps, found):
    assert (identity in ids(check(clean(), stamps=stamps))) is found


def test_gaps_cut_the_stretch():
    gaps = Stamps(gaps=(Gap(8000, 0.5), Gap(9000, 0.25)))
    said = check(clean(), stamps=gaps)
    assert said.stretch == (9000, SAMPLES)
    text = spaced(said.find("gaps").text)
    assert text == "There are 2 gaps in time: 750 ms missing in all."


def test_gaps_and_missing_samples_cut_together():
    holed = hum()
    holed[12_000:12_010] = np.nan
    assert check(holed, stamps=Stamps(gaps=(Gap(8000, 0.5),))).stretch == (0, 8000)
    assert check(holed, stamps=Stamps(gaps=(Gap(3000, 0.5),))).stretch == (3000, 12_000)


def test_only_the_longest_stretch_that_runs_forward_is_used():
    said = check(clean(), stamps=Stamps(backwards=1, resolution_s=1e-6, forward=(5000, SAMPLES)))
    assert said.stretch == (5000, SAMPLES)
    advice = spaced(said.find("stamps-backwards").advice)
    assert advice.startswith("Only the longest stretch that runs forward is used, 1.5 s. Export")


@pytest.mark.parametrize("rate", [0.0, -1.0, np.inf, np.nan])
def test_a_rate_that_is_none_is_refused(rate):
    capture = captured(hum(), rate)
    with pytest.raises(InputError, match="no sample rate"):
        check_soundness(capture, capture.channels[0])


def test_a_mains_frequency_that_is_none_is_refused():
    with pytest.raises(InputError, match="no mains frequency"):
        check(hum(), mains_hz=-50.0)


def test_complex_samples_are_refused():
    with pytest.raises(InputError, match="two channels"):
        check(hum() + 1j)
