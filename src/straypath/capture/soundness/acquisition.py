"""Judgements on how the record was taken: facts that are known, and questions where none are."""

from __future__ import annotations

from math import degrees, inf
from typing import TYPE_CHECKING

from straypath.capture.soundness.evidence import hertz
from straypath.capture.soundness.limits import ac_lead_rad, aperture_rejection_db
from straypath.capture.soundness.records import Finding
from straypath.wording import count, listed, number, plain, seconds

if TYPE_CHECKING:
    from straypath.capture.capture import Acquisition
    from straypath.capture.soundness.evidence import Evidence


def facts(evidence: Evidence) -> list[Finding]:
    """Return what the facts of the acquisition do to a reading of hum."""
    known = evidence.capture.acquisition
    return [
        *_mode(evidence, known),
        *_averaging(known),
        *_aperture(evidence, known),
        *_probe(known),
        *_coupling(evidence, known),
        *_bandwidth(evidence, known),
        *_unit(evidence),
    ]


def _mode(evidence: Evidence, known: Acquisition) -> list[Finding]:
    if known.mode == "peak":
        return [
            Finding(
                "peak-mode",
                "unsound",
                "It was taken in peak mode: it keeps extremes, not even samples.",
                "Record again in plain sample mode.",
            )
        ]
    if known.mode == "screen":
        return [
            Finding(
                "screen-export",
                "caution",
                f"It is a picture of the screen: {count(evidence.survey.samples)} points are left "
                "of the record. What was between them is lost or folded.",
                "Export the whole memory, not the screen.",
            )
        ]
    return []


def _averaging(known: Acquisition) -> list[Finding]:
    averaged = (known.averages or 0) > 1 or (known.mode == "average" and known.averages is None)
    if not averaged or known.trigger == "line":
        return []
    sweeps = f"{count(known.averages)} sweeps" if known.averages else "Sweeps"
    were = f"{sweeps} were averaged"
    advice = "Trigger on the mains line, or switch averaging off. A fall of hum here is no cure."
    if known.trigger:
        text = f"{were}, and the trigger is not the mains line. That erases hum."
        return [Finding("averaged", "unsound", text, advice)]
    text = f"{were}, and the trigger is not known. Unless it is the mains line, hum is erased."
    return [Finding("averaged", "caution", text, advice)]


# A supply is seldom nearer to nominal than 0.1 %, which leaves 60 dB of a whole cycle.
_LINE_OFF = 0.001
_WEAKENED_DB = 1.0  # 11 % low
_HIDDEN_DB = 20.0  # a tenth is left: hum of that size would be taken for none


def _aperture(evidence: Evidence, known: Acquisition) -> list[Finding]:
    aperture_s = known.aperture_s
    if not aperture_s or not 0 < aperture_s < inf:
        return []
    loss = {f: _loss_db(f, aperture_s) for f in evidence.mains}
    worst = max(loss.values())
    if worst < _WEAKENED_DB:
        return []
    by = listed(f"{hertz(f)} by {number(db, 2)} dB" for f, db in loss.items())
    hidden = worst >= _HIDDEN_DB
    return [
        Finding(
            "aperture",
            "unsound" if hidden else "note",
            f"Each sample integrates over {plain(seconds(aperture_s))}. "
            f"That weakens {by}{', the line being 0.1 % off' if hidden else ''}.",
            "Integrate over less than a tenth of a mains cycle to see the hum as it is.",
        )
    ]


def _loss_db(frequency_hz: float, aperture_s: float) -> float:
    """Return the lesser of the losses at a line that is off nominal to either side."""
    sides = (1 - _LINE_OFF, 1 + _LINE_OFF)
    return min(aperture_rejection_db(frequency_hz * side, aperture_s) for side in sides)


def _probe(known: Acquisition) -> list[Finding]:
    probe, told = known.probe_ratio, known.input_ratio
    if probe and told:
        if abs(probe / told - 1) < 0.01:
            return []
        off = probe / told
        times = f"{number(max(off, 1 / off), 2)} times too {'small' if off > 1 else 'large'}"
        return [
            Finding(
                "probe-mismatch",
                "unsound",
                f"The probe divides by {number(probe)}, the input was told {number(told)}. "
                f"Readings are {times}.",
                "Set both alike, or correct the readings by that factor.",
            )
        ]
    if probe or told:
        one, other = ("The probe", "the input") if probe else ("The input", "the probe")
        verb = "divides by" if probe else "was told"
        return [
            Finding(
                "probe-unknown",
                "note",
                f"{one} {verb} {number(probe or told or 1.0)}. The ratio of {other} is not known.",
                "Check that both are set alike: a mismatch makes readings wrong tenfold.",
            )
        ]
    return []


# Common practice, no source: the ac coupling of a 1 MΩ input has its corner at a few hertz.
USUAL_CORNER_HZ = 7.0


def _coupling(evidence: Evidence, known: Acquisition) -> list[Finding]:
    if known.coupling != "ac":
        return []
    first = evidence.mains[0]
    turned = number(degrees(ac_lead_rad(first, USUAL_CORNER_HZ)), 1)
    return [
        Finding(
            "ac-coupled",
            "note",
            f"The input is ac coupled: the steady voltage is lost. A corner of "
            f"{hertz(USUAL_CORNER_HZ)} turns {hertz(first)} by {turned}°.",
            "Record once with dc coupling: the offset is evidence too.",
        )
    ]


_ORDERS = 40  # what supply standards speak of (IEC 61000-2-2, from memory)


def _bandwidth(evidence: Evidence, known: Acquisition) -> list[Finding]:
    limit = known.bandwidth_limit_hz
    if not limit or limit >= _ORDERS * evidence.mains[0]:
        return []
    whole = int(limit / evidence.mains[0])
    which = "all orders" if whole < 1 else f"orders above {whole}"
    return [
        Finding(
            "narrow-band",
            "caution" if whole < 1 else "note",
            f"The bandwidth limit of {hertz(limit)} weakens {which} of {hertz(evidence.mains[0])}.",
            "Record once without the limit: the harmonics tell what feeds the hum.",
        )
    ]


def _unit(evidence: Evidence) -> list[Finding]:
    if evidence.channel.unit:
        return []
    return [
        Finding(
            "unit-unknown",
            "note",
            "The unit is not stated. Numbers are taken as they stand.",
            "Give the unit to get readings in volts.",
        )
    ]


_SLOW_HZ = 1000.0  # slower records may come from an integrating meter or logger


def questions(evidence: Evidence) -> tuple[str, ...]:
    """Return what no record can tell and nobody has said, as questions."""
    known, asked = evidence.capture.acquisition, []
    if known.probe_ratio is None and known.input_ratio is None and evidence.channel.unit == "V":
        asked.append("Is the ratio of the probe the same at the probe and at the input?")
    if not known.coupling:
        asked.append("Is the input coupled dc or ac?")
    if not known.mode:
        asked.append("Was it taken in sample mode, not peak or average, and not off the screen?")
    if not known.trigger:
        asked.append("Was it triggered on the mains line?")
    if known.bandwidth_limit_hz is None:
        asked.append("Is a bandwidth limit set?")
    if known.aperture_s is None and evidence.capture.rate_hz <= _SLOW_HZ:
        asked.append("Over how long does each sample integrate?")
    if not known.touching:
        asked.append("Who or what touches the circuit?")
    return tuple(asked)
