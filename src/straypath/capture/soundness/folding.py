"""Judgements on the rate: what folds, and whether mains can show at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straypath.capture.soundness.evidence import hertz
from straypath.capture.soundness.limits import quantisation_rms
from straypath.capture.soundness.records import Finding
from straypath.wording import share

if TYPE_CHECKING:
    from straypath.capture.soundness.evidence import Evidence
    from straypath.capture.soundness.records import Severity


def folding(evidence: Evidence) -> list[Finding]:
    """Return whether faster signals are likely to have folded into the band."""
    half = evidence.capture.rate_hz / 2
    limit = evidence.capture.acquisition.bandwidth_limit_hz
    if limit is not None and limit <= half:
        return []
    said = _fold_text(evidence, limit, half)
    if said is None:
        return []
    return [
        Finding(
            "aliasing",
            said[0],
            said[1],
            "Record once at another rate: a true line stays, a fold moves. Or set a bandwidth "
            "limit below half the rate.",
        )
    ]


# White noise has a fifth of its power in the top fifth of the band, to within 1 %.
_TOP = 0.4
# A filter ahead of the converter takes the edge of the band down by far more than half.
_FLAT = 0.5
_MATTERS = 1e-3  # 3 % of the rms


def _fold_text(evidence: Evidence, limit: float | None, half: float) -> tuple[Severity, str] | None:
    if limit is not None:
        text = (
            f"The input passes signals up to {hertz(limit)}. "
            f"The rate holds them up to {hertz(half)} only: faster ones fold."
        )
        return "caution", text
    band = evidence.closeup.band
    if band is None or evidence.closeup.pairs or evidence.closeup.held > 1:
        return None
    if band.top_share > _TOP:
        text = (
            f"{share(band.top_share)} of the power lies close to half the rate. It may be a fold."
        )
        return "caution", text
    step = (evidence.closeup.step or 0.0) / (evidence.survey.spread or 1.0)
    own = quantisation_rms(step) ** 2  # the converter's floor is flat by itself
    if band.edge_ratio > _FLAT and band.edge_share > max(_MATTERS, 4 * own):
        text = "The floor does not fall towards half the rate. Faster signals may fold in."
        return "note", text
    return None
