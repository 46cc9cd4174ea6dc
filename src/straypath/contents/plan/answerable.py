"""The reverse of a plan: what a recording of this length, rate and floor can answer."""

from __future__ import annotations

from dataclasses import dataclass
from math import log10, pi, sqrt
from typing import TYPE_CHECKING, Final

from straypath.contents.fisher import separation
from straypath.contents.plan import rules
from straypath.contents.plan.frame import PERIODS
from straypath.contents.plan.hum import COVERAGE, CYCLES, RESOLVED
from straypath.contents.plan.records import Verdict
from straypath.contents.plan.tell_mains import ERROR, needed_rho
from straypath.wording import NARROW, amount, number, plain, seconds, share

if TYPE_CHECKING:
    from collections.abc import Callable

    Floor = float | Callable[[float], float]

WITHIN: Final = 0.05
CLOCK_HZ: Final = 1000.0
"""Frames of a computer's serial bus (USB 2.0: 1.000 ms): what mains orders are taken for."""

FRAME_HZ: Final = 26e6 / 120_000
"""Frames of a mobile phone (3GPP TS 45.002: 26 in 120 ms)."""

WANDER_HZ: Final = 0.02
"""How far a large grid usually is from nominal (from memory, good to a factor of 1.5)."""

_HOPELESS_DB: Final = 60.0
"""Hum hardly ever stands further above the floor of a record this short."""


@dataclass(frozen=True)
class _Record:
    """What is known of a recording."""

    duration_s: float
    rate_hz: float
    floor: Floor | None
    unit: str
    step: float | None

    def density(self, frequency_hz: float) -> float | None:
        """Return the floor at a frequency [unit/√Hz]."""
        return self.floor(frequency_hz) if callable(self.floor) else self.floor

    def rms(self, rho: float, frequency_hz: float) -> float | None:
        """Return the rms of a line that stands this far, A/√(S/T), above the floor there."""
        density = self.density(frequency_hz)
        return rho * density / sqrt(2.0 * self.duration_s) if density else None

    def too_slow(self, frequency_hz: float) -> str:
        """Return why a frequency does not show at this rate, or nothing."""
        least = rules.RATE_OVER_FREQUENCY * frequency_hz
        if self.rate_hz >= least:
            return ""
        return (
            f"{number(frequency_hz)}{NARROW}Hz takes {number(least)} samples/s; this record has"
            f" {number(self.rate_hz)}."
        )

    def words(self, level: float) -> str:
        """Return a level with its unit."""
        return plain(amount(level, self.unit, 2))

    @property
    def length(self) -> str:
        """The length in words."""
        return plain(seconds(float(f"{self.duration_s:.3g}")))


def answerable(
    duration_s: float,
    rate_hz: float,
    *,
    floor: Floor | None = None,
    unit: str = "V",
    step: float | None = None,
    mains_hz: float | None = None,
    hum_rms: float | None = None,
    rates_hz: tuple[float, float] | None = None,
    frame_hz: float = FRAME_HZ,
    within: float = WITHIN,
) -> tuple[Verdict, ...]:
    """Return which of the four questions a recording answers, and why.

    Parameters
    ----------
    duration_s, rate_hz : float
        [s], [samples/s].
    floor : float, function of frequency [Hz], or None
        Density as it is in the record, the converter's part included [unit/√Hz].
    unit : str
    step : float or None
        Of the converter [unit].
    mains_hz : float or None
        Mains frequency, where it is known [Hz].
    hum_rms : float or None
        Rms of the fundamental, where it is known [unit].
    rates_hz : (float, float) or None
        Two rates to separate; None takes a clock of 1 kHz and the mains order next to it.
    frame_hz : float
        Rate of a frame to see [Hz].
    within : float
        Share that a reading of hum may be off.

    Returns
    -------
    tuple of Verdict
        tell-mains, hum, separate, frame.

    Raises
    ------
    InputError
        Length or rate not above zero.

    Validity: that of the plans; the floor under the lines is smooth.
    """
    rules.positive("record", duration_s, rate_hz, within)
    record = _Record(duration_s, rate_hz, floor, unit, step)
    return (
        _tell_mains(record, mains_hz, hum_rms),
        _hum(record, mains_hz or 50.0, within, hum_rms),
        _separate(record, rates_hz or _clock_and_order(mains_hz)),
        _frame(record, frame_hz),
    )


def _tell_mains(record: _Record, mains_hz: float | None, hum_rms: float | None) -> Verdict:
    asked = f"Is the mains of 50 or of 60{NARROW}Hz?"

    def verdict(answer: bool, why: str, least: float | None = None) -> Verdict:
        return Verdict("tell-mains", asked, answer, why, least)

    if mains_hz is not None:
        return verdict(True, f"It is known: {number(mains_hz, 6)}{NARROW}Hz.")
    if slow := record.too_slow(60.0):
        return verdict(False, slow)
    worst = 1.0
    if record.duration_s < 0.12:  # one cycle of difference, and a little
        worst = max(separation(50.0, 60.0, record.duration_s, nuisance=2, samples=1000)[0], 1e-12)
    rho = needed_rho(worst, ERROR)
    left = f"Over {record.length} at least {share(worst)} of the wave tells them apart"
    if 20.0 * log10(rho) > _HOPELESS_DB:
        few = f"Over {record.length} {share(worst)} of the wave tells them apart at worst"
        return verdict(False, f"{few}: record 40{NARROW}ms or more.")
    least = record.rms(rho, 50.0)
    if least is None:
        return verdict(True, f"{left}; hum must stand {20.0 * log10(rho):.0f} dB over the floor.")
    if hum_rms is not None and hum_rms < least:
        return verdict(False, f"{left}, and the hum is below {record.words(least)} rms.", least)
    return verdict(True, f"{left}, enough for hum from {record.words(least)} rms on.", least)


