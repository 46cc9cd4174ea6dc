"""A long record as phasors: every order fitted in every block, jointly and exactly.

One least-squares table serves all blocks, so the fit is one matrix product. What follows (mean
frequency, wander, amplitudes, scatter between blocks) works on these few phasors only.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import fft, special

from straypath.contents.floor import quiet_floor

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.arrays import ComplexArray, FloatArray
    from straypath.contents.reduction import Reduced


# IEC 61000-4-30 measures in slots of 10 cycles at 50 Hz and 12 at 60 Hz (from memory). Ten serve
# for all; shorter ones where there are few.
CYCLES_PER_BLOCK = 10
FEWEST_CYCLES = 4
MANY_BLOCKS = 10_000
SAMPLES_AT_ONCE = 1 << 20
# The floor is read from stretches of this many cycles, and from at most so many of them spread
# over the record: a thousand degrees of freedom are enough.
FLOOR_CYCLES = 40
FLOOR_ROWS = 16
FEWEST_ROWS = 4
HANN_BINS_PER_DEGREE = 1.944
# In the whole record's own bins, a line and its taper take this much to either side.
CLEAR_OF_LINE_BINS = 2.5
# Parts of the fundamental to both sides of an order from which its floor is read.
REACH = 0.55
# A block's fit takes away what lies within this many bins of an order.
CLEAR_OF_ORDERS_BINS = 1.25


@dataclass(frozen=True)
class Blocks:
    """All orders in all blocks.

    Parameters
    ----------
    phasors : array, shape (blocks, orders)
        Peak amplitude · e^{jθ} about the record's centre, de-rotated by `reference_hz`.
    times_s : array, shape (blocks,)
        Block centres from the record's centre [s].
    length_s : float
        Length of a block [s].
    reference_hz : float
        Mains frequency that the table was made for [Hz].
    floor, floor_dof : array, shape (orders,)
        One-sided density under each order [unit²/Hz] and its degrees of freedom.
    """

    phasors: ComplexArray
    times_s: FloatArray
    length_s: float
    reference_hz: float
    floor: FloatArray
    floor_dof: FloatArray

    @property
    def orders(self) -> FloatArray:
        """1, 2, 3 …"""
        return np.arange(1, self.phasors.shape[1] + 1, dtype=np.float64)

    @property
    def duration_s(self) -> float:
        """Length that the blocks cover [s]."""
        return self.length_s * len(self.times_s)

    @property
    def block_variance(self) -> FloatArray:
        """Variance of each quadrature of one block's phasor, S/τ [unit²]."""
        return np.asarray(self.floor / self.length_s)


def block_count(duration_s: float, f0_hz: float) -> int:
    """Return how many blocks to cut: 10 cycles each, or 10 blocks, but at least 4 cycles.

    Hours of record get longer blocks, for the work goes with their number.
    """
    cycles = duration_s * f0_hz
    count = max(cycles / CYCLES_PER_BLOCK, min(10.0, cycles / FEWEST_CYCLES))
    return int(count if count < MANY_BLOCKS else max(MANY_BLOCKS, count / 2.5))


