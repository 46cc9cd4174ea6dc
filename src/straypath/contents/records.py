"""What a channel contains, as frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from straypath.quantity import Quantity, Reading


@dataclass(frozen=True)
class MainsLine:
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
        All seen orders together, in the channel's unit; an upper limit on all orders when no comb
        is seen; None when there is no reading.
    share : float
        Part of the record's mean square about its mean that the comb carries, 0 … 1.
    lines : tuple of MainsLine
        Every order that the record can hold, seen or not.
    wander : Wander or None
        Given when the frequency moved by more than its noise.
    assumptions : tuple of str
        Everything assumed, in words.
    unread : str
        Why there is no reading; "" when there is one.
    """

    present: bool
    false_alarm_rate: float
    p_value: float
    nominal_hz: float | None
    nominal_probability: float
    frequency_hz: Quantity | None
    rms: Reading | None
    share: float
    lines: tuple[MainsLine, ...] = ()
    wander: Wander | None = None
    assumptions: tuple[str, ...] = ()
    unread: str = ""

    @classmethod
    def not_read(cls, why: str, false_alarm_rate: float) -> MainsComb:
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
            unread=why,
        )

    @property
    def detected(self) -> tuple[MainsLine, ...]:
        """The lines that were seen."""
        return tuple(line for line in self.lines if line.detected)


@dataclass(frozen=True)
class BesideMains:
    """How a line lies against the nearest order of the mains.

    Parameters
    ----------
    order : int
    distance_hz : float
        Line minus order [Hz].
    sigmas : float
        The distance over its standard uncertainty, both frequencies counted.
    separate : bool
        False: with this record the line cannot be told from the order.
    """

    order: int
    distance_hz: float
    sigmas: float
    separate: bool


@dataclass(frozen=True)
class Line:
    """One spectral line that is no order of the mains comb, or a narrow band of noise.

    Parameters
    ----------
    frequency_hz : Quantity
        Where it stands in the record [Hz].
    rms : Quantity
        In the channel's unit.
    phase_rad : Quantity or None
        Phase of the cosine at the centre of the record [rad]; None for a narrow band.
    p_value : float
        Chance that the floor alone shows such a line anywhere in the record.
    floor : float
        One-sided noise density under the line [unit²/Hz].
    width_hz : Quantity or None
        Half-power width of a narrow band [Hz]; None for a line that the record does not resolve.
    beside : BesideMains or None
        Given where the mains are known.
    conversion_product : bool
        Whether a converter may have made it out of a strong tone.
    true_hz : tuple of float
        Frequencies above half the rate that would fold onto it [Hz].
    """

    frequency_hz: Quantity
    rms: Quantity
    phase_rad: Quantity | None
    p_value: float
    floor: float
    width_hz: Quantity | None = None
    beside: BesideMains | None = None
    conversion_product: bool = False
    true_hz: tuple[float, ...] = ()


@dataclass(frozen=True)
class Match:
    """A source in the catalogue whose rate agrees with a family's.

    Parameters
    ----------
    id, name, source : str
        As in the catalogue; `source` is the standard, or "common practice".
    rate_hz : float
        Rate, or the nearest edge of the band, in the catalogue [Hz].
    sigmas : float
        Distance over the standard uncertainty of both; 0 inside a band.
    alias : bool
        Whether it matches only a frequency that folds onto the line.
    """

    id: str
    name: str
    source: str
    rate_hz: float
    sigmas: float
    alias: bool = False


@dataclass(frozen=True)
class Family:
    """Lines that belong together.

    Parameters
    ----------
    kind : str
        "clock" (whole multiples of a rate), "carrier" (sidebands at whole multiples of the mains
        frequency or of another rate), "single" or "narrow-band".
    rate_hz : Quantity
        The rate of a clock, or the frequency of a carrier, a single line or a band [Hz].
    rms : Quantity
        All its lines together, in the channel's unit.
    lines : tuple of Line
    orders : tuple of int
        Per line: multiple of the rate, or sideband number.
    spacing_hz : Quantity or None
        Distance of a carrier's sidebands [Hz].
    matches : tuple of Match
        Nearest first; none beyond what the uncertainty allows.
    beside : BesideMains or None
        How the rate lies against the mains.
    """

    kind: str
    rate_hz: Quantity
    rms: Quantity
    lines: tuple[Line, ...]
    orders: tuple[int, ...]
    spacing_hz: Quantity | None = None
    matches: tuple[Match, ...] = ()
    beside: BesideMains | None = None


