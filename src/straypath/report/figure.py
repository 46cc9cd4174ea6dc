"""The figure of an examination: for each channel record, spectrum, mains comb and the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import matplotlib as mpl

from straypath.errors import InputError
from straypath.report import look, sentences
from straypath.report.course_chart import draw_course, is_drawn
from straypath.report.lines_chart import draw_lines
from straypath.report.picture import kind_of
from straypath.report.record_chart import draw_record
from straypath.report.sections import sections
from straypath.report.sheet import SETTINGS, Sheet
from straypath.report.spectrum_chart import draw_spectrum
from straypath.report.wander_chart import draw_wander
from straypath.wording import firm, plain, words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.figure import Figure

    from straypath.capture.soundness import Finding
    from straypath.inquiry import ChannelContents, Examination
    from straypath.report.rows import Rows

    Section = tuple[Examination, ChannelContents]

MOST_CHANNELS = 8
"""More than this do not fit a figure that anybody reads; the rest is named."""

MOST_FAMILIES = 6
"""A figure says less of them than the page, for it shows them."""

_GUTTER = 22.0  # between the columns of a table [px]

_SAVED = {  # no dates and no versions: same input, same bytes
    ".png": {"Software": None},
    ".svg": {"Date": None, "Creator": "straypath"},
    ".pdf": {"CreationDate": None, "Creator": "straypath", "Producer": None},
}


def draw(examinations: Sequence[Examination], *, dark: bool = False) -> Figure:
    """Return the figure of one or more examinations.

    Parameters
    ----------
    examinations : sequence of Examination
    dark : bool
        Light ink on dark paper.
    """
    with mpl.rc_context(SETTINGS):
        sheet = Sheet(look.DARK if dark else look.LIGHT)
        sheet.y = 30.0
        sections = [(e, found) for e in examinations for found in e.channels]
        shown, left_out = _strongest(sections)
        for place, (examination, found) in enumerate(shown):
            top = _draw_section(sheet, examination, found)
            if place + 1 == len(shown) or shown[place + 1][0] is not examination:
                _say(sheet, "Not known", sentences.questions(examination))
                _say(sheet, "Assumed", sentences.shown_assumptions(examination))
            _draw_ribbon(sheet, top)
            sheet.y += 44
        _say_left_out(sheet, left_out)
        sheet.y -= 14
        return sheet.finish()


def save(figure: Figure, path: Path, *, dots_per_inch: float = 200.0) -> None:
    """Write a figure as PNG, SVG or PDF, by the ending of its name."""
    kind = kind_of(path)
    try:
        with mpl.rc_context(SETTINGS):
            figure.savefig(path, dpi=dots_per_inch, metadata=_SAVED[kind])
    except OSError as error:
        raise InputError(
            f"the figure cannot be written: {error.strerror or error}",
            where=str(path),
            advice="Give a place that exists and can be written to.",
        ) from error


def _strongest(sections: list[Section]) -> tuple[list[Section], list[Section]]:
    """Return the sections with the largest share of mains, and the rest; both in order."""
    ranked = sorted(range(len(sections)), key=lambda i: -sections[i][1].mains.share)
    # By place: records hold arrays, which cannot be told apart by value.
    first, rest = sorted(ranked[:MOST_CHANNELS]), sorted(ranked[MOST_CHANNELS:])
    return [sections[i] for i in first], [sections[i] for i in rest]


def _draw_section(sheet: Sheet, examination: Examination, found: ChannelContents) -> float:
    """Draw one channel; return where its ribbon begins [px]."""
    capture, unit = examination.capture, found.channel.unit
    x, width = look.COLUMN_X, look.COLUMN
    _draw_head(sheet, examination, found)
    sheet.y += 8
    sheet.prose(sentences.conclusion(found.contents, unit), look.CONCLUSION, x=x, width=width)
    top = sheet.y + 22
    _head(sheet, "Record")
    sheet.prose(sentences.size(capture), look.FACTS, x=x, width=width, color=sheet.palette.quiet)
    sheet.y += 10
    draw_record(sheet, found, capture.rate_hz)
    _draw_findings(sheet, found)
    _head(sheet, "Spectrum")
    draw_spectrum(sheet, found, capture.rate_hz)
    if found.mains.lines:
        _head(sheet, "Mains lines")
        key = words("rms with 95 % interval" if found.mains.detected else "limits on rms", ". ")
        facts = words(key, sentences.tests(found.mains))
        sheet.prose(facts, look.FACTS, x=x, width=width, color=sheet.palette.quiet)
        draw_lines(sheet, found)
    if found.mains.wander and found.mains.frequency_hz:
        _head(sheet, "Mains frequency")
        moved = sentences.wander(found.mains.wander)
        sheet.prose(moved, look.FACTS, x=x, width=width, color=sheet.palette.quiet)
        start_s, end_s = (sample / capture.rate_hz for sample in found.stretch)
        draw_wander(sheet, found.mains.wander, found.mains.frequency_hz.value, (start_s, end_s))
    _draw_course(sheet, found, capture.rate_hz)
    _say_beside_mains(sheet, found, capture.rate_hz)
    return top


def _draw_course(sheet: Sheet, found: ChannelContents, rate_hz: float) -> None:
    """Draw how levels moved over a long record."""
    course = found.contents.course
    if course is None or not is_drawn(course):
        return
    start_s, end_s = (sample / rate_hz for sample in found.stretch)
    _head(sheet, "Levels over the record" if course.orders else "Floor over the record")
    draw_course(sheet, course, found.channel.unit, (start_s, end_s))


def _say_beside_mains(sheet: Sheet, found: ChannelContents, rate_hz: float) -> None:
    """Set other lines, floor, bursts, offset, and what could not be told."""
    for section in sections(found, rate_hz, MOST_FAMILIES):
        _head(sheet, section.title)
        if section.table is not None:
            _draw_table(sheet, section.table)
        for place, paragraph in enumerate(section.paragraphs):
            indent = 18.0 if paragraph.inner else 0.0
            sheet.y += 5.0 if place and not paragraph.inner else 0.0
            sheet.prose(
                paragraph.text,
                look.FACTS,
                x=look.COLUMN_X + indent,
                width=look.COLUMN - indent,
                color=sheet.palette.quiet if paragraph.inner else None,
            )


def _draw_table(sheet: Sheet, made: Rows) -> None:
    """Set a small table, its columns as wide as they need; what does not fit is left out."""
    size, step = look.FACTS
    left, columns = look.COLUMN_X, list(zip(*made.rows, strict=True))
    shown = {
        heading: [title, *cells]
        for (heading, title), cells in zip(made.titles.items(), columns, strict=True)
    }
    widths = {
        heading: max(sheet.width(cell, size) for cell in cells) for heading, cells in shown.items()
    }
    for heading in made.spared:
        if sum(widths[each] + _GUTTER for each in shown) > look.COLUMN:
            del shown[heading]
    for heading, cells in shown.items():
        wide = widths[heading]
        starts = heading == "interval"
        for place, cell in enumerate(cells):
            sheet.text(
                left if starts else left + wide,
                sheet.y + (place + 0.5) * step + 0.36 * size,
                cell,
                size,
                color=sheet.palette.quiet if starts or not place else None,
                align="left" if starts else "right",
            )
        left += wide + _GUTTER
    sheet.y += (len(made.rows) + 1) * step + 5.0


def _say(sheet: Sheet, title: str, said: list[str]) -> None:
    """Set sentences under a heading, when there are any."""
    if not said:
        return
    _head(sheet, title)
    for text in said:
        quiet = sheet.palette.quiet
        sheet.prose(firm(text), look.FACTS, x=look.COLUMN_X, width=look.COLUMN, color=quiet)


def _draw_head(sheet: Sheet, examination: Examination, found: ChannelContents) -> None:
    x, width = look.COLUMN_X, look.COLUMN
    if sentences.invented(examination.capture):
        width -= _draw_tag(sheet, "Invented data") + 20
    name = sentences.name(examination.capture)
    sheet.prose(name, look.TITLE, x=x, width=width, weight="bold")
    if found.channel.name:
        channel = f"channel {found.channel.name}"
        sheet.prose(channel, look.KEY, x=x, width=width, color=sheet.palette.quiet, style="italic")


def _draw_tag(sheet: Sheet, text: str) -> float:
    """Frame a word at the right of the title; return its width [px]."""
    wide = sheet.width(text, look.KEY[0]) + 20
    right = look.COLUMN_X + look.COLUMN
    y = sheet.y + 5
    left = right - wide
    sheet.line(
        [left, right, right, left, left],
        [y, y, y + 26, y + 26, y],
        sheet.palette.strong,
        solid_joinstyle="miter",
    )
    sheet.text(left + 10, y + 18, text, look.KEY[0], color=sheet.palette.quiet)
    return wide


def _head(sheet: Sheet, text: str) -> None:
    sheet.y += 22
    sheet.prose(text, look.HEAD, x=look.COLUMN_X, width=look.COLUMN, weight="bold")


def _draw_findings(sheet: Sheet, found: ChannelContents) -> None:
    """Set what is not sound about the record, each behind a double bar."""
    for finding in found.soundness.findings:
        sheet.y += 12
        top, x = sheet.y, look.COLUMN_X
        color = _bar_color(sheet, finding)
        sheet.prose(sentences.finding(finding), look.FACTS, x=x + 16, width=look.COLUMN - 16)
        for at, wide in ((x, 3.0), (x + 6, 1.2)):
            sheet.box(at, top + 2, wide, sheet.y - top - 4, color)


def _bar_color(sheet: Sheet, finding: Finding) -> str:
    palette = sheet.palette
    colors = {"note": palette.strong, "caution": palette.caution, "unsound": palette.danger}
    return colors[finding.severity]


def _draw_ribbon(sheet: Sheet, top: float) -> None:
    """Draw the margin rule; it stays hollow until causes are weighed, and then shows their odds."""
    left, right = look.EDGE, look.EDGE + look.RIBBON
    sheet.line(
        [left, left, right, right],
        [sheet.y, top, top, sheet.y],
        sheet.palette.strong,
        solid_joinstyle="miter",
    )


def _say_left_out(sheet: Sheet, left_out: list[Section]) -> None:
    if not left_out:
        return
    names = [found.channel.name or sentences.name(e.capture) for e, found in left_out]
    text = f"Not drawn, less mains in them: {plain(words(', '.join(names)))}."
    quiet = sheet.palette.quiet
    sheet.prose(text, look.KEY, x=look.COLUMN_X, width=look.COLUMN, color=quiet, style="italic")
    sheet.y += 44
