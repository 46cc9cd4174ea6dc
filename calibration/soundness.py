"""How often the soundness check speaks of sound records, and of faults that were put in."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from straypath.capture.capture import Capture, Channel
from straypath.capture.soundness import check_soundness

RATE_HZ = 10_000.0
WATCHED = ("clipping", "stuck", "repeated-samples", "peak-mode", "outlier", "drift")
BITS = (None, 8, 10, 12, 14, 16)  # None: floats
HUNG = 16


@dataclass(frozen=True)
class Cell:
    """One kind of record: whole, or with a fault of some depth.

    `kind` is a key of SOUND or of FAULTY. `samples` 0 draws length and bits anew for each record.
    `depth` is the part of a sine's range that is cut off at each end, or where noise is cut, in
    standard deviations.
    """

    kind: str
    samples: int = 0
    bits: int | None = None
    depth: float = 0.0

    def __str__(self) -> str:
        form = "any length and bits" if not self.samples else f"{self.samples:7d} samples"
        form += f" {self.bits} bits" if self.bits else ""
        return f"{self.kind:18s} {form:26s} {self.depth or '':6}"


@dataclass(frozen=True)
class Row:
    """How many records bore each of the watched findings."""

    cell: Cell
    found: Counter
    draws: int

    def __str__(self) -> str:
        said = "  ".join(f"{name} {self.found[name]}" for name in WATCHED)
        return f"{self.cell}  {said}  of {self.draws}"


def sine(rng, n):
    return np.sin(2 * np.pi * rng.uniform(1, n / 4) * np.arange(n) / n + rng.uniform(0, 2 * np.pi))


def synchronous(rng, n):
    period = rng.integers(4, max(5, min(n // 3, 400)))
    return np.sin(2 * np.pi * np.arange(n) / period + rng.uniform(0, 2 * np.pi))


def triangle(rng, n):
    return 2 / np.pi * np.arcsin(sine(rng, n))


def two_tones(rng, n):
    return sine(rng, n) + rng.uniform(0.05, 1) * sine(rng, n)


def sine_in_noise(rng, n):
    return sine(rng, n) + rng.uniform(0.001, 0.3) * rng.standard_normal(n)


def falling(rng, n):
    """Return 1/f noise."""
    spectrum = np.fft.rfft(rng.standard_normal(n))
    return np.fft.irfft(spectrum / np.sqrt(np.maximum(np.arange(len(spectrum)), 1)), n)


SOUND = {
    "sine": sine,
    "synchronous sine": synchronous,
    "triangle": triangle,
    "two tones": two_tones,
    "sine in noise": sine_in_noise,
    "gaussian noise": lambda rng, n: rng.standard_normal(n),
    "even noise": lambda rng, n: rng.uniform(-1, 1, n),
    "exponential noise": lambda rng, n: rng.exponential(1, n),
    "1/f noise": falling,
    "random walk": lambda rng, n: np.cumsum(rng.standard_normal(n)),
}


def cut_sine(rng, cell):
    cycles = 100 + rng.uniform(-1, 1)
    wave = np.sin(2 * np.pi * cycles * np.arange(cell.samples) / cell.samples + rng.uniform(0, 6))
    top = 1 - 2 * cell.depth
    return np.clip(_coded(wave, cell.bits), -top * _half(cell.bits), top * _half(cell.bits))


def cut_noise(rng, cell):
    return np.clip(rng.standard_normal(cell.samples), -cell.depth, cell.depth)


def hung(rng, cell):
    wave = _coded(0.3 * sine_in_noise(rng, cell.samples), cell.bits)
    at = rng.integers(0, cell.samples - HUNG)
    wave[at : at + HUNG] = wave[at]
    return wave


FAULTY = {"cut sine": cut_sine, "cut noise": cut_noise, "hanging reading": hung}


def _half(bits):
    return 1.0 if bits is None else 0.8 * 2.0 ** (bits - 1)


def _coded(wave, bits):
    """Floats, or codes over up to eight tenths of the converter's range."""
    return wave if bits is None else np.round(_half(bits) * wave)


def cells() -> list[Cell]:
    """Every kind of record in the table."""
    return [
        *(Cell(kind) for kind in SOUND),
        *(
            Cell("cut sine", 20_000, b, d)
            for b, d in ((None, 0.001), (None, 0.002), (12, 0.002), (8, 0.02))
        ),
        *(Cell("cut noise", n, None, 3.0) for n in (2_000, 20_000, 200_000)),
        Cell("cut noise", 200_000, None, 4.0),
        Cell("hanging reading", 20_000, 16),
    ]


def run(cell: Cell, draws: int, seed: int = 1) -> Row:
    """Draw records of one kind and count what is said of them."""
    rng = np.random.default_rng([seed, *cell.kind.encode(), cell.samples, cell.bits or 0])
    found = Counter()
    for _ in range(draws):
        channel = Channel("invented", _record(rng, cell), "V")
        said = check_soundness(Capture((channel,), RATE_HZ), channel)
        found.update(f.id for f in said.findings if f.id in WATCHED)
    return Row(cell, found, draws)


def _record(rng, cell):
    if cell.kind in FAULTY:
        x = FAULTY[cell.kind](rng, cell)
        return x.astype(np.int16) if cell.bits else x
    n = int(10 ** rng.uniform(np.log10(30), 5))
    bits = BITS[rng.integers(len(BITS))]
    x = SOUND[cell.kind](rng, n)
    if bits is None:
        return x
    # The loudest sample stays inside the range: nothing is cut.
    return np.round(x / np.abs(x).max() * rng.uniform(0.3, 0.95) * 2.0 ** (bits - 1)).astype(
        np.int16
    )
