"""What is measured on the way, against numpy's own statistics and plain loops (independent)."""

from __future__ import annotations

import itertools
import json

import numpy as np
import pytest
from capture.invented import captured, check, codes, hum, noise
from hypothesis import given
from hypothesis import strategies as st

from straypath.capture.soundness import check_soundness
from straypath.capture.soundness.closeup import grid_step
from straypath.capture.soundness.stretches import LongRuns, Stretches, long_runs
from straypath.capture.soundness.survey import BLOCK

DTYPES = ["int8", "int16", "int32", "int64", "uint8", "uint16", "float16", "float32", "float64"]


@pytest.mark.parametrize("dtype", [*DTYPES, ">i2", ">f4", ">f8"])
def test_statistics_in_every_type(dtype):
    raw = (50 + 40 * hum() + 3 * noise()).astype(dtype)
    said = check(raw, channel={"scale": -0.5, "offset": 7.0})
    values = raw.astype(np.float64) * -0.5 + 7.0
    assert said.mean == pytest.approx(values.mean(), abs=1e-6 * values.std())
    assert said.rms_about_mean == pytest.approx(values.std(), rel=1e-5)
    assert (said.low, said.high) == (values.min(), values.max())
    assert said.codes_used == len(np.unique(raw))


@pytest.mark.parametrize("offset", [0.0, 1.0, 100.0])
def test_an_offset_leaves_the_rms_alone(offset):
    raw = (offset + 0.01 * noise(3 * BLOCK)).astype(np.float32)
    exact = raw.astype(np.float64)
    said = check(raw)
    assert said.rms_about_mean == pytest.approx(exact.std(), rel=1e-4)
    assert said.mean == pytest.approx(exact.mean(), abs=1e-4 * exact.std())


@pytest.mark.parametrize("size", [1e-300, 1e-30, 1e30, 1e300])
def test_sizes_that_squares_cannot_hold(size):
    said = check(noise() * size)
    assert said.rms_about_mean == pytest.approx(noise().std() * size, rel=1e-6)


def test_missing_and_clipped_shares():
    raw = np.clip(hum(), -0.9, 0.9)
    raw[1000:1500] = np.nan
    said = check(raw)
    assert said.missing_share == 500 / len(raw)
    kept = raw[np.isfinite(raw)]
    assert said.clipped_share == pytest.approx(np.mean(np.abs(kept) == 0.9))
    assert said.mean == pytest.approx(kept.mean(), abs=1e-9)


def test_long_records_are_read_in_pieces():
    """Nothing longer than a block is ever asked for, and each sample once plus the close look."""

    class Disk:
        dtype, shape = np.dtype(np.int16), (3 * BLOCK + 77,)

        def __init__(self):
            self.asked = []

        def __len__(self):
            return self.shape[0]

        def __getitem__(self, index):
            first, last, step = index.indices(len(self))
            assert step == 1
            self.asked.append(last - first)
            return codes(9000 * np.sin(0.03 * np.arange(first, last)))

    disk = Disk()
    capture = captured(hum(2))
    channel = type(capture.channels[0])("out", disk, "V")
    said = check_soundness(capture, channel)
    assert said.stretch == (0, len(disk))
    assert max(disk.asked) <= BLOCK
    assert sum(disk.asked) <= 4 * BLOCK + 2 * BLOCK + 77


def test_a_memory_map_is_never_written_to(tmp_path):
    path = tmp_path / "record.npy"
    np.save(path, codes(1000 * hum()))
    before = path.read_bytes()
    mapped = np.load(path, mmap_mode="r")
    assert check(mapped).stretch == (0, len(mapped))
    assert path.read_bytes() == before


# The grid of values -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "step"),
    [
        (codes(2000 * hum()), 1.0),
        (codes(2000 * hum()) * np.int16(16), 16.0),
        (codes(2000 * hum()).astype(np.float32) * np.float32(0.00488), 0.00488),
        (1.3 + 0.00488 * codes(2000 * hum()), 0.00488),
        (np.round(hum(), 3), 0.001),
        (codes(30 * noise()) * 6.0, 6.0),
        (np.array([0, 6, 15, 21, 45, 60]) * 0.1, 0.3),  # no two values are one step apart
        (codes(1e5 * noise(), np.int32) / np.float32(2**23), 2.0**-23),
    ],
)
def test_the_step_is_found(values, step):
    assert grid_step(np.unique(values)) == pytest.approx(step, rel=1e-5)


