"""Write the example that comes with the package: invented data, the same on every run.

The scenario is our own. A geophone listens to the ground through an amplifier on a bench; a pump
beside it is on. Into the record come

- hum from the pump's cord: many odd orders, few even ones, on a grid that wanders about 49.98 Hz,
- the pump's shaft, which shakes the floor at 24.3 Hz and is not locked to the mains,
- slow motion of the ground with a 1/f spectrum, white noise, and a drift of the offset,
- a 12-bit converter over ±10 mV.

Run it from the checkout: ``python tools/make_example.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

RATE_HZ = 2000
SECONDS = 20
FULL_SCALE_MV = 10.0
BITS = 12
STEP_MV = 2 * FULL_SCALE_MV / 2**BITS
MEAN_HZ = 49.98

# order: (rms in µV, phase at the start in rad); the even ones are weak, as they mostly are
HUM = {
    1: (1310.0, 0.70), 2: (7.1, 2.1), 3: (92.0, -1.9), 4: (2.2, 0.3), 5: (131.0, 2.6),
    7: (58.0, -0.4), 9: (12.0, 1.1), 11: (27.0, -2.7), 13: (14.0, 0.2), 15: (3.0, 1.7),
    17: (5.8, -1.2), 19: (2.1, 2.9),
}  # fmt: skip
SHAFT_HZ = 24.3
SHAFT_UV = (41.0, 15.0)  # rms of the shaft's turn and of twice it
WHITE_UV = 1.0  # per √Hz
CORNER_HZ = 25.0  # below it the motion of the ground is the larger part

HEADER = """\
# Invented data. No bench and no instrument produced these numbers.
# A geophone amplifier stands beside a pump; the pump is on.
# instrument: none (invented data)
# start: 2026-03-03 14:02:00
# sample rate: 2000 Hz
# bits: 12
# mode: sample
# coupling: dc
# probe ratio: 1:1
# input ratio: 1:1
# trigger: free
# touching: nobody
geophone (mV)
"""


def main(path: Path) -> None:
    """Write the example to a path."""
    values = np.round(record_uv() / 1000 / STEP_MV) * STEP_MV
    values = np.clip(values, -FULL_SCALE_MV, FULL_SCALE_MV - STEP_MV)
    rows = "\n".join(f"{value:.4f}" for value in values)
    path.write_text(f"{HEADER}{rows}\n", encoding="utf-8", newline="\n")


def record_uv() -> np.ndarray:
    """Return the record before the converter [µV]."""
    draws = np.random.default_rng(1402)
    count = RATE_HZ * SECONDS
    time = np.arange(count) / RATE_HZ
    record = ground(draws, count) + 180 + 90 * np.sin(2 * np.pi * time / 33 + 0.5)
    turn = mains_phase(draws, time)
    for order, (rms, phase) in HUM.items():
        record += np.sqrt(2) * rms * np.cos(order * turn + phase)
    for order, rms in enumerate(SHAFT_UV, start=1):
        record += np.sqrt(2) * rms * np.cos(2 * np.pi * order * SHAFT_HZ * time + 0.4 * order)
    return record


def mains_phase(draws: np.random.Generator, time: np.ndarray) -> np.ndarray:
    """Return the phase of a grid whose frequency walks a few millihertz [rad]."""
    knots = np.arange(0, SECONDS + 2, 2.0)
    walk = np.cumsum(draws.normal(0, 0.004, knots.size))
    frequency = MEAN_HZ + np.interp(time, knots, walk - walk.mean())
    return np.asarray(2 * np.pi * np.cumsum(frequency) / RATE_HZ)


def ground(draws: np.random.Generator, count: int) -> np.ndarray:
    """Return white noise with a 1/f part below the corner [µV]."""
    white = draws.normal(0, WHITE_UV * np.sqrt(RATE_HZ / 2), count)
    spectrum = np.fft.rfft(white)
    frequency = np.fft.rfftfreq(count, 1 / RATE_HZ)
    frequency[0] = frequency[1]
    return np.asarray(np.fft.irfft(spectrum * np.sqrt(1 + CORNER_HZ / frequency), count))


if __name__ == "__main__":
    home = Path(__file__).parents[1] / "src/straypath/demo/invented-geophone.csv"
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else home)
