"""Values in words: one way to print a number, its interval, a limit, a chance or a share.

A text is a row of pieces, each with a tone, so that the terminal, the notebook and the figure say
the same and each sets it in its own way.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import floor, inf, isfinite, log10
from typing import TYPE_CHECKING, Final, Literal

from straypath.quantity import Quantity, UpperLimit
from straypath.units import PREFIXABLE, PREFIXES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from straypath.quantity import Reading

NARROW: Final = "\u202f"
"""The narrow no-break space, between a number and its unit and between thousands."""

FIRM: Final = "\u00a0"
"""A space as wide as others, where no line may break."""

Tone = Literal["plain", "quiet", "interval", "strong"]


_BEFORE_UNIT: Final = re.compile(
    r"(?<=\d) (?=(?:[fpnµmkMGT]?(?:V|A|W|Hz|s|Ω|F|H|S|Pa|m|dB|samples/s)|%|ppm|bits?|min|h)\b)"
    r"|(?<=\d) (?=%|\d{3}\b)"
)


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of text and how it is to be set."""

    text: str
    tone: Tone = "plain"


Words = tuple[Piece, ...]


def words(*parts: str | Piece | Words) -> Words:
    """Join texts, pieces and words into words."""
    pieces: list[Piece] = []
    for part in parts:
        if isinstance(part, str):
            pieces.append(Piece(part))
        elif isinstance(part, Piece):
            pieces.append(part)
        else:
            pieces.extend(part)
    return tuple(pieces)


def plain(text: Words) -> str:
    """Return the words without their tones."""
    return "".join(piece.text for piece in text)


def listed(items: Iterable[str], last: str = "and") -> str:
    """Return "a, b and c"."""
    names = list(items)
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def runs(orders: Iterable[int]) -> list[str]:
    """Return whole numbers with neighbours drawn together: 2, 4, 6–9."""
    found: list[list[int]] = []
    for order in sorted(orders):
        if found and order == found[-1][-1] + 1:
            found[-1].append(order)
        else:
            found.append([order])
    return [
        part
        for run in found
        for part in ([f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(order) for order in run])
    ]


def firm(text: str) -> str:
    """Return a sentence whose numbers hold on to their units: no line breaks between the two."""
    return _BEFORE_UNIT.sub(NARROW, text)


# Numbers ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Scale:
    """How numbers of one unit are printed: the prefixed unit, and what to divide by."""

    unit: str
    factor: float

    @classmethod
    def of(cls, largest: float, unit: str) -> Scale:
        """Choose the prefix that puts the largest magnitude between 1 and 1,000."""
        head, _, rest = unit.partition("/")
        if head not in PREFIXABLE or not isfinite(largest) or largest == 0:
            return cls(unit, 1.0)
        # A hair of room: 1e-6 / 1e-9 is a little less than 1,000.
        fitting = [p for p, factor in PREFIXES.items() if abs(largest) >= (1 - 1e-9) * factor]
        prefix = fitting[-1] if fitting else next(iter(PREFIXES))
        return cls(f"{prefix}{head}/{rest}" if rest else prefix + head, PREFIXES[prefix])

    def number(self, value: float, places: int) -> str:
        """Return a value in the scaled unit, without the unit."""
        return fixed(value / self.factor, places)


def decimal_places(half_width: float, digits: int = 2) -> int:
    """Return the places after the point at which a half-width has so many digits; may be < 0."""
    if not isfinite(half_width) or half_width <= 0:
        return 3
    places = digits - 1 - floor(log10(half_width))
    # Rounding may add a digit: 0.0996 at three places is 0.100.
    if round(half_width, places) >= 10.0 ** (digits - places):
        places -= 1
    return min(places, 12)


def interval_places(half_width: float) -> int:
    """Return the places for an interval: two digits of a half-width up to 35, else one.

    One digit of a small leading figure would round too much away; two of a large one say nothing.
    """
    places = decimal_places(half_width, 2)
    return places if round(half_width * 10.0**places) <= 35 else decimal_places(half_width, 1)


_PLAIN_BELOW: Final = 1e15  # nobody counts more zeros than these


def fixed(value: float, places: int) -> str:
    """Return a number with a true minus and thousands in groups; negative places round off."""
    if not isfinite(value):
        return "unknown" if value != value else ("∞" if value > 0 else "−∞")  # noqa: PLR0124
    if abs(value) >= _PLAIN_BELOW:
        return f"{value:.3g}".replace("-", "−")
    rounded = round(value, places) + 0.0  # no "−0"
    text = f"{abs(rounded):.{max(places, 0)}f}"
    whole, point, part = text.partition(".")
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", NARROW)
    sign = "−" if rounded < 0 and float(text) != 0 else ""
    return f"{sign}{whole}{point}{part}"


