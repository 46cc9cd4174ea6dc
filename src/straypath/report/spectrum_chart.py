"""The spectrum: noise between the lines, a stem for each line seen, and the combs beneath.

Above it stands the whole band where the floor is known; this part shows the orders of the mains.
"""

from __future__ import annotations

from math import ceil, log10
from typing import TYPE_CHECKING

import numpy as np

from straypath.quantity import UpperLimit
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
from straypath.report.band_chart import draw_band, is_drawn
from straypath.report.family_marks import (
    draw_combs,
    draw_families,
    draw_key,
    sizes,
    strongest_lines,
)
from straypath.report.family_words import ranked
from straypath.report.look import CHART, CHART_WIDTH, CHART_X, COLUMN_X, PIXEL_PT
from straypath.report.reduce import between_lines
from straypath.report.sentences import floor_density
from straypath.wording import amount, plain, value_only

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from straypath.contents.records import Family, MainsComb, MainsLine
    from straypath.inquiry import ChannelContents
    from straypath.report.reduce import NoiseBand
    from straypath.report.sheet import Sheet

MOST_ORDERS = 40
_FEWEST_ORDERS = 10
_HEIGHT = 176.0
_STEM, _HEAD = 1.8, 2 * 2.6  # width, diameter [px]


def draw_spectrum(sheet: Sheet, found: ChannelContents, rate_hz: float) -> None:
    """Draw the spectrum of one channel and its combs from the sheet's `y` on."""
    families = found.contents.families
    top_hz = _top(found.mains, families, rate_hz)
    noise = between_lines(
        found.channel,
        rate_hz,
        found.stretch,
        found.mains,
        top_hz=top_hz,
        others_hz=[line.frequency_hz.value for _, line in strongest_lines(families)],
    )
    draw_band(sheet, found, rate_hz, top_hz)
    sheet.y += room_above(sheet, found.channel.unit)
    chart = sheet.chart(CHART_X, CHART_WIDTH, _HEIGHT)
    bare(sheet, chart)
    low, high = _range(found.mains, noise, sizes(families, top_hz))
    chart.set_yscale("log")
    chart.set_ylim(low, high)
    chart.set_xlim(0, top_hz)
    chart.yaxis.minorticks_off()
    value_ticks(sheet, chart, *decades(low, high, found.channel.unit, most=6))
    at = steps(0, top_hz, 6)
    ticks(chart, "x", at, value_labels(at, "Hz"))
    if at[-1] > 0.97 * top_hz:
        chart.xaxis.get_ticklabels()[-1].set_horizontalalignment("right")
    labels = Labels(sheet, chart)
    _draw_noise(sheet, chart, noise, found.mains)
    _draw_stems(sheet, chart, found.mains, low)
    for line in found.mains.detected:
        if line.frequency_hz.value <= top_hz:
            labels.keep_clear(line.frequency_hz.value, low, line.rms.value)
    draw_families(sheet, chart, found.contents, labels)
    _label_strongest(found, labels, top_hz)
    if not is_drawn(found):
        _label_floor(sheet, labels, noise, found, top_hz)
    sheet.y += 34
    if found.mains.lines:
        _draw_comb(sheet, found.mains, top_hz)
    if families:
        draw_combs(sheet, found.contents, top_hz)
        draw_key(sheet, families)


def _top(mains: MainsComb, families: Sequence[Family], rate_hz: float) -> float:
    """Return the upper end of the frequency axis: past the last seen order, within reason."""
    half = rate_hz / 2
    if not mains.lines:
        return min(half, 1000.0)
    fundamental = mains.lines[0].frequency_hz.value / mains.lines[0].order
    strong = [family.lines[0].frequency_hz.value / fundamental for family in ranked(families)[:3]]
    within = [ceil(order) for order in strong if order < MOST_ORDERS]
    last = max([line.order for line in mains.detected] + within, default=0)
    order = min(max(last + 1, _FEWEST_ORDERS), MOST_ORDERS, mains.lines[-1].order)
    return min(half, (order + 0.5) * fundamental)


def _range(mains: MainsComb, noise: NoiseBand | None, others: list[float]) -> tuple[float, float]:
    """Return the value axis: from under the noise to above the strongest line."""
    values = [line.rms.value for line in mains.detected] + others
    values += [floor_density(line) for line in mains.lines if line.floor > 0]
    if noise is not None:
        values += [*noise.low[noise.low > 0], *noise.high[noise.high > 0]]
    values = [value for value in values if np.isfinite(value) and value > 0]
    if not values:
        return 1e-3, 1.0
    low, high = min(values), max(values)
    low = max(low, high * 1e-9)
    high = max(high * 1.6, low * 30)
    decade = 10.0 ** ceil(log10(high))
    return low * 0.7, decade if decade < 3 * high else high


