"""The page on the terminal: conclusion first, then record, contents and what is assumed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.console import Group
from rich.measure import Measurement
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from straypath.cli.terminal import hold
from straypath.report import sentences
from straypath.report.rows import line_rows
from straypath.report.sections import sections
from straypath.wording import words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console, ConsoleOptions, RenderableType, RenderResult

    from straypath.inquiry import ChannelContents, Examination
    from straypath.report.rows import Rows
    from straypath.wording import Words

_STYLES = {"plain": "", "quiet": "dim", "interval": "dim", "strong": "bold"}
_BARS = {"note": "dim", "caution": "yellow", "unsound": "red"}
_INDENT = 2
_NARROW = 60
_UNBOUNDED = 1000


def page(examinations: Sequence[Examination]) -> RenderableType:
    """Return the page of one or more examinations."""
    parts: list[RenderableType] = []
    for place, examination in enumerate(examinations):
        if place:
            parts += ["", ""]
        parts += _file(examination)
    return Group(*parts)


def _file(examination: Examination) -> list[RenderableType]:
    capture = examination.capture
    parts = [_title(examination)]
    single = len(capture.channels) == 1 and not capture.channels[0].name
    if len(examination.channels) > 1:
        parts += [_overview(examination), "", *_record(examination), ""]
    for place, found in enumerate(examination.channels):
        if place:
            parts.append("")
        if not single:
            parts.append(Text(hold(f"channel {found.channel.name}"), style="italic"))
        parts.append(_set(sentences.conclusion(found.contents, found.channel.unit)))
        if len(examination.channels) == 1:
            parts += ["", *_record(examination)]
        parts += _findings(found)
        parts += _mains(found)
        parts += _beside_mains(found, capture.rate_hz)
    return [*parts, *_asked(examination), *_assumed(examination)]


def _title(examination: Examination) -> RenderableType:
    title = Text(sentences.name(examination.capture), style="bold")
    if not sentences.invented(examination.capture):
        return title
    row = Table.grid(expand=True)
    row.add_column(ratio=1)
    row.add_column(justify="right")
    row.add_row(title, Text("Invented data", style="dim"))
    return row


def _overview(examination: Examination) -> RenderableType:
    """Set the conclusions of all channels below one another."""
    said = [
        (Text(hold(c.channel.name)), _set(sentences.brief(c.contents, c.channel.unit)))
        for c in examination.channels
    ]
    return Padding(_Overview(said), (0, 0, 0, _INDENT))


@dataclass(frozen=True)
class _Overview:
    """Names with what was found beside them, or below them where the screen is narrow."""

    said: list[tuple[Text, RenderableType]]

    def __rich_console__(self, screen: Console, options: ConsoleOptions) -> RenderResult:
        if options.max_width < _NARROW:
            for name, found in self.said:
                yield name
                yield Padding(found, (0, 0, 0, _INDENT))
            return
        rows = Table.grid(padding=(0, 2, 0, 0))
        rows.add_column(max_width=24, no_wrap=True)
        rows.add_column()
        for name, found in self.said:
            rows.add_row(name, found)
        yield rows


def _set(text: Words | str, style: str = "", indent: int = 0) -> RenderableType:
    """Set words as a paragraph."""
    made = Text(style=style)
    for piece in words(text) if isinstance(text, str) else text:
        made.append(hold(piece.text), style=_STYLES[piece.tone])
    return Padding(made, (0, 0, 0, indent)) if indent else made


def _head(text: str) -> RenderableType:
    return Text(text, style="bold")


def _record(examination: Examination) -> list[RenderableType]:
    capture = examination.capture
    facts = (sentences.size(capture), sentences.taken(capture))
    return [_head("Record"), *(_set(fact, indent=_INDENT) for fact in facts if fact)]


def _findings(found: ChannelContents) -> list[RenderableType]:
    """Set what is not sound about the record, behind a double bar."""
    rows: list[RenderableType] = []
    if found.soundness.findings:
        rows.append("")
    for finding in found.soundness.findings:
        row = Table.grid(padding=(0, 1))
        row.add_column(width=1)
        row.add_column()
        row.add_row(Text("‖", style=_BARS[finding.severity]), _set(sentences.finding(finding)))
        rows.append(Padding(row, (0, 0, 0, _INDENT)))
    return rows


def _mains(found: ChannelContents) -> list[RenderableType]:
    parts: list[RenderableType] = []
    if found.mains.detected:
        parts += ["", _head("Mains lines"), _fitting(line_rows(found.mains, found.channel.unit))]
    facts = sentences.facts(found)
    if facts:
        parts.append("")
    return [*parts, *(_set(fact, indent=_INDENT) for fact in facts)]


def _beside_mains(found: ChannelContents, rate_hz: float) -> list[RenderableType]:
    """Set other lines, floor, bursts, offset, and what could not be told."""
    parts: list[RenderableType] = []
    for section in sections(found, rate_hz):
        parts += ["", _head(section.title)]
        if section.table is not None:
            parts.append(_fitting(section.table))
        parts += [
            _set(paragraph.text, indent=2 * _INDENT if paragraph.inner else _INDENT)
            for paragraph in section.paragraphs
        ]
    return parts


def _fitting(made: Rows) -> RenderableType:
    return Padding(_Fitting(made), (0, 0, 0, _INDENT))


@dataclass(frozen=True)
class _Fitting:
    """A table that leaves out columns where the screen is too narrow for all."""

    made: Rows

    def __rich_console__(self, screen: Console, options: ConsoleOptions) -> RenderResult:
        left = list(self.made.titles)
        table = _table(self.made, left)
        for heading in self.made.spared:
            wanted = Measurement.get(screen, options.update_width(_UNBOUNDED), table).maximum
            if wanted <= options.max_width:
                break
            left.remove(heading)
            table = _table(self.made, left)
        yield table


def _table(made: Rows, headings: list[str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for heading in headings:
        table.add_column(
            hold(made.titles[heading]),
            justify="left" if heading == "interval" else "right",
            no_wrap=True,
        )
    for row in made.rows:
        cells = dict(zip(made.titles, row, strict=True))
        table.add_row(
            *(
                Text(hold(cells[heading]), style="dim" if heading == "interval" else "")
                for heading in headings
            )
        )
    return table


def _assumed(examination: Examination) -> list[RenderableType]:
    said = sentences.shown_assumptions(examination)
    if not said:
        return []
    return ["", _head("Assumed"), *(_set(note, style="dim", indent=_INDENT) for note in said)]


def _asked(examination: Examination) -> list[RenderableType]:
    """Set what no record can tell, so that the reader asks it."""
    asked = sentences.questions(examination)
    if not asked:
        return []
    return ["", _head("Not known"), *(_set(question, indent=_INDENT) for question in asked)]
