"""Small pieces of HTML for notebooks: self-contained, escaped, readable on light and dark."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from straypath.report import sentences
from straypath.report.faces import FAMILIES
from straypath.report.rows import line_rows
from straypath.report.sections import sections
from straypath.wording import words

if TYPE_CHECKING:
    from straypath.capture.capture import Capture
    from straypath.inquiry import ChannelContents, Examination
    from straypath.report.rows import Rows
    from straypath.wording import Words

# The colour of the surroundings is kept; quiet text only lets them shine through.
_QUIET = "opacity:.72"
_TONES = {"quiet": _QUIET, "interval": f"{_QUIET};font-size:86%", "strong": "font-weight:bold"}
_SHEET = (
    f"font-family:{','.join(repr(family) for family in FAMILIES)},serif;"
    "font-variant-numeric:tabular-nums lining-nums;max-width:42em;line-height:1.5"
)
_CELL = "padding:.15em 1.2em .15em 0;text-align:{};border:0;background:none"


def examination(found: Examination) -> str:
    """Return what was found in each channel."""
    parts = [_title(found.capture), _paragraph(sentences.size(found.capture), _QUIET)]
    for contents in found.channels:
        parts += _channel(contents)
        parts += _beside_mains(contents, found.capture.rate_hz)
    parts += _list("Not known", sentences.questions(found))
    parts += _list("Assumed", sentences.shown_assumptions(found), _QUIET)
    return _sheet(parts)


def capture(record: Capture) -> str:
    """Return name, size and channels of a capture."""
    parts = [_title(record), _paragraph(sentences.size(record), _QUIET)]
    names = [channel.name for channel in record.channels if channel.name]
    if names:
        items = "".join(f"<li>{escape(name)}</li>" for name in names)
        parts.append(f'<ol style="margin:.3em 0">{items}</ol>')
    return _sheet(parts)


def _sheet(parts: list[str]) -> str:
    return f'<div style="{_SHEET}">{"".join(parts)}</div>'


def _title(record: Capture) -> str:
    tag = ""
    if sentences.invented(record):
        tag = f' <span style="{_QUIET};border:1px solid;padding:.1em .5em">Invented data</span>'
    return f"<p><b>{escape(sentences.name(record))}</b>{tag}</p>"


def _channel(found: ChannelContents) -> list[str]:
    mains, unit = found.mains, found.channel.unit
    parts = [f"<p><i>channel {escape(found.channel.name)}</i></p>"] if found.channel.name else []
    parts.append(_paragraph(sentences.conclusion(found.contents, unit), "font-size:118%"))
    parts += [
        _paragraph(sentences.finding(finding), "border-left:4px double;padding-left:.6em")
        for finding in found.soundness.findings
    ]
    if mains.detected:
        parts.append(_table(line_rows(mains, unit)))
    return [*parts, *(_paragraph(fact, _QUIET) for fact in sentences.facts(found))]


def _beside_mains(found: ChannelContents, rate_hz: float) -> list[str]:
    """Return other lines, floor, bursts, offset, and what could not be told."""
    parts = []
    for section in sections(found, rate_hz):
        parts.append(f"<p><b>{escape(section.title)}</b></p>")
        if section.table is not None:
            parts.append(_table(section.table))
        parts += [
            _paragraph(paragraph.text, "margin-left:1.4em" if paragraph.inner else "")
            for paragraph in section.paragraphs
        ]
    return parts


def _list(title: str, said: list[str], style: str = "") -> list[str]:
    if not said:
        return []
    return [f"<p><b>{escape(title)}</b></p>", *(_paragraph(text, style) for text in said)]


def _table(made: Rows) -> str:
    sides = ["left" if heading == "interval" else "right" for heading in made.titles]
    head = "".join(
        f'<th style="{_CELL.format(side)};{_QUIET};font-weight:normal">{escape(title)}</th>'
        for title, side in zip(made.titles.values(), sides, strict=True)
    )
    rows = "".join(
        "<tr>"
        + "".join(
            f'<td style="{_CELL.format(side)}">{escape(cell)}</td>'
            for cell, side in zip(row, sides, strict=True)
        )
        + "</tr>"
        for row in made.rows
    )
    return f'<table style="border-collapse:collapse"><tr>{head}</tr>{rows}</table>'


def _paragraph(text: Words | str, style: str) -> str:
    pieces = words(text) if isinstance(text, str) else text
    body = "".join(
        f'<span style="{_TONES[piece.tone]}">{escape(piece.text)}</span>'
        if piece.tone in _TONES
        else escape(piece.text)
        for piece in pieces
    )
    return f'<p style="margin:.4em 0;{style}">{body}</p>'
