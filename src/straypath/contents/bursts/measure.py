"""One burst after the other: middle, width, peak and energy over the course around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.bursts.envelope import as_floats

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from straypath.arrays import BoolArray, FloatArray
    from straypath.capture.capture import Samples

# Looked at to either side of a burst: its own length, but at least so many rows.
MARGIN_ROWS = 4
# A burst ends where the mean square over so many samples falls to so many times the noise's.
SMOOTH = 8
OVER_NOISE = 3.0
LONGEST = 1 << 20
MIDDLE_SHARE = 0.9
# Departures from the first course that are not used for the second.
OUTLYING = 4.0
# Parts of the squares beside a burst that a jump of level must take away to be believed.
JUMP_TAKES = 0.5
# Order of the course: with a model of the lines, straight; without, it has to follow hum.
WITH_MODEL = 1
WITHOUT_MODEL = 3


@dataclass(frozen=True)
class Measured:
    """A burst in samples and raw steps.

    Parameters
    ----------
    first, last : int
        Its first sample, and one past its last.
    middle : float
        Sample at which half its energy is reached.
    width : float
        Samples that hold the middle 90 % of its energy.
    peak : float
        Largest departure, with its sign [raw].
    energy : float
        Sum of squares, noise taken off [raw²].
    """

    first: int
    last: int
    middle: float
    width: float
    peak: float
    energy: float


@dataclass(frozen=True)
class Stretches:
    """Where a record departs: samples start … stop, in order, none overlapping."""

    start: NDArray[np.intp]
    stop: NDArray[np.intp]

    def away_from(self, first: int, last: int) -> BoolArray:
        """Return which of the samples first … last lie in no stretch."""
        away = np.ones(last - first, dtype=bool)
        lowest, highest = np.searchsorted(self.stop, first), np.searchsorted(self.start, last)
        for i in range(int(lowest), int(highest)):
            away[max(0, self.start[i] - first) : max(0, self.stop[i] - first)] = False
        return away


def measure(
    samples: Samples,
    stretches: Stretches,
    which: int,
    row: int,
    confirm: Callable[[FloatArray], BoolArray],
    together: int,
    model: Callable[[int, int], FloatArray] | None = None,
) -> list[Measured]:
    """Measure the bursts in one stretch; none where the lines explain it.

    r = x - model - course; E = Σ r² - n v, v the noise's mean square beside the burst. The
    course is a polynomial through the samples on both sides, with a jump where the level stays
    different after the burst.

    Parameters
    ----------
    samples : Samples, shape (n,)
    stretches, which : Stretches, int
        All departures from the record's course, and the number of this one.
    row : int
        Samples that the course needs.
    confirm : callable
        From r, which samples still depart.
    together : int
        Departures less than so many samples apart are one burst.
    model : callable or None
        Known lines at samples start … stop [raw].

    Validity: bursts that have come back to the course within their own length on both sides.
    Longer than 2^20 samples, only the first 2^20 are read.
    """
    start = int(stretches.start[which])
    stop = min(int(stretches.stop[which]), start + LONGEST)
    margin = max(MARGIN_ROWS * row, stop - start)
    first, last = max(0, start - margin), min(len(samples), stop + margin)
    x = as_floats(np.asarray(samples[first:last])).astype(np.float64)
    if model is not None:
        x = x - model(first, last)
    # Any level about zero will do, and a small one keeps its digits.
    x = x - x[0]
    beside = stretches.away_from(first, last)
    if np.count_nonzero(beside) < SMOOTH:
        return []
    order = WITHOUT_MODEL if model is None else WITH_MODEL
    r, noise = _less_course(x, beside, (start + stop) / 2 - first, order)
    departs = np.flatnonzero(confirm(r)[start - first : stop - first])
    begin, end, _ = merged(departs, departs + 1, together)
    found: list[Measured] = []
    free = 0
    for core in zip(begin + (start - first), end + (start - first), strict=True):
        a, b = _ends(r, core, noise)
        burst = _weighed(r, max(a, free), b, noise, first)
        if burst is not None:
            found.append(burst)
            free = b
    return found


def _weighed(r: FloatArray, a: int, b: int, noise: float, first: int) -> Measured | None:
    """The burst in samples a … b of r, whose own first sample is `first` in the record."""
    energies = r[a:b] ** 2 - noise
    total = float(energies.sum())
    if b <= a or total <= 0:
        return None
    reached = np.concatenate([[0.0], np.maximum.accumulate(np.cumsum(energies))]) / total
    edges = np.arange(a, b + 1) - 0.5
    tail = (1 - MIDDLE_SHARE) / 2
    early, middle, late = np.interp([tail, 0.5, 1 - tail], reached, edges)
    return Measured(
        first=first + a,
        last=first + b,
        middle=first + float(middle),
        width=float(late - early),
        peak=float(r[a + int(np.argmax(np.abs(r[a:b])))]),
        energy=total,
    )


def _less_course(
    x: FloatArray, beside: BoolArray, middle: float, order: int
) -> tuple[FloatArray, float]:
    """Samples less the course read beside the burst, and the noise's mean square there."""
    place = np.linspace(-1.0, 1.0, len(x))
    columns = place[:, np.newaxis] ** np.arange(order + 1)
    after = np.arange(len(x)) > middle
    kept, course = beside, np.zeros_like(x)
    for _ in range(2):
        course = columns @ _fitted(columns[kept], x[kept])
        left = np.abs(x - course)
        kept = beside & (left <= OUTLYING * 1.4826 * np.median(left[beside]))
    both = np.count_nonzero(kept & after) >= SMOOTH <= np.count_nonzero(kept & ~after)
    if both:
        coefficients = _fitted(np.column_stack([columns, after])[beside], x[beside])
        base, jump = columns @ coefficients[:-1], float(coefficients[-1])
        plain = float(np.sum((x - course)[beside] ** 2))
        if float(np.sum((x - base - jump * after)[beside] ** 2)) < JUMP_TAKES * plain:
            # It falls where the samples go from nearer the one level to nearer the other.
            nearer = np.clip((x - base) / jump, 0.0, 1.0) - 0.5
            after = np.arange(len(x)) > int(np.argmin(np.cumsum(nearer)))
            course, kept = base + jump * after, beside
    r = x - course
    return r, float(np.mean(r[kept] ** 2)) if kept.any() else 0.0


