"""SigMF recordings as the reference library of the format writes them."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import numpy as np
import pytest
import sigmf
from sigmf import SigMFFile

from straypath.capture import read
from straypath.capture.capture import Gap
from straypath.errors import DamagedFile, InputError, NeedsFact


@pytest.fixture
def record(tmp_path):
    def write(samples, datatype, captures=None, **about):
        samples.tofile(tmp_path / "a.sigmf-data")
        facts = {sigmf.DATATYPE_KEY: datatype, **about}
        meta = SigMFFile(data_file=tmp_path / "a.sigmf-data", global_info=facts)
        for start, more in captures or [(0, {})]:
            meta.add_capture(start, metadata=more)
        meta.tofile(tmp_path / "a.sigmf-meta", overwrite=True)
        return tmp_path / "a.sigmf-meta"

    return write


@pytest.mark.parametrize(
    ("datatype", "dtype"),
    [("ri16_le", "<i2"), ("ri16_be", ">i2"), ("rf32_le", "<f4"), ("rf64_be", ">f8"), ("ri8", "i1")],
)
def test_real_types(record, wave, datatype, dtype):
    samples = (wave // 8).astype(dtype)
    path = record(
        samples,
        datatype,
        [(0, {sigmf.DATETIME_KEY: "2026-03-01T10:00:00.000Z"})],
        **{sigmf.SAMPLE_RATE_KEY: 1000, sigmf.HW_KEY: "bench recorder"},
    )
    for half in (path, path.with_suffix(".sigmf-data")):
        capture = read(half)
        other = path if half != path else path.with_suffix(".sigmf-data")
        assert capture.files == (half, other)
        assert capture.rate_hz == 1000
        assert capture.start == datetime(2026, 3, 1, 10, tzinfo=UTC)
        assert capture.acquisition.instrument == "bench recorder"
        assert isinstance(capture.channels[0].raw, np.memmap)
        np.testing.assert_array_equal(capture.channels[0].raw, samples)


def test_interleaved_channels(record, wave):
    path = record(
        np.stack([wave, -wave], 1),
        "ri16_le",
        **{sigmf.NUM_CHANNELS_KEY: 2, sigmf.SAMPLE_RATE_KEY: 1000},
    )
    np.testing.assert_array_equal(read(path).channels[1].raw, -wave)


@pytest.mark.parametrize(("datatype", "dtype"), [("cf32_le", "f4"), ("ci16_le", "i2")])
def test_complex_samples_are_two_channels(record, wave, datatype, dtype):
    path = record(np.stack([wave, -wave], 1).astype(dtype), datatype)
    capture = read(path, rate_hz=1000)
    assert [c.name for c in capture.channels] == ["channel 1 I", "channel 1 Q"]
    assert capture.channels[1].raw.dtype == dtype
    np.testing.assert_array_equal(capture.channels[1].raw, -wave)


def test_segments_that_are_counted_show_their_gap(record, wave):
    index = sigmf.GLOBAL_INDEX_KEY
    path = record(
        wave, "ri16_le", [(0, {index: 0}), (500, {index: 800})], **{sigmf.SAMPLE_RATE_KEY: 1000}
    )
    assert read(path).stamps.gaps == (Gap(500, 0.3),)


def test_what_cannot_be_read(record, wave):
    with pytest.raises(NeedsFact, match="--rate"):
        read(record(wave, "ri16_le"))
    path = record(wave, "ri16_le", **{sigmf.SAMPLE_RATE_KEY: 1000})
    data = path.with_suffix(".sigmf-data")
    data.write_bytes(data.read_bytes()[:-1])
    with pytest.raises(DamagedFile, match="no whole number"):
        read(path)
    meta = json.loads(path.read_text())
    meta["global"]["core:datatype"] = "rx99"
    path.write_text(json.dumps(meta))
    with pytest.raises(DamagedFile, match="unknown sample type"):
        read(path)
    meta["global"]["core:dataset"] = "../../elsewhere.bin"
    path.write_text(json.dumps(meta))
    with pytest.raises((InputError, DamagedFile)):
        read(path)
    data.unlink()
    del meta["global"]["core:dataset"]
    path.write_text(json.dumps(meta))
    with pytest.raises(InputError, match="no file of samples"):
        read(path)
