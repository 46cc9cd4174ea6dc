"""All orders at one frequency, solved in cosine bins under any shape of the floor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import linalg

from straypath.contents.mains.shapes import SHAPES

if TYPE_CHECKING:
    from straypath.arrays import ComplexArray, FloatArray
    from straypath.contents.mains.cosine_bins import CosineBins
    from straypath.contents.mains.shapes import Shape


# Orders closer than a cycle per record cannot be told apart; this keeps their table solvable, and
# their variances say what they are worth.
NUDGE = 1e-9


@dataclass(frozen=True)
class Solution:
    """All orders at one frequency under one shape.

    Parameters
    ----------
    phasors : array, shape (orders,)
    inverse : array, shape (orders,)
        Mean variance of a quadrature for unit level.
    level : float
        Estimated level of the shape, in variance per bin.
    dof : int
    log_likelihood : float
        Restricted, up to a constant common to all shapes.
    residuals : pair of arrays
        Weighted.
    """

    phasors: ComplexArray
    inverse: FloatArray
    level: float
    dof: int
    log_likelihood: float
    residuals: tuple[FloatArray, FloatArray]

    @property
    def variance(self) -> FloatArray:
        """Variance of each quadrature."""
        return np.asarray(self.inverse * self.level)

    @property
    def chance(self) -> FloatArray:
        """Chance that the floor alone gives an order this large."""
        over = np.abs(self.phasors) ** 2 / (2 * self.variance)
        return np.asarray((1 + 2 * over / self.dof) ** (-self.dof / 2))


class Lines:
    """The table of all orders at one frequency, kept while the shapes change."""

    def __init__(self, bins: CosineBins, f0_hz: float, orders: int) -> None:
        self.bins = bins
        self.orders = orders
        at = f0_hz * np.arange(1, orders + 1)
        sines = np.column_stack([bins.columns(at, 1), bins.ramp[1]])
        self.tables = (bins.columns(at, 0), sines)

    def solve_all(self) -> list[Solution]:
        """Solve under every shape."""
        return [self.solve(shape) for shape in SHAPES]

    def solve(self, shape: Shape) -> Solution:
        """Solve for slope and all orders by weighted least squares."""
        bins, orders = self.bins, self.orders
        parts, inverses, residuals = [], [], []
        log_det, squares = 0.0, 0.0
        for half in (0, 1):
            density = shape.density(bins.frequency_hz[half])
            root = np.sqrt(density)
            table = self.tables[half] / root[:, np.newaxis]
            y = bins.values[half] / root
            gram = table.T @ table
            gram[np.diag_indices_from(gram)] *= 1.0 + NUDGE
            factor = linalg.cholesky(gram, lower=True)
            coefficients = linalg.cho_solve((factor, True), table.T @ y)
            unfolded = linalg.solve_triangular(factor, np.eye(len(factor)), lower=True)
            residual = y - table @ coefficients
            parts.append(coefficients[:orders])
            inverses.append(np.sum(unfolded**2, axis=0)[:orders])
            residuals.append(residual)
            log_det += float(np.sum(np.log(density)) + 2 * np.sum(np.log(np.diag(factor))))
            squares += float(residual @ residual)
        dof = bins.count - 2 * orders - 1
        return Solution(
            phasors=parts[0] - 1j * parts[1],
            inverse=(inverses[0] + inverses[1]) / 2,
            level=max(squares, 1e-300) / dof,
            dof=dof,
            log_likelihood=-0.5 * (log_det + dof * np.log(max(squares, 1e-300))),
            residuals=(residuals[0], residuals[1]),
        )


def shape_weights(solutions: list[Solution]) -> FloatArray:
    """Return how much each shape of the floor is believed, given its fit."""
    logs = np.array([s.log_likelihood for s in solutions])
    logs += np.log([s.prior for s in SHAPES])
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())
