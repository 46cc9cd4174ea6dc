"""A file larger than the memory it may take: 4 GB, sparse, read in slices."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import textwrap

import numpy as np
import pytest

SIZE = 4 << 30
ROOM_BYTES = 200 << 20


def grow(path, head: bytes = b"") -> None:
    """Make a file of 4 GB that takes no room on the disk."""
    with path.open("wb") as file:
        file.write(head)
        file.truncate(len(head) + SIZE)


def npy_head() -> bytes:
    out = io.BytesIO()
    about = {"descr": "<i2", "fortran_order": False, "shape": (SIZE // 2,)}
    np.lib.format.write_array_header_1_0(out, about)
    return out.getvalue()


def rf64_head() -> bytes:
    # EBU Tech 3306: sizes of 64 bits in the chunk ds64, 0xFFFFFFFF where they were.
    form = np.array([(1, 1, 48000, 96000, 2, 16)], "<u2,<u2,<u4,<u4,<u2,<u2").tobytes()
    long = np.array([(SIZE + 80, SIZE, SIZE // 2, 0)], "<u8,<u8,<u8,<u4").tobytes()
    return (
        b"RF64\xff\xff\xff\xffWAVE"
        + b"ds64" + len(long).to_bytes(4, "little") + long
        + b"fmt \x10\0\0\0" + form + b"data\xff\xff\xff\xff"
    )  # fmt: skip


FILES = {
    "raw": (b"", {"rate_hz": 48000.0, "dtype": "int16"}),
    "wav": (rf64_head(), {}),
    "npy": (npy_head(), {"rate_hz": 48000.0}),
}

SCRIPT = textwrap.dedent("""
    import json, resource, sys
    from straypath.capture import read

    def peak():
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024

    path, facts = sys.argv[1], json.loads(sys.argv[2])
    read(sys.argv[3], rate_hz=1.0)  # libraries are loaded by now
    before = peak()
    capture = read(path, **facts)
    middle = capture.samples // 2
    part = capture.channels[0].values(middle, middle + 1_000_000)
    print(json.dumps([capture.samples, len(part), peak() - before]))
""")


@pytest.mark.skipif(sys.platform == "win32", reason="resource use is counted another way there")
@pytest.mark.parametrize("kind", FILES)
def test_a_slice_of_a_large_file_takes_little_memory(tmp_path, kind):
    head, facts = FILES[kind]
    grow(tmp_path / "large", head)
    (tmp_path / "small.csv").write_text("u\n1\n2\n3\n")
    run = subprocess.run(  # noqa: S603 – our own script
        [sys.executable, "-c", SCRIPT,
         str(tmp_path / "large"), json.dumps(facts), str(tmp_path / "small.csv")],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    samples, length, growth = json.loads(run.stdout)
    assert samples == SIZE // 2
    assert length == 1_000_000
    assert growth < ROOM_BYTES
