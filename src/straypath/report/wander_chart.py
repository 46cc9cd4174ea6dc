"""The mains frequency over the record, where it moved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straypath.report.axes import bare, steps, ticks, value_labels
from straypath.report.look import CHART, CHART_WIDTH, CHART_X, COLUMN_X, PIXEL_PT
from straypath.wording import decimal_places, fixed

if TYPE_CHECKING:
    from straypath.contents.records import Wander
    from straypath.report.sheet import Sheet

_HEIGHT = 72.0


def draw_wander(sheet: Sheet, moved: Wander, mean_hz: float, span_s: tuple[float, float]) -> None:
    """Draw how far the mains frequency was from its mean, slot by slot, over the record's time."""
    start_s, end_s = span_s
    times_s = [start_s + time for time in moved.times_s]
    palette = sheet.palette
    off = [value - mean_hz for value in moved.frequency_hz]
    reach = max(*off, -min(off), 1e-9)
    sheet.y += 14
    chart = sheet.chart(CHART_X, CHART_WIDTH, _HEIGHT)
    bare(sheet, chart)
    chart.plot(times_s, off, color=palette.ink, linewidth=1.9 * PIXEL_PT)
    if len(off) <= 80:
        chart.plot(times_s, off, "o", color=palette.ink, markersize=4 * PIXEL_PT)
    chart.axhline(0, color=palette.rule, linewidth=PIXEL_PT, zorder=0)
    chart.set_xlim(start_s, end_s)
    chart.set_ylim(-1.2 * reach, 1.2 * reach)
    at = steps(-1.1 * reach, 1.1 * reach, 3)
    labels = value_labels(at, "Hz", sign=True)
    if 0.0 in at:  # the middle tick names the mean itself
        places = min(decimal_places(reach, 2), 4)
        labels[at.index(0.0)] = fixed(mean_hz, places)
    ticks(chart, "y", at, labels)
    along = steps(start_s, end_s, 5)
    ticks(chart, "x", along, value_labels(along, "s"))
    texts = chart.xaxis.get_ticklabels()
    if along[0] < start_s + 0.03 * (end_s - start_s):
        texts[0].set_horizontalalignment("left")
    if along[-1] > end_s - 0.03 * (end_s - start_s):
        texts[-1].set_horizontalalignment("right")
    sheet.text(COLUMN_X, sheet.y + 19, "time", CHART, color=palette.quiet)
    sheet.y += 34
