"""How often a bare floor is taken for a comb, against the rate that was promised."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.simulate import BROWN, PINK, WHITE, Floor
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb

RATE_HZ = 1_000.0
NOMINAL = (1e-1, 1e-2, 1e-3)


@dataclass(frozen=True)
class Cell:
    """One kind of bare floor."""

    duration_s: float
    floor: Floor

    def __str__(self) -> str:
        return f"{self.duration_s:5.1f} s  {self.floor.name:17s}"


@dataclass(frozen=True)
class Row:
    """The chances that were stated for bare floors; they should be even between 0 and 1."""

    cell: Cell
    chances: np.ndarray

    def over_nominal(self, rate: float) -> float:
        """Observed rate of false alarms over the nominal one."""
        return float(np.mean(self.chances < rate) / rate)

    def __str__(self) -> str:
        shown = "  ".join(f"{r:g}: {self.over_nominal(r):4.2f}" for r in NOMINAL)
        return f"{self.cell}  observed/nominal at {shown}  ({len(self.chances)} records)"


def cells(durations=(0.1, 0.2, 0.5, 2.0, 10.0)):
    """Every kind of floor in the table."""
    return [Cell(t, f) for t in durations for f in (WHITE, PINK, BROWN)]


def run(cell: Cell, draws: int, seed: int = 1) -> Row:
    """State the chance of a comb for bare floors."""
    rng = np.random.default_rng([seed, int(10 * cell.duration_s), int(cell.floor.corner_hz)])
    samples = int(cell.duration_s * RATE_HZ)
    found = [
        mains_comb(Channel("invented", cell.floor.draw(rng, samples, RATE_HZ), "V"), RATE_HZ)
        for _ in range(draws)
    ]
    return Row(cell, np.array([m.p_value if m.present or m.p_value > 1e-3 else 1.0 for m in found]))
