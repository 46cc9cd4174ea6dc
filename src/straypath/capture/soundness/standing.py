"""Judgements on samples that repeat: hanging readings, held values, pairs of extremes."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.soundness.records import Finding
from straypath.wording import count, number

if TYPE_CHECKING:
    from straypath.capture.soundness.evidence import Evidence
    from straypath.capture.soundness.piles import Piles
    from straypath.capture.soundness.stretches import Span


# A waveform that rests by its nature spends much of its time in long rows, or returns to the
# same level again and again; a reading that hangs does neither.
_NATURAL_SHARE = 0.2
_NATURAL_RETURNS = 8
# At the worst noise, 0.8 to 1 step, chance makes a row of 16 that ends with a jump of four steps
# in fewer than 1 % of records of 50 M samples.
_JUMP_STEPS = 4.0
_JUMP_SPAN = 1e-4


def stuck_spans(evidence: Evidence, found: Piles) -> list[Span]:
    """Return where the reading hangs: one value held long, left or entered with a jump."""
    runs = evidence.survey.runs
    if not evidence.moves or runs.samples > _NATURAL_SHARE * evidence.survey.samples:
        return []
    least = max(_JUMP_STEPS * (evidence.closeup.step or 0.0), _JUMP_SPAN * evidence.span)
    ceilings = {
        float(end.value)
        for end, pile in zip((evidence.survey.low, evidence.survey.high), found, strict=True)
        if pile is not None and not pile.alone
    }
    hung = []
    for span in runs.spans:
        value, jump = _held(evidence, span)
        if np.isfinite(value) and value not in ceilings and jump >= least:
            hung.append((span, value))
    returns = Counter(value for _, value in hung)
    return [span for span, value in hung if returns[value] < _NATURAL_RETURNS]


def _held(evidence: Evidence, span: Span) -> tuple[float, float]:
    """Return the value of a run and the larger of the jumps into it and out of it."""
    raw, (first, past) = evidence.channel.raw, span
    around = [float(v) for v in np.asarray(raw[max(first - 1, 0) : first + 1])]
    after = [float(v) for v in np.asarray(raw[past : past + 1])]
    value = around[-1]
    jumps = [abs(other - value) for other in [*around[:-1], *after]]
    return value, max((jump for jump in jumps if np.isfinite(jump)), default=0.0)


def stuck(evidence: Evidence, spans: list[Span]) -> list[Finding]:
    """Return whether the reading hangs in places."""
    if not spans:
        return []
    longest = max(b - a for a, b in spans)
    places = "once" if len(spans) == 1 else f"{count(len(spans))} times"
    return [
        Finding(
            "stuck",
            "caution",
            f"The reading hangs {places}. The longest time it holds one value is "
            f"{evidence.lasting(longest)}.",
            "Those stretches are left out. Look for lost packets, a full buffer or a loose "
            "connector.",
        )
    ]


def held(evidence: Evidence) -> list[Finding]:
    """Return whether every value is written several times."""
    times = evidence.closeup.held
    if times < 2:
        return []
    rate = evidence.capture.rate_hz / times
    return [
        Finding(
            "repeated-samples",
            "caution",
            f"Each value is written {times} times. The true rate is {number(rate, 4)} Hz.",
            "Give the true rate, or export the samples as they were taken.",
        )
    ]


def pairs(evidence: Evidence) -> list[Finding]:
    """Return whether neighbours are extremes in turn."""
    if not evidence.closeup.pairs or evidence.capture.acquisition.mode == "peak":
        return []
    return [
        Finding(
            "peak-mode",
            "caution",
            "Neighbouring samples are high and low in turn, as in a record of peaks.",
            "Record again in plain sample mode: peaks are no even samples.",
        )
    ]
