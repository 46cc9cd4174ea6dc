"""A plan in plain sentences: the same on the terminal and wherever else it is shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straypath.contents.plan.records import FramePlan, HumPlan, SeparatePlan, TellMainsPlan
from straypath.wording import (
    NARROW,
    Piece,
    Words,
    amount,
    count,
    firm,
    fixed,
    number,
    plain,
    seconds,
    share,
    words,
)

if TYPE_CHECKING:
    from straypath.contents.plan.records import Plan, Recording


@dataclass(frozen=True)
class Rows:
    """A small table in text: headings, and cells below them."""

    headings: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]


def conclusion(plan: Plan) -> Words:
    """Return what to record and what it will tell, in one or two sentences."""
    if isinstance(plan, TellMainsPlan):
        return _tell_mains(plan)
    if isinstance(plan, HumPlan):
        return words(
            _record(plan.recording),
            ": ",
            amount(plan.level, plan.unit),
            f" of hum at {_hertz(plan.frequency_hz)} then reads within {_percent(plan.within)},"
            f" {round(100 * plan.coverage)} times in 100.",
        )
    if isinstance(plan, SeparatePlan):
        first, second = (_hertz(rate) for rate in plan.rates_hz)
        told = f", {number(plan.reached, 2)} standard uncertainties apart" if plan.reached else ""
        return words(_record(plan.recording), f": {first} and {second} then show as two{told}.")
    if isinstance(plan, FramePlan):
        odds = count(round(1 / plan.false_alarm))
        return words(
            _record(plan.recording),
            ": a line of ",
            amount(plan.line, plan.unit),
            f" at {_hertz(plan.frame_hz)} is then seen {round(10 * plan.probability)} times in 10."
            f" Of {odds} records without it, one shows a line by chance.",
        )
    raise TypeError(plan)


def _tell_mains(plan: TellMainsPlan) -> Words:
    likely = plan.contrasts[-1]
    between = " from ".join(f"{f:g}" for f in plan.between_hz)
    length = seconds(plan.recording.duration_s)
    if plan.level is not None and likely.error is not None:
        verdict = "is then told" if likely.error <= plan.error else "is not surely told"
        return words(
            _record(plan.recording),
            ": ",
            amount(plan.level, plan.unit),
            f" of hum {verdict} {between}{NARROW}Hz, wrong in {_chance(likely.error)} of records"
            " at worst.",
            _longer(plan),
        )
    if likely.least_rms is not None:
        return words(
            "A record of ",
            length,
            f" tells {between}{NARROW}Hz if there is ",
            amount(likely.least_rms, plan.unit, 2),
            f" of hum or more; wrong in {_chance(plan.error)} of records at worst.",
        )
    return words(
        "A record of ",
        length,
        f" tells {between}{NARROW}Hz if the hum stands {fixed(likely.rho_db, 0)}{NARROW}dB or more"
        f" above its floor; wrong in {_chance(plan.error)} of records at worst.",
    )


def _longer(plan: TellMainsPlan) -> Words:
    """Return how long it takes where the record that was given is too short."""
    if plan.enough_s is None or plan.recording.duration_s >= plan.enough_s:
        return ()
    return words(" It takes ", seconds(plan.enough_s), ".")


def _record(recording: Recording) -> Words:
    return words(
        "Record ",
        Piece(plain(seconds(recording.duration_s)), "strong"),
        " or more at ",
        amount(recording.rate_hz, "Hz"),
        " or faster",
    )


def recording(plan: Plan) -> list[Words]:
    """Return range, steps and repeats of a recording, one sentence each."""
    made, unit = plan.recording, plan.unit
    said = []
    if isinstance(plan, TellMainsPlan) and plan.level is None:
        said.append(words("At ", amount(made.rate_hz, "Hz"), " or faster."))
    if made.step is not None:
        said.append(words("Steps of ", amount(made.step, unit, 2), " or finer."))
    if made.span is not None and made.bits is not None:
        bits = "1 bit does" if made.bits == 1 else f"{made.bits} bits do"
        said.append(
            words(
                "A range of ",
                amount(made.span, unit, 2),
                f" from end to end or more; {bits} if it is no wider.",
            )
        )
    said.append(words("Once." if made.repeats == 1 else f"{made.repeats} times."))
    return said


def reasons(plan: Plan) -> list[Words]:
    """Return the numbers behind a plan, one sentence each."""
    if isinstance(plan, HumPlan):
        return _hum_reasons(plan)
    if isinstance(plan, SeparatePlan):
        return _separate_reasons(plan)
    if isinstance(plan, FramePlan):
        return [
            words(
                f"A line is seen from P·T/S = {plan.threshold_db:g}{NARROW}dB on, at a floor of ",
                _density(plan.floor, plan.unit),
                ".",
            ),
            words("Its rate is then known to ", amount(plan.u_hz, "Hz", 2), " (standard)."),
        ]
    return []


def _hum_reasons(plan: HumPlan) -> list[Words]:
    return [
        words(
            "The floor of ",
            _density(plan.floor, plan.unit),
            f" leaves ±{_percent(plan.share)}; the line stands {fixed(plan.rho_db, 0)}{NARROW}dB"
            " above it.",
        ),
        words(
            f"That is the hum of one capture. If hum changes by {plan.breathing_db:g}{NARROW}dB"
            f" from capture to capture, its usual level within {_percent(plan.within)} takes"
            f" {count(plan.usual_repeats)} captures.",
        ),
    ]


def _separate_reasons(plan: SeparatePlan) -> list[Words]:
    said = [words("Two peaks from ", _rounded(plan.resolved_s), " on.")]
    if plan.seen_s is not None:
        said.append(words("The weaker line is seen from ", _rounded(plan.seen_s), " on."))
    if plan.sigmas_s is not None:
        when = (
            words(" as soon as there are two peaks.")
            if plan.sigmas_s <= plan.resolved_s
            else words(" from ", _rounded(plan.sigmas_s), " on.")
        )
        said.append(words(f"{number(plan.sigmas)} standard uncertainties apart", when))
    return said


def contrasts(plan: Plan) -> Rows | None:
    """Return what tells two mains frequencies apart, by what else is unknown."""
    if not isinstance(plan, TellMainsPlan):
        return None
    headings = ["unknown too", "left at worst", "mean", "over floor"]
    rows = [
        [c.unknown, share(c.worst), share(c.mean), f"{fixed(c.rho_db, 1)}{NARROW}dB"]
        for c in plan.contrasts
    ]
    if plan.floor is not None:
        headings.append("hum")
        for row, c in zip(rows, plan.contrasts, strict=True):
            row.append(plain(amount(c.least_rms or 0.0, plan.unit, 2)))
    if plan.level is not None and plan.floor is not None:
        headings.append("wrong")
        for row, c in zip(rows, plan.contrasts, strict=True):
            row.append(_chance(c.error if c.error is not None else 1.0))
    return Rows(tuple(headings), tuple(tuple(row) for row in rows))


def notes(texts: tuple[str, ...]) -> list[str]:
    """Return assumptions or cautions with their numbers held to their units."""
    return [firm(text) for text in texts]


def _rounded(duration_s: float) -> Words:
    return seconds(float(f"{duration_s:.3g}"))


def _density(density: float, unit: str) -> Words:
    return amount(density, f"{unit}/√Hz")


def _hertz(rate: float) -> str:
    return f"{number(rate, 7)}{NARROW}Hz"


def _chance(probability: float) -> str:
    return _percent(probability) if probability >= 1e-3 else f"under 0.1{NARROW}%"


def _percent(part: float) -> str:
    return f"{number(100 * part, 2)}{NARROW}%"
