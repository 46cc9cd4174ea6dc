"""True frequencies that fold onto a line, and the change of rate that tells them apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straypath.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

# How far candidates are listed when nothing is known about the input's bandwidth.
CAP_RATES = 10.0
# New rates that are weighed when none is given, as a part of the old: far enough to move an alias
# clearly, near enough that the setting is likely to exist. Steps of 0.1 %.
_NEAR, _FAR, _STEP = 0.02, 0.30, 0.001


@dataclass(frozen=True)
class RateChange:
    """A second rate that tells what a line is.

    Parameters
    ----------
    new_rate_hz : float
        [Hz].
    candidates_hz : tuple of float
        What the line may be: itself first, then what would fold onto it [Hz].
    shows_hz : tuple of float
        Where each candidate shows at the new rate [Hz].
    apart_hz : float
        Least distance between any two of these places; 0 when two coincide [Hz].
    """

    new_rate_hz: float
    candidates_hz: tuple[float, ...]
    shows_hz: tuple[float, ...]
    apart_hz: float


def apparent_hz(true_hz: ArrayLike, rate_hz: ArrayLike) -> Floats:
    """Return where a frequency shows in a sampled record: |f − fs·round(f/fs)|.

    Parameters
    ----------
    true_hz, rate_hz : array-like, shapes that broadcast
        [Hz].

    Examples
    --------
    >>> float(apparent_hz(100_000.0, 99_950.0))
    50.0
    """
    f, fs = np.asarray(true_hz, dtype=np.float64), np.asarray(rate_hz, dtype=np.float64)
    return np.asarray(np.abs(f - fs * np.round(f / fs)))


def folding_onto(
    frequency_hz: float, rate_hz: float, bandwidth_hz: float | None = None
) -> tuple[float, ...]:
    """Return the frequencies above half the rate that fold onto a line: |n·fs ± f|, ascending.

    Parameters
    ----------
    frequency_hz : float
        Where the line shows, 0 … fs/2 [Hz].
    rate_hz : float
        fs [Hz].
    bandwidth_hz : float or None
        Highest frequency that the input passes [Hz]; None lists up to 10 fs. A filter does not
        end at its corner: ask for several times the −3 dB bandwidth when lines are strong.

    Examples
    --------
    >>> folding_onto(50.0, 1000.0, 2000.0)
    (950.0, 1050.0, 1950.0)
    """
    top = CAP_RATES * rate_hz if bandwidth_hz is None else bandwidth_hz
    n = np.arange(1, int(top / rate_hz + 0.5) + 1) * rate_hz
    both = np.unique(np.concatenate([n - frequency_hz, n + frequency_hz]))
    # The line itself is no alias, nor what lies exactly at half the rate.
    return tuple(float(f) for f in both[(both > rate_hz / 2.0) & (both <= top)])


def telling_rate(
    frequency_hz: float,
    rate_hz: float,
    true_hz: Sequence[float],
    *,
    available_hz: Sequence[float] = (),
) -> RateChange:
    """Return the new rate at which the candidates for a line show farthest apart.

    A true line stays where it is; an alias n·fs ± f moves by n·Δfs. The rate that makes the
    smallest distance between any two shown frequencies largest is taken; of equals the one
    nearest to the old.

    Parameters
    ----------
    frequency_hz : float
        Where the line shows [Hz].
    rate_hz : float
        The rate that it was recorded at [Hz].
    true_hz : sequence of float
        Candidates, as `folding_onto` gives them [Hz].
    available_hz : sequence of float
        Rates that the instrument offers [Hz]; empty: anything from 0.70 to 0.98 and from 1.02 to
        1.30 of the old rate.

    Raises
    ------
    InputError
        When no rate is left that still shows the line itself.

    Notes
    -----
    Halving, or any whole part of the old rate, tells less: an alias of an even order folds back
    onto the same place. Both records must hold the line for as long as 1/`apart_hz`.

    Examples
    --------
    >>> telling_rate(35e3, 100e3, (65e3,), available_hz=(101e3,)).shows_hz
    (35000.0, 36000.0)
    """
    candidates = (frequency_hz, *true_hz)
    rates = np.asarray(available_hz, dtype=np.float64)
    if not len(rates):
        parts = np.arange(_NEAR, _FAR + _STEP / 2.0, _STEP)
        offered = rate_hz * np.concatenate([1.0 - parts, 1.0 + parts])
        rates = np.array([float(f"{rate:.12g}") for rate in offered])
    rates = rates[(rates > 2.0 * frequency_hz) & (rates != rate_hz)]
    if not len(rates):
        raise InputError(
            f"no other rate shows a line at {frequency_hz:g} Hz",
            advice=f"Offer a rate above {2.0 * frequency_hz:g} samples/s.",
        )
    shows = apparent_hz(np.array(candidates)[:, np.newaxis], rates)
    apart = np.diff(np.sort(shows, axis=0), axis=0).min(axis=0, initial=np.inf)
    # Rounded, so that equals stay equal whatever the last digits do.
    best = np.lexsort([np.abs(rates - rate_hz), -np.round(apart / rate_hz, 9)])[0]
    # A difference of large numbers; a few parts in 10^12 are rounding.
    least = float(apart[best]) if apart[best] > 1e-12 * max(candidates) else 0.0
    return RateChange(
        new_rate_hz=float(rates[best]),
        candidates_hz=candidates,
        shows_hz=tuple(float(f) for f in shows[:, best]),
        apart_hz=least,
    )
