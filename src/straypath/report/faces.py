"""The type stack of pages and figures."""

from __future__ import annotations

from typing import Final

FAMILIES: Final = (
    "Charter",
    "Bitstream Charter",
    "Sitka Text",
    "Cambria",
    "Caladea",
    "Noto Serif",
    "DejaVu Serif",
    "Liberation Serif",
)
"""The first family that a machine has is used. matplotlib brings DejaVu Serif along."""
