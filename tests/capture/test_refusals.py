"""What cannot be read gets one clear line, of the right kind, and says what to try."""

from __future__ import annotations

import bz2
import gzip
import lzma
import os
from contextlib import suppress
from itertools import chain

import numpy as np
import pytest

from straypath.capture import read
from straypath.capture.formats import READERS
from straypath.errors import DamagedFile, FormatRefused, InputError, MissingExtra, NeedsFact

TABLE = "t (s),U (V)\n0,1\n1,2\n2,3\n"

TEXTS = [
    ("", DamagedFile, "is empty"),
    ("nothing to see here\n", FormatRefused, "is text without a number"),
    ("t (s),U (V)\n", FormatRefused, "is text without a number"),
    (TABLE + "3,\x001\n" + "4,1\n" * 30, FormatRefused, "text but for the byte 0x00 in line 5"),
    ("ab\x1b[31m\n" + TABLE * 9, FormatRefused, "text but for the byte 0x1b in line 1"),
    ("we saw 3 of them\nand 4 of those\n", DamagedFile, "without a table"),
    ("t (s),U (V)\n0,1\n", DamagedFile, "one sample only"),
    ("t (s),U (V)\n0,nan\n1,nan\n", DamagedFile, "table|NaN"),
    ("t (s),U (V)\n0,1\n1,2,9\n2,3\n3,4\n", DamagedFile, "line 3 has 3 cell"),
    ("t (s),U (V)\n0,1\n1\n2,3\n3,4\n", DamagedFile, "line 3 has 1 cell"),
    (TABLE + "\n" + TABLE, InputError, "more than one table"),
    (TABLE + "\nt (s),U (V),I (A)\n0,1,2\n1,2,3\n", InputError, "more than one table"),
    ("U (V)\n1\n2\n3\n", NeedsFact, "--rate"),
    ("t (V),U (furlong)\n1,2\n2,5\n3,1\n", NeedsFact, "--rate"),
    ("t (s),U (V)\n3,1\n2,2\n1,3\n", DamagedFile, "does not run forward"),
    ("t (s),U (V)\n1,1\n1,2\n1,3\n", DamagedFile, "does not run forward"),
    ("t (s),U (V)\n0,1\n,2\n2,3\n", DamagedFile, "holes"),
    ("f (Hz),U (dB)\n1,5\n2,7\n3,9\n4,1\n", InputError, "it is a spectrum"),
    ("when,U (V)\n10:00:00,1\n10:99:00,2\n", DamagedFile, "time stamp of row 2"),
    ("Sample rate: 0 Hz\nU (V)\n1\n2\n3\n", NeedsFact, "--rate"),
    ("Sample rate: -5 Hz\nU (V)\n1\n2\n3\n", NeedsFact, "--rate"),
]


@pytest.mark.parametrize(("text", "kind", "says"), TEXTS)
def test_texts_that_cannot_be_read(read_text, text, kind, says):
    with pytest.raises(kind, match=says) as caught:
        read_text(text)
    assert "\n" not in str(caught.value)
    assert "record.csv" in str(caught.value)


MANY = "t (s),U (V)\n" + "".join(f"{i},{i % 7}\n" for i in range(9000))


@pytest.mark.parametrize(
    ("tail", "kind", "says"),
    [
        ("9000,7,8\n9001,1\n", DamagedFile, "line 9002 has 3"),
        ("9000\n9001,1\n", DamagedFile, "line 9002 has 1"),
        ("t,x\n9000,7\n9001,1\n", InputError, "ends before line 9002"),
        ("t,x,y\n9000,7,1\n9001,1,1\n", InputError, "ends before line 9002"),
    ],
)
def test_faults_far_behind_the_head_are_found(read_text, tail, kind, says):
    with pytest.raises(kind, match=says):
        read_text(MANY + tail)


@pytest.mark.parametrize(
    ("tail", "samples"),
    [
        ("9000 ,7 \n9001,1\n", 9002),  # padded
        ("# a,b,c,d\n9000,7\n", 9001),
        ("max,7,mean,3\nfin\n", 9000),
        ("9000,7\n90", 9001),
        ("\n\n\n", 9000),
    ],
)
def test_oddities_far_behind_the_head_are_stepped_over(read_text, tail, samples):
    assert read_text(MANY + tail).samples == samples


@pytest.mark.parametrize("rate", [0.0, -1.0, float("nan"), float("inf")])
def test_impossible_rates(put, rate):
    with pytest.raises(InputError, match="not possible"):
        read(put(TABLE), rate_hz=rate)


@pytest.mark.parametrize("interleaved", [0, -3])
def test_impossible_numbers_of_channels(put, interleaved):
    with pytest.raises(InputError, match="not possible"):
        read(put(b"12345678"), rate_hz=1, dtype="i2", interleaved=interleaved)


@pytest.mark.parametrize("unit", [" ", "5", "m\nV", "furlong", "V/", "/s"])
def test_impossible_units(put, unit):
    with pytest.raises(InputError, match="not a unit"):
        read(put(TABLE), unit=unit)


def test_no_such_file(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read(tmp_path / "absent.csv")


def test_a_folder(tmp_path):
    with pytest.raises(InputError, match="is a folder"):
        read(tmp_path)


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("a\0b", "cannot be opened .*Check the path"),
        ("x" * 5000, "too long a name"),
        (None, "is no path"),
        (5, "is no path"),
        ("/dev/null", "is a device"),
    ],
)
def test_a_path_that_is_none(path, says):
    with pytest.raises(InputError, match=says):
        read(path)


def test_a_pipe_is_refused_without_being_opened(tmp_path):
    os.mkfifo(tmp_path / "pipe")  # opening it would wait for a writer
    with pytest.raises(InputError, match=r"is a pipe\. Save it to a file first\.$"):
        read(tmp_path / "pipe")


