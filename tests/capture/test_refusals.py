"""What cannot be read gets one clear line, of the right kind, and says what to try."""

from __future__ import annotations

import bz2
import gzip
import lzma
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
    ("nothing to see here\n", FormatRefused, "no known format"),
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


def test_a_path_that_is_none():
    with pytest.raises(InputError, match="cannot be opened"):
        read("a\0b")


def test_a_permission_error_is_translated(put, monkeypatch):
    def refuse(*_args, **_kwargs):
        raise PermissionError

    path = put(TABLE)
    monkeypatch.setattr(type(path), "open", refuse)
    with pytest.raises(InputError, match="may not be read"):
        read(path)


def test_junk_is_refused_and_every_reader_says_why(put):
    junk = np.random.default_rng(1).integers(0, 256, 5000, np.uint8).tobytes()
    with pytest.raises(FormatRefused) as caught:
        read(put(junk))
    for reader in READERS:
        assert reader.title in str(caught.value)


@pytest.mark.parametrize("pack", [gzip, bz2, lzma], ids=["gzip", "bz2", "xz"])
def test_compressed_files_have_to_be_unpacked(put, pack):
    with pytest.raises(FormatRefused, match="Unpack it"):
        read(put(pack.compress(TABLE.encode())))


def test_an_unknown_format_name_lists_the_known(put):
    with pytest.raises(InputError, match="text"):
        read(put(TABLE), format="parchment")


def test_a_format_can_be_forced_and_then_fails_in_its_own_words(put):
    with pytest.raises(DamagedFile, match="WAV"):
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
