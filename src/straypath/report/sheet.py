"""A sheet of paper: text and charts placed in pixels from the top left, as tall as they need.

matplotlib counts from the bottom and wants to know the height first. Here one transform turns
pixels from the top into inches; it is set when the last block stands.
"""

from __future__ import annotations

from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Literal

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Rectangle
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from matplotlib.transforms import Affine2D

from straypath.report.look import INTERVAL, PIXEL_PT, WIDTH, Palette, face
from straypath.wording import Piece, words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backend_bases import RendererBase
    from matplotlib.backends.backend_agg import RendererAgg

    from straypath.wording import Words

Align = Literal["left", "center", "right"]

_INCH = 100.0  # layout pixels


SETTINGS: Any = {
    "text.hinting": "no_hinting",  # hinted letters are as wide as pixels want, not as measured
    "svg.hashsalt": "straypath",  # ids in the file depend on nothing else
    "svg.fonttype": "path",
    "pdf.fonttype": 42,
}
"""Under these settings text is measured, drawn and saved, whatever the reader's own are."""


class _Drawing(Figure):
    """A figure that keeps to its settings wherever it is drawn, in a notebook too."""

    def draw(self, renderer: RendererBase) -> None:
        with mpl.rc_context(SETTINGS):
            super().draw(renderer)


