"""Values with units as people write them."""

from __future__ import annotations

from contextlib import suppress
from math import isfinite

import pytest
from hypothesis import given
from hypothesis import strategies as st

from straypath.errors import InputError
from straypath.units import PREFIXES, parse_value


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