def fit_blocks(reduced: Reduced, duration_s: float, f0_hz: float, orders: int) -> Blocks:
    """Fit offset, slope and all orders of `f0_hz` in every block.

    x(t) = c + d t + Σ a_k cos(2π k f0 t) + b_k sin(2π k f0 t) by least squares; a_k - j b_k is
    the phasor.

    Parameters
    ----------
    reduced : Reduced
    duration_s : float
        Length of the full record, whose centre is the origin of phase [s].
    f0_hz : float
        Close to the truth: the phase may turn by a small part of a cycle in a block [Hz].
    orders : int
        Fit 1 … orders.
    """
    count = block_count(len(reduced.samples) / reduced.rate_hz, f0_hz)
    length = len(reduced.samples) // count
    t = (np.arange(length) - (length - 1) / 2) / reduced.rate_hz
    table = _table(t, f0_hz, orders)
    # An orthonormal base of the table, in the type of the data for speed.
    unfold = np.linalg.inv(np.linalg.cholesky(table.T @ table))
    base = table @ unfold.T
    projected = _projected(reduced, base, count)
    coefficients = projected @ unfold
    phasors = coefficients[:, 2::2] - 1j * coefficients[:, 3::2]
    full_centre = (duration_s - 1 / reduced.full_rate_hz) / 2
    first_centre = reduced.first_s + (length - 1) / 2 / reduced.rate_hz
    times = first_centre - full_centre + np.arange(count) * length / reduced.rate_hz
    numbers = np.arange(1, orders + 1)
    gain = reduced.response(numbers * f0_hz)
    phasors = phasors * _powers(np.exp(-2j * np.pi * f0_hz * times), orders) / gain
    floor, dof = _floor_under_orders(reduced, projected, base, f0_hz, orders)
    return Blocks(phasors, times, length / reduced.rate_hz, f0_hz, floor, dof)