def test_a_link_that_leads_back_to_itself(tmp_path):
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(InputError, match="leads back to itself"):
        read(tmp_path / "a")


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"rate_hz": "fast"}, "not a number with a unit"),
        ({"rate_hz": "2 V"}, "not in Hz"),
        ({"rate_hz": [1000]}, r"a rate of \[1000\] is not possible"),
        ({"rate_hz": True}, "a rate of True"),
        ({"rate_hz": 10**400}, "is not possible"),
        ({"interleaved": "2"}, "'2' interleaved channels"),
        ({"interleaved": 2.5}, "2.5 interleaved channels"),
        ({"unit": 5}, "unit: 5 is no text"),
        ({"unit": ""}, "is not a unit"),
        ({"dataset": 1}, "dataset: 1 is no text"),
        ({"dtype": np.int16}, "dtype: .* is no text"),
    ],
)
def test_facts_of_the_wrong_kind(put, facts, says):
    with pytest.raises(InputError, match=says) as caught:
        read(put(TABLE), **facts)
    assert caught.value.advice


def test_a_rate_may_be_a_text(put):
    assert read(put("U (V)\n1\n2\n3\n"), rate_hz="2 kHz").rate_hz == 2000.0


@pytest.mark.parametrize(
    ("facts", "name"),
    [({"dataset": "u"}, "--dataset"), ({"interleaved": 2}, "--interleaved"),
     ({"dtype": "i2", "format": "text"}, "--dtype")],
)  # fmt: skip
def test_what_means_nothing_to_a_format_is_noted(put, facts, name):
    notes = read(put(TABLE), **facts).notes
    assert any(name in note and "is not used" in note for note in notes)
    assert not any("is not used" in note for note in read(put(TABLE)).notes)


def test_a_single_row_is_not_several_channels(put, tmp_path):
    np.save(tmp_path / "a.npy", np.arange(10.0))
    with pytest.raises(InputError, match="10 numbers in one row, not 2 channels"):
        read(tmp_path / "a.npy", rate_hz=1, interleaved=2)


def test_an_archive_without_arrays(tmp_path):
    np.savez(tmp_path / "a.npz")
    with pytest.raises(DamagedFile, match="holds no array of numbers"):
        read(tmp_path / "a.npz")


def test_a_permission_error_is_translated(put, monkeypatch):
    def refuse(*_args, **_kwargs):
        raise PermissionError

    path = put(TABLE)
    monkeypatch.setattr(type(path), "open", refuse)
    with pytest.raises(InputError, match="may not be read"):
        read(path)


def test_junk_is_refused_with_what_to_try_first(put):
    junk = np.random.default_rng(1).integers(0, 256, 5000, np.uint8).tobytes()
    with pytest.raises(FormatRefused) as caught:
        read(put(junk))
    for reader in READERS:
        assert reader.title in str(caught.value)
    assert len(str(caught.value)) < 400
    assert "--dtype" in str(caught.value).partition("none of these")[0]  # what to try comes first


@pytest.mark.parametrize("pack", [gzip, bz2, lzma], ids=["gzip", "bz2", "xz"])
def test_compressed_files_have_to_be_unpacked(put, pack):
    with pytest.raises(FormatRefused, match="Unpack it"):
        read(put(pack.compress(TABLE.encode())))


def test_an_unknown_format_name_lists_the_known(put):
    with pytest.raises(InputError, match="text"):
        read(put(TABLE), format="parchment")


def test_a_format_that_is_forced_has_to_carry_its_mark(put):
    with pytest.raises(FormatRefused, match="is not a WAV file: it does not begin with RIFF"):
        read(put(TABLE), format="wav")


def test_raw_needs_a_rate_and_a_type(put):
    junk = bytes(range(256)) * 4
    with pytest.raises(NeedsFact, match="--rate"):
        read(put(junk), dtype="int16")
    with pytest.raises(NeedsFact, match="--dtype"):
        read(put(junk), rate_hz=10, format="raw")


@pytest.mark.parametrize("dtype", ["potato", "O", "S4", "M8[s]", "V8", "i2,f4", "(3,)i2", "", "?"])
def test_types_that_are_no_numbers(put, dtype):
    with pytest.raises(InputError, match="not a type of number"):
        read(put(bytes(range(256))), rate_hz=10, dtype=dtype)


def test_a_type_for_a_file_that_has_its_own(put):
    with pytest.raises(InputError, match="type of its own"):
        read(put(b"\x93NUMPY" + bytes(100)), rate_hz=10, dtype="i2")


def test_a_missing_library_says_how_to_get_it(put, monkeypatch):
    def absent(name, *_):
        raise ImportError(name)

    monkeypatch.setattr("straypath.capture.formats.base.import_module", absent)
    with pytest.raises(MissingExtra, match=r"pip install straypath\[formats\]"):
        read(put(b"fLaC" + bytes(100)))


@pytest.mark.parametrize("suffix", [".wav", ".npy", ".h5", ".mat", ".parquet", ".dat", ".flac"])
def test_the_name_of_a_file_decides_nothing(put, suffix):
    capture = read(put(TABLE, name="record" + suffix))
    assert capture.format == "text"


def test_every_reader_has_a_name_of_its_own():
    names = [reader.name for reader in READERS]
    assert len(set(names)) == len(names)


def test_files_are_never_written(put, read_text):
    contents = list(chain((text for text, _, _ in TEXTS), [TABLE]))
    for text in contents:
        path = put(text)
        before = (path.stat().st_mtime_ns, path.read_bytes())
        with suppress(InputError):
            read(path)
        assert (path.stat().st_mtime_ns, path.read_bytes()) == before