class Sheet:
    """One figure that grows downwards; `y` is where the next block starts [px]."""

    def __init__(self, palette: Palette) -> None:
        self.palette = palette
        self.figure: Figure = _Drawing(facecolor=palette.paper, dpi=_INCH)
        self.y = 0.0
        self._canvas = FigureCanvasAgg(self.figure)
        self._drop = Affine2D()
        self.pixels = self._drop + self.figure.dpi_scale_trans
        self._charts: list[tuple[Axes, tuple[float, float, float, float]]] = []
        self._widths: dict[tuple[str, float, str, str], float] = {}
        self._set_height(WIDTH)

    def _set_height(self, height: float) -> None:
        self.figure.set_size_inches(WIDTH / _INCH, height / _INCH)
        self._drop.clear().scale(1 / _INCH, -1 / _INCH).translate(0, height / _INCH)
        for chart, (x, y, width, tall) in self._charts:
            chart.set_position((x / WIDTH, 1 - (y + tall) / height, width / WIDTH, tall / height))

    def finish(self) -> Figure:
        """Cut the sheet at `y` and return the figure."""
        self._set_height(round(self.y))
        return self.figure

    # Text -----------------------------------------------------------------------------------

    def width(
        self, text: str, size: float, *, weight: str = "normal", style: str = "normal"
    ) -> float:
        """Return how wide a text stands [px]."""
        key = (text, size, weight, style)
        if key not in self._widths:
            probe = Text(0, 0, text, figure=self.figure, **self._type(size, weight, style))
            # Spaces at the ends do not count for the renderer; between two upright strokes they do.
            if text != text.strip():
                bare = self.width("||", size, weight=weight, style=style)
                probe.set_text(f"|{text}|")
                self._widths[key] = self._measure(probe) - bare
            else:
                self._widths[key] = self._measure(probe)
        return self._widths[key]

    @property
    def halo(self) -> list[Any]:
        """The path effect that keeps text readable over marks."""
        return [withStroke(linewidth=4 * PIXEL_PT, foreground=self.palette.paper)]

    @property
    def renderer(self) -> RendererAgg:
        """What measures text: one layout pixel is one of its pixels."""
        renderer: RendererAgg = self._canvas.get_renderer()  # type: ignore[no-untyped-call]
        return renderer

    def _measure(self, probe: Text) -> float:
        return float(probe.get_window_extent(self.renderer).width)

    @staticmethod
    def _type(size: float, weight: str, style: str) -> dict[str, Any]:
        kind = face()
        return {
            "fontfamily": list(kind.families),
            "fontsize": kind.points(size),
            "fontweight": weight,
            "fontstyle": style,
            "parse_math": False,
        }

    def text(
        self,
        x: float,
        baseline: float,
        text: str,
        size: float,
        *,
        color: str | None = None,
        weight: str = "normal",
        style: str = "normal",
        align: Align = "left",
        halo: bool = False,
    ) -> None:
        """Write one line with its baseline at a height [px]."""
        self.figure.add_artist(
            Text(
                x,
                baseline,
                text,
                color=color or self.palette.ink,
                horizontalalignment=align,
                verticalalignment="baseline",
                transform=self.pixels,
                path_effects=self.halo if halo else None,
                **self._type(size, weight, style),
            )
        )

    def prose(
        self,
        text: Words | str,
        size: tuple[float, float],
        *,
        x: float,
        width: float,
        color: str | None = None,
        weight: str = "normal",
        style: str = "normal",
    ) -> None:
        """Set words in a column from `y` on, broken into lines; moves `y` below them."""
        pieces = words(text) if isinstance(text, str) else text
        lines = self._broken(pieces, size[0], width, weight, style)
        for line in lines:
            at = x
            for piece in line:
                points = size[0] * (INTERVAL if piece.tone == "interval" else 1.0)
                heavy = "bold" if piece.tone == "strong" else weight
                tint = self.palette.quiet if piece.tone in {"quiet", "interval"} else color
                baseline = self.y + 0.5 * size[1] + 0.36 * size[0]
                self.text(at, baseline, piece.text, points, color=tint, weight=heavy, style=style)
                at += self.width(piece.text, points, weight=heavy, style=style)
            self.y += size[1]

    def _broken(
        self, text: Words, size: float, width: float, weight: str, style: str
    ) -> list[list[Piece]]:
        """Break words into lines at ordinary spaces only; narrow spaces hold together."""
        lines: list[list[Piece]] = [[]]
        used = 0.0
        for chunk in _chunks(text):
            wide = sum(
                self.width(
                    p.text,
                    size * (INTERVAL if p.tone == "interval" else 1.0),
                    weight="bold" if p.tone == "strong" else weight,
                    style=style,
                )
                for p in chunk
            )
            if used and used + wide > width and any(p.text.strip() for p in chunk):
                lines.append([])
                used = 0.0
                lines[-1].extend(_without_leading_space(chunk))
            else:
                lines[-1].extend(chunk)
            used += wide
        return [_joined(line) for line in lines if line]

    # Marks ----------------------------------------------------------------------------------

    def line(
        self, xs: list[float], ys: list[float], color: str, width: float = 1.0, **kind: Any
    ) -> None:
        """Draw a polyline in pixels."""
        self.figure.add_artist(
            Line2D(xs, ys, color=color, linewidth=width * PIXEL_PT, transform=self.pixels, **kind)
        )

    def box(self, x: float, y: float, width: float, height: float, color: str, **kind: Any) -> None:
        """Draw a filled rectangle in pixels."""
        self.figure.add_artist(
            Rectangle(
                (x, y), width, height, facecolor=color, linewidth=0, transform=self.pixels, **kind
            )
        )

    def dot(self, x: float, y: float, radius: float, color: str, *, filled: bool = True) -> None:
        """Draw a round mark in pixels; an open one is filled with paper."""
        self.figure.add_artist(
            Circle(
                (x, y),
                radius,
                facecolor=color if filled else self.palette.paper,
                edgecolor=color,
                linewidth=0 if filled else PIXEL_PT,
                transform=self.pixels,
            )
        )

    def chart(self, x: float, width: float, height: float) -> Axes:
        """Add an empty chart at `y`; moves `y` below its lower axis line."""
        chart = self.figure.add_axes((0, 0, 1, 1), facecolor="none")
        self._charts.append((chart, (x, self.y, width, height)))
        self._set_height(max(WIDTH, self.y + height))
        self.y += height
        return chart


def _chunks(text: Words) -> list[list[Piece]]:
    """Split words where a line may break; each chunk after the first starts with its space."""
    chunks: list[list[Piece]] = [[]]
    for piece in text:
        for index, part in enumerate(piece.text.split(" ")):
            if index:
                chunks.append([Piece(f" {part}", piece.tone)])
            elif part:
                chunks[-1].append(Piece(part, piece.tone))
    return [chunk for chunk in chunks if chunk]


def _joined(line: list[Piece]) -> list[Piece]:
    """Return a line with neighbours of one tone as one piece: one artist, true kerning."""
    return [
        Piece("".join(piece.text for piece in run), tone)
        for tone, run in groupby(line, key=attrgetter("tone"))
    ]


def _without_leading_space(chunk: list[Piece]) -> list[Piece]:
    first = Piece(chunk[0].text.lstrip(" "), chunk[0].tone)
    return [first, *chunk[1:]] if first.text else chunk[1:]