@dataclass(frozen=True)
class Floor:
    """The broadband noise under the lines.

    Parameters
    ----------
    frequency_hz : tuple of float
        Centres of bands, spaced evenly in log frequency [Hz].
    density : tuple of Quantity
        Root of the density in each band [unit/√Hz].
    white : Quantity or None
        Level that it settles at [unit/√Hz].
    corner_hz : Quantity, UpperLimit or None
        Where 1/f noise equals the white level [Hz]; an upper limit when none shows, None where
        the floor has no such shape.
    slope : Quantity or None
        a of f^-a below the corner.
    """

    frequency_hz: tuple[float, ...]
    density: tuple[Quantity, ...]
    white: Quantity | None
    corner_hz: Reading | None
    slope: Quantity | None = None


@dataclass(frozen=True)
class Burst:
    """A transient.

    Parameters
    ----------
    time_s : float
        Its middle, from the first sample [s].
    width_s : float
        Time that holds the middle 90 % of its energy [s].
    peak : float
        Largest departure, with its sign, in the channel's unit.
    energy : float
        Sum of squares times the sample interval, noise taken off [unit² s].
    mains_phase_rad : float or None
        Phase of mains order 1 at its middle [rad]; None where the mains are not known.
    """

    time_s: float
    width_s: float
    peak: float
    energy: float
    mains_phase_rad: float | None = None


@dataclass(frozen=True)
class Bursts:
    """All transients of a channel and how they lie in time.

    Parameters
    ----------
    found : tuple of Burst
        In order of time; the strongest of them where there are very many.
    count : int
        How many there are.
    threshold : float
        Departure that counted as a burst, in the channel's unit.
    locked_p : float or None
        Chance that bursts without any tie to the mains gather so (the test is named in
        `locked_test`); None below two bursts or without mains.
    locked : bool
        Whether they are tied to the mains: locked_p < 1e-3.
    per_cycle : int or None
        How many phases of a mains cycle they keep to, when locked.
    locked_test : str
    """

    found: tuple[Burst, ...]
    count: int
    threshold: float
    locked_p: float | None = None
    locked: bool = False
    per_cycle: int | None = None
    locked_test: str = ""


@dataclass(frozen=True)
class Offset:
    """The level of a channel and how it changes.

    Parameters
    ----------
    mean : Quantity
        Over the record; its uncertainty counts the slow noise [unit].
    slope_per_s : Quantity
        [unit/s].
    steps : tuple of (float, Quantity)
        Sudden changes of level: time [s] and size [unit].
    """

    mean: Quantity
    slope_per_s: Quantity
    steps: tuple[tuple[float, Quantity], ...] = ()


@dataclass(frozen=True)
class Course:
    """How mains and floor moved over a long record, stretch by stretch.

    Parameters
    ----------
    times_s : tuple of float
        Middles of the stretches, from the first sample [s].
    mains_hz : tuple of float
        Mean mains frequency in each; empty where no wander was seen or no comb.
    orders : tuple of int
        The strongest orders of the mains.
    rms : tuple of tuple of float
        Per order, its level in each stretch, in the channel's unit.
    rms_u : tuple of float
        Per order, the standard uncertainty of these levels.
    floor : tuple of float
        Root of the noise density below the highest mains order, in each [unit/√Hz].
    floor_u : float
        Relative standard uncertainty of these.
    """

    times_s: tuple[float, ...]
    mains_hz: tuple[float, ...] = ()
    orders: tuple[int, ...] = ()
    rms: tuple[tuple[float, ...], ...] = ()
    rms_u: tuple[float, ...] = ()
    floor: tuple[float, ...] = ()
    floor_u: float = 0.0


@dataclass(frozen=True)
class Undetermined:
    """Something that this record cannot tell: what, and why."""

    what: str
    why: str
