"""The notice that stands wherever a trial or a remedy is shown."""

from __future__ import annotations

from typing import Final

STANDING: Final = "Mains can kill. Local electrical codes and licensed practice come first."


def cautions(*, acts: bool) -> list[str]:
    """Return the standing notice when something is proposed to be done to the bench, else none."""
    return [STANDING] if acts else []
