"""Two things timed in turn, A B A B …, so that a drifting machine spoils neither."""

from __future__ import annotations

import gc
import statistics
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def ratio(one: Callable[[], object], other: Callable[[], object], turns: int = 7) -> float:
    """Median of time(one) / time(other) over the turns, after a warm-up of each."""
    one()
    other()
    return statistics.median(_seconds(one) / _seconds(other) for _ in range(turns))


def best_time(call: Callable[[], object], turns: int) -> float:
    """Shortest of several runs, after a warm-up where there are several [s]."""
    if turns > 1:
        call()
    return min(_seconds(call) for _ in range(turns))


def _seconds(call: Callable[[], object]) -> float:
    """Time one call; what it returns is thrown away afterwards."""
    gc.collect()
    start = time.perf_counter()
    result = call()
    elapsed = time.perf_counter() - start
    del result
    return elapsed


def row(what: str, value: float, bound: str, fits: bool) -> str:
    """One line of the table."""
    return f"{what:58s} {value:7.2f}   bound {bound:9s} {'holds' if fits else 'MISSED'}"
