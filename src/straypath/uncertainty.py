"""Propagation of uncertainty by the Guide (JCGM 100:2008) and by draws (JCGM 101:2008)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as student

from straypath.errors import InputError
from straypath.quantity import Quantity

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike

    from straypath.arrays import Float64Array

    Model = Callable[[Float64Array], ArrayLike]

# A step far below u: so small that curvature does not show, so large that digits remain.
_STEP = 1e-3


def mean_of_repeats(observations: ArrayLike) -> tuple[Float64Array, Float64Array, int]:
    """Return means of simultaneous repeats, the covariance of these means, degrees of freedom.

    s(q̄, r̄) = Σ(q_k − q̄)(r_k − r̄)/(n(n − 1))

    Parameters
    ----------
    observations : array-like, shape (n,) or (n, inputs)
        n repeats of each input, observed together.

    Returns
    -------
    means : array, shape (inputs,)
    covariance : array, shape (inputs, inputs)
    dof : int
        n − 1.

    Raises
    ------
    InputError
        With fewer than two repeats.

    References
    ----------
    JCGM 100:2008, equations 5 and 17.
    """
    table = np.asarray(observations, dtype=float)
    table = table.reshape(len(table), -1)
    n = len(table)
    if n < 2:
        raise InputError(
            "one observation has no scatter",
            advice="Repeat the measurement, or state its uncertainty from other knowledge.",
        )
    means = table.mean(axis=0)
    left = table - means
    return means, left.T @ left / (n * (n - 1)), n - 1


def sensitivities(model: Model, values: ArrayLike, u: ArrayLike) -> Float64Array:
    """Return the derivatives ∂f/∂x_i by central differences over a small part of u_i.

    Parameters
    ----------
    model : function of an array (inputs,) to a number or an array (outputs,)
    values : array-like, shape (inputs,)
    u : array-like, shape (inputs,)
        Standard uncertainties; they set the steps, so none may be zero.

    Returns
    -------
    array, shape (outputs, inputs)

    Notes
    -----
    A sensitivity of zero does not mean that an input does not matter: see
    `second_order_variance`.

    References
    ----------
    JCGM 100:2008, 5.1.3, note 2.
    """
    x = np.asarray(values, dtype=float)
    steps = np.diag(_STEP * np.asarray(u, dtype=float))
    columns = [
        (np.atleast_1d(model(x + step)) - np.atleast_1d(model(x - step))) / (2.0 * step[i])
        for i, step in enumerate(steps)
    ]
    return np.stack(columns, axis=1)


def propagate(
    model: Model, values: ArrayLike, covariance: ArrayLike
) -> tuple[Float64Array, Float64Array]:
    """Return f(x) and its covariance J·V·Jᵀ, correlations included.

    Parameters
    ----------
    model : function of an array (inputs,) to a number or an array (outputs,)
    values : array-like, shape (inputs,)
    covariance : array-like, shape (inputs, inputs)

    Returns
    -------
    outputs : array, shape (outputs,)
    covariance : array, shape (outputs, outputs)

    Examples
    --------
    >>> y, v = propagate(lambda x: x[0] * x[1], [3.0, 4.0], [[0.01, 0.0], [0.0, 0.04]])
    >>> round(float(y[0]), 6), round(float(v[0, 0]), 6)
    (12.0, 0.52)

    References
    ----------
    JCGM 100:2008, equations 13 and F.2; for several outputs JCGM 102:2011, 6.2.1.
    """
    x = np.asarray(values, dtype=float)
    v = np.asarray(covariance, dtype=float)
    j = sensitivities(model, x, np.sqrt(np.diag(v)))
    return np.atleast_1d(np.asarray(model(x), dtype=float)), j @ v @ j.T


def second_order_variance(model: Model, values: ArrayLike, u: ArrayLike) -> Float64Array:
    """Return what curvature adds to the variance, per pair: ½(∂²f/∂x_i∂x_j)²·u_i²·u_j².

    Tells when first-order propagation misses an input, such as one factor of a product whose
    other factor is zero.

    Parameters
    ----------
    model : function of an array (inputs,) to a number
    values, u : array-like, shape (inputs,)
        Independent inputs with their standard uncertainties, none zero.

    Returns
    -------
    array, shape (inputs, inputs)
        Its sum is the addition to u². The terms with third derivatives are left out: exact for
        products of two inputs.

    References
    ----------
    JCGM 100:2008, 5.1.2, note.
    """
    x = np.asarray(values, dtype=float)
    steps = np.diag(np.asarray(u, dtype=float))
    # Whole steps of u: mixed differences lose digits twice as fast as first ones.
    mixed = [
        [
            float(
                np.squeeze(model(x + a + b))
                - np.squeeze(model(x + a - b))
                - np.squeeze(model(x - a + b))
                + np.squeeze(model(x - a - b))
            )
            / 4.0
            for b in steps
        ]
        for a in steps
    ]
    return 0.5 * np.square(mixed)


def effective_dof(contributions: ArrayLike, dof: ArrayLike) -> float:
    """Return the effective degrees of freedom of a combined uncertainty: u_c⁴/Σ(u_i⁴/ν_i).

    Parameters
    ----------
    contributions : array-like, shape (inputs,)
        |c_i|·u_i in the unit of the result, of independent inputs.
    dof : array-like, shape (inputs,)
        Degrees of freedom of each; infinity when its uncertainty is known exactly.

    References
    ----------
    Welch–Satterthwaite; JCGM 100:2008, equation G.2b.
    """
    squares = np.square(np.asarray(contributions, dtype=float))
    spread = float(np.sum(np.square(squares) / np.asarray(dof, dtype=float)))
    return float(np.square(squares.sum()) / spread) if spread else np.inf


def coverage_factor(probability: float = 0.95, dof: float = np.inf) -> float:
    """Return t for a symmetric interval: value ± t·u holds the truth with this probability.

    Parameters
    ----------
    probability : float
        0 … 1.
    dof : float
        Degrees of freedom; a fraction is used as it is (JCGM 100:2008, G.4.1, allows
        interpolation or rounding down).

    References
    ----------
    JCGM 100:2008, G.3 and table G.2.
    """
    return float(student.ppf(0.5 + probability / 2.0, dof))


def from_normal(value: float, u: float, dof: float = np.inf) -> Quantity:
    """Return a value with its 95 % interval by Student's t.

    Parameters
    ----------
    value, u : float
        Best estimate and its standard uncertainty, in one unit.
    dof : float
        Degrees of freedom behind u.
    """
    half = coverage_factor(0.95, dof) * u
    return Quantity(value, u, value - half, value + half)


def shortest_interval(draws: ArrayLike, probability: float = 0.95) -> tuple[float, float]:
    """Return the shortest interval that holds this share of the draws.

    Parameters
    ----------
    draws : array-like, shape (n,)
        n well above 1/(1 − probability).
    probability : float
        0 … 1.

    References
    ----------
    JCGM 101:2008, 5.3.4 and 7.7.
    """
    ordered = np.sort(np.asarray(draws, dtype=float))
    inside = min(int(np.ceil(probability * len(ordered))), len(ordered) - 1)
    widths = ordered[inside:] - ordered[: len(ordered) - inside]
    first = int(np.argmin(widths))
    return float(ordered[first]), float(ordered[first + inside])


def from_draws(draws: ArrayLike) -> Quantity:
    """Return mean, standard deviation and shortest 95 % interval of draws of a result.

    Parameters
    ----------
    draws : array-like, shape (n,)
        The model evaluated at n draws of its inputs.

    References
    ----------
    JCGM 101:2008, 7.6 and 7.7.
    """
    y = np.asarray(draws, dtype=float)
    return Quantity(float(y.mean()), float(y.std(ddof=1)), *shortest_interval(y))
