"""Whatever is in a file, reading it gives a capture or one clear line: nothing else."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from straypath.capture import read
from straypath.errors import StraypathError

sys.path.insert(0, str(Path(__file__).parent))
import samples_of_formats

NAMES = [
    "pcm16.wav", "pcm24.wav", "float.wav", "ulaw.wav", "sound.flac", "sound.aiff", "array.npy",
    "arrays.npz", "packed.npz", "record.h5", "plain.mat", "packed.mat", "table.parquet",
    "table.arrow", "packed.arrow", "table.csv", "dates.csv", "record.cfg", "binary.cff",
    "ascii.cff", "record.sigmf-meta",
]  # fmt: skip

# The same examples in every run: the decoders below are native code, and a damaged file that
# hangs one of them would hang the tests of somebody who changed nothing.
steady = settings(
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.differing_executors],
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("formats")


@pytest.fixture(scope="module")
def originals(folder):
    return samples_of_formats.files(folder)


def holds(path: Path, content: bytes, **facts) -> None:
    """Read content to its last sample; a StraypathError of one line is the only way to fail."""
    path.write_bytes(content)
    line = "read"
    try:
        for channel in read(path, **facts).channels:
            assert len(channel.values()) == len(channel)
    except StraypathError as error:
        line = str(error)
    assert line.strip()
    assert "\n" not in line
    assert path.read_bytes() == content


def test_every_original_is_read(folder, originals):
    assert sorted(originals) == sorted(NAMES)
    for name, content in originals.items():
        (folder / name).write_bytes(content)
        capture = read(folder / name, rate_hz=1000)
        assert capture.samples >= 60, name


EXTREMES = [b"\xff" * 4, b"\0" * 4, b"\xff\xff\xff\x7f"]

changes = st.lists(
    st.one_of(
        st.tuples(st.just("set"), st.floats(0, 1), st.binary(min_size=1, max_size=1)),
        st.tuples(st.just("set"), st.floats(0, 1), st.sampled_from(EXTREMES)),
        st.tuples(st.just("insert"), st.floats(0, 1), st.binary(min_size=1, max_size=8)),
        st.tuples(st.just("drop"), st.floats(0, 1), st.binary(min_size=1, max_size=20)),
        st.tuples(st.just("cut"), st.floats(0, 1), st.just(b"")),
    ),
    min_size=1,
    max_size=6,
)  # fmt: skip


def changed(content: bytes, steps) -> bytes:
    body = bytearray(content)
    for what, where, piece in steps:
        at = int(where * len(body))
        if what == "set":
            body[at : at + len(piece)] = piece
        elif what == "insert":
            body[at:at] = piece
        elif what == "drop":
            del body[at : at + len(piece)]
        else:
            del body[at:]
    return bytes(body)


@pytest.mark.parametrize("name", NAMES)
@steady
@given(steps=changes)
def test_damaged_files(folder, originals, name, steps):
    holds(folder / name, changed(originals[name], steps), rate_hz=1000)


@steady
@given(content=st.binary(max_size=600))
def test_random_bytes(folder, content):
    holds(folder / "random", content)


@steady
@given(
    start=st.sampled_from(
        [b"RIFF\0\0\0\0WAVE", b"fLaC", b"FORM\0\0\0\0AIFF", b"\x93NUMPY", b"PK\3\4", b"PAR1",
         b"\x89HDF\r\n\x1a\n", b"ARROW1", b'{"core:', b"a,b\n1,1A,0D\n", b"\xff\xfe", b"1,2\n",
         b"--- file type: CFG ---\n", b"M" * 126 + b"IM"]
    ),
    rest=st.binary(max_size=300),
)  # fmt: skip
def test_random_bytes_behind_a_mark(folder, start, rest):
    holds(folder / "random", start + rest, rate_hz=1000)


types = st.one_of(
    st.text(max_size=4),
    st.sampled_from(["a", "i2", ">f4", "c8", "int", "float128", "i2,i2", "M8[s]", "<i3", "2i2"]),
)


@steady
@given(content=st.binary(max_size=64), dtype=types, interleaved=st.integers(-1, 5))
def test_random_raw(folder, content, dtype, interleaved):
    holds(folder / "random", content, rate_hz=1000, dtype=dtype, interleaved=interleaved)


# --- random text tables ---------------------------------------------------------------------

number = st.one_of(
    st.integers(-9999, 9999).map(str),
    st.floats(allow_nan=False, width=32).map(repr),
    st.floats(-9, 9).map(lambda x: f"{x:.3f}".replace(".", ",")),
)
oddity = st.one_of(
    st.sampled_from(["", " ", "nan", "-", "OVER", "1e999", "0x1F", '"', "1.2.3", "#", "µ"]),
    st.sampled_from(["12:30:15", "2026-03-01", "2026-03-01 12:30:15.5", "01.03.2026"]),
    st.text(max_size=6),
)  # fmt: skip
cell = st.one_of(number, number, number, oddity)


@st.composite
def tables(draw):
    mark = draw(st.sampled_from([",", ";", "\t", " ", ", ", "|", ""]))
    end = draw(st.sampled_from(["\n", "\r\n", "\r", "\n\n"]))
    width = draw(st.integers(1, 4))
    header = draw(st.lists(st.text(max_size=30), max_size=4))
    rows = draw(st.lists(st.lists(cell, min_size=width, max_size=width), max_size=12))
    if draw(st.booleans()) and rows:
        draw(st.sampled_from(rows)).append("7")
    return end.join([*header, *(mark.join(row) for row in rows)])


@settings(
    deadline=None,
    max_examples=400,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(text=tables(), encoding=st.sampled_from(["utf-8", "utf-16", "latin-1"]))
def test_random_tables(folder, text, encoding):
    holds(folder / "random.csv", text.encode(encoding, "replace"), rate_hz=1000)
    holds(folder / "random.csv", text.encode(encoding, "replace"))


@st.composite
def good_tables(draw):
    """A table that any reader must understand, with what it holds."""
    n = draw(st.integers(4, 40))
    values = draw(st.lists(st.integers(-999_999, 999_999), min_size=n, max_size=n))
    mark, comma = draw(st.sampled_from([(",", False), (";", False), (";", True), ("\t", True)]))
    interval_us = draw(st.integers(1, 10_000_000))
    rows = [f"{i * interval_us / 1e6:.6f}{mark}{v / 1000:.3f}" for i, v in enumerate(values)]
    body = "\n".join(r.replace(".", ",") if comma else r for r in rows)
    return f"time (s){mark}u (mV)\n{body}\n", 1e6 / interval_us, values


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(table=good_tables())
def test_good_tables_are_read_exactly(folder, table):
    text, rate_hz, values = table
    (folder / "good.csv").write_text(text)
    capture = read(folder / "good.csv")
    assert capture.rate_hz == pytest.approx(rate_hz, rel=1e-6)
    assert [round(v * 1e6) for v in capture.channels[0].values()] == values
