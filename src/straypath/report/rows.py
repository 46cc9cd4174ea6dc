"""The table of the strongest lines as texts, for every place that shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from straypath.quantity import Quantity
from straypath.wording import Scale, interval, interval_places, reading_places

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.contents.records import MainsComb, MainsLine

MOST: Final = 8
_FIGURE_SPACE: Final = "\u2007"  # as wide as a digit


@dataclass(frozen=True, slots=True)
class Rows:
    """Column titles by heading, rows in the same order, and what a narrow place goes without."""

    titles: dict[str, str]
    rows: tuple[tuple[str, ...], ...]
    spared: tuple[str, ...] = ("phase", "interval", "frequency")


def line_rows(mains: MainsComb, unit: str, most: int = MOST) -> Rows:
    """Return the strongest lines, all in one unit, with their points below one another."""
    lines = sorted(mains.detected, key=lambda line: (-line.rms.value, line.order))[:most]
    scale = Scale.of(max((line.rms.value for line in lines), default=0.0), unit)
    rms = [line.rms for line in lines if isinstance(line.rms, Quantity)]
    places = [reading_places(value, scale) for value in rms]
    columns = (
        [str(line.order) for line in lines],
        aligned([_frequency(line) for line in lines]),
        aligned([scale.number(v.value, p) for v, p in zip(rms, places, strict=True)]),
        [interval(v.low, v.high, scale, p) for v, p in zip(rms, places, strict=True)],
        aligned([_phase(line) for line in lines]),
    )
    titles = {
        "order": "order",
        "frequency": "frequency Hz",
        "rms": f"rms {scale.unit}".rstrip(),
        "interval": "95 % interval",
        "phase": "phase rad",
    }
    return Rows(titles, tuple(zip(*columns, strict=True)))


def _frequency(line: MainsLine) -> str:
    return Scale("Hz", 1.0).number(
        line.frequency_hz.value, max(0, reading_places(line.frequency_hz, Scale("Hz", 1.0)))
    )


def _phase(line: MainsLine) -> str:
    if line.phase_rad is None:
        return ""
    places = interval_places((line.phase_rad.high - line.phase_rad.low) / 2)
    return Scale("", 1.0).number(line.phase_rad.value, min(max(places, 0), 4))


def aligned(numbers: Sequence[str]) -> list[str]:
    """Return numbers padded on the right so that their points stand below one another."""
    tails = [len(number.partition(".")[1] + number.partition(".")[2]) for number in numbers]
    widest = max(tails, default=0)
    return [n + _FIGURE_SPACE * (widest - tail) for n, tail in zip(numbers, tails, strict=True)]
