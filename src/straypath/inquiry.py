"""The only orchestrator: reads a capture and examines its channels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straypath.capture.soundness import Soundness, check_soundness
from straypath.contents.comb import mains_comb

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from straypath.capture.capture import Capture, Channel
    from straypath.contents.records import MainsComb

    Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class ChannelContents:
    """Everything found in one channel."""

    channel: Channel
    soundness: Soundness
    mains: MainsComb


@dataclass(frozen=True)
class Examination:
    """A capture with what is in each of its channels."""

    capture: Capture
    channels: tuple[ChannelContents, ...]


def examine(
    capture: Capture,
    *,
    channels: Sequence[str] | None = None,
    mains: str = "auto",
    progress: Progress | None = None,
) -> Examination:
    """Examine a capture: soundness first, then the mains comb, channel by channel."""
    raise NotImplementedError
