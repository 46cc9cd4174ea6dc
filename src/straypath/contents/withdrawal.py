"""A comb that turns out to be another source's lines is taken back."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.comb import CombReading
from straypath.contents.families.agreement import LEVEL, Places
from straypath.contents.families.dominant import dominant_clock, stands_for_comb
from straypath.contents.lines.report import line_of
from straypath.contents.mains.lines import absent_lines, clear_orders, root_sum
from straypath.contents.records import Line
from straypath.quantity import Quantity, UpperLimit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from straypath.contents.lines.find import LinesFound

RESOLVED_CELLS = 2.0


def without_foreign_comb(
    reading: CombReading,
    found: LinesFound,
    scale: float,
    duration_s: float,
    rate_hz: float,
    bandwidth_hz: float | None,
) -> CombReading:
    """Return the reading, or one without a comb where a clock explains all its clear orders.

    Parameters
    ----------
    reading : CombReading
    found : LinesFound
        Lines beside the comb.
    scale : float
        Unit per raw step.
    duration_s, rate_hz : float
        Record length T [s] and rate [Hz].
    bandwidth_hz : float or None
        Highest frequency that the input passes [Hz].

    A comb of a supply that the person named stays: then the lines fold onto true orders.
    """
    finding, f0 = reading.finding, reading.comb.frequency_hz
    if not reading.comb.present or finding is None or finding.fit is None or f0 is None:
        return reading
    clear = set(clear_orders(finding.fit, finding.duration_s))
    lines = [line_of(tone, scale) for tone in found.tones]
    pairs = [(line, 0) for line in lines] + list(_orders(reading))
    pairs.sort(key=lambda pair: pair[0].frequency_hz.value)
    places = Places.of([line for line, _ in pairs], duration_s)
    order = np.array([k for _, k in pairs], dtype=np.int64)
    top = bandwidth_hz if bandwidth_hz is not None else inf
    free = np.ones(len(places), dtype=np.bool_)
    dominant = dominant_clock(places, free, RESOLVED_CELLS / duration_s, rate_hz, top)
    comb = np.flatnonzero(np.isin(order, list(clear)))
    if finding.named or dominant is None or not len(comb):
        return reading
    by_chance = stands_for_comb(dominant, places, comb, np.flatnonzero(order == 0), f0)
    if by_chance >= LEVEL:
        return reading
    rate = dominant.clock.rate(places).value
    absent = absent_lines(finding.fit, finding.system, finding.duration_s, scale)
    why = (
        f"Lines at whole multiples of {f0.value:.6g} Hz stand out, but all of them are harmonics "
        f"of a clock at {rate:.6g} Hz, some folded at half the rate: they count as that clock's."
    )
    taken_back = replace(
        reading.comb,
        present=False,
        nominal_probability=reading.comb.nominal_probability * by_chance,
        frequency_hz=None,
        rms=UpperLimit(root_sum(absent)),
        share=0.0,
        lines=absent,
        wander=None,
        assumptions=(*reading.comb.assumptions, why),
    )
    return CombReading(taken_back, None, finding)


def _orders(reading: CombReading) -> Iterator[tuple[Line, int]]:
    """The orders that were seen, as lines."""
    for order in reading.comb.detected:
        if isinstance(order.rms, Quantity):
            yield Line(order.frequency_hz, order.rms, None, 0.0, order.floor), order.order
