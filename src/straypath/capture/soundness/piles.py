"""Samples that pile up at the highest or lowest value, told from tops that are merely round."""

from __future__ import annotations

from dataclasses import dataclass
from math import log2
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from straypath.capture.soundness.survey import BLOCK

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.capture.soundness.evidence import Evidence
    from straypath.capture.soundness.survey import End

Limit = Literal["", "converter", "zero"]

# The depth below the end is cut into bands and the end itself is held against the fullest. Sixteen
# of the widest reach a quarter of the range down: beyond it a round top is no longer one.
_BANDS = 16
_WIDTHS = (1 / 4096, 1 / 1024, 1 / 256, 1 / 64)  # of the range; coarse ones for short records
# A round top leaves at most 2.4 times as many samples on its last code as on the one before:
# its first step in depth takes 1/(√2 − 1) times as long as its second. Synchronous sampling of a
# clean sine makes that 4.5 at worst. A sine that lost 0.2 % of its range comes to 8.
_OVER_TOP = 8.0
# Where samples do not follow each other smoothly, a synchronous top is hardly possible. How often
# these limits err is counted by `python -m calibration 1000 soundness`.
_OVER_NOISE, _LEAST_IN_NOISE = 4.0, 16
# Two equal neighbours happen where a sine is sampled evenly about its top; three do not.
_ROW = 2.5
_LEAST = 3
_FEW_VALUES = 3  # with so few, any value is an end and none has a neighbourhood


@dataclass(frozen=True)
class Pile:
    """Samples piled up at one end of the range.

    Parameters
    ----------
    share : float
        Of the finite samples.
    limit : str
        "converter" when the converter can give no more, "zero" when it is an unsigned zero,
        "" when nothing is known to stop there.
    alone : bool
        Whether a quarter of the range next to it is empty.
    """

    share: float
    limit: Limit
    alone: bool


Piles = tuple[Pile | None, Pile | None]
"""At the lowest and at the highest value."""


def piles(evidence: Evidence) -> Piles:
    """Return the piles at the lowest and at the highest value."""
    if not evidence.moves or evidence.survey.finite < 2 * _LEAST:
        return None, None
    return _pile(evidence, evidence.survey.low), _pile(evidence, evidence.survey.high)


def _pile(evidence: Evidence, end: End) -> Pile | None:
    rows = end.count / end.runs >= _ROW * evidence.closeup.held
    if end.count < _LEAST or not (rows or end.count >= _LEAST_IN_NOISE):
        return None
    share, limit = end.count / evidence.survey.finite, limit_at(evidence, end)
    if evidence.closeup.distinct <= _FEW_VALUES:
        return Pile(share, limit, alone=True) if rows and limit == "converter" else None
    unit = max(abs(evidence.low), abs(evidence.high))
    block = _around(evidence, end)
    off = block != end.value
    on = len(block) - int(np.count_nonzero(off))
    depth = np.abs(block[off].astype(np.float64) / unit - float(end.value) / unit)
    found, near = False, 0
    for width in _widths(evidence, unit):
        bands = _in_bands(depth, width)
        found = found or _piled(on, bands, rows=rows)
        near = int(bands.sum())
    return Pile(share, limit, alone=near == 0) if found else None


def _around(evidence: Evidence, end: End) -> NDArray[Any]:
    """Return up to 2¹⁸ samples about the block that holds most of the end."""
    start = max(min(end.where, evidence.survey.samples - BLOCK), 0)
    return evidence.block(start, BLOCK)


def _in_bands(depth: NDArray[np.float64], width: float) -> NDArray[np.int64]:
    """Return how many samples lie in each band below the end, nearest first."""
    # A code lies on the far edge of its band, give or take its rounding.
    place = np.ceil(depth / width - 0.1)
    inside = np.maximum(place[place <= _BANDS], 1.0).astype(np.int64)
    return np.bincount(inside, minlength=_BANDS + 1)[1:]


def _piled(on: int, bands: NDArray[np.int64], *, rows: bool) -> bool:
    """Whether the end holds more than any smooth top or tail could."""
    fullest = int(bands.max())
    if rows:
        # What settles slowly towards a level comes ever more densely; what is cut does not.
        first, second, third = (int(n) for n in bands[:3])
        settles = third > 0 and first > 1.5 * second and second > 1.2 * third
        return on >= max(_LEAST, _OVER_TOP * fullest) and not settles
    filled = int(np.count_nonzero(bands)) >= 0.75 * _BANDS
    return filled and on >= max(_LEAST_IN_NOISE, _OVER_NOISE * fullest)


def _widths(evidence: Evidence, unit: float) -> list[float]:
    """Return band widths in parts of `unit`: whole steps, and never below the rounding."""
    span = evidence.high / unit - evidence.low / unit
    step = (evidence.closeup.step or 0.0) / unit
    dtype = evidence.channel.raw.dtype
    grain = 4.0 * float(np.finfo(dtype).eps) if dtype.kind == "f" else 0.0
    widths = [max(span * part, grain, step) for part in _WIDTHS]
    return [round(w / step) * step if step else w for w in widths]


# Where a converter ends ---------------------------------------------------------------------


def limit_at(evidence: Evidence, end: End) -> Limit:
    """Return what is known to stop the values at this end."""
    value, steps = float(end.value), evidence.steps_moved or 0.0
    # A step tells how near is near enough, once there are so many that it must be the true one.
    step = evidence.closeup.step if evidence.closeup.step and steps > 64 else 0.0
    margin = max(0.75 * step, 1e-6 * abs(value))
    full = evidence.full_scale
    if full is not None:
        beyond = (value - full[1]) if end.sign > 0 else (full[0] - value)
        return "converter" if beyond >= -margin else ""
    bits = evidence.capture.acquisition.bits
    if bits and round(steps) + 1 >= 2.0 ** min(bits, 64):
        return "converter"
    dtype = evidence.channel.raw.dtype
    if dtype.kind not in "iu":
        return ""
    if dtype.kind == "u" and end.sign < 0 and end.value == 0:
        return "zero"
    ends = np.iinfo(dtype)
    # Symmetrical converters leave out the very lowest code.
    if abs(value - (ends.max if end.sign > 0 else ends.min)) <= max(margin, 1.0):
        return "converter"
    return "converter" if _ends_binary(value, step or 1.0, end.sign) else ""


def _ends_binary(value: float, step: float, sign: int) -> bool:
    """Whether an integer ends a binary range: 2ᵏ − 1, or −2ᵏ, in steps; k ≥ 6."""
    codes = value / step + 1.0 if sign > 0 else -value / step
    return codes >= 64 and codes == round(codes) and log2(codes) % 1.0 == 0.0
