"""A supply whose frequency walks: are the amplitudes of high orders still right?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.simulate import comb
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb
from straypath.quantity import Quantity

RATE_HZ = 5_000.0
# Strength of the walk: 20 mHz in 20 s, over which order 40 is to be off by less than 1 %.
STEP_HZ_PER_ROOT_S = 0.020 / np.sqrt(20.0)
WAVE = {1: 1.0, 3: 0.1, 10: 0.05, 40: 0.02}
NOISE_DENSITY = 1e-8


@dataclass(frozen=True)
class Row:
    """Bias of the amplitude of each order, and coverage of the mean frequency."""

    duration_s: float
    bias: dict
    f0_coverage: float
    followed: float
    missed: int

    def __str__(self) -> str:
        shown = "  ".join(f"{k}: {100 * b:+5.2f} %" for k, b in self.bias.items())
        return (
            f"{self.duration_s:5.0f} s  bias of order {shown}"
            f"  f0 coverage {100 * self.f0_coverage:5.1f} %  followed {100 * self.followed:3.0f} %"
            f"  missed {self.missed}"
        )


def cells() -> list[float]:
    """Every length of record in the table [s]."""
    return [2.0, 20.0, 60.0]


def run(duration_s: float, draws: int, seed: int = 1) -> Row:
    """Draw records whose frequency is a random walk about 50 Hz."""
    rng = np.random.default_rng([seed, int(duration_s)])
    samples = int(duration_s * RATE_HZ)
    ratios, hits, followed, missed = {k: [] for k in WAVE}, [], 0, 0
    for _ in range(draws):
        walk = np.cumsum(rng.standard_normal(samples)) * STEP_HZ_PER_ROOT_S / np.sqrt(RATE_HZ)
        phases = {k: rng.uniform(-np.pi, np.pi) for k in WAVE}
        x = comb(samples, RATE_HZ, 50.0, WAVE, phases, track_hz=walk)
        x += rng.standard_normal(samples) * np.sqrt(NOISE_DENSITY * RATE_HZ / 2)
        found = mains_comb(Channel("invented", x, "V"), RATE_HZ)
        if not found.present:
            missed += 1
            continue
        followed += found.wander is not None
        true = 50.0 + float(np.mean(walk))
        hits.append(found.frequency_hz.low <= true <= found.frequency_hz.high)
        for k, amplitude in WAVE.items():
            rms = found.lines[k - 1].rms
            if isinstance(rms, Quantity):
                ratios[k].append(rms.value * np.sqrt(2) / amplitude)
    bias = {k: float(np.mean(r)) - 1.0 if r else np.nan for k, r in ratios.items()}
    coverage = float(np.mean(hits)) if hits else np.nan
    return Row(duration_s, bias, coverage, followed / draws, missed)
