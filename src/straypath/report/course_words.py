"""How mains and floor moved over a long record, in sentences."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from straypath.wording import amount, listed, words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.contents.records import Course
    from straypath.wording import Words

_SURE = 4.0  # standard deviations of the scatter's mean square
_WORTH = 0.02  # part of the mean that is worth a reader's attention


def course(found: Course, unit: str) -> Words:
    """Return which levels moved, between which ends, and which kept steady."""
    each = list(zip(found.orders, found.rms, found.rms_u, strict=True))
    moved = [(order, rms) for order, rms, u in each if moves(rms, u)]
    steady = [str(order) for order, rms, u in each if not moves(rms, u)]
    said = [
        words(f"Order {order} moved between ", _ends(rms, unit), " rms. ") for order, rms in moved
    ]
    if steady:
        noun, verb = ("Order", "is") if len(steady) == 1 else ("Orders", "are")
        said.append(words(f"{noun} {listed(steady)} {verb} steady. "))
    if found.floor:
        mean = sum(found.floor) / len(found.floor)
        if moves(found.floor, found.floor_u * mean):
            said.append(words("The floor moved between ", _ends(found.floor, f"{unit}/√Hz"), "."))
        else:
            said.append(words("The floor is steady."))
    return words(*said)


def moves(levels: Sequence[float], u: float) -> bool:
    """Whether levels scatter more than their uncertainty explains, and by 2 % from end to end.

    Σ((x - mean)/u)²/(n - 1) has mean 1 and standard deviation √(2/(n - 1)) for normal noise.
    """
    if len(levels) < 2:
        return False
    mean = sum(levels) / len(levels)
    if max(levels) - min(levels) < _WORTH * abs(mean):
        return False
    if not u > 0:
        return True
    ratio = sum(((level - mean) / u) ** 2 for level in levels) / (len(levels) - 1)
    return ratio > 1 + _SURE * sqrt(2 / (len(levels) - 1))


def _ends(levels: Sequence[float], unit: str) -> Words:
    low, high = amount(min(levels), unit), amount(max(levels), unit)
    return words(low, " and ", high)
