"""How numbers, limits, chances and shares are printed."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from straypath.quantity import Quantity, UpperLimit
from straypath.wording import (
    amount,
    chance,
    count,
    firm,
    fixed,
    listed,
    number,
    plain,
    reading,
    seconds,
    share,
)


def say(value, unit="V"):
    return plain(reading(value, unit)).replace("\u202f", "_").replace("\u00a0", "_")


# The rule: half-width with two digits up to 35, else one; both ends to the place of the value.
@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (Quantity(41.3e-3, 0.5e-3, 40.3e-3, 42.3e-3), "V", "41.3_mV [40.3,_42.3]"),
        (Quantity(49.9872, 5e-4, 49.9862, 49.9882), "Hz", "49.9872_Hz [49.9862,_49.9882]"),
        (Quantity(41.3e-3, 4e-6, 41.293e-3, 41.307e-3), "V", "41.300_mV [41.293,_41.307]"),
        (Quantity(13.3e-15, 1.5e-15, 10.6e-15, 16.7e-15), "F", "13.3_fF [10.6,_16.7]"),
        (Quantity(0.9996, 0.005, 0.9898, 1.0094), "V", "1.00_V [0.99,_1.01]"),
        (Quantity(412.3, 0.3, 411.7, 412.9), "", "412.3 [411.7,_412.9]"),
        (Quantity(-2.5e-3, 1e-4, -2.7e-3, -2.3e-3), "V", "−2.50_mV [−2.70,_−2.30]"),
        (Quantity(1e-6, 2e-3, -4e-3, 4e-3), "V", "0_mV [−4,_4]"),
        (
            Quantity(0.5**0.5, 1e-14, 0.5**0.5 - 2e-14, 0.5**0.5 + 2e-14),
            "V",
            "707.1067812_mV [707.1067812,_707.1067812]",
        ),
        (Quantity(1e20, 1e18, 9.8e19, 1.02e20), "", "1e+20 [9.8e+19,_1.02e+20]"),
        (Quantity(2.0, 0.0, 2.0, 2.0), "V", "2.00000_V [2.00000,_2.00000]"),
        (UpperLimit(9.04e-6), "V", "< 9.0_µV, not seen"),
        (UpperLimit(0.0093), "", "< 0.0093, not seen"),
    ],
)
def test_readings(value, unit, text):
    assert say(value, unit) == text


finite = st.floats(-1e9, 1e9, allow_nan=False)


@given(finite, st.floats(1e-9, 1e9))
def test_reading_stops_at_one_place_and_never_loses_the_interval(value, half):
    half += 1e-7 * abs(value)
    text = say(Quantity(value, half / 2, value - half, value + half), "V")
    numbers = re.findall(r"\d(?:[\d]|_(?=\d{3}))*(?:\.\d+)?", text)
    assert len(numbers) == 3
    assert len({len(part.partition(".")[2]) for part in numbers}) == 1
    low, high = re.search(r"\[(.*),_(.*)\]", text).groups()
    assert low != high


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (1.0, "over 99_%"), (0.9901, "over 99_%"), (0.99, "99_%"), (0.724, "72_%"),
        (0.01, "1_%"), (0.0099, "under 1_%"), (0.0, "under 1_%"),
    ],
)  # fmt: skip
def test_chances_are_whole_per_cent(probability, text):
    assert chance(probability).replace("\u202f", "_") == text


@pytest.mark.parametrize(
    ("part", "text"),
    [
        (0.9972, "99.7_%"), (0.99999, "over 99.9_%"), (0.383, "38_%"), (0.0481, "4.8_%"),
        (0.0001, "under 0.1_%"), (1.0, "over 99.9_%"), (0.984, "98_%"),
        (0.9995, "over 99.9_%"), (0.9994, "99.9_%"), (0.0004, "under 0.1_%"), (0.0006, "0.1_%"),
    ],
)  # fmt: skip
def test_shares_are_finer_near_the_ends(part, text):
    assert share(part).replace("\u202f", "_") == text


# The prefix follows the digits that are printed: never 1000 of a unit that has a larger one.
@pytest.mark.parametrize(
    ("value", "unit", "digits", "text"),
    [
        (9.96e-4, "V", 2, "1_mV"), (999.6, "Hz", 3, "1_kHz"), (999.6, "Hz", 4, "999.6_Hz"),
        (9.97e-7, "V/√Hz", 2, "1_µV/√Hz"), (-999.6, "V", 3, "−1_kV"), (1e-6, "V", 2, "1_µV"),
        (999.96, "Hz", 6, "999.96_Hz"), (0.0, "V", 3, "0_V"), (9996.0, "lx", 3, "10_000_lx"),
    ],
)  # fmt: skip
def test_amounts(value, unit, digits, text):
    assert plain(amount(value, unit, digits)).replace("\u202f", "_") == text


@given(st.floats(1e-15, 1e14), st.integers(2, 6))
def test_no_amount_is_1000_of_a_unit(value, digits):
    text = plain(amount(value, "V", digits))
    assert 1 <= float(text.partition("\u202f")[0]) < 1000


def test_a_limit_just_below_a_prefix_takes_it():
    assert say(UpperLimit(9.96e-4)) == "< 1.0_mV, not seen"


def test_small_things():
    assert fixed(-0.0001, 2) == "0.00"
    assert fixed(float("nan"), 2) == "unknown"
    assert fixed(float("inf"), 2) == "∞"
    assert count(65536) == "65\u202f536"
    assert number(0.000123456) == "0.000123"
    assert number(0) == "0"
    assert plain(amount(22.4e-6, "V/√Hz", 2)) == "22\u202fµV/√Hz"
    assert plain(seconds(0.08)) == "80\u202fms"
    assert plain(seconds(1200)) == "20\u202fmin"
    assert plain(seconds(10800)) == "3\u202fh"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert firm("over 318.4 Hz and 8 000 samples/s, 5 % off") == (
        "over 318.4\u202fHz and 8\u202f000\u202fsamples/s, 5\u202f% off"
    )
    assert firm("2 Volts in 3 attempts") == "2 Volts in 3 attempts"
