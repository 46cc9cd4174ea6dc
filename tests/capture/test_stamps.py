"""Rates, gaps and jitter found in time stamps, and the laws that they follow."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from straypath.capture.formats.stamps import even_grid, tidy_rate
from straypath.errors import DamagedFile


def test_even_stamps():
    interval, stamps = even_grid(np.arange(1000) / 48000, 1e-9)
    assert interval == pytest.approx(1 / 48000, rel=1e-12)
    assert (stamps.gaps, stamps.backwards) == ((), 0)
    assert stamps.worst_error_s < 1e-12


def test_a_gap_is_found_where_it_is():
    t = np.arange(1000) / 1000
    t[400:] += 0.25
    interval, stamps = even_grid(t, 1e-6)
    assert interval == pytest.approx(1e-3, rel=1e-9)
    assert [(g.index, round(g.missing_s, 9)) for g in stamps.gaps] == [(400, 0.25)]
    assert stamps.worst_error_s < 1e-9


def test_many_gaps_do_not_spoil_the_rate():
    t = np.arange(100_000) / 1000 + np.cumsum(np.arange(100_000) % 5000 == 4999) * 0.7
    interval, stamps = even_grid(t, 1e-6)
    assert interval == pytest.approx(1e-3, rel=1e-9)
    assert len(stamps.gaps) == 20


def test_thousands_of_gaps_are_counted_in_bounded_time_and_the_first_are_listed():
    t = np.arange(200_000) / 1000 + np.cumsum(np.arange(200_000) % 50 == 49) * 0.7
    interval, stamps = even_grid(t, 1e-6)
    assert interval == pytest.approx(1e-3, rel=1e-6)
    assert len(stamps.gaps) == 1000
    assert stamps.gaps[-1].missing_s == pytest.approx(0.7, rel=1e-6)


def test_jitter_is_measured_not_called_a_gap():
    rng = np.random.default_rng(7)
    jitter = rng.uniform(-0.2e-3, 0.2e-3, 20_000)
    interval, stamps = even_grid(np.arange(20_000) / 1000 + jitter, 1e-6)
    # independent: variance of a least-squares slope under uniform noise
    sd = 0.4e-3 / np.sqrt(12) / np.sqrt(20_000**3 / 12)
    assert interval == pytest.approx(1e-3, abs=5 * sd)
    assert stamps.gaps == ()
    assert stamps.worst_error_s == pytest.approx(0.2e-3, rel=0.05)


def test_coarse_stamps_stand_still_and_still_give_the_rate():
    t = np.floor(np.arange(60_000) / 1000 * 64) / 64  # a clock that ticks 64 times a second
    interval, stamps = even_grid(t, 1 / 64)
    assert interval == pytest.approx(1e-3, rel=1e-4)
    assert stamps.gaps == ()
    assert stamps.backwards == 60_000 - 1 - 3839


def test_time_that_jumps_back_is_counted():
    t = np.arange(100.0)
    t[60:] -= 5.5
    interval, stamps = even_grid(t, 1e-3)
    assert (stamps.backwards, stamps.forward) == (1, (0, 60))
    assert interval == pytest.approx(1.0, rel=1e-9)  # the jump does not count
    assert stamps.worst_error_s < 1e-9


def test_pieces_that_are_doubled_do_not_change_the_rate():
    t = np.arange(8000) / 2000
    interval, stamps = even_grid(np.r_[t[:4000], t[2000:]], 1e-6)
    assert interval == pytest.approx(1 / 2000, rel=1e-9)
    assert (stamps.backwards, stamps.forward) == (1, (4000, 10_000))


def test_rows_that_are_doubled_do_not_change_the_rate():
    t = np.repeat(np.arange(1000) / 1000, 2)
    interval, stamps = even_grid(t, 1e-6)
    assert interval == pytest.approx(1e-3, rel=1e-6)
    assert stamps.backwards == 1000
    first, past = stamps.forward
    assert past - first == 2  # nothing is left that could be examined


def test_a_few_doubled_rows_leave_the_longest_stretch_between():
    t = np.insert(np.arange(1000) / 1000, [300, 900], [0.299, 0.899])
    interval, stamps = even_grid(t, 1e-6)
    assert interval == pytest.approx(1e-3, rel=1e-9)
    assert (stamps.backwards, stamps.forward) == (2, (300, 901))
    assert stamps.gaps == ()


@pytest.mark.parametrize("ticks_hz", [64, 300, 700, 950])
def test_a_slow_clock_written_with_many_digits_still_gives_the_rate(ticks_hz):
    t = np.floor(np.arange(60_000) / 1000 * ticks_hz) / ticks_hz
    interval, stamps = even_grid(t, 1e-6)
    assert interval == pytest.approx(1e-3, rel=1e-4)
    assert stamps.forward is None
    assert stamps.resolution_s == pytest.approx(1 / ticks_hz)


def test_rows_doubled_here_and_there_are_no_slow_clock():
    rng = np.random.default_rng(3)
    t = np.sort(np.r_[np.arange(20_000), rng.integers(0, 20_000, 1000)]) / 1000
    interval, stamps = even_grid(t, 1e-6)
    assert interval == pytest.approx(1e-3, rel=1e-6)
    assert stamps.backwards == 1000
    first, past = stamps.forward
    np.testing.assert_allclose(np.diff(t[first:past]), 1e-3)


@pytest.mark.parametrize("stamps", [[3.0, 2.0, 1.0], [1.0, 1.0, 1.0], [0.0, np.inf, 2.0]])
def test_stamps_that_make_no_time(stamps):
    with pytest.raises(DamagedFile):
        even_grid(np.array(stamps), 1e-3)


def test_holes_in_the_stamps():
    t = np.arange(100.0)
    t[50] = np.nan
    with pytest.raises(DamagedFile, match="holes"):
        even_grid(t, 1e-3)


@given(st.floats(1e-9, 1e3), st.integers(2, 3000), st.floats(-1e6, 1e6), st.integers(0, 2**31))
def test_rate_shifts_and_scales_with_the_stamps(interval, n, start, seed):
    rng = np.random.default_rng(seed)
    unit = np.arange(n) + rng.uniform(-0.1, 0.1, n)
    start *= interval
    base, stamps = even_grid(unit, 1e-3)
    other, scaled = even_grid(unit * interval + start, 1e-3 * interval)
    assert other == pytest.approx(base * interval, rel=1e-6)
    assert scaled.worst_error_s == pytest.approx(
        stamps.worst_error_s * interval, rel=1e-3, abs=1e-6 * interval
    )
    assert (stamps.gaps, scaled.gaps) == ((), ())


@given(st.integers(10, 500), st.integers(1, 9), st.floats(0.6, 1e4))
def test_a_gap_never_changes_the_rate(n, where, missing):
    t = np.arange(n) * 1.0
    cut = max(2, n * where // 10)
    t[cut:] += missing
    interval, stamps = even_grid(t, 1e-6)
    assert interval == pytest.approx(1.0, rel=1e-9)
    assert [g.index for g in stamps.gaps] == [cut]
    assert stamps.gaps[0].missing_s == pytest.approx(missing, rel=1e-6)


@given(
    hnp.arrays(np.float64, st.integers(2, 60), elements=st.floats(width=64)), st.floats(1e-12, 1e3)
)
def test_any_stamps_give_a_rate_or_one_line(times, resolution):
    try:
        interval, stamps = even_grid(times, resolution)
    except DamagedFile:
        return
    assert 0 < interval < np.inf
    assert 0 <= stamps.worst_error_s < np.inf


def test_only_rounding_is_tidied():
    assert tidy_rate(999.9999999999) == 1000.0
    assert tidy_rate(999.9999) == 999.9999


# --- the same through a text file -----------------------------------------------------------


def test_gaps_reach_the_capture(read_text):
    rows = "".join(f"{i / 100 + (1.5 if i > 60 else 0):.3f},{i % 5}\n" for i in range(200))
    stamps = read_text("t (s),U (V)\n" + rows).stamps
    assert stamps.resolution_s == pytest.approx(1e-3)
    assert [(g.index, round(g.missing_s, 6)) for g in stamps.gaps] == [(61, 1.5)]


def test_a_fixed_number_of_digits_makes_late_stamps_coarse(read_text):
    rows = "".join(f"{i * 1e-5:.4g},{i % 5}\n" for i in range(1, 30_000))
    capture = read_text("Sample rate: 100 kHz\nt (s),U (V)\n" + rows)
    assert capture.rate_hz == 100e3  # the header's word: the stamps agree within their grain
    assert capture.stamps.resolution_s == pytest.approx(1e-4)
    assert capture.stamps.backwards > 0


def test_a_header_that_contradicts_the_stamps_is_noted(read_text):
    rows = "".join(f"{i / 1000:.6f},{i % 5}\n" for i in range(200))
    capture = read_text("Sample rate: 2 kHz\nt (s),U (V)\n" + rows)
    assert capture.rate_hz == pytest.approx(1000)
    assert any("header says 2000 Hz" in note for note in capture.notes)
