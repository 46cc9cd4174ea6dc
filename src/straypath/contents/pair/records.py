"""What two channels say about each other, as frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from straypath.contents.records import Undetermined
    from straypath.quantity import Quantity, Reading


@dataclass(frozen=True)
class LineTransfer:
    """How one line of channel y follows the same line of channel x.

    Parameters
    ----------
    frequency_hz : float
        [Hz].
    order : int or None
        Multiple of the mains frequency; None for any other line.
    gain : Reading or None
        Amplitude of y over that of x, in the unit of the transfer; an upper limit where y shows
        nothing that keeps step with x; None where x itself is lost in its noise.
    phase_rad : Quantity or None
        Phase of y minus that of x [rad], value within ±π; None without a reading of the gain.
    coherence : float
        Magnitude-squared coherence of the stretches' phasors, 0 … 1.
    p_value : float
        Chance of such a coherence between unrelated noises, for this line alone.
    coherent : bool
        Whether the coherence is above the level that all lines together reach by chance.
    """

    frequency_hz: float
    order: int | None
    gain: Reading | None
    phase_rad: Quantity | None
    coherence: float
    p_value: float
    coherent: bool


@dataclass(frozen=True)
class Transfer:
    """How channel y follows channel x at a set of lines: H = y/x.

    Parameters
    ----------
    lines : tuple of LineTransfer
    unit : str
        Unit of the gains, such as "V/A"; "1" for equal units, "" where one is not known.
    stretches : int
        Number K of independent stretches.
    stretch_s : float
        Length of each [s].
    false_alarm_rate : float
        Chance that any line of the set is called coherent though both channels hold only noise.
    coherence_level : float
        Coherence that a line must exceed for it.
    undetermined : tuple of Undetermined
        Lines that this record cannot tell, with the reason.
    assumptions : tuple of str
    """

    lines: tuple[LineTransfer, ...]
    unit: str
    stretches: int
    stretch_s: float
    false_alarm_rate: float
    coherence_level: float
    undetermined: tuple[Undetermined, ...] = ()
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True)
class OrderPhase:
    """Phase of one order against the mains, value within ±π [rad]."""

    order: int
    phase_rad: Quantity


@dataclass(frozen=True)
class MainsPhases:
    """Phases of the orders of one channel against the mains.

    Parameters
    ----------
    orders : tuple of OrderPhase
        Only orders that stand out; empty where `why_not` says why.
    against : str
        What the phases are counted from, in words.
    why_not : str
        Why there is no phase against the mains; "" where there is.
    cautions : tuple of str
        To be shown wherever these phases, or advice on how to get them, are shown.
    assumptions : tuple of str
    """

    orders: tuple[OrderPhase, ...]
    against: str
    why_not: str = ""
    cautions: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True)
class LineRejection:
    """How far one line falls when the fitted channel x is taken from channel y.

    Parameters
    ----------
    frequency_hz : float
        [Hz].
    order : int or None
    before, residual : Reading
        Rms in y, and in the difference, in y's unit; an upper limit where the noise hides it.
    rejection_db : Quantity or None
        20·log10(before/residual) [dB]; None where the residual is lost in the noise.
    at_least_db : float or None
        95 % lower bound of the rejection [dB]; all that may be claimed without `rejection_db`.
        None where the line itself is lost in the noise.
    """

    frequency_hz: float
    order: int | None
    before: Reading
    residual: Reading
    rejection_db: Quantity | None
    at_least_db: float | None


@dataclass(frozen=True)
class Difference:
    """What y − g·x(t − τ) leaves of y.

    Parameters
    ----------
    fitted_over : str
        "lines" or "band".
    gain : Quantity
        g, with its sign, in the unit [y unit]/[x unit].
    delay_s : Quantity
        τ [s]; positive where y comes later than x.
    unit : str
        Of the gain.
    total : Reading
        Rms of the difference over all these lines, or over the band, in y's unit.
    rejection_db : Quantity or None
        For the total [dB]; None where the residual is lost in the noise.
    at_least_db : float
        95 % lower bound of the total rejection [dB].
    best_db : float or None
        Fitted over a band: what no filter of x whatever could exceed, 1/(1 − explained share) [dB].
    misfit_p : float or None
        Fitted over lines: chance that one gain and one delay describe all of them and noise alone
        makes the residuals this large; None with one line, which they always describe.
    lines : tuple of LineRejection
        Empty for a fit over a band.
    undetermined : tuple of Undetermined
    assumptions : tuple of str
    """

    fitted_over: str
    gain: Quantity
    delay_s: Quantity
    unit: str
    total: Reading
    rejection_db: Quantity | None
    at_least_db: float
    best_db: float | None = None
    misfit_p: float | None = None
    lines: tuple[LineRejection, ...] = ()
    undetermined: tuple[Undetermined, ...] = ()
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True)
class BandShare:
    """Share of y's mean square in a band that x explains by any linear filter.

    Parameters
    ----------
    low_hz, high_hz : float
        [Hz].
    share : Reading
        0 … 1; an upper limit where no coherence shows.
    p_value : float
        Chance of so much coherence in this band between unrelated noises.
    """

    low_hz: float
    high_hz: float
    share: Reading
    p_value: float


@dataclass(frozen=True)
class CoherenceSpectrum:
    """Magnitude-squared coherence of two channels against frequency.

    Parameters
    ----------
    frequency_hz, coherence : tuple of float
        [Hz], 0 … 1.
    segments : int
        Overlapping segments averaged.
    independent : float
        To how many independent segments they amount.
    false_alarm_rate : float
        Chance that any frequency exceeds `level` though the channels are unrelated; the same for
        the bands.
    level : float
    bands : tuple of BandShare
    """

    frequency_hz: tuple[float, ...]
    coherence: tuple[float, ...]
    segments: int
    independent: float
    false_alarm_rate: float
    level: float
    bands: tuple[BandShare, ...]
