"""Units, numbers, ratios and words in headers, as people write them."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from straypath.capture.formats import READERS
from straypath.capture.formats.facts import VOCABULARY, fact_of, gather, moment
from straypath.capture.formats.units import parse_number, parse_unit, split_unit, user_unit
from straypath.errors import InputError


@pytest.mark.parametrize(
    ("text", "unit", "factor"),
    [
        ("V", "V", 1), ("mV", "V", 1e-3), ("µV", "V", 1e-6), ("μV", "V", 1e-6), ("uV", "V", 1e-6),
        ("kV", "V", 1e3), ("Volts", "V", 1), ("mA", "A", 1e-3), ("pA", "A", 1e-12),
        ("kHz", "Hz", 1e3), ("kS/s", "Hz", 1e3), ("MSa/s", "Hz", 1e6), ("ms", "s", 1e-3),
        ("µs", "s", 1e-6), ("ns", "s", 1e-9), ("min", "s", 60), ("kΩ", "Ω", 1e3), ("°C", "°C", 1),
        ("mbar", "bar", 1e-3), ("K", "K", 1), ("counts", "counts", 1),
    ],
)  # fmt: skip
def test_units(text, unit, factor):
    assert parse_unit(text) == (unit, pytest.approx(factor))


@pytest.mark.parametrize("text", ["", "x", "volt meter", "filtered", "CH1", "mm²", "-"])
def test_words_that_are_no_units(text):
    assert parse_unit(text) is None


@pytest.mark.parametrize(
    ("title", "name", "unit"),
    [
        ("Input (mV)", "Input", "mV"), ("Input [mV]", "Input", "mV"), ("U / mV", "U", "mV"),
        ("input in mV", "input", "mV"), ("input_mv", "input", "mv"), ("Input, V", "Input", "V"),
        ("Input (filtered)", "Input (filtered)", ""), ("a/b", "a/b", ""), ("in_a", "in", "a"),
        ("probe tip", "probe tip", ""), ("(V)", "", "V"),
    ],
)  # fmt: skip
def test_titles(title, name, unit):
    assert split_unit(title) == (name, unit)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1.5 kHz", (1.5, "kHz")), ("1,5kHz", (1.5, "kHz")), ("-2e-3", (-2e-3, "")),
        (".5 s", (0.5, "s")), ("1,000 Hz", None), ("0,001 s", (0.001, "s")), ("about 3", None),
        ("1e999", None), ("", None),
    ],
)  # fmt: skip
def test_numbers(text, number):
    assert parse_number(text) == number


@pytest.mark.parametrize(
    ("key", "value", "field", "wanted"),
    [
        ("Probe", "10:1", "probe_ratio", 10), ("Probe ratio", "x10", "probe_ratio", 10),
        ("Attenuation", "10x", "probe_ratio", 10), ("probe_ratio", "1/10", "probe_ratio", 10),
        ("Probe", "100", "probe_ratio", 100), ("Probe", "0", "probe_ratio", None),
        ("Coupling", "DC, 1 MΩ", "coupling", "dc"), ("Coupling", "AC/DC", "coupling", ""),
        ("Bandwidth limit", "20 MHz", "bandwidth_limit_hz", 20e6),
        ("Bandwidth limit", "off", "bandwidth_limit_hz", None),
        ("Mode", "Peak detect", "mode", "peak"), ("Mode", "screen", "mode", "screen"),
        ("Mode", "burst", "mode", ""), ("Averages", "64", "averages", 64),
        ("Trigger", "AC line", "trigger", "line"), ("Trigger", "CH 1", "trigger", "ch 1"),
        ("Resolution", "12-bit", "bits", 12), ("Aperture (ms)", "20", "aperture_s", 0.02),
    ],
)  # fmt: skip
def test_facts(key, value, field, wanted):
    assert getattr(gather([(key, value)]).acquisition, field) == wanted


@pytest.mark.parametrize(
    ("key", "value", "rate_hz"),
    [
        ("Sample rate", "10 kS/s", 10e3), ("sampling frequency [kHz]", "10", 10e3),
        ("rate_hz", "10000", 10e3), ("fs", "1e4", 10e3), ("dt", "100 µs", 10e3),
        ("Sample interval", "0.1 ms", 10e3), ("interval_ms", "0.1", 10e3),
        ("Sample rate", "10 V", None), ("Sample rate", "0", None), ("Sample rate", "-1", None),
        ("Sample rate", "fast", None),
    ],
)  # fmt: skip
def test_rates(key, value, rate_hz):
    stated = gather([(key, value)]).stated_rate_hz
    assert stated == (None if rate_hz is None else pytest.approx(rate_hz))


def test_an_interval_without_unit_is_taken_in_seconds_and_says_so():
    facts = gather([("interval", "0.001")])
    assert facts.stated_rate_hz == pytest.approx(1000)
    assert facts.notes


def test_the_first_mention_counts():
    assert gather([("fs", "5 Hz"), ("rate", "7 Hz")]).rate_hz == 5


def test_the_vocabulary_is_without_contradiction():
    words = [word for entry in VOCABULARY.values() for word in entry.split("|")]
    assert len(words) == len(set(words))
    for fact, entry in VOCABULARY.items():
        for word in entry.split("|"):
            assert fact_of(word.title()) == (fact, "")


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("2026-03-01T10:00:00Z", datetime(2026, 3, 1, 10, tzinfo=UTC)),
        ("2026-03-01 10:00:00,250", datetime(2026, 3, 1, 10, 0, 0, 250000)),
        ("2026/03/01 10:00", datetime(2026, 3, 1, 10)),
        ("1.3.2026 10:00:00", datetime(2026, 3, 1, 10)),
        ("2026-03-01", datetime(2026, 3, 1)),
        ("03/01/2026", None), ("20260301", None), ("2026-13-01", None), ("yesterday", None),
    ],
)  # fmt: skip
def test_moments(text, wanted):
    assert moment(text) == wanted


def test_date_and_clock_are_joined():
    facts = gather([("Date", "2026-03-01"), ("Time", "10:00:00")])
    assert facts.start == datetime(2026, 3, 1, 10)


def test_units_given_by_the_user():
    assert user_unit("mV") == ("V", 1e-3)
    assert user_unit("mV/s") == ("V/s", 1e-3)
    with pytest.raises(InputError, match="'furlong' is not a unit that is known here"):
        user_unit("furlong")


# --- the page that promises all this --------------------------------------------------------

PAGE = (Path(__file__).parents[2] / "docs" / "formats.md").read_text(encoding="utf-8")


def test_every_key_that_the_page_names_is_understood():
    table = PAGE.partition("| fact | keys |")[2].partition("A value that can")[0]
    rows = [line.split("|")[2] for line in table.splitlines() if line.count("|") == 3]
    keys = [
        key.strip(" `")
        for row in rows[1:]
        for key in re.sub(r"\(.*\)", "", row).partition(":")[0].replace(";", ",").split(",")
    ]
    assert len(keys) > 30
    assert [key for key in keys if not fact_of(key)[0]] == []


def test_every_reader_is_on_the_page():
    assert [r.name for r in READERS if f"`{r.name}`" not in PAGE] == []
