"""Is there a mains comb in a short record, and at which frequency?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from straypath.contents.mains.search import Candidate, Found, order_share
from straypath.contents.mains.shapes import SHAPES
from straypath.contents.mains.short_record import BINS_PER_CYCLE, refine
from straypath.contents.mains.weighted import Lines, shape_weights

if TYPE_CHECKING:
    from straypath.arrays import FloatArray
    from straypath.contents.mains.cosine_bins import CosineBins
    from straypath.contents.mains.shapes import Shape
    from straypath.contents.mains.systems import MainsSystem
    from straypath.contents.mains.weighted import Solution

# Orders that find the frequency roughly; the others join when it is refined.
FIRST_ORDERS = 4
ORDERS_TESTED = 7
# Grid of frequencies, in parts of 1/T: a fifth of the width of order 4.
GRID_PART = 0.05
# A line fades as 1/distance in the bins: this many periods around a band hold nearly all of it.
BINS_AROUND = 10.0


def search_short(bins: CosineBins, systems: tuple[MainsSystem, ...], orders: int) -> Found:
    """Search the ranges of all systems; p_value covers everything that was tried."""
    low = min(s.low_hz for s in systems)
    high = max(s.high_hz for s in systems)
    grid = np.arange(low, high, GRID_PART / bins.duration_s)
    first = min(FIRST_ORDERS, orders)
    shape = _first_shape(bins, systems, orders)
    for _ in range(3):
        fits = profile(bins, grid, first, shape)
        best = float(grid[np.argmax(fits)])
        before = shape
        solutions = Lines(bins, best, orders).solve_all()
        shape = SHAPES[int(np.argmax(shape_weights(solutions)))]
        if shape is before:
            break
    best, variance = refine(bins, best, orders, shape)
    solutions = Lines(bins, best, orders).solve_all()
    weights = shape_weights(solutions)
    fine = best + np.sqrt(variance) * np.linspace(-5, 5, 41)
    grid = np.union1d(grid, fine[(fine > low) & (fine < high)])
    fits = profile(bins, grid, first, shape)
    candidates = sorted(
        (_candidate(system, grid, fits, best) for system in systems),
        key=lambda c: c.score,
        reverse=True,
    )
    return Found(float(_chance(bins, systems, solutions, weights)), tuple(candidates))


def _first_shape(bins: CosineBins, systems: tuple[MainsSystem, ...], orders: int) -> Shape:
    """The floor's shape that goes best with any of the nominal frequencies."""
    solved = [Lines(bins, s.nominal_hz, orders).solve_all() for s in systems]
    tries = [
        (s.log_likelihood + np.log(p.prior), p)
        for row in solved
        for s, p in zip(row, SHAPES, strict=True)
    ]
    return max(tries, key=lambda t: t[0])[1]


def profile(bins: CosineBins, grid_hz: FloatArray, orders: int, shape: Shape) -> FloatArray:
    """Return the log likelihood over frequencies, amplitudes and level at their best.

    -ν/2 · ln(residual sum of squares), with slope and the first orders fitted.
    """
    highest = (orders + 1) * float(grid_hz[-1])
    squares = np.zeros(len(grid_hz))
    count = 0
    for half in (0, 1):
        use = bins.frequency_hz[half] <= highest
        root = np.sqrt(shape.density(bins.frequency_hz[half]))
        lines = grid_hz[:, np.newaxis] * np.arange(1, orders + 1)
        table = (bins.columns(lines, half) / root[:, np.newaxis])[:, use]
        if half == 1:
            ramp = np.broadcast_to((bins.ramp[1] / root)[use], table.shape[:2])
            table = np.concatenate([table, ramp[..., np.newaxis]], axis=2)
        y = (bins.values[half] / root)[use]
        q, _ = np.linalg.qr(table)
        squares += y @ y - np.sum((y @ q) ** 2, axis=-1)
        count += int(use.sum())
    dof = max(count - 2 * orders - 2, 1)
    return np.asarray(-0.5 * dof * np.log(np.maximum(squares, 1e-300)))


