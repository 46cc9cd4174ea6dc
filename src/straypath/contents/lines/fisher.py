"""Fisher's exact test: is the largest of m powers too large a part of their sum for noise?"""

from __future__ import annotations

import numpy as np
from scipy import special


def fisher_p(part: float, count: int) -> float:
    """Return the chance that the largest of `count` noise powers is this part of their sum.

    P(g > x) = Σ_j (-1)^{j-1} C(m, j) (1 - j x)^{m-1}, j = 1 … floor(1/x).

    Parameters
    ----------
    part : float
        Largest over sum, 1/m … 1.
    count : int
        m, the number of independent exponential powers.

    The first term alone is an upper bound (Bonferroni) and good to its own square; it stands in
    once it is below 0.01, where the alternating rest is rounding only.

    Source: R. A. Fisher, Tests of significance in harmonic analysis, Proc. R. Soc. A 125 (1929).
    """
    if part >= 1.0:
        return 0.0
    first = float(np.exp(np.log(count) + (count - 1) * np.log1p(-part)))
    if first < 0.01:
        return first
    j = np.arange(1, min(count, int(1.0 / max(part, 1e-12))) + 1)
    inside = np.maximum(1.0 - j * part, 0.0)
    with np.errstate(divide="ignore"):
        logs = (
            special.gammaln(count + 1)
            - special.gammaln(j + 1)
            - special.gammaln(count - j + 1)
            + (count - 1) * np.log(inside)
        )
    if logs.max() > 25.0:
        # Terms this large cancel: the answer is near one.
        return 1.0
    return float(np.clip(np.sum(np.where(j % 2, 1.0, -1.0) * np.exp(logs)), 0.0, 1.0))
