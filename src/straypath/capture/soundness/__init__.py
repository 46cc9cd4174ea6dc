"""Whether a record can be trusted, and what to do where it cannot."""

from straypath.capture.soundness.check import check_soundness
from straypath.capture.soundness.records import Finding, Severity, Soundness

__all__ = ["Finding", "Severity", "Soundness", "check_soundness"]