def _draw_noise(sheet: Sheet, chart: Axes, noise: NoiseBand | None, mains: MainsComb) -> None:
    ink = sheet.palette.ink
    if noise is None:  # too short a record for a band: what the fit says remains
        lines = [line for line in mains.lines if line.floor > 0]
        at = [line.frequency_hz.value for line in lines]
        chart.plot(at, [floor_density(line) for line in lines], color=ink, linewidth=1.1 * PIXEL_PT)
        return
    chart.fill_between(
        noise.frequency_hz, noise.low, noise.high, color=ink, alpha=0.26, linewidth=0
    )
    smooth = _smooth(noise.level)
    chart.plot(noise.frequency_hz, smooth, color=ink, linewidth=1.1 * PIXEL_PT)


def _smooth(values: np.ndarray) -> np.ndarray:
    """Return a running median over neighbours, narrower at the ends."""
    reach = max(1, len(values) // 40)
    return np.array(
        [np.median(values[max(0, i - reach) : i + reach + 1]) for i in range(len(values))]
    )


def _draw_stems(sheet: Sheet, chart: Axes, mains: MainsComb, low: float) -> None:
    ink = sheet.palette.ink
    for line in mains.detected:
        x, y = line.frequency_hz.value, line.rms.value
        if x > chart.get_xlim()[1]:
            continue
        chart.plot([x, x], [low, y], color=ink, linewidth=_STEM * PIXEL_PT, solid_capstyle="butt")
        chart.plot([x], [y], "o", color=ink, markersize=_HEAD * PIXEL_PT, markeredgewidth=0)


def _label_strongest(found: ChannelContents, labels: Labels, top_hz: float) -> None:
    """Write values at the three strongest lines, where there is room."""
    seen = [line for line in found.mains.detected if line.frequency_hz.value < top_hz]
    for line in sorted(seen, key=lambda line: -line.rms.value)[:3]:
        labels.add(line.frequency_hz.value, line.rms.value, _rounded(line, found.channel.unit))


def _rounded(line: MainsLine, unit: str) -> str:
    """Return the rms with at most three digits: the table has the rest."""
    if isinstance(line.rms, UpperLimit):
        return ""
    exact, short = plain(value_only(line.rms, unit)), plain(amount(line.rms.value, unit))
    return min(exact, short, key=len)


def _label_floor(
    sheet: Sheet, labels: Labels, noise: NoiseBand | None, found: ChannelContents, top_hz: float
) -> None:
    """Say what the noise is at the right end: its density, which is its rms in 1 Hz."""
    shown = [
        line for line in found.mains.lines if line.frequency_hz.value <= top_hz and line.floor > 0
    ]
    if not shown and noise is None:
        return
    value = floor_density(shown[-1]) if shown else float(_smooth(noise.level)[-1])  # type: ignore[union-attr]
    unit = found.channel.unit
    density = plain(amount(value, f"{unit}/√Hz" if unit else "/√Hz", 2))
    labels.add_corner(f"floor {density}", color=sheet.palette.quiet)


def _draw_comb(sheet: Sheet, mains: MainsComb, top_hz: float) -> None:
    """Draw the comb: a spine with a tooth for each order, filled when seen, open when not."""
    palette = sheet.palette
    shown = [line for line in mains.lines if line.frequency_hz.value <= top_hz]
    sheet.y += 12
    spine = sheet.y
    sheet.line([CHART_X, CHART_X + CHART_WIDTH], [spine, spine], palette.strong)
    sheet.text(COLUMN_X, spine + 13, "mains", CHART, color=palette.quiet)
    pitch = CHART_WIDTH / max(len(shown), 1)
    for line in shown:
        x = CHART_X + CHART_WIDTH * line.frequency_hz.value / top_hz
        if line.detected:
            sheet.line([x, x], [spine, spine + 11], palette.ink, 1.4)
            sheet.dot(x, spine + 12, 2.6, palette.ink)
        else:
            sheet.line([x, x], [spine, spine + 5.5], palette.strong, 1.0)
            sheet.dot(x, spine + 8, 2.2, palette.strong, filled=False)
        if _numbered(line.order, pitch):
            sheet.text(x, spine + 31, str(line.order), CHART, color=palette.quiet, align="center")
    sheet.y += 40
    _say_beyond(sheet, mains, shown)


def _numbered(order: int, pitch: float) -> bool:
    """Return whether an order gets its number: all, the odd ones, or every fifth."""
    if pitch >= 44:
        return True
    if pitch >= 15:
        return order % 2 == 1
    return order == 1 or order % 5 == 0


def _say_beyond(sheet: Sheet, mains: MainsComb, shown: list[MainsLine]) -> None:
    """Say what the chart leaves out."""
    last = shown[-1].order if shown else 0
    beyond = [line for line in mains.detected if line.order > last]
    if not beyond:
        return
    verb = "is" if len(beyond) == 1 else "are"
    sheet.y += 4
    sheet.text(
        CHART_X,
        sheet.y + 10,
        f"{len(beyond)} more up to order {beyond[-1].order} {verb} seen",
        CHART,
        color=sheet.palette.quiet,
    )
    sheet.y += 22
