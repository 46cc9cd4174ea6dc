"""Examining a capture: which channels, which stretch, in which order; the parts are stand-ins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.handmade import HUM, comb, samples, soundness

from straypath import inquiry
from straypath.capture.capture import Capture, Channel
from straypath.capture.part import Part, part
from straypath.contents.whole import Contents
from straypath.errors import InputError
from straypath.inquiry import choose, examine, mains_frequency
from straypath.report import sentences
from straypath.report.sections import sections
from straypath.wording import plain

RATE = 2000.0


def made(*names: str) -> Capture:
    raw = samples(HUM, 49.98, RATE, 1.0, 1e-5)
    return Capture(tuple(Channel(name, raw, "V") for name in names), RATE)


@pytest.fixture
def calls(monkeypatch):
    """Stand-ins for the check and the estimator; returns what they were called with."""
    seen = {"stretch": (100, 1900), "combs": []}

    def check(capture, channel, *, mains_hz=None):
        return soundness(stretch=seen["stretch"])

    def estimate(channel, rate_hz, *, mains, depth, bandwidth_hz, step, progress):
        progress(0.5)
        seen["combs"].append((channel, rate_hz, mains))
        return Contents(comb(HUM, 49.98, RATE, 1.0, 1e-5))

    monkeypatch.setattr(inquiry, "check_soundness", check)
    monkeypatch.setattr(inquiry, "read_contents", estimate)
    return seen


def test_looks_for_mains_in_the_sound_stretch_only(calls):
    capture = made("a")
    found = examine(capture, mains="60").channels[0]
    channel, rate, mains = calls["combs"][0]
    assert (rate, mains) == (RATE, 60.0)
    assert len(channel) == 1800
    assert np.array_equal(channel.values(), capture.channels[0].values(100, 1900))
    assert found.stretch == (100, 1900)
    assert found.channel is capture.channels[0]


def test_a_channel_without_a_sound_stretch_is_said_to_be_one(calls):
    calls["stretch"] = (0, 0)
    found = examine(made("a")).channels[0]
    assert calls["combs"] == []
    assert not found.mains.present
    assert "sound enough" in plain(sentences.conclusion(found.contents, "V"))


def test_progress_runs_over_all_channels_and_ends_at_one(calls):
    steps = []
    examine(made("a", "b"), progress=lambda part, doing: steps.append((part, doing)))
    parts = [p for p, _ in steps]
    assert parts == sorted(parts)
    assert parts[0] == 0.0
    assert parts[-1] == 1.0
    assert any(doing == "b: contents" for _, doing in steps)


def test_only_the_channels_that_are_asked_for(calls):
    found = examine(made("a", "b", "c"), channels=["c", 1])
    assert [c.channel.name for c in found.channels] == ["c", "a"]


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        (None, ["left", "2", "Right"]),
        (["left"], ["left"]),
        (["1"], ["left"]),
        (["2"], ["2"]),  # a name comes before a number
        ([3], ["Right"]),
        (["right"], ["Right"]),
        (["1", "left"], ["left"]),
    ],
)
def test_channels_by_name_or_number(wanted, names):
    assert [c.name for c in choose(made("left", "2", "Right"), wanted)] == names


@pytest.mark.parametrize("wanted", ["4", "0", "-1", "up", ""])
def test_a_channel_that_is_not_there(wanted):
    with pytest.raises(InputError, match="from 1 left and 2 right") as caught:
        choose(made("left", "right"), [wanted])
    assert "\n" not in str(caught.value)


def test_a_long_list_of_channels_is_cut():
    with pytest.raises(InputError, match="12 c11 and 28 more"):
        choose(made(*(f"c{n}" for n in range(40))), ["none"])


@pytest.mark.parametrize(
    ("text", "value"),
    [("auto", None), ("AUTO", None), ("50", 50.0), ("60 Hz", 60.0), (16.7, 16.7), ("0.4 kHz", 400)],
)
def test_mains_frequency(text, value):
    assert mains_frequency(text) == value


@pytest.mark.parametrize("text", ["0", "-50", "1e9", "nan", "fifty", "50 V", "50k", float("inf")])
def test_no_mains_frequency(text):
    with pytest.raises(InputError, match=r"^mains: "):
        mains_frequency(text)


@given(st.integers(0, 50), st.integers(0, 50), st.slices(60))
def test_a_part_slices_like_the_array_it_is_part_of(start, length, index):
    whole = np.arange(100)
    piece = Part(whole, start, start + length)
    if index.step is None or index.step > 0:
        # independent: numpy's own slicing
        assert np.array_equal(piece[index], whole[start : start + length][index])
    assert len(piece) == piece.shape[0] == length
    assert piece.dtype == whole.dtype


def test_a_whole_channel_is_itself():
    channel = made("a").channels[0]
    assert part(channel, 0, len(channel)) is channel


# What cannot be examined is said in words; it is neither an error nor a reading.
@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"stretch": (5, 9)}, "A stretch of 4 samples is too short"),
        ({"rms_about_mean": 0.0}, "Nothing moves in this record"),
        ({"rms_about_mean": float("nan")}, "too large to be a measurement"),
        ({"rms_about_mean": 1e200}, "too large to be a measurement"),
    ],
)
def test_says_why_nothing_can_be_read(calls, monkeypatch, facts, said):
    told = replace(soundness(stretch=(0, 2000)), **facts)
    monkeypatch.setattr(inquiry, "check_soundness", lambda *_, **__: told)
    found = examine(made("a")).channels[0]
    assert calls["combs"] == []
    assert found.mains.rms is None
    text = plain(sentences.conclusion(found.contents, "V"))
    assert said in text.replace("\u202f", " ")


@pytest.mark.parametrize("rate", [37.0, 112.0])
def test_says_that_mains_cannot_show_at_a_slow_rate(calls, rate):
    """Everything else in the record is still told."""
    found = examine(replace(made("a"), rate_hz=rate)).channels[0]
    assert len(calls["combs"]) == 1
    text = plain(sentences.conclusion(found.contents, "V")).replace("\u202f", " ")
    assert f"Mains of 50 Hz cannot show at {rate:g} samples/s; it takes 113 or more." in text


def test_a_lower_mains_frequency_needs_a_lower_rate(calls):
    slow = replace(made("a"), rate_hz=50.0)
    assert not examine(slow).channels[0].mains.present
    assert examine(slow, mains=16.7).channels[0].mains.present


@pytest.mark.parametrize("channels", [[], (), 1, "left", {"left"}, 2.5])
def test_channels_that_name_none_are_refused(channels):
    with pytest.raises(InputError, match="names no channels") as caught:
        examine(made("left", "right"), channels=channels)
    assert "list" in caught.value.advice


@pytest.mark.parametrize("thing", [None, "a.csv", np.arange(9.0)])
def test_what_is_no_capture_is_refused(thing):
    with pytest.raises(InputError, match=r"is no capture\. Read the file first"):
        examine(thing)


def test_one_sample_is_not_samples(calls):
    calls["stretch"] = (5, 6)
    found = examine(made("one")).channels[0]
    assert found.mains.unread == "A stretch of one sample is too short to look for mains."


def clock_beside_mains(seconds):
    """An invented clock of 1 kHz beside mains of 49.98 Hz, whose order 20 is at 999.6 Hz."""
    rate, rng = 10_000.0, np.random.default_rng(4)
    t = np.arange(round(seconds * rate)) / rate
    x = np.cos(2 * np.pi * 49.98 * t) + 0.05 * np.cos(2 * np.pi * 1000.0 * t)
    raw = x + 1e-3 * rng.standard_normal(t.size)
    found = examine(Capture((Channel("invented", raw, "V"),), rate)).channels[0]
    return {verdict.question: verdict for verdict in found.answers}, found


def test_a_long_record_answers_all_four_questions():
    answers, found = clock_beside_mains(10.0)
    assert [v.answerable for v in answers.values()] == [True] * 4
    assert "Takes another record" not in [s.title for s in sections(found, 10_000.0)]


def test_a_short_record_says_what_it_cannot_answer():
    answers, found = clock_beside_mains(0.05)
    assert not answers["separate"].answerable
    assert not answers["hum"].answerable  # two and a half cycles
    (section,) = [s for s in sections(found, 10_000.0) if s.title == "Takes another record"]
    said = " ".join(plain(p.text) for p in section.paragraphs).replace("\u202f", " ")
    assert "Inseparable: lines must be 40 Hz apart" in said  # two cells of 1/50 ms
    assert "It takes five cycles" in said


def test_the_floor_of_the_record_sets_what_it_sees():
    """Independent: white noise of 1e-3 at 10 kHz is 1.414e-5 per root hertz."""
    answers, _ = clock_beside_mains(10.0)
    expected = 10 ** (18.5 / 20) * 1.414e-5 / np.sqrt(10.0)
    assert answers["frame"].least == pytest.approx(expected, rel=0.1)


def test_what_cannot_be_examined_answers_nothing(calls):
    calls["stretch"] = (0, 0)
    assert examine(made("a")).channels[0].answers == ()
