"""COMTRADE records in every form; the library `comtrade` reads the same values independently."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from comtrade import Comtrade

from straypath.capture import read
from straypath.errors import DamagedFile, InputError, NeedsFact

sys.path.insert(0, str(Path(__file__).parent))
import comtrade_writer as make

RATE_HZ = 5760.0
STAMPS_US = np.round(np.arange(2000) / RATE_HZ * 1e6).astype(np.int64)
TWO = (
    "1,VA,A,,kV,0.01,0.5,0,-32767,32767,100,1,S",
    "2,IB,B,,mA,2,0,0,-32767,32767,1,1,P",
)


@pytest.mark.parametrize("year", ["1999", "2013"])
@pytest.mark.parametrize("kind", ["ASCII", *make.KINDS])
@pytest.mark.parametrize("combined", [False, True])
def test_every_form(tmp_path, wave, kind, year, combined):
    cfg = make.configuration(kind, [(RATE_HZ, 2000)], year=year, channels=TWO)
    body = make.data(kind, STAMPS_US, [wave, -wave])
    two = make.write(tmp_path, cfg, body)
    path = make.write_combined(tmp_path, kind, cfg, body) if combined else two
    capture = read(path)
    assert capture.files == ((path,) if combined else (path, path.with_suffix(".dat")))
    assert capture.rate_hz == RATE_HZ
    assert capture.start == datetime(2026, 2, 1, 3, 4, 5, 123456)
    assert capture.acquisition.instrument == "bench recorder"
    assert [(c.name, c.unit) for c in capture.channels] == [("VA", "V"), ("IB", "A")]
    np.testing.assert_allclose(capture.channels[0].values(), (wave * 0.01 + 0.5) * 1e3, rtol=1e-12)
    assert capture.channels[0].full_scale == pytest.approx((-327170.0, 328170.0))
    assert capture.stamps.worst_error_s <= 0.51e-6  # stamps are whole microseconds
    assert any("secondary side" in note for note in capture.notes)
    other = Comtrade(ignore_warnings=True, use_numpy_arrays=True)
    other.load(str(two))
    for channel, values in zip(capture.channels, other.analog, strict=True):
        factor = {"V": 1e3, "A": 1e-3}[channel.unit]
        # independent: single precision, which that library computes in
        np.testing.assert_allclose(channel.values(), np.asarray(values) * factor, rtol=2e-6)


def test_the_data_file_leads_to_its_configuration(tmp_path, wave):
    cfg = make.configuration("BINARY", [(RATE_HZ, 2000)])
    path = make.write(tmp_path, cfg, make.data("BINARY", STAMPS_US, [wave]))
    capture = read(path.with_suffix(".dat"))
    assert capture.format == "comtrade"
    assert capture.files == (path.with_suffix(".dat"), path)
    assert capture.channels[0].raw.dtype == np.int16
    np.testing.assert_array_equal(capture.channels[0].raw, wave)


@pytest.mark.parametrize("kind", ["ASCII", "BINARY", "BINARY32"])
def test_marked_values_are_missing(tmp_path, wave, kind):
    marked = wave.astype(np.int64)
    marked[7] = 99999 if kind == "ASCII" else np.iinfo(make.KINDS[kind]).min
    cfg = make.configuration(kind, [(RATE_HZ, 2000)])
    capture = read(make.write(tmp_path, cfg, make.data(kind, STAMPS_US, [marked])))
    values = capture.channels[0].values()
    assert np.flatnonzero(np.isnan(values)).tolist() == [7]
    np.testing.assert_allclose(values[8:], (wave[8:] * 0.01 + 0.5) * 1e3)


def test_stamps_decide_when_there_is_no_rate(tmp_path, wave):
    cfg = make.configuration("BINARY", [(0.0, 2000)])
    body = make.data("BINARY", STAMPS_US, [wave])
    assert read(make.write(tmp_path, cfg, body)).rate_hz == pytest.approx(RATE_HZ, rel=1e-6)
    body = make.data("BINARY", np.full(2000, -1), [wave])
    with pytest.raises(NeedsFact, match="--rate"):
        read(make.write(tmp_path, cfg, body))


@pytest.mark.parametrize("bits", [16, 32])
def test_a_counter_that_begins_anew_is_carried_on(tmp_path, wave, bits):
    start = 0 if bits == 16 else 2**32 - 100_000
    cfg = make.configuration("BINARY", [(RATE_HZ, 2000)])
    body = make.data("BINARY", (STAMPS_US + start) % 2**bits, [wave])
    capture = read(make.write(tmp_path, cfg, body))
    assert (capture.stamps.backwards, capture.stamps.gaps) == (0, ())
    assert capture.stamps.worst_error_s <= 0.51e-6
    assert any(str(2**bits) in note for note in capture.notes)


def test_a_rate_without_stamps(tmp_path, wave):
    cfg = make.configuration("ASCII", [(RATE_HZ, 2000)])
    capture = read(make.write(tmp_path, cfg, make.data("ASCII", np.full(2000, -1), [wave])))
    assert (capture.rate_hz, capture.stamps) == (RATE_HZ, None)


def test_sections_at_two_rates_need_a_choice(tmp_path, wave):
    stamps = np.r_[np.arange(500) * 1000, 500_000 + np.arange(1500) * 100]
    cfg = make.configuration("BINARY", [(1000, 500), (10000, 2000)])
    path = make.write(tmp_path, cfg, make.data("BINARY", stamps, [wave]))
    with pytest.raises(NeedsFact, match="2 sections"):
        read(path)
    with pytest.raises(InputError, match='no section "3"'):
        read(path, dataset="3")
    first, second = read(path, dataset="1"), read(path, dataset="2")
    assert (first.rate_hz, first.samples) == (1000, 500)
    assert (second.rate_hz, second.samples) == (10000, 1500)
    np.testing.assert_array_equal(second.channels[0].raw, wave[500:])


@pytest.mark.parametrize("kind", ["ASCII", "BINARY"])
def test_records_cut_short(tmp_path, wave, kind):
    cfg = make.configuration(kind, [(RATE_HZ, 2000)])
    body = make.data(kind, STAMPS_US, [wave])
    with pytest.raises(DamagedFile, match="cut short"):
        read(make.write(tmp_path, cfg, body[: len(body) // 2]))
    with pytest.raises(DamagedFile):
        read(make.write(tmp_path, cfg[:60], body))


def test_a_configuration_alone(tmp_path):
    (tmp_path / "a.cfg").write_text(make.configuration("BINARY", [(1000, 5)]))
    with pytest.raises(InputError, match="without its data"):
        read(tmp_path / "a.cfg")


def test_a_combined_file_without_data(tmp_path):
    cfg = make.configuration("BINARY", [(1000, 5)])
    (tmp_path / "a.cff").write_text("--- file type: CFG ---\n" + cfg)
    with pytest.raises(DamagedFile, match="lacks"):
        read(tmp_path / "a.cff")
