"""Lines outside the mains: false alarms in bare floors, and how weak a line is still seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from straypath.capture.capture import Channel
from straypath.contents.comb import CombReading
from straypath.contents.lines.find import find_lines
from straypath.contents.records import MainsComb

RATE_HZ = 10_000.0
FALSE_ALARM_RATE = 1e-3


@dataclass(frozen=True)
class Cell:
    """One floor and length; with a line of this P T/S in decibels, or without any."""

    floor: str
    samples: int
    level_db: float | None = None


@dataclass(frozen=True)
class Row:
    """Share of records in which a line was seen."""

    cell: Cell
    seen: float
    draws: int

    def __str__(self) -> str:
        cell = self.cell
        if cell.level_db is None:
            times = self.seen / FALSE_ALARM_RATE
            return (
                f"{cell.floor:10s} {cell.samples:8d} samples  false lines {times:5.2f} x nominal"
                f"  ({self.draws} records)"
            )
        return (
            f"{cell.floor:10s} {cell.samples:8d} samples  P T/S {cell.level_db:4.1f} dB"
            f"  seen {self.seen:6.1%}  ({self.draws} records)"
        )


def cells() -> list[Cell]:
    """Bare floors first, then lines in a white floor."""
    floors = ("white", "1/f", "1/f2", "resonant 20", "resonant 200")
    bare = [Cell(floor, n) for floor in floors for n in (2_000, 20_000, 200_000)]
    levels = (14.5, 16.5, 17.5, 18.5)
    return bare + [Cell("white", n, db) for n in (20_000, 200_000) for db in levels]


def run(cell: Cell, draws: int) -> Row:
    """Draw records and count those in which a line is seen."""
    count = draws if cell.level_db is None else max(50, draws // 20)
    count = count if cell.samples <= 20_000 else max(50, count // 10)
    rng = np.random.default_rng([cell.samples, *cell.floor.encode()])
    return Row(cell, sum(_is_seen(cell, rng) for _ in range(count)) / count, count)


def _is_seen(cell: Cell, rng: np.random.Generator) -> bool:
    x = bare_floor(cell.floor, cell.samples, RATE_HZ, rng)
    f_hz = float(rng.uniform(100.0, 4_800.0))
    duration_s = cell.samples / RATE_HZ
    if cell.level_db is not None:
        amplitude = np.sqrt(2 * 10 ** (cell.level_db / 10) * 2 / RATE_HZ / duration_s)
        t = np.arange(cell.samples) / RATE_HZ
        x += amplitude * np.cos(2 * np.pi * f_hz * t + rng.uniform(-np.pi, np.pi))
    none = CombReading(MainsComb.not_read("no mains here", FALSE_ALARM_RATE))
    channel = Channel("invented", x, "V")
    tones = find_lines(channel, RATE_HZ, none, false_alarm_rate=FALSE_ALARM_RATE).tones
    if cell.level_db is None:
        return bool(tones)
    return any(abs(tone.frequency_hz - f_hz) < 2 / duration_s for tone in tones)


def bare_floor(kind: str, n: int, rate_hz: float, rng: np.random.Generator) -> np.ndarray:
    """Noise of one shape: white, 1/f with roll-off, 1/f² or white with a resonance of some Q."""
    f = np.fft.rfftfreq(n, 1 / rate_hz)
    f[0] = f[1]
    if kind == "white":
        shape = np.ones_like(f)
    elif kind == "1/f":
        shape = np.sqrt(1 + rate_hz / 20 / f) / np.sqrt(1 + (f / (rate_hz / 8)) ** 4)
    elif kind == "1/f2":
        shape = f[-1] / f
    else:
        at, q = rate_hz / 7.3, float(kind.split()[1])
        shape = np.abs(1 / (1 - (f / at) ** 2 + 1j * f / at / q)) + 0.1
    return np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * shape, n)
