"""How things look: colours, type and sizes of every figure, in one place."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from matplotlib import font_manager

from straypath.report.faces import FAMILIES

PIXEL_PT: Final = 0.72
"""One layout pixel in points: sheets are laid out at 100 pixels per inch."""


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours by role. Text is only ink, quiet or caution; the rest is for marks."""

    paper: str
    ink: str
    quiet: str
    rule: str
    strong: str
    caution: str
    danger: str


LIGHT: Final = Palette(
    paper="#F5F7F5",
    ink="#17252D",
    quiet="#4C5C64",
    rule="#CBD4D2",
    strong="#76858B",
    caution="#8A5A00",
    danger="#A81B1B",
)
DARK: Final = Palette(
    paper="#12191C",
    ink="#E6ECEA",
    quiet="#A9B6B9",
    rule="#314046",
    strong="#74868D",
    caution="#F0B84A",
    danger="#FF8A7A",
)

X_HEIGHT: Final = 0.48
"""Every family is set so large that its x-height is this part of the size asked for."""


@dataclass(frozen=True, slots=True)
class Face:
    """The chosen family with its stand-ins for single letters, and its size correction."""

    families: tuple[str, ...]
    factor: float

    def points(self, pixels: float) -> float:
        """Return the font size for matplotlib [pt] for a size in layout pixels."""
        return pixels * self.factor * PIXEL_PT


@cache
def face() -> Face:
    """Return the first family of the stack that this machine has."""
    present = set(font_manager.get_font_names())
    name = next(family for family in FAMILIES if family in present)
    path = font_manager.findfont(font_manager.FontProperties(family=name))
    with TTFont(path, lazy=True, fontNumber=0) as font:
        height = getattr(font["OS/2"], "sxHeight", 0) / font["head"].unitsPerEm
    stand_ins = ("DejaVu Serif", "DejaVu Sans")  # for arrows and roots that a family may lack
    return Face((name, *(s for s in stand_ins if s != name)), X_HEIGHT / (height or 0.5))


# Sizes in layout pixels: size and line height.
TITLE: Final = (28.0, 34.0)
CONCLUSION: Final = (20.0, 31.0)
HEAD: Final = (17.0, 24.0)
FACTS: Final = (15.0, 22.0)
KEY: Final = (14.0, 20.0)
CHART: Final = 13.0
INTERVAL: Final = 0.86
"""Intervals stand a little smaller than the value they belong to."""

WIDTH: Final = 768.0
"""Sheet: edge 24, ribbon 20, gap 28, column 672, edge 24."""
EDGE: Final = 24.0
RIBBON: Final = 20.0
COLUMN_X: Final = 72.0
COLUMN: Final = 672.0
CHART_X: Final = COLUMN_X + 60.0
"""Charts leave room for their labels on the left of the column."""
CHART_WIDTH: Final = COLUMN - 60.0 - 8.0
