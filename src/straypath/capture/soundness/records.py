"""What the soundness check says, as frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Any, Literal

Severity = Literal["note", "caution", "unsound"]
"""note: good to know; caution: a reading may mislead; unsound: a reading will mislead."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing about a record that bears on what can be read from it.

    Parameters
    ----------
    id : str
        Stable name, such as "clipping".
    severity : "note", "caution" or "unsound"
    text : str
        What is so, in short sentences with one number each.
    advice : str
        What to do about it at the bench.
    """

    id: str
    severity: Severity
    text: str
    advice: str

    def as_json(self) -> dict[str, str]:
        """Return the keys id, severity, text, advice."""
        return {
            "id": self.id,
            "severity": self.severity,
            "text": self.text,
            "advice": self.advice,
        }


@dataclass(frozen=True)
class Soundness:
    """How far one channel of a capture can be trusted, with the facts measured on the way.

    Parameters
    ----------
    findings : tuple of Finding
        Worst first.
    codes_used : int
        Different values met. All samples are counted in a record of up to 262,144; in a longer
        one 64 pieces of 4,096 samples, so that it is a lower bound.
    codes_available : int or None
        What the converter could give, when bits or full scale are known.
    step : float or None
        Distance of neighbouring codes [unit]; None when the values lie on no grid.
    range_used : float or None
        Part of the full scale between lowest and highest value, 0 … 1.
    clipped_share, missing_share : float
        Part of the samples that sits on a ceiling or floor; that is not a finite number.
    mean, rms_about_mean : float
        Of the finite samples [unit], to about one part in 10⁴ of the rms; nan when there is none.
    low, high : float
        Lowest and highest finite sample [unit].
    stretch : (int, int)
        The longest sound stretch: first sample, and one past the last. (0, 0) when none is.
    noise_rms : float or None
        Noise from sample to sample [unit], by second differences: an upper bound where the
        signal itself bends within three samples.
    questions : tuple of str
        What no record can tell and nobody has said, to be asked of the person.
    """

    findings: tuple[Finding, ...]
    codes_used: int
    codes_available: int | None
    step: float | None
    range_used: float | None
    clipped_share: float
    missing_share: float
    mean: float
    rms_about_mean: float
    low: float
    high: float
    stretch: tuple[int, int]
    noise_rms: float | None = None
    questions: tuple[str, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether nothing was found that will mislead."""
        return all(finding.severity != "unsound" for finding in self.findings)

    def find(self, identity: str) -> Finding | None:
        """Return the finding of this id, or None."""
        return next((f for f in self.findings if f.id == identity), None)

    def as_json(self) -> dict[str, Any]:
        """Return findings and facts; None where there is none.

        Keys in _v are in volts, or in the channel's own unit where that is another.
        """
        return {
            "findings": [finding.as_json() for finding in self.findings],
            "codes_used": self.codes_used,
            "codes_available": self.codes_available,
            "step_v": _finite(self.step),
            "range_used": _finite(self.range_used),
            "clipped_share": self.clipped_share,
            "missing_share": self.missing_share,
            "mean_v": _finite(self.mean),
            "rms_about_mean_v": _finite(self.rms_about_mean),
            "low_v": _finite(self.low),
            "high_v": _finite(self.high),
            "stretch": list(self.stretch),
            "noise_rms_v": _finite(self.noise_rms),
            "questions": list(self.questions),
        }


def _finite(number: float | None) -> float | None:
    """Return a number that JSON can hold, or None."""
    return number if number is not None and isfinite(number) else None
