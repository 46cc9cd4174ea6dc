"""Captures: what a recording is, and how it is read from a file."""

from __future__ import annotations

from straypath.capture.capture import Acquisition, Capture, Channel, Gap, Samples, Stamps
from straypath.capture.reading import read

__all__ = ["Acquisition", "Capture", "Channel", "Gap", "Samples", "Stamps", "read"]
