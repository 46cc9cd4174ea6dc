"""Everything in 50 million float32 samples at 1 MS/s, one thread, beside scipy's averaged spectrum.

How many times faster than `scipy.signal.welch(x, fs, nperseg=8192)` alone: first as a program
meets it, each in a process of its own that has called it on a short record before; then repeated
in one process. The averaged spectrum takes 1.5 GB on top of the samples, and on many machines
most of its first call is spent on getting that memory: the two ratios differ several times over,
and neither is the whole truth. The extra memory is read in the same processes.
"""

from __future__ import annotations

import gc
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import numpy as np
from scipy import signal
from threadpoolctl import threadpool_limits

from benchmarks.comb import record
from benchmarks.side_by_side import best_time, row
from straypath.capture.capture import Channel
from straypath.contents.lines.find import Depth
from straypath.contents.whole import read_contents

if TYPE_CHECKING:
    from numpy.typing import NDArray

RATE_HZ = 1e6
BOUNDS = {"usual": 14.0, "quick": 20.0, "deep": 3.0}
# Extra memory: 8 % of the samples and 64 MB; a deep search may take as much again as the record.
MEMORY_SHARE = {"usual": 0.08, "quick": 0.08, "deep": 1.25}
FIXED_MB = 64.0
SPECTRUM = "averaged spectrum"
SHORT = 200_000


def main(samples: int = 50_000_000) -> list[str]:
    """Return the table."""
    first = {what: _in_own_process(samples, what) for what in (SPECTRUM, *get_args(Depth))}
    lines = []
    for depth, bound in BOUNDS.items():
        value = first[SPECTRUM][0] / first[depth][0]
        lines.append(
            row(f"first call: {SPECTRUM} / {depth}", value, f">= {bound:g}", value >= bound)
        )
    for depth, share in MEMORY_SHARE.items():
        bound = share * 4e-6 * samples + FIXED_MB
        value = first[depth][1]
        lines.append(row(f"extra memory, {depth} [MB]", value, f"<= {bound:.0f}", value <= bound))
    lines += _repeated(samples)
    return lines


def _repeated(samples: int) -> list[str]:
    """Both again and again in one process: for information."""
    x = _invented(samples)
    with threadpool_limits(1):
        alone = best_time(lambda: _call(SPECTRUM, x), 3)
        return [
            f"{f'repeated: {SPECTRUM} / {depth}':58s} "
            f"{alone / best_time(lambda d=depth: _call(d, x), 3):7.2f}   no bound"
            for depth in get_args(Depth)
        ]


def _invented(samples: int) -> NDArray[np.float32]:
    return record(np.random.default_rng(1).standard_normal(samples, dtype=np.float32), RATE_HZ)


def _call(what: str, x: NDArray[np.float32]) -> object:
    if what == SPECTRUM:
        return signal.welch(x, RATE_HZ, nperseg=8192)
    return read_contents(Channel("invented", x, "V"), RATE_HZ, depth=what)


def _in_own_process(samples: int, what: str) -> tuple[float, float]:
    """Return seconds and extra MB of the best of three first calls."""
    asked = [sys.executable, "-m", "benchmarks.contents", str(samples), what]
    told = [
        subprocess.run(asked, check=True, capture_output=True, text=True).stdout.split()  # noqa: S603
        for _ in range(3)
    ]
    seconds, memory = np.array(told, dtype=float).T
    return float(seconds.min()), float(memory.max())


def first_call(samples: int, what: str) -> tuple[float, float]:
    """Return seconds and extra MB of one call, everything being loaded."""
    x = _invented(samples)
    with threadpool_limits(1):
        _call(what, x[:SHORT])
        gc.collect()
        # The kernel forgets the peak so far.
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
        before = _status_mb("VmRSS")
        start = time.perf_counter()
        _call(what, x)
        return time.perf_counter() - start, _status_mb("VmHWM") - before


def _status_mb(key: str) -> float:
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith(key))


if __name__ == "__main__":
    print(*first_call(int(sys.argv[1]), sys.argv[2]))
