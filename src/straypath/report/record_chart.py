"""The record: its whole outline, and below it a few cycles with one of them measured out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straypath.report.axes import bare, steps, ticks, value_labels, value_ticks
from straypath.report.look import CHART, CHART_WIDTH, CHART_X, COLUMN_X, PIXEL_PT
from straypath.report.reduce import centre, outline, synthesis
from straypath.wording import NARROW, Scale, decimal_places, fixed

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from straypath.arrays import Float64Array
    from straypath.inquiry import ChannelContents
    from straypath.report.sheet import Align, Sheet

_CYCLES = 4
_COLUMNS = 600
_CLOCK = (("h", 3600.0), ("min", 60.0), ("s", 1.0))
_WHOLE, _FUNNEL, _STRETCH = 60.0, 30.0, 112.0  # heights [px]


def draw_record(sheet: Sheet, found: ChannelContents, rate_hz: float) -> None:
    """Draw the record of one channel from the sheet's `y` on."""
    window = _window(found, rate_hz)
    total = len(found.channel)
    cut = (window[1] - window[0]) < 0.6 * total
    _draw_bursts(sheet, found, rate_hz)
    if cut:
        whole = _draw_whole(sheet, found, rate_hz)
        _draw_funnel(sheet, window, total)
        _label_whole(sheet, total / rate_hz, window[0] / total)
        sheet.y += 24
        _draw_stretch(sheet, found, rate_hz, window, clock=window[0] / rate_hz, unlike=whole)
    else:
        sheet.y += 20
        _draw_stretch(sheet, found, rate_hz, (0, total), clock=0.0, unlike=None)
    sheet.y += 34


def _draw_bursts(sheet: Sheet, found: ChannelContents, rate_hz: float) -> None:
    """Draw a stroke for each burst above the whole record."""
    bursts = found.contents.bursts
    if bursts is None or not bursts.found:
        return
    start, total = found.stretch[0], len(found.channel)
    places = {round((start + burst.time_s * rate_hz) / total * _COLUMNS) for burst in bursts.found}
    for place in sorted(places):
        x = CHART_X + CHART_WIDTH * min(place / _COLUMNS, 1.0)
        sheet.line([x, x], [sheet.y + 2, sheet.y + 12], sheet.palette.ink, 1.2)
    sheet.text(COLUMN_X, sheet.y + 12, "bursts", CHART, color=sheet.palette.quiet)
    sheet.y += 18


def _window(found: ChannelContents, rate_hz: float) -> tuple[int, int]:
    """Return the samples to show closely: around the centre, where the phase is quoted."""
    start, stop = found.stretch
    period = _period(found)
    length = round((_CYCLES * period if period else 0.08) * rate_hz)
    length = min(max(length, 16), stop - start)
    first = start + (stop - start - length) // 2
    return first, first + length


def _period(found: ChannelContents) -> float | None:
    """Return the length of one mains cycle [s], when there is a comb."""
    if found.mains.present and found.mains.frequency_hz:
        return 1 / found.mains.frequency_hz.value
    return None


def _draw_whole(sheet: Sheet, found: ChannelContents, rate_hz: float) -> Axes:
    palette = sheet.palette
    period = _period(found)
    cycles = int(len(found.channel) / rate_hz / period) if period else _COLUMNS
    # From 100 cycles on each column holds a whole one; parts of cycles would draw a false beat.
    drawn = outline(found.channel, min(cycles, _COLUMNS) if cycles >= 100 else _COLUMNS)
    chart = sheet.chart(CHART_X, CHART_WIDTH, _WHOLE)
    bare(sheet, chart, bottom=False)
    middle = (drawn.edges[:-1] + drawn.edges[1:]) / 2 / rate_hz
    middle[0], middle[-1] = 0.0, drawn.edges[-1] / rate_hz
    edge = 0.0 if cycles >= 100 else 1.0  # a wave that is drawn as such needs a width
    chart.fill_between(
        middle, drawn.low, drawn.high, color=palette.ink, alpha=0.26, linewidth=edge * PIXEL_PT
    )
    slow = drawn.slow(round(period * rate_hz) if period else 0)
    chart.plot(middle, slow, color=palette.ink, linewidth=1.1 * PIXEL_PT)
    chart.set_ylim(*_limits(drawn.low, drawn.high, 0.06))
    ticks(chart, "y", [], [])
    ticks(chart, "x", [], [])
    for row, word in enumerate(("whole", "record")):
        sheet.text(COLUMN_X, sheet.y - 34 + 16 * row, word, CHART, color=palette.quiet)
    return chart


def _draw_funnel(sheet: Sheet, window: tuple[int, int], total: int) -> None:
    """Lead from the marked part of the whole record down to the chart below it."""
    palette = sheet.palette
    left, right = (CHART_X + CHART_WIDTH * index / total for index in window)
    if right - left < 5:
        left, right = (left + right) / 2 - 2.5, (left + right) / 2 + 2.5
    top, neck, foot = sheet.y - _WHOLE, sheet.y + 10, sheet.y + _FUNNEL
    sheet.line([left, left, CHART_X], [top, neck, foot], palette.strong)
    sheet.line([right, right, CHART_X + CHART_WIDTH], [top, neck, foot], palette.strong)
    sheet.y = foot


def _label_whole(sheet: Sheet, duration: float, marked: float) -> None:
    """Write the times of the whole record between it and the chart below."""
    unit, length = next((u, s) for u, s in _CLOCK if duration >= 10 * s or s <= 1)
    at = steps(0, duration / length, 5)
    for value, text in zip(at, value_labels(at, unit), strict=True):
        place = value * length / duration
        x = CHART_X + CHART_WIDTH * place
        if 0.01 < abs(place - marked) < 0.06 or (place == marked and value):
            continue
        align: Align = "left" if value == 0 else "right" if place > 0.97 else "center"
        y = sheet.y - _FUNNEL + 20
        sheet.text(x, y, text, CHART, color=sheet.palette.quiet, align=align, halo=True)


