"""The names of `straypath.arrays`, kept under their old address."""

from __future__ import annotations

from straypath.arrays import BoolArray, ComplexArray, FloatArray, IntArray

__all__ = ["BoolArray", "ComplexArray", "FloatArray", "IntArray"]