def _hum(record: _Record, mains_hz: float, within: float, hum_rms: float | None) -> Verdict:
    asked = f"How much hum is there, within {number(100 * within, 2)}{NARROW}%?"

    def verdict(answer: bool, why: str, least: float | None = None) -> Verdict:
        return Verdict("hum", asked, answer, why, least)

    if slow := record.too_slow(mains_hz):
        return verdict(False, slow)
    if record.duration_s * mains_hz < CYCLES * (1.0 - 1e-6):
        least_s = plain(seconds(CYCLES / mains_hz))
        return verdict(False, f"It takes five cycles, {least_s}; this record has {record.length}.")
    rho = max(rules.deviations(COVERAGE) / within, RESOLVED)
    least = record.rms(rho, mains_hz)
    if least is None:
        return verdict(True, f"Hum that stands {20.0 * log10(rho):.0f} dB or more over the floor.")
    because = "the floor and the length"
    rough = record.density(mains_hz) or 0.0
    if record.step is not None and rough * sqrt(record.rate_hz / 2.0) < 0.5 * record.step:
        # Too little noise to smooth the steps: the bare sine must span enough of them.
        coarse = record.step / rules.sine_step(1.0, within)
        if coarse > least:
            least, because = coarse, "the converter's steps"
    if hum_rms is not None and hum_rms < least:
        return verdict(
            False, f"It takes {record.words(least)} rms; {because} set that. There is less.", least
        )
    return verdict(True, f"Hum from {record.words(least)} rms on; {because} set that.", least)


def _clock_and_order(mains_hz: float | None) -> tuple[float, float]:
    """Return a clock's rate and the mains order next to it; usual distance where f0 is unknown."""
    f0 = mains_hz if mains_hz is not None else 50.0 - WANDER_HZ
    return CLOCK_HZ, max(1, round(CLOCK_HZ / f0)) * f0


def _separate(record: _Record, rates_hz: tuple[float, float]) -> Verdict:
    first, second = rates_hz
    asked = f"Are {number(first, 6)} and {number(second, 6)}{NARROW}Hz two rates?"
    least_hz = rules.PEAKS_APART / record.duration_s
    spacing = abs(first - second)

    def verdict(answer: bool, why: str) -> Verdict:
        return Verdict("separate", asked, answer, why, least_hz=least_hz)

    if slow := record.too_slow(max(rates_hz)):
        return verdict(False, slow)
    apart = plain(amount(least_hz, "Hz", 2))
    they = plain(amount(spacing, "Hz", 2))
    if spacing < least_hz * (1.0 - 1e-6):
        if spacing < 1e-9 * max(rates_hz):
            return verdict(False, "They are the same: no record tells them apart.")
        needed = plain(seconds(rules.rounded_up(rules.PEAKS_APART / spacing)))
        return verdict(
            False,
            f"Inseparable: lines must be {apart} apart, and these are {they}. It takes {needed}.",
        )
    return verdict(True, f"Lines {apart} apart make two peaks, and these are {they} apart.")


def _frame(record: _Record, frame_hz: float) -> Verdict:
    asked = f"Does anything repeat at {number(frame_hz, 4)}{NARROW}Hz?"

    def verdict(answer: bool, why: str, least: float | None = None) -> Verdict:
        return Verdict("frame", asked, answer, why, least)

    if slow := record.too_slow(frame_hz):
        return verdict(False, slow)
    if record.duration_s * frame_hz < PERIODS * (1.0 - 1e-6):
        least_s = plain(seconds(rules.rounded_up(PERIODS / frame_hz)))
        return verdict(
            False, f"It takes eight periods, {least_s}; this record has {record.length}."
        )
    long = record.duration_s * record.rate_hz > rules.LONG_SAMPLES
    threshold = rules.SEEN_LONG_DB if long else rules.SEEN_DB
    rho = sqrt(2.0) * 10.0 ** (threshold / 20.0)
    least = record.rms(rho, frame_hz)
    known = plain(amount(sqrt(3.0) / (pi * rho * record.duration_s), "Hz", 1))
    if least is None:
        return verdict(True, f"A line with P·T/S of {threshold:g} dB is seen, nine times in ten.")
    text = (
        f"A line from {record.words(least)} rms on is seen, nine times in ten; its rate to {known}."
    )
    density = record.density(frame_hz) or 0.0
    if record.step is not None and density * sqrt(record.rate_hz / 2.0) < 0.5 * record.step:
        text += " The noise is under half a step: the converter can make lines of its own."
    return verdict(True, text, least)
