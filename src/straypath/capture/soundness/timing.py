"""Judgements on time: how long the record is, how its stamps lie, what the rate can show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straypath.capture.soundness.evidence import hertz
from straypath.capture.soundness.limits import alias_hz
from straypath.capture.soundness.records import Finding
from straypath.wording import count, listed, number, plain, seconds, share

if TYPE_CHECKING:
    from straypath.capture.capture import Stamps
    from straypath.capture.soundness.evidence import Evidence
    from straypath.capture.soundness.stretches import Span


# Length -------------------------------------------------------------------------------------

# 50 and 60 Hz come apart by one turn in 100 ms. At 0.3 turns a 60 Hz fit leaves 44 % of a 50 Hz
# wave at the worst phase, at 0.2 turns 18 %, at 0.1 turns 1 % (tests/data/soundness_checks.json).
_TOLD_S = 0.03
# From here on 93 to 97 % of the 95 % intervals of the comb hold (tests/contents/test_promises.py).
_RELIABLE_CYCLES = 5


def length(evidence: Evidence, stretch: Span) -> list[Finding]:
    """Return whether the longest sound stretch is too short for the question."""
    samples = stretch[1] - stretch[0]
    if samples < 2:
        return []
    whole = samples == evidence.survey.samples
    lasts = f"{'It' if whole else 'Its longest sound stretch'} lasts {evidence.lasting(samples)}"
    duration_s = samples / evidence.capture.rate_hz
    cycles = duration_s * evidence.mains[0]
    both = len(evidence.mains) > 1
    found = []
    if both and duration_s < _TOLD_S:
        turns = number(duration_s * abs(evidence.mains[1] - evidence.mains[0]), 2)
        found.append(
            Finding(
                "too-short-to-tell",
                "caution",
                f"{lasts}. {_either(evidence)} come apart by {turns} turns only.",
                "Record 100 ms or more to tell them apart, or say which mains it is.",
            )
        )
    if cycles < _RELIABLE_CYCLES:
        short = cycles < 1
        held = "less than one cycle" if short else f"{number(cycles, 2)} cycles"
        found.append(
            Finding(
                "under-one-cycle" if short else "few-cycles",
                "caution" if short else "note",
                f"{lasts}, {held} of {hertz(evidence.mains[0])}. "
                f"Intervals are reliable from {_RELIABLE_CYCLES} cycles on.",
                f"Record {plain(seconds(_RELIABLE_CYCLES / evidence.mains[0]))} or more.",
            )
        )
    return found


def _either(evidence: Evidence) -> str:
    return listed(hertz(f) for f in evidence.mains)


# Rate ---------------------------------------------------------------------------------------

_FEW_ORDERS = 5  # rectifiers show in orders 3 and 5


def rate(evidence: Evidence) -> list[Finding]:
    """Return whether the rate can hold the mains at all, and how it shows when it cannot."""
    half = evidence.capture.rate_hz / 2
    folded = [f for f in evidence.mains if f >= half]
    if folded:
        shows = listed(f"{hertz(f)} shows at {_at(evidence, f)}" for f in folded)
        slow = any(alias_hz(f, evidence.capture.rate_hz) < 0.02 * half for f in folded)
        drifts = " Hum looks like drift." if slow else ""
        return [
            Finding(
                "too-slow",
                "unsound",
                f"The rate holds signals up to {hertz(half)} only. {shows}.{drifts}",
                f"Record at {hertz(20 * max(evidence.mains))} or faster.",
            )
        ]
    orders = int(half / evidence.mains[0])
    if orders < _FEW_ORDERS:
        return [
            Finding(
                "few-orders",
                "note",
                f"The rate holds {'order 1' if orders == 1 else f'orders up to {orders}'} of "
                f"{hertz(evidence.mains[0])} only. Higher ones fold.",
                f"Record at {hertz(20 * max(evidence.mains))} or faster to see what feeds the hum.",
            )
        ]
    return []


def _at(evidence: Evidence, frequency_hz: float) -> str:
    """Return where a folded frequency shows, as "10 Hz" or "a standstill"."""
    shown = alias_hz(frequency_hz, evidence.capture.rate_hz)
    return hertz(shown) if shown > 1e-6 * frequency_hz else "a standstill"


# Stamps -------------------------------------------------------------------------------------

# A stamp that is off by a tenth of the interval turns a sine at half the rate by 18°, at a tenth
# of the rate by under 4°.
_UNEVEN = 0.1


def stamps(evidence: Evidence, stretch: Span) -> list[Finding]:
    """Return what the time column says about gaps, order and evenness."""
    column = evidence.capture.stamps
    if column is None:
        return []
    interval_s = 1.0 / evidence.capture.rate_hz
    coarse = column.resolution_s >= interval_s
    found = _gaps(evidence, column, stretch)
    if coarse:
        found.append(
            Finding(
                "coarse-stamps",
                "note",
                f"Time is written in steps of {plain(seconds(column.resolution_s))}. "
                f"Samples lie {plain(seconds(interval_s))} apart, so stamps repeat.",
                "Export time with more digits, or give the rate.",
            )
        )
    elif column.backwards:
        times = "once" if column.backwards == 1 else f"{count(column.backwards)} times"
        kept = evidence.lasting(stretch[1] - stretch[0])
        used = f"Only the longest stretch that runs forward is used, {kept}. "
        found.append(
            Finding(
                "stamps-backwards",
                "unsound",
                f"Time runs backwards or stands still {times}.",
                f"{used if column.forward else ''}Export the record again: pieces may be out of "
                "order or doubled.",
            )
        )
    if not coarse and column.worst_error_s > max(column.resolution_s, _UNEVEN * interval_s):
        part = share(column.worst_error_s / interval_s)
        found.append(
            Finding(
                "uneven-stamps",
                "caution",
                f"The samples are not even: a stamp is off by {part} of the interval.",
                "Let a hardware clock take the samples, not a program's loop.",
            )
        )
    return found


def _gaps(evidence: Evidence, column: Stamps, stretch: Span) -> list[Finding]:
    if not column.gaps:
        return []
    lost = plain(seconds(sum(gap.missing_s for gap in column.gaps)))
    many = (
        "There is one gap" if len(column.gaps) == 1 else f"There are {count(len(column.gaps))} gaps"
    )
    kept = evidence.lasting(stretch[1] - stretch[0])
    return [
        Finding(
            "gaps",
            "caution",
            f"{many} in time: {lost} missing in all.",
            f"Only the longest whole stretch is used, {kept}. Record without a break.",
        )
    ]
