"""What folds onto a line, against reference values, and which second rate tells."""

from __future__ import annotations

import numpy as np
import pytest
from external.published import Group
from hypothesis import given
from hypothesis import strategies as st

from straypath.contents.families.aliases import apparent_hz, folding_onto, telling_rate
from straypath.errors import InputError


def moved(entry):
    true, first, second = entry.given("f", "fs1", "fs2")
    shown = float(apparent_hz(true, first))
    change = telling_rate(shown, first, (true,), available_hz=(second,))
    return [shown, change.shows_hz[1]]


GROUP = Group(
    "sampling",
    {
        "S7-alias-[0-9]": lambda entry: float(apparent_hz(*entry.given("f", "fs"))),
        "S7-alias-move": moved,
    },
    {},
)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


@pytest.mark.parametrize("entry", [e for e in GROUP.entries if "fs" in e.inputs], ids=str)
def test_the_true_frequency_is_among_the_candidates(entry):
    true, rate = entry.given("f", "fs")
    shown = entry.expected["value"]
    candidates = folding_onto(shown, rate, 1.1 * true)
    assert np.min(np.abs(np.array(candidates) - true)) < 1e-6


rates = st.floats(10.0, 1e7)
shares = st.floats(0.001, 0.499)


@given(rates, shares, st.floats(0.1, 10.0))
def test_candidates_show_where_the_line_is(rate, share, top):
    f = share * rate
    for true in folding_onto(f, rate, top * rate):
        assert rate / 2 < true <= top * rate
        assert float(apparent_hz(true, rate)) == pytest.approx(f, abs=1e-9 * rate)


def test_bandwidth_ends_the_list():
    assert folding_onto(50.0, 1000.0, 400.0) == ()
    assert folding_onto(50.0, 1000.0)[-1] == 9950.0
    assert folding_onto(500.0, 1000.0, 2600.0) == (1500.0, 2500.0)


@given(rates, st.floats(0.01, 0.3))
def test_the_line_stays_and_aliases_move(rate, share):
    f = share * rate
    candidates = folding_onto(f, rate, 3.0 * rate)
    change = telling_rate(f, rate, candidates)
    assert change.new_rate_hz != rate
    assert change.shows_hz[0] == pytest.approx(f)
    assert change.candidates_hz == (f, *candidates)
    assert change.shows_hz == pytest.approx(
        tuple(float(apparent_hz(c, change.new_rate_hz)) for c in change.candidates_hz)
    )
    assert change.apart_hz > 0.0


def test_it_is_the_best_of_those_offered():
    """At half the rate everything folds as before; at 4/5 it does not."""
    candidates = folding_onto(50.0, 1000.0, 2000.0)
    change = telling_rate(50.0, 1000.0, candidates, available_hz=(500.0, 800.0))
    assert change.new_rate_hz == 800.0
    assert change.shows_hz == (50.0, 150.0, 250.0, 350.0)
    half = telling_rate(50.0, 1000.0, (1050.0,), available_hz=(500.0,))
    assert half.apart_hz == 0.0


def test_no_rate_left():
    with pytest.raises(InputError, match=r"no other rate.*Offer a rate above 800 samples/s"):
        telling_rate(400.0, 1000.0, (600.0,), available_hz=(700.0, 1000.0))
