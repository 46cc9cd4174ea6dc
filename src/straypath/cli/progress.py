"""A progress bar that appears only when it is worth it: on a terminal, after one second."""

# Heavy libraries are imported where they are used, so that help comes at once.
# ruff: noqa: PLC0415

from __future__ import annotations

import sys
from time import monotonic
from typing import TYPE_CHECKING, Final, Self

if TYPE_CHECKING:
    from types import TracebackType

    from rich.progress import Progress

PATIENCE_S: Final = 1.0
"""Work that is done sooner needs no bar."""


class Bar:
    """A progress callback; use it as a context so that the bar is wiped at the end."""

    def __init__(self, *, patience_s: float = PATIENCE_S) -> None:
        self._start = monotonic()
        self._patience_s = patience_s
        self._shown: Progress | None = None
        self._about = ""
        self._part, self._parts = 0, 1

    def file(self, name: str, part: int, parts: int) -> None:
        """Say which file out of how many comes next."""
        self._about, self._part, self._parts = name, part, parts

    def __call__(self, done: float, doing: str) -> None:
        """Move the bar."""
        if self._shown is None:
            if not sys.stderr.isatty() or monotonic() - self._start < self._patience_s:
                return
            self._show()
        assert self._shown is not None  # noqa: S101
        whole = (self._part + done) / self._parts
        self._shown.update(self._shown.task_ids[0], completed=whole, description=self._text(doing))

    def _text(self, doing: str) -> str:
        return f"{self._about}  {doing}" if self._about else doing

    def _show(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn

        self._shown = Progress(
            TextColumn("{task.description}", markup=False),
            BarColumn(bar_width=24, style="dim", complete_style="none", finished_style="none"),
            TaskProgressColumn(),
            console=Console(stderr=True),
            transient=True,
        )
        self._shown.add_task("", total=1.0)
        self._shown.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._shown is not None:
            self._shown.stop()
