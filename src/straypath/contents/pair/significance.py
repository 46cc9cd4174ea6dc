"""When is a coherence more than chance?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straypath.contents import spectral_statistics
from straypath.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straypath.arrays import FloatArray


def coherence_level(stretches: float, false_alarm_rate: float, tried: int = 1) -> float:
    """Return the magnitude-squared coherence that chance exceeds: 1 − (α/m)^(1/(K−1)).

    Parameters
    ----------
    stretches : float
        K ≥ 2, independent; for overlapping segments half the degrees of freedom of their mean.
    false_alarm_rate : float
        α, chance that any of the m coherences exceeds the level.
    tried : int
        m, how many coherences are looked at (Bonferroni: m chances of α/m each make at most α,
        however the lines hang together).

    Validity: exact for m = 1 when one channel at least is circular Gaussian noise, alike and
    independent from stretch to stretch; whatever the other one is.

    Examples
    --------
    >>> round(coherence_level(10, 0.05), 6)
    0.283129

    References
    ----------
    As `spectral_statistics.coherence_level`.
    """
    if not stretches > 1 or not 0 < false_alarm_rate <= 1 or tried < 1:
        raise InputError(
            f"no coherence level for {stretches:g} stretches, a rate of {false_alarm_rate:g} and "
            f"{tried} trials",
            advice="It takes more than one stretch, a rate in 0 … 1 and one trial or more.",
        )
    return float(spectral_statistics.coherence_level(false_alarm_rate / tried, stretches))


def coherence_chance(coherence: ArrayLike, stretches: float) -> FloatArray:
    """Return the chance that unrelated noises show at least this coherence: (1 − γ²)^(K−1).

    Parameters
    ----------
    coherence : array-like
        γ², 0 … 1.
    stretches : float
        K, as in `coherence_level`.
    """
    return np.asarray((1.0 - np.asarray(coherence, dtype=np.float64)) ** (stretches - 1))
