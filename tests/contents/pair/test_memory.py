"""Two channels of 50 million samples each are compared in little memory."""

from __future__ import annotations

import subprocess
import sys

PROGRAM = """
import resource
import numpy as np
from straypath.capture.capture import Channel
from straypath.contents.pair.difference import difference_over_lines
from straypath.contents.pair.spectrum import coherence_spectrum
from straypath.contents.pair.transfer import line_transfer

class OnDisk:
    # 200 MB of 32-bit floats that exist only where they are looked at.
    dtype, shape = np.dtype(np.float32), (50_000_000,)
    def __init__(self, size, seed):
        self.size, self.seed = size, seed
    def __len__(self):
        return self.shape[0]
    def __getitem__(self, index):
        start, stop, _ = index.indices(len(self))
        turn = np.arange(start, stop, dtype=np.float64)
        turn *= 2 * np.pi * 50.01e-6
        np.cos(turn, out=turn)
        turn *= self.size
        noise = np.random.default_rng([start, self.seed]).standard_normal(stop - start, np.float32)
        return turn.astype(np.float32) + noise

def peak():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024

small = np.random.default_rng(1).standard_normal((2, 100_000))
line_transfer(*small, 5_000.0, mains_hz=50.0)
coherence_spectrum(*small, 5_000.0)
y, x = Channel("y", OnDisk(0.5, 1), "V"), Channel("x", OnDisk(1.0, 2), "V")
before = peak()
gain = line_transfer(y, x, 1e6, mains_hz=50.01, other_hz=[300_000.0]).lines[0].gain
by_lines = difference_over_lines(y, x, 1e6, mains_hz=50.01)
coherence_spectrum(y, x, 1e6)
print(gain.value, gain.u, by_lines.gain.value, peak() - before)
"""


def test_fifty_million_samples_are_not_held():
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True
    )
    gain, u, by_lines, grown_mb = map(float, done.stdout.split())
    assert abs(gain - 0.5) < 4 * u
    assert abs(by_lines - 0.5) < 4 * u
    # 8 % of the samples and 64 MB, as the whole contents may take.
    assert grown_mb < 0.08 * 400 + 64
