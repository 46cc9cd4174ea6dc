"""The levels of the strongest orders and of the floor over the record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straypath.report.axes import (
    Labels,
    bare,
    decades,
    room_above,
    steps,
    ticks,
    value_labels,
    value_ticks,
)
from straypath.report.look import CHART, CHART_WIDTH, CHART_X, COLUMN_X, PIXEL_PT

if TYPE_CHECKING:
    from straypath.contents.records import Course
    from straypath.report.sheet import Sheet

_HEIGHT = 112.0


def is_drawn(found: Course | None) -> bool:
    """Whether there is anything to draw."""
    return found is not None and len(found.times_s) > 1 and bool(_positive(found))


def draw_course(sheet: Sheet, found: Course, unit: str, span_s: tuple[float, float]) -> None:
    """Draw one line per order, and a thinner one for the floor, over the time of the record."""
    palette, (start_s, end_s) = sheet.palette, span_s
    values = _positive(found)
    low, high = min(values) * 0.6, max(values) * 1.8
    low = max(min(low, high / 30), high * 1e-9)
    sheet.y += room_above(sheet, unit)
    chart = sheet.chart(CHART_X, CHART_WIDTH, _HEIGHT)
    chart.set_yscale("log")
    chart.set_ylim(low, high)
    chart.set_xlim(start_s, end_s)
    bare(sheet, chart)
    value_ticks(sheet, chart, *decades(low, high, unit, most=4))
    times = [start_s + time for time in found.times_s]
    labels = Labels(sheet, chart)
    lines = [
        (f"order {order}", rms, palette.ink, 1.9)
        for order, rms in zip(found.orders, found.rms, strict=True)
    ]
    if found.floor:
        lines.append(("floor", found.floor, palette.quiet, 1.1))
    for _, levels, color, width in lines:
        chart.plot(times, levels, color=color, linewidth=width * PIXEL_PT)
        start = levels[: len(levels) // 6 + 1]
        labels.keep_level(times[0], min(start), max(start))
    for name, levels, color, _ in sorted(lines, key=lambda line: -line[1][0]):
        labels.add(times[0], levels[0], name, color=color, above=True)
    along = steps(start_s, end_s, 5)
    ticks(chart, "x", along, value_labels(along, "s"))
    texts = chart.xaxis.get_ticklabels()
    if along[0] < start_s + 0.03 * (end_s - start_s):
        texts[0].set_horizontalalignment("left")
    if along[-1] > end_s - 0.03 * (end_s - start_s):
        texts[-1].set_horizontalalignment("right")
    sheet.text(COLUMN_X, sheet.y + 19, "time", CHART, color=palette.quiet)
    sheet.y += 34


def _positive(found: Course) -> list[float]:
    levels = [*found.floor, *(level for rms in found.rms for level in rms)]
    return [level for level in levels if 0 < level < float("inf")]
