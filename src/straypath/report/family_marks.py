"""How lines that are no mains orders are drawn: heads of their own shape, and combs of their own.

A square stands for a line of a clock or carrier, a diamond for a line on its own, a bracket for a
narrow band. Shape tells them from the round heads of the mains, in grey print too.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, Any, Final

from straypath.report.family_words import ranked
from straypath.report.look import CHART, CHART_WIDTH, CHART_X, COLUMN_X, PIXEL_PT
from straypath.wording import amount, plain

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes

    from straypath.contents.records import Family, Line
    from straypath.contents.whole import Contents
    from straypath.quantity import Quantity
    from straypath.report.axes import Labels
    from straypath.report.sheet import Sheet

_STEM: Final = 1.2  # thinner than that of a mains order [px]
_HEADS: Final = {"clock": ("s", 5.2), "carrier": ("s", 5.2), "single": ("D", 5.0)}
_WORDS: Final = {"s": "of a family", "D": "a line on its own", "": "a narrow band"}
_BRACKET = 10.0  # least width [px]
_MOST_LINES = 150
_MOST_LABELS = 3
_MOST_COMBS = 3
_MOST_TEETH = 60


def strongest_lines(families: Sequence[Family]) -> list[tuple[Family, Line]]:
    """Return the lines of all families, strongest first; not more than anybody can tell apart."""
    pairs = [(family, line) for family in families for line in family.lines]
    return sorted(pairs, key=lambda pair: -pair[1].rms.value)[:_MOST_LINES]


def sizes(families: Sequence[Family], top_hz: float = inf) -> list[float]:
    """Return the rms of all lines that are drawn up to a frequency, to fit the axis."""
    lines = [line for _, line in strongest_lines(families)]
    return [line.rms.value for line in lines if line.frequency_hz.value <= top_hz]


def draw_families(sheet: Sheet, chart: Axes, contents: Contents, labels: Labels) -> None:
    """Draw stems and heads into a spectrum, and the rates of the strongest families."""
    low = chart.get_ylim()[0]
    for family, line in strongest_lines(contents.families):
        if _within(chart, line.frequency_hz.value) and line.rms.value > low:
            _draw_line(sheet, chart, family, line, low)
            labels.keep_clear(line.frequency_hz.value, low, line.rms.value)
    for family in ranked(contents.families)[:_MOST_LABELS]:
        shown = [line for line in family.lines if _within(chart, line.frequency_hz.value)]
        if shown:
            top = max(shown, key=lambda line: line.rms.value)
            labels.add(top.frequency_hz.value, top.rms.value, rate(top.frequency_hz))


def rate(frequency_hz: Quantity) -> str:
    """Return a frequency in few digits, to stand beside its mark."""
    return plain(amount(frequency_hz.value, "Hz", 4))


def _within(chart: Axes, hz: float) -> bool:
    low, high = chart.get_xlim()
    return low <= hz <= high


def _draw_line(sheet: Sheet, chart: Axes, family: Family, line: Line, low: float) -> None:
    ink = sheet.palette.ink
    x, y = line.frequency_hz.value, line.rms.value
    if line.width_hz is not None:
        _draw_bracket(chart, (x, y), line.width_hz.value, ink)
        return
    shape, size = _HEADS.get(family.kind, _HEADS["single"])
    chart.plot([x, x], [low, y], color=ink, linewidth=_STEM * PIXEL_PT, solid_capstyle="butt")
    chart.plot([x], [y], shape, color=ink, markersize=size * PIXEL_PT, markeredgewidth=0)


def _draw_bracket(chart: Axes, top: tuple[float, float], width_hz: float, ink: str) -> None:
    """Span the band, in pixels: its ends may lie closer than a mark is wide."""
    to_pixels, back = chart.transData, chart.transData.inverted()
    (left, y), (right, _) = to_pixels.transform(
        [(max(top[0] - width_hz / 2, top[0] / 2), top[1]), (top[0] + width_hz / 2, top[1])]
    )
    middle, half = (left + right) / 2, max(right - left, _BRACKET) / 2
    left, right = middle - half, middle + half
    corners = [(left, y - 5), (left, y), (right, y), (right, y - 5)]
    xs, ys = back.transform(corners).T
    chart.plot(xs, ys, color=ink, linewidth=1.4 * PIXEL_PT, solid_joinstyle="miter")


def draw_key(sheet: Sheet, families: Sequence[Family]) -> None:
    """Say once what the heads mean; the mains comb above says it of the round ones."""
    kinds = {_HEADS.get(f.kind, ("", 0.0))[0] for f in families}
    sheet.y += 6
    x, y = CHART_X, sheet.y + 10
    for shape in ("s", "D", ""):
        if shape not in kinds:
            continue
        _key_mark(sheet, shape, x + 4, y - 4)
        sheet.text(x + 14, y, _WORDS[shape], CHART, color=sheet.palette.quiet)
        x += 14 + sheet.width(_WORDS[shape], CHART) + 24
    sheet.y += 20


def _key_mark(sheet: Sheet, shape: str, x: float, y: float) -> None:
    ink = sheet.palette.ink
    if shape:
        _mark(sheet, shape, x, y, ink)
        return
    sheet.line([x - 5, x - 5, x + 5, x + 5], [y + 4, y - 2, y - 2, y + 4], ink, 1.4)


def _mark(sheet: Sheet, shape: str, x: float, y: float, color: str) -> None:
    size = 5.2 if shape == "s" else 5.0
    marks: dict[str, Any] = {"marker": shape, "markersize": size * PIXEL_PT, "markeredgewidth": 0}
    sheet.line([x], [y], color, **marks)


# Combs --------------------------------------------------------------------------------------


def draw_combs(sheet: Sheet, contents: Contents, top_hz: float) -> None:
    """Draw a spine with teeth for each of the strongest clocks and carriers below `top_hz`."""
    drawn = 0
    for family in ranked(contents.families):
        if family.kind not in {"clock", "carrier"} or drawn == _MOST_COMBS:
            continue
        if any(line.frequency_hz.value <= top_hz for line in family.lines):
            _draw_comb(sheet, family, top_hz, lambda hz: CHART_X + CHART_WIDTH * hz / top_hz)
            drawn += 1


def _draw_comb(
    sheet: Sheet, family: Family, top_hz: float, place: Callable[[float], float]
) -> None:
    palette = sheet.palette
    sheet.y += 6
    spine = sheet.y
    sheet.line([CHART_X, CHART_X + CHART_WIDTH], [spine, spine], palette.strong)
    label = rate(family.rate_hz)
    if sheet.width(label, CHART) <= CHART_X - COLUMN_X - 4:
        sheet.text(COLUMN_X, spine + 13, label, CHART, color=palette.quiet)
    for hz in _missing(family, top_hz):
        x = place(hz)
        sheet.line([x, x], [spine, spine + 5.5], palette.strong, 1.0)
        sheet.dot(x, spine + 8, 2.2, palette.strong, filled=False)
    for line in family.lines:
        if line.frequency_hz.value <= top_hz:
            x = place(line.frequency_hz.value)
            sheet.line([x, x], [spine, spine + 11], palette.ink, _STEM)
            _mark(sheet, "s", x, spine + 12, palette.ink)
    sheet.y += 24


def _missing(family: Family, top_hz: float) -> list[float]:
    """Return the multiples of a clock that are not seen, up to the last that is [Hz]."""
    if family.kind != "clock":
        return []
    last = max(family.orders)
    if last > _MOST_TEETH:
        return []
    absent = [order for order in range(1, last) if order not in family.orders]
    return [hz for order in absent if (hz := order * family.rate_hz.value) <= top_hz]
