"""Sorts the lines of a channel into families: clocks, carriers, single lines, narrow bands."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.families.agreement import Places, root_sum
from straypath.contents.families.aliases import folding_onto
from straypath.contents.families.beside import beside_mains
from straypath.contents.families.carriers import search_carriers
from straypath.contents.families.catalogue import matches
from straypath.contents.families.clocks import mains_clock, search_clocks
from straypath.contents.families.dominant import dominant_clock, folded_mains
from straypath.contents.records import Family

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.contents.families.agreement import Ints
    from straypath.contents.families.carriers import Carrier
    from straypath.contents.families.clocks import Clock
    from straypath.contents.records import Line, Match
    from straypath.quantity import Quantity

RESOLVED_CELLS = 2.0
"""Lines closer than this many 1/T are not told apart, so no lower rate or spacing is claimed."""


def group_lines(
    lines: Sequence[Line],
    mains_hz: Quantity | None,
    duration_s: float,
    rate_hz: float,
    *,
    bandwidth_hz: float | None = None,
    time_base: float | None = None,
) -> tuple[Family, ...]:
    """Sort lines into families, and name what the families' rates are known for.

    In this order: lines at orders of the mains; sidebands of carriers; clocks; the rest are
    single lines and narrow bands. Every line belongs to one family.

    Parameters
    ----------
    lines : sequence of Line
        No orders of the mains comb up to 40; those above may be among them. Any order.
    mains_hz : Quantity or None
        Mean mains frequency over the record [Hz].
    duration_s, rate_hz : float
        Record length T [s] and rate [Hz].
    bandwidth_hz : float or None
        Highest frequency that the input passes [Hz].
    time_base : float or None
        Limit of the relative error of the record's clock; None takes that of the catalogue.

    Returns
    -------
    tuple of Family
        Strongest first. `beside` and `true_hz` are filled in where a line came without.

    Notes
    -----
    A clock (chance below 1e-3 per record that unrelated lines are called one, see
    `search_clocks`) has at least three lines, or two as harmonics up to 10. Harmonics folded at
    half the rate belong to it: `orders` tells. Its rate is the largest that explains all its
    lines: orders 42, 44, 46 of the mains are a clock at twice the mains frequency.
    A carrier that is a harmonic of a clock stays with the clock; the carrier family then holds
    its sidebands only (no order 0), and its rate is still the carrier's frequency. So no power
    is counted twice.
    Narrow bands join the mains only, whose wander smears high orders. A lone line at an order of
    the mains is single, with `beside` saying so.

    Examples
    --------
    >>> from straypath.contents.records import Line
    >>> from straypath.uncertainty import from_normal
    >>> def line(hz, rms):
    ...     return Line(from_normal(hz, 1e-3), from_normal(rms, 1e-9), None, 1e-9, 1e-12)
    >>> found = group_lines([line(2e3, 2e-6), line(3e3, 1e-6), line(5e3, 1e-6)], None, 10.0, 20e3)
    >>> [(family.kind, round(family.rate_hz.value), family.orders) for family in found]
    [('clock', 1000, (2, 3, 5))]
    """
    ordered = sorted(lines, key=lambda line: (line.frequency_hz.value, line.rms.value))
    ordered = [_completed(line, mains_hz, duration_s, rate_hz, bandwidth_hz) for line in ordered]
    places = Places.of(ordered, duration_s)
    least = RESOLVED_CELLS / duration_s
    top = bandwidth_hz if bandwidth_hz is not None else inf
    free = np.ones(len(places), dtype=np.bool_)
    clocks: list[Clock] = []
    if mains_hz is not None and mains_hz.value >= least:
        of_mains = folded_mains(places, free, mains_hz, rate_hz, top)
        of_mains = of_mains or mains_clock(places, mains_hz, rate_hz, top)
        if of_mains is not None:
            free[of_mains.members] = False
            clocks.append(of_mains)
    free &= places.narrow
    dominant = dominant_clock(places, free, least, rate_hz, top)
    if dominant is not None:
        free[dominant.clock.members] = False
        clocks.append(dominant.clock)
    known = [mains_hz] if mains_hz is not None else []
    # Sidebands of a clock's harmonics line up with each other: they must go before clocks are
    # looked for. Then once more, with the rates of the clocks as spacings.
    carriers, left = search_carriers(places, free, known, least)
    clocks += search_clocks(places, free, least, rate_hz, top)
    in_clock = {int(i) for clock in clocks for i in clock.members}
    if clocks or left:
        centres = [carrier.centre for carrier in carriers]
        free[centres] = False
        known += [clock.rate(places) for clock in clocks]
        more, _ = search_carriers(places, free, known, least, clocks_too=True, but=centres)
        carriers += more
    families = [_clock(ordered, places, clock) for clock in clocks]
    families += [_carrier(ordered, places, found, in_clock) for found in carriers]
    grouped = in_clock | {int(i) for found in carriers for i in (found.centre, *found.members)}
    families += [_alone(line) for i, line in enumerate(ordered) if i not in grouped]
    families = [_named(family, mains_hz, duration_s, time_base) for family in families]
    return tuple(sorted(families, key=lambda family: (-family.rms.value, family.rate_hz.value)))


def _completed(
    line: Line,
    mains_hz: Quantity | None,
    duration_s: float,
    rate_hz: float,
    bandwidth_hz: float | None,
) -> Line:
    """Return the line with what lies beside it and what would fold onto it."""
    if line.beside is None and mains_hz is not None:
        width = line.width_hz.value if line.width_hz is not None else 0.0
        beside = beside_mains(line.frequency_hz, mains_hz, duration_s, width_hz=width)
        line = replace(line, beside=beside)
    if not line.true_hz:
        line = replace(line, true_hz=folding_onto(line.frequency_hz.value, rate_hz, bandwidth_hz))
    return line


def _members(lines: Sequence[Line], index: Ints, orders: Ints) -> tuple[list[Line], list[int]]:
    """Return lines and orders by rising order."""
    rows = sorted(zip(orders, index, strict=True))
    return [lines[i] for _, i in rows], [int(order) for order, _ in rows]


def _clock(lines: Sequence[Line], places: Places, clock: Clock) -> Family:
    members, orders = _members(lines, clock.members, clock.orders)
    return Family("clock", clock.rate(places), root_sum(members), tuple(members), tuple(orders))


def _carrier(lines: Sequence[Line], places: Places, carrier: Carrier, in_clock: set[int]) -> Family:
    frequency, spacing = carrier.fit(places)
    index, orders = carrier.members, carrier.orders
    if carrier.centre not in in_clock:
        index, orders = np.append(index, carrier.centre), np.append(orders, 0)
    members, numbers = _members(lines, index, orders)
    return Family(
        "carrier", frequency, root_sum(members), tuple(members), tuple(numbers), spacing_hz=spacing
    )


def _alone(line: Line) -> Family:
    kind = "single" if line.width_hz is None else "narrow-band"
    return Family(kind, line.frequency_hz, line.rms, (line,), (1,))


def _named(
    family: Family, mains_hz: Quantity | None, duration_s: float, time_base: float | None
) -> Family:
    """Return the family with its place beside the mains and its matches in the catalogue.

    A clock with folded lines is read by its true rate, so only single lines and carriers have
    alias candidates. Matches of a carrier's spacing follow those of its frequency.
    """
    width = family.lines[0].width_hz if family.kind == "narrow-band" else None
    beside = None
    if mains_hz is not None:
        beside = beside_mains(
            family.rate_hz,
            mains_hz,
            duration_s,
            highest=max(family.orders) if family.kind == "clock" else 1,
            width_hz=width.value if width is not None else 0.0,
        )
    true_hz: tuple[float, ...] = ()
    if family.kind in {"single", "carrier"}:
        own = 1 if family.kind == "single" else 0
        pairs = zip(family.lines, family.orders, strict=True)
        true_hz = next((line.true_hz for line, order in pairs if order == own), ())
    found: tuple[Match, ...] = ()
    if family.kind != "narrow-band":
        found = matches(
            family.rate_hz, mains_hz, true_hz, least_hz=1.0 / duration_s, time_base=time_base
        )
    if family.spacing_hz is not None:
        found += matches(
            family.spacing_hz, mains_hz, least_hz=1.0 / duration_s, time_base=time_base
        )
    return replace(family, beside=beside, matches=found)
