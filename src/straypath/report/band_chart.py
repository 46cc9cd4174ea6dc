"""The whole band: floor with white level and corner, and every line, over the log of frequency."""

from __future__ import annotations

from math import ceil, floor, log10
from typing import TYPE_CHECKING

from straypath.quantity import Quantity
from straypath.report.axes import Labels, bare, decades, room_above, ticks, value_ticks
from straypath.report.family_marks import draw_families, sizes
from straypath.report.look import CHART_WIDTH, CHART_X, PIXEL_PT
from straypath.wording import NARROW, Scale, amount, number, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from straypath.contents.records import Floor
    from straypath.inquiry import ChannelContents
    from straypath.report.sheet import Sheet

FEWEST_POINTS = 5
"""A floor of fewer bands makes no curve."""
_HEIGHT, _FUNNEL = 124.0, 46.0
_ALL = 0.94  # part of the band from which on the chart below shows all of it
_STEM, _HEAD = 1.0, 3.6  # width, diameter of the mains here, where they stand close [px]


def is_drawn(found: ChannelContents) -> bool:
    """Whether there is a floor that makes a curve."""
    return found.contents.floor is not None and len(found.contents.floor.density) >= FEWEST_POINTS


def draw_band(sheet: Sheet, found: ChannelContents, rate_hz: float, top_hz: float) -> None:
    """Draw the whole band of one channel, and lead from its part up to `top_hz` down to `y`."""
    shown = found.contents.floor
    if shown is None or not is_drawn(found):
        return
    unit = found.channel.unit
    sheet.y += room_above(sheet, unit)
    chart = sheet.chart(CHART_X, CHART_WIDTH, _HEIGHT)
    bare(sheet, chart)
    low_hz, high_hz = _band(found, rate_hz)
    low, high = _range(found, shown)
    chart.set_xscale("log")
    chart.set_yscale("log")
    chart.set_xlim(low_hz, high_hz)
    chart.set_ylim(low, high)
    bare(sheet, chart)
    value_ticks(sheet, chart, *decades(low, high, unit, most=4))
    at = [10.0**e for e in range(ceil(log10(low_hz) - 1e-9), floor(log10(high_hz) + 1e-9) + 1)]
    ticks(chart, "x", at, _labels(at))
    _keep_inside(sheet, chart, at)
    labels = Labels(sheet, chart)
    _draw_floor(sheet, chart, shown)
    _draw_mains(sheet, chart, found, low)
    for line in found.mains.detected:
        labels.keep_clear(line.frequency_hz.value, low, line.rms.value)
    draw_families(sheet, chart, found.contents, labels)
    _label_floor(sheet, chart, labels, shown, unit)
    _draw_funnel(sheet, log10(top_hz / low_hz) / log10(high_hz / low_hz))


def _band(found: ChannelContents, rate_hz: float) -> tuple[float, float]:
    points = found.contents.floor.frequency_hz if found.contents.floor else ()
    lines = [line.frequency_hz.value for f in found.contents.families for line in f.lines]
    lowest = min([*points, *lines, *(line.frequency_hz.value for line in found.mains.detected)])
    return max(lowest, 1e-9 * rate_hz) * 0.9, rate_hz / 2


def _range(found: ChannelContents, shown: Floor) -> tuple[float, float]:
    values = [density.value for density in shown.density]
    values += [line.rms.value for line in found.mains.detected] + sizes(found.contents.families)
    values = [value for value in values if 0 < value < float("inf")]
    low, high = min(values, default=1e-3), max(values, default=1.0)
    low = max(low, high * 1e-9)
    return low * 0.4, max(high * 2.0, low * 30)


def _labels(at: list[float]) -> list[str]:
    """Return labels for decades of frequency, the unit where its prefix changes."""
    texts, written = [], ""
    for value in at:
        scale = Scale.of(value, "Hz") if value >= 1 else Scale("Hz", 1.0)
        text = number(value / scale.factor, 1)
        texts.append(text if scale.unit == written else f"{text}{NARROW}{scale.unit}")
        written = scale.unit
    return texts


def _keep_inside(sheet: Sheet, chart: Axes, at: list[float]) -> None:
    """Turn the outermost labels inward where they would stick out of the column."""
    low, high = (log10(end) for end in chart.get_xlim())
    for hz, text in zip(at, chart.xaxis.get_ticklabels(), strict=True):
        place = (log10(hz) - low) / (high - low)
        text.set_path_effects(sheet.halo)  # the lines that lead down may pass behind
        if place < 0.03 or place > 0.97:
            text.set_horizontalalignment("left" if place < 0.5 else "right")


def _draw_floor(sheet: Sheet, chart: Axes, shown: Floor) -> None:
    palette = sheet.palette
    at = list(shown.frequency_hz)
    foot = chart.get_ylim()[0]
    low = [max(density.low, foot) for density in shown.density]
    high = [density.high for density in shown.density]
    chart.fill_between(at, low, high, color=palette.ink, alpha=0.26, linewidth=0)
    level = [density.value for density in shown.density]
    chart.plot(at, level, color=palette.ink, linewidth=1.1 * PIXEL_PT)
    if shown.white is not None:
        chart.axhline(shown.white.value, color=palette.strong, linewidth=PIXEL_PT, zorder=0)


def _draw_mains(sheet: Sheet, chart: Axes, found: ChannelContents, low: float) -> None:
    ink = sheet.palette.ink
    for line in found.mains.detected:
        x, y = line.frequency_hz.value, line.rms.value
        chart.plot([x, x], [low, y], color=ink, linewidth=_STEM * PIXEL_PT, solid_capstyle="butt")
        chart.plot([x], [y], "o", color=ink, markersize=_HEAD * PIXEL_PT, markeredgewidth=0)


def _label_floor(sheet: Sheet, chart: Axes, labels: Labels, shown: Floor, unit: str) -> None:
    if shown.white is None:
        return
    density = plain(amount(shown.white.value, f"{unit}/√Hz", 2))
    labels.add_corner(f"white {density}", color=sheet.palette.quiet)
    if isinstance(shown.corner_hz, Quantity):
        _mark_corner(sheet, chart, labels, (shown.corner_hz.value, shown.white.value * 2**0.5))


def _mark_corner(sheet: Sheet, chart: Axes, labels: Labels, corner: tuple[float, float]) -> None:
    """Cross the curve at the corner, where the power is twice the white one; with its name only."""
    at_hz, level = corner
    pixel = (chart.get_ylim()[1] / chart.get_ylim()[0]) ** (1 / _HEIGHT)
    name = f"corner {plain(amount(at_hz, 'Hz', 2))}"
    if labels.add(at_hz, level * pixel**16, name, color=sheet.palette.quiet) is None:
        return
    ends = [level / pixel**7, level * pixel**7]
    chart.plot([at_hz, at_hz], ends, color=sheet.palette.ink, linewidth=1.4 * PIXEL_PT)


def _draw_funnel(sheet: Sheet, part: float) -> None:
    """Lead from the lower part of the band down to the chart that shows it closely."""
    color = sheet.palette.strong
    if part >= _ALL:  # the two show the same: nothing to lead from
        sheet.y += 24
        return
    right = CHART_X + CHART_WIDTH * min(part, 1.0)
    top, neck, foot = sheet.y - _HEIGHT, sheet.y + 24, sheet.y + _FUNNEL
    sheet.line([right, right, CHART_X + CHART_WIDTH], [top, neck, foot], color, zorder=-1)
    sheet.line([CHART_X, CHART_X], [neck, foot], color, zorder=-1)
    sheet.y = foot
