"""What a channel contains, as frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from straypath.quantity import Quantity, Reading


@dataclass(frozen=True)
class Line:
    """One order of the mains comb.

    Parameters
    ----------
    order : int
    frequency_hz : Quantity
        order · f0 [Hz].
    rms : Reading
        In the channel's unit; an upper limit when the order is not seen.
    phase_rad : Quantity or None
        Phase of the cosine at the centre of the record [rad]; None when the order is not seen.
    detected : bool
    floor : float
        One-sided noise density under the line [unit²/Hz].
    """

    order: int
    frequency_hz: Quantity
    rms: Reading
    phase_rad: Quantity | None
    detected: bool
    floor: float


@dataclass(frozen=True)
class Wander:
    """How the mains frequency moved: mean frequency [Hz] in slots centred on times [s]."""

    times_s: tuple[float, ...]
    frequency_hz: tuple[float, ...]


@dataclass(frozen=True)
class MainsComb:
    """The lines at whole multiples of the mains frequency.

    Parameters
    ----------
    present : bool
        Whether a comb is there at the stated false-alarm rate.
    false_alarm_rate : float
        For the whole channel, search and orders included.
    p_value : float
        Chance that a floor without any comb looks like this.
    nominal_hz : float or None
        16.7, 50, 60 or 400 Hz, or what the user said; the likeliest when not sure.
    nominal_probability : float
        Probability of that nominal frequency among those considered.
    frequency_hz : Quantity or None
        Mean mains frequency over the record [Hz].
    rms : Reading or None
        All orders together, in the channel's unit; None when the record is too short to say.
    share : float
        Part of the record's mean square about its mean that the comb carries, 0 … 1.
    lines : tuple of Line
        Every order that the record can hold, seen or not.
    wander : Wander or None
        Given when the frequency moved by more than its noise.
    assumptions : tuple of str
        Everything assumed, in words.
    """

    present: bool
    false_alarm_rate: float
    p_value: float
    nominal_hz: float | None
    nominal_probability: float
    frequency_hz: Quantity | None
    rms: Reading | None
    share: float
    lines: tuple[Line, ...] = ()
    wander: Wander | None = None
    assumptions: tuple[str, ...] = ()

    @classmethod
    def unread(cls, why: str, false_alarm_rate: float) -> MainsComb:
        """Return the record of a comb that could not be looked for, with the reason."""
        return cls(
            present=False,
            false_alarm_rate=false_alarm_rate,
            p_value=1.0,
            nominal_hz=None,
            nominal_probability=0.0,
            frequency_hz=None,
            rms=None,
            share=0.0,
            assumptions=(why,),
        )

    @property
    def detected(self) -> tuple[Line, ...]:
        """The lines that were seen."""
        return tuple(line for line in self.lines if line.detected)
