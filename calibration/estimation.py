"""Errors of frequency, amplitude and phase against their Cramér–Rao bounds, and coverage."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import product

import numpy as np

from calibration.simulate import PINK, TYPICAL, WHITE, Floor, amplitude_for, comb
from straypath.capture.capture import Channel
from straypath.contents.bounds import amplitude_bound, comb_frequency_bound_hz, phase_bound_rad
from straypath.contents.comb import mains_comb
from straypath.contents.fisher import comb_bounds
from straypath.quantity import Quantity

# Up to here the exact Fisher matrix with offset and slope unknown; beyond, its limit.
EXACT_CYCLES = 5
ORDERS_SHOWN = (1, 3)


@dataclass(frozen=True)
class Cell:
    """One kind of record."""

    cycles: int
    floor: Floor
    rho_db: float
    harmonics: bool

    @property
    def rate_hz(self) -> float:
        return 5_000.0 if self.cycles <= 100 else 2_500.0

    def __str__(self) -> str:
        wave = "harmonics" if self.harmonics else "pure"
        return f"{self.cycles:5d} cycles  {self.floor.name:17s} {self.rho_db:3.0f} dB  {wave:9s}"


@dataclass
class Row:
    """Normalised errors and hits of one cell."""

    cell: Cell
    draws: int = 0
    missed: int = 0
    errors: dict = field(default_factory=lambda: {"f0": [], "A": [], "phase": []})
    hits: dict = field(default_factory=lambda: {"f0": [], "A": [], "phase": []})

    def ratio(self, what: str) -> float:
        """Root mean square error over the bound."""
        return float(np.sqrt(np.mean(np.square(self.errors[what]))))

    def coverage(self, what: str) -> float:
        return float(np.mean(self.hits[what]))

    def __str__(self) -> str:
        ratios = "  ".join(f"{self.ratio(w):5.2f}" for w in self.errors)
        hits = "  ".join(f"{100 * self.coverage(w):5.1f}" for w in self.errors)
        return f"{self.cell}  rms/bound {ratios}   coverage % {hits}   missed {self.missed}"


def cells(cycles=(2, 3, 5, 10, 20, 50, 100, 1000), rhos=(20.0, 40.0, 60.0, 80.0)):
    """Every kind of record in the table."""
    return [Cell(*choice) for choice in product(cycles, (WHITE, PINK), rhos, (False, True))]


def run(cell: Cell, draws: int, seed: int = 1) -> Row:
    """Draw records of one kind and compare what is read with what was put in."""
    rng = np.random.default_rng(
        [seed, cell.cycles, int(cell.rho_db), cell.harmonics, int(cell.floor.corner_hz)]
    )
    row = Row(cell)
    duration_s = cell.cycles / 50.0
    samples = int(duration_s * cell.rate_hz)
    first = amplitude_for(cell.rho_db, float(cell.floor.density(50.0)), duration_s)
    wave = TYPICAL if cell.harmonics else {1: 1.0}
    amplitudes = {k: a * first for k, a in wave.items()}
    for _ in range(draws):
        f0 = 50.0 + rng.normal(0.0, 0.05)
        phases = {k: rng.uniform(-np.pi, np.pi) for k in amplitudes}
        x = comb(samples, cell.rate_hz, f0, amplitudes, phases)
        x += cell.floor.draw(rng, samples, cell.rate_hz)
        found = mains_comb(Channel("invented", x, "V"), cell.rate_hz)
        row.draws += 1
        if not found.present or found.nominal_hz != 50.0:
            row.missed += 1
            continue
        _compare(row, found, f0, amplitudes, phases, _bounds(cell, f0, amplitudes, phases))
    return row


def _bounds(cell, f0, amplitudes, phases):
    """Bounds of f0, and of amplitude and phase by order; orders under 16 dB carry nothing."""
    duration_s = cell.cycles / 50.0
    density = {k: float(cell.floor.density(k * f0)) for k in amplitudes}
    rho = {k: 20 * np.log10(a / np.sqrt(density[k] / duration_s)) for k, a in amplitudes.items()}
    shown = {k: r for k, r in rho.items() if k in ORDERS_SHOWN and r >= 12.0}
    counted = [k for k in amplitudes if rho[k] >= 16.0]
    if cell.cycles > EXACT_CYCLES:
        a = np.array([amplitudes[k] for k in counted])
        s = np.array([density[k] for k in counted])
        f = float(comb_frequency_bound_hz(np.array(counted), a, s, duration_s))
        return f, {
            k: (
                float(amplitude_bound(density[k], duration_s)),
                float(phase_bound_rad(amplitudes[k], density[k], duration_s)),
            )
            for k in shown
        }
    exact = comb_bounds(
        f0,
        counted,
        [amplitudes[k] for k in counted],
        [phases[k] for k in counted],
        samples=int(duration_s * cell.rate_hz),
        rate_hz=cell.rate_hz,
        density=1.0 if cell.floor is WHITE else cell.floor.density,
        nuisance=2,
    )
    index = {k: i for i, k in enumerate(counted)}
    return exact.frequency_hz, {
        k: (exact.amplitudes[index[k]], exact.phases_rad[index[k]]) for k in shown if k in index
    }


def _compare(row, found, f0, amplitudes, phases, bounds):
    f_bound, by_order = bounds
    row.errors["f0"].append((found.frequency_hz.value - f0) / f_bound)
    row.hits["f0"].append(found.frequency_hz.low <= f0 <= found.frequency_hz.high)
    for k, (a_bound, p_bound) in by_order.items():
        line = found.lines[k - 1]
        if not isinstance(line.rms, Quantity):
            continue
        true_rms = amplitudes[k] / np.sqrt(2)
        row.errors["A"].append((line.rms.value - true_rms) * np.sqrt(2) / a_bound)
        row.hits["A"].append(line.rms.low <= true_rms <= line.rms.high)
        off = np.angle(np.exp(1j * (line.phase_rad.value - phases[k])))
        row.errors["phase"].append(off / p_bound)
        row.hits["phase"].append(abs(off) <= line.phase_rad.high - line.phase_rad.value)
