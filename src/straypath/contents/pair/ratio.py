"""The ratio of two noisy phasors, and a region that holds it at a stated confidence.

For a supposed ratio H, y − H·x holds nothing but noise, whatever the line itself does. Its mean
over the stretches is therefore tested against its own scatter; the values of H that pass are a
disc. Noise of both channels and what the noises have in common are counted, exactly so in
Gaussian noise, and the disc opens up when x is lost in its noise (Fieller, Journal of the Royal
Statistical Society B 16, 1954, 175, from memory; here for complex numbers).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from straypath.contents.pair.stretches import LEAST

if TYPE_CHECKING:
    from straypath.arrays import ComplexArray


@dataclass(frozen=True)
class Disc:
    """All ratios within `radius` of `centre`."""

    centre: complex
    radius: float

    @property
    def low(self) -> float:
        """Least modulus."""
        return max(0.0, abs(self.centre) - self.radius)

    @property
    def high(self) -> float:
        """Largest modulus."""
        return abs(self.centre) + self.radius

    @property
    def half_angle_rad(self) -> float:
        """Half the angle under which the disc is seen from zero; π when it holds zero [rad]."""
        if self.radius >= abs(self.centre):
            return float(np.pi)
        return float(np.arcsin(self.radius / abs(self.centre)))


@dataclass(frozen=True)
class Sample:
    """Means and scatter of the phasors of one line in both channels.

    Parameters
    ----------
    y, x : complex
        Means over the stretches.
    s_yy, s_xx, s_yx : float, float, complex
        Variances E|·|² of one stretch and covariance E y x*, with K − 1 in the denominator.
    count : int
        K.
    """

    y: complex
    x: complex
    s_yy: float
    s_xx: float
    s_yx: complex
    count: int

    @classmethod
    def of(cls, y: ComplexArray, x: ComplexArray) -> Sample:
        """Take means and scatter of two columns of phasors, shape (K,)."""
        mean_y, mean_x = complex(y.mean()), complex(x.mean())
        dy, dx, k = y - mean_y, x - mean_x, len(y)
        return cls(
            mean_y,
            mean_x,
            float(np.sum(np.abs(dy) ** 2)) / (k - 1),
            float(np.sum(np.abs(dx) ** 2)) / (k - 1),
            complex(np.sum(dy * np.conj(dx))) / (k - 1),
            k,
        )

    def scatter(self, ratio: complex) -> float:
        """Variance E|y − H x|² of one stretch about its mean."""
        size = abs(ratio) ** 2
        found = self.s_yy - 2 * (np.conj(ratio) * self.s_yx).real + size * self.s_xx
        whole = abs(self.y) ** 2 + self.s_yy + size * (abs(self.x) ** 2 + self.s_xx)
        return max(float(found), LEAST * whole)

    def disc(self, quantile: float) -> Disc | None:
        """Return all H with |mean of (y − H x)|² ≤ quantile · its variance; None if unbounded.

        Parameters
        ----------
        quantile : float
            `joint_quantile` for H as a whole, `single_quantile` for its size or angle alone.
        """
        q = quantile / self.count
        room = abs(self.x) ** 2 - q * self.s_xx
        if room <= 0:
            return None
        centre = (self.y * np.conj(self.x) - q * self.s_yx) / room
        ratio = self.y / self.x
        # The same radius as |centre|² − (|y|² − q s_yy)/room, without loss of digits.
        square = abs(centre - ratio) ** 2 + q * self.scatter(ratio) / room
        return Disc(complex(centre), float(np.sqrt(max(0.0, square))))


def joint_quantile(count: int, probability: float = 0.95) -> float:
    """Return the quantile of F with 2 and 2K − 2 degrees: for both parts of a phasor at once.

    Its closed form is (K − 1)·((1 − p)^(−1/(K−1)) − 1).
    """
    return float((count - 1) * np.expm1(-np.log1p(-probability) / (count - 1)))


def single_quantile(count: int, probability: float = 0.95) -> float:
    """Return t²/2 for 2K − 2 degrees: for one direction of a phasor alone."""
    return float(special.stdtrit(2 * count - 2, 0.5 + probability / 2) ** 2 / 2)


def absence_chance(mean: complex, variance: float, count: int) -> float:
    """Return the chance that noise alone gives a mean phasor this large.

    K·|mean|²/variance follows F with 2 and 2K − 2 degrees.

    Parameters
    ----------
    mean : complex
    variance : float
        E|·|² of one stretch.
    count : int
        K.
    """
    over = count * abs(mean) ** 2 / variance
    return float(np.exp(-(count - 1) * np.log1p(over / (count - 1))))
