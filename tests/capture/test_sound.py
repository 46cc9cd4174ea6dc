"""WAV, FLAC and AIFF as libsndfile writes them, and WAV files with odd sizes in their header."""

from __future__ import annotations

import struct

import numpy as np
import pytest
import soundfile

from straypath.capture import read
from straypath.errors import DamagedFile, InputError, NeedsFact

# (format, subtype): (type of the raw samples, bits, largest error in full scales).
# The error is one step of the coding: integers are rounded, the companded ones are coarse.
CODINGS = {
    ("WAV", "PCM_U8"): ("uint8", 8, 2**-7),
    ("WAV", "PCM_16"): ("int16", 16, 2**-15),
    ("WAV", "PCM_24"): ("int32", 24, 2**-23),
    ("WAV", "PCM_32"): ("int32", 32, 2**-31),
    ("WAV", "FLOAT"): ("float32", None, 2**-24),
    ("WAV", "DOUBLE"): ("float64", None, 0.0),
    ("WAV", "ULAW"): ("float32", None, 2**-5),
    ("WAVEX", "PCM_24"): ("int32", 24, 2**-23),
    ("WAVEX", "FLOAT"): ("float32", None, 2**-24),
    ("RF64", "PCM_16"): ("int16", 16, 2**-15),
    ("FLAC", "PCM_16"): ("int16", 16, 2**-15),
    ("FLAC", "PCM_24"): ("int32", 24, 2**-23),
    ("AIFF", "PCM_S8"): ("int16", 8, 2**-7),
    ("AIFF", "PCM_16"): ("int16", 16, 2**-15),
    ("AIFF", "PCM_24"): ("int32", 24, 2**-23),
    ("AIFF", "FLOAT"): ("float32", None, 2**-24),
}


@pytest.fixture
def stereo(wave):
    return np.column_stack([wave, wave[::-1]]) / 1024


@pytest.mark.parametrize(("container", "coding"), CODINGS)
def test_every_coding(tmp_path, stereo, container, coding):
    dtype, bits, error = CODINGS[container, coding]
    path = tmp_path / "sound"
    soundfile.write(path, stereo, 44100, coding, format=container)
    capture = read(path)
    assert capture.rate_hz == 44100
    assert [c.name for c in capture.channels] == ["channel 1", "channel 2"]
    assert capture.acquisition.bits == bits
    for channel, wanted in zip(capture.channels, stereo.T, strict=True):
        assert channel.raw.dtype == dtype
        assert channel.unit == ""
        np.testing.assert_allclose(channel.values(), wanted, rtol=0, atol=error)
        np.testing.assert_array_equal(channel.values(100, 120), channel.values()[100:120])
        with pytest.raises(ValueError, match="read-only"):
            channel.raw[0:10][0] = 1


@pytest.mark.parametrize(("container", "coding"), [k for k, v in CODINGS.items() if v[1]])
def test_full_scale_is_what_the_largest_number_gives(tmp_path, container, coding):
    path = tmp_path / "sound"
    soundfile.write(path, np.array([-1.0, 1.0, -1.0, 1.0]), 8000, coding, format=container)
    channel = read(path).channels[0]
    assert (channel.values().min(), channel.values().max()) == channel.full_scale


def test_a_unit_turns_full_scale_into_volts(tmp_path, stereo):
    path = tmp_path / "a.wav"
    soundfile.write(path, stereo, 8000, "DOUBLE")
    channel = read(path, unit="mV").channels[0]
    assert channel.unit == "V"
    np.testing.assert_allclose(channel.values(), stereo[:, 0] * 1e-3)


def test_blocks_read_backwards_and_in_strides(tmp_path, stereo):
    path = tmp_path / "a.flac"
    soundfile.write(path, stereo, 8000, "PCM_16")
    raw = read(path).channels[0].raw
    whole = np.asarray(raw)
    for part in (
        slice(None, None, -1),
        slice(5, 50, 7),
        slice(-10, None),
        slice(9, 9),
        slice(3000),
    ):
        np.testing.assert_array_equal(raw[part], whole[part])
    assert raw.shape == (2000,)
    assert "2000 samples of int16" in repr(raw)


def wav(data: bytes, size: int | None = None, frame: int = 2, bits: int = 16, rate: int = 8000):
    form = struct.pack("<HHIIHH", 1, 1, rate, rate * frame, frame, bits)
    size = len(data) if size is None else size
    return (
        b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt " + struct.pack("<I", 16) + form
        + b"note" + struct.pack("<I", 3) + b"abc\0"
        + b"data" + struct.pack("<I", size) + data
    )  # fmt: skip


def test_other_chunks_are_stepped_over(put):
    np.testing.assert_array_equal(read(put(wav(b"\1\0\2\0\3\0"))).channels[0].raw[:], [1, 2, 3])


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF])
def test_a_file_that_was_never_closed_is_read_to_its_end(put, size):
    capture = read(put(wav(b"\1\0\2\0\3\0\4", size)))
    assert capture.samples == 3
    assert any("never closed" in note for note in capture.notes)


def test_twelve_bits_lie_left_aligned_in_sixteen(put):
    channel = read(put(wav(struct.pack("<3h", -32768, 0, 32752), bits=12))).channels[0]
    assert channel.full_scale == (channel.values().min(), channel.values().max())


@pytest.mark.parametrize(
    ("content", "kind", "says"),
    [
        (wav(b"\1\0\2\0\3\0", 600), DamagedFile, "cut short: 6 of 600"),
        (wav(b"\1\0"), DamagedFile, "one sample"),
        (wav(b""), DamagedFile, "no sample"),
        (wav(b"\1\0\2\0", rate=0), NeedsFact, "--rate"),
        (wav(b"\1\0\2\0", frame=0), InputError, "0 bytes"),
        (wav(b"\1\0\2\0", frame=7), InputError, "7 bytes"),
        (wav(b"\1\0\2\0", bits=40), InputError, "40 bits"),
        (wav(b"\1\0\2\0")[:20], DamagedFile, "WAV"),
        (wav(b"\1\0\2\0")[:36], DamagedFile, "without samples"),
    ],
)
def test_wav_files_that_cannot_be_read(put, content, kind, says):
    with pytest.raises(kind, match=says):
        read(put(content))


@pytest.mark.parametrize("container", ["FLAC", "AIFF"])
def test_sound_files_that_are_cut_short(tmp_path, stereo, container):
    path = tmp_path / "sound"
    soundfile.write(path, stereo, 8000, "PCM_16", format=container)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(DamagedFile):
        read(path)
