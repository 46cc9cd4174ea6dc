"""Writes COMTRADE records field by field, in the order of IEEE C37.111-1999 and -2013.

Field order from memory of the standard, checked by reading the same text with the library
`comtrade`, which is independent of this writer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

KINDS = {"BINARY": "<i2", "BINARY32": "<i4", "FLOAT32": "<f4"}


def configuration(
    kind: str,
    rates: list[tuple[float, int]],
    *,
    year: str = "2013",
    channels: tuple[str, ...] = ("1,VA,A,,kV,0.01,0.5,0,-32767,32767,100,1,S",),
    fraction: str = "123456",
) -> str:
    """Return the text of a .cfg file with these analog channels and one status channel."""
    lines = [
        f"bench,recorder,{year}",
        f"{len(channels) + 1},{len(channels)}A,1D",
        *channels,
        "1,trip,,,0",
        "50",
        str(len(rates) if rates[0][0] else 0),
        *(f"{rate:g},{end}" for rate, end in rates),
        f"01/02/2026,03:04:05.{fraction}",
        f"01/02/2026,03:04:05.{fraction}",
        kind,
        "1",
    ]
    if year == "2013":
        lines += ["0,0", "B,3"]
    return "\r\n".join(lines) + "\r\n"


def data(kind: str, stamps: np.ndarray, channels: list[np.ndarray]) -> bytes:
    """Return the content of a .dat file; a stamp below zero is left out."""
    if kind == "ASCII":
        rows = []
        for i, t in enumerate(stamps):
            cells = [str(i + 1), str(t) if t >= 0 else "", *(str(c[i]) for c in channels), "0"]
            rows.append(",".join(cells))
        return ("\r\n".join(rows) + "\r\n\x1a").encode()
    layout = [("n", "<u4"), ("t", "<u4"), ("a", KINDS[kind], (len(channels),)), ("s", "<u2", (1,))]
    table = np.zeros(len(stamps), layout)
    table["n"] = np.arange(1, len(stamps) + 1)
    table["t"] = np.where(stamps < 0, 0xFFFFFFFF, stamps)
    table["a"] = np.stack(channels, 1)
    return table.tobytes()


def write(folder: Path, cfg: str, body: bytes) -> Path:
    """Write the two files of a record and return the configuration's path."""
    (folder / "a.dat").write_bytes(body)
    (folder / "a.cfg").write_text(cfg, newline="")
    return folder / "a.cfg"


def write_combined(folder: Path, kind: str, cfg: str, body: bytes) -> Path:
    """Write the one file of a record in the combined form and return its path."""
    size = "" if kind == "ASCII" else f": {len(body)}"
    parts = [
        b"--- file type: CFG ---\r\n",
        cfg.encode(),
        b"--- file type: INF ---\r\n\r\n",
        b"--- file type: HDR ---\r\ninvented\r\n",
        f"--- file type: DAT {kind}{size} ---\r\n".encode(),
        body,
    ]
    (folder / "a.cff").write_bytes(b"".join(parts))
    return folder / "a.cff"
