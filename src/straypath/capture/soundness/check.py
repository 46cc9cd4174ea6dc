"""The check of one channel: look, then judge."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import numpy as np

from straypath.capture.soundness import (
    acquisition,
    clipping,
    folding,
    standing,
    timing,
    values,
)
from straypath.capture.soundness.closeup import look
from straypath.capture.soundness.evidence import Evidence
from straypath.capture.soundness.piles import piles
from straypath.capture.soundness.records import Soundness
from straypath.capture.soundness.survey import survey
from straypath.errors import InputError

if TYPE_CHECKING:
    from straypath.capture.capture import Capture, Channel
    from straypath.capture.soundness.records import Finding
    from straypath.capture.soundness.stretches import Span

_ORDER = {"unsound": 0, "caution": 1, "note": 2}
_MAINS_HZ = (50.0, 60.0)


def check_soundness(
    capture: Capture, channel: Channel, *, mains_hz: float | None = None
) -> Soundness:
    """Tell how far a channel can be trusted, and what to do where it cannot.

    One pass over blocks of 2¹⁸ samples, and one close look at no more than 2¹⁸ samples; memory
    does not grow with the record.

    Parameters
    ----------
    capture : Capture
        Gives rate, stamps and acquisition facts.
    channel : Channel
        One of its channels; integers and floats stay in the file's type.
    mains_hz : float or None
        The mains frequency if it is known [Hz]; otherwise both 50 and 60 Hz are thought of.

    Raises
    ------
    InputError
        When rate or mains frequency is no positive number, or the samples are no real numbers.

    Notes
    -----
    Not detected: a soft ceiling (an amplifier that bends before it stops), a screen export or an
    average that does not say so, a wrong probe ratio, a filter. What cannot be seen is asked in
    `questions`.

    Examples
    --------
    >>> import numpy as np
    >>> from straypath.capture.capture import Capture, Channel
    >>> t = np.arange(10_000) / 10_000
    >>> wave = Channel("out", np.minimum(np.sin(2 * np.pi * 50 * t), 0.7), "V")
    >>> said = check_soundness(Capture((wave,), 10_000.0), wave)
    >>> said.find("clipping").severity, round(said.clipped_share, 2)
    ('caution', 0.26)
    """
    _check_input(capture, channel, mains_hz)
    with np.errstate(all="ignore"):
        evidence = Evidence(
            capture,
            channel,
            survey(channel),
            look(channel),
            (mains_hz,) if mains_hz else _MAINS_HZ,
        )
        return _judged(evidence)


def _check_input(capture: Capture, channel: Channel, mains_hz: float | None) -> None:
    if not 0 < capture.rate_hz < inf:
        raise InputError(
            f"{capture.rate_hz:g} Hz is no sample rate",
            where="capture",
            advice="Give the rate (--rate, rate_hz).",
        )
    if mains_hz is not None and not 0 < mains_hz < inf:
        raise InputError(f"{mains_hz:g} Hz is no mains frequency", advice="Give 50 or 60 Hz.")
    if np.dtype(channel.raw.dtype).kind not in "biuf":
        raise InputError(
            f"samples of type {channel.raw.dtype} are no real numbers",
            where=channel.name,
            advice="Give real and imaginary part as two channels.",
        )


def _judged(evidence: Evidence) -> Soundness:
    ceilings = piles(evidence)
    clipped, clipped_share = clipping.judge(ceilings)
    hung = standing.stuck_spans(evidence, ceilings)
    stretch = _stretch(evidence, hung)
    findings = [
        *values.missing(evidence),
        *values.constant(evidence),
        *clipped,
        *standing.stuck(evidence, hung),
        *standing.held(evidence),
        *standing.pairs(evidence),
        *values.outlier(evidence),
        *values.steps(evidence),
        *values.drift(evidence),
        *timing.stamps(evidence, stretch),
        *timing.length(evidence, stretch),
        *timing.rate(evidence),
        *folding.folding(evidence),
        *acquisition.facts(evidence),
    ]
    return _with_facts(evidence, findings, clipped_share, stretch)


def _stretch(evidence: Evidence, hung: list[Span]) -> Span:
    """Return the longest stretch without missing samples, breaks in time and hanging readings."""
    stamps = evidence.capture.stamps
    breaks = [(gap.index, gap.index) for gap in stamps.gaps] if stamps else []
    if stamps and stamps.forward:
        first, past = stamps.forward
        breaks += [(0, first), (past, evidence.survey.samples)]
    return evidence.survey.sound.longest_between([*breaks, *hung])


def _with_facts(
    evidence: Evidence, findings: list[Finding], clipped_share: float, stretch: Span
) -> Soundness:
    seen, close, channel = evidence.survey, evidence.closeup, evidence.channel
    low = high = float("nan")
    if seen.finite:
        ends = (evidence.low * channel.scale, evidence.high * channel.scale)
        low, high = min(ends) + channel.offset, max(ends) + channel.offset
    size = abs(channel.scale)
    return Soundness(
        findings=tuple(sorted(findings, key=lambda f: _ORDER[f.severity])),
        codes_used=close.distinct,
        codes_available=_codes_available(evidence),
        step=close.step * size if close.step else None,
        range_used=_range_used(evidence),
        clipped_share=clipped_share,
        missing_share=seen.sound.missing / seen.samples if seen.samples else 0.0,
        mean=seen.mean * channel.scale + channel.offset,
        rms_about_mean=seen.spread * size,
        low=low,
        high=high,
        stretch=stretch,
        noise_rms=close.noise * size if close.noise is not None else None,
        questions=acquisition.questions(evidence),
    )


def _codes_available(evidence: Evidence) -> int | None:
    bits, full, step = (
        evidence.capture.acquisition.bits,
        evidence.full_scale,
        evidence.closeup.step,
    )
    if bits and 0 < bits <= 64:
        return int(2**bits)
    if full and step:
        codes = (full[1] - full[0]) / step
        return round(codes) + 1 if codes < 2**53 else None
    return None


def _range_used(evidence: Evidence) -> float | None:
    full = evidence.full_scale
    if full is None or not evidence.survey.finite:
        return None
    return evidence.span / (full[1] - full[0])
