"""Sound stretches between missing samples, and long runs of one value; both in bounded memory."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from straypath.arrays import AnyArray

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
    """Runs of one value over at least `LONG` samples, also from block to block.

    Parameters
    ----------
    samples : int
        All that lie in long runs.
    spans : list of (start, stop)
        The longest of them.
    """

    samples: int = 0
    spans: list[Span] = field(default_factory=list)
    _open: tuple[int, Any] | None = None

    def see(self, start: int, block: AnyArray) -> None:
        """Take in one block that begins at sample `start`."""
        spans = long_runs(block)
        head, tail = _first_run(block, spans), _last_run(block, spans)
        begin = start
        if self._open is not None:
            if block[0] == self._open[1]:
                begin = self._open[0]
            else:
                self._take([(self._open[0], start)])
        if head < len(block):
            self._take([(begin, start + head)])
            inner = spans[(spans[:, 0] >= head) & (spans[:, 1] <= tail)]
            self.samples += int((inner[:, 1] - inner[:, 0]).sum())
            self._keep((inner[_of_longest(inner)] + start).tolist())
            begin = start + tail
        self._open = (begin, block[-1])

    def close(self, n: int) -> None:
        """End the record after n samples."""
        if self._open is not None:
            self._take([(self._open[0], n)])
        self.spans = longest(self.spans, _KEEP)

    def _take(self, spans: list[Span]) -> None:
        long = [s for s in spans if s[1] - s[0] >= LONG]
        self.samples += sum(b - a for a, b in long)
        self._keep(long)

    def _keep(self, spans: list[Any]) -> None:
        self.spans.extend((a, b) for a, b in spans)
        if len(self.spans) > 2 * _KEEP:
            self.spans = longest(self.spans, _KEEP)


def _of_longest(spans: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.argsort(spans[:, 0] - spans[:, 1], kind="stable")[:_KEEP]


def _first_run(block: AnyArray, spans: NDArray[np.int64]) -> int:
    """Return where the run that opens a block ends."""
    if len(spans) and spans[0, 0] == 0:
        return int(spans[0, 1])
    return _equal_ahead(block[:LONG])


def _last_run(block: AnyArray, spans: NDArray[np.int64]) -> int:
    """Return where the run that closes a block begins."""
    if len(spans) and spans[-1, 1] == len(block):
        return int(spans[-1, 0])
    return len(block) - _equal_ahead(block[: -LONG - 1 : -1])


def _equal_ahead(part: AnyArray) -> int:
    """Return how many samples from the first on are the same."""
    same = part == part[0]
    same[0] = True  # NaN is not even equal to itself
    return int(np.argmin(same)) or len(part)


def long_runs(block: AnyArray) -> NDArray[np.int64]:
    """Return (first, past) of the runs of one value over at least LONG samples; NaN never runs."""
    none = np.empty((0, 2), dtype=np.int64)
    # A run of 16 holds two samples eight apart. In unquantised data this alone settles it.
    comb = block[::_GROUP]
    if len(block) < LONG or not (comb[1:] == comb[:-1]).any():
        return none
    # same[i] tells whether sample i + 1 repeats sample i; padded with False to whole groups.
    same = np.zeros(-(-len(block) // _GROUP) * _GROUP, dtype=bool)
    np.equal(block[1:], block[:-1], out=same[: len(block) - 1])
    full = np.flatnonzero(same.view(np.uint64) == _ALL_EQUAL)
    if not len(full):
        return none
    breaks = np.flatnonzero(np.diff(full) > 1)
    head = full[np.concatenate([[0], breaks + 1])]
    tail = full[np.concatenate([breaks, [len(full) - 1]])]
    # The groups next to a row of full ones hold its ragged ends.
    groups = np.zeros((len(same) // _GROUP + 2, _GROUP), dtype=bool)
    groups[1:-1] = same.reshape(-1, _GROUP)
    before = np.argmin(groups[head][:, ::-1], axis=1)
    after = np.argmin(groups[tail + 2], axis=1)
    first = head * _GROUP - before
    past = (tail + 1) * _GROUP + after + 1
    long = past - first >= LONG
    return np.stack([first[long], past[long]], axis=1)