def _draw_stretch(
    sheet: Sheet,
    found: ChannelContents,
    rate_hz: float,
    window: tuple[int, int],
    *,
    clock: float,
    unlike: Axes | None,
) -> None:
    palette = sheet.palette
    start, stop = window
    time = np.arange(stop - start) / rate_hz
    values = found.channel.values(start, stop)
    chart = sheet.chart(CHART_X, CHART_WIDTH, _STRETCH)
    bare(sheet, chart)
    if len(values) > 4 * _COLUMNS:
        low, high = ends(values, _COLUMNS)
        middle = np.linspace(0, time[-1], len(low))
        chart.fill_between(middle, low, high, color=palette.ink, linewidth=1.2 * PIXEL_PT)
    else:
        chart.plot(
            time,
            values,
            marker="o" if len(values) <= 120 else "",
            markersize=3 * PIXEL_PT,
            color=palette.ink,
            linewidth=1.9 * PIXEL_PT,
        )
    bottom, top = _limits(values, values, 0.08)
    chart.set_ylim(bottom, top)
    chart.set_xlim(0, max(stop - start - 1, 1) / rate_hz)
    at = steps(bottom, top, 3)
    value_ticks(sheet, chart, at, value_labels(at, found.channel.unit))
    if bottom < 0 < top:
        chart.axhline(0, color=palette.rule, linewidth=PIXEL_PT, zorder=0)
    _time_ticks(chart, clock, zoomed=unlike is not None)
    _dimension(sheet, chart, found, rate_hz, window)


def ends(values: Float64Array, columns: int) -> tuple[Float64Array, Float64Array]:
    """Return lowest and highest value in each of `columns` columns of an array."""
    edges = np.linspace(0, len(values), columns + 1).astype(int)[:-1]
    return np.minimum.reduceat(values, edges), np.maximum.reduceat(values, edges)


def _limits(low: Float64Array, high: Float64Array, room: float) -> tuple[float, float]:
    """Return axis limits a little wider than the finite data; a flat record still gets room."""
    low, high = low[np.isfinite(low)], high[np.isfinite(high)]
    if not low.size:
        return -1.0, 1.0
    bottom, top = float(low.min()), float(high.max())
    span = top - bottom or abs(top) or 1.0
    return bottom - room * span, top + room * span


def _time_ticks(chart: Axes, clock: float, *, zoomed: bool) -> None:
    """Label time: from the moment where the stretch starts, or from 0 for a whole record."""
    end = chart.get_xlim()[1]
    at = steps(0, end, 5)
    labels = value_labels(at, "s", sign=zoomed)
    if zoomed:
        places = max(0, decimal_places(at[1] if len(at) > 1 else end, 1))
        labels[0] = f"{fixed(clock, min(places + 1, 6))}{NARROW}s"
    ticks(chart, "x", at, labels)
    # The first and the last label would stick out of the column.
    texts = chart.xaxis.get_ticklabels()
    texts[0].set_horizontalalignment("left")
    if len(at) > 1 and at[-1] > 0.97 * end:
        texts[-1].set_horizontalalignment("right")


def _dimension(
    sheet: Sheet,
    chart: Axes,
    found: ChannelContents,
    rate_hz: float,
    window: tuple[int, int],
) -> None:
    """Measure out one mains cycle, crest to crest, or trough to trough where only that fits."""
    period = _period(found)
    if period is None:
        return
    middle = centre(found.stretch)
    begin, end = ((index - middle) / rate_hz for index in window)
    time = np.linspace(-period / 2, period / 2, 512, endpoint=False)
    wave = synthesis(found.mains, time)
    for extreme in (np.argmax(wave), np.argmin(wave)):
        first = time[extreme] + period * np.ceil((begin - time[extreme]) / period)
        starts = np.arange(first, end - period, period)
        if starts.size:  # take the cycle nearest the middle of the chart
            pick = starts[np.argmin(np.abs(starts + period / 2 - (begin + end) / 2))]
            height = found.channel.values(*window)[round((pick - begin) * rate_hz)]
            _arrow(sheet, chart, (pick - begin, period), height, _period_text(found, period))
            return


def _period_text(found: ChannelContents, period: float) -> str:
    """Return the length of a cycle, to the place that the frequency allows."""
    frequency = found.mains.frequency_hz
    relative = (frequency.high - frequency.low) / 2 / frequency.value if frequency else 1.0
    scale = Scale.of(period, "s")
    places = min(max(decimal_places(relative * period / scale.factor, 1), 1), 3)
    return f"{scale.number(period, places)}{NARROW}{scale.unit}"


def _arrow(sheet: Sheet, chart: Axes, cycle: tuple[float, float], height: float, text: str) -> None:
    """Draw the dimension line above the chart, its end strokes down to the wave, its number."""
    palette = sheet.palette
    begin, end = chart.get_xlim()
    low, high = chart.get_ylim()
    left = CHART_X + CHART_WIDTH * (cycle[0] - begin) / (end - begin)
    right = left + CHART_WIDTH * cycle[1] / (end - begin)
    y = sheet.y - _STRETCH - 4
    foot = max(y + 10, sheet.y - _STRETCH * (height - low) / (high - low) - 5)
    sheet.line([left, right], [y, y], palette.quiet)
    for x in (left, right):
        sheet.line([x, x], [y - 5, foot], palette.quiet)
    sheet.text((left + right) / 2, y - 6, text, CHART, align="center", halo=True)
