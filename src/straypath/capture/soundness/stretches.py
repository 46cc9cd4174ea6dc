"""Sound stretches between missing samples, and long runs of one value; both in bounded memory."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    Array = NDArray[Any]
    Span = tuple[int, int]

LONG = 16
"""A run of one value counts as long from here on; what is natural is judged later."""
_KEEP = 1024
_GROUP = 8  # eight comparisons are looked at as one 64-bit word
_ALL_EQUAL = np.uint64(0x0101010101010101)


def longest(spans: list[Span], keep: int) -> list[Span]:
    """Return the longest spans, in order of time."""
    return sorted(sorted(spans, key=lambda s: s[0] - s[1])[:keep])


@dataclass
class Stretches:
    """The stretches without missing samples; of very many only the longest are kept."""

    spans: list[Span] = field(default_factory=list)
    missing: int = 0
    rows: int = 0
    longest_missing: int = 0
    _open: int = 0
    _last_bad: int = -1
    _row: int = 0

    def cut(self, start: int, bad: NDArray[np.bool_]) -> None:
        """Take out the bad samples of a block that begins at sample `start`."""
        edges = np.diff(bad.astype(np.int8), prepend=0, append=0)
        first, past = np.flatnonzero(edges > 0) + start, np.flatnonzero(edges < 0) + start
        self.missing += int(np.count_nonzero(bad))
        opens = np.concatenate([[self._open], past[:-1]])
        self._note_rows(first, past)
        kept = first > opens
        lengths = (first - opens)[kept]
        best = np.argsort(-lengths, kind="stable")[:_KEEP]
        spans = zip(opens[kept][best].tolist(), first[kept][best].tolist(), strict=True)
        self.spans.extend(spans)
        if len(self.spans) > 2 * _KEEP:
            self.spans = longest(self.spans, _KEEP)
        self._open = int(past[-1])

    def _note_rows(self, first: NDArray[np.int64], past: NDArray[np.int64]) -> None:
        lengths = past - first
        joined = int(first[0]) == self._last_bad
        self.rows += len(first) - joined
        head = int(lengths[0]) + (self._row if joined else 0)
        self.longest_missing = max(self.longest_missing, head, int(lengths.max()))
        self._row = head if len(first) == 1 else int(lengths[-1])
        self._last_bad = int(past[-1])

    def close(self, n: int) -> None:
        """End the record after n samples."""
        if n > self._open:
            self.spans.append((self._open, n))
        self.spans = longest(self.spans, _KEEP)

    def longest_between(self, breaks: Iterable[Span]) -> Span:
        """Return the longest stretch once more spans are taken out; (i, i) only cuts at i."""
        cuts = sorted(breaks)
        best = (0, 0)
        for start, stop in self.spans:
            at = start
            for first, past in [*(c for c in cuts if start < c[1] and c[0] < stop), (stop, stop)]:
                if first - at > best[1] - best[0]:
                    best = (at, first)
                at = max(at, past)
        return best


@dataclass
class LongRuns:
    """Runs of one value over at least `LONG` samples.

    Runs that cross from block to block are joined; one that is shorter than two times LONG and
    is cut by a border may be missed, which is one in many thousand.

    Parameters
    ----------
    samples : int
        All that lie in long runs.
    spans : list of (start, stop)
        The longest of them.
    """

    samples: int = 0
    spans: list[Span] = field(default_factory=list)
    _tail: Any = None

    def see(self, start: int, block: Array) -> None:
        """Take in one block that begins at sample `start`."""
        spans = long_runs(block)
        if not len(spans):
            self._tail = None
            return
        self.samples += int((spans[:, 1] - spans[:, 0]).sum())
        found = [(int(a) + start, int(b) + start) for a, b in _longest_rows(spans)]
        if self._tail is not None and spans[0, 0] == 0 and block[0] == self._tail[1]:
            joined = (self._tail[0][0], int(spans[0, 1]) + start)
            self.spans = [s for s in self.spans if s != self._tail[0]]
            found = [joined, *(s for s in found if s[0] != start)]
        first_past = spans[-1] + start
        ends_block = first_past[1] == start + len(block)
        tail = next((s for s in found if s[1] == first_past[1]), None) if ends_block else None
        self._tail = (tail, block[-1]) if tail else None
        self.spans.extend(found)
        if len(self.spans) > 2 * _KEEP:
            self.spans = longest(self.spans, _KEEP)


def _longest_rows(spans: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the longest rows, and always the first and the last: they may go on next door."""
    if len(spans) <= _KEEP:
        return spans
    lengths = spans[:, 1] - spans[:, 0]
    keep = np.zeros(len(spans), dtype=bool)
    keep[np.argpartition(lengths, -_KEEP)[-_KEEP:]] = True
    keep[[0, -1]] = True
    return spans[keep]


def long_runs(block: Array) -> NDArray[np.int64]:
    """Return (first, past) of the runs of one value over at least LONG samples; NaN never runs."""
    none = np.empty((0, 2), dtype=np.int64)
    # A run of 16 holds two samples eight apart. In unquantised data this alone settles it.
    comb = block[::_GROUP]
    if len(block) < LONG or not (comb[1:] == comb[:-1]).any():
        return none
    same = block[1:] == block[:-1]
    words = same[: len(same) // _GROUP * _GROUP].view(np.uint64)
    if not (words == _ALL_EQUAL).any():
        return none
    changes = np.flatnonzero(~same) + 1
    bounds = np.concatenate([[0], changes, [len(block)]])
    long = np.flatnonzero(np.diff(bounds) >= LONG)
    return np.stack([bounds[long], bounds[long + 1]], axis=1)
