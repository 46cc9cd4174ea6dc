"""Every refusal says what to try, and what is odd about a file is said rather than passed over."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import h5py
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import scipy.io

from straypath.capture import read
from straypath.errors import DamagedFile, InputError, NeedsFact

sys.path.insert(0, str(Path(__file__).parent))
import comtrade_writer as make
import samples_of_formats as formats


def refused(path, kind=InputError, **facts):
    with pytest.raises(kind) as caught:
        read(path, **facts)
    assert caught.value.advice, str(caught.value)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("t (s),U (V)\n0,nan\n1,nan\n2,nan\n", "only empty or NaN"),
        ("t (s),U (V)\n0,1\n,2\n2,3\n", "time column has holes"),
        ("when,U (V)\n10:00:00,1\n10:99:00,2\n", "time stamp of row 2"),
    ],
)
def test_texts(put, text, says):
    if "NaN" in says:
        text = text.replace("0,nan", "0,over")
    path = put("Sample rate: 1 Hz\n" + text if "NaN" in says else text)
    assert says in refused(path)


def test_all_nan(tmp_path):
    np.save(tmp_path / "a.npy", np.full(9, np.nan))
    assert "export the record again" in refused(tmp_path / "a.npy", DamagedFile, rate_hz=1)


def test_no_column_of_numbers(tmp_path):
    pq.write_table(pa.table({"word": ["a", "b"]}), tmp_path / "a")
    assert "column of plain numbers" in refused(tmp_path / "a", DamagedFile, rate_hz=1)


INSIDE = {
    "structure": ({"s": {"data": np.arange(9.0)}}, 'only the structure "s"'),
    "cell array": ({"c": np.array([np.arange(3.0), "b"], dtype=object)}, 'the cell array "c"'),
    "logical array": ({"l": np.arange(9) > 4}, 'only the logical array "l"'),
    "nothing": ({"e": np.zeros((0, 3))}, 'the empty array of numbers "e"'),
}


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("kind", INSIDE)
def test_mat_5_says_what_there_is_instead(tmp_path, kind, packed):
    inside, says = INSIDE[kind]
    scipy.io.savemat(tmp_path / "a.mat", inside, do_compression=packed)
    said = refused(tmp_path / "a.mat", DamagedFile, rate_hz=1)
    assert says in said
    assert "plain array" in said


def sigmf(folder, about, **more):
    facts = {"core:datatype": "ri16_le", "core:sample_rate": 1000, **about}
    meta = {"global": facts, "captures": [{"core:sample_start": 0}], **more}
    (folder / "a.sigmf-meta").write_text(json.dumps(meta))
    (folder / "a.sigmf-data").write_bytes(np.arange(8, dtype="<i2").tobytes())
    return folder / "a.sigmf-meta"


@pytest.mark.parametrize(
    ("about", "more", "says"),
    [
        ({"core:datatype": "xx"}, {}, 'sample type "xx". Known are'),
        ({"core:datatype": 5}, {}, 'sample type "5"'),
        ({"core:sample_rate": "abc"}, {}, '"core:sample_rate" is not a number'),
        ({"core:num_channels": 0}, {}, '"core:num_channels" is not a whole number from 1'),
        ({"core:num_channels": "2"}, {}, '"core:num_channels" is not a whole number'),
        ({"core:trailing_bytes": -1}, {}, '"core:trailing_bytes" is not a whole number from 0'),
        ({}, {"captures": "x"}, '"captures" is not a list of objects'),
        ({}, {"captures": ["x"]}, '"captures" is not a list of objects'),
        ({}, {"global": "core:"}, '"global" is not an object'),
        ({}, {"captures": [{}, {"core:header_bytes": 4}]}, "headers between"),
    ],
)
def test_sigmf_names_the_key_that_is_wrong(tmp_path, about, more, says):
    assert says in refused(sigmf(tmp_path, about, **more))


@pytest.mark.parametrize("length", [22, 30])
def test_a_wav_file_cut_within_its_header(put, length):
    said = refused(put(formats.sound("WAV", "PCM_16")[:length]), DamagedFile)
    assert f"header is cut short: {length - 20} of 16 bytes" in said


@pytest.mark.parametrize("rate", [1e300, 1e-300, 2e15])
def test_rates_that_no_converter_has(put, tmp_path, rate):
    assert "is not possible" in refused(put("U (V)\n1\n2\n3\n"), rate_hz=rate)
    assert "--rate" in refused(sigmf(tmp_path, {"core:sample_rate": rate}), NeedsFact)


@pytest.mark.parametrize("rate", [-5.0, float("nan")])
@pytest.mark.parametrize("kind", ["BINARY", "ASCII"])
def test_a_comtrade_rate_that_is_none_is_noted(tmp_path, wave, kind, rate):
    cfg = make.configuration(kind, [(rate, 2000)])
    path = make.write(tmp_path, cfg, make.data(kind, np.arange(2000) * 1000, [wave]))
    capture = read(path)
    assert capture.rate_hz == pytest.approx(1000)
    assert any(f"states a rate of {rate:g} Hz" in note for note in capture.notes)


def test_a_comtrade_section_that_is_not_there(tmp_path, wave):
    cfg = make.configuration("BINARY", [(1000, 2000)])
    path = make.write(tmp_path, cfg, make.data("BINARY", np.arange(2000) * 1000, [wave]))
    assert read(path, dataset="1").samples == 2000
    assert 'no section "2"' in refused(path, dataset="2")


@pytest.mark.parametrize("time", [np.arange(50) / 1000, np.arange(50) * np.timedelta64(1, "ms")])
@pytest.mark.parametrize("form", ["npy", "npz"])
def test_the_time_among_the_fields_of_records(tmp_path, time, form):
    kind = [("u", "f4"), ("t", time.dtype), ("label", "S3")]
    records = np.zeros(50, kind)
    records["t"], records["u"] = time, np.arange(50) % 7
    path = tmp_path / f"a.{form}"
    np.save(path, records) if form == "npy" else np.savez(path, samples=records)
    capture = read(path)
    assert capture.rate_hz == pytest.approx(1000)
    assert [c.name for c in capture.channels] == ["u"]
    assert any('field "label"' in note and "left out" in note for note in capture.notes)


def test_the_time_among_the_fields_of_an_hdf5_table(tmp_path):
    records = np.zeros(50, [("time", "f8"), ("u", "f4")])
    records["time"] = np.arange(50) / 1000
    with h5py.File(tmp_path / "a.h5", "w") as file:
        file["run"] = records
    capture = read(tmp_path / "a.h5")
    assert capture.rate_hz == pytest.approx(1000)
    assert [c.name for c in capture.channels] == ["u"]


@pytest.mark.parametrize(
    ("dtype", "middle", "noted"),
    [("i8", 10**18, True), ("i8", -(10**18), True), ("u8", 10**18, True), ("i8", 10**15, False)],
)
def test_whole_numbers_too_fine_for_a_float(tmp_path, dtype, middle, noted):
    np.save(tmp_path / "a.npy", np.full(9, middle, dtype))
    notes = read(tmp_path / "a.npy", rate_hz=1).notes
    assert any("beyond 2^53" in note for note in notes) is noted


def test_one_and_many(read_text):
    one = read_text("t (s),U (V)\n0,1\n1,x1\n2,3\n3,4\n\nend\n").notes
    assert "1 row lacks a number (such as on line 3): read as NaN" in one
    assert "1 line after the table is left out" in one
    two = read_text("t (s),U (V)\n0,1\n\n\n2,3\n3,4\n4,4\nend\nof it\n").notes
    assert "2 blank lines in the table are left out" in two
    assert "2 lines after the table are left out" in two


def test_files_whose_names_are_no_utf_8(tmp_path):
    folder = tmp_path / "odd"
    folder.mkdir()
    for name, content in formats.files(folder).items():
        path = folder / name
        path.write_bytes(content)
        told = read(path, rate_hz=1000)
        odd = Path(os.fsdecode(bytes(folder / "bad") + b"\xff" + os.fsencode(path.suffix)))
        for beside in folder.glob(f"{path.stem}.*"):
            odd.with_suffix(beside.suffix).write_bytes(beside.read_bytes())
        capture = read(odd, rate_hz=1000)
        assert capture.samples == told.samples, name
        np.testing.assert_array_equal(
            capture.channels[0].values(), told.channels[0].values(), err_msg=name
        )


def test_hdf5_says_what_there_is_instead(tmp_path):
    with h5py.File(tmp_path / "a.h5", "w") as file:
        file["l"] = np.arange(9) > 4
        file["w"] = np.array([b"ab", b"cd"])
        file["c"] = np.arange(9)
        file["c"].attrs["MATLAB_class"] = np.bytes_(b"cell")
    said = refused(tmp_path / "a.h5", DamagedFile, rate_hz=1)
    assert all(part in said for part in ('data set of bool "l"', 'the cell array "c"', '"w"'))


def test_the_fields_of_a_structure_are_read_where_they_are_data_sets(tmp_path, wave):
    with h5py.File(tmp_path / "a.h5", "w") as file:  # how MAT 7.3 keeps a structure
        file.create_group("s").attrs["MATLAB_class"] = np.bytes_(b"struct")
        file["s/data"] = wave
        file["s/data"].attrs["MATLAB_class"] = np.bytes_(b"int16")
    np.testing.assert_array_equal(read(tmp_path / "a.h5", rate_hz=1).channels[0].raw[:], wave)
