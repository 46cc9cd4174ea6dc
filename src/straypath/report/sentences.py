"""What was found, said in plain sentences: the same on the terminal, the page and the figure."""

from __future__ import annotations

from math import isfinite, sqrt
from typing import TYPE_CHECKING

from straypath.quantity import Quantity, UpperLimit
from straypath.report.family_words import brief as brief_family
from straypath.report.family_words import standing_out
from straypath.wording import (
    NARROW,
    Piece,
    Words,
    amount,
    chance,
    count,
    firm,
    fixed,
    listed,
    reading,
    runs,
    seconds,
    share,
    value_only,
    words,
)

if TYPE_CHECKING:
    from straypath.capture.capture import Capture
    from straypath.capture.soundness import Finding
    from straypath.contents.records import MainsComb, MainsLine, Wander
    from straypath.contents.whole import Contents
    from straypath.inquiry import ChannelContents, Examination

_INVENTED = "invented data"

SURE = 0.95
"""From this probability on the mains system is stated instead of offered."""


def conclusion(contents: Contents, unit: str) -> Words:
    """Return what the mains put into the channel, and what is as strong as they are."""
    other = standing_out(contents, unit)
    return words(_of_mains(contents.mains, unit), " " if other else "", other)


def _of_mains(mains: MainsComb, unit: str) -> Words:
    if not mains.present:
        return _nothing(mains, unit)
    where = _at(mains)
    return words(
        "A mains comb",
        where,
        " carries ",
        reading(mains.rms, unit) if isinstance(mains.rms, Quantity) else "",
        f" rms, {share(mains.share)} of the record's mean square about its mean. ",
        _system(mains),
        _pattern(mains),
    )


def brief(contents: Contents, unit: str) -> Words:
    """Return the conclusion in so few words that many channels fit below one another."""
    return words(_brief_mains(contents.mains, unit), brief_family(contents, unit))


def _brief_mains(mains: MainsComb, unit: str) -> Words:
    if mains.present and mains.frequency_hz is not None and isinstance(mains.rms, Quantity):
        return words(
            "Mains comb at ",
            value_only(mains.frequency_hz, "Hz"),
            ", ",
            value_only(mains.rms, unit),
            f" rms, {share(mains.share)} of the mean square",
        )
    if isinstance(mains.rms, UpperLimit):
        return words("No mains comb, under ", amount(mains.rms.upper, unit, 2), " rms")
    return words("No reading")


def _nothing(mains: MainsComb, unit: str) -> Words:
    if mains.rms is None and mains.nominal_hz is None:
        return words(firm(mains.unread))
    if mains.rms is None:
        system, odds = f"{mains.nominal_hz:g}{NARROW}Hz", chance(mains.nominal_probability)
        return words(
            firm(mains.unread),
            f" If it holds mains, it is {system} with {odds} probability.",
        )
    if isinstance(mains.rms, UpperLimit):
        limit = words(": all orders together are under ", amount(mains.rms.upper, unit, 2), " rms")
    else:
        limit = ()
    return words("No mains comb is seen", limit, ".")


def _at(mains: MainsComb) -> Words:
    if mains.frequency_hz is None:
        return ()
    return words(" at ", reading(mains.frequency_hz, "Hz"))


def _system(mains: MainsComb) -> Words:
    if mains.nominal_hz is None:
        return ()
    name = f"{mains.nominal_hz:g}{NARROW}Hz mains"
    odds = chance(mains.nominal_probability)
    if mains.nominal_probability >= SURE:
        return words(f"It is {name}, probability {odds}.")
    return words(f"It may be {name}, probability {odds}; {_why_unsure(mains)}.")


_OFF_GRID = 0.02  # of the nominal frequency; far more than any grid is let go


def _why_unsure(mains: MainsComb) -> str:
    """Return what keeps the system from being sure: a frequency that no grid has, or the record."""
    at, nominal = mains.frequency_hz, mains.nominal_hz
    unclear = "the record is too short or too noisy to be sure"
    if at is None or not nominal or not (isfinite(at.low) and isfinite(at.high)):
        return unclear
    room = _OFF_GRID * nominal
    if at.low <= nominal + room and at.high >= nominal - room:
        return unclear
    if at.low > 50 and at.high < 60:
        return f"it lies between 50 and 60{NARROW}Hz"
    return "its frequency is off every grid"


def _pattern(mains: MainsComb) -> Words:
    """Return what the orders have in common, where there are enough to say so."""
    tested = [line for line in mains.lines if line.order <= 20]
    odd = [line for line in tested if line.order % 2 and line.detected]
    even = [line for line in tested if line.order % 2 == 0]
    seen = [line for line in even if line.detected]
    if len(mains.detected) == 1 and len(tested) > 1:
        return words(f" Only order {mains.detected[0].order} is seen.")
    if len(odd) < 2 or len(even) < 2:
        return ()
    if not seen:
        return words(" Odd orders stand out; no even one is seen.")
    if len(seen) <= len(even) / 2 and _strongest(odd[1:]) > 2 * _strongest(seen):
        return words(" Odd orders stand out; most even ones are not seen.")
    if _strongest(seen) > _strongest(odd):
        return words(" Even orders stand out, as from a rectified supply.")
    return ()


def _strongest(lines: list[MainsLine]) -> float:
    return max(line.rms.value for line in lines)