@pytest.mark.parametrize(
    "values", [hum(), noise(), noise().astype(np.float32), hum(phase=0.0), noise() ** 3]
)
def test_no_step_where_there_is_none(values):
    assert grid_step(np.unique(values)) is None


@given(
    st.lists(st.integers(-2000, 2000), min_size=6, max_size=60, unique=True),
    st.floats(1e-3, 1e3),
    st.floats(-1.0, 1.0),
)
def test_the_step_of_any_codes_is_their_common_divisor(whole, step, offset):
    """Independent: numpy's gcd of the integer distances."""
    ordered = np.sort(np.array(whole))
    expected = step * np.gcd.reduce(np.diff(ordered))
    assert grid_step(np.unique(ordered * step + offset)) == pytest.approx(expected, rel=1e-6)


def test_codes_and_range():
    said = check(codes(1000 * hum()), channel={"full_scale": (-32768.0, 32767.0)})
    assert said.codes_available == 65_536
    assert said.range_used == pytest.approx(2000 / 65_535)
    assert check(codes(1000 * hum()), bits=12).codes_available == 4096
    assert check(hum()).codes_available is None
    assert check(hum()).range_used is None


@pytest.mark.parametrize("sigma", [0.5, 1.0, 3.0])
def test_noise_is_measured_under_slow_hum(sigma):
    said = check(1000 * hum(frequency=5.0) + sigma * noise())
    assert said.noise_rms == pytest.approx(sigma, rel=0.03)


# Runs and stretches -------------------------------------------------------------------------


def plain_runs(values):
    at, found = 0, []
    for _, group in itertools.groupby(values.tolist()):
        length = len(list(group))
        if length >= 16:
            found.append((at, at + length))
        at += length
    return found


RUNS = st.lists(st.tuples(st.integers(0, 2), st.integers(1, 40)), min_size=1, max_size=60)


@given(RUNS, st.integers(1, 300))
def test_long_runs_against_a_plain_loop(rows, block):
    values = np.concatenate([np.full(n, v, dtype=np.int8) for v, n in rows])
    expected = plain_runs(values)
    assert [tuple(row) for row in long_runs(values)] == expected
    runs = LongRuns()
    for start in range(0, len(values), block):
        runs.see(start, values[start : start + block])
    runs.close(len(values))
    assert sorted(runs.spans) == expected
    assert runs.samples == sum(b - a for a, b in expected)


@given(st.lists(st.booleans(), min_size=1, max_size=200), st.integers(1, 50))
def test_stretches_against_a_plain_loop(bad, block):
    flags = np.array(bad)
    stretches = Stretches()
    for start in range(0, len(flags), block):
        part = flags[start : start + block]
        if part.any():
            stretches.cut(start, part)
    stretches.close(len(flags))
    rows = [(key, len(list(group))) for key, group in itertools.groupby(bad)]
    holes = [length for key, length in rows if key]
    assert [b - a for a, b in stretches.spans] == [length for key, length in rows if not key]
    assert all(not flags[a:b].any() for a, b in stretches.spans)
    assert (stretches.missing, stretches.rows) == (int(flags.sum()), len(holes))
    assert stretches.longest_missing == max(holes, default=0)


@given(
    st.lists(st.booleans(), min_size=1, max_size=120),
    st.lists(st.tuples(st.integers(0, 119), st.integers(0, 30)), max_size=5),
)
def test_the_longest_stretch_between_breaks(bad, breaks):
    flags = np.array(bad)
    n = len(flags)
    spans = [(a, min(a + length, n)) for a, length in breaks if a < n]
    stretches = Stretches()
    if flags.any():
        stretches.cut(0, flags)
    stretches.close(n)
    start, stop = stretches.longest_between(spans)
    best = 0
    for first in range(n):
        for past in range(first + 1, n + 1):
            whole = not flags[first:past].any() and not any(
                (a == b and first < a < past) or (a < b and a < past and first < b)
                for a, b in spans
            )
            best = max(best, past - first) if whole else best
    assert stop - start == best


def test_the_record_can_be_kept():
    text = json.dumps(check(np.full(9, np.nan)).as_json(), allow_nan=False)
    assert json.loads(text)["mean_v"] is None
    assert json.loads(text)["findings"][0]["id"] == "no-samples"
