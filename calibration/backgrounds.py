"""A known comb put into real recordings beside the mains: do the intervals hold it?

Speech, a heart beat and a lamp are neither stationary nor smooth in frequency, which no noise
model knows. The recordings and their origin are in tests/recordings.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from calibration.simulate import comb
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb
from straypath.quantity import Quantity

RECORDINGS = Path(__file__).parent.parent / "tests" / "recordings"
# Where the comb goes: away from the recording's own mains and lamp lines.
PLACES = {
    "scipy_ecg": (47.3, 53.1),
    "pocketsphinx_librivox_0870": (50.0, 120.0),
    "bsnb_sync_light_1": (46.7, 61.3),
}
# Hum that dominates, as on a bench: weaker, and the voice itself is the stronger comb near 120 Hz.
AMPLITUDE_OVER_RMS = 2.0


@dataclass(frozen=True)
class Cell:
    """One recording, one place, one length."""

    recording: str
    f0_hz: float
    cycles: int

    def __str__(self) -> str:
        return f"{self.recording:27s} {self.f0_hz:5.1f} Hz {self.cycles:4d} cycles"


@dataclass(frozen=True)
class Row:
    """Coverage of the fundamental's amplitude, and the width of its interval over the ideal."""

    cell: Cell
    coverage: float
    width: float
    missed: int
    draws: int

    def __str__(self) -> str:
        return (
            f"{self.cell}  coverage {100 * self.coverage:5.1f} %  width/ideal {self.width:4.2f}"
            f"  missed {self.missed}/{self.draws}"
        )


def cells(cycles=(5, 10, 20, 50, 200)):
    """Every kind of record in the table, as far as the recordings are long enough."""
    return [Cell(r, f, c) for r, places in PLACES.items() for f in places for c in cycles]


def run(cell: Cell, draws: int, seed: int = 1) -> Row:
    """Inject a comb of known amplitude at random places and phases."""
    with np.load(RECORDINGS / f"{cell.recording}.npz") as file:
        whole, rate_hz = file["samples"].astype(float), float(file["fs"])
    rng = np.random.default_rng([seed, cell.cycles, int(cell.f0_hz)])
    samples = int(cell.cycles / cell.f0_hz * rate_hz)
    amplitude = AMPLITUDE_OVER_RMS * float(np.std(whole))
    hits, widths, errors, missed = [], [], [], 0
    for _ in range(draws):
        start = rng.integers(0, len(whole) - samples)
        part = whole[start : start + samples]
        phases = {1: rng.uniform(-np.pi, np.pi), 2: rng.uniform(-np.pi, np.pi)}
        x = part + comb(samples, rate_hz, cell.f0_hz, {1: amplitude, 2: 0.2 * amplitude}, phases)
        found = mains_comb(Channel("mixed", x), rate_hz, mains=cell.f0_hz)
        line = found.lines[0] if found.lines else None
        if not found.present or line is None or not isinstance(line.rms, Quantity):
            missed += 1
            continue
        true = amplitude / np.sqrt(2)
        hits.append(line.rms.low <= true <= line.rms.high)
        widths.append(line.rms.high - line.rms.low)
        errors.append(line.rms.value - true)
    # The ideal interval knows how far readings stray in this recording: it just holds 95 %.
    ideal = 2 * float(np.quantile(np.abs(errors), 0.95)) if errors else np.nan
    coverage = float(np.mean(hits)) if hits else np.nan
    width = float(np.mean(widths)) / ideal if errors else np.nan
    return Row(cell, coverage, width, missed, draws)
