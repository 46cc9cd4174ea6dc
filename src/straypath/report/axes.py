"""What all charts share: a bottom axis only, quiet ticks, labels with a halo that never overlap."""

from __future__ import annotations

from math import ceil, floor, log10
from typing import TYPE_CHECKING

from matplotlib.ticker import FixedLocator, NullLocator
from matplotlib.transforms import Bbox

from straypath.report.look import CHART, CHART_X, COLUMN_X, PIXEL_PT, face
from straypath.wording import NARROW, Scale, decimal_places, fixed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.text import Annotation

    from straypath.report.sheet import Sheet

TICK = 5.0
"""Length of a tick [px]."""
_ABOVE = ((0, 10, "left"), (0, -11, "left"))  # of a level that runs on to the right [px]
_START = 80.0  # as far as a label reaches along a level [px]
_BESIDE = 56.0  # room for a label on the left of a chart [px]


def bare(sheet: Sheet, chart: Axes, *, bottom: bool = True) -> None:
    """Strip a chart to its lower axis line; ticks on both axes point outward and stay quiet."""
    palette = sheet.palette
    for side, spine in chart.spines.items():
        spine.set_visible(bottom and side == "bottom")
        spine.set_color(palette.strong)
        spine.set_linewidth(PIXEL_PT)
    chart.tick_params(
        which="major",
        direction="out",
        length=TICK * PIXEL_PT,
        width=PIXEL_PT,
        color=palette.strong,
        labelcolor=palette.quiet,
        labelsize=face().points(CHART),
        labelfontfamily=list(face().families),
        pad=4 * PIXEL_PT,
    )
    chart.set_xmargin(0)
    for axis in (chart.xaxis, chart.yaxis):
        axis.set_minor_locator(NullLocator())


def ticks(chart: Axes, axis: str, at: Sequence[float], labels: Sequence[str]) -> None:
    """Set ticks and their labels on "x" or "y"."""
    target = chart.xaxis if axis == "x" else chart.yaxis
    target.set_major_locator(FixedLocator(list(at)))
    target.set_ticks(list(at), labels=list(labels))
    for label in target.get_ticklabels():
        label.set_parse_math(False)


def value_ticks(sheet: Sheet, chart: Axes, at: Sequence[float], labels: Sequence[str]) -> None:
    """Set the ticks of a value axis; a unit too long to stand beside its number goes above."""
    units = list(dict.fromkeys(text.partition(NARROW)[2] for text in labels if _has_unit(text)))
    if len(units) == 1 and max(sheet.width(text, CHART) for text in labels) > _BESIDE:
        labels = [text.removesuffix(NARROW + units[0]) for text in labels]
        chart.annotate(
            units[0],
            (0, 1),
            ((COLUMN_X - CHART_X) * PIXEL_PT, 9 * PIXEL_PT),
            xycoords="axes fraction",
            textcoords="offset points",
            color=sheet.palette.quiet,
            fontsize=face().points(CHART),
            fontfamily=list(face().families),
            parse_math=False,
            annotation_clip=False,
        )
    ticks(chart, "y", at, labels)


def room_above(sheet: Sheet, unit: str) -> float:
    """Return the space to leave above a chart [px]: more where the unit will stand there."""
    widest = sheet.width(f"1000{NARROW}{Scale.of(1e-3, unit).unit}", CHART)
    return 28.0 if widest > _BESIDE else 14.0


def _has_unit(text: str) -> bool:
    return not text.rpartition(NARROW)[2][:1].isdigit() and NARROW in text


def steps(low: float, high: float, most: int) -> list[float]:
    """Return at most `most` round values inside a range, a 1, 2 or 5 apart."""
    if not high > low:
        return [low]
    power = 10.0 ** floor(log10((high - low) / most))
    for factor in (1, 2, 5, 10, 20):
        step = factor * power
        inside = range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)
        if len(inside) <= most:
            return [index * step for index in inside]
    return []


def value_labels(at: Sequence[float], unit: str, *, sign: bool = False) -> list[str]:
    """Return labels for evenly spaced values, the unit at the highest one only."""
    if not at:
        return []
    scale = Scale.of(max(abs(value) for value in at), unit)
    if unit == "Hz" and scale.factor == 1e3 and max(at) < 1e4:
        scale = Scale(unit, 1.0)  # "1000 Hz" is read at a glance beside "200"
    step = abs(at[1] - at[0]) if len(at) > 1 else abs(at[0]) or 1.0
    places = max(0, decimal_places(step / scale.factor, 1))
    texts = [fixed(value / scale.factor, places) if value else "0" for value in at]
    if sign:
        texts = [f"+{t}" if value > 0 else t for t, value in zip(texts, at, strict=True)]
    if scale.unit:
        texts[-1] += NARROW + scale.unit
    return texts