def count(number: int) -> str:
    """Return a whole number with thousands in groups."""
    return f"{number:,}".replace(",", NARROW)


def number(value: float, digits: int = 3) -> str:
    """Return a bare number with so many significant digits and no idle zeros."""
    if value == 0 or not isfinite(value):
        return fixed(value, 0)
    text = fixed(value, _places(value, digits))
    return text.rstrip("0").rstrip(".") if "." in text else text


def _places(value: float, digits: int) -> int:
    """Return the places after the point that leave so many significant digits."""
    return digits - 1 - floor(log10(abs(value)))


def _printed(value: float, digits: int) -> float:
    """Return a value as its digits will say it, for the prefix follows what is printed."""
    return round(value, _places(value, digits)) if value and isfinite(value) else value


def amount(value: float, unit: str, digits: int = 3) -> Words:
    """Return a value that has no interval, such as "22 µV/√Hz"."""
    scale = Scale.of(_printed(value, digits), unit)
    return words(number(value / scale.factor, digits), _unit(scale.unit))


def _unit(unit: str) -> Words:
    return words(Piece(NARROW + unit, "quiet")) if unit else ()


# Readings -----------------------------------------------------------------------------------


def interval(low: float, high: float, scale: Scale, places: int) -> str:
    """Return "[40.3, 42.3]"."""
    return f"[{scale.number(low, places)},{FIRM}{scale.number(high, places)}]"


_MOST_DIGITS: Final = 10
"""No clock and no converter on a bench means more digits, however still a computed record is."""


def reading_places(reading: Quantity, scale: Scale) -> int:
    """Return the decimal places for a reading, from the half-width of its interval."""
    half_width = (reading.high - reading.low) / 2 / scale.factor
    if isfinite(half_width) and half_width > 0:
        largest = max(abs(reading.value) / scale.factor, half_width)
        return min(interval_places(half_width), _places(largest, _MOST_DIGITS))
    return decimal_places(abs(reading.value) / scale.factor, 6)


def reading(value: Reading, unit: str) -> Words:
    """Return a measured value as it is printed everywhere: 41.3 mV [40.3, 42.3].

    The half-width of the interval decides the last place, the same for value and both ends. What
    was not seen is "< 9.0 µV, not seen".
    """
    if isinstance(value, UpperLimit):
        scale = Scale.of(_printed(value.upper, 2), unit)
        places = decimal_places(value.upper / scale.factor)
        return words(
            Piece(f"< {scale.number(value.upper, places)}", "quiet"),
            _unit(scale.unit),
            Piece(", not seen", "quiet"),
        )
    half_width = (value.high - value.low) / 2
    widest = max(abs(value.value), half_width if isfinite(half_width) else 0.0)
    scale = Scale.of(widest, unit)
    places = reading_places(value, scale)
    if round(abs(value.value) / scale.factor, places) >= 1000:  # 999.96 may be printed as 1000
        scale = Scale.of(1000 * scale.factor, unit)
        places = reading_places(value, scale)
    return words(
        scale.number(value.value, places),
        _unit(scale.unit),
        Piece(f" {interval(value.low, value.high, scale, places)}", "interval"),
    )


def value_only(value: Quantity, unit: str) -> Words:
    """Return the value to the place its interval allows, without the interval."""
    return reading(value, unit)[:-1]


# Chances and shares -------------------------------------------------------------------------


def chance(probability: float) -> str:
    """Return a probability in whole per cent: "98 %", "over 99 %", "under 1 %"."""
    if probability > 0.99:
        return f"over 99{NARROW}%"
    if probability < 0.01:
        return f"under 1{NARROW}%"
    return f"{min(max(round(100 * probability), 1), 99)}{NARROW}%"


def share(part: float) -> str:
    """Return a part of a whole in per cent, finer near 0 and near all: "99.7 %", "38 %"."""
    percent = 100 * part
    if round(percent, 1) > 99.9:
        return f"over 99.9{NARROW}%"
    if round(percent, 1) < 0.1:
        return f"under 0.1{NARROW}%"
    places = 1 if percent < 9.95 or percent >= 98.5 else 0
    return f"{fixed(percent, places)}{NARROW}%"


def seconds(duration_s: float) -> Words:
    """Return a duration as one would say it: "20 s", "80 ms", "12 min"."""
    if duration_s == inf or duration_s < 300:
        return amount(duration_s, "s", 4)
    if duration_s < 7200:
        return words(number(duration_s / 60), Piece(f"{NARROW}min", "quiet"))
    return words(number(duration_s / 3600), Piece(f"{NARROW}h", "quiet"))
