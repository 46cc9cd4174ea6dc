"""NPY, NPZ, HDF5 and MAT as numpy, h5py and scipy write them, and raw binary."""

from __future__ import annotations

from datetime import datetime

import h5py
import numpy as np
import pytest
import scipy.io

from straypath.capture import read
from straypath.errors import DamagedFile, InputError, NeedsFact


@pytest.fixture
def save_npz(tmp_path):
    def save(compressed: bool = False, **arrays):
        path = tmp_path / "a.npz"
        (np.savez_compressed if compressed else np.savez)(path, **arrays)
        return path

    return save


# --- one array ------------------------------------------------------------------------------


@pytest.mark.parametrize("dtype", ["i1", "u2", "<i2", ">i4", "i8", "f2", "<f4", ">f8"])
def test_npy_keeps_its_type(tmp_path, wave, dtype):
    path = tmp_path / "a.npy"
    np.save(path, (wave // 8).astype(dtype))
    capture = read(path, rate_hz=1000, unit="mV")
    raw = capture.channels[0].raw
    assert isinstance(raw, np.memmap)
    assert raw.dtype == dtype
    assert (capture.channels[0].unit, capture.channels[0].scale) == ("V", 1e-3)
    np.testing.assert_array_equal(raw, (wave // 8).astype(dtype))
    with pytest.raises(ValueError, match="read-only"):
        raw[0] = 1


@pytest.mark.parametrize("order", ["C", "F"])
@pytest.mark.parametrize("turned", [False, True])
def test_the_longer_axis_is_time(tmp_path, wave, order, turned):
    path = tmp_path / "a.npy"
    both = np.stack([wave, -wave])
    np.save(path, np.asarray(both if turned else both.T, order=order))
    capture = read(path, rate_hz=1000)
    assert len(capture.channels) == 2
    np.testing.assert_array_equal(capture.channels[1].raw, -wave)


def test_the_number_of_channels_decides_when_given(tmp_path):
    path = tmp_path / "a.npy"
    np.save(path, np.arange(12).reshape(3, 4))
    assert read(path, rate_hz=1).samples == 4
    assert read(path, rate_hz=1, interleaved=4).samples == 3
    with pytest.raises(InputError, match="not 5 channel"):
        read(path, rate_hz=1, interleaved=5)


def test_complex_samples_are_two_channels(tmp_path, wave):
    path = tmp_path / "a.npy"
    np.save(path, wave + 2j * wave)
    capture = read(path, rate_hz=1000)
    assert [c.name for c in capture.channels] == ["I", "Q"]
    np.testing.assert_array_equal(capture.channels[1].raw, 2.0 * wave)
    assert any("I (real)" in note for note in capture.notes)


def test_fields_of_a_structured_array_are_channels(tmp_path, wave):
    path = tmp_path / "a.npy"
    table = np.zeros(2000, [("u", "i2"), ("word", "S4"), ("i", "f4")])
    table["u"], table["i"] = wave, wave / 2
    np.save(path, table)
    capture = read(path, rate_hz=1000)
    assert [c.name for c in capture.channels] == ["u", "i"]
    np.testing.assert_array_equal(capture.channels[0].raw, wave)


@pytest.mark.parametrize(
    ("array", "kind", "says"),
    [
        (np.array([1, "a", None], object), InputError, "never loaded"),
        (np.array(["a", "b"]), InputError, "not of numbers"),
        (np.array([True, False]), InputError, "not of numbers"),
        (np.zeros((4, 5, 6)), InputError, "3 axes"),
        (np.zeros(0), DamagedFile, "no sample"),
        (np.zeros(1), DamagedFile, "one sample"),
        (np.float64(3), DamagedFile, "one sample"),
        (np.full(9, np.nan), DamagedFile, "only empty or NaN"),
    ],
)
def test_arrays_that_are_no_record(tmp_path, array, kind, says):
    path = tmp_path / "a.npy"
    np.save(path, array)
    with pytest.raises(kind, match=says):
        read(path, rate_hz=1)


def test_npy_without_a_rate(tmp_path, wave):
    np.save(tmp_path / "a.npy", wave)
    with pytest.raises(NeedsFact, match="--rate"):
        read(tmp_path / "a.npy")


def test_npy_cut_short(tmp_path, wave):
    path = tmp_path / "a.npy"
    np.save(path, wave)
    path.write_bytes(path.read_bytes()[:-100])
    with pytest.raises(DamagedFile, match="NPY"):
        read(path, rate_hz=1)


# --- several arrays -------------------------------------------------------------------------


@pytest.mark.parametrize("compressed", [False, True])
def test_npz_with_facts_beside_the_samples(save_npz, wave, compressed):
    capture = read(save_npz(compressed, samples=wave, fs=1000, unit="mV", coupling="AC", bits=12))
    channel = capture.channels[0]
    assert capture.rate_hz == 1000
    assert (channel.unit, channel.raw.dtype) == ("V", np.int16)
    assert (capture.acquisition.coupling, capture.acquisition.bits) == ("ac", 12)
    assert isinstance(channel.raw.base, np.memmap) is not compressed
    np.testing.assert_array_equal(channel.raw, wave)


def test_npz_with_scale_and_offset(save_npz, wave):
    channel = read(save_npz(x=wave, rate_hz=1.0, scale=0.5, offset=3.0, unit="mV")).channels[0]
    np.testing.assert_allclose(channel.values(), (wave * 0.5 + 3) * 1e-3)


def test_npz_with_a_time_array(save_npz, wave):
    capture = read(save_npz(u=wave, t=np.arange(2000) / 1000))
    assert capture.rate_hz == 1000
    assert capture.stamps is not None


def test_npz_with_dates(save_npz, wave):
    when = np.datetime64("2026-03-01T10:00:00.000000") + np.arange(2000) * np.timedelta64(
        1000, "us"
    )
    capture = read(save_npz(u=wave, time=when))
    assert capture.rate_hz == pytest.approx(1000, rel=1e-12)
    assert capture.start == datetime(2026, 3, 1, 10)


def test_several_arrays_need_a_choice(save_npz, wave):
    path = save_npz(left=wave, right=-wave, fs=1000)
    with pytest.raises(NeedsFact, match='"left", "right"'):
        read(path)
    np.testing.assert_array_equal(read(path, dataset="right").channels[0].raw, -wave)
    with pytest.raises(InputError, match="no array of numbers named"):
        read(path, dataset="middle")


def test_objects_in_npz_are_passed_over(save_npz, wave):
    capture = read(save_npz(u=wave, fs=1000, thing=np.array([{"a": 1}, None], object)))
    assert any("never loaded" in note for note in capture.notes)


def test_npz_of_nothing(save_npz):
    with pytest.raises(DamagedFile, match="no array of numbers"):
        read(save_npz(fs=1000))


# --- HDF5 -----------------------------------------------------------------------------------


def test_hdf5_attributes_are_facts(tmp_path, wave):
    path = tmp_path / "a.h5"
    with h5py.File(path, "w") as file:
        data = file.create_dataset("run/one", data=wave, chunks=True, compression="gzip")
        data.attrs["unit"] = "mV"
        data.attrs["scale"] = 0.5
        file["run"].attrs["sample_rate"] = 1000.0
        file.attrs["instrument"] = "bench recorder"
        file.attrs["start"] = "2026-03-01T10:00:00"
        file["remark"] = "invented"
    capture = read(path)
    channel = capture.channels[0]
    assert capture.rate_hz == 1000
    assert capture.acquisition.instrument == "bench recorder"
    assert capture.start == datetime(2026, 3, 1, 10)
    assert (channel.name, channel.unit, channel.raw.dtype) == ("one", "V", np.int16)
    np.testing.assert_allclose(channel.values(), wave * 0.5e-3)
    np.testing.assert_array_equal(channel.raw[100:200:3], wave[100:200:3])


@pytest.mark.parametrize("turned", [False, True])
def test_hdf5_channels(tmp_path, wave, turned):
    both = np.stack([wave, -wave])
    with h5py.File(tmp_path / "a.h5", "w") as file:
        file["data"] = both if turned else both.T
        file["rate_hz"] = 1000.0
        file["time"] = np.arange(7)  # of another length: not the time of these samples
    capture = read(tmp_path / "a.h5")
    assert [c.name for c in capture.channels] == ["data 1", "data 2"]
    np.testing.assert_array_equal(capture.channels[1].raw[:], -wave)


def test_hdf5_with_a_time_set_and_a_table(tmp_path, wave):
    table = np.zeros(2000, [("u", "i2"), ("i", "f4"), ("word", "S3")])
    table["u"] = wave
    with h5py.File(tmp_path / "a.h5", "w") as file:
        file["table"] = table
        file["time"] = np.arange(2000.0)
        file["time"].attrs["unit"] = "ms"
    capture = read(tmp_path / "a.h5")
    assert capture.rate_hz == pytest.approx(1000)
    assert [c.name for c in capture.channels] == ["u", "i"]
    np.testing.assert_array_equal(capture.channels[0].raw[5:9], wave[5:9])


def test_hdf5_of_complex_numbers(tmp_path, wave):
    with h5py.File(tmp_path / "a.h5", "w") as file:
        file["z"] = (wave + 2j * wave).astype("c8")
    capture = read(tmp_path / "a.h5", rate_hz=1)
    assert [(c.name, c.raw.dtype) for c in capture.channels] == [("z I", "f4"), ("z Q", "f4")]
    np.testing.assert_array_equal(capture.channels[1].raw[:], 2.0 * wave)


def test_hdf5_with_several_sets_needs_a_choice(tmp_path, wave):
    with h5py.File(tmp_path / "a.h5", "w") as file:
        file["run/one"], file["run/two"] = wave, -wave
    with pytest.raises(NeedsFact, match="run/one"):
        read(tmp_path / "a.h5", rate_hz=1)
    capture = read(tmp_path / "a.h5", rate_hz=1, dataset="/run/two")
    np.testing.assert_array_equal(capture.channels[0].raw[:], -wave)


def test_hdf5_of_nothing_and_cut_short(tmp_path, wave):
    path = tmp_path / "a.h5"
    with h5py.File(path, "w") as file:
        file["word"] = "invented"
    with pytest.raises(DamagedFile, match="no array of numbers"):
        read(path, rate_hz=1)
    with h5py.File(path, "w") as file:
        file["x"] = wave
    path.write_bytes(path.read_bytes()[:3000])
    with pytest.raises(DamagedFile, match="HDF5"):
        read(path, rate_hz=1)


# --- MAT ------------------------------------------------------------------------------------


@pytest.mark.parametrize("compressed", [False, True])
@pytest.mark.parametrize("oned_as", ["row", "column"])
def test_mat_5(tmp_path, wave, compressed, oned_as):
    path = tmp_path / "a.mat"
    inside = {"samples": wave, "fs": 1000.0, "unit": "mV", "box": {"a": 1}, "word": "x"}
    scipy.io.savemat(path, inside, do_compression=compressed, oned_as=oned_as)
    capture = read(path)
    channel = capture.channels[0]
    assert (capture.rate_hz, channel.unit, channel.raw.dtype) == (1000, "V", np.int16)
    np.testing.assert_array_equal(channel.raw, wave)
    assert any('"box"' in note for note in capture.notes)


def test_mat_5_with_time_and_choice(tmp_path, wave):
    path = tmp_path / "a.mat"
    scipy.io.savemat(path, {"left": wave, "right": -wave, "t": np.arange(2000) / 1000})
    with pytest.raises(NeedsFact, match="left"):
        read(path)
    capture = read(path, dataset="right")
    assert capture.rate_hz == pytest.approx(1000)
    np.testing.assert_array_equal(capture.channels[0].raw, -wave)


@pytest.mark.parametrize("compressed", [False, True])
def test_mat_5_of_complex_numbers(tmp_path, wave, compressed):
    path = tmp_path / "a.mat"
    both = np.stack([wave, wave + 1j]).astype("c16")
    scipy.io.savemat(path, {"z": both}, do_compression=compressed)
    capture = read(path, rate_hz=1)
    assert [c.name for c in capture.channels] == ["z 1 I", "z 1 Q", "z 2 I", "z 2 Q"]
    np.testing.assert_array_equal(capture.channels[2].raw, wave)
    np.testing.assert_array_equal(capture.channels[3].raw, np.ones(2000))


def test_mat_5_is_mapped_and_may_have_the_other_byte_order(tmp_path, wave):
    path = tmp_path / "a.mat"
    scipy.io.savemat(path, {"x": wave, "empty": [], "word": "mV"})
    raw = read(path, rate_hz=1).channels[0].raw
    assert isinstance(raw, np.memmap)
    # The same variable with every word turned round, by hand: tags, flags, shape, name, numbers.
    body = b"".join(
        [
            np.array([6, 8, 10, 0, 5, 8, 1, 2000], ">u4").tobytes(),
            np.array([1 << 16 | 1], ">u4").tobytes() + b"x\0\0\0",
            np.array([3, 4000], ">u4").tobytes() + wave.astype(">i2").tobytes(),
        ]
    )
    head = b"MATLAB 5.0 MAT-file".ljust(124) + b"\x01\x00MI"
    path.write_bytes(head + np.array([14, len(body)], ">u4").tobytes() + body)
    assert scipy.io.loadmat(path)["x"].ravel().tolist() == wave.tolist()
    np.testing.assert_array_equal(read(path, rate_hz=1).channels[0].raw, wave)


def test_mat_5_cut_short(tmp_path, wave):
    path = tmp_path / "a.mat"
    scipy.io.savemat(path, {"x": wave})
    path.write_bytes(path.read_bytes()[:-100])
    with pytest.raises(DamagedFile, match="beyond the end"):
        read(path, rate_hz=1)


@pytest.fixture
def mat_73(tmp_path, wave):
    """An HDF5 file laid out as MAT 7.3: a user block with the mark, classes as attributes.

    Layout from memory of the published description of MAT files.
    """
    path = tmp_path / "a.mat"
    with h5py.File(path, "w", userblock_size=512) as file:
        file["samples"] = wave.reshape(1, -1)
        file["samples"].attrs["MATLAB_class"] = np.bytes_("int16")
        file["fs"] = np.array([[1000.0]])
        file["fs"].attrs["MATLAB_class"] = np.bytes_("double")
        file["unit"] = np.array([[ord(c)] for c in "mV"], np.uint16)
        file["unit"].attrs["MATLAB_class"] = np.bytes_("char")
        file["#refs#/a"] = np.arange(9.0)
    with path.open("r+b") as file:
        file.write(b"MATLAB 7.3 MAT-file".ljust(124) + b"\x00\x02IM")
    return path


def test_mat_73(mat_73, wave):
    capture = read(mat_73)
    channel = capture.channels[0]
    assert (capture.format, capture.rate_hz, channel.unit) == ("mat", 1000, "V")
    np.testing.assert_array_equal(channel.raw[:], wave)


# --- raw binary -----------------------------------------------------------------------------


@pytest.mark.parametrize("dtype", ["int16", "<f4", ">i4", "uint16", "float64"])
def test_raw_is_mapped(tmp_path, wave, dtype):
    path = tmp_path / "a.bin"
    np.stack([wave + 1000, wave + 2000], 1).astype(dtype).tofile(path)
    capture = read(path, rate_hz=1000, dtype=dtype, interleaved=2, unit="V")
    assert capture.channels[1].raw.dtype == dtype
    assert isinstance(capture.channels[1].raw, np.memmap)
    np.testing.assert_array_equal(capture.channels[1].raw, wave + 2000)


def test_raw_complex(tmp_path, wave):
    (wave + 2j * wave).astype("c8").tofile(tmp_path / "a.bin")
    capture = read(tmp_path / "a.bin", rate_hz=1, dtype="complex64")
    np.testing.assert_array_equal(capture.channels[1].raw, 2.0 * wave)


def test_raw_of_uneven_length(put):
    with pytest.raises(DamagedFile, match="no whole number"):
        read(put(bytes(range(255)) * 2), rate_hz=1, dtype="i4")
