"""How help is set: headings, names with their values, and prose beside them; nothing framed."""

# cyclopts hands every formatter its options, wanted or not.
# ruff: noqa: ARG002

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from cyclopts.help import HelpEntry, HelpPanel
    from rich.console import ConsoleOptions

_NAMES = 22  # columns for names; longer ones push their prose onto the next line


class Helping:
    """Formats one part of the help at a time."""

    def __call__(self, console: Console, options: ConsoleOptions, panel: HelpPanel) -> None:
        """Print a heading with its entries in two columns."""
        if not panel.entries:
            return
        console.print(Text(str(panel.title), style="bold"))
        table = Table.grid(padding=(0, 2))
        table.add_column(width=_NAMES)
        table.add_column()
        for entry in panel.entries:
            table.add_row(Text(_names(entry)), Text(" ".join(_plain(entry.description).split())))
        console.print(Padding(table, (0, 0, 1, 2)))

    def render_usage(self, console: Console, options: ConsoleOptions, usage: Any) -> None:
        """Print the usage line."""
        if usage:
            console.print(Text(str(usage).strip()))
            console.print()

    def render_description(self, console: Console, options: ConsoleOptions, text: Any) -> None:
        """Print what the command does."""
        for paragraph in _plain(text).strip().split("\n\n"):
            if paragraph:
                console.print(Text(" ".join(paragraph.split())))
                console.print()


def _names(entry: HelpEntry) -> str:
    names = entry.positive_names + entry.positive_shorts
    if entry.positional_label:
        return "FILE…" if entry.positional_label == "FILES" else entry.positional_label
    label = ", ".join(sorted(names, key=len, reverse=True))
    return f"{label} {entry.metavar}" if entry.metavar else label


def _plain(about: Any) -> str:
    """Return what cyclopts hands over, whatever its kind, as text with its line breaks."""
    if about is None or isinstance(about, str):
        return about or ""
    wide = Console(width=10_000, color_system=None)
    with wide.capture() as captured:
        wide.print(about)
    return "\n".join(line.rstrip() for line in captured.get().splitlines())
