"""Ceilings: values that pile up at the highest or lowest, told from tops that are merely round."""

from __future__ import annotations

from dataclasses import dataclass
from math import log2
from typing import TYPE_CHECKING, Literal

import numpy as np

from straypath.capture.soundness.records import Finding
from straypath.wording import share

if TYPE_CHECKING:
    from straypath.capture.soundness.evidence import Evidence
    from straypath.capture.soundness.survey import End

# A round top leaves at most 2.4 times as many samples on its last code as on the one before,
# √2 − 1 being the share of the second step in depth; synchronous sampling of a clean sine makes
# that 4.5 at worst. Eight is out of reach, and a sine that lost 0.1 % of its range is beyond it.
_PILE = 8.0
_BANDS = 16
_WIDTHS = (1 / 4096, 1 / 1024, 1 / 256, 1 / 64)  # of the range; coarse ones for short records
# Two equal neighbours happen where a sine is sampled evenly about its top; three do not.
_ROW = 2.5
_LEAST = 3
_RESTING = 0.6
"""From this share of the samples on the ends it may be a level at which the signal rests."""

Limit = Literal["", "converter", "zero"]


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
    if end.count < _LEAST:
        return None
    row = end.count / end.runs
    block = evidence.block(end.where, evidence.survey.blocks.length)
    on = int(np.count_nonzero(block == end.value))
    unit = max(abs(evidence.low), abs(evidence.high))
    depth = np.abs(block.astype(np.float64) / unit - float(end.value) / unit)
    depth = depth[block != end.value]
    found, near = False, 0
    for width in _widths(evidence, unit):
        # Codes lie on the upper edge of their band, give or take their rounding.
        place = np.maximum(np.ceil(depth / width - 0.1), 1.0)
        bands = np.bincount(place[place <= _BANDS].astype(np.int64), minlength=_BANDS + 1)
        filled, near = int(np.count_nonzero(bands)), int(bands.sum())
        steady = row >= _ROW * evidence.closeup.held or filled >= 0.75 * _BANDS
        found = found or (steady and on >= max(_LEAST, _PILE * float(bands.max())))
    if not found:
        return None
    return Pile(end.count / evidence.survey.finite, _limit(evidence, end), near == 0)


def _widths(evidence: Evidence, unit: float) -> list[float]:
    """Return band widths in parts of `unit`: whole steps, and never below the rounding."""
    span = evidence.high / unit - evidence.low / unit
    step = (evidence.closeup.step or 0.0) / unit
    dtype = evidence.channel.raw.dtype
    grain = 4.0 * float(np.finfo(dtype).eps) if dtype.kind == "f" else 0.0
    widths = [max(span * part, grain, step) for part in _WIDTHS]
    return [round(w / step) * step if step else w for w in widths]


def _limit(evidence: Evidence, end: End) -> Limit:
    """Return what is known to stop the values at this end."""
    value = float(end.value)
    step = evidence.closeup.step or 0.0
    margin = max(0.75 * step, 1e-6 * abs(value))
    full = evidence.full_scale
    if full is not None and (value - full[end.sign > 0]) * end.sign >= -margin:
        return "converter"
    bits = evidence.capture.acquisition.bits
    steps = evidence.steps_moved
    if bits and steps and round(steps) + 1 >= 2**bits:
        return "converter"
    dtype = evidence.channel.raw.dtype
    if dtype.kind not in "iu":
        return ""
    if dtype.kind == "u" and end.sign < 0 and end.value == 0:
        return "zero"
    ends = np.iinfo(dtype)
    if abs(value - (ends.max if end.sign > 0 else ends.min)) <= margin:
        return "converter"
    return "converter" if _is_power(value, step, end.sign) else ""


def _is_power(value: float, step: float, sign: int) -> bool:
    """Whether an integer is the end of a binary range: 2ᵏ − 1, or −2ᵏ, in steps; k ≥ 6."""
    codes = value / step + 1.0 if sign > 0 else -value / step
    return codes >= 64 and codes == round(codes) and log2(codes) % 1.0 == 0.0


def judge(evidence: Evidence, found: Piles) -> tuple[list[Finding], float]:
    """Return the finding, and the clipped part of the samples."""
    stopped = [p for p in found if p is not None and p.limit]
    if stopped:
        part = sum(p.share for p in stopped)
        return [_clipped(part, sure=any(p.limit == "converter" for p in stopped))], part
    flat = [p for p in found if p is not None]
    part = sum(p.share for p in flat)
    if part >= _RESTING:
        return [_resting(part, ends=len(flat))], 0.0
    # A value that stands alone is a level of its own: a pulse, or a filler for missing samples.
    flat = [p for p in flat if not p.alone]
    part = sum(p.share for p in flat)
    if not flat or evidence.closeup.distinct <= _LEAST:
        return [], 0.0
    where = "highest and lowest values" if len(flat) == 2 else _which(found, flat[0])
    return [
        Finding(
            "clipping",
            "caution",
            f"It may be clipped. {share(part)} of the samples sit on the {where}.",
            "Widen the range or lower the signal, and see whether the flat tops go.",
        )
    ], part


def _which(found: Piles, one: Pile) -> str:
    return "lowest value" if found[0] is one else "highest value"


def _clipped(part: float, *, sure: bool) -> Finding:
    if sure:
        return Finding(
            "clipping",
            "unsound",
            f"It is clipped. {share(part)} of the samples sit at the end of the range.",
            "Widen the range or lower the signal, and record again: clipping makes harmonics.",
        )
    return Finding(
        "clipping",
        "caution",
        f"It may be clipped. {share(part)} of the samples are zero, the least that can be given.",
        "Raise the level above zero, and see whether the signal goes further down.",
    )


def _resting(part: float, *, ends: int) -> Finding:
    level = "its highest or lowest value" if ends == 2 else "one end of what it spans"
    return Finding(
        "flat-tops",
        "note",
        f"It rests at {level} for {share(part)} of the time. It may be clipped, or made so.",
        "If it should be no switched signal, widen the range and record again.",
    )
