"""One small valid file of every format, as bytes, written by general libraries."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING

import comtrade_writer as make
import h5py
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import scipy.io
import soundfile

if TYPE_CHECKING:
    from pathlib import Path

WAVE = np.round(900 * np.sin(np.arange(60) * 0.3)).astype(np.int16)
STAMPS = np.arange(60) * 100


def sound(container: str, coding: str) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, np.stack([WAVE, WAVE], 1) / 1024, 8000, coding, format=container)
    return out.getvalue()


def npy() -> bytes:
    out = io.BytesIO()
    np.save(out, WAVE)
    return out.getvalue()


def npz(compressed: bool) -> bytes:
    out = io.BytesIO()
    (np.savez_compressed if compressed else np.savez)(out, samples=WAVE, fs=1000, unit="mV")
    return out.getvalue()


def hdf5() -> bytes:
    out = io.BytesIO()
    with h5py.File(out, "w") as file:
        data = file.create_dataset("run/u", data=WAVE, chunks=(20,), compression="gzip")
        data.attrs["unit"] = "mV"
        file.attrs["fs"] = 1000.0
    return out.getvalue()


def mat(compressed: bool) -> bytes:
    out = io.BytesIO()
    inside = {"samples": WAVE + 1j, "fs": 1000.0, "unit": "mV"}
    scipy.io.savemat(out, inside, do_compression=compressed)
    return out.getvalue()


def table() -> pa.Table:
    return pa.table({"time (ms)": np.arange(60.0), "u (mV)": WAVE})


def parquet() -> bytes:
    out = io.BytesIO()
    pq.write_table(table(), out, row_group_size=25)
    return out.getvalue()


def arrow(compression: str | None) -> bytes:
    out = io.BytesIO()
    options = pa.ipc.IpcWriteOptions(compression=compression)
    with pa.ipc.new_file(out, table().schema, options=options) as writer:
        writer.write_table(table(), max_chunksize=25)
    return out.getvalue()


def text() -> bytes:
    rows = "".join(f"{i / 1000};{u / 7:.3f}\n" for i, u in enumerate(WAVE))
    return ("Sample rate: 1 kHz\nTime (s);U (mV)\n" + rows).encode()


def dates() -> bytes:
    rows = "".join(f"2026-03-01 10:00:00.{i:03d},{u}\n" for i, u in enumerate(WAVE))
    return ("When,U (mV)\n" + rows).encode()


def sigmf() -> bytes:
    about = {"core:datatype": "ri16_le", "core:sample_rate": 1000, "core:version": "1.2.0"}
    segment = {"core:sample_start": 0, "core:datetime": "2026-03-01T00:00:00Z"}
    return json.dumps({"global": about, "captures": [segment], "annotations": []}).encode()


def combined(folder: Path, kind: str) -> bytes:
    cfg = make.configuration(kind, [(10000, 60)])
    return make.write_combined(folder, kind, cfg, make.data(kind, STAMPS, [WAVE])).read_bytes()


def files(folder: Path) -> dict[str, bytes]:
    """Return name and content of a file per format; what stands beside them is in the folder."""
    (folder / "record.dat").write_bytes(make.data("BINARY", STAMPS, [WAVE]))
    (folder / "record.sigmf-data").write_bytes(WAVE.tobytes())
    return {
        "pcm16.wav": sound("WAV", "PCM_16"),
        "pcm24.wav": sound("WAV", "PCM_24"),
        "float.wav": sound("WAVEX", "FLOAT"),
        "ulaw.wav": sound("WAV", "ULAW"),
        "sound.flac": sound("FLAC", "PCM_16"),
        "sound.aiff": sound("AIFF", "PCM_16"),
        "array.npy": npy(),
        "arrays.npz": npz(compressed=False),
        "packed.npz": npz(compressed=True),
        "record.h5": hdf5(),
        "plain.mat": mat(compressed=False),
        "packed.mat": mat(compressed=True),
        "table.parquet": parquet(),
        "table.arrow": arrow(None),
        "packed.arrow": arrow("lz4"),
        "table.csv": text(),
        "dates.csv": dates(),
        "record.cfg": make.configuration("BINARY", [(10000, 60)]).encode(),
        "binary.cff": combined(folder, "BINARY"),
        "ascii.cff": combined(folder, "ASCII"),
        "record.sigmf-meta": sigmf(),
    }
