"""The comb of a short record, from one cycle to 32.

Generalised least squares in cosine bins. The floor's shape is not known, so the fit is made
under every shape and the results are averaged with the weight that the record gives to each
(restricted likelihood, Patterson and Thompson, Biometrika 58, 1971, 545).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import linalg, stats

from straypath.contents.mains.fit import SEEN, CombFit
from straypath.contents.mains.shapes import SHAPES
from straypath.contents.mains.weighted import Lines, shape_weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.arrays import BoolArray, FloatArray
    from straypath.contents.mains.cosine_bins import CosineBins
    from straypath.contents.mains.shapes import Shape
    from straypath.contents.mains.weighted import Solution

# Shapes with less weight than this change nothing that is printed.
NEGLIGIBLE = 0.003
# Bins that tell the floor near an order, per cycle: up to three times the fundamental.
BINS_PER_CYCLE = 6.0
# Part of a turn that a phase may be off at the ends of the record before its order steers.
SLIP_FREE = 0.15


def fit_short(bins: CosineBins, f0_hz: float, orders: int) -> CombFit:
    """Fit the comb near `f0_hz`, averaged over the shapes of the floor."""
    f = f0_hz
    for _ in range(4):
        weights = shape_weights(Lines(bins, f, orders).solve_all())
        refined, _ = refine(bins, f, orders, SHAPES[int(np.argmax(weights))])
        moved, f = abs(refined - f), refined
        if moved * bins.duration_s < 1e-4:
            break
    return _average(bins, f, orders, weights)


def refine(bins: CosineBins, f0_hz: float, orders: int, shape: Shape) -> tuple[float, float]:
    """Return (frequency, its variance) from the orders that are seen, by Gauss-Newton.

    Orders that are not seen are left out: fitted, they would feed their noise into the
    frequency, weighted by the square of the order. An order steers only once the frequency is
    known well enough that its phase cannot slip a cycle at the ends of the record.
    """
    f = f0_hz
    reach = 1.0
    for _ in range(20):
        solution = Lines(bins, f, orders).solve(shape)
        numbers = _seen_orders(solution)
        steers = numbers <= max(reach, float(numbers[0]))
        step, variance = _newton(bins, f, numbers, steers, shape, solution.level)
        step = float(np.clip(step, -0.25 / bins.duration_s, 0.25 / bins.duration_s))
        f += step
        if steers.all() and abs(step) < 0.02 * np.sqrt(variance):
            break
        known_hz = np.sqrt(variance) + abs(step)
        reach = max(reach, SLIP_FREE / (known_hz * bins.duration_s))
    return f, variance


def _seen_orders(solution: Solution) -> NDArray[np.int_]:
    seen = solution.chance < SEEN
    if not seen.any():
        seen[np.argmin(solution.chance)] = True
    return np.flatnonzero(seen) + 1


def _newton(
    bins: CosineBins,
    f_hz: float,
    numbers: NDArray[np.int_],
    steers: BoolArray,
    shape: Shape,
    level: float,
) -> tuple[float, float]:
    """One step of frequency with the amplitudes of the given orders projected out."""
    nudge = 1e-4 / bins.duration_s / float(numbers.max())
    pull, stiffness = 0.0, 1e-300
    for half in (0, 1):
        root = np.sqrt(shape.density(bins.frequency_hz[half]))
        table = bins.columns(f_hz * numbers, half)
        moved = bins.columns((f_hz + nudge) * numbers[steers], half)
        full = table if half == 0 else np.column_stack([table, bins.ramp[1]])
        q, r = np.linalg.qr(full / root[:, np.newaxis])
        y = bins.values[half] / root
        projected = q.T @ y
        residual = y - q @ projected
        amplitudes = linalg.solve_triangular(r, projected)[: len(numbers)]
        slope = ((moved - table[:, steers]) @ amplitudes[steers]) / nudge / root
        slope = slope - q @ (q.T @ slope)
        pull += float(slope @ residual)
        stiffness += float(slope @ slope)
    return pull / stiffness, level / stiffness


def _average(bins: CosineBins, f_hz: float, orders: int, weights: FloatArray) -> CombFit:
    """Average frequency and phasors over the shapes; the spread between shapes is variance."""
    kept = np.flatnonzero(weights > NEGLIGIBLE)
    w = weights[kept] / weights[kept].sum()
    shapes = [SHAPES[i] for i in kept]
    mean_f, f_variance = _average_frequency(bins, f_hz, orders, shapes, w)
    lines = Lines(bins, mean_f, orders)
    solved = [lines.solve(shape) for shape in shapes]
    phasors = np.array([s.phasors for s in solved])
    mean = w @ phasors
    spread = np.abs(phasors - mean) ** 2 / 2
    variance = w @ (np.array([s.variance for s in solved]) + spread)
    # One bin of the transform holds S · rate / 2 of a one-sided density S.
    at = mean_f * np.arange(1, orders + 1)
    levels = np.array([s.level * p.density(at) for s, p in zip(solved, shapes, strict=True)])
    dof = _dof(bins, mean_f, solved, w)
    best = solved[int(np.argmax(w))]
    variance, dofs = _at_least_local(bins, mean_f, best, variance, dof)
    chance = w @ np.array([s.chance for s in solved])
    return CombFit(
        frequency_hz=mean_f,
        frequency_u_hz=float(np.sqrt(f_variance)),
        frequency_dof=dof,
        phasors=mean,
        variance=variance,
        dof=dofs,
        turn_variance=0.0,
        seen=np.asarray(chance < SEEN),
        floor=w @ levels * 2 / bins.rate_hz,
    )


def _average_frequency(
    bins: CosineBins, f_hz: float, orders: int, shapes: list[Shape], w: FloatArray
) -> tuple[float, float]:
    """Mean and variance of the frequency over the shapes, each one step from the common one."""
    lines = Lines(bins, f_hz, orders)
    found = []
    for shape in shapes:
        solution = lines.solve(shape)
        numbers = _seen_orders(solution)
        every = np.ones(len(numbers), dtype=bool)
        found.append(_newton(bins, f_hz, numbers, every, shape, solution.level))
    steps = np.array([f[0] for f in found])
    mean = float(w @ steps)
    return f_hz + mean, float(w @ (np.array([f[1] for f in found]) + (steps - mean) ** 2))


def _dof(bins: CosineBins, f_hz: float, solved: list[Solution], w: FloatArray) -> float:
    """Degrees of freedom of the variances: all bins for a white floor, else the nearby ones."""
    local = BINS_PER_CYCLE * bins.duration_s * f_hz
    logs = np.log([s.variance[0] for s in solved])
    between = float(w @ (logs - w @ logs) ** 2) / 2
    coloured = 0.0 if between < 1e-12 else 1.0 / local
    return 1.0 / (1.0 / solved[0].dof + coloured + between)


def _at_least_local(
    bins: CosineBins,
    f_hz: float,
    solution: Solution,
    variance: FloatArray,
    dof_at_least: float,
) -> tuple[FloatArray, FloatArray]:
    """Widen an order where the bins around it hold more than the shape explains."""
    f = np.concatenate(bins.frequency_hz)
    squares = np.concatenate(solution.residuals) ** 2
    orders = len(variance)
    wide, dofs = variance.copy(), np.full(orders, dof_at_least)
    for k in range(1, orders + 1):
        near = np.abs(f - k * f_hz) < 0.5 * f_hz
        # The fit took two of these bins.
        dof = max(float(near.sum()) - 2.0, 1.0)
        excess = float(squares[near].sum()) / dof / solution.level
        if excess > stats.f.ppf(0.95, dof, solution.dof):
            wide[k - 1] *= excess
            dofs[k - 1] = dof
    return wide, dofs
