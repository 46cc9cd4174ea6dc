"""The lines that are no orders of the mains, said in plain sentences: the strongest first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from straypath.contents.families.aliases import telling_rate
from straypath.contents.families.catalogue import catalogue
from straypath.errors import InputError
from straypath.quantity import Quantity
from straypath.wording import (
    NARROW,
    Piece,
    Scale,
    Words,
    amount,
    count,
    firm,
    fixed,
    listed,
    number,
    reading,
    runs,
    value_only,
    words,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.contents.records import Family, MainsComb, Match
    from straypath.contents.whole import Contents

MOST: Final = 12
"""More families than this drown the rest; the weaker ones are only counted."""

COMPARABLE: Final = 0.5
"""From this part of the mains' rms on, another family belongs in the conclusion."""

_MOST_EXACT, _MOST_BANDS, _MOST_FOLDS = 6, 3, 3
_MOST_NUMBERS = 6
_MOST_FOLDED = 3  # families of which this is said; for the others it reads the same
_NEAR_ORDER = 0.1  # part of the mains frequency within which one is taken for the other
_NAMES: Final = {
    "clock": "clock",
    "carrier": "carrier",
    "single": "line",
    "narrow-band": "narrow band",
}
_HUGE_SIGMAS = 1000.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One family: what it is, and below it what is known of it."""

    head: Words
    more: tuple[Words, ...]


def entries(contents: Contents, unit: str, rate_hz: float, most: int = MOST) -> list[Entry]:
    """Return the strongest families in words."""
    made, left = [], _MOST_FOLDED
    for family in ranked(contents.families)[:most]:
        folds = folded(family, rate_hz) if left else ()
        left -= bool(folds)
        known = (*_known(family, contents.mains), folds)
        made.append(
            Entry(head(family, contents.mains, unit), tuple(text for text in known if text))
        )
    return made


def ranked(families: Sequence[Family]) -> list[Family]:
    """Return families with the strongest first."""
    return sorted(families, key=lambda family: -family.rms.value)


def weaker(contents: Contents, unit: str, most: int = MOST) -> Words:
    """Return how many families are left out, and what they stay under."""
    rest = ranked(contents.families)[most:]
    if not rest:
        return ()
    noun = "one" if len(rest) == 1 else "ones"
    top = amount(rest[0].rms.value, unit, 2)
    return words(f"And {count(len(rest))} weaker {noun}, up to ", top, " rms.")


def standing_out(contents: Contents, unit: str) -> Words:
    """Return the strongest family for the conclusion, where the mains do not dwarf it."""
    mains = contents.mains
    hum = mains.rms.value if mains.present and isinstance(mains.rms, Quantity) else 0.0
    first = next(iter(ranked(contents.families)), None)
    if first is None or first.rms.value < COMPARABLE * hum:
        return ()
    there = words("A ", _NAMES[first.kind], " at ", reading(first.rate_hz, "Hz"))
    size = words(reading(first.rms, unit), " rms")
    if not hum:
        text = words(there, " carries ", size)
    elif first.rms.value > hum:
        text = words(there, " is stronger: ", size)
    else:
        text = words(there, " comes near it: ", size)
    beside = first.beside
    if hum and beside is not None and beside.order and not beside.separate:
        text = words(text, f", inseparable from order {beside.order} of the mains")
    return words(text, ".")


def brief(contents: Contents, unit: str) -> Words:
    """Return the strongest family in so few words that many channels fit below one another."""
    if not standing_out(contents, unit):
        return ()
    first = ranked(contents.families)[0]
    rate, size = value_only(first.rate_hz, "Hz"), value_only(first.rms, unit)
    return words(f"; {_NAMES[first.kind]} at ", rate, ", ", size, " rms")


def head(family: Family, mains: MainsComb, unit: str) -> Words:
    """Return what a family is: kind, rate, rms, and which lines of it are seen."""
    kind = _NAMES.get(family.kind, family.kind)
    start = words(f"{kind[0].upper()}{kind[1:]} at ", reading(family.rate_hz, "Hz"))
    size = words(", ", reading(family.rms, unit), " rms")
    if family.kind == "clock":
        return words(start, size, f" in {_multiples(family.orders)}.")
    if family.kind == "carrier":
        return words(_carrier(family, start, size), _spacing(family, mains), ".")
    width = family.lines[0].width_hz if family.lines else None
    if width is not None:
        return words(start, size, ", width ", reading(width, "Hz"), ".")
    return words(start, size, ".")


def _multiples(orders: Sequence[int]) -> str:
    """Return the multiples one by one, or how many of which kind where there are many."""
    missing = "" if 1 in orders else "; its own rate is not seen"
    drawn_together = runs(orders)
    if len(drawn_together) > _MOST_NUMBERS:
        odd = "odd " if all(order % 2 for order in orders) else ""
        return f"{count(len(orders))} {odd}multiples up to {max(orders)}{missing}"
    noun = "multiple" if len(orders) == 1 else "multiples"
    return f"{noun} {listed(drawn_together)}{missing}"


def _sidebands(orders: Sequence[int]) -> str:
    sides = sorted(order for order in orders if order)
    if len(sides) > _MOST_NUMBERS:
        return f"{count(len(sides))} sidebands from {fixed(sides[0], 0)} to {fixed(sides[-1], 0)}"
    noun = "sideband" if len(sides) == 1 else "sidebands"
    return f"{noun} {listed([fixed(order, 0) for order in sides])}"


def _carrier(family: Family, start: Words, size: Words) -> Words:
    """Return a carrier with its sidebands; without itself where it belongs to a clock."""
    sides = _sidebands(family.orders)
    if 0 in family.orders:
        return words(start, size, f" with {sides}")
    lead = f"{sides[0].upper()}{sides[1:]} of the line at "
    return words(lead, reading(family.rate_hz, "Hz"), size)


def _spacing(family: Family, mains: MainsComb) -> Words:
    if family.spacing_hz is None:
        return ()
    text = words(", ", reading(family.spacing_hz, "Hz"), " apart")
    f0, apart = mains.frequency_hz, family.spacing_hz
    if f0 is not None and abs(apart.value - f0.value) <= 3 * (apart.u**2 + f0.u**2) ** 0.5:
        return words(text, ": the mains frequency")
    return text


# What is known of a family ------------------------------------------------------------------


def _known(family: Family, mains: MainsComb) -> tuple[Words, ...]:
    return (_against_mains(family, mains), _converted(family), *_matched(family))


def _against_mains(family: Family, mains: MainsComb) -> Words:
    """Return whether a family can be told from an order, where anybody would mix up the two."""
    beside, f0 = family.beside, mains.frequency_hz
    if beside is None or not beside.order:
        return ()
    width = family.lines[0].width_hz if family.lines else None
    if f0 is not None and width is not None and width.value > _NEAR_ORDER * f0.value:
        return ()  # so wide a band lies beside an order in any case
    near = f0 is None or abs(beside.distance_hz) < _NEAR_ORDER * f0.value
    if not beside.separate:
        apart = words(amount(abs(beside.distance_hz), "Hz", 2), f", {_sigmas(beside.sigmas)}")
        return words(f"Inseparable from order {beside.order} of the mains: ", apart, " apart.")
    if not near:
        return ()
    side = "above" if beside.distance_hz > 0 else "below"
    distance = amount(abs(beside.distance_hz), "Hz", 3)
    return words(
        distance, f" {side} order {beside.order} of the mains: separate by ",
        f"{_sigmas(beside.sigmas)}.",
    )  # fmt: skip


def _sigmas(value: float) -> str:
    if value > _HUGE_SIGMAS:
        return f"over {count(int(_HUGE_SIGMAS))} sigmas"
    return "under 0.1 sigmas" if value < 0.1 else f"{number(value, 2)} sigmas"


def _converted(family: Family) -> Words:
    """Return how many lines a converter may have made."""
    made = sum(line.conversion_product for line in family.lines)
    if not made:
        return ()
    who = "It" if len(family.lines) == 1 else f"{count(made)} of its lines"
    return words(f"{who} may be made by the converter out of a strong tone.")


def _matched(family: Family) -> list[Words]:
    """Return what the rate is known for: exact rates, bands, and what may be folded onto it."""
    exact = [m for m in family.matches if not m.alias and not is_band(m)]
    own = [m for m in exact if not _of_spacing(m, family)]
    spacing = [m for m in exact if _of_spacing(m, family)]
    bands = [m.name for m in family.matches if not m.alias and is_band(m)]
    folded = [m for m in family.matches if m.alias]
    said = [_names("Its rate agrees with", own), _names("Its spacing agrees with", spacing)]
    if bands:
        lead = "Also in the band of: " if exact else "In the band of: "
        more = "; and others" if len(bands) > _MOST_BANDS else ""
        text = f"{lead}{'; '.join(bands[:_MOST_BANDS])}{more}."
        said.append(words(Piece(firm(text), "quiet")))
    said.append(_names("Folded, it would agree with", folded, _MOST_FOLDS))
    return said


def is_band(match: Match) -> bool:
    """Whether a match says no more than that a rate lies within a wide band."""
    source = catalogue().get(match.id)
    return source is not None and bool(source.bands_hz)


def _of_spacing(match: Match, family: Family) -> bool:
    """Whether a match belongs to the spacing of a carrier's sidebands, not to its frequency."""
    if family.spacing_hz is None:
        return False
    apart = abs(match.rate_hz / family.spacing_hz.value - 1)
    return apart < abs(match.rate_hz / family.rate_hz.value - 1)


