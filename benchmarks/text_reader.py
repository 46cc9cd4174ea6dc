"""Speed of the text reader beside polars.read_csv on the same file, as a ratio in one run.

    python benchmarks/text_reader.py --rows 2000000

Bound (DESIGN, speed): at least 0.8 of the speed of polars.read_csv at 10 million rows.
The two take turns, so that whatever else the machine does hits both; the best of each counts.
The record is invented.
"""

from __future__ import annotations

import argparse
import gc
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from straypath.capture import read

if TYPE_CHECKING:
    from collections.abc import Callable

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


def seconds(work: Callable[[], object]) -> float:
    """Return how long one call takes; what it returns is thrown away afterwards."""
    gc.collect()
    start = time.perf_counter()
    result = work()
    elapsed = time.perf_counter() - start
    del result
    return elapsed


def main(argv: list[str] | None = None) -> int:
    """Print the ratio; return 1 when it is below the bound."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=10_000_000)
    parser.add_argument("--rounds", type=int, default=5)
    args = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.csv"
        write_record(path, args.rows)
        megabytes = path.stat().st_size / 1e6
        pairs = [
            (seconds(lambda: pl.read_csv(path)), seconds(lambda: read(path)))
            for _ in range(args.rounds)
        ]
    theirs, ours = (min(times) for times in zip(*pairs, strict=True))
    ratio = theirs / ours
    print(f"{args.rows:,} rows, {megabytes:.0f} MB")
    print(f"polars.read_csv  {megabytes / theirs:7.0f} MB/s")
    print(f"straypath.read   {megabytes / ours:7.0f} MB/s")
    print(f"ratio            {ratio:7.2f}   (bound {BOUND})")
    return 0 if ratio >= BOUND else 1


if __name__ == "__main__":
    sys.exit(main())
