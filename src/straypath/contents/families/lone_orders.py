"""Orders of the mains that may be something else: a clock that falls on a high order."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from straypath.contents.families.catalogue import catalogue, matches
from straypath.contents.records import Undetermined
from straypath.uncertainty import from_normal

if TYPE_CHECKING:
    from straypath.contents.records import MainsComb, MainsLine

# Low orders belong to any hum.
LOWEST = 8
# An order stands alone when it is this much stronger than those beside it, in amplitude.
ALONE = 3.0


def lone_orders(comb: MainsComb, duration_s: float) -> list[Undetermined]:
    """Name the sources that cannot be told from an order that stands out alone.

    A record resolves 1/T. A source whose rate lies within it of a high order, or within three
    standard uncertainties, is inseparable from that order.

    Parameters
    ----------
    comb : MainsComb
    duration_s : float
        T [s].
    """
    said = []
    for line in comb.detected:
        if line.order < LOWEST or not _stands_alone(line, comb):
            continue
        resolved = 1.0 / (sqrt(12.0) * duration_s)
        about = from_normal(line.frequency_hz.value, max(line.frequency_hz.u, resolved))
        exact = {source.id for source in catalogue().values() if source.rates_hz}
        near = [
            match
            for match in matches(about, None)
            if match.id in exact
            and abs(match.rate_hz - about.value) < max(3 * line.frequency_hz.u, 1 / duration_s)
        ]
        if near:
            names = ", ".join(f"{m.name} at {m.rate_hz:.6g} Hz" for m in near[:3])
            said.append(
                Undetermined(
                    f"whether order {line.order} of the mains is mains",
                    f"It stands alone, and a record of {duration_s:.3g} s cannot tell it from "
                    f"{names}: inseparable.",
                )
            )
    return said


def _stands_alone(line: MainsLine, comb: MainsComb) -> bool:
    """Whether an order is far stronger than the four nearest ones."""
    beside = [
        other.rms.value if other.detected else 0.0
        for other in comb.lines
        if other is not line and abs(other.order - line.order) <= 2
    ]
    return all(line.rms.value > ALONE * value for value in beside)
