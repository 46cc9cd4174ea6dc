"""The page of a plan on the terminal: what to record first, then why, and what is assumed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from straypath.cli.terminal import hold
from straypath.report import planned
from straypath.wording import words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import RenderableType

    from straypath.contents.plan.records import Plan, Verdict
    from straypath.report.planned import Rows
    from straypath.wording import Words

_STYLES = {"plain": "", "quiet": "dim", "interval": "dim", "strong": "bold"}
_INDENT = (0, 0, 0, 2)


def plan_page(plan: Plan) -> RenderableType:
    """Return the page of a plan."""
    parts = [_set(planned.conclusion(plan)), *_part("Recording", planned.recording(plan))]
    parts += _part("Reasons", planned.reasons(plan))
    table = planned.contrasts(plan)
    if table is not None:
        parts += ["", Text("Reasons", style="bold"), _table(table)]
    parts += _part("Mind", planned.notes(plan.cautions))
    parts += _part("Assumed", planned.notes(plan.assumptions), style="dim")
    return Group(*parts)


def reverse_page(verdicts: Sequence[Verdict], assumptions: tuple[str, ...]) -> RenderableType:
    """Return the page of what a recording can answer."""
    parts: list[RenderableType] = []
    for verdict in verdicts:
        if parts:
            parts.append("")
        answer = "Yes. " if verdict.answerable else "No. "
        parts.append(Text(hold(verdict.asked), style="bold"))
        parts.append(Padding(_set(words(answer, verdict.why)), _INDENT))
    return Group(*parts, *_part("Assumed", planned.notes(assumptions), style="dim"))


def _part(heading: str, said: Sequence[Words | str], style: str = "") -> list[RenderableType]:
    if not said:
        return []
    lines = [Padding(_set(text, style), _INDENT) for text in said]
    return ["", Text(heading, style="bold"), *lines]


def _set(text: Words | str, style: str = "") -> Text:
    made = Text(style=style)
    for piece in words(text) if isinstance(text, str) else text:
        made.append(hold(piece.text), style=_STYLES[piece.tone])
    return made


def _table(rows: Rows) -> RenderableType:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for place, heading in enumerate(rows.headings):
        table.add_column(heading, justify="right" if place else "left", no_wrap=True)
    for row in rows.cells:
        table.add_row(*(Text(hold(cell)) for cell in row))
    return Padding(table, _INDENT)
