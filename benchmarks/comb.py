"""The mains comb of 50 million float32 samples in memory, one thread, beside one sum over them."""

from __future__ import annotations

import numpy as np
from threadpoolctl import threadpool_limits

from benchmarks.side_by_side import ratio, row
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb
from straypath.contents.reduction import low_pass, step_for

BOUNDS = {1e6: 6.0, 500e3: 6.0, 200e3: 9.0, 100e3: 9.0, 48e3: 20.0, 10e3: 20.0}
HIGHEST_HZ = 2_000.0


def main(samples: int = 50_000_000) -> list[str]:
    """Return the table."""
    noise = np.random.default_rng(1).standard_normal(samples, dtype=np.float32)
    lines = []
    with threadpool_limits(1):
        for rate_hz, bound in BOUNDS.items():
            channel = Channel("invented", record(noise, rate_hz), "V")
            value = ratio(lambda c=channel, r=rate_hz: mains_comb(c, r), channel.raw.sum)
            lines.append(
                row(f"comb / sum at {rate_hz / 1e3:g} kS/s", value, f"<= {bound:g}", value <= bound)
            )
    for rate_hz in (1e6, 500e3, 200e3, 100e3, 48e3):
        value = alias_rejection_db(rate_hz)
        lines.append(
            row(f"rejection of folds at {rate_hz / 1e3:g} kS/s [dB]", value, ">= 90", value >= 90)
        )
    return lines


def record(noise: np.ndarray, rate_hz: float) -> np.ndarray:
    """Noise with a comb, made in pieces to spare memory."""
    out = noise.copy()
    for first in range(0, len(out), 1_000_000):
        part = out[first : first + 1_000_000]
        t = (first + np.arange(len(part))) / rate_hz
        for order, amplitude in {1: 1.0, 3: 0.1, 5: 0.07, 7: 0.05, 39: 0.02}.items():
            part += (amplitude * np.cos(2 * np.pi * 49.98 * order * t + order)).astype(np.float32)
    return out


def alias_rejection_db(rate_hz: float) -> float:
    """Worst gain of anything that folds onto 0 … 2 kHz, against the gain there, in dB."""
    step = step_for(rate_hz, 1.02 * 40 * 60.0)
    if step < 2:
        return np.inf
    taps = low_pass(step)
    grid = np.linspace(0.0, HIGHEST_HZ, 101)
    new_rate = rate_hz / step
    images = [n * new_rate + s * grid for n in range(1, step // 2 + 1) for s in (-1, 1)]
    folded = np.concatenate([f[f <= rate_hz / 2] for f in images])
    t = np.arange(len(taps)) / rate_hz
    worst = max(
        float(np.max(np.abs(np.exp(-2j * np.pi * np.outer(part, t)) @ taps)))
        for part in np.array_split(folded, max(1, len(folded) // 500))
    )
    wanted = np.abs(np.exp(-2j * np.pi * np.outer(grid, t)) @ taps)
    return float(-20 * np.log10(worst / wanted.min()))
