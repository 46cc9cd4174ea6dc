"""Parquet and Arrow files as polars and pyarrow write them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from straypath.capture import read
from straypath.errors import DamagedFile, InputError, NeedsFact


def write_parquet(table, path):
    pq.write_table(table, path, row_group_size=300)


def write_arrow(table, path):
    with pa.OSFile(str(path), "wb") as sink, pa.ipc.new_file(sink, table.schema) as writer:
        writer.write_table(table, max_chunksize=300)


def write_packed_arrow(table, path):
    options = pa.ipc.IpcWriteOptions(compression="lz4")
    with (
        pa.OSFile(str(path), "wb") as sink,
        pa.ipc.new_file(sink, table.schema, options=options) as writer,
    ):
        writer.write_table(table, max_chunksize=300)


WRITERS = [write_parquet, write_arrow, write_packed_arrow]


@pytest.mark.parametrize("write", WRITERS)
def test_columns_units_and_facts(tmp_path, wave, write):
    table = pa.table(
        {
            "time (ms)": np.arange(2000.0),
            "input (mV)": wave,
            "extra": (wave / 2).astype("f4"),
            "word": ["a"] * 2000,
            "day": pa.array([datetime(2026, 3, 1).date()] * 2000),
        }
    )
    field = pa.field("extra", pa.float32(), metadata={"unit": "mA"})
    schema = table.schema.set(2, field).with_metadata({"coupling": "DC", "instrument": "recorder"})
    path = tmp_path / "a"
    write(table.cast(schema), path)
    capture = read(path)
    assert capture.rate_hz == pytest.approx(1000)
    assert [(c.name, c.unit, c.raw.dtype) for c in capture.channels] == [
        ("input", "V", np.int16), ("extra", "A", np.float32),
    ]  # fmt: skip
    assert (capture.acquisition.coupling, capture.acquisition.instrument) == ("dc", "recorder")
    raw = capture.channels[0].raw
    for part in (slice(None), slice(290, 310), slice(0, 1), slice(1999, None), slice(299, 901, 7)):
        np.testing.assert_array_equal(raw[part], wave[part])
    with pytest.raises(ValueError, match="read-only"):
        raw[0:10][0] = 1
    assert sum("left out" in note for note in capture.notes) == 2


@pytest.mark.parametrize("write", WRITERS)
def test_empty_cells_are_nan(tmp_path, write):
    table = pa.table({"u": pa.array([1, None, 3, 4], pa.int32())})
    write(table, tmp_path / "a")
    channel = read(tmp_path / "a", rate_hz=1).channels[0]
    np.testing.assert_array_equal(channel.values(), [1, np.nan, 3, 4])


@pytest.mark.parametrize("method", ["write_parquet", "write_ipc"])
def test_dates(tmp_path, wave, method):
    start = datetime(2026, 3, 1, 10)
    when = pl.datetime_range(start, start + timedelta(milliseconds=1999), "1ms", eager=True)
    getattr(pl.DataFrame({"when": when, "u": wave}), method)(tmp_path / "a")
    capture = read(tmp_path / "a")
    assert capture.rate_hz == pytest.approx(1000, rel=1e-12)
    assert capture.start == start


@pytest.mark.parametrize("write", WRITERS)
def test_tables_that_are_no_record(tmp_path, wave, write):
    write(pa.table({"word": ["a", "b"]}), tmp_path / "a")
    with pytest.raises(DamagedFile, match="no column of numbers"):
        read(tmp_path / "a", rate_hz=1)
    write(pa.table({"u": wave[:0]}), tmp_path / "a")
    with pytest.raises(DamagedFile, match="no sample"):
        read(tmp_path / "a", rate_hz=1)
    write(pa.table({"u": wave}), tmp_path / "a")
    with pytest.raises(NeedsFact, match="--rate"):
        read(tmp_path / "a")
    write(pa.table([wave, wave], names=["u", "u"]), tmp_path / "a")
    with pytest.raises(InputError, match="two columns"):
        read(tmp_path / "a", rate_hz=1)


@pytest.mark.parametrize("write", WRITERS)
def test_tables_cut_short(tmp_path, wave, write):
    path = tmp_path / "a"
    write(pa.table({"u": wave}), path)
    path.write_bytes(path.read_bytes()[:-50])
    with pytest.raises(DamagedFile):
        read(path, rate_hz=1)


@pytest.mark.parametrize("zone", ["UTC", "Europe/Berlin", "+01:00"])
@pytest.mark.parametrize("unit", ["ms", "us", "ns"])
@pytest.mark.parametrize("write", [write_parquet, write_arrow])
def test_stamps_with_a_time_zone_count_from_utc(tmp_path, wave, write, unit, zone):
    start = datetime(2026, 3, 1, 9, tzinfo=UTC)
    per_ms = {"ms": 1, "us": 10**3, "ns": 10**6}[unit]
    ticks = (int(start.timestamp()) * 1000 + np.arange(2000)) * per_ms
    when = pa.array(ticks, pa.timestamp(unit, zone))
    write(pa.table({"when": when, "u": wave}), tmp_path / "a")
    capture = read(tmp_path / "a")
    assert capture.rate_hz == pytest.approx(1000, rel=1e-9)
    assert capture.start == start
    assert [c.name for c in capture.channels] == ["u"]