def not_seen(mains: MainsComb, unit: str) -> Words:
    """Return which orders were looked for in vain, with the highest limit among them."""
    absent = [line for line in mains.lines if isinstance(line.rms, UpperLimit)]
    if not absent:
        return ()
    worst = max(line.rms.upper for line in absent if isinstance(line.rms, UpperLimit))
    noun = "Order" if len(absent) == 1 else "Orders"
    verb = "is" if len(absent) == 1 else "are"
    each = "" if len(absent) == 1 else "each "
    names = listed(runs(line.order for line in absent))
    return words(f"{noun} {names} {verb} not seen: {each}under ", amount(worst, unit, 2), ".")


def floor_density(line: MainsLine) -> float:
    """Return the noise density under a line [unit/√Hz]."""
    return sqrt(line.floor)


def floor(mains: MainsComb, unit: str) -> Words:
    """Return the noise density under the first and the last line."""
    lines = [line for line in mains.lines if line.floor > 0]
    if not lines:
        return ()
    density = f"{unit}/√Hz" if unit else "/√Hz"
    first, last = lines[0], lines[-1]
    text = words("The floor is ", amount(floor_density(first), density, 2))
    if last is first:
        return words(text, f" under order {first.order}.")
    return words(
        text,
        f" under order {first.order} and ",
        amount(floor_density(last), density, 2),
        f" under order {last.order}.",
    )


def wander(moved: Wander | None) -> Words:
    """Return how far the mains frequency moved."""
    if moved is None or not moved.frequency_hz:
        return ()
    low, high = min(moved.frequency_hz), max(moved.frequency_hz)
    return words(
        f"The mains frequency moved between {fixed(low, 3)} and {fixed(high, 3)}{NARROW}Hz;"
        " it was followed."
    )


def name(capture: Capture) -> str:
    """Return what to call a capture: its file, without the folder."""
    return capture.path.name if capture.path else "Capture"


def invented(capture: Capture) -> bool:
    """Return whether the file itself says that its data are invented."""
    said = (*capture.notes, capture.acquisition.instrument)
    return any(_INVENTED in text.casefold() for text in said)


def size(capture: Capture) -> Words:
    """Return how long and how fast the record is."""
    channels = len(capture.channels)
    names = "" if channels == 1 else f" in each of {channels} channels"
    return words(
        f"{count(capture.samples)} samples{names}, ",
        seconds(capture.duration_s),
        " at ",
        amount(capture.rate_hz, "Hz", 6),
        f", read as {capture.format}." if capture.format else ".",
    )


def taken(capture: Capture) -> Words:
    """Return how the record was taken, as far as the file says."""
    facts = capture.acquisition
    known = [
        f"started {capture.start.isoformat(sep=' ', timespec='seconds')}" if capture.start else "",
        f"by {facts.instrument}" if facts.instrument and not invented(capture) else "",
        f"{facts.coupling} coupled" if facts.coupling else "",
        _probe(capture),
        f"{facts.bits} bits" if facts.bits else "",
        f"mode {facts.mode}" if facts.mode else "",
        f"{count(facts.averages)} averages" if facts.averages else "",
        f"trigger {facts.trigger}" if facts.trigger else "",
        _touching(facts.touching),
    ]
    said = ", ".join(fact for fact in known if fact)
    return words(said[0].upper() + said[1:], ".") if said else ()


def _probe(capture: Capture) -> str:
    probe, told = capture.acquisition.probe_ratio, capture.acquisition.input_ratio
    if not probe:
        return ""
    text = f"probe {probe:g}:1"
    return f"{text}, input set to {told:g}:1" if told else text


def _touching(who: str) -> str:
    if who.casefold() in {"nobody", "no one", "none", "nothing"}:
        return "nobody touching it"
    return f"touched by {who}" if who else ""


def tests(mains: MainsComb) -> Words:
    """Return how many orders were tested and how often chance would fool the test."""
    if not mains.lines:
        return ()
    odds = count(round(1 / mains.false_alarm_rate)) if mains.false_alarm_rate > 0 else "∞"
    noun = "order" if len(mains.lines) == 1 else "orders"
    return words(f"{len(mains.lines)} {noun} tested, one false alarm in {odds}.")


def finding(found: Finding) -> Words:
    """Return a finding about the record with its advice; what misleads says so first."""
    first = Piece("Unsound. ", "strong") if found.severity == "unsound" else ""
    advice = Piece(f" {firm(found.advice)}", "quiet") if found.advice else ""
    return words(first, firm(found.text), advice)


def facts(found: ChannelContents) -> list[Words]:
    """Return what stands below the mains lines of a channel: limits, floor, wander, tests."""
    mains, unit = found.mains, found.channel.unit
    under = floor(mains, unit) if found.contents.floor is None else ()
    said = (not_seen(mains, unit), under, wander(mains.wander), tests(mains))
    return [fact for fact in said if fact]


def questions(examination: Examination) -> list[str]:
    """Return what no record can tell and nobody has said, each question once."""
    asked = [q for found in examination.channels for q in found.soundness.questions]
    return list(dict.fromkeys(asked))


def assumptions(examination: Examination) -> list[str]:
    """Return all that was assumed, by the reader and for the combs that were looked for."""
    notes = examination.capture.notes
    for found in examination.channels:
        notes += found.mains.assumptions
        for part in (found.against, found.budget):
            notes += part.assumptions if part is not None else ()
    return assumed(notes)


def shown_assumptions(examination: Examination) -> list[str]:
    """Return the assumptions for pages that mark invented data in their title."""
    return [note for note in assumptions(examination) if _INVENTED not in note.casefold()]


def assumed(notes: tuple[str, ...]) -> list[str]:
    """Return notes as sentences: each with a capital and a stop, none twice."""
    kept = dict.fromkeys(" ".join(note.split()) for note in notes if note.strip())
    return [note[0].upper() + note[1:] + ("" if note[-1] in ".!?" else ".") for note in kept]
