"""The difference of two channels with fitted gain and delay, and how much it rejects."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from straypath.contents.one_thread import on_one_thread
from straypath.contents.pair.gain_delay import fit_over_band, fit_over_lines
from straypath.contents.pair.ratio import Sample, joint_quantile
from straypath.contents.pair.records import Difference
from straypath.contents.pair.residual import line_rejection, total_of
from straypath.contents.pair.signals import pair_of, ratio_unit
from straypath.contents.pair.significance import coherence_level
from straypath.contents.pair.spectrum import band_chance, cross_spectra, jackknife, share_of
from straypath.contents.pair.stretches import cut_stretches
from straypath.contents.pair.transfer import FALSE_ALARM_RATE, ORDERS, coherence_of
from straypath.contents.records import Undetermined
from straypath.errors import InputError
from straypath.quantity import Quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straypath.arrays import FloatArray
    from straypath.contents.pair.gain_delay import GainDelay
    from straypath.contents.pair.signals import Signal
    from straypath.contents.pair.spectrum import CrossSpectra

WHAT = "difference of the channels"
# Delays are tried up to this part of a segment: beyond, the spectra lose what they have in common.
LONGEST_PART = 0.25


@on_one_thread
def difference_over_lines(
    y: Signal,
    x: Signal,
    rate_hz: float,
    *,
    mains_hz: float | None = None,
    orders: Sequence[int] = ORDERS,
    other_hz: Sequence[float] = (),
    longest_delay_s: float | None = None,
) -> Difference | Undetermined:
    """Fit y ≈ g·x(t − τ) over lines and state what the difference leaves of each.

    Minimise Σ_k |Y_k − g e^{−jω_k τ} X_k|²/v_k over the lines that keep step in both channels.

    Parameters
    ----------
    y, x : Channel or array, shape (n,)
        Two channels of one capture, over the same stretch.
    rate_hz : float
        [Hz].
    mains_hz : float or None
        Mains frequency as fitted [Hz].
    orders : sequence of int
    other_hz : sequence of float
        Other lines [Hz].
    longest_delay_s : float or None
        |τ| to try [s]; None tries a quarter period of the lowest line, beyond which a delay
        cannot be told from a change of sign.

    Returns why there is none, where no line keeps step in both channels.

    Raises
    ------
    InputError
        As `line_transfer`.

    Validity: the rejection is what this record shows for the gain and delay fitted to it. A
    residual below its noise gives "at least", never a figure. `misfit_p` says whether one gain
    and one delay describe all lines.

    Examples
    --------
    >>> import numpy as np
    >>> t = np.arange(20_000) / 10_000
    >>> noise = 1e-3 * np.random.default_rng(1).standard_normal((2, 20_000))
    >>> x = np.cos(2 * np.pi * 50 * t) + 0.1 * np.cos(2 * np.pi * 150 * t)
    >>> found = difference_over_lines(-x + noise[0], x + noise[1], 10_000.0, mains_hz=50.0)
    >>> round(found.gain.value, 3), found.at_least_db > 60
    (-1.0, True)
    """
    channels = pair_of(y, x, rate_hz)
    cut = cut_stretches(channels, rate_hz, mains_hz, orders, other_hz)
    level = coherence_level(cut.count, FALSE_ALARM_RATE, len(cut.orders))
    quantile = joint_quantile(cut.count)
    samples = [Sample.of(cut.y[:, i], cut.x[:, i]) for i in range(len(cut.orders))]
    fits = coherence_of(cut.y, cut.x) > level
    fits &= np.array([s.disc(quantile) is not None for s in samples])
    if not fits.any():
        return Undetermined(WHAT, "No line keeps step in both channels.")
    used = [s for s, fit in zip(samples, fits, strict=True) if fit]
    f = cut.frequency_hz[fits]
    found = fit_over_lines(f, used, longest_delay_s or 0.25 / float(f.min()))
    ratios = found.response(cut.frequency_hz)
    total = total_of(used, ratios[fits], _carried(found, f, used))
    lines = tuple(
        line_rejection(
            float(cut.frequency_hz[i]),
            cut.orders[i],
            cut.y[:, i],
            cut.y[:, i] - ratios[i] * cut.x[:, i],
        )
        for i in np.flatnonzero(fits)
    )
    return Difference(
        fitted_over="lines",
        gain=_quantity(found.gain, found.gain_u, found.gain_dof),
        delay_s=_quantity(found.delay_s, found.delay_u_s, found.delay_dof),
        unit=ratio_unit(*channels),
        total=total.rms,
        rejection_db=total.rejection_db,
        at_least_db=total.at_least_db,
        misfit_p=misfit_chance(found.square, len(used), cut.count),
        lines=lines,
        undetermined=cut.undetermined,
        assumptions=(
            f"One gain and one delay for {len(used)} line(s) that keep step in both channels.",
            "The shortest delay is meant: lines of a comb repeat with its period.",
            "The rejection is that of this record, with the gain and delay fitted to it.",
        ),
    )


def _quantity(value: float, u: float, dof: float) -> Quantity:
    value, u = float(value), float(u)
    half = float(special.stdtrit(dof, 0.975)) * u
    return Quantity(value, u, value - half, value + half)


def _carried(found: GainDelay, f: FloatArray, samples: list[Sample]) -> FloatArray:
    """Covariance, summed over the lines, that g and τ give the residuals: R Σ Jᴴ J Rᵀ.

    With R Rᵀ the covariance of (g, τ); its trace is the power that noise in g and τ leaves.
    """
    slope = -2j * np.pi * f
    x = np.array([s.x for s in samples]) * np.exp(slope * found.delay_s)
    jacobian = np.stack([x, found.gain * slope * x], axis=1)
    gram = (jacobian.conj().T @ jacobian).real
    size = np.sqrt(np.diag(gram)) + 1e-300
    scaled = found.response_covariance * np.outer(size, size)
    values, vectors = np.linalg.eigh(scaled)
    root = vectors * np.sqrt(values.clip(0.0))
    return np.asarray(root.T @ (gram / np.outer(size, size)) @ root)


def misfit_chance(square: float, lines: int, count: int) -> float | None:
    """Return the chance that noise alone leaves residuals this large; None if undefined.

    Each line's |d|²/v is twice an F with 2 and 2(K − 1) degrees; their sum, less the two fitted
    parameters, is matched by a gamma law of the same mean and variance.

    Parameters
    ----------
    square : float
        Σ|d|²/v, v the variance of a quadrature.
    lines : int
        m; at least two.
    count : int
        K; at least four, or the variance of F does not exist.
    """
    n = count - 1
    if lines < 2 or n <= 2:
        return None
    mean = 2 * n / (n - 1)
    variance = 4 * n**3 / ((n - 1) ** 2 * (n - 2))
    scale = variance / mean
    return float(special.gammaincc((lines - 1) * mean / scale, square / scale))


@on_one_thread
def difference_over_band(
    y: Signal,
    x: Signal,
    rate_hz: float,
    *,
    band_hz: tuple[float, float],
    segment: int | None = None,
    longest_delay_s: float | None = None,
) -> Difference | Undetermined:
    """Fit y ≈ g·x(t − τ) over a band, broadband: the power of the difference is least.

    g = Σ Re S_yx e^{jωτ}/Σ S_xx at the τ where its numerator is largest; the rejection is
    Σ S_yy over Σ (S_yy − 2 g Re S_yx e^{jωτ} + g² S_xx).

    Parameters
    ----------
    y, x : Channel or array, shape (n,)
        Two channels of one capture, over the same stretch.
    rate_hz : float
        [Hz].
    band_hz : (float, float)
        Lower and upper end [Hz].
    segment : int or None
        Samples per segment, as in `coherence_spectrum`.
    longest_delay_s : float or None
        |τ| to try [s]; None tries a quarter of a segment.

    Returns why there is none, where the channels show no coherence in the band.

    Raises
    ------
    InputError
        As `coherence_spectrum`; a band that holds no frequency of the spectrum.

    Validity: all of y in the band counts, its own noise too, so the rejection is what a user of
    the difference gets. `best_db` is what a filter of x free at each frequency would reach.
    """
    channels = pair_of(y, x, rate_hz)
    spectra = cross_spectra(channels, rate_hz, segment)
    f = spectra.frequency_hz
    inside = (f >= band_hz[0]) & (f <= band_hz[1])
    if not inside.any():
        raise InputError(
            f"no frequency of the spectrum lies within {band_hz[0]:g} to {band_hz[1]:g} Hz",
            where="band",
            advice=f"Choose a band within {f[0]:g} to {f[-1]:g} Hz, or longer segments.",
        )
    yy, xx, yx, independent = spectra.without(None)
    power = np.where(yy * xx > 0, yy * xx, 1.0)
    coherence = np.minimum(np.abs(yx) ** 2 / power, 1.0)[inside]
    if band_chance(coherence, independent) >= FALSE_ALARM_RATE:
        return Undetermined(WHAT, "The channels show no coherence in this band.")
    longest_s = min(longest_delay_s or np.inf, LONGEST_PART * spectra.segment_s)
    found = fit_over_band(spectra, inside, longest_s)
    parts = range(len(spectra.counts))
    after, before = left_power(spectra, inside, found)
    level = np.log(before / after)
    each = [left_power(spectra, inside, found, part) for part in parts]
    u = jackknife(np.array([np.log(b / a) for a, b in each]), level)
    rms_u = jackknife(np.array([np.sqrt(a) for a, _ in each]), np.sqrt(after))
    to_db = 10 / np.log(10)
    rejection = _quantity(level * to_db, u * to_db, len(parts) - 1.0)
    best = -10 * np.log10(max(1 - share_of(spectra, inside), 1e-15))
    return Difference(
        fitted_over="band",
        gain=_quantity(found.gain, found.gain_u, found.gain_dof),
        delay_s=_quantity(found.delay_s, found.delay_u_s, found.delay_dof),
        unit=ratio_unit(*channels),
        total=_quantity(float(np.sqrt(after)), rms_u, len(parts) - 1.0),
        rejection_db=rejection,
        at_least_db=rejection.low,
        best_db=max(float(best), rejection.value),
        assumptions=(
            f"One gain and one delay for {band_hz[0]:g} to {band_hz[1]:g} Hz.",
            "All of the band counts, with the noise of both channels.",
        ),
    )


def left_power(
    spectra: CrossSpectra, inside: np.ndarray, found: GainDelay, part: int | None = None
) -> tuple[float, float]:
    """Return mean square of the difference, and of y, in a band with one part left out."""
    yy, xx, yx, _ = spectra.without(part)
    f = spectra.frequency_hz
    turned = (yx[inside] * np.conj(found.response(f[inside]))).real
    left = yy[inside].sum() - 2 * turned.sum() + found.gain**2 * xx[inside].sum()
    floor = 1e-15 * (yy[inside].sum() + found.gain**2 * xx[inside].sum())
    return float(max(left, floor) * f[0]), float(yy[inside].sum() * f[0])
