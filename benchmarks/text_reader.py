"""Speed of the text reader beside polars.read_csv on the same file of 10 million rows.

    python -m benchmarks.text_reader [ROWS]

Bound: at least 0.8 of the speed of polars.read_csv. The record is invented.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
import polars as pl

from benchmarks.side_by_side import ratio, row
from straypath.capture import read

BOUND = 0.8


def write_record(path: Path, rows: int) -> None:
    """Write an invented record: a time column and two channels, as a logger would."""
    noise = np.random.default_rng(1).normal(size=(2, rows))
    i = np.arange(rows)
    pl.DataFrame(
        {
            "Time (s)": i * 1e-5,
            "Input (V)": np.round(np.sin(i * np.pi / 1000) + 0.01 * noise[0], 5),
            "Supply (V)": np.round(12 + 0.01 * noise[1], 4),
        }
    ).write_csv(path)


def main(rows: int = 10_000_000) -> list[str]:
    """Return the table."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.csv"
        write_record(path, rows)
        value = ratio(lambda: pl.read_csv(path), lambda: read(path), turns=5)
    what = f"speed of read / polars.read_csv, {rows:,} rows"
    return [row(what, value, f">= {BOUND:g}", value >= BOUND)]


if __name__ == "__main__":
    table = main(*map(int, sys.argv[1:2]))
    print("\n".join(table), flush=True)
    sys.exit(any("MISSED" in line for line in table))
