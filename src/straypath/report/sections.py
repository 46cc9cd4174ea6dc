"""What a channel holds beside the mains, in sections: the same for page, notebook and figure."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from straypath.quantity import UpperLimit
from straypath.report import against_words, family_words
from straypath.report.course_words import course
from straypath.wording import NARROW, Piece, amount, count, firm, number, reading, words

if TYPE_CHECKING:
    from straypath.contents.records import Bursts, Floor, Offset
    from straypath.contents.whole import Contents
    from straypath.floor_budget import FloorBudget
    from straypath.inquiry import ChannelContents
    from straypath.quantity import Quantity
    from straypath.report.rows import Rows
    from straypath.wording import Words

_MOST_STEPS = 3


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; one that says more of the paragraph above stands further in."""

    text: Words
    inner: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with its paragraphs, below a table where there is one."""

    title: str
    paragraphs: tuple[Paragraph, ...]
    table: Rows | None = None


def sections(
    found: ChannelContents, rate_hz: float, most: int = family_words.MOST
) -> list[Section]:
    """Return what there is to say beside the mains; what has nothing to say is left out."""
    contents, unit = found.contents, found.channel.unit
    start_s = found.stretch[0] / rate_hz
    told = [Section("Other lines", tuple(_other_lines(contents, unit, rate_hz, most)))]
    if found.against is not None:
        said = tuple(Paragraph(text) for text in against_words.said(found.against, unit))
        rows = against_words.rows(found.against, contents)
        told.append(Section(against_words.title(found.against), said, rows))
    told += [
        Section("Floor, bursts and offset", tuple(_rest(found, start_s))),
        Section("Could not be told", tuple(_undetermined(contents))),
        Section("Takes another record", tuple(_unanswered(found))),
    ]
    return [section for section in told if section.paragraphs]


def _other_lines(contents: Contents, unit: str, rate_hz: float, most: int) -> list[Paragraph]:
    said = []
    for entry in family_words.entries(contents, unit, rate_hz, most):
        said.append(Paragraph(entry.head))
        said += [Paragraph(text, inner=True) for text in entry.more]
    if rest := family_words.weaker(contents, unit, most):
        said.append(Paragraph(rest))
    if not said and searched(contents):
        return [Paragraph(words("None is seen."))]
    return said


def searched(contents: Contents) -> bool:
    """Whether anything beside the mains was looked for."""
    return any(part is not None for part in (contents.floor, contents.bursts, contents.offset))


def _rest(channel: ChannelContents, start_s: float) -> list[Paragraph]:
    contents, unit, said = channel.contents, channel.channel.unit, []
    if contents.floor is not None:
        said.append(words(Piece("Floor. ", "strong"), floor(contents.floor, unit)))
    if channel.budget is not None:
        said.append(words(Piece("Noise budget. ", "strong"), budget(channel.budget, unit)))
    if contents.bursts is not None:
        said.append(words(Piece("Bursts. ", "strong"), bursts(contents.bursts, unit, start_s)))
    if contents.offset is not None:
        said.append(words(Piece("Offset. ", "strong"), offset(contents.offset, unit, start_s)))
    if contents.course is not None and (moved := course(contents.course, unit)):
        said.append(words(Piece("Over time. ", "strong"), moved))
    return [Paragraph(text) for text in said]


def _per(unit: str, below: str) -> str:
    return f"{unit}/{below}"


def floor(found: Floor, unit: str) -> Words:
    """Return white level and 1/f corner, or the ends of a floor that has no such shape."""
    density = _per(unit, "√Hz")
    if found.white is None:
        return _ends(found, density)
    white = words("White at ", reading(found.white, density))
    corner = found.corner_hz
    if isinstance(corner, UpperLimit):
        return words(white, ". No 1/f noise is seen: its corner is under ",
                     amount(corner.upper, "Hz", 2), ".")  # fmt: skip
    if corner is None:
        return words(white, ".")
    text = words(white, "; below a corner of ", reading(corner, "Hz"), " it rises")
    if found.slope is None:
        return words(text, ".")
    return words(text, ", its power as 1/f^", reading(found.slope, ""), ".")


def budget(found: FloorBudget, unit: str) -> Words:
    """Return how many times what source and converter explain the floor is, and the items."""
    if found.times is None:
        return words("None. ", firm(found.why_not))
    parts: list[Words | str] = []
    for place, item in enumerate(found.items):
        level = amount(item.density, _per(unit, "√Hz"), 2)
        lead = "" if not place else " and " if place + 1 == len(found.items) else ", "
        parts += [f"{lead}the {item.name} (", level, ")"]
    verb = " explains." if len(found.items) == 1 else " explain."
    return words(
        "The floor is ", reading(found.times, ""), " × what ", *parts, verb, _to_win(found.times)
    )


def _to_win(times: Quantity) -> str:
    """Return what the ratio means for the floor."""
    if times.high < 1.0:
        return " Less than they make: one of them is smaller than stated, or the band is filtered."
    return " There is nothing else in it." if times.low <= 1.0 else ""


def _ends(found: Floor, density: str) -> Words:
    """Return the density at both ends of a floor without a white level."""
    ends = list(zip(found.density, found.frequency_hz, strict=True))
    ends = [ends[0], ends[-1]] if len(ends) > 1 else ends
    parts: list[Words | str] = []
    for place, (level, at_hz) in enumerate(ends):
        parts += [", " if place else "; ", reading(level, density), " at ", amount(at_hz, "Hz", 2)]
    return words("No white level", *parts, ".")


def bursts(found: Bursts, unit: str, start_s: float = 0.0) -> Words:
    """Return how many bursts there are, how large, and whether they keep to the mains."""
    threshold = amount(found.threshold, unit, 2)
    if not found.count:
        return words("None is seen: nothing departs by more than ", threshold, ".")
    noun, verb = ("burst", "departs") if found.count == 1 else ("bursts", "depart")
    text = words(f"{count(found.count)} {noun} {verb} by more than ", threshold, ". ")
    return words(text, _typical(found, unit, start_s), _tie(found))


def _typical(found: Bursts, unit: str, start_s: float) -> Words:
    """Return the usual width and peak, and the largest peak with its time."""
    if not found.found:
        return ()
    largest = max(found.found, key=lambda burst: abs(burst.peak))
    at = words(
        amount(largest.peak, unit, 2), " at ", amount(start_s + largest.time_s, "s", 4), ". "
    )
    if len(found.found) == 1:
        return words("It is ", amount(largest.width_s, "s", 2), " wide and reaches ", at)
    wide = amount(median(burst.width_s for burst in found.found), "s", 2)
    high = amount(median(abs(burst.peak) for burst in found.found), unit, 2)
    return words("Typically ", wide, " wide and ", high, " high; the largest reaches ", at)


def _tie(found: Bursts) -> Words:
    """Return whether bursts are tied to the mains, with the test behind it."""
    if found.locked_p is None:
        why = "one is too few to tell" if found.count == 1 else "the mains are not known"
        return words(f"Whether they keep to the mains: {why}.")
    test = Piece(f" {_capital(firm(found.locked_test))}.", "quiet") if found.locked_test else ""
    small = found.locked_p < 1e-3
    chance = "p under 0.001" if small else f"p{NARROW}={NARROW}{number(found.locked_p, 2)}"
    if not found.locked:
        return words(f"They are not tied to the mains, {chance}.", test)
    phases = found.per_cycle
    where = "" if phases is None else f" at {phases} phase{'s' if phases > 1 else ''} of each cycle"
    return words(f"They are locked to the mains{where}, {chance}.", test)


def offset(found: Offset, unit: str, start_s: float = 0.0) -> Words:
    """Return level, slope and sudden steps."""
    rate = reading(found.slope_per_s, _per(unit, "s"))
    level = words("Mean ", reading(found.mean, unit))
    drifts = not found.slope_per_s.low <= 0.0 <= found.slope_per_s.high
    slope = words(", moving by ", rate) if drifts else words("; no slope is sure: ", rate)
    return words(level, slope, ".", _steps(found, unit, start_s))


def _steps(found: Offset, unit: str, start_s: float) -> Words:
    if not found.steps:
        return ()
    largest = sorted(found.steps, key=lambda step: -abs(step[1].value))[:_MOST_STEPS]
    parts: list[Words | str] = []
    for place, (time_s, size) in enumerate(sorted(largest, key=lambda step: step[0])):
        lead = ", " if place else " It jumps by "
        parts += [lead, reading(size, unit), " at ", amount(start_s + time_s, "s", 4)]
    more = len(found.steps) - len(largest)
    again = "once" if more == 1 else f"{count(more)} times"
    return words(*parts, f", and {again} more." if more else ".")


def _undetermined(contents: Contents) -> list[Paragraph]:
    """Return what this record cannot tell; why the mains are not read stands in the conclusion."""
    return [
        Paragraph(words(Piece(f"{_capital(part.what)}. ", "strong"), firm(part.why)))
        for part in contents.undetermined
        if part.why != contents.mains.unread
    ]


def _unanswered(found: ChannelContents) -> list[Paragraph]:
    """Return the questions that this record cannot answer, and what it would take."""
    return [
        Paragraph(words(Piece(f"{verdict.asked} ", "strong"), firm(verdict.why)))
        for verdict in found.answers
        if not verdict.answerable
    ]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