def _fitted(columns: FloatArray, x: FloatArray) -> FloatArray:
    """Least squares by the normal equations: few columns of size one, so they are well set."""
    square = columns.T @ columns
    # A part without samples on it gets no weight instead of an error.
    square[np.diag_indices_from(square)] += 1e-12 * len(x)
    return np.asarray(np.linalg.solve(square, columns.T @ x))


def _ends(r: FloatArray, core: tuple[int, int], noise: float) -> tuple[int, int]:
    """First sample, and one past the last, of what rises out of the noise around the core."""
    power = np.convolve(r**2, np.full(SMOOTH, 1.0 / SMOOTH), mode="same")
    quiet = power < OVER_NOISE * noise + np.finfo(float).tiny
    before, after = np.flatnonzero(quiet[: core[0]]), np.flatnonzero(quiet[core[1] :])
    a = int(before[-1]) + 1 if len(before) else 0
    b = int(core[1]) + int(after[0]) if len(after) else len(r)
    return a, b


def merged(
    start: NDArray[np.intp], stop: NDArray[np.intp], least_gap: int
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Join stretches that belong together; return their starts, stops and each one's first part.

    Two belong together when the gap between them is shorter than `least_gap` samples, or than
    what has been joined so far.

    Parameters
    ----------
    start, stop : array of int, shape (k,)
        In order of start.

    Example
    -------
    >>> a, b, first = merged(np.array([0, 10, 14, 90]), np.array([2, 12, 20, 91]), 4)
    >>> list(map(int, a)), list(map(int, b)), list(map(int, first))
    ([0, 10, 90], [2, 20, 91], [0, 1, 3])
    """
    if not len(start):
        return start, stop, start
    reach = np.maximum.accumulate(stop)
    fresh = np.flatnonzero(np.concatenate([[True], start[1:] - reach[:-1] >= least_gap]))
    begin, end = start[fresh], reach[np.concatenate([fresh[1:], [len(start)]]) - 1]
    kept = [0]
    last_end = int(end[0])
    for i in range(1, len(begin)):
        if begin[i] - last_end >= max(least_gap, last_end - begin[kept[-1]]):
            kept.append(i)
        last_end = int(end[i])
    which = np.array(kept)
    return begin[which], end[np.concatenate([which[1:], [len(begin)]]) - 1], fresh[which]
