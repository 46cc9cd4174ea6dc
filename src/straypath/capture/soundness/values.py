"""Judgements on the values: what is missing, does not move, stands alone, or has too few steps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.soundness.records import Finding
from straypath.capture.soundness.survey import moments, together
from straypath.wording import count, number

if TYPE_CHECKING:
    from straypath.capture.soundness.evidence import Evidence


def missing(evidence: Evidence) -> list[Finding]:
    """Return whether samples are NaN or infinite."""
    sound, n = evidence.survey.sound, evidence.survey.samples
    if not evidence.survey.finite:
        return [Finding("no-samples", "unsound", "It holds no number.", "Export it again.")]
    if not sound.missing:
        return []
    gone = "One sample is missing"
    if sound.missing > 1:
        holes = "once" if sound.rows == 1 else f"in {count(sound.rows)} places"
        gone = f"{count(sound.missing)} samples are missing, {holes}"
    return [
        Finding(
            "missing",
            "unsound" if sound.missing > n / 2 else "caution",
            f"{gone}. The longest hole lasts {evidence.lasting(sound.longest_missing)}.",
            "The longest whole stretch is used. Find out why they are missing: overload, or a "
            "recorder that could not keep up.",
        )
    ]


def constant(evidence: Evidence) -> list[Finding]:
    """Return whether nothing moves."""
    if evidence.moves or not evidence.survey.finite:
        return []
    return [
        Finding(
            "constant",
            "unsound",
            f"All {count(evidence.survey.finite)} samples have one value.",
            "Check that the right channel is on and its range is small enough, then record again.",
        )
    ]


# Steps --------------------------------------------------------------------------------------

# Under this noise neighbouring codes are no longer mixed, and the converter turns a sine into
# lines: none were found at half a step, 70 at a fifth (measured with a sine of 40 codes).
_MIXED = 0.5
# The step's own even error adds q/√12 to what is read from the samples.
_READ = (_MIXED**2 + 1 / 12) ** 0.5
# EN 50160 holds orders 3 and 5 of a supply to 6 % of the fundamental: in hum over eight steps, half
# a step, which does not show unless noise mixes the codes.
_FEW = 8
# Of a sine over 256 codes each line of the converter holds some (1/128)^(4/3), 0.15 %.
_COARSE = 256


def steps(evidence: Evidence) -> list[Finding]:
    """Return whether the steps are too large for hum to show, or make lines of their own."""
    moved, step, noise = evidence.steps_moved, evidence.closeup.step, evidence.closeup.noise
    if moved is None or step is None or not evidence.moves:
        return []
    quiet = noise is not None and noise < _READ * step
    rounded = round(moved)
    if rounded <= 2 or (rounded <= _FEW and quiet):
        steps_ = "one step" if rounded == 1 else f"{rounded} steps"
        return [
            Finding(
                "few-codes",
                "caution",
                f"It moves over {steps_} of {evidence.said(step)} only. "
                "Hum below one step does not show.",
                "Use a smaller range, more gain or a finer converter.",
            )
        ]
    if quiet and rounded < _COARSE:
        return [
            Finding(
                "coarse-steps",
                "note",
                f"It moves over {count(rounded)} steps with hardly any noise. "
                "Weak harmonics may come from the converter.",
                "Use a smaller range, or trust only lines well above one step of "
                f"{evidence.said(step)}.",
            )
        ]
    return []


# One sample alone, and slow change ----------------------------------------------------------

_ALONE = 3
# Noise never reaches 20 times its rms, and three samples are no burst.
_TOWERS = 20.0


def outlier(evidence: Evidence) -> list[Finding]:
    """Return whether one to three samples tower over everything else."""
    seen = evidence.survey
    if not evidence.moves or seen.finite < 20:
        return []
    unit = max(abs(evidence.low), abs(evidence.high))
    mean = seen.mean / unit
    peak = max(evidence.high / unit - mean, mean - evidence.low / unit)
    blocks = seen.blocks
    far = np.maximum(blocks.highs / unit - mean, mean - blocks.lows / unit) > peak / 2
    if np.count_nonzero(far) > _ALONE:
        return []
    alone, means, rms, counts = 0, blocks.means.copy(), blocks.rms.copy(), blocks.counts.copy()
    for i in np.flatnonzero(far):
        block = evidence.block(int(blocks.starts[i]), blocks.length)
        rest = block[np.abs(block.astype(np.float64) / unit - mean) <= peak / 2]
        alone += len(block) - len(rest)
        counts[i] = len(rest)
        means[i], rms[i] = moments(rest) if len(rest) else (0.0, 0.0)
    if alone > _ALONE or not counts.sum():
        return []
    spread = together(counts, means, rms)[1] / unit
    if peak < _TOWERS * spread:
        return []
    times = f"{number(peak / spread, 2)} times" if spread > peak * 1e-9 else "far beyond"
    who = "One sample stands" if alone == 1 else f"{alone} samples stand"
    return [
        Finding(
            "outlier",
            "caution",
            f"{who} {evidence.said(peak * unit)} away, {times} the rms of the rest.",
            "Look at it: a switching pulse, static, or a number that stands for 'missing'.",
        )
    ]


_SEGMENT_S = 0.1  # five cycles of 50 Hz, six of 60 Hz: hum averages out
# As many as the survey has blocks in a short record: more could not be told apart, and a level that
# drifts or steps shows in a few.
_SEGMENTS = 16
# A sine spans 2.8 times its rms: a level that moves by six dwarfs whatever rides on it.
_DRIFT = 6.0


def drift(evidence: Evidence) -> list[Finding]:
    """Return whether the level moves far compared with what rides on it."""
    blocks = evidence.survey.blocks
    segments = min(_SEGMENTS, int(evidence.survey.samples / evidence.capture.rate_hz / _SEGMENT_S))
    if segments < 4 or len(blocks.starts) < segments or not evidence.moves:
        return []
    parts = np.array_split(np.arange(len(blocks.starts)), segments)
    level = np.array([together(blocks.counts[p], blocks.means[p], blocks.rms[p]) for p in parts])
    unit = max(abs(evidence.low), abs(evidence.high))
    moved = (float((level[:, 0] / unit).max()) - float((level[:, 0] / unit).min())) * unit
    # Not the median: a few pulses move the level of their segments, and are no drift.
    rest = float(np.sqrt(np.mean((level[:, 1] / unit) ** 2))) * unit
    if not moved > _DRIFT * rest:
        return []
    times = f", {number(moved / rest, 2)} times the rms of the rest" if rest > 0 else ""
    return [
        Finding(
            "drift",
            "note",
            f"The level moves by {evidence.said(moved)}{times}.",
            "Let it settle, or use ac coupling if only the hum matters.",
        )
    ]
