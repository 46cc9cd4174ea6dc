"""Values with units as people write them."""

from __future__ import annotations

from contextlib import suppress
from math import isfinite

import pytest
from hypothesis import given
from hypothesis import strategies as st

from straypath.errors import InputError
from straypath.units import PREFIXES, parse_density, parse_value


# independent: powers of ten of the SI Brochure, 9th edition, table 7, by hand
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1 MHz", 1e6),
        ("50 kHz", 50e3),
        ("50kHz", 50e3),
        ("16.7 Hz", 16.7),
        ("1e6Hz", 1e6),
        (" 2.5 GHz ", 2.5e9),
        ("200 mHz", 0.2),
        ("5 µHz", 5e-6),
        ("5 μHz", 5e-6),
        ("5 uHz", 5e-6),
        ("−3 Hz", -3.0),
        (".5 Hz", 0.5),
    ],
)
def test_reads_numbers_with_units(text, value):
    assert parse_value(text, "Hz") == pytest.approx(value, rel=1e-15)


def test_bare_number_only_where_allowed():
    assert parse_value("1e6", "Hz", bare=True) == 1e6
    with pytest.raises(InputError, match="has no unit"):
        parse_value("1e6", "Hz")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("50k", "Did you mean '50kHz'"),
        ("50 khZ", "Mind capitals"),
        ("50 KHz", "Mind capitals"),
        ("50 V", "is not in Hz"),
        ("1,5 kHz", "is not a number|is not in Hz"),
        ("fast", "is not a number"),
        ("", "is not a number"),
        ("1e999 Hz", "too large"),
        ("nan", "is not a number"),
        ("1 Hz 2", "is not in Hz"),
    ],
)
def test_refuses_with_advice(text, said):
    with pytest.raises(InputError, match=said) as caught:
        parse_value(text, "Hz", where="--rate", bare=True)
    assert str(caught.value).startswith("--rate: ")
    assert "\n" not in str(caught.value)


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_an_input_error(text):
    with suppress(InputError):
        assert isfinite(parse_value(text, "V", bare=True))


@given(
    st.floats(1e-3, 999, allow_nan=False).map(lambda x: float(f"{x:.6g}")),
    st.sampled_from(list(PREFIXES)),
)
def test_prefix_scales(value, prefix):
    assert parse_value(f"{value} {prefix}V", "V") == pytest.approx(value * PREFIXES[prefix])


@pytest.mark.parametrize(
    "text", ["10 nV/√Hz", "10nV/rtHz", "0.01 µV / √Hz", "10 nV/sqrt(Hz)", "1e-8 V/√(Hz)"]
)
def test_densities(text):
    assert parse_density(text, "V") == pytest.approx(1e-8)


@pytest.mark.parametrize(
    "text", ["10 nV", "10 nV/Hz", "10 n/√Hz", "x V/√Hz", "10 nA/√Hz", "", "/√Hz"]
)
def test_what_is_no_density_is_refused_with_an_example(text):
    with pytest.raises(InputError, match=r"^floor: .* Write it like '10 nV/√Hz' or '10 nV/rtHz'"):
        parse_density(text, "V", where="floor")


def test_units_without_prefixes():
    assert parse_value("5 %", "%") == parse_value("5%", "%") == 5.0
    assert parse_value("1.5 dB", "dB") == 1.5
    for text in ("5 m%", "5 kdB", "5"):
        with pytest.raises(InputError, match=r"Write it like '5 (%|dB)'"):
            parse_value(text, "dB" if "dB" in text else "%")


@pytest.mark.parametrize("unit", ["Ω", "\u2126", "ohm", "Ohm", "ohms"])
def test_ohms_for_keyboards_without_the_letter(unit):
    assert parse_value(f"10 k{unit}", "Ω") == 10e3
    with pytest.raises(InputError, match="is not in Hz"):
        parse_value(f"10 k{unit}", "Hz")