def _candidate(
    system: MainsSystem, grid_hz: FloatArray, fits: FloatArray, best_hz: float
) -> Candidate:
    """The system's evidence, ∫ likelihood · prior df, and the best frequency within it."""
    inside = (grid_hz >= system.low_hz) & (grid_hz <= system.high_hz)
    f, log_fit = grid_hz[inside], fits[inside]
    top = float(log_fit.max())
    prior = system.prior_density(f, np.zeros(1))
    evidence = float(np.trapezoid(np.exp(log_fit - top) * prior, f))
    at = best_hz if system.low_hz <= best_hz <= system.high_hz else float(f[np.argmax(log_fit)])
    return Candidate(system, at, top + float(np.log(max(evidence * system.weight, 1e-300))))


def _chance(
    bins: CosineBins,
    systems: tuple[MainsSystem, ...],
    solutions: list[Solution],
    weights: FloatArray,
) -> float:
    """Chance that a bare floor looks like this, over shapes, systems, orders and frequencies."""
    low = min(s.low_hz for s in systems)
    high = max(s.high_hz for s in systems)
    smallest = 1.0
    kept = np.flatnonzero(weights > 0.01)
    for order in range(1, ORDERS_TESTED + 1):
        if order * high > 0.45 * bins.rate_hz:
            break
        band = _Band.cut(bins, order * low, order * high)
        chance = sum(
            weights[i] * band.chance(SHAPES[i], solutions[i], cycles=bins.duration_s * low)
            for i in kept
        )
        smallest = min(smallest, float(chance) / weights[kept].sum() / order_share(order))
    return min(1.0, smallest)


@dataclass(frozen=True)
class _Band:
    """The lines of one order over its band of frequencies, in the bins around it."""

    width: float
    frequency_hz: tuple[FloatArray, FloatArray]
    columns: tuple[FloatArray, FloatArray]
    values: tuple[FloatArray, FloatArray]
    ramp: FloatArray

    @classmethod
    def cut(cls, bins: CosineBins, low_hz: float, high_hz: float) -> _Band:
        step = GRID_PART * 2 / bins.duration_s
        grid = np.arange(low_hz, high_hz + step, step)
        margin = BINS_AROUND / bins.duration_s
        use = [(f > low_hz - margin) & (f < high_hz + margin) for f in bins.frequency_hz]
        near = replace(
            bins, frequency_hz=(bins.frequency_hz[0][use[0]], bins.frequency_hz[1][use[1]])
        )
        columns = [near.columns(grid[:, np.newaxis], half)[..., 0] for half in (0, 1)]
        return cls(
            width=(high_hz - low_hz) * bins.duration_s,
            frequency_hz=near.frequency_hz,
            columns=(columns[0], columns[1]),
            values=(bins.values[0][use[0]], bins.values[1][use[1]]),
            ramp=bins.ramp[1][use[1]],
        )

    def chance(self, shape: Shape, solution: Solution, cycles: float) -> float:
        """Chance of a line as strong as the strongest in the band under one shape of floor.

        P = (1 + z/(ν/2))^(-ν/2) (1 + W √z), W = width · T · sqrt(π/3): Rice's formula, as in
        the search of long records, without a taper. Under a sloping floor ν is what the bins
        near the fundamental can tell.
        """
        gain = np.zeros(len(self.columns[0]))
        for half in (0, 1):
            root = np.sqrt(shape.density(self.frequency_hz[half]))
            column, y = self.columns[half] / root, self.values[half] / root
            if half == 1:
                ramp = self.ramp / root
                ramp = ramp / max(float(np.linalg.norm(ramp)), 1e-300)
                y = y - ramp * (ramp @ y)
                column = column - np.outer(column @ ramp, ramp)
            gain += (column @ y) ** 2 / np.sum(column**2, axis=1)
        sloping = 0.0 if shape.power == 0 else 1.0 / (BINS_PER_CYCLE * cycles)
        dof = 1.0 / (1.0 / solution.dof + sloping)
        log_tail = -dof / 2 * np.log1p(float(gain.max()) / solution.level / dof)
        crossings = self.width * np.sqrt(np.pi / 3) * np.sqrt(-log_tail)
        return float(min(1.0, np.exp(log_tail) * (1 + crossings)))
