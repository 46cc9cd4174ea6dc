"""What a channel shows against a reference, in words and as a small table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from straypath.quantity import Quantity, UpperLimit
from straypath.report.rows import Rows, aligned
from straypath.wording import (
    NARROW,
    Piece,
    Scale,
    chance,
    count,
    firm,
    fixed,
    interval,
    interval_places,
    number,
    reading,
    reading_places,
    seconds,
    words,
)

if TYPE_CHECKING:
    from straypath.contents.pair.against import Against
    from straypath.contents.pair.records import Difference, LineTransfer, MainsPhases, Transfer
    from straypath.contents.whole import Contents
    from straypath.wording import Words

MOST: Final = 6
"""The strongest lines are shown; the JSON document has all."""


def title(found: Against) -> str:
    """Return the heading of the section."""
    return "Against the trigger" if found.reference is None else "Against the reference"


def rows(found: Against, contents: Contents) -> Rows | None:
    """Return the strongest lines with gain, phases and coherence; None where there is none."""
    if found.transfer is None:
        return _phase_rows(found.phases, contents)
    lines = _strongest(found.transfer, contents)
    phases = _phases(found.phases)
    read = [line for line in lines if isinstance(line.gain, Quantity)] or lines
    scale = Scale.of(max((_size(line) for line in read), default=0.0), _unit(found.transfer.unit))
    gains = [_gain(line, scale) for line in lines]
    titles = {
        "line": "line",
        "gain": f"gain {scale.unit}".rstrip(),
        "interval": "95 % interval",
        "phase": "phase rad",
        "mains": "to mains rad",
        "coherence": "coherence",
    }
    columns = (
        [_name(line) for line in lines],
        aligned([gain for gain, _ in gains]),
        [range_ for _, range_ in gains],
        aligned([_angle(line.phase_rad) for line in lines]),
        aligned([_angle(phases.get(line.order)) for line in lines]),
        [fixed(line.coherence, 2) for line in lines],
    )
    return Rows(titles, tuple(zip(*columns, strict=True)), ("coherence", "phase", "interval"))


def _phase_rows(phases: MainsPhases | None, contents: Contents) -> Rows | None:
    """Return the phases of the strongest orders."""
    if phases is None or not phases.orders:
        return None
    size = {line.order: line.rms.value for line in contents.mains.lines}
    ranked = sorted(phases.orders, key=lambda each: -size.get(each.order, 0.0))[:MOST]
    made = zip(
        [f"order {each.order}" for each in ranked],
        aligned([_angle(each.phase_rad) for each in ranked]),
        strict=True,
    )
    return Rows({"line": "line", "mains": "to mains rad"}, tuple(made), ())


def said(found: Against, unit: str) -> list[Words]:
    """Return what stands below the table, cautions included."""
    texts = []
    if found.transfer is not None:
        texts.append(_coherence(found.reference or "", found.transfer))
    if found.phases is not None:
        texts.append(_against(found.phases))
    if found.difference is not None:
        texts.append(words(Piece("Difference. ", "strong"), difference(found.difference, unit)))
    texts += [
        words(Piece("Not compared. ", "strong"), firm(lost.why))
        for lost in found.undetermined
        if found.transfer is None or not lost.what.startswith("transfer at ")
    ]
    if more := sum(lost.what.startswith("transfer at ") for lost in found.undetermined):
        noun = "line has" if more == 1 else "lines have"
        texts.append(words(f"{count(more)} {noun} no gain; the JSON document says why."))
    texts += [words(Piece("Caution. ", "strong"), text) for text in found.cautions]
    return texts


def _coherence(reference: str, made: Transfer) -> Words:
    """Return what the table compares, and from where a coherence is no chance."""
    name = f"channel {reference}" if reference else "the reference"
    odds = count(round(1 / made.false_alarm_rate))
    return words(
        f"Gain and phase are over {name}, in {count(made.stretches)} stretches of ",
        seconds(float(f"{made.stretch_s:.3g}")),
        f". A coherence above {number(made.coherence_level, 2)} is no chance, one false alarm in "
        f"{odds}.",
    )


def _against(phases: MainsPhases) -> Words:
    if not phases.orders:
        return words(f"No phase against the mains. {firm(phases.why_not)}")
    return words(f"To mains: the phase that each order has at {phases.against}.")


def difference(found: Difference, unit: str) -> Words:
    """Return gain and delay of the fitted reference, and what taking it off achieves."""
    gain = reading(found.gain, _unit(found.unit))
    lead = words(gain, " of the reference, ", _delay(found.delay_s), ", is taken off: ")
    these = "this line" if len(found.lines) == 1 else f"these {len(found.lines)} lines"
    fall = (
        words(f"{these} fall{'s' if len(found.lines) == 1 else ''} by ",
              reading(found.rejection_db, "dB"))
        if found.rejection_db is not None
        else words(f"{these} fall{'s' if len(found.lines) == 1 else ''} by at least ",
                   f"{fixed(found.at_least_db, 1)}{NARROW}dB")
    )  # fmt: skip
    rest = words(", to ", reading(found.total, unit), " rms.") if _left(found) else words(".")
    misfit = found.misfit_p
    if misfit is None or misfit >= 0.01:
        return words(lead, fall, rest)
    doubt = f" One gain and one delay do not fit all of them, probability {chance(misfit)}."
    return words(lead, fall, rest, doubt)


def _left(found: Difference) -> bool:
    return isinstance(found.total, Quantity)


def _delay(delay: Quantity) -> Words:
    if delay.low <= 0.0 <= delay.high:
        return words("without a delay that is sure (", reading(delay, "s"), ")")
    side = "later" if delay.value > 0 else "earlier"
    shown = delay if delay.value > 0 else delay.scaled(-1.0)
    return words(reading(shown, "s"), f" {side}")


def _unit(ratio: str) -> str:
    return "" if ratio == "1" else ratio


def _strongest(made: Transfer, contents: Contents) -> list[LineTransfer]:
    """Return the lines that are largest in this channel, order by order."""
    orders = {line.order: line.rms.value for line in contents.mains.detected}
    others = {
        line.frequency_hz.value: line.rms.value
        for family in contents.families
        for line in family.lines
    }

    def size(line: LineTransfer) -> float:
        if line.order is not None:
            return orders.get(line.order, 0.0)
        return others.get(line.frequency_hz, 0.0)

    return sorted(made.lines, key=lambda line: (-size(line), line.frequency_hz))[:MOST]


def _size(line: LineTransfer) -> float:
    if isinstance(line.gain, UpperLimit):
        return line.gain.upper
    return 0.0 if line.gain is None else line.gain.value


def _gain(line: LineTransfer, scale: Scale) -> tuple[str, str]:
    """Return the gain and its interval as texts; a limit has no interval."""
    if line.gain is None:
        return "", ""
    if isinstance(line.gain, UpperLimit):
        return f"< {number(line.gain.upper / scale.factor, 2)}", ""
    places = reading_places(line.gain, scale)
    shown = scale.number(line.gain.value, places)
    return shown, interval(line.gain.low, line.gain.high, scale, places)


def _phases(phases: MainsPhases | None) -> dict[int | None, Quantity]:
    return {each.order: each.phase_rad for each in phases.orders} if phases else {}


def _angle(angle: Quantity | None) -> str:
    if angle is None:
        return ""
    places = interval_places((angle.high - angle.low) / 2)
    return fixed(angle.value, min(max(places, 0), 4))


def _name(line: LineTransfer) -> str:
    if line.order is not None:
        return f"order {line.order}"
    return f"{number(line.frequency_hz, 6)}{NARROW}Hz"