def decades(low: float, high: float, unit: str, *, most: int = 7) -> tuple[list[float], list[str]]:
    """Return decade ticks in a range, with the unit wherever its prefix changes."""
    room = (high / low) ** 0.05  # a label at the very foot would meet those of the other axis
    first, last = ceil(log10(low * room)), floor(log10(high) + 1e-9)
    stride = max(1, ceil((last - first + 1) / most))
    exponents = [e for e in range(last, first - 1, -1) if (last - e) % stride == 0]
    labels, written = [], None
    for exponent in exponents:
        scale = Scale.of(10.0**exponent * 1.0001, unit)
        if scale.factor == 1.0 and not -4 <= exponent <= 4:
            text = f"10{_raised(exponent)}"
        else:
            text = fixed(10.0**exponent / scale.factor, max(0, -_power(exponent, scale)))
        labels.append(text if scale.unit == written else f"{text}{NARROW}{scale.unit}".rstrip())
        written = scale.unit
    return [10.0**e for e in exponents], labels


def _power(exponent: int, scale: Scale) -> int:
    return exponent - round(log10(scale.factor))


def _raised(exponent: int) -> str:
    return str(exponent).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


class Labels:
    """Direct labels of one chart: each takes the first place that is free, or stays away."""

    _PLACES = ((9, 0, "left"), (-9, 0, "right"), (0, 13, "center"), (9, 12, "left"))

    def __init__(self, sheet: Sheet, chart: Axes) -> None:
        self._sheet, self._chart = sheet, chart
        self._taken: list[Bbox] = []

    def keep_clear(self, x: float, low: float, high: float, around: float = 4.0) -> None:
        """Mark an upright line in data coordinates as taken, `around` px to either side."""
        (left, bottom), (_, top) = self._chart.transData.transform([(x, low), (x, high)])
        self._taken.append(Bbox([[left - around, bottom], [left + around, top + around]]))

    def keep_level(self, x: float, low: float, high: float) -> None:
        """Mark the start of a level line in data coordinates as taken."""
        (left, bottom), (_, top) = self._chart.transData.transform([(x, low), (x, high)])
        self._taken.append(Bbox([[left, bottom - 2.0], [left + _START, top + 2.0]]))

    def add(
        self, x: float, y: float, text: str, *, color: str | None = None, above: bool = False
    ) -> Annotation | None:
        """Write a label beside a point, where it hits neither edge, line nor label."""
        for right, up, align in _ABOVE if above else self._PLACES:
            note = self._chart.annotate(
                text,
                (x, y),
                (right * PIXEL_PT, up * PIXEL_PT),
                textcoords="offset points",
                ha=align,
                va="center",
                color=color or self._sheet.palette.ink,
                fontsize=face().points(CHART),
                fontfamily=list(face().families),
                path_effects=self._sheet.halo,
                parse_math=False,
                annotation_clip=False,
            )
            box = note.get_window_extent(self._sheet.renderer)
            if self._inside(box) and not any(box.overlaps(other) for other in self._taken):
                self._taken.append(box)
                return note
            note.remove()
        return None

    def add_corner(self, text: str, *, color: str) -> None:
        """Write a label into the upper right corner, lower where lines stand in the way."""
        for y in (0.97, 0.82, 0.67, 0.52):
            note = self._chart.text(
                1.0,
                y,
                text,
                transform=self._chart.transAxes,
                ha="right",
                va="top",
                color=color,
                fontsize=face().points(CHART),
                fontfamily=list(face().families),
                path_effects=self._sheet.halo,
                parse_math=False,
            )
            box = note.get_window_extent(self._sheet.renderer)
            if not any(box.overlaps(other) for other in self._taken):
                self._taken.append(box)
                return
            note.remove()

    def _inside(self, box: Bbox) -> bool:
        frame = self._chart.get_window_extent(self._sheet.renderer)
        return bool(box.x0 >= frame.x0 and box.x1 <= frame.x1 + 1 and box.y1 <= frame.y1 + 12)
