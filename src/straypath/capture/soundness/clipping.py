"""The judgement on ceilings: clipped, perhaps clipped, or a signal that rests at its ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straypath.capture.soundness.records import Finding
from straypath.wording import share

if TYPE_CHECKING:
    from straypath.capture.soundness.piles import Pile, Piles

_RESTING = 0.6
"""From this share of the samples on the ends it may be a level at which the signal rests."""


def judge(found: Piles) -> tuple[list[Finding], float]:
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
    if not flat:
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
