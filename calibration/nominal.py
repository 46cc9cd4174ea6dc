"""Whether claims of 50 against 60 Hz on very short records are right as often as they should."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.simulate import TYPICAL, comb
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb

RATE_HZ = 20_000.0
CLAIM = 0.95
# Classes of wave (invented): amplitudes against the fundamental.
WAVES = {
    "pure": {1: 1.0},
    "typical": TYPICAL,
    "harmonic-rich": {1: 1.0, 2: 0.1, 3: 0.6, 5: 0.4, 7: 0.25, 9: 0.15, 11: 0.1, 13: 0.08},
}


@dataclass(frozen=True)
class Cell:
    """One length, one class of wave, one signal-to-noise ratio per sample."""

    duration_ms: int
    wave: str
    snr_db: float

    def __str__(self) -> str:
        return f"{self.duration_ms:3d} ms  {self.wave:14s} {self.snr_db:3.0f} dB"


@dataclass(frozen=True)
class Row:
    """How often a claim was made, and how often it was right."""

    cell: Cell
    claims: int
    right: int
    draws: int

    @property
    def right_share(self) -> float:
        """Right claims among claims; nan when none was made."""
        return self.right / self.claims if self.claims else float("nan")

    def __str__(self) -> str:
        return (
            f"{self.cell}  claimed {100 * self.claims / self.draws:5.1f} %"
            f"  of which right {100 * self.right_share:5.1f} %"
        )


def cells(durations=(10, 15, 20, 30, 40), snrs=(20.0, 40.0, 60.0)):
    """Every kind of record in the table."""
    return [Cell(t, w, s) for t in durations for w in WAVES for s in snrs]


def run(cell: Cell, draws: int, seed: int = 1) -> Row:
    """Draw 50 and 60 Hz records in equal parts and see what is claimed."""
    wave = WAVES[cell.wave]
    rng = np.random.default_rng(
        [seed, cell.duration_ms, list(WAVES).index(cell.wave), int(cell.snr_db)]
    )
    samples = int(cell.duration_ms * RATE_HZ / 1000)
    noise = 10 ** (-cell.snr_db / 20) / np.sqrt(2)
    claims = right = 0
    for i in range(draws):
        nominal = (50.0, 60.0)[i % 2]
        phases = {k: rng.uniform(-np.pi, np.pi) for k in wave}
        x = comb(samples, RATE_HZ, nominal + rng.normal(0, 0.03), wave, phases)
        x += noise * rng.standard_normal(samples) + rng.normal()
        found = mains_comb(Channel("invented", x, "V"), RATE_HZ)
        if found.nominal_probability > CLAIM:
            claims += 1
            right += found.nominal_hz == nominal
    return Row(cell, claims, right, draws)