def _projected(reduced: Reduced, base: FloatArray, count: int) -> FloatArray:
    """Products of every block with the base, read in pieces that stay in cache."""
    length, columns = base.shape
    projected = np.empty((count, columns))
    at_once = max(1, SAMPLES_AT_ONCE // length)
    for first in range(0, count, at_once):
        last = min(count, first + at_once)
        rows = reduced.part(first * length, last * length).reshape(-1, length)
        projected[first:last] = rows @ base.astype(rows.dtype)
    return projected


def _table(t: FloatArray, f0_hz: float, orders: int) -> FloatArray:
    """Columns 1, t, cos, sin, cos, sin … of one block."""
    turn = _powers(np.exp(2j * np.pi * f0_hz * t), orders)
    table = np.empty((len(t), 2 + 2 * orders))
    table[:, 0] = 1.0
    table[:, 1] = t / (t[-1] or 1.0)
    table[:, 2::2] = turn.real
    table[:, 3::2] = turn.imag
    return table


def _powers(turn: ComplexArray, orders: int) -> ComplexArray:
    """Powers 1 … orders of unit phasors, by repeated products: far cheaper than exponentials."""
    return np.asarray(np.cumprod(np.broadcast_to(turn[:, np.newaxis], (len(turn), orders)), axis=1))


def _floor_under_orders(
    reduced: Reduced, projected: FloatArray, base: FloatArray, f0_hz: float, orders: int
) -> tuple[FloatArray, FloatArray]:
    """Return density and degrees of freedom under each order, from between the orders.

    In a long record several blocks in a row are transformed together under a Hann taper: a
    strong line that is no order of the comb, such as hum of another supply, then stays within its
    own few bins. In a short one every block counts on its own, for the sake of certainty.
    """
    count, length = len(projected), len(base)
    together = max(1, round(FLOOR_CYCLES / (f0_hz * length / reduced.rate_hz)))
    tapered = count >= FEWEST_ROWS * together
    together = together if tapered else 1
    first = np.linspace(0, count - together, min(count // together, FLOOR_ROWS)).astype(int)
    chosen = first[:, np.newaxis] + np.arange(together)
    rows = np.array(
        [reduced.part(i * length, (i + together) * length).reshape(-1, length) for i in first],
        dtype=np.float64,
    )
    residual = rows - projected[chosen] @ base.T
    taper = np.hanning(together * length) if tapered else np.ones(length)
    tapered_rows = residual.reshape(len(first), -1) * taper
    padded = fft.next_fast_len(len(taper), real=True)
    power = np.mean(np.abs(fft.rfft(tapered_rows, padded)) ** 2, axis=0)
    block_hz = reduced.rate_hz / length
    f = np.arange(len(power)) * reduced.rate_hz / padded
    away = np.abs(f / f0_hz - np.round(f / f0_hz)) * f0_hz
    clear = CLEAR_OF_ORDERS_BINS * block_hz + (1.5 * block_hz / together if tapered else 0.0)
    use = (away > clear) & (f > block_hz / 2) & (f < 0.49 * reduced.rate_hz)
    f, away = f[use], away[use]
    # What the fit took from a bin: the two nearest orders' share of a block's resolution.
    left = 1.0 - np.sinc(away / block_hz) ** 2 - np.sinc((f0_hz - away) / block_hz) ** 2
    density = 2 * power[use] / left / (reduced.rate_hz * float(taper @ taper))
    density /= reduced.response(f) ** 2
    dof_each = 2.0 * len(first) / (HANN_BINS_PER_DEGREE if tapered else 1.0)
    floor, dof = _floors(f, density, f0_hz, orders, dof_each)
    return np.maximum(floor, _least(rows, reduced)), dof


def with_floor_of_whole(
    blocks: Blocks, reduced: Reduced, duration_s: float, f0_hz: float, phasors: ComplexArray
) -> Blocks:
    """Read the floor of a record of few blocks again, from all that a fit leaves of it.

    The whole record resolves 1/T: nothing of the floor is lost to the blocks, and a line that
    is no order of the comb keeps to itself.

    Parameters
    ----------
    f0_hz, phasors : float, array, shape (orders,)
        The comb that was found.
    """
    orders = len(phasors)
    numbers = np.arange(1, orders + 1)
    n = len(reduced.samples)
    t = reduced.first_s + np.arange(n) / reduced.rate_hz
    t -= (duration_s - 1 / reduced.full_rate_hz) / 2
    weighted = phasors * reduced.response(numbers * f0_hz)
    samples = reduced.part(0, n)
    residual = samples - (_powers(np.exp(2j * np.pi * f0_hz * t), orders) @ weighted).real
    straight = np.linspace(-1.0, 1.0, n)
    residual -= residual.mean()
    residual -= straight * float(residual @ straight / (straight @ straight))
    taper = np.hanning(n)
    bin_hz = reduced.rate_hz / n
    power = np.abs(fft.rfft(residual * taper)) ** 2
    f = np.arange(len(power)) * bin_hz
    away = np.abs(f / f0_hz - np.round(f / f0_hz)) * f0_hz
    use = (away > CLEAR_OF_LINE_BINS * bin_hz) & (f > 1.5 * bin_hz) & (f < 0.49 * reduced.rate_hz)
    density = 2 * power[use] / (reduced.rate_hz * float(taper @ taper))
    density /= reduced.response(f[use]) ** 2
    floor, dof = _floors(f[use], density, f0_hz, orders, 2.0 / HANN_BINS_PER_DEGREE)
    floor = np.maximum(floor, _least(samples, reduced))
    # The blocks know the floor better, except where a foreign line has leaked into them.
    leaked = blocks.floor > floor * special.fdtri(blocks.floor_dof, dof, 0.99)
    return replace(
        blocks,
        floor=np.where(leaked, floor, blocks.floor),
        floor_dof=np.where(leaked, dof, blocks.floor_dof),
    )


def _floors(
    f: FloatArray, density: FloatArray, f0_hz: float, orders: int, dof_each: float
) -> tuple[FloatArray, FloatArray]:
    floor, dof = np.empty(orders), np.empty(orders)
    for k in range(1, orders + 1):
        near = slice(*np.searchsorted(f, [(k - REACH) * f0_hz, (k + REACH) * f0_hz]))
        floor[k - 1], dof[k - 1] = quiet_floor(f[near], density[near], k * f0_hz, dof_each)
    return floor, dof


def _least(samples: NDArray[Any], reduced: Reduced) -> float:
    """A record without any noise, such as a computed one, still gets a width: 240 dB down."""
    return 1e-24 * float(np.mean(np.square(samples, dtype=np.float64))) / reduced.rate_hz
