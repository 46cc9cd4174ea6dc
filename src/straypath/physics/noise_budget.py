"""Noise budgets: which part of a floor the source, the amplifier and the converter explain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straypath.errors import InputError
from straypath.physics.converter import quantisation_density, step_of
from straypath.physics.noise import BOLTZMANN_J_PER_K, ROOM_K, johnson_density

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straypath.arrays import Float64Array


@dataclass(frozen=True, eq=False)
class Part:
    """One contributor and its density [V/√Hz]."""

    name: str
    density: Float64Array


@dataclass(frozen=True, eq=False)
class Budget:
    """Independent contributors to a floor.

    Parameters
    ----------
    parts : tuple of Part
        Each with the same shape.
    assumptions : tuple of str
        What was taken for granted.
    """

    parts: tuple[Part, ...]
    assumptions: tuple[str, ...] = ()

    @property
    def total(self) -> Float64Array:
        """Density of all parts together: the root of the sum of squares [V/√Hz]."""
        return np.asarray(np.sqrt(sum(np.square(part.density) for part in self.parts)))

    def share(self, name: str) -> Float64Array:
        """Return how much of the noise power a part makes, 0 … 1."""
        part = next(part for part in self.parts if part.name == name)
        return np.asarray(np.square(part.density / self.total))

    def times(self, measured: ArrayLike) -> Float64Array:
        """Return how many times what the parts explain a measured density is [V/√Hz]."""
        return np.asarray(np.asarray(measured, dtype=np.float64) / self.total)


def amplifier_budget(
    *,
    source_ohm: ArrayLike,
    ground_ohm: ArrayLike,
    feedback_ohm: ArrayLike,
    voltage_noise: ArrayLike,
    current_noise: ArrayLike,
    temperature_k: float = ROOM_K,
) -> Budget:
    """Return the noise at the output of a non-inverting amplifier, by origin.

    With G = 1 + R₂/R₁: e_n·G, √(4kTR₁)·R₂/R₁, √(4kTR₂), i_n·R₂, √(4kTR_S)·G, i_n·R_S·G.

    Parameters
    ----------
    source_ohm : array-like
        R_S, in series with the input [Ω].
    ground_ohm, feedback_ohm : array-like
        R₁ from the inverting input to ground and R₂ from there to the output [Ω].
    voltage_noise : array-like
        e_n of the amplifier [V/√Hz].
    current_noise : array-like
        i_n of either input, independent of each other [A/√Hz].
    temperature_k : float
        [K].

    Returns
    -------
    Budget
        Densities at the output; divide by G to refer them to the input.

    Notes
    -----
    Valid well within the amplifier's bandwidth and where e_n and i_n are white.

    Examples
    --------
    >>> budget = amplifier_budget(source_ohm=10e3, ground_ohm=1e3, feedback_ohm=100e3,
    ...                           voltage_noise=4e-9, current_noise=2.2e-15)
    >>> round(float(budget.total) / 101 * 1e9, 2), round(float(budget.share("source")), 2)
    (14.07, 0.84)

    References
    ----------
    Noise formula of the operational amplifier in the textbooks (superposition).
    """
    r1, r2, rs = (np.asarray(r, dtype=np.float64) for r in (ground_ohm, feedback_ohm, source_ohm))
    en, current = (np.asarray(e, dtype=np.float64) for e in (voltage_noise, current_noise))
    gain = 1.0 + r2 / r1
    at = {"temperature_k": temperature_k}
    densities = {
        "amplifier voltage": en * gain,
        "ground resistor": johnson_density(r1, **at) * r2 / r1,
        "feedback resistor": johnson_density(r2, **at),
        "amplifier current in feedback": current * r2,
        "source": johnson_density(rs, **at) * gain,
        "amplifier current in source": current * rs * gain,
    }
    return Budget(tuple(Part(name, np.asarray(d)) for name, d in densities.items()))


def floor_budget(
    frequency_hz: ArrayLike,
    *,
    source_ohm: float | None = None,
    input_ohm: float = np.inf,
    input_f: float = 0.0,
    step: float | None = None,
    span: float | None = None,
    bits: float | None = None,
    rate_hz: float | None = None,
    voltage_noise: float = 0.0,
    current_noise: float = 0.0,
    temperature_k: float = ROOM_K,
) -> Budget:
    """Return the floor that source, input and converter explain at an instrument's input.

    With Z = R_S ∥ R_in ∥ C: thermal √(4kT·Re Z), amplifier e_n and i_n·|Z|, converter Δ/√(6·fs).
    The thermal part covers source and input resistance together, both at one temperature.

    Parameters
    ----------
    frequency_hz : array-like
        Where the floor is wanted, > 0 [Hz].
    source_ohm : float or None
        R_S; infinite for an open input; None leaves the thermal part and i_n·|Z| out [Ω].
    input_ohm, input_f : float
        R_in [Ω] and C with the lead's [F].
    step : float or None
        Δ of one code in the unit of the record [V]; or span [V] and bits of the converter.
    rate_hz : float or None
        Samples per second, needed with a converter [Hz].
    voltage_noise, current_noise : float
        e_n [V/√Hz] and i_n [A/√Hz] of the input amplifier, where known.
    temperature_k : float
        [K].

    Returns
    -------
    Budget
        Densities at the input terminals [V/√Hz], each with the shape of `frequency_hz`.

    Raises
    ------
    InputError
        Neither a source nor an amplifier nor a converter is given, or a converter without a rate.

    Notes
    -----
    Valid for a passive source, for i_n white, and for a converter whose steps are dithered by at
    least half a step of noise. Noise that folds at the rate is not included: an input whose
    bandwidth exceeds half the rate shows more by the root of their ratio.

    Examples
    --------
    >>> budget = floor_budget([10.0, 1e4], source_ohm=1e6, input_ohm=1e6, input_f=30e-12)
    >>> [round(float(e) * 1e9) for e in budget.total]
    [91, 66]

    References
    ----------
    Nyquist, Phys. Rev. 32, 1928 (passive impedance: Re Z); Bennett 1948 (from memory).
    """
    f = np.asarray(frequency_hz, dtype=np.float64)
    parts, assumed = [], []
    if source_ohm is not None:
        real, magnitude = _port(f, source_ohm, input_ohm, input_f)
        parts.append(Part("source and input resistance", _thermal(real, temperature_k)))
        assumed.append(f"Source and input at {temperature_k:g} K.")
        if current_noise > 0.0:
            parts.append(Part("amplifier current", np.asarray(current_noise * magnitude)))
    if voltage_noise > 0.0:
        parts.append(Part("amplifier voltage", np.full_like(f, voltage_noise)))
    step = _step(step, span, bits)
    if step is not None:
        if rate_hz is None:
            raise InputError("a converter's noise needs the rate", advice="Give the sample rate.")
        rounding = float(quantisation_density(step, rate_hz))
        parts.append(Part("converter", np.full_like(f, rounding)))
        assumed.append("Rounding errors are white: noise of at least half a step rides along.")
    if not parts:
        raise InputError(
            "nothing to make a noise budget from",
            advice="Give the source resistance, the converter's step or the amplifier's noise.",
        )
    return Budget(tuple(parts), tuple(assumed))


def _port(
    f: Float64Array, source_ohm: float, input_ohm: float, input_f: float
) -> tuple[Float64Array, Float64Array]:
    """Return Re Z and |Z| of source, input resistance and capacitance side by side [Ω]."""
    if source_ohm == 0.0:
        return np.zeros_like(f), np.zeros_like(f)
    conductance, susceptance = 1.0 / source_ohm + 1.0 / input_ohm, 2.0 * np.pi * f * input_f
    square = conductance**2 + np.square(susceptance)
    if not np.all(square > 0.0):
        raise InputError(
            "an open source at an ideal input has no noise density",
            advice="Give the input's resistance or capacitance.",
        )
    return np.asarray(conductance / square), np.asarray(1.0 / np.sqrt(square))


def _thermal(real_ohm: Float64Array, temperature_k: float) -> Float64Array:
    return np.asarray(np.sqrt(4.0 * BOLTZMANN_J_PER_K * temperature_k * real_ohm))


def _step(step: float | None, span: float | None, bits: float | None) -> float | None:
    if step is not None or span is None or bits is None:
        return step
    return float(step_of(span, bits))
