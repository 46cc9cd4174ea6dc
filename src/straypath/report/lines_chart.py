"""The lines of the comb, order by order: value with 95 % interval, or the limit it stays under."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.ticker import FixedLocator

from straypath.quantity import Quantity, UpperLimit
from straypath.report.axes import bare, decades, room_above, ticks, value_ticks
from straypath.report.look import CHART, CHART_WIDTH, CHART_X, COLUMN_X, PIXEL_PT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from straypath.contents.records import MainsComb, MainsLine
    from straypath.inquiry import ChannelContents
    from straypath.report.sheet import Sheet

_MOST = 20
_HEIGHT = 150.0


def draw_lines(sheet: Sheet, found: ChannelContents) -> None:
    """Draw the comb of one channel line by line from the sheet's `y` on."""
    lines = chosen(found.mains)
    sheet.y += room_above(sheet, found.channel.unit)
    chart = sheet.chart(CHART_X, CHART_WIDTH, _HEIGHT)
    bare(sheet, chart)
    low, high = _range(lines)
    chart.set_yscale("log")
    chart.set_ylim(low, high)
    chart.set_xlim(-0.6, len(lines) - 0.4)
    chart.yaxis.minorticks_off()
    value_ticks(sheet, chart, *decades(low, high, found.channel.unit, most=5))
    chart.xaxis.set_major_locator(FixedLocator(range(len(lines))))
    ticks(chart, "x", list(range(len(lines))), [str(line.order) for line in lines])
    for place, line in enumerate(lines):
        _draw_one(sheet, chart, place, line)
    sheet.text(COLUMN_X, sheet.y + 19, "order", CHART, color=sheet.palette.quiet)
    sheet.y += 32


def chosen(mains: MainsComb) -> list[MainsLine]:
    """Return at most 20 lines: the low orders, and the strongest of the higher ones."""
    if len(mains.lines) <= _MOST:
        return list(mains.lines)
    seen = sorted(mains.detected, key=lambda line: -line.rms.value)
    picked = {line.order for line in mains.lines[:8]}
    for line in [*seen, *mains.lines]:
        if len(picked) >= _MOST:
            break
        picked.add(line.order)
    return [line for line in mains.lines if line.order in picked]


def _range(lines: list[MainsLine]) -> tuple[float, float]:
    values: list[float] = []
    for line in lines:
        if isinstance(line.rms, UpperLimit):
            values += [line.rms.upper, line.rms.upper / 3]  # room for the hook
        else:
            values += [line.rms.value, line.rms.low, line.rms.high]
    values = [value for value in values if np.isfinite(value) and value > 0]
    if not values:
        return 1e-3, 1.0
    low, high = min(values), max(values)
    return max(low, high * 1e-7) * 0.7, max(high * 1.9, low * 12)


def _draw_one(sheet: Sheet, chart: Axes, place: int, line: MainsLine) -> None:
    """Draw a dot with its bar, or a bar with a downward hook at the limit."""
    palette = sheet.palette
    if isinstance(line.rms, Quantity):
        low, high = max(line.rms.low, chart.get_ylim()[0]), line.rms.high
        chart.plot([place, place], [low, high], color=palette.ink, linewidth=2 * PIXEL_PT)
        chart.plot(
            [place],
            [line.rms.value],
            "o",
            color=palette.ink,
            markersize=8 * PIXEL_PT,
            markeredgewidth=0,
        )
        return
    hook: dict[str, Any] = {"color": palette.strong, "linewidth": 1.6 * PIXEL_PT, "clip_on": False}
    upper = line.rms.upper
    across = 6.0 / CHART_WIDTH * (chart.get_xlim()[1] - chart.get_xlim()[0])
    drop = (chart.get_ylim()[0] / chart.get_ylim()[1]) ** (11 / _HEIGHT)
    chart.plot([place - across, place + across], [upper, upper], **hook)
    chart.plot([place, place], [upper, upper * drop], **hook)
    tip = drop ** (7 / 11)
    chart.plot(
        [place - across / 2, place, place + across / 2],
        [upper * tip, upper * drop, upper * tip],
        **hook,
    )
