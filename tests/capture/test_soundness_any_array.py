"""No array that a reader could hand over brings about an exception or a warning."""

from __future__ import annotations

import math

import numpy as np
import pytest
from capture.invented import check
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

TYPES = st.one_of(
    hnp.integer_dtypes(endianness="?"),
    hnp.unsigned_integer_dtypes(endianness="?"),
    hnp.floating_dtypes(endianness="?"),
    hnp.boolean_dtypes(),
)
ARRAYS = TYPES.flatmap(lambda kind: hnp.arrays(kind, st.integers(0, 300)))
RATES = st.sampled_from([1e-9, 0.1, 50.0, 1e4, 1e9, 1e300])


def holds_together(said, n):
    assert 0.0 <= said.missing_share <= 1.0
    assert 0.0 <= said.clipped_share <= 1.0 + 1e-12
    start, stop = said.stretch
    assert 0 <= start <= stop <= n
    if n and said.missing_share < 1.0:
        assert said.low <= said.high
        assert said.rms_about_mean >= 0.0
    else:
        assert math.isnan(said.low)
        assert math.isnan(said.high)
        assert math.isnan(said.rms_about_mean)
    assert all(
        f.text and f.advice and f.severity in {"note", "caution", "unsound"} for f in said.findings
    )
    assert len({f.id for f in said.findings}) == len(said.findings)


@settings(max_examples=300, deadline=None)
@given(ARRAYS, RATES, st.sampled_from([1.0, -1e-300, 1e300, 0.0]))
def test_any_array(raw, rate, scale):
    said = check(raw, rate, channel={"scale": scale, "full_scale": (-1.0, 1.0)}, bits=12)
    holds_together(said, len(raw))
    if raw.dtype.kind == "f":
        assert said.missing_share * len(raw) == pytest.approx(np.count_nonzero(~np.isfinite(raw)))


AWKWARD = [math.nan, math.inf, -math.inf, 0.0, -0.0, 5e-324, -5e-324, 1.797e308, -1.797e308, 1.0]


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(AWKWARD), max_size=2000), st.integers(1, 20))
def test_awkward_numbers(values, times):
    raw = np.repeat(np.array(values, dtype=np.float64), times)
    holds_together(check(raw), len(raw))


@pytest.mark.parametrize(
    "raw",
    [
        np.array([np.iinfo(np.int64).min, np.iinfo(np.int64).max] * 40),
        np.array([0, np.iinfo(np.uint64).max] * 40, dtype=np.uint64),
        np.tile(np.array([-1.7e308, 1.7e308, 0.0]), 900),
        np.full(5000, 5e-324),
        np.array([0.0, 5e-324] * 900),
        np.ones(300, dtype=bool),
        np.zeros((300, 2))[:, 0],
        np.ones(300, dtype=np.longdouble),
    ],
    ids=["int64", "uint64", "huge", "denormal", "denormals", "bool", "strided", "long double"],
)
def test_extremes_of_every_type(raw):
    said = check(raw)
    holds_together(said, len(raw))
    assert said.codes_used == len(np.unique(raw))