def _names(lead: str, found: Sequence[Match], most: int = _MOST_EXACT) -> Words:
    if not found:
        return ()
    each = [
        words(firm(match.name), Piece(f" ({_sigmas(match.sigmas)}; {firm(match.source)})", "quiet"))
        for match in found[:most]
    ]
    parts: list[Words | str] = []
    for place, text in enumerate(each):
        parts += ["; or " if place else " ", text]
    more = f"; and {len(found) - most} more" if len(found) > most else ""
    return words(lead, *parts, f"{more}.")


def folds_of(family: Family) -> tuple[float, ...]:
    """Return the frequencies that would fold onto a family [Hz]; none for a clock.

    The lines of a clock are read at their true multiples, so its rate is no fold.
    """
    if family.kind == "clock":
        return ()
    own = 0 if family.kind == "carrier" else 1
    pairs = zip(family.lines, family.orders, strict=True)
    return next((line.true_hz for line, order in pairs if order == own), ())


def folded(family: Family, rate_hz: float) -> Words:
    """Return what would fold onto a line, and the rate that would tell; nothing for a band."""
    true_hz = folds_of(family)
    if not true_hz or family.kind == "narrow-band":
        return ()
    scale = Scale.of(max(true_hz[:_MOST_FOLDS]), "Hz")
    shown = [number(hz / scale.factor, 4) for hz in true_hz[:_MOST_FOLDS]]
    text = f"If folded, truly at {listed(shown, 'or')}{NARROW}{scale.unit}"
    try:
        change = telling_rate(family.rate_hz.value, rate_hz, true_hz[:_MOST_FOLDS])
    except InputError:
        return words(Piece(f"{text}.", "quiet"))
    told = "".join(piece.text for piece in amount(change.new_rate_hz, "samples/s", 4))
    return words(Piece(f"{text}; a record at {told} would tell.", "quiet"))
