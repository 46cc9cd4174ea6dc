"""A record far larger than the memory it may take is read in pieces."""

from __future__ import annotations

import subprocess
import sys

PROGRAM = """
import resource, sys
import numpy as np
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb

class OnDisk:
    # 800 MB of 32-bit integers that exist only where they are looked at.
    dtype, shape = np.dtype(np.int32), (200_000_000,)
    def __len__(self):
        return self.shape[0]
    def __getitem__(self, index):
        start, stop, _ = index.indices(len(self))
        t = np.arange(start, stop)
        noise = np.random.default_rng(start).integers(-512, 512, len(t))
        return (3000 * np.cos(2 * np.pi * 50.01 / RATE * t) + noise).astype(np.int32)

RATE = float(sys.argv[1])
mains_comb(Channel("warm", np.random.default_rng(1).standard_normal(100_000)), 5_000.0)
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
comb = mains_comb(Channel("invented", OnDisk(), "V"), RATE)
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(comb.present, comb.frequency_hz.value, (after - before) // 1024)
"""


def grown_mb(rate_hz: float) -> float:
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", PROGRAM, str(rate_hz)], capture_output=True, text=True, check=True
    )
    present, frequency_hz, grown = done.stdout.split()
    assert present == "True"
    assert abs(float(frequency_hz) - 50.01) < 1e-6
    return float(grown)


def test_slow_record_is_not_held():
    assert grown_mb(10_000.0) < 300


def test_fast_record_is_not_held():
    assert grown_mb(1e6) < 300
